"""Whoever rolls: the journey made again at the minute that the plan sends them off, and their papers, on one core or on several.

Each rider is one task, and no task knows of another: the same files come out however many processes there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from rollroute.errors import RollrouteError
from rollroute.output.compose import Stamp, compose_itinerary
from rollroute.output.folder import route_code
from rollroute.output.itinerary import Itinerary
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.riders import write_papers_of
from rollroute.output.undisturbed import deaf_children
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import RiderPlan
from rollroute.planning.roll_ways import RollFinder

Progress = Callable[[str], None]
COMMAND = "rollroute move"
WORTH_A_PROCESS = 3  # riders for each process: starting one takes as long as the papers of about two


@dataclass(frozen=True, slots=True)
class Rolls:
    """Itineraries by rider, and for the others who roll why there is none, in words."""

    routes: dict[str, Itinerary]
    missing: dict[str, str]


@dataclass(frozen=True, slots=True)
class Desk:
    """What every task reads."""

    facts: MoveFacts
    finder: RollFinder
    folder: Path
    paper: str

    def work(self, rider_id: str, code: str) -> Itinerary | str:
        """One rider's itinerary, with its papers in ``folder``; the reason where there is none."""
        try:
            route = _itinerary(self.facts, self.finder, self.facts.plan.rider(rider_id), code)
        except RollrouteError as error:
            return str(error)
        write_papers_of(self.facts, rider_id, route, self.folder, self.paper)
        return route


def make_rolls(
    facts: MoveFacts, finder: RollFinder | None, folder: Path, paper: str = "a4", *, processes: int = 1, progress: Progress | None = None
) -> Rolls:
    """Make every roll's itinerary and its papers in ``folder``; one that can't be made again is named, never left out without a word.

    ``processes``: at most so many; started only where they are worth it.
    """
    if finder is None:
        why = facts.words.say("the plan was made from typed estimates, without a map")
        return Rolls({}, {rider.id: why for rider in facts.rollers})
    codes = route_codes(facts, finder)
    desk = Desk(facts, finder, folder, paper)
    routes: dict[str, Itinerary] = {}
    missing: dict[str, str] = {}
    tell = progress or _quiet
    tell(f"papers of riders 0/{len(codes)}")
    for number, (rider_id, made) in enumerate(_made(desk, codes, min(processes, len(codes) // WORTH_A_PROCESS)), start=1):
        tell(f"papers of riders {number}/{len(codes)}")
        if isinstance(made, str):
            missing[rider_id] = made
        else:
            routes[rider_id] = made
    return Rolls(routes, missing)


def _quiet(_: str) -> None:
    """Say nothing."""


def route_codes(facts: MoveFacts, finder: RollFinder) -> dict[str, str]:
    """A code for each rider's route that no other route of this move has: a reply by code must not name two routes.

    It changes with the path, so that a reply by the code of an earlier plan is not read on another way.
    """
    codes: dict[str, str] = {}
    for rider in facts.rollers:
        trip = finder.trip(facts.needs[rider.id], rider.shelter or "")
        words, way, n = (trip.start.label, trip.goal.label), repr([(leg.to, leg.edges) for leg in rider.path]), 0
        code = route_code(*words, rider.leave or "", way)
        while code in codes.values():
            n += 1
            code = route_code(*words, f"{rider.leave}#{n}", way)
        codes[rider.id] = code
    return codes


def _made(desk: Desk, codes: Mapping[str, str], processes: int) -> Iterator[tuple[str, Itinerary | str]]:
    """Every rider's result, in the order of the plan."""
    if processes < 2:
        for rider_id, code in codes.items():
            yield rider_id, desk.work(rider_id, code)
        return
    # typst and numba have threads of their own: a forked process would wait for ever
    pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_sit_down, initargs=(desk,))
    try:
        with deaf_children():
            tasks: dict[str, Future[Itinerary | str]] = {i: pool.submit(_task, i, code) for i, code in codes.items()}
        for rider_id, task in tasks.items():
            yield rider_id, task.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


_DESK: list[Desk] = []  # of this process


def _sit_down(desk: Desk) -> None:
    _DESK[:] = [desk]


def _task(rider_id: str, code: str) -> Itinerary | str:
    return _DESK[0].work(rider_id, code)


def _itinerary(facts: MoveFacts, finder: RollFinder, rider: RiderPlan, code: str) -> Itinerary:
    assert rider.leave is not None
    assert rider.shelter is not None
    depart_min = (read_moment(rider.leave) - facts.move.start).total_seconds() / 60.0
    way = facts.travel.rolls.get((rider.id, rider.shelter))
    first_min = way.charge_first_min if way else None
    journey = finder.journey(facts.needs[rider.id], rider.shelter, depart_min, charge_first_min=first_min, path=rider.path)
    return compose_itinerary(journey, Stamp(made_at=read_moment(facts.made_at), command=COMMAND, code=code))
