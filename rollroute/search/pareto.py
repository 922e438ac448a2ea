"""The Pareto set of planned time, planned energy and doubt: routes of which none is better in one and no worse in the others.

Labels of the search without compilation (``labels``) with cost = time, in the order of time + least time left, so that what arrives at a
goal first is never beaten by what comes later (multi-objective label setting; Martins 1984, from memory).
Two more sums ride along: energy driven and doubt. They grow by the same on the same continuation, so a label that dominates another one
(``labels.Dominance``, which speaks of cost alone) and has no more energy driven and no more doubt stands for it in all three.
For given edges and stops the least charging that keeps the rules is the quickest and changes neither energy driven nor doubt,
so charging adds no further points.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, replace

from rollroute.search.fields import distance_to
from rollroute.search.find import finish
from rollroute.search.labels import Label
from rollroute.search.problem import SLACK, Route, SearchGraph, SearchQuery, Verdict
from rollroute.search.simple import Task, children_of, first_label

SAME = 1e-9  # s, Wh, surprisal: routes closer than this in all three count as one

_Ends = tuple[float, float, float]  # time, energy, surprisal


@dataclass(frozen=True, eq=False)
class ParetoSet:
    """Routes in rising time. Where ``is_complete`` is ``False`` the cap was met: every route is in the set, but slower ones are missing."""

    routes: tuple[Route, ...]
    is_complete: bool


def pareto_set(graph: SearchGraph, query: SearchQuery, *, most_routes: int = 50, most_labels: int = 100_000) -> ParetoSet:
    """The Pareto set of ``(time_s, energy_wh, surprisal)`` over the routes that keep every rule of ``query``.

    ``time_s`` counts waiting and charging, ``energy_wh`` what is driven. Every route has passed the audit; ``is_proven`` of a route is
    ``False``, since none of them need be the cheapest. An empty, complete set is the proof that there is no route.
    """
    query.check_against(graph)
    return _Search(graph, query).run(most_routes, most_labels)


@dataclass(slots=True)
class _Way:
    label: Label
    energy: float
    doubt: float


class _Search:
    def __init__(self, graph: SearchGraph, query: SearchQuery) -> None:
        self.graph, self.query = graph, query
        self.task = Task.of(replace(graph, cost_s=graph.time_s), query)
        self.energy_left = distance_to(graph, graph.energy_wh, query.goals).tolist()
        self.doubt_left = distance_to(graph, graph.surprisal, query.goals).tolist()
        self.energy, self.doubt = graph.energy_wh.tolist(), graph.surprisal.tolist()
        self.settled: dict[int, list[_Way]] = {}
        self.front: list[tuple[_Ends, _Way]] = []
        self.heap: list[tuple[float, float, float, int, _Way]] = []
        self.n_made = self.n_taken = 0

    def run(self, most_routes: int, most_labels: int) -> ParetoSet:
        if self.query.charge_wh >= self.query.reserve_wh - SLACK:
            self._add(_Way(first_label(self.task), 0.0, 0.0))
        goals = self.task.goals
        while self.heap:
            time, energy, doubt, _, way = self.heap[0]
            if self._is_useless(way, (time, energy, doubt)):
                heapq.heappop(self.heap)
                continue
            if len(self.front) >= most_routes or self.n_taken >= most_labels:
                break
            heapq.heappop(self.heap)
            self.n_taken += 1
            if way.label.node in goals:
                self.front.append(((time, energy, doubt), way))
                continue  # whatever goes on from a goal is no better at the next one
            self.settled.setdefault(way.label.node, []).append(way)
            for child in children_of(self.task, way.label):
                via = child.via
                energy_on, doubt_on = (self.energy[via], self.doubt[via]) if via >= 0 else (0.0, 0.0)
                self._add(_Way(child, way.energy + energy_on, way.doubt + doubt_on))
        return ParetoSet(tuple(self._route(way) for _, way in self.front), not self.heap)

    def _add(self, way: _Way) -> None:
        node = way.label.node
        left = 0.0 if node in self.task.goals else self.task.bound(way.label)
        ends = (way.label.cost + left, way.energy + self.energy_left[node], way.doubt + self.doubt_left[node])
        arrives_in_time = ends[0] <= self.query.latest_arrival_s + SLACK
        if math.isfinite(left) and arrives_in_time and not self._is_useless(way, ends):
            heapq.heappush(self.heap, (*ends, self.n_made, way))
            self.n_made += 1

    def _is_useless(self, way: _Way, ends: _Ends) -> bool:
        """Whether a route that is known already, or another way to the node, is as good in everything."""
        if any(o[0] <= ends[0] + SAME and o[1] <= ends[1] + SAME and o[2] <= ends[2] + SAME for o, _ in self.front):
            return True
        holds = self.task.dominance.holds
        return any(
            o.energy <= way.energy and o.doubt <= way.doubt and holds(o.label, way.label) for o in self.settled.get(way.label.node, ())
        )

    def _route(self, way: _Way) -> Route:
        return finish(self.graph, self.query, Verdict(way.label.steps(), 0.0, False, self.n_taken))
