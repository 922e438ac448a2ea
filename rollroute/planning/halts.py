"""Charging halts on the way: who needs an outlet where and when, and every shelter's timetable with them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rollroute.inputs.move_folder import Move
from rollroute.planning.claims import OUTLET_TAKEN
from rollroute.planning.needs import Needs
from rollroute.planning.objective import arrival_minutes, shelter_of
from rollroute.planning.outlets import NightTable, first_free, night_table
from rollroute.planning.problem import NEVER, Problem, RollLeg, Schedule
from rollroute.planning.travel import TravelTable


@dataclass(frozen=True, slots=True, kw_only=True)
class Halt:
    """A rider at an outlet of ``shelter`` on the way to another; whole minutes from the start of the move, plugging in and out included."""

    party: int
    rider: str
    shelter: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class ShelterTable:
    """A shelter's guests in order of arrival, and its outlets."""

    shelter: str
    guests: tuple[str, ...]
    night: NightTable


def halts_of(problem: Problem, travel: TravelTable, schedule: Schedule) -> list[Halt]:
    """Every halt of a schedule."""
    found = []
    for u, leg in enumerate(schedule.legs):
        if not isinstance(leg, RollLeg):
            continue
        goal = problem.shelters[problem.rolls[leg.roll].shelter].name
        for rider in problem.parties[u].riders:
            for stop in travel.rolls[rider, goal].path[:-1]:
                start = leg.depart + stop.arrive_min + stop.wait_min
                end = math.ceil(start + stop.setup_min + stop.charge_min)
                found.append(Halt(party=u, rider=rider, shelter=stop.to, start=math.floor(start), end=end))
    return found


def night_tables(
    move: Move, needs: Mapping[str, Needs], travel: TravelTable, problem: Problem, schedule: Schedule
) -> tuple[ShelterTable, ...]:
    """The timetable of every shelter, in the order of the table."""
    arrivals, halts = arrival_minutes(problem, schedule), halts_of(problem, travel, schedule)
    tables = []
    for j, shelter in enumerate(move.shelters):
        parties = [u for u, leg in enumerate(schedule.legs) if leg is not None and shelter_of(problem, leg) == j]
        in_order = sorted(parties, key=lambda u: arrivals[u])
        guests = [(needs[i], float(arrivals[u])) for u in in_order for i in problem.parties[u].riders]
        passing = [(needs[h.rider], float(h.start), float(h.end)) for h in halts if h.shelter == shelter.name]
        tables.append(ShelterTable(shelter.name, tuple(n.id for n, _ in guests), night_table(move, shelter, guests, passing)))
    return tuple(tables)


def with_later_rolls(
    move: Move, needs: Mapping[str, Needs], travel: TravelTable, problem: Problem, schedule: Schedule, tables: Sequence[ShelterTable]
) -> Problem | None:
    """``problem`` where rolls of ``schedule`` that find no outlet at a halt set off later, or are out; ``None`` where every halt has one.

    Guests who are not held give way to halts; held outlets and halts that came first don't.
    A plan is the best one given these departures: another order of the halts might serve more.
    """
    by_name = {table.shelter: (move_shelter, table.night) for move_shelter, table in zip(move.shelters, tables, strict=True)}
    later: dict[tuple[int, int], int] = {}  # party, shelter -> first departure; NEVER: out
    reasons = {name: list(words) for name, words in problem.reasons.items()}
    for halt in halts_of(problem, travel, schedule):
        shelter, night = by_name[halt.shelter]
        leg = schedule.legs[halt.party]
        if halt.rider not in night.refused or not isinstance(leg, RollLeg):
            continue
        goal = problem.rolls[leg.roll].shelter
        free = first_free(move, shelter, night, needs[halt.rider], float(halt.start), float(halt.end - halt.start))
        first = NEVER if free is None else leg.depart + max(1, math.ceil(free - halt.start))
        later[halt.party, goal] = max(first, later.get((halt.party, goal), 0))
        why = f"rolling to {problem.shelters[goal].name}: {OUTLET_TAKEN.format(where=halt.shelter)}"
        reasons.setdefault(halt.rider, []).append(why)
    if not later:
        return None
    rolls = [replace(r, first_departure=max(r.first_departure, later.get((r.party, r.shelter), 0))) for r in problem.rolls]
    kept = tuple(r for r in rolls if r.first_departure <= r.last_departure)
    return replace(problem, rolls=kept, reasons={name: tuple(dict.fromkeys(words)) for name, words in reasons.items()})
