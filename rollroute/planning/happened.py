"""What has happened of a plan by a moment, and the problem that is left: the past is held, the rest is open.

A party is *done* (inside), *rolling* (set off, or its escorts have), *aboard*, *committed* (on the way to a loading zone) or *free*.
Done keeps everything. Rolling does too, until that way leads nowhere any more: then it may be turned at the next place on it (``turned``).
Aboard keeps van and loading, the shelter may still change; whoever is aboard and can be taken nowhere stays aboard with the chair
(``carried``), and the van has so much less room. Committed may wait for another van,
unless people walk along who have left too, and the van can still be there: then van and loading are kept.
A van that is driving is no sooner anywhere than by going on to where it was going, or by turning back the way it came.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

from rollroute.errors import InputError
from rollroute.planning.earlier_plan import Clock, line_of, schedule_of
from rollroute.planning.past import NOTHING_YET, SET_OFF, Past, Stuck, VanState
from rollroute.planning.plan import Plan, RiderPlan, Stop
from rollroute.planning.problem import NEVER, Dropoff, Leg, Party, Pickup, Problem, Roll, Schedule, VanRoom


def hold(problem: Problem, plan: Plan, nodes: Sequence[str], start: dt.datetime, now: int, *, stuck: Stuck | None = None) -> Past:
    """``problem`` with everything that ``plan`` has made happen by minute ``now`` held.

    Raises
    ------
    InputError
        If the plan began at another time, or a van or shelter that people have used is gone from the tables.
    """
    if dt.datetime.fromisoformat(str(plan.move.get("start", start.isoformat()))) != start:
        raise InputError(f"the earlier plan starts {plan.move['start']}, the move {start.isoformat()}. Leave the start, and give --now.")
    clock = Clock(start)
    stuck = stuck or Stuck()
    lines = tuple(line_of(plan, party) for party in problem.parties)
    states = [
        "lost" if stuck.lost & set(party.riders) else "free" if line is None else _state(plan, line, clock, now)
        for line, party in zip(lines, problem.parties, strict=True)
    ]
    for u, (line, state) in enumerate(zip(lines, states, strict=True)):
        if state == "rolling" and line is not None and clock.minute(line.leave) > now and not _escorts_come(problem, plan, line, clock):
            states[u] = "free"  # somebody is on the way to them, but not all who are needed
    _check_tables(problem, lines, states)
    return _Holder(problem, plan, list(nodes), clock, now, lines, states, stuck).past()


def _state(plan: Plan, line: RiderPlan, clock: Clock, now: int) -> str:
    if line.way is None or line.leave is None:
        return "free"
    if clock.minute(line.arrive) <= now:
        return "done"
    called = [clock.minute(j.leave) for e in plan.escorts for j in e.jobs if line.id in j.riders]
    has_left = min([clock.minute(line.leave), *called]) <= now
    if line.way == "roll":
        return "rolling" if has_left else "free"
    if clock.minute(line.load) <= now:
        return "aboard"
    return "committed" if has_left else "free"


def _escorts_come(problem: Problem, plan: Plan, line: RiderPlan, clock: Clock) -> bool:
    """Whether everybody who is to walk along still has the hours for it."""
    ends = {e.id: e.ends for e in problem.escorts}
    jobs = {e.id: j for e in plan.escorts for j in e.jobs if line.id in j.riders}
    return all(e in jobs and clock.minute(jobs[e].back) <= ends.get(e, NOTHING_YET) for e in line.escorts)


def _check_tables(problem: Problem, lines: Sequence[RiderPlan | None], states: Sequence[str]) -> None:
    shelters, vans = {s.name for s in problem.shelters}, {v.id for v in problem.vans}
    for line, state in zip(lines, states, strict=True):
        if line is None or state not in SET_OFF:
            continue
        if line.shelter not in shelters:
            raise InputError(f"{line.id} is at or on the way to {line.shelter}, gone from the shelters. Leave its row, set 0 places.")
        if line.van is not None and line.van not in vans:
            raise InputError(f"van {line.van} has loaded {line.id} and is gone from the vans. Leave its row and end its hours.")


class _Holder:
    """The parts of a held problem as they are made."""

    def __init__(
        self,
        problem: Problem,
        plan: Plan,
        nodes: list[str],
        clock: Clock,
        now: int,
        lines: Sequence[RiderPlan | None],
        states: Sequence[str],
        stuck: Stuck,
    ) -> None:
        self.stuck = stuck
        self.problem, self.plan, self.nodes, self.clock, self.now = problem, plan, nodes, clock, now
        self.lines, self.states = tuple(lines), tuple(states)
        self.stops = [next((v.stops for v in plan.vans if v.id == van.id), ()) for van in problem.vans]
        self.begun = [[s for s in stops if clock.minute(s.start) <= now and s.node in self.nodes] for stops in self.stops]
        self.rolls: list[Roll] = []
        self.met: set[int] = set()
        self.pickups: dict[tuple[int, int], Pickup] = {}
        self.dropoffs: dict[tuple[int, int, int], Dropoff] = {}

    def past(self) -> Past:
        """The held problem and the earlier schedule on it."""
        self.base = self._less_room(self._with_history())
        self.vans = [self._van_state(k) for k in range(len(self.base.vans))]
        makers = {"free": self._open, "committed": self._open, "rolling": self._rolling, "done": self._done, "aboard": self._aboard}
        for u, state in enumerate(self.states):
            if state != "lost" and not self._is_being_met(u):
                makers[state](u)
        held = replace(
            self.base,
            parties=tuple(self._party(u) for u in range(len(self.states))),
            rolls=tuple(self.rolls),
            pickups=self.pickups,
            dropoffs=self.dropoffs,
            escorts=tuple(replace(e, starts=max(e.starts, self.now, self._back(e.id))) for e in self.base.escorts),
        )
        schedule = schedule_of(self.plan, held, self.clock.start)
        legs = tuple(self._without_escorts(u, leg) for u, leg in enumerate(schedule.legs))
        escorts = {u: leg.escorts for u, leg in enumerate(schedule.legs) if leg is not None and u in self._held()}
        schedule = Schedule(legs=legs, tours=schedule.tours)
        told = tuple(
            NEVER if x is None else self.clock.minute(x.load if s == "committed" else x.leave)
            for x, s in zip(self.lines, self.states, strict=True)
        )
        return Past(
            now=self.now,
            states=self.states,
            lines=self.lines,
            schedule=schedule,
            problem=held,
            vans=tuple(self.vans),
            told=told,
            escorts=escorts,
        )

    def _held(self) -> set[int]:
        return {u for u, s in enumerate(self.states) if s in SET_OFF} | self.met

    def _is_being_met(self, u: int) -> bool:
        """Keep van and loading of a party that people are walking to the van with; false where that van can't be there."""
        line = self.lines[u]
        if self.states[u] != "committed" or line is None or not line.escorts:
            return False
        if not _escorts_come(self.problem, self.plan, line, self.clock):
            return False
        k = next((k for k, v in enumerate(self.problem.vans) if v.id == line.van), -1)
        pickup, load = self.problem.pickups.get((u, k)), self.clock.minute(line.load)
        if pickup is None or pickup.zone != line.pickup or self.vans[k].first_at(self.base, pickup.node, self.now) > load:
            return False
        self.met.add(u)
        self.pickups[u, k] = replace(pickup, roll=load - self.clock.minute(line.leave), escorts=0, load_from=load, load_by=load)
        self.dropoffs |= {key: d for key, d in self.problem.dropoffs.items() if key[:2] == (u, k)}
        return True

    def _without_escorts(self, u: int, leg: Leg | None) -> Leg | None:
        """Escorts of what is held are busy already: the held problem does not ask for them again."""
        return leg if leg is None or u not in self._held() else replace(leg, escorts=())

    def _back(self, escort_id: str) -> int:
        """When an escort is back from the jobs that have begun, or from a walk to somebody who is now to be fetched otherwise."""
        held = {i for u in self._held() for i in self.problem.parties[u].riders}
        moments = [NOTHING_YET]
        for job in (j for e in self.plan.escorts if e.id == escort_id for j in e.jobs):
            leave = self.clock.minute(job.leave)
            if held & set(job.riders):
                moments += [self.clock.minute(job.back), *self._back_if_turned(escort_id, job.riders)]
            elif leave <= self.now:
                moments.append(self.now + min(self.now, self.clock.minute(job.meet)) - leave)
        return max(moments)

    def _back_if_turned(self, escort_id: str, riders: Sequence[str]) -> list[int]:
        """When an escort is back who has to walk on with somebody who is turned, wherever that is."""
        escort = next((e for e in self.problem.escorts if e.id == escort_id), None)
        rolls = [r for r in self.rolls if self.problem.parties[r.party].riders[0] in riders and self._goals(r.party, r)]
        return [] if escort is None else [r.first_departure + r.minutes + escort.back[r.shelter] for r in rolls]

    def _with_history(self) -> Problem:
        """Drives and hours as they were for what has been driven, whatever is known now."""
        problem = self.problem
        shorter: dict[tuple[int, int], int] = {}
        vans = list(problem.vans)
        for k, begun in enumerate(self.begun):
            if not begun:
                continue
            first, last = begun[0], begun[-1]
            starts = min(vans[k].starts, self.clock.minute(first.arrive) - first.drive_min)
            vans[k] = replace(vans[k], starts=starts, ends=max(vans[k].ends, self.clock.minute(last.end)))
            node, minute = vans[k].node, starts
            for stop in begun:
                to, driven = self.nodes.index(stop.node), self.clock.minute(stop.arrive) - minute
                if problem.drive_min(node, to, minute) > driven:
                    shorter[node, to] = min(driven, shorter.get((node, to), NEVER))
                node, minute = to, self.clock.minute(stop.end)
        return _with_phase(replace(problem, vans=tuple(vans)), shorter, self.now) if shorter else replace(problem, vans=tuple(vans))

    def _less_room(self, problem: Problem) -> Problem:
        """What is left of the vans beside those who can be taken nowhere."""
        vans = list(problem.vans)
        for u, party in enumerate(problem.parties):
            for k, van in enumerate(vans):
                if self.stuck.carried.get(party.riders[0]) == van.id:
                    pickup = problem.pickups.get((u, k))
                    positions, seats = (van.positions, van.seats) if pickup is None else (pickup.positions, pickup.seats)
                    vans[k] = replace(van, positions=max(0, van.positions - positions), seats=max(0, van.seats - seats))
        return replace(problem, vans=tuple(vans))

    def _van_state(self, k: int) -> VanState:
        van: VanRoom = self.base.vans[k]
        begun, stops = self.begun[k], self.stops[k]
        node, free = (self.nodes.index(begun[-1].node), self.clock.minute(begun[-1].end)) if begun else (van.node, van.starts)
        following = next((s for s in stops[len(begun) :] if s.node in self.nodes), None)
        free = max(free, self.problem.vans[k].starts)
        if following is None or free > self.now:
            return VanState(node, free, None, free)
        heading = self.nodes.index(following.node)
        reaches = max(self.clock.minute(following.arrive), free + self.base.drive_min(node, heading, free))
        return VanState(node, free, heading, reaches)

    # Ways that are left to each party

    def _open(self, u: int) -> None:
        """Every way, from now on; whoever is out at a loading zone has to come back first for any other."""
        line, detour, zone = self.lines[u], 0, None
        if self.states[u] == "committed" and line is not None:
            detour, zone = self.clock.minute(line.load) - self.clock.minute(line.leave), line.pickup
        for roll in self.problem.rolls:
            first = max(roll.first_departure, self.now + detour)
            if roll.party == u and first <= roll.last_departure:
                self.rolls.append(replace(roll, first_departure=first))
        for (v, k), pickup in self.problem.pickups.items():
            if v != u:
                continue
            out = self.now if zone is not None and pickup.zone == zone else self.now + detour + pickup.roll
            first = max(out, self.vans[k].first_at(self.base, pickup.node, self.now))
            if first < NEVER:
                self.pickups[u, k] = replace(pickup, load_from=max(0, first))
                self.dropoffs |= {key: d for key, d in self.problem.dropoffs.items() if key[:2] == (u, k)}

    def _rolling(self, u: int) -> None:
        line, j = self.lines[u], self._shelter(u)
        assert line is not None
        leave = self.clock.minute(line.leave)
        ways = [r for r in self.problem.rolls if (r.party, r.shelter) == (u, j) and leave <= r.last_departure]
        goals = [self._goals(u, r) for r in self.problem.rolls if r.party == u and r.shelter != j]
        for way in (*ways[:1], *(r for some in goals for r in some)):
            self.rolls.append(replace(way, escorts=0, first_departure=leave, last_departure=leave))

    def _goals(self, u: int, roll: Roll) -> list[Roll]:
        """The roll, where everybody of a party who is under way may be turned to its shelter."""
        name = self.problem.shelters[roll.shelter].name
        return [roll] if all((i, name) in self.stuck.turned for i in self.problem.parties[u].riders) else []

    def _done(self, u: int) -> None:
        line, j = self.lines[u], self._shelter(u)
        assert line is not None
        leave, arrive = self.clock.minute(line.leave), self.clock.minute(line.arrive)
        if line.way == "roll":
            known = [r for r in self.problem.rolls if (r.party, r.shelter) == (u, j)]
            plain = Roll(
                party=u, shelter=j, minutes=0, escorts=0, first_departure=0, last_departure=0, leave_area=0, charge_short=0, doubt=0
            )  # fmt: skip
            roll = known[0] if known else plain
            took = arrive - leave
            out = min(roll.leave_area, took)
            self.rolls.append(replace(roll, escorts=0, first_departure=leave, last_departure=leave, minutes=took, leave_area=out))
            return
        k, load, unload = self._ride(u)
        pickup = self._loaded(u, k, load)
        ended = self.clock.minute(unload.end)
        self.pickups[u, k] = replace(pickup, unload=ended - self.clock.minute(unload.start))
        known_drop = self.problem.dropoffs.get((u, k, j), Dropoff(node=0, roll=0, zone=unload.place))
        self.dropoffs[u, k, j] = replace(
            known_drop, node=self.nodes.index(unload.node), roll=arrive - ended, inside_from=arrive, inside_by=arrive
        )  # fmt: skip

    def _aboard(self, u: int) -> None:
        j, (k, load, unload) = self._shelter(u), self._ride(u)
        if (u, k) not in self.problem.pickups:
            return
        pickup = self._loaded(u, k, load)
        has_begun = self.clock.minute(unload.start) <= self.now
        for key, dropoff in self.problem.dropoffs.items():
            if key[:2] != (u, k) or (has_begun and key[2] != j):
                continue
            start = self.clock.minute(unload.start) if has_begun else self.vans[k].first_at(self.base, dropoff.node, self.now)
            inside = min(NEVER, start + pickup.unload + dropoff.roll)
            if inside < NEVER:
                self.pickups[u, k] = pickup
                self.dropoffs[key] = replace(dropoff, inside_from=inside, inside_by=inside if has_begun else NEVER)

    def _loaded(self, u: int, k: int, load: Stop) -> Pickup:
        """The loading as it was."""
        line = self.lines[u]
        assert line is not None
        start, end = self.clock.minute(load.start), self.clock.minute(load.end)
        plain = Pickup(
            node=0, roll=0, positions=0, seats=0, load=0, unload=0, exit=0, zone=load.place, needs_stair_crew=line.way == "apart"
        )
        pickup = self.problem.pickups.get((u, k), plain)
        node, roll = self.nodes.index(load.node), start - self.clock.minute(line.leave)
        if self.states[u] == "done" and line.van in self.stuck.carried.values():
            pickup = replace(pickup, positions=0, seats=0)  # long gone; what room the van has now is no matter
        return replace(pickup, node=node, roll=roll, load=end - start, escorts=0, load_from=start, load_by=start)

    def _ride(self, u: int) -> tuple[int, Stop, Stop]:
        line, rider = self.lines[u], self.problem.parties[u].riders[0]
        assert line is not None
        k = next(k for k, v in enumerate(self.problem.vans) if v.id == line.van)
        load, unload = (next(s for s in self.stops[k] if s.kind == kind and rider in s.riders) for kind in ("load", "unload"))
        return k, load, unload

    def _shelter(self, u: int) -> int:
        line = self.lines[u]
        return next(j for j, s in enumerate(self.problem.shelters) if line is not None and s.name == line.shelter)

    def _party(self, u: int) -> Party:
        """Limits of whoever is inside already are met or missed: they do not put anybody out again."""
        party, line = self.problem.parties[u], self.lines[u]
        if self.states[u] != "done" or line is None:
            return party
        arrive, out = self.clock.minute(line.arrive), min(self.clock.minute(line.arrive), self.clock.minute(line.out))
        return replace(
            party,
            ready=min(party.ready, self.clock.minute(line.leave)),
            socket_by=party.socket_by if arrive <= party.socket_by else NEVER,
            arrive_by=party.arrive_by if arrive <= party.arrive_by else NEVER,
            close=party.close if out <= party.close else NEVER,
        )


def _with_phase(problem: Problem, shorter: Mapping[tuple[int, int], int], until: int) -> Problem:
    """A first phase that ends ``until``, with the drives that took less than is planned now."""
    import numpy as np

    past = problem.drive[0].copy()
    for (a, b), minutes in shorter.items():
        past[a, b] = minutes
    ends = np.concatenate([np.array([until], dtype=np.int64), problem.phase_ends])
    return replace(problem, drive=np.concatenate([past[None], problem.drive]), phase_ends=ends)
