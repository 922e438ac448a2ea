"""The plan of a move: needs, options, a first schedule, the exact solver where it fits, and the write-up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.planning.assignment import assignment_bounds
from rollroute.planning.calls import call_list
from rollroute.planning.claims import claims_of
from rollroute.planning.exact import ExactResult, solve_exactly
from rollroute.planning.fixes import Fixes, reasons_left
from rollroute.planning.halts import night_tables, with_later_rolls
from rollroute.planning.needs import Needs, read_needs
from rollroute.planning.objective import TIER_NAMES, people_served, tiers
from rollroute.planning.options import build_problem
from rollroute.planning.plan import Plan, RiderPlan, Tier
from rollroute.planning.problem import Problem, Schedule
from rollroute.planning.search_schedule import better_rounds, search_schedule
from rollroute.planning.travel import TravelTable
from rollroute.planning.write_up import Facts, escort_plans, rider_plans, shelter_plans, van_plans

Progress = Callable[[str], None]
Stop = Callable[[], bool]
PARTIES_PUT_IN, LEAST_ROUNDS = 200_000, 200  # work of the search on large moves: rounds times parties
ROUNDS_BEFORE_EXACT = 200  # rounds of search that give the exact solver its first schedule


def needs_of(move: Move) -> tuple[list[Needs], list[str]]:
    """Needs of every rider, and what can't be read, all at once."""
    found, wrong = [], []
    for rider in move.riders:
        try:
            found.append(read_needs(rider, move.settings))
        except InputError as error:
            wrong.append(f"rider {rider.id}: {error}")
    return found, wrong


def make_plan(move: Move, travel: TravelTable, *, progress: Progress | None = None, stop: Stop | None = None) -> Plan:
    """The plan of ``move``, given the travel estimates.

    Raises
    ------
    InputError
        If a rider's chair or charge can't be read; all of them are named.
    """
    needs, wrong = needs_of(move)
    if wrong:
        raise InputError("\n".join(wrong))
    problem, result = _with_outlets(move, needs, travel, progress, stop)
    return write_up(move, needs, travel, problem, result, is_complete=not (stop is not None and stop()))


def _with_outlets(
    move: Move, needs: Sequence[Needs], travel: TravelTable, progress: Progress | None, stop: Stop | None
) -> tuple[Problem, ExactResult]:
    """A solution in which every halt on the way has its outlet: rolls that find none set off later or are out, and all is solved again."""
    by_id = {n.id: n for n in needs}
    asked: Problem | None = build_problem(move, needs, travel)
    while asked is not None:
        problem = asked
        result = solve(move, problem, progress=progress, stop=stop)
        tables = night_tables(move, by_id, travel, problem, result.schedule)
        asked = with_later_rolls(move, by_id, travel, problem, result.schedule, tables)
    return problem, result


def solve(move: Move, problem: Problem, *, progress: Progress | None = None, stop: Stop | None = None) -> ExactResult:
    """A schedule with its tiers and bounds.

    A search makes the first schedule; up to ``effort.exact_units`` parties the exact solver goes on from there.
    Larger moves keep the search's schedule, and the assignment, solved to proof, gives the bounds.
    """
    effort = move.settings.effort
    is_small = len(problem.parties) <= effort.exact_units
    many = max(LEAST_ROUNDS, PARTIES_PUT_IN // max(1, len(problem.parties)))
    rounds = min(effort.search_rounds, ROUNDS_BEFORE_EXACT if is_small else many)
    if progress is not None:
        progress("first schedule")
    first = search_schedule(problem, rounds=rounds, seed=effort.seed, stop=stop)
    if is_small and not (stop is not None and stop()):
        found = solve_exactly(problem, hint=first, work=effort.exact_work, seed=effort.seed, progress=progress, stop=stop)
        return found if all(found.is_proven) else better_bounds(problem, found)
    if not (stop is not None and stop()):
        if progress is not None:
            progress("van rounds")
        rounds_of_library = better_rounds(problem, first, solutions=effort.library_solutions, seed=effort.seed)
        if rounds_of_library is not first:
            first = search_schedule(problem, rounds=rounds, seed=effort.seed, start=rounds_of_library, stop=stop)
    return bounded(problem, first, progress=progress)


def bounded(problem: Problem, schedule: Schedule, *, progress: Progress | None = None) -> ExactResult:
    """A schedule with the bounds that the assignment proves for its tiers."""
    if progress is not None:
        progress("bounds")
    values = tiers(problem, schedule)
    bounds = assignment_bounds(problem, values, people_served(problem, schedule))
    proven: list[bool] = []
    for value, bound in zip(values, bounds, strict=True):
        proven.append(value == bound and all(proven))
    return ExactResult(schedule=schedule, tiers=values, bounds=bounds, is_proven=tuple(proven))


def better_bounds(problem: Problem, found: ExactResult) -> ExactResult:
    """``found`` with the better of its bounds and the assignment's."""
    own = assignment_bounds(problem, found.tiers, people_served(problem, found.schedule))
    bounds = tuple(max(a, b) for a, b in zip(found.bounds, own, strict=True))
    proven: list[bool] = []
    for value, bound in zip(found.tiers, bounds, strict=True):
        proven.append(value == bound and all(proven))
    return replace(found, bounds=bounds, is_proven=tuple(proven))


def explain_left(lines: Sequence[RiderPlan], needs: Sequence[Needs], facts: Facts) -> tuple[RiderPlan, ...]:
    """Whoever is left gets the reason that binds and the cheapest fix."""
    left = {line.id for line in lines if line.status == "not served"}
    if not left:
        return tuple(lines)
    calls = call_list(facts.move, needs, facts.travel)
    problem, schedule = facts.problem, facts.schedule
    limits = {line.id: line.latest[11:16] if line.latest else None for line in lines}
    why = reasons_left(problem, schedule, [limits[p.riders[0]] for p in problem.parties])
    changed: dict[str, RiderPlan] = {}
    ask = Fixes(problem, calls)
    for u, party in enumerate(problem.parties):
        if schedule.legs[u] is None:
            fix = ask.cheapest(u)
            first = (why[u],) if u in why else ()
            changed |= {line.id: replace(line, reasons=(*first, *line.reasons), fix=fix) for line in lines if line.id in party.riders}
    return tuple(changed.get(line.id, line) for line in lines)


def write_up(
    move: Move,
    needs: Sequence[Needs],
    travel: TravelTable,
    problem: Problem,
    result: ExactResult,
    *,
    is_complete: bool = True,
    explains: bool = True,
) -> Plan:
    """The schedule as a plan. ``explains``: whoever is left gets a reason and a fix, which takes its time on large moves."""
    facts = Facts(move, {n.id: n for n in needs}, travel, problem, result.schedule)
    tiers = tuple(
        Tier(name=name, value=value, bound=bound, is_proven=proven)
        for name, value, bound, proven in zip(TIER_NAMES, result.tiers, result.bounds, result.is_proven, strict=True)
    )
    lines = explain_left(rider_plans(facts), needs, facts) if explains else rider_plans(facts)
    return Plan(
        move={
            "name": move.settings.name,
            "start": move.start.isoformat(timespec="minutes"),
            "folder": move.folder.name,
            "basis": travel.basis,
        },
        riders=lines,
        vans=van_plans(facts),
        escorts=escort_plans(facts),
        shelters=shelter_plans(facts),
        tiers=tiers,
        is_complete=is_complete,
        claims=claims_of(travel, problem.reasons),
        open_alerts=tuple(f"{a.headline or a.identifier}: decide closed, deadline, watch or ignore" for a in move.undecided_alerts),
    )
