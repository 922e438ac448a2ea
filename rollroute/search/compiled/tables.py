"""What the kernels read, as named tuples of arrays (numba reads those by name and compiles once for them)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from rollroute.search.compiled.skeleton import LooseArc, Skeleton, sums_of
from rollroute.search.curves import Curve
from rollroute.search.problem import Bools, Floats, Ints, SearchQuery


class Arcs(NamedTuple):
    """Arcs of a skeleton, or loose arcs; ``extra`` is what cost has more than time."""

    head: Ints
    extra: Floats
    time: Floats
    energy: Floats
    due: Floats
    back: Floats
    is_unverified: Bools


class Links(NamedTuple):
    """Where arcs begin: arcs out of ``v`` are ``start[v] .. start[v + 1]``; loose arcs to a goal begin with ``to_goal[v]``, then ``then``.

    The first ``n_goal`` loose arcs lead to a goal, the others leave the start.
    """

    start: Ints
    to_goal: Ints
    then: Ints
    n_goal: int


class Stops(NamedTuple):
    """Stops with their curves, one row each; stops at node ``v`` are listed from ``at[v]`` on by ``then``."""

    at: Ints
    then: Ints
    time: Floats  # (n, k) breakpoints, padded with the last one
    charge: Floats
    n_points: Ints
    top: Floats
    end: Floats
    setup: Floats
    opens: Floats
    closes: Floats


class Lower(NamedTuple):
    """Lower bounds of what is left from every node: ``min(field, radius)``; an empty field says nothing."""

    cost: Floats
    energy: Floats
    need: Floats
    priced: Floats
    via: Floats
    time: Floats
    radius: Floats  # (6,), in this order


class Trees(NamedTuple):
    """Completions (see ``trees``) along four fields: cheapest, least energy, cheapest at the price of energy, and over one stop.

    Node ``v`` has one where ``dist[v] < radius``; the last leads to a stop, from which the third leads on. Empty where not in use.
    """

    tables: tuple[Floats, Floats, Floats, Floats]
    dists: tuple[Floats, Floats, Floats, Floats]
    radius: Floats  # (4,)


class Rules(NamedTuple):
    """The numbers of a query."""

    charge: float
    reserve: float
    per_wh: float  # price of energy in ``Lower.priced``, s/Wh
    latest: float
    time_matters: bool
    has_openings: bool
    way_back: bool
    limit: int
    start_b: float


# columns of a table of completions (growing.Field with trees.complete)
COST, TIME, ENERGY, NEED, NEED_B, DUE, STOP, STOP_NODE = range(8)
N_COLUMNS = 8


def arcs_of(skeleton: Skeleton) -> Arcs:
    """The arcs of a skeleton as a table."""
    s = skeleton
    return Arcs(s.head, s.cost_s - s.time_s, s.time_s, s.energy_wh, s.due_s, s.back_wh, s.is_unverified)


def loose_table(skeleton: Skeleton, loose: list[LooseArc]) -> tuple[Arcs, Floats]:
    """Loose arcs as a table (the head at a goal is ``n_nodes``), and their costs."""
    sums, doubtful = sums_of(skeleton, loose)
    cost, time, energy, due, back = (np.ascontiguousarray(row) for row in sums)
    head = np.array([skeleton.n_nodes if arc.head < 0 else arc.head for arc in loose], np.int32)
    return Arcs(head, cost - time, time, energy, due, back, doubtful), cost


def stops_table(skeleton: Skeleton, query: SearchQuery) -> Stops:
    """The stops of a query; their nodes must be kept."""
    n = len(query.stops)
    at, then = np.full(skeleton.n_nodes + 2, -1, np.int32), np.full(n, -1, np.int32)
    for i in reversed(range(n)):
        v = skeleton.index[query.stops[i].node]
        then[i], at[v] = at[v], i
    width = max((len(stop.curve.time_s) for stop in query.stops), default=2)
    time, charge = np.zeros((n, width)), np.zeros((n, width))
    for i, stop in enumerate(query.stops):
        k = len(stop.curve.time_s)
        time[i, :k], charge[i, :k] = stop.curve.time_s, stop.curve.charge_wh
        time[i, k:], charge[i, k:] = stop.curve.time_s[-1], stop.curve.charge_wh[-1]
    curves = [Curve(stop.curve, query.capacity_wh) for stop in query.stops]
    return Stops(
        at, then, time, charge,
        np.array([len(stop.curve.time_s) for stop in query.stops], np.int32),
        np.array([c.top_wh for c in curves], np.float64),
        np.array([c.end_s for c in curves], np.float64),
        np.array([stop.setup_s for stop in query.stops], np.float64),
        np.array([stop.opens_s for stop in query.stops], np.float64),
        np.array([stop.closes_s for stop in query.stops], np.float64),
    )  # fmt: skip
