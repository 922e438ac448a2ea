"""The assignment against another formulation, against max-flow, and its bounds against plans that are proven best."""

from __future__ import annotations

import itertools
import math

import networkx as nx
import numpy as np
import pytest
from random_moves import random_move
from scipy.optimize import Bounds, LinearConstraint, milp

from rollroute.planning.assignment import assignment_bounds, assignment_ways, solve_assignment
from rollroute.planning.exact import solve_exactly
from rollroute.planning.make_plan import needs_of
from rollroute.planning.objective import N_SERVICE_TIERS, people_served
from rollroute.planning.options import build_problem
from rollroute.planning.problem import NEVER, Problem

SEEDS = range(40)


def _problem(seed: int, **most: int) -> Problem:
    a_move, travel = random_move(seed, **most)
    return build_problem(a_move, needs_of(a_move)[0], travel)


class _Other:
    """The same question written down another way: one objective with weights so far apart that they never mix, rows by name, dense."""

    def __init__(self, problem: Problem) -> None:
        self.p = problem
        self.columns: list[tuple[int, int, int, float, float, int]] = []  # party, shelter, van or -1, van minutes, walk minutes, inside
        for u, j in itertools.product(range(len(problem.parties)), range(len(problem.shelters))):
            self._rolls(u, j)
            for k in range(len(problem.vans)):
                self._ride(u, j, k)

    def _is_in_time(self, u: int, j: int, inside: float) -> bool:
        party, room = self.p.parties[u], self.p.shelters[j]
        is_room = party.size <= room.places and party.n_sockets <= room.sockets and party.size <= room.per_hour
        return is_room and max(inside, room.opens) <= min(party.arrive_by, party.socket_by, room.closes, self.p.horizon)

    def _rolls(self, u: int, j: int) -> None:
        for roll in self.p.rolls:
            if (roll.party, roll.shelter) == (u, j):
                inside = roll.first_departure + roll.minutes
                walk = min((e.approach[u] + e.back[j] for e in self.p.escorts), default=0)
                if self._is_in_time(u, j, inside) and roll.first_departure + roll.leave_area <= self.p.parties[u].close:
                    self.columns.append((u, j, -1, 0.0, roll.escorts * (roll.minutes + walk), inside))

    def _ride(self, u: int, j: int, k: int) -> None:
        pick, drop, van = self.p.pickups.get((u, k)), self.p.dropoffs.get((u, k, j)), self.p.vans[k]
        if pick is None or drop is None or pick.positions > van.positions or pick.seats > van.seats:
            return
        way, to = min(int(d[pick.node, drop.node]) for d in self.p.drive), min(int(d[van.node, pick.node]) for d in self.p.drive)
        loaded = max(van.starts + to, self.p.parties[u].ready + pick.roll) + pick.load
        unloaded = loaded + way + pick.unload
        if max(way, to) >= NEVER or unloaded > van.ends or way + pick.unload > self.p.ride_limit[u]:
            return
        if loaded + pick.exit <= self.p.parties[u].close and self._is_in_time(u, j, unloaded + drop.roll):
            minutes = pick.load + pick.unload + way * pick.positions / max(1, van.positions)
            self.columns.append((u, j, k, minutes, 0.0, unloaded + drop.roll))

    def rows(self) -> dict[str, tuple[list[float], float]]:
        p, columns = self.p, self.columns
        rows = {f"one way {u}": ([float(c[0] == u) for c in columns], 1.0) for u in range(len(p.parties))}
        for j, room in enumerate(p.shelters):
            rows[f"places {j}"] = ([float(p.parties[c[0]].size) * (c[1] == j) for c in columns], room.places)
            rows[f"sockets {j}"] = ([float(p.parties[c[0]].n_sockets) * (c[1] == j) for c in columns], room.sockets)
            there = [c for c in columns if c[1] == j]
            first = max(room.opens, min((c[5] for c in there), default=0))
            last = {c: min(p.parties[c[0]].arrive_by, p.parties[c[0]].socket_by, room.closes, p.horizon) for c in there}
            for limit in set(last.values()):
                sizes = [float(p.parties[c[0]].size) * (c[1] == j and last[c] <= limit) for c in columns]
                rows[f"intake {j} {limit}"] = (sizes, max(0, math.floor((limit - first) / 60) + 1) * room.per_hour)
        rows["escorts"] = ([c[4] for c in columns], sum(max(0, e.ends - e.starts) for e in p.escorts))
        for k, van in enumerate(p.vans):
            rows[f"van {k}"] = ([c[3] * (c[2] == k) for c in columns], max(0, van.ends - van.starts))
            for close in {q.close for q in p.parties if q.close < NEVER}:
                loads = [float(p.pickups[c[0], k].load) if c[2] == k and p.parties[c[0]].close <= close else 0.0 for c in columns]
                rows[f"van {k} by {close}"] = (loads, max(0, close - van.starts))
        return rows

    def served(self) -> tuple[int, int, int]:
        """People of each class who are left, by one weighted optimum."""
        p = self.p
        kind = [0 if q.socket_by < NEVER else 1 if q.close < NEVER else 2 for q in p.parties]
        left = [sum(q.size for q, c in zip(p.parties, kind, strict=True) if c == t) for t in range(3)]
        if not self.columns:
            return tuple(left)  # type: ignore[return-value]
        closings = sorted({q.close for q in p.parties if q.close < NEVER})
        early = {close: 1 + 0.001 * (len(closings) - i) for i, close in enumerate(closings)}
        worth = [10_000.0, 100.0, 1.0]
        gain = [worth[kind[c[0]]] * p.parties[c[0]].size * (early[p.parties[c[0]].close] if kind[c[0]] == 1 else 1.0) for c in self.columns]
        rows = self.rows()
        matrix, limits = np.array([r for r, _ in rows.values()]), np.array([float(b) for _, b in rows.values()])
        n = len(gain)
        found = milp(-np.array(gain), constraints=LinearConstraint(matrix, ub=limits), integrality=np.ones(n), bounds=Bounds(0, 1))
        for x, column in zip(found.x, self.columns, strict=True):
            left[kind[column[0]]] -= p.parties[column[0]].size if x > 0.5 else 0
        return tuple(left)  # type: ignore[return-value]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_assignment_equals_another_formulation(seed: int) -> None:
    """Same people served in every class, by a model that shares no line with it (scipy.optimize.milp on dense rows, one objective)."""
    problem = _problem(seed, most_riders=9, most_shelters=4, most_vans=3)
    _, chosen = solve_assignment(problem, assignment_ways(problem))

    kind = [0 if q.socket_by < NEVER else 1 if q.close < NEVER else 2 for q in problem.parties]
    left = [sum(q.size for u, q in enumerate(problem.parties) if kind[u] == t and chosen[u] is None) for t in range(N_SERVICE_TIERS)]

    assert tuple(left) == _Other(problem).served()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_more_people_are_served_than_flow_through_places(seed: int) -> None:
    """Max-flow (networkx) from riders over ways to places: it leaves vans and escorts out, so it bounds the assignment from above."""
    problem = _problem(seed, most_riders=9, most_shelters=4, most_vans=3)
    ways = assignment_ways(problem)
    _, chosen = solve_assignment(problem, ways)
    graph = nx.DiGraph()
    graph.add_node("in")
    graph.add_node("out")
    for way in ways:
        graph.add_edge("in", f"P{way.party}", capacity=problem.parties[way.party].size)
        graph.add_edge(f"P{way.party}", f"S{way.shelter}", capacity=problem.parties[way.party].size)
        graph.add_edge(f"S{way.shelter}", "out", capacity=problem.shelters[way.shelter].places)

    served = sum(problem.parties[u].size for u, number in enumerate(chosen) if number is not None)

    assert served <= nx.maximum_flow_value(graph, "in", "out")


@pytest.mark.parametrize("seed", range(12))
def test_no_bound_is_over_what_a_plan_reaches(seed: int) -> None:
    """A bound over the value of a plan would call plans proven that are not; exact plans, proven or not, never go under one."""
    problem = _problem(500 + seed)
    result = solve_exactly(problem, work=0.5)

    bounds = assignment_bounds(problem, result.tiers, people_served(problem, result.schedule))

    assert all(bound <= value for bound, value in zip(bounds, result.tiers, strict=True)), (bounds, result.tiers)
