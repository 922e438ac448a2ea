"""An earlier plan read back: its times in minutes, its lines by party, its legs as a schedule of a problem."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rollroute.planning.draft import Draft
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.problem import NEVER, Leg, Party, Problem, RideLeg, RollLeg, Schedule


@dataclass(frozen=True, slots=True)
class Clock:
    """Minutes from the start of the move, and back."""

    start: dt.datetime

    def minute(self, text: str | None) -> int:
        """Whole minutes of a time in a plan."""
        if text is None:
            return NEVER
        return round((dt.datetime.fromisoformat(text) - self.start).total_seconds() / 60.0)


def news_of(plan: Plan) -> dict[str, Any]:
    """What a plan made anew says of the moment of the news; empty for a first plan, or where an edit has spoilt it."""
    found = plan.extra.get("changes")
    return dict(found) if isinstance(found, dict) else {}


def schedule_of(plan: Plan, problem: Problem, start: dt.datetime) -> Schedule:
    """``plan`` as a schedule of ``problem``; a leg that is not among its ways is ``None``."""
    clock = Clock(start)
    legs = tuple(_leg(problem, u, line_of(plan, party), clock) for u, party in enumerate(problem.parties))
    return Schedule(legs=legs, tours=tuple(_tour(plan, problem, k, legs) for k in range(len(problem.vans))))


def line_of(plan: Plan, party: Party) -> RiderPlan | None:
    """The earlier line of a party that went together before, too."""
    lines = [line for line in plan.riders if line.id in party.riders]
    same = {(x.way, x.shelter, x.van, x.leave, x.load, len(x.together)) for x in lines}
    return lines[0] if len(lines) == party.size and len(same) == 1 and len(lines[0].together) == party.size - 1 else None


def _leg(problem: Problem, u: int, line: RiderPlan | None, clock: Clock) -> Leg | None:
    if line is None or line.way is None:
        return None
    escorts = tuple(e for e, x in enumerate(problem.escorts) if x.id in line.escorts)
    j = next((j for j, s in enumerate(problem.shelters) if s.name == line.shelter), -1)
    leave = clock.minute(line.leave)
    if line.way == "roll":
        found = [
            r for r, x in enumerate(problem.rolls) if (x.party, x.shelter) == (u, j) and x.first_departure <= leave <= x.last_departure
        ]
        found = [r for r in found if problem.rolls[r].escorts <= len(line.escorts)]
        return RollLeg(roll=found[0], depart=leave, escorts=escorts) if found else None
    k = next((k for k, v in enumerate(problem.vans) if v.id == line.van), -1)
    if (u, k, j) not in problem.dropoffs or (u, k) not in problem.pickups:
        return None
    return RideLeg(van=k, shelter=j, load=clock.minute(line.load), unload=clock.minute(line.unload), escorts=escorts)


def _tour(plan: Plan, problem: Problem, k: int, legs: Sequence[Leg | None]) -> tuple[tuple[int, bool], ...]:
    stops = next((v.stops for v in plan.vans if v.id == problem.vans[k].id), ())
    aboard = {u: p.riders for u, p in enumerate(problem.parties) if isinstance(leg := legs[u], RideLeg) and leg.van == k}
    return tuple((u, s.kind == "load") for s in stops for u, riders in aboard.items() if riders[0] in s.riders)


def put_back(draft: Draft, u: int, earlier: Schedule) -> None:
    """Put party ``u`` into the draft as it was, beside whoever is in already; leave it out where that does not hold."""
    leg = earlier.legs[u]
    if isinstance(leg, RollLeg):
        draft.put_roll(leg.roll)
    elif isinstance(leg, RideLeg) and draft.has_room(u, leg.shelter):
        members = {v for v, _ in draft.tours[leg.van]} | {u}
        tour = [stop for stop in earlier.tours[leg.van] if stop[0] in members]
        draft.put_ride(u, leg.van, leg.shelter, tour.index((u, True)), tour.index((u, False)) - 1)
