"""A plan in the making: parties are put in and taken out, and every rule holds after each step."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from rollroute.planning import round_kernel as kernel
from rollroute.planning.objective import INTAKE_WINDOW_MIN, outlet_points, outlet_room
from rollroute.planning.problem import NEVER, Leg, Problem, RideLeg, RollLeg, Schedule

Tour = list[tuple[int, bool]]
Job = tuple[int, int]  # from, to


@dataclass
class Draft:
    """Legs, rounds and calendars. ``arrivals[j]``: party -> minute inside; ``jobs[e]``: party -> (leaves, is back)."""

    problem: Problem
    legs: list[Leg | None] = field(init=False)
    tours: list[Tour] = field(init=False)
    arrivals: list[dict[int, int]] = field(init=False)
    jobs: list[dict[int, Job]] = field(init=False)
    tables: list[kernel.Ints] = field(init=False)
    vans: list[kernel.Ints] = field(init=False)
    costs: list[float] = field(init=False)

    def __post_init__(self) -> None:
        problem = self.problem
        self.legs = [None] * len(problem.parties)
        self.tours = [[] for _ in problem.vans]
        self.arrivals = [{} for _ in problem.shelters]
        self.jobs = [{} for _ in problem.escorts]
        self.tables = [_van_table(problem, k) for k in range(len(problem.vans))]
        self.vans = [np.array([v.node, v.starts, v.ends, v.positions, v.seats], dtype=np.int64) for v in problem.vans]
        self.costs = [0.0] * len(problem.vans)

    def schedule(self) -> Schedule:
        """The draft as a schedule."""
        return Schedule(legs=tuple(self.legs), tours=tuple(tuple(t) for t in self.tours))

    def copy_from(self, other: Draft) -> None:
        """Take over all of ``other``."""
        self.legs, self.tours, self.costs = list(other.legs), [list(t) for t in other.tours], list(other.costs)
        self.arrivals, self.jobs = [dict(a) for a in other.arrivals], [dict(j) for j in other.jobs]
        for own, theirs in zip(self.tables, other.tables, strict=True):
            own[:] = theirs

    # Room at shelters

    def has_room(self, u: int, j: int) -> bool:
        """Whether shelter ``j`` has places and sockets left for party ``u``."""
        party, room = self.problem.parties[u], self.problem.shelters[j]
        inside = [self.problem.parties[v] for v in self.arrivals[j] if v != u]
        has_places = sum(p.size for p in inside) + party.size <= room.places
        return has_places and sum(p.n_sockets for p in inside) + party.n_sockets <= room.sockets and party.size <= room.per_hour

    def first_intake(self, u: int, j: int, minute: int) -> int:
        """The first minute from ``minute`` on at which shelter ``j`` can take party ``u`` in."""
        parties, room = self.problem.parties, self.problem.shelters[j]
        others = sorted((t, parties[v].size) for v, t in self.arrivals[j].items() if v != u)
        minute = max(minute, room.opens)
        while True:
            worst = _crowded_until(others, minute, room.per_hour - parties[u].size)
            if worst <= minute:
                return minute
            minute = worst

    def outlet_increase(self, u: int, j: int) -> int:
        """Points of outlet hours that shelter ``j`` would lack more with party ``u``."""
        room = outlet_room(self.problem, j)
        used = sum(outlet_points(self.problem, v) for v in self.arrivals[j] if v != u)
        return max(0, used + outlet_points(self.problem, u) - room) - max(0, used - room)

    # People who walk along

    def free_escorts(self, u: int, number: int, first: int, last: int, back: list[int], *, is_stairs: bool = False) -> list[int] | None:
        """``number`` escorts who can meet party ``u`` at ``first``, stay to ``last`` and get back, or ``None``; nearest first."""
        if number == 0:
            return []
        found = []
        for e, escort in enumerate(self.problem.escorts):
            leaves, returns = first - escort.approach[u], last + back[e]
            is_free = all(returns <= a or b <= leaves for v, (a, b) in self.jobs[e].items() if v != u)
            if is_free and leaves >= escort.starts and returns <= escort.ends and (escort.is_stair_trained or not is_stairs):
                found.append((escort.approach[u] + back[e], e))
        found.sort()
        return [e for _, e in found[:number]] if len(found) >= number else None

    def _book(self, u: int, escorts: list[int], first: int, last: int, back: list[int]) -> None:
        for calendar in self.jobs:
            calendar.pop(u, None)
        for e in escorts:
            self.jobs[e][u] = (first - self.problem.escorts[e].approach[u], last + back[e])

    # Putting in and taking out

    def remove(self, u: int) -> None:
        """Take party ``u`` out; the round it was on is played again, which only makes the others earlier."""
        leg = self.legs[u]
        self.legs[u] = None
        self._forget(u)
        if isinstance(leg, RideLeg):
            self.tours[leg.van] = [s for s in self.tours[leg.van] if s[0] != u]
            if not self.settle(leg.van):  # earlier arrivals can meet a full intake hour: start this round afresh
                self._empty_round(leg.van)

    def _forget(self, u: int) -> None:
        for arrivals in self.arrivals:
            arrivals.pop(u, None)
        for jobs in self.jobs:
            jobs.pop(u, None)

    def _empty_round(self, k: int) -> None:
        for v in {v for v, _ in self.tours[k]}:
            self.legs[v] = None
            self._forget(v)
        self.tours[k], self.costs[k] = [], 0.0

    def put_roll(self, r: int) -> bool:
        """Let a party roll by option ``r`` as early as escorts and intake allow."""
        roll = self.problem.rolls[r]
        u, j = roll.party, roll.shelter
        if not self.has_room(u, j):
            return False
        back = [e.back[j] for e in self.problem.escorts]
        for depart in self._departures(roll.first_departure, u):
            inside = self.first_intake(u, j, depart + roll.minutes)
            depart = inside - roll.minutes
            if depart > roll.last_departure or not self._inside_in_time(u, j, inside):
                continue
            escorts = self.free_escorts(u, roll.escorts, depart, inside, back)
            if escorts is not None:
                self.legs[u] = RollLeg(roll=r, depart=depart, escorts=tuple(sorted(escorts)))
                self.arrivals[j][u] = inside
                self._book(u, escorts, depart, inside, back)
                return True
        return False

    def _departures(self, first: int, u: int) -> list[int]:
        """The first moment, and every moment at which an escort can be there after another job."""
        moments = {first}
        for e, calendar in enumerate(self.jobs):
            escort = self.problem.escorts[e]
            moments |= {b + escort.approach[u] for b in (*(b for _, b in calendar.values()), escort.starts)}
        return sorted(m for m in moments if m >= first)

    def _inside_in_time(self, u: int, j: int, inside: int) -> bool:
        party = self.problem.parties[u]
        return inside <= min(party.arrive_by, party.socket_by, self.problem.shelters[j].closes, self.problem.horizon)

    def choose_shelter(self, u: int, k: int, j: int) -> None:
        """Set party ``u``'s shelter in van ``k``'s table."""
        party, room, dropoff = self.problem.parties[u], self.problem.shelters[j], self.problem.dropoffs[u, k, j]
        row = self.tables[k][u]
        row[kernel.DROP], row[kernel.ROLL_IN], row[kernel.OPENS] = dropoff.node, dropoff.roll, max(room.opens, dropoff.inside_from)
        row[kernel.INSIDE_BY] = min(party.arrive_by, party.socket_by, room.closes, self.problem.horizon, dropoff.inside_by)

    def best_ride(self, u: int, k: int, j: int) -> tuple[float, int, int]:
        """(increase of the guiding cost, position of loading, of unloading) for party ``u`` in van ``k`` to shelter ``j``."""
        self.choose_shelter(u, k, j)
        units, kinds = kernel.as_arrays(self.tours[k])
        problem = self.problem
        cost, i, at = kernel.best_insertion(
            units, kinds, len(units), u, self.tables[k], self.vans[k], problem.drive, problem.phase_ends, problem.comfort
        )
        return cost - self.costs[k], int(i), int(at)

    def put_ride(self, u: int, k: int, j: int, i: int, at: int) -> bool:
        """Put party ``u`` into van ``k``'s round; nothing changes where intake or helpers refuse it."""
        kept_tour, kept = list(self.tours[k]), self._kept(k)
        self.choose_shelter(u, k, j)
        tour = [*kept_tour[:i], (u, True), *kept_tour[i:at], (u, False), *kept_tour[at:]]
        self.tours[k] = tour
        self.legs[u] = RideLeg(van=k, shelter=j, load=0, unload=0)
        if self.settle(k):
            return True
        self.tours[k] = kept_tour
        self.legs[u] = None
        self._restore(kept, u)
        return False

    def _kept(self, k: int) -> tuple[list[Leg | None], list[dict[int, int]], list[dict[int, Job]], float]:
        return list(self.legs), [dict(a) for a in self.arrivals], [dict(j) for j in self.jobs], self.costs[k]

    def _restore(self, kept: tuple[list[Leg | None], list[dict[int, int]], list[dict[int, Job]], float], u: int) -> None:
        self.legs, self.arrivals, self.jobs = kept[0], kept[1], kept[2]
        self.legs[u] = None

    def settle(self, k: int) -> bool:
        """Play van ``k``'s round as early as possible with intake and helpers; false where a rule breaks."""
        problem, table, van = self.problem, self.tables[k], self.vans[k]
        units, kinds = kernel.as_arrays(self.tours[k])
        starts = np.empty(len(units), dtype=np.int64)
        cost = kernel.play_round(units, kinds, len(units), table, van, problem.drive, problem.phase_ends, problem.comfort, starts)
        if not np.isfinite(cost):
            return False
        self.costs[k] = float(cost)
        return _Replay(self, k).run()


def _crowded_until(others: list[tuple[int, int]], minute: int, room: int) -> int:
    """``minute`` if one more fits into every hour round it, else the next minute worth trying."""
    if room < 0:
        return NEVER
    later = [t for t, _ in others if minute < t < minute + INTAKE_WINDOW_MIN]
    for moment in (minute, *later):
        inside = [(t, size) for t, size in others if moment - INTAKE_WINDOW_MIN < t <= moment]
        if sum(size for _, size in inside) > room:
            return inside[0][0] + INTAKE_WINDOW_MIN if moment == minute else moment + 1
    return minute


def _van_table(problem: Problem, k: int) -> kernel.Ints:
    table = np.zeros((len(problem.parties), kernel.N_COLUMNS), dtype=np.int64)
    for u, party in enumerate(problem.parties):
        pickup = problem.pickups.get((u, k))
        if pickup is None:
            continue
        row = table[u]
        row[kernel.PICK], row[kernel.LOAD], row[kernel.UNLOAD] = pickup.node, pickup.load, pickup.unload
        row[kernel.POSITIONS], row[kernel.SEATS], row[kernel.EXIT] = pickup.positions, pickup.seats, pickup.exit
        row[kernel.EARLIEST], row[kernel.RIDE] = max(party.ready + pickup.roll, pickup.load_from), problem.ride_limit[u]
        row[kernel.LOAD_BY] = pickup.load_by
        row[kernel.AREA], row[kernel.CLOSE], row[kernel.DUE], row[kernel.SIZE] = party.area, party.close, party.due, party.size
        row[kernel.ARRIVE_BY], row[kernel.SOCKET_BY] = party.arrive_by, party.socket_by
    return table


class _Replay:
    """One round played again in the calendars of a draft: waits for intake, books helpers."""

    def __init__(self, draft: Draft, k: int) -> None:
        self.draft, self.k = draft, k
        self.table = draft.tables[k]

    def run(self) -> bool:
        """Whether the round holds; the draft's legs, arrivals and jobs are those of the round."""
        draft, k, problem = self.draft, self.k, self.draft.problem
        for u, _ in draft.tours[k]:
            draft._forget(u)
        node, minute = problem.vans[k].node, problem.vans[k].starts
        load: dict[int, int] = {}
        for u, is_pickup in draft.tours[k]:
            following = int(self.table[u, kernel.PICK if is_pickup else kernel.DROP])
            minutes = problem.drive_min(node, following, minute)
            if minutes >= NEVER:
                return False
            node, minute = following, minute + minutes
            if is_pickup:
                began = self._load(u, minute)
                if began is None:
                    return False
                load[u] = began
                minute = began + int(self.table[u, kernel.LOAD])
            else:
                ended = self._unload(u, minute, load[u])
                if ended is None:
                    return False
                minute = ended
        return self._is_out_in_time()

    def _load(self, u: int, minute: int) -> int | None:
        draft, pickup = self.draft, self.draft.problem.pickups[u, self.k]
        start, last = max(minute, int(self.table[u, kernel.EARLIEST])), int(self.table[u, kernel.LOAD_BY])
        if start > last:
            return None
        if pickup.escorts:
            back = [e.approach[u] for e in draft.problem.escorts]
            moments = [start, *(m + pickup.roll for m in draft._departures(start - pickup.roll, u))]
            for moment in sorted(m for m in moments if start <= m <= last):
                helpers = draft.free_escorts(
                    u, pickup.escorts, moment - pickup.roll, moment + pickup.load, back, is_stairs=pickup.needs_stair_crew
                )
                if helpers is not None:
                    draft._book(u, helpers, moment - pickup.roll, moment + pickup.load, back)
                    return moment
            return None
        return start

    def _unload(self, u: int, minute: int, load: int) -> int | None:
        """End of unloading, once the shelter can take the party in."""
        draft, leg, table = self.draft, self.draft.legs[u], self.table
        assert isinstance(leg, RideLeg)
        work, way_in = int(table[u, kernel.UNLOAD]), int(table[u, kernel.ROLL_IN])
        if not draft.has_room(u, leg.shelter):
            return None
        inside = draft.first_intake(u, leg.shelter, max(minute + work + way_in, int(table[u, kernel.OPENS])))
        ended = inside - way_in
        loaded = load + int(table[u, kernel.LOAD])
        if ended > draft.vans[self.k][2] or inside > table[u, kernel.INSIDE_BY] or ended - loaded > table[u, kernel.RIDE]:
            return None
        helpers = tuple(e for e, calendar in enumerate(draft.jobs) if u in calendar)
        draft.legs[u] = RideLeg(van=self.k, shelter=leg.shelter, load=load, unload=ended - work, escorts=helpers)
        draft.arrivals[leg.shelter][u] = inside
        return ended

    def _is_out_in_time(self) -> bool:
        draft, tour = self.draft, self.draft.tours[self.k]
        out = 0
        for number in range(len(tour) - 1, -1, -1):
            u, is_pickup = tour[number]
            leg = draft.legs[u]
            if not is_pickup or not isinstance(leg, RideLeg):
                continue
            own = leg.load + int(self.table[u, kernel.LOAD] + self.table[u, kernel.EXIT])
            is_chain = number + 1 < len(tour) and tour[number + 1][1] and self.table[u, kernel.AREA] >= 0
            is_chain = is_chain and self.table[tour[number + 1][0], kernel.AREA] == self.table[u, kernel.AREA]
            out = max(own, out) if is_chain else own
            if out > self.table[u, kernel.CLOSE]:
                return False
        return True
