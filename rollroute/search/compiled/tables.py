"""What the kernels read, as named tuples of arrays (numba reads those by name and compiles once for them)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from rollroute.search.compiled.skeleton import LooseArc, Skeleton, sums_of
from rollroute.search.curves import Curve
from rollroute.search.problem import Bools, Floats, Ints, SearchQuery

# rows of ``Arcs.data``; ``EXTRA`` is what cost has more than time, ``DUE`` the latest departure, ``BACK`` the energy to come back
EXTRA, TIME, ENERGY, DUE, BACK = range(5)


class Arcs(NamedTuple):
    """Arcs of a skeleton, or loose arcs."""

    head: Ints
    is_unverified: Bools
    data: Floats  # (5, n_arcs)


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

    dists: tuple[Floats, ...]
    next_arcs: tuple[Ints, ...]
    rows: Floats  # (4, n, N_COLUMNS), filled where ``is_filled``; both are written by one search alone
    is_filled: Bools  # (4, n)
    seeds: Floats  # the rows at the seeds: those of goals, then those of stops
    n_goal: int
    path: Ints  # (n,) scratch
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
    kept: int  # the most labels at a node; fewer than all there are make a search that finds ways but proves nothing
    start_b: float


class Scene(NamedTuple):
    """All that a label search reads."""

    arcs: Arcs
    loose: Arcs
    links: Links
    stops: Stops
    retreat: Floats
    lower: Lower
    trees: Trees
    rules: Rules


class Pool(NamedTuple):
    """All that a label search writes: labels (see ``labelling``), the newest one at each node, the heap, and the best completion."""

    values: Floats
    numbers: Ints
    parent_x: Floats
    first: Ints
    keys: Floats
    items: Ints
    sizes: Ints  # labels, heap, comparisons, labels taken
    best: Floats  # label, tree, its x, x at the stop between


# columns of a table of completions (see ``trees``)
N_COLUMNS = 8  # cost, time, energy, need, need with b, due, stop, node of the stop


def arcs_of(skeleton: Skeleton) -> Arcs:
    """The arcs of a skeleton as a table. A barred arc takes inf of time and energy."""
    s = skeleton
    data = np.empty((5, s.n_arcs))
    data[EXTRA], data[TIME], data[ENERGY], data[DUE], data[BACK] = s.cost_s, s.time_s, s.energy_wh, s.due_s, s.back_wh
    np.subtract(s.cost_s, s.time_s, out=data[EXTRA], where=s.time_s < np.inf)
    return Arcs(s.head, s.is_unverified, data)


def loose_table(skeleton: Skeleton, loose: list[LooseArc]) -> tuple[Arcs, Floats]:
    """Loose arcs as a table (the head at a goal is ``n_nodes``), and their costs."""
    sums, doubtful = sums_of(skeleton, loose)
    cost = sums[0].copy()
    sums[0] -= sums[1]
    head = np.array([skeleton.n_nodes if arc.head < 0 else arc.head for arc in loose], np.int32)
    return Arcs(head, doubtful, sums), cost


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
