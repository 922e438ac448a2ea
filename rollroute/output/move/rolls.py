"""The itineraries of whoever rolls: each roll's journey, made again at the minute that the plan sends them off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rollroute.errors import RollrouteError
from rollroute.output.compose import Stamp, compose_itinerary
from rollroute.output.folder import route_code
from rollroute.output.itinerary import Itinerary
from rollroute.output.move.facts import MoveFacts
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import RiderPlan
from rollroute.planning.roll_ways import RollFinder

Progress = Callable[[str], None]
COMMAND = "rollroute move"


@dataclass(frozen=True, slots=True)
class Rolls:
    """Itineraries by rider, and for the others who roll why there is none, in words."""

    routes: dict[str, Itinerary]
    missing: dict[str, str]


def make_rolls(facts: MoveFacts, finder: RollFinder | None, progress: Progress | None = None) -> Rolls:
    """Make every roll's itinerary; one that can't be made again is named, never left out without a word."""
    routes: dict[str, Itinerary] = {}
    missing: dict[str, str] = {}
    codes: set[str] = set()
    for rider in facts.rollers:
        if finder is None:
            missing[rider.id] = facts.words.say("the plan was made from typed estimates, without a map")
            continue
        if progress is not None:
            progress(f"way of {rider.id}")
        try:
            routes[rider.id] = _itinerary(facts, finder, rider, codes)
        except RollrouteError as error:
            missing[rider.id] = str(error)
    return Rolls(routes, missing)


def _itinerary(facts: MoveFacts, finder: RollFinder, rider: RiderPlan, codes: set[str]) -> Itinerary:
    assert rider.leave is not None
    assert rider.shelter is not None
    depart_min = (read_moment(rider.leave) - facts.move.start).total_seconds() / 60.0
    journey = finder.journey(facts.needs[rider.id], rider.shelter, depart_min)
    code = _code(journey.trip.start.label, journey.trip.goal.label, rider.leave, codes)
    return compose_itinerary(journey, Stamp(made_at=read_moment(facts.made_at), command=COMMAND, code=code))


def _code(start: str, goal: str, leave: str, taken: set[str]) -> str:
    """A code that no other route of this move has: a reply by code must not name two routes."""
    n, code = 0, route_code(start, goal, leave)
    while code in taken:
        n += 1
        code = route_code(start, goal, f"{leave}#{n}")
    taken.add(code)
    return code
