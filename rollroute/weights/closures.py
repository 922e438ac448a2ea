"""Areas that close: when each piece of way can no longer be driven."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Protocol

import numpy as np
import numpy.typing as npt

from rollroute.network.network import Network

LonLat = tuple[float, float]


class Closure(Protocol):
    """What is needed of a hazard: its kind, its area, and from when to when."""

    @property
    def kind(self) -> str: ...  # noqa: D102
    @property
    def rings(self) -> tuple[tuple[LonLat, ...], ...]: ...  # noqa: D102
    @property
    def starts(self) -> dt.datetime | None: ...  # noqa: D102
    @property
    def ends(self) -> dt.datetime | None: ...  # noqa: D102


def closing_times_s(network: Network, closures: Iterable[Closure], departure: dt.datetime) -> npt.NDArray[np.float64]:
    """When each piece closes, in seconds after ``departure``: inf never, 0 or less is closed from the start.

    A ``closed`` area closes every piece that touches it, a ``deadline`` likewise: nobody is to be there after it.
    A ``watch`` closes nothing. An area that reopens later stays closed for this trip: nobody waits on the way for water to fall.
    An area whose end lies before departure closes nothing.
    """
    import shapely

    closes_s = np.full(network.n_pieces, np.inf)
    active = [c for c in closures if c.kind in ("closed", "deadline") and (c.ends is None or c.ends > departure)]
    if not active:
        return closes_s
    tail, head = network.pieces.tail, network.pieces.head
    ends = np.stack([network.nodes.lon[tail], network.nodes.lat[tail], network.nodes.lon[head], network.nodes.lat[head]], axis=1)
    lines = shapely.linestrings(ends.reshape(-1, 2, 2))
    tree = shapely.STRtree(lines)
    for closure in active:
        start_s = 0.0 if closure.starts is None else closure.starts.timestamp() - departure.timestamp()
        for ring in closure.rings:
            rows = tree.query(shapely.Polygon(ring), predicate="intersects")
            closes_s[rows] = np.minimum(closes_s[rows], start_s)
    return closes_s
