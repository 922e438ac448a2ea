"""A journey's way in the numbers of the network that every reader of a plan can build: edges before places were joined to it.

``stated_path`` says it so, ``edges_along`` finds the edges again, and ``journey_along`` drives a trip along it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from rollroute.errors import RollrouteError
from rollroute.journey import OFF_MAP_LIMIT_M, Journey, Posed, Trip, journey_of, pose, weigh_joinable
from rollroute.network.attach import attach, joint_at, nearest_joint
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.network import Flag, Network
from rollroute.planning.travel import PathLeg
from rollroute.search.find import finish
from rollroute.search.problem import Route, Step, Verdict


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


def joined_places(network: Network, places: Sequence[FoundPlace]) -> tuple[Network, list[int]]:
    """The network with these places as nodes, and their numbers in this order."""
    usable = weigh_joinable(network)
    joints = [
        nearest_joint(network, p.lon, p.lat, limit_m=OFF_MAP_LIMIT_M, usable=usable) if p.node is None else joint_at(network, p.node)
        for p in places
    ]
    return attach(network, [(p.lon, p.lat, joint) for p, joint in zip(places, joints, strict=True)])


def edges_along(joined: Network, whole: npt.NDArray[np.int64], ends: tuple[int, int], edges: Sequence[int]) -> Iterator[int]:
    """The edges of ``joined`` from one place to another along the stated ones; they end early where these do not fit the map."""
    tail, head = joined.edge_tail, joined.edge_head
    is_line = (joined.pieces.flags & Flag.OFF_MAP) != 0
    lines = {node: 2 * int(p) for node in ends for p in np.flatnonzero(is_line & (joined.pieces.tail == node))[:1]}
    here, foot = (int(head[lines[node]]) if node in lines else node for node in ends)
    if ends[0] in lines:
        yield lines[ends[0]]
    for number, edge in enumerate(edges):
        parts = 2 * np.flatnonzero(whole == edge // 2) + edge % 2
        is_last = number == len(edges) - 1
        while len(found := parts[tail[parts] == here]) and not (is_last and here == foot):
            yield int(found[0])
            here = int(head[found[0]])
    if here == foot and ends[1] in lines:
        yield lines[ends[1]] + 1


def journey_along(network: Network, trip: Trip, path: Sequence[PathLeg], *, found: Route) -> Journey:
    """``trip`` driven along ``path`` with its halts, under every rule; ``found`` is the best way there is, which bounds the cost.

    Raises
    ------
    RollrouteError
        If the path does not fit the map, or breaks a rule on this trip.
    """
    joined, nodes = joined_places(network, [trip.start, trip.goal, *(s.place for s in trip.sockets)])
    posed = pose(joined, nodes, trip, charges=len(path) > 1)
    steps = tuple(_steps(joined, whole_pieces(joined, network), nodes, posed, path))
    bound_s = found.lower_bound_s if (len(path) > 1) == bool(found.stop_uses) else 0.0  # with charging, other figures are planned with
    route = finish(posed.graph, posed.query, Verdict(steps=steps, lower_bound_s=bound_s, is_proven=False, n_labels=0))
    return journey_of(trip, joined, nodes, posed, route)


def _steps(
    joined: Network, whole: npt.NDArray[np.int64], nodes: Sequence[int], posed: Posed, path: Sequence[PathLeg]
) -> Iterator[Step]:  # fmt: skip
    here = nodes[0]
    for leg in path:
        stops = [i for i, socket in enumerate(posed.stop_sockets) if socket.place.label == leg.to]
        if leg is not path[-1] and not stops:
            raise RollrouteError(f"the plan halts at {leg.to}, where no socket is known")
        there = nodes[1] if leg is path[-1] else posed.query.stops[stops[0]].node
        edges = list(edges_along(joined, whole, (here, there), leg.edges))
        if int(joined.edge_head[edges[-1]] if edges else here) != there:
            raise RollrouteError(f"the way to {leg.to} that the plan states does not fit this map")
        yield from edges
        if leg is not path[-1]:
            yield stops[0], 60.0 * leg.charge_min
        here = there
