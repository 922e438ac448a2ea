"""A journey's way in the numbers of the network that every reader of a plan can build: edges before places were joined to it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from rollroute.journey import Journey
from rollroute.network.network import Flag, Network
from rollroute.planning.travel import PathLeg


def whole_pieces(joined: Network, whole: Network) -> npt.NDArray[np.int64]:
    """(n_pieces of ``joined``,) the piece of ``whole`` that each was cut from; −1 for the straight line from a place to its way.

    A cut leaves the number to the part at the tail and appends the other part, which begins at a node that is new.
    """
    pieces = joined.pieces
    is_line = (pieces.flags & Flag.OFF_MAP) != 0
    to_cut = np.flatnonzero((pieces.head >= whole.n_nodes) & ~is_line)
    before = dict(zip(pieces.head[to_cut].tolist(), to_cut.tolist(), strict=True))  # new node -> the one part that ends there
    found = np.arange(joined.n_pieces, dtype=np.int64)
    for p in range(whole.n_pieces, joined.n_pieces):
        part = p
        while part >= whole.n_pieces and not is_line[p]:
            part = before[int(pieces.tail[part])]
        found[p] = -1 if is_line[p] else part
    return found


def stated_path(journey: Journey, network: Network) -> tuple[PathLeg, ...]:
    """The legs of a journey from halt to halt, in the edges of ``network``, as it was before places were joined to it."""
    route, whole = journey.route, whole_pieces(journey.network, network)
    edges = [2 * int(whole[e // 2]) + int(e) % 2 if whole[e // 2] >= 0 else -1 for e in route.edges]
    halts = [(use.before_edge, use) for use in route.stop_uses]
    ends = [0, *(at for at, _ in halts), len(edges)]
    legs = []
    for number, (first, last) in enumerate(pairwise(ends)):
        use = halts[number][1] if number < len(halts) else None
        arrive_s = route.time_s if use is None else use.arrive_s
        to = journey.trip.goal.label if use is None else journey.stop_sockets[use.stop].place.label
        spent = (0.0, 0.0, 0.0) if use is None else (use.wait_s, use.setup_s, use.charge_s)
        legs.append(_leg(to, edges[first:last], arrive_s, spent))
    return tuple(legs)


def _leg(to: str, edges: list[int], arrive_s: float, spent_s: tuple[float, float, float]) -> PathLeg:
    driven = [e for e in edges if e >= 0]
    once = [e for i, e in enumerate(driven) if i == 0 or driven[i - 1] != e]  # parts of one piece, driven one after the other
    wait, setup, charge = (round(seconds / 60.0, 4) for seconds in spent_s)
    return PathLeg(to=to, edges=tuple(once), arrive_min=round(arrive_s / 60.0, 4), wait_min=wait, setup_min=setup, charge_min=charge)
