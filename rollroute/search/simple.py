"""The exact search without compilation: labels in a heap, guided by scipy's backward fields.

For small maps, and the second implementation that the compiled engine is checked against.
Labels are taken in the order of ``cost + h``, where ``h`` never overestimates what is left, so the first one taken at a goal is best
(A*; Hart, Nilsson and Raphael 1968). ``labels.Dominance`` holds the proof of what may be thrown away.
Ties: equal keys leave the heap in the order in which they entered, which depends on the input alone.
"""

from __future__ import annotations

import heapq
import math
import weakref
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rollroute.search.curves import Curve
from rollroute.search.fields import back_field, distance_to, retreat_field
from rollroute.search.labels import Dominance, Label, decisions_at
from rollroute.search.problem import SLACK, Floats, SearchGraph, SearchQuery, Verdict

# edge, head, time, extra, energy, closes, and the energy back where the edge is unverified (−1 where it is clear)
_Arc = tuple[int, int, float, float, float, float, float]
_ARCS: weakref.WeakKeyDictionary[SearchGraph, dict[float, tuple[list[list[_Arc]], list[float]]]] = weakref.WeakKeyDictionary()


def search(graph: SearchGraph, query: SearchQuery) -> Verdict:
    """The best way that keeps every rule of ``query``, or the proof that there is none.

    At ``query.work_limit`` labels the search is repeated with fewer labels kept (the cheapest few at each node);
    what that finds keeps every rule, and the lower bound of the first search stands beside it.
    """
    task = Task.of(graph, query)
    verdict = _run(task, query.work_limit, None)
    if verdict.is_proven:
        return verdict
    for kept in (16, 4, 1):
        found = _run(task, query.work_limit, kept)
        if found.steps is not None:
            return Verdict(found.steps, verdict.lower_bound_s, False, verdict.n_labels + found.n_labels)
    return verdict


@dataclass(slots=True)
class Task:
    """A query with its fields, as lists: plain Python reads those several times faster than arrays."""

    query: SearchQuery
    arcs: list[list[_Arc]]
    back: list[float]  # per edge
    retreat: list[float]  # r(v)
    goals: frozenset[int]
    stops_at: dict[int, list[int]]
    curves: list[Curve]
    bound: _Bound
    dominance: Dominance

    @classmethod
    def of(cls, graph: SearchGraph, query: SearchQuery) -> Task:
        """The fields of a query, computed."""
        stops_at: dict[int, list[int]] = {}
        for i, stop in enumerate(query.stops):
            stops_at.setdefault(stop.node, []).append(i)
        has_openings = any(stop.opens_s > 0 for stop in query.stops)
        time_matters = has_openings or math.isfinite(query.latest_arrival_s) or any(math.isfinite(s.closes_s) for s in query.stops)
        time_matters = time_matters or bool((graph.closes_s[graph.is_passable] < math.inf).any())
        arcs, back = _arcs_of(graph, query.retreats_until_s)
        return cls(
            query=query,
            arcs=arcs,
            back=back,
            retreat=retreat_field(graph, query).tolist() if query.needs_way_back else [],
            goals=frozenset(query.goals),
            stops_at=stops_at,
            curves=[Curve(stop.curve, query.capacity_wh) for stop in query.stops],
            bound=_Bound.of(graph, query),
            dominance=Dominance(time_matters, has_openings, query.needs_way_back, bool(query.stops)),
        )


def _arcs_of(graph: SearchGraph, until_s: float) -> tuple[list[list[_Arc]], list[float]]:
    """For every node its passable edges, and for every edge the energy back; kept per graph."""
    kept = _ARCS.setdefault(graph, {})
    found = kept.get(until_s)
    if found is None:
        back = back_field(graph, until_s)
        offsets, edges = graph.out_edges
        turning = np.where(graph.is_unverified, back, -1.0)
        columns = (graph.head, graph.time_s, graph.cost_s - graph.time_s, graph.energy_wh, graph.closes_s, turning)
        flat = list(zip(edges.tolist(), *(column[edges].tolist() for column in columns), strict=True))
        found = ([flat[i:j] for i, j in pairwise(offsets.tolist())], back.tolist())
        kept.clear()
        kept[until_s] = found
    return found


@dataclass(slots=True)
class _Bound:
    """What is left at least, from a node with a charge: ``of`` computes the fields, ``__call__`` reads them.

    * without another stop: the cheapest way, if the energy to the goal is there at all;
    * at most ``fastest`` Wh are gained a second, so with energy priced at 1 / fastest, what the battery lacks costs at least its price
      (a Lagrangian bound, Handler and Zang 1980, with the multiplier that charging itself sets);
    * a chair that can't reach the goal on what it can have has to pass one more stop and set up there.
    """

    cost: list[float]
    energy: list[float]  # to a goal
    energy_or_stop: list[float]  # to a goal or to a stop
    priced: list[float]  # cost + energy / fastest
    priced_via_stop: list[float]
    cost_via_stop: list[float]
    time: list[float] | None  # only where there is a latest arrival
    per_wh: float
    reserve: float
    latest_s: float
    has_stops: bool

    @classmethod
    def of(cls, graph: SearchGraph, query: SearchQuery) -> _Bound:
        cost = distance_to(graph, graph.cost_s, query.goals)
        energy = distance_to(graph, graph.energy_wh, query.goals)
        both, priced, priced_via, cost_via = energy, cost, cost, cost
        fastest = max((stop.curve.fastest_wh_per_s for stop in query.stops), default=math.inf)
        if query.stops:
            nodes = [stop.node for stop in query.stops]
            priced_weight = graph.cost_s + graph.energy_wh / fastest
            priced = distance_to(graph, priced_weight, query.goals)
            both = distance_to(graph, graph.energy_wh, [*query.goals, *nodes])
            priced_via, cost_via = _via(graph, priced_weight, query, priced), _via(graph, graph.cost_s, query, cost)
        time = distance_to(graph, graph.time_s, query.goals).tolist() if query.latest_arrival_s < math.inf else None
        return cls(
            cost=cost.tolist(),
            energy=energy.tolist(),
            energy_or_stop=both.tolist(),
            priced=priced.tolist(),
            priced_via_stop=priced_via.tolist(),
            cost_via_stop=cost_via.tolist(),
            time=time,
            per_wh=1.0 / fastest,
            reserve=query.reserve_wh,
            latest_s=query.latest_arrival_s,
            has_stops=bool(query.stops),
        )

    def __call__(self, label: Label) -> float:
        node = label.node
        most = label.charge(label.x_hi) - self.reserve + SLACK
        if most < self.energy_or_stop[node]:
            return math.inf
        if self.time is not None and label.time0 + label.x_lo + self.time[node] > self.latest_s + SLACK:
            return math.inf
        if not self.has_stops:
            return self.cost[node]
        has = (label.charge(label.x_lo) - self.reserve) * self.per_wh
        if most < self.energy[node]:
            return max(self.cost_via_stop[node], self.priced_via_stop[node] - has)
        return max(self.cost[node], self.priced[node] - has)


def _via(graph: SearchGraph, weight: Floats, query: SearchQuery, to_goal: Floats) -> Floats:
    """Least weight from every node over one stop, with its set-up, to a goal."""
    reach = [(stop.node, to_goal[stop.node] + stop.setup_s) for stop in query.stops if to_goal[stop.node] < math.inf]
    return distance_to(graph, weight, [node for node, _ in reach], offsets=[offset for _, offset in reach])


def first_label(task: Task) -> Label:
    """The label at the start."""
    query = task.query
    b = task.retreat[query.start] if query.needs_way_back else math.inf
    return Label(query.start, 0.0, 0.0, 0.0, 0.0, None, query.charge_wh, 0.0, b, -1, -1, None, 0.0)


def _run(task: Task, limit: int | None, kept: int | None) -> Verdict:
    query = task.query
    heap: list[tuple[float, int, Label]] = []
    n_made = n_taken = 0
    key = 0.0
    settled: dict[int, list[Label]] = {}
    fresh = [first_label(task)] if query.charge_wh >= query.reserve_wh - SLACK else []
    while True:
        for label in fresh:
            left = task.bound(label)
            if left < math.inf and not _is_dominated(task, settled, label, kept):
                heapq.heappush(heap, (label.cost + left, n_made, label))
                n_made += 1
        if not heap:
            return Verdict(None, math.inf, kept is None, n_taken)
        key, _, label = heapq.heappop(heap)
        fresh = []
        if label.node in task.goals and label.time0 + label.x_lo <= query.latest_arrival_s + SLACK:
            return Verdict(label.steps(), key, kept is None, n_taken)
        if _is_dominated(task, settled, label, kept):
            continue
        if limit is not None and n_taken >= limit:
            return Verdict(None, key, False, n_taken)
        n_taken += 1
        settled.setdefault(label.node, []).append(label)
        fresh = children_of(task, label)


def _is_dominated(task: Task, settled: dict[int, list[Label]], label: Label, kept: int | None) -> bool:
    others = settled.get(label.node, ())
    if kept is not None and len(others) >= kept:
        return True
    return any(task.dominance.holds(other, label) for other in others)


def children_of(task: Task, label: Label) -> list[Label]:
    """The labels that follow a label: one for each edge and each use of a stop that the rules allow."""
    children = []
    for arc in task.arcs[label.node]:
        child = _drive(task, label, arc)
        if child is not None:
            children.append(child)
    for stop in task.stops_at.get(label.node, ()):
        if not (label.via < 0 and label.stop == stop):  # no second set-up without moving
            children.extend(_plug_in(task, label, stop))
    return children


def _drive(task: Task, label: Label, arc: _Arc) -> Label | None:
    query = task.query
    edge, head, time_s, extra, energy, closes, back = arc
    need = query.reserve_wh + energy
    b = label.b
    if query.needs_way_back:
        if back >= 0.0:
            need += back + b
        b = min(task.retreat[head], b + task.back[edge])
    x_lo = label.least_x(need)
    time0 = label.time0 + time_s
    x_hi = label.x_hi
    if closes < math.inf:
        if time0 + x_lo > closes + SLACK:
            return None
        x_hi = max(x_lo, min(x_hi, closes - time0))
    if x_lo == math.inf:
        return None
    used = label.used + energy
    return Label(head, time0, label.extra + extra, x_lo, x_hi, label.curve, label.along, used, b, label.stop, edge, label, 0.0)


def _plug_in(task: Task, label: Label, index: int) -> list[Label]:
    stop, curve = task.query.stops[index], task.curves[index]
    children = []
    for x in decisions_at(label, curve, stop.opens_s):
        begins = max(label.time0 + x, stop.opens_s) + stop.setup_s
        along = curve.when(label.charge(x))
        x_hi = min(curve.end_s - along, stop.closes_s - begins)
        if x_hi > 0.0:
            children.append(Label(label.node, begins, label.extra, 0.0, x_hi, curve, along, 0.0, label.b, index, -1, label, x))
    return children
