"""Who can be served at all, given the travel estimates: the assignment of parties to ways and shelters as a mixed-integer program.

It keeps places, sockets, intake over the whole plan, escorts' time and vans' time in sums, and leaves out order and clock.
Every plan fits into it, so its optimum bounds every plan; it is solved to proof by HiGHS (through ``scipy.optimize.milp``).

A van's time in sums: each ride needs its loading and unloading, and at least its direct drive shared by as many as fit aboard at once:
driving with at most P positions taken, all rides' direct drives add up to at most P times the driving.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array, vstack

from rollroute.planning.objective import N_SERVICE_TIERS, TIER_NAMES, service_weights
from rollroute.planning.problem import NEVER, Dropoff, Party, Problem

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
WHOLE_UP_TO_PARTIES, VANS_KEPT = 60, 3  # quick questions: moves of this size are asked whole, larger ones with so many vans a shelter
DOUBT_TIER = 5
LP_SLACK = 1e-7  # share of a bound that rounding in the relaxation may be off by


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
    doubt: int = 0
    charge_short: int = 0
    shared_min: float = 0.0  # its share of the van's driving


def assignment_bounds(problem: Problem, values: Sequence[int] | None = None, n_served: int = 0) -> tuple[int, ...]:
    """Lower bounds of the tiers.

    Service tiers by the assignment, in order, proven. The others by its relaxation to shares, each party's earliest times and least
    doubt, given that the tiers before stand as in ``values``, with ``n_served`` people served; zero where ``values`` are not given.
    """
    ways = assignment_ways(problem)
    service, _ = solve_assignment(problem, ways)
    if values is None:
        return (*service, *(0 for _ in TIER_NAMES[N_SERVICE_TIERS:]))
    return (*service, *_relaxed_bounds(problem, ways, values, n_served))


def _relaxed_bounds(problem: Problem, ways: Sequence[Way], values: Sequence[int], n_served: int) -> list[int]:
    from scipy.optimize import linprog

    if not ways:
        return [0 for _ in TIER_NAMES[N_SERVICE_TIERS:]]
    matrix, limits = assignment_rows(problem, ways)
    weights = service_weights(problem)
    bounds: list[int] = []
    for tier in range(N_SERVICE_TIERS):
        cost = _service_cost(ways, weights, tier)
        matrix, limits = _with_row(matrix, limits, cost, values[tier] - sum(w for t, w in weights if t == tier))
    for tier, cost in enumerate(_least_costs(problem, ways), start=N_SERVICE_TIERS):
        bound = 0
        if values[tier] > 0 and cost.any():
            found = linprog(cost, A_ub=matrix, b_ub=limits, bounds=(0, 1), method="highs")
            bound = math.ceil(found.fun - LP_SLACK * max(1.0, abs(found.fun))) if found.status == 0 else 0
        bounds.append(max(0, bound))
        matrix, limits = _with_row(matrix, limits, cost, float(values[tier]))
    bounds[-1] = max(bounds[-1], queue_bound(problem, ways, n_served, values[DOUBT_TIER]))
    return bounds


def queue_bound(problem: Problem, ways: Sequence[Way], n_served: int, most_doubt: int) -> int:
    """No plan of at most ``most_doubt`` brings ``n_served`` people in with a smaller sum of arrivals.

    A van's driver loads and unloads one after the other.
    The i-th person that a van has brought is unloaded no sooner than the van's start and the i least workings (loading, unloading, a
    share of the direct drive) of all that it could take. However many people roll, the soonest rolls are counted for them, and the
    vans' queues are filled as evenly as can be: the least over all numbers that the doubt allows is the bound.
    """
    ends = sorted(end for k in range(len(problem.vans)) for end in _queue(problem, ways, k, n_served))
    ridden = np.concatenate([[0.0], np.cumsum(ends[:n_served])])
    soonest: dict[int, int] = {}
    for way in ways:
        if way.van < 0:
            soonest[way.party] = min(way.earliest_in, soonest.get(way.party, NEVER))
    rolls = sorted(minute for u, minute in soonest.items() for _ in range(problem.parties[u].size))
    rolled = np.concatenate([[0.0], np.cumsum(rolls[:n_served])])
    doubt = _doubt_of_rolling(problem, ways, n_served)
    numbers = [r for r in range(min(len(rolled), len(doubt))) if doubt[r] <= most_doubt + 0.5]
    pairs = [(r, n_served - r) for r in numbers if 0 <= n_served - r < len(ridden)]
    return math.floor(min((rolled[r] + ridden[v] for r, v in pairs), default=0.0))


def _doubt_of_rolling(problem: Problem, ways: Sequence[Way], n_served: int) -> Floats:
    """Least doubt of a plan in which nobody rolls, one person, and so on: the surest rides, and for whoever rolls what that adds."""
    ride: dict[int, int] = {}
    roll: dict[int, int] = {}
    for way in ways:
        least = ride if way.van >= 0 else roll
        least[way.party] = min(way.doubt, least.get(way.party, NEVER))
    size = {u: problem.parties[u].size for u in ride | roll}
    aboard = {u: ride.get(u, roll.get(u, 0)) for u in size}
    base = sum(sorted(aboard[u] / size[u] for u in size for _ in range(size[u]))[:n_served])
    added = sorted((roll[u] - aboard[u]) / size[u] for u in roll for _ in range(size[u]))
    return np.asarray(base + np.concatenate([[0.0], np.cumsum(added)]))


def _queue(problem: Problem, ways: Sequence[Way], k: int, most: int) -> list[float]:
    """Earliest moments at which van ``k`` has brought one person, two, and so on."""
    least: dict[int, float] = {}
    for way in ways:
        if way.van == k:
            least[way.party] = min(way.van_min, least.get(way.party, math.inf))
    each = sorted(m / problem.parties[u].size for u, m in least.items() for _ in range(problem.parties[u].size))
    return [problem.vans[k].starts + float(end) for end in np.cumsum(each[:most])]


def _least_costs(problem: Problem, ways: Sequence[Way]) -> tuple[Floats, Floats, Floats, Floats]:
    """What each way adds at least to lateness, margins, doubt and time."""
    late, margin, doubt, time = (np.zeros(len(ways)) for _ in range(4))
    for i, way in enumerate(ways):
        party = problem.parties[way.party]
        late[i] = party.size * max(0, way.is_out_by - party.due) if party.due < NEVER else 0
        limits = ((party.close, way.is_out_by), (party.arrive_by, way.earliest_in), (party.socket_by, way.earliest_in))
        margin[i] = way.charge_short + party.size * sum(max(0, problem.comfort - at + when) for at, when in limits if at < NEVER)
        doubt[i] = way.doubt
        time[i] = party.size * way.earliest_in + way.shared_min
    return late, margin, doubt, time


def assignment_ways(problem: Problem) -> list[Way]:
    """Every way that could be possible if its party were alone."""
    ways = []
    for roll in problem.rolls:
        party = problem.parties[roll.party]
        inside = roll.first_departure + roll.minutes
        walk = min((e.approach[roll.party] + e.back[roll.shelter] for e in problem.escorts), default=0)
        if _fits(problem, roll.party, roll.shelter, inside) and roll.first_departure + roll.leave_area <= party.close:
            need = roll.escorts * (roll.minutes + walk)
            out = roll.first_departure + roll.leave_area
            ways.append(Way(roll.party, roll.shelter, -1, 0.0, float(need), inside, out, roll.doubt, roll.charge_short))
    drive = problem.drive.min(axis=0)
    for (u, k, j), dropoff in problem.dropoffs.items():
        way = _ride(problem, drive, (u, k, j), dropoff)
        if way is not None:
            ways.append(way)
    return ways


def few_ways(problem: Problem, ways: Sequence[Way]) -> list[Way]:
    """For quick questions about large moves: of each party's ways to a shelter the rolls and the vans that are there soonest.

    What this leaves is a part of the assignment, so it may serve fewer people; bounds are never taken from it.
    """
    if len(problem.parties) <= WHOLE_UP_TO_PARTIES:
        return list(ways)
    kept, taken = [], Counter[tuple[int, int]]()
    for way in sorted(ways, key=lambda w: (w.earliest_in, w.van)):
        taken[way.party, way.shelter] += way.van >= 0
        if way.van < 0 or taken[way.party, way.shelter] <= VANS_KEPT:
            kept.append(way)
    return kept


def _ride(problem: Problem, drive: Ints, key: tuple[int, int, int], dropoff: Dropoff) -> Way | None:
    """``drive``: (n_nodes, n_nodes) least minutes of all phases; ``key``: party, van, shelter."""
    u, k, j = key
    pickup = problem.pickups.get((u, k))
    if pickup is None:
        return None
    van, party = problem.vans[k], problem.parties[u]
    direct = int(drive[pickup.node, dropoff.node])
    to_zone = int(drive[van.node, pickup.node])
    loading = max(van.starts + to_zone, party.ready + pickup.roll)
    loaded = loading + pickup.load
    ended = loaded + direct + pickup.unload
    is_possible = direct < NEVER and to_zone < NEVER and ended <= van.ends and direct + pickup.unload <= problem.ride_limit[u]
    is_possible = is_possible and pickup.positions <= van.positions and pickup.seats <= van.seats
    if not is_possible or loaded + pickup.exit > party.close or not _fits(problem, u, j, ended + dropoff.roll):
        return None
    shared = direct * pickup.positions / max(1, van.positions)
    doubt = pickup.doubt + dropoff.doubt
    working = pickup.load + pickup.unload + shared
    return Way(u, j, k, working, 0.0, ended + dropoff.roll, loaded + pickup.exit, doubt, shared_min=shared)


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
    matrix, limits = assignment_rows(problem, ways)
    values: list[int] = []
    weights = service_weights(problem)
    solution = np.zeros(n)
    for tier in range(N_SERVICE_TIERS):
        total = sum(w for t, w in weights if t == tier)
        cost = _service_cost(ways, weights, tier)
        if not cost.any():
            values.append(total)
            continue
        result = milp(cost, constraints=LinearConstraint(matrix, ub=limits), integrality=np.ones(n), bounds=Bounds(0, 1))
        if result.status != 0:
            raise AssertionError(f"the assignment has the solution that nobody goes, yet HiGHS says: {result.message}")
        best = round(float(result.fun))
        values.append(total + best)
        solution = result.x
        matrix, limits = _with_row(matrix, limits, cost, best + 0.5)
    chosen: list[int | None] = [None] * u_count
    for number, x in enumerate(solution):
        if x > 0.5:
            chosen[ways[number].party] = number
    return tuple(values), tuple(chosen)


def _service_cost(ways: Sequence[Way], weights: Sequence[tuple[int, int]], tier: int) -> Floats:
    return np.array([-float(weights[w.party][1]) if weights[w.party][0] == tier else 0.0 for w in ways])


def _with_row(matrix: csr_array, limits: Floats, row: Floats, limit: float) -> tuple[csr_array, Floats]:
    return csr_array(vstack([matrix, csr_array(row[None, :])])), np.append(limits, limit)


def assignment_rows(problem: Problem, ways: Sequence[Way]) -> tuple[csr_array, Floats]:
    """Rows and right-hand sides of the sums: one way each, places, sockets, intake, escorts, vans by their hours and by each closing.

    Returns
    -------
    (n_rows, n_ways) sparse, (n_rows,)
    """
    parties, table = problem.parties, _Columns.of(problem, ways)
    rows: list[csr_array] = []
    limits: list[float] = []

    def add(row: Floats, limit: float) -> None:
        if row.any():
            rows.append(csr_array(row[None, :]))
            limits.append(limit)

    one_each = csr_array((np.ones(len(ways)), (table.party, np.arange(len(ways)))), shape=(len(parties), len(ways)))
    for j, room in enumerate(problem.shelters):
        there = table.shelter == j
        add(np.where(there, table.size, 0.0), float(room.places))
        add(np.where(there, table.sockets, 0.0), float(room.sockets))
        _intake_rows(problem, table, j, add)
    add(table.escort_min, float(sum(max(0, e.ends - e.starts) for e in problem.escorts)))
    closings = sorted({p.close for p in parties if p.close < NEVER})
    for k, van in enumerate(problem.vans):
        aboard = table.van == k
        add(np.where(aboard, table.van_min, 0.0), float(max(0, van.ends - van.starts)))
        for close in closings:
            add(np.where(aboard & (table.close <= close), table.load, 0.0), float(max(0, close - van.starts)))
    matrix = csr_array(vstack([one_each, *rows])) if len(ways) else csr_array((len(parties), 0))
    return matrix, np.array([*(1.0 for _ in parties), *limits])


@dataclass(frozen=True, slots=True)
class _Columns:
    """The ways as arrays."""

    party: Ints
    shelter: Ints
    van: Ints
    size: Floats
    sockets: Floats
    van_min: Floats
    escort_min: Floats
    load: Floats
    close: Floats
    limit: Ints
    earliest_in: Ints

    @classmethod
    def of(cls, problem: Problem, ways: Sequence[Way]) -> _Columns:
        """The columns that rows are made from."""
        parties = [problem.parties[w.party] for w in ways]

        def limit_of(way: Way, party: Party) -> int:
            return min(party.arrive_by, party.socket_by, problem.shelters[way.shelter].closes, problem.horizon)

        return cls(
            party=np.array([w.party for w in ways], np.int64),
            shelter=np.array([w.shelter for w in ways], np.int64),
            van=np.array([w.van for w in ways], np.int64),
            size=np.array([p.size for p in parties], np.float64),
            sockets=np.array([p.n_sockets for p in parties], np.float64),
            van_min=np.array([w.van_min for w in ways], np.float64),
            escort_min=np.array([w.escort_min for w in ways], np.float64),
            load=np.array([problem.pickups[w.party, w.van].load if w.van >= 0 else 0.0 for w in ways], np.float64),
            close=np.array([p.close for p in parties], np.float64),
            limit=np.array([limit_of(w, p) for w, p in zip(ways, parties, strict=True)], np.int64),
            earliest_in=np.array([w.earliest_in for w in ways], np.int64),
        )


def _intake_rows(problem: Problem, table: _Columns, j: int, add: Callable[[Floats, float], None]) -> None:
    """By each limit, no more can be inside than the hours since the first possible arrival take in."""
    room, there = problem.shelters[j], table.shelter == j
    if not there.any():
        return
    first = max(room.opens, int(table.earliest_in[there].min()))
    for limit in sorted(set(table.limit[there].tolist())):
        hours = (limit - first) // 60 + 1
        add(np.where(there & (table.limit <= limit), table.size, 0.0), float(max(0, hours) * room.per_hour))
