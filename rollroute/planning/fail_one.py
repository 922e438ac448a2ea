"""N-1: each unverified place on each rolled way, and each van at each moment of its round, failing alone: who is left, and why.

``fail_one(plan, move, travel) -> FailOne``; ``fail_one_lines(result)`` says it in words, ``fail_one_document(result)`` is plain data for
``plan.extra["fail_one"]``.

- A place that turns out bad: the rider goes back. Saved where the start stays open, or the refuge that the way-back rule promises is a
  shelter that is open then; else where a van still has time to fetch them at their loading zone. The place is taken to be found bad at the
  far end of the way: whoever is saved then is saved when it is found sooner, since the van could wait as long.
- A van fails before it starts, and after each of its stops: whoever is aboard is at that stop (the lift still lets them out: assumption),
  whoever waits for it is at home; the other vans are where they are then. Saved where everybody can still be served, all others included.

In a plan made anew only what is still to come can fail.
Left means: no way is found that keeps every hard limit; where the exact solver fits, that is proven.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from rollroute.inputs.move_folder import Move
from rollroute.planning.draft import Draft
from rollroute.planning.earlier_plan import Clock, news_of, put_back
from rollroute.planning.exact import Judge, minimise_in_order
from rollroute.planning.exact_model import build_model
from rollroute.planning.happened import hold
from rollroute.planning.make_plan import needs_of
from rollroute.planning.objective import N_SERVICE_TIERS, TIER_NAMES, tiers
from rollroute.planning.options import build_problem
from rollroute.planning.past import NOTHING_YET, Past, Stuck
from rollroute.planning.plan import Plan, RiderPlan, Stop
from rollroute.planning.problem import NEVER, Problem, RideLeg, Schedule
from rollroute.planning.search_schedule import search_schedule
from rollroute.planning.travel import TravelTable

ROUNDS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """A rider whom the failure meets, and what then."""

    rider: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One thing failing alone. ``kind``: place or van; ``moment``: clock time in ISO 8601, ``None`` before the start."""

    kind: str
    name: str
    moment: str | None
    saved: tuple[Saved, ...]
    left: tuple[Saved, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FailOne:
    """Every single failure that was looked at."""

    failures: tuple[Failure, ...]

    @property
    def left(self) -> tuple[str, ...]:
        """Riders whom some single failure leaves, in the order in which they were found."""
        return tuple(dict.fromkeys(s.rider for f in self.failures for s in f.left))


def fail_one(plan: Plan, move: Move, travel: TravelTable, *, progress: Callable[[str], None] | None = None) -> FailOne:
    """Let every unverified place and every van fail alone."""
    needs, _ = needs_of(move)
    checker = _Checker(plan, move, travel, build_problem(move, needs, travel))
    rolled = [r for r in plan.riders if r.way == "roll" and r.unverified and checker.clock.minute(r.arrive) > checker.now]
    found: list[Failure] = []
    for number, line in enumerate(rolled):
        if progress is not None:
            progress(f"one place failing {number}/{len(rolled)}")
        found += checker.places(line)
    moments = [(v.id, n) for v in plan.vans for n, s in enumerate(v.stops) if checker.clock.minute(s.start) > checker.now]
    for number, (van_id, n) in enumerate(moments):
        if progress is not None:
            progress(f"one van failing {number}/{len(moments)}")
        found.append(checker.van(van_id, n))
    return FailOne(failures=tuple(found))


def fail_one_document(result: FailOne) -> dict[str, Any]:
    """The result as plain JSON data."""
    return {"left": list(result.left), "failures": [asdict(f) for f in result.failures]}


def fail_one_lines(result: FailOne) -> list[str]:
    """In words: nobody is left, or who and why."""
    places = sum(f.kind == "place" for f in result.failures)
    vans = len({f.name for f in result.failures if f.kind == "van"})
    looked = f"{_count(places, 'unverified place')} and {_count(vans, 'van')}, each failing alone"
    if not result.left:
        return [f"One thing failing: {looked}: 0 riders without an open refuge or a van that has time to fetch them."]
    lines = [f"One thing failing: {looked}: {_count(len(result.left), 'rider')} can be left: {', '.join(result.left)}."]
    said: dict[tuple[str, str, str], list[str]] = {}
    for failure in result.failures:
        when = "before it starts" if failure.moment is None else f"at {failure.moment[11:16]}"
        for s in failure.left:
            said.setdefault((failure.kind, failure.name, f"{s.rider}: {s.how}"), []).append(when)
    for (kind, name, words), moments in said.items():
        at = f" fails {', '.join(dict.fromkeys(moments))}" if kind == "van" else " turns out bad"
        lines.append(f"  {kind} {name}{at}: {words}")
    return lines


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


class _Checker:
    """One plan and its problem; every failure is looked at from the plan as it is."""

    def __init__(self, plan: Plan, move: Move, travel: TravelTable, problem: Problem) -> None:
        self.plan, self.move, self.travel, self.problem = plan, move, travel, problem
        self.clock = Clock(move.start)
        self.party = {i: u for u, p in enumerate(problem.parties) for i in p.riders}
        changes = news_of(plan)
        self.now = self.clock.minute(changes["now"]) if changes.get("now") else NOTHING_YET
        self.lost = frozenset(changes.get("stuck") or ())

    def _at(self, minute: int) -> str | None:
        return None if minute < 0 else (self.move.start + dt.timedelta(minutes=minute)).isoformat(timespec="minutes")

    def _hold(self, now: int) -> Past:
        return hold(self.problem, self.plan, self.travel.nodes, self.move.start, max(now, self.now), stuck=Stuck(lost=self.lost))

    # Places

    def places(self, line: RiderPlan) -> list[Failure]:
        """Every unverified place on one rider's way; what happens then is the same for all of them."""
        refuge = self._refuge(line)
        leave, took = self.clock.minute(line.leave), self.clock.minute(line.arrive) - self.clock.minute(line.leave)
        saved, left = ((Saved(rider=line.id, how=refuge),), ()) if refuge else self._fetched(line, leave, took)
        return [Failure(kind="place", name=name, moment=line.arrive, saved=saved, left=left) for name in line.unverified]

    def _refuge(self, line: RiderPlan) -> str | None:
        """Where the rider can stay after coming back, in words."""
        u = self.party[line.id]
        if self.problem.parties[u].close >= NEVER:
            return "turns back to the start, which stays open"
        room = next((s for s in self.problem.shelters if s.name == line.retreat), None)
        if room is not None and room.places and room.opens <= self.clock.minute(line.leave):
            return f"turns back to {room.name}, which is open"
        return None

    def _fetched(self, line: RiderPlan, leave: int, took: int) -> tuple[tuple[Saved, ...], tuple[Saved, ...]]:
        """A van at the rider's loading zone, once the rider is back."""
        u, back = self.party[line.id], leave + 2 * took
        past = self._hold(leave + took - 1)
        pickups = dict(past.problem.pickups)
        dropoffs = dict(past.problem.dropoffs)
        for (v, k), pickup in self.problem.pickups.items():
            if v == u:
                first = max(back + pickup.roll, past.vans[k].first_at(past.problem, pickup.node, past.now))
                pickups[u, k] = replace(pickup, load_from=min(first, NEVER))
                dropoffs |= {key: d for key, d in self.problem.dropoffs.items() if key[:2] == (u, k)}
        walkers = set(line.escorts)
        escorts = tuple(
            replace(e, starts=max(e.starts, back + e.approach[u])) if e.id in walkers else e for e in past.problem.escorts
        )  # fmt: skip
        rolls = tuple(r for r in past.problem.rolls if r.party != u)
        problem = replace(past.problem, rolls=rolls, pickups=pickups, dropoffs=dropoffs, escorts=escorts)
        return self._outcome(past, problem, {u})

    # Vans

    def van(self, van_id: str, number: int) -> Failure:
        """A van failing before its stop ``number`` and after the one before it."""
        stops = next(v.stops for v in self.plan.vans if v.id == van_id)
        now = max(self.now, NOTHING_YET if number == 0 else self.clock.minute(stops[number - 1].end))
        past = self._hold(now)
        k = next(n for n, v in enumerate(self.problem.vans) if v.id == van_id)
        aboard = self._aboard(stops[:number])
        waiting = {self.party[i] for s in stops[number:] if s.kind == "load" for i in s.riders}
        problem = self._without(past, k, aboard, stops[number - 1] if number else None)
        saved, left = self._outcome(past, problem, aboard | waiting)
        return Failure(kind="van", name=van_id, moment=self._at(now), saved=saved, left=left)

    def _aboard(self, stops: Sequence[Stop]) -> set[int]:
        loaded = {self.party[i] for s in stops if s.kind == "load" for i in s.riders}
        return loaded - {self.party[i] for s in stops if s.kind == "unload" for i in s.riders}

    def _without(self, past: Past, k: int, aboard: set[int], last: Stop | None) -> Problem:
        """Van ``k`` brings nobody any more; whoever is aboard waits where it stands for another one."""
        done = {u for u, s in enumerate(past.states) if s == "done"}
        # Whoever has been unloaded but is not inside yet is on the way in by foot: the van is not needed for that.
        done |= {u for u, leg in enumerate(past.schedule.legs) if isinstance(leg, RideLeg) and leg.van == k and u in past.held - aboard}
        pickups = {key: p for key, p in past.problem.pickups.items() if key[1] != k or key[0] in done}
        dropoffs = {key: d for key, d in past.problem.dropoffs.items() if key[1] != k or key[0] in done}
        if last is not None and last.node in self.travel.nodes:
            for (u, other), pickup in self.problem.pickups.items():
                if u in aboard and other != k:
                    node = self.travel.nodes.index(self.travel.node_for(self.problem.vans[other].id, last.node))
                    first = max(past.now, past.vans[other].first_at(past.problem, node, past.now))
                    pickups[u, other] = replace(pickup, node=node, roll=0, escorts=0, load_from=min(first, NEVER), zone=last.place)
                    dropoffs |= {key: d for key, d in self.problem.dropoffs.items() if key[:2] == (u, other)}
        return replace(past.problem, pickups=pickups, dropoffs=dropoffs)

    # What is left

    def _outcome(self, past: Past, problem: Problem, met: set[int]) -> tuple[tuple[Saved, ...], tuple[Saved, ...]]:
        """(saved, left): whoever the failure meets, and others who had a way and lose it by helping."""
        others = Schedule(
            legs=tuple(None if u in met else leg for u, leg in enumerate(past.schedule.legs)),
            tours=tuple(tuple(s for s in tour if s[0] not in met) for tour in past.schedule.tours),
        )
        schedule = self._served(past, problem, others)
        saved: list[Saved] = []
        left: list[Saved] = []
        for u, party in enumerate(problem.parties):
            line, leg = past.lines[u], schedule.legs[u]
            if line is None or line.way is None:
                continue
            for rider_id in party.riders:
                if leg is None:
                    left.append(Saved(rider=rider_id, how=self._why_left(problem, u) if u in met else "gives way to somebody more urgent"))
                elif u in met:
                    saved.append(Saved(rider=rider_id, how=self._how(problem, leg)))
        return tuple(saved), tuple(left)

    def _why_left(self, problem: Problem, u: int) -> str:
        party = problem.parties[u]
        if not any(v == u for v, _ in problem.pickups) and not any(r.party == u for r in problem.rolls):
            others = tuple(f"van {v.id}:" for v in self.problem.vans)
            said = [w for i in party.riders for w in self.problem.reasons.get(i, ()) if w.startswith(("van:", *others))]
            return "no other van can take them" + (f" ({'; '.join(dict.fromkeys(said[:3]))})" if said else "")
        limit = min(party.close, party.arrive_by, party.socket_by)
        return "no other van or way has time and room" + (f" before {self._clock(limit)}" if limit < NEVER else "")

    def _clock(self, minute: int) -> str:
        return (self._at(minute) or "")[11:16]

    def _how(self, problem: Problem, leg: object) -> str:
        if isinstance(leg, RideLeg):
            return f"{problem.vans[leg.van].id} can load them at {self._clock(leg.load)}"
        return "can roll instead"

    def _loses(self, past: Past, schedule: Schedule) -> bool:
        """Whether somebody who has a way in the plan has none."""
        return any(x is not None and x.way is not None and leg is None for x, leg in zip(past.lines, schedule.legs, strict=True))

    def _served(self, past: Past, problem: Problem, others: Schedule) -> Schedule:
        """As many as can be: first everybody else as planned, then, if somebody is left and it fits, all anew and proven."""
        draft = Draft(problem)
        listed = [u for u, leg in enumerate(others.legs) if leg is not None]
        for u in sorted(listed, key=lambda u: (u not in past.held, past.told[u])):
            put_back(draft, u, others)
        kept = frozenset(u for u, leg in enumerate(draft.legs) if leg is not None)
        effort = self.move.settings.effort
        found = draft.schedule()
        for rounds in (0, ROUNDS):  # most are put in without any search
            found = search_schedule(problem, rounds=rounds, seed=effort.seed, start=found, fixed=kept)
            if not self._loses(past, found):
                return found
        if sum(1 for s in past.states if s in ("free", "committed")) > effort.exact_units:
            return found
        model = build_model(problem)
        model.tiers = model.tiers[:N_SERVICE_TIERS]
        judge = Judge(lambda p, s: tiers(p, s)[:N_SERVICE_TIERS], TIER_NAMES[:N_SERVICE_TIERS])
        return minimise_in_order(model, found, judge, work=effort.exact_work, seed=effort.seed).schedule
