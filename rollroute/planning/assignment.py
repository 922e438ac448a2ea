"""Who can be served at all, given the travel estimates: the assignment of parties to ways and shelters as a mixed-integer program.

It keeps places, sockets, intake over the whole plan, escorts' time and vans' time in sums, and leaves out order and clock.
Every plan fits into it, so its optimum bounds every plan; it is solved to proof by HiGHS (through ``scipy.optimize.milp``).

A van's time in sums: each ride needs its loading and unloading, and at least its direct drive shared by as many as fit aboard at once:
driving with at most P positions taken, all rides' direct drives add up to at most P times the driving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollroute.planning.objective import N_SERVICE_TIERS, TIER_NAMES, service_weights
from rollroute.planning.problem import NEVER, Problem


@dataclass(frozen=True, slots=True)
class Way:
    """One way of one party in the assignment. ``van`` is -1 for rolling."""

    party: int
    shelter: int
    van: int
    van_min: float
    escort_min: float
    earliest_in: int
    is_out_by: int


def assignment_bounds(problem: Problem) -> tuple[int, ...]:
    """Lower bounds of the tiers: service tiers by the assignment, in order; time by everybody's earliest arrival; others zero."""
    ways = assignment_ways(problem)
    service, chosen = solve_assignment(problem, ways)
    del chosen
    bounds = [*service, *(0 for _ in TIER_NAMES[N_SERVICE_TIERS:])]
    return tuple(bounds)


def assignment_ways(problem: Problem) -> list[Way]:
    """Every way that could be possible if its party were alone."""
    ways = []
    for roll in problem.rolls:
        party = problem.parties[roll.party]
        inside = roll.first_departure + roll.minutes
        walk = min((e.approach[roll.party] + e.back[roll.shelter] for e in problem.escorts), default=0)
        if _fits(problem, roll.party, roll.shelter, inside) and roll.first_departure + roll.leave_area <= party.close:
            need = roll.escorts * (roll.minutes + walk)
            ways.append(Way(roll.party, roll.shelter, -1, 0.0, float(need), inside, roll.first_departure + roll.leave_area))
    for (u, k, j), dropoff in problem.dropoffs.items():
        way = _ride(problem, u, k, j, dropoff.node, dropoff.roll)
        if way is not None:
            ways.append(way)
    return ways


def _ride(problem: Problem, u: int, k: int, j: int, node: int, way_in: int) -> Way | None:
    pickup = problem.pickups.get((u, k))
    if pickup is None:
        return None
    van, party = problem.vans[k], problem.parties[u]
    direct = int(problem.drive[:, pickup.node, node].min())
    to_zone = int(problem.drive[:, van.node, pickup.node].min())
    loading = max(van.starts + to_zone, party.ready + pickup.roll)
    loaded = loading + pickup.load
    ended = loaded + direct + pickup.unload
    is_possible = direct < NEVER and to_zone < NEVER and ended <= van.ends and direct + pickup.unload <= problem.ride_limit[u]
    is_possible = is_possible and pickup.positions <= van.positions and pickup.seats <= van.seats
    if not is_possible or loaded + pickup.exit > party.close or not _fits(problem, u, j, ended + way_in):
        return None
    shared = direct * pickup.positions / max(1, van.positions)
    return Way(u, j, k, pickup.load + pickup.unload + shared, 0.0, ended + way_in, loaded + pickup.exit)


def _fits(problem: Problem, u: int, j: int, inside: int) -> bool:
    party, room = problem.parties[u], problem.shelters[j]
    limit = min(party.arrive_by, party.socket_by, room.closes, problem.horizon)
    return (
        max(inside, room.opens) <= limit and party.size <= room.places and party.n_sockets <= room.sockets and party.size <= room.per_hour
    )


def solve_assignment(problem: Problem, ways: Sequence[Way]) -> tuple[tuple[int, ...], tuple[int | None, ...]]:
    """(least service tiers in order, number of the way of each party or ``None``), proven."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    n, u_count = len(ways), len(problem.parties)
    rows, limits = assignment_rows(problem, ways)
    values: list[int] = []
    weights = service_weights(problem)
    solution = np.zeros(n)
    for tier in range(N_SERVICE_TIERS):
        total = sum(w for t, w in weights if t == tier)
        cost = np.array([-float(weights[w.party][1]) if weights[w.party][0] == tier else 0.0 for w in ways])
        if not n or not cost.any():
            values.append(total)
            continue
        result = milp(cost, constraints=LinearConstraint(np.array(rows), ub=np.array(limits)), integrality=np.ones(n), bounds=Bounds(0, 1))
        if result.status != 0:
            raise AssertionError(f"the assignment has the solution that nobody goes, yet HiGHS says: {result.message}")
        best = round(float(result.fun))
        values.append(total + best)
        solution = result.x
        rows, limits = [*rows, cost], [*limits, best + 0.5]
    chosen: list[int | None] = [None] * u_count
    for number, x in enumerate(solution):
        if x > 0.5:
            chosen[ways[number].party] = number
    return tuple(values), tuple(chosen)


def assignment_rows(problem: Problem, ways: Sequence[Way]) -> tuple[list[np.ndarray[tuple[int, ...], np.dtype[np.float64]]], list[float]]:
    """Rows and right-hand sides of the sums: one way each, places, sockets, intake, escorts, vans by their hours and by each closing."""
    rows: list[np.ndarray[tuple[int, ...], np.dtype[np.float64]]] = []
    limits: list[float] = []

    def add(row: list[float], limit: float) -> None:
        if any(row):
            rows.append(np.array(row))
            limits.append(limit)

    parties = problem.parties
    for u in range(len(parties)):
        add([float(w.party == u) for w in ways], 1.0)
    for j, room in enumerate(problem.shelters):
        sizes = [float(parties[w.party].size) if w.shelter == j else 0.0 for w in ways]
        add(sizes, float(room.places))
        add([float(parties[w.party].n_sockets) if w.shelter == j else 0.0 for w in ways], float(room.sockets))
        _intake_rows(problem, ways, j, add)
    total = sum(max(0, e.ends - e.starts) for e in problem.escorts)
    add([w.escort_min for w in ways], float(total))
    for k, van in enumerate(problem.vans):
        add([w.van_min if w.van == k else 0.0 for w in ways], float(max(0, van.ends - van.starts)))
        for close in sorted({p.close for p in parties if p.close < NEVER}):
            loads = [float(problem.pickups[w.party, k].load) if w.van == k and parties[w.party].close <= close else 0.0 for w in ways]
            add(loads, float(max(0, close - van.starts)))
    return rows, limits


def _intake_rows(problem: Problem, ways: Sequence[Way], j: int, add: object) -> None:
    """By each limit, no more can be inside than the hours since the first possible arrival take in."""
    room = problem.shelters[j]
    there = [w for w in ways if w.shelter == j]
    if not there or not callable(add):
        return
    first = max(room.opens, min(w.earliest_in for w in there))

    def limit_of(way: Way) -> int:
        party = problem.parties[way.party]
        return min(party.arrive_by, party.socket_by, room.closes, problem.horizon)

    for limit in sorted({limit_of(w) for w in there}):
        hours = (limit - first) // 60 + 1
        row = [float(problem.parties[w.party].size) if w.shelter == j and limit_of(w) <= limit else 0.0 for w in ways]
        add(row, float(max(0, hours) * room.per_hour))
