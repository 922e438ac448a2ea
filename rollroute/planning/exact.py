"""The whole move as one constraint program (OR-Tools CP-SAT): ways, shelters, tours, escorts and intake together.

The tiers of ``objective`` are minimised one after the other; each is fixed before the next.
A tier is *proven* only where the solver closed its bound and all tiers before it were proven.
One worker, a fixed seed and deterministic work units: same input, same plan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

from ortools.sat.python import cp_model

from rollroute.planning.exact_model import ExactModel, build_model
from rollroute.planning.objective import TIER_NAMES, tiers
from rollroute.planning.problem import Leg, Problem, RideLeg, RollLeg, Schedule

Stop = Callable[[], bool]
ASK_EVERY_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class ExactResult:
    """The best schedule found, its tiers, and what was proven.

    ``bounds``: no plan does better in tier t, given that the tiers before it stand as found.
    """

    schedule: Schedule
    tiers: tuple[int, ...]
    bounds: tuple[int, ...]
    is_proven: tuple[bool, ...]


def solve_exactly(
    problem: Problem,
    *,
    hint: Schedule | None = None,
    work: float = 20.0,
    seed: int = 1,
    progress: Callable[[str], None] | None = None,
    stop: Stop | None = None,
) -> ExactResult:
    """Minimise the tiers in order, each within ``work`` deterministic units of the solver.

    ``hint`` is a schedule to start from; the result is never worse than it. A true answer of ``stop`` ends the work with the best so far.
    """
    best = hint if hint is not None else _empty(problem)
    judge = Judge(tiers, TIER_NAMES)
    return minimise_in_order(build_model(problem), best, judge, work=work, seed=seed, progress=progress, stop=stop)


@dataclass(frozen=True, slots=True)
class Judge:
    """What plans are judged by: ``figures(problem, schedule)``, smaller is better and the first difference decides, and their names."""

    figures: Callable[[Problem, Schedule], tuple[int, ...]]
    names: Sequence[str]


def minimise_in_order(
    model: ExactModel,
    best: Schedule,
    judge: Judge,
    *,
    work: float,
    seed: int,
    progress: Callable[[str], None] | None = None,
    stop: Stop | None = None,
) -> ExactResult:
    """Minimise ``model.tiers`` one after the other, which must be the expressions of ``judge``; never worse than ``best``."""
    values = judge.figures(model.problem, best)
    bounds: list[int] = []
    proven: list[bool] = []
    for tier, expression in enumerate(model.tiers):
        if progress is not None:
            progress(judge.names[tier])
        bound = 0
        if values[tier] > 0 and not (stop is not None and stop()):
            found, bound = _minimise(model, tier, best, work, seed, stop)
            if found is not None and judge.figures(model.problem, found) < values:
                best = found
                values = judge.figures(model.problem, best)
        bounds.append(bound)
        proven.append(bound >= values[tier] and all(proven))
        model.cp.add(expression <= values[tier])
    return ExactResult(schedule=best, tiers=values, bounds=tuple(bounds), is_proven=tuple(proven))


def _empty(problem: Problem) -> Schedule:
    return Schedule(legs=(None,) * len(problem.parties), tours=((),) * len(problem.vans))


def _minimise(model: ExactModel, tier: int, hint: Schedule, work: float, seed: int, stop: Stop | None) -> tuple[Schedule | None, int]:
    """Best schedule for one tier and its proven bound."""
    model.cp.minimize(model.tiers[tier])
    model.set_hint(hint)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = work
    status = _solve(solver, model.cp, stop)
    if status in (cp_model.MODEL_INVALID, cp_model.INFEASIBLE):  # a schedule is known, so this is a fault of ours, never an answer
        raise AssertionError(f"the constraint program is {solver.status_name(status)}: {model.cp.validate()}")
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, 0
    bound = math.ceil(solver.best_objective_bound - 1e-6) if abs(solver.best_objective_bound) < 1e15 else 0  # 49.00000000000001 is 49
    return read_schedule(model, solver), max(0, bound)


def _solve(solver: cp_model.CpSolver, cp: cp_model.CpModel, stop: Stop | None) -> cp_model.CpSolverStatus:
    """Solve in a thread, so that Ctrl-C reaches Python and ``stop`` is asked while the solver works."""
    if stop is None:
        return solver.solve(cp)
    solver.parameters.catch_sigint_signal = False
    with ThreadPoolExecutor(1) as pool:
        job = pool.submit(solver.solve, cp)
        while not job.done():
            wait([job], timeout=ASK_EVERY_S)
            if stop():
                solver.stop_search()
    return job.result()


def read_schedule(model: ExactModel, solver: cp_model.CpSolver) -> Schedule:
    """The schedule that the solver's values stand for."""
    problem = model.problem
    legs: list[Leg | None] = [None] * len(problem.parties)
    for r, chosen in enumerate(model.rolls):
        if solver.value(chosen):
            walkers = tuple(e for (e, other), walks in model.roll_escorts.items() if other == r and solver.value(walks))
            legs[problem.rolls[r].party] = RollLeg(roll=r, depart=solver.value(model.departs[r]), escorts=walkers)
    for (u, k, j), chosen in model.rides.items():
        if solver.value(chosen):
            walkers = tuple(e for (e, *other), helps in model.ride_escorts.items() if other == [u, k] and solver.value(helps))
            legs[u] = RideLeg(van=k, shelter=j, load=solver.value(model.loads[u]), unload=solver.value(model.unloads[u]), escorts=walkers)
    return Schedule(legs=tuple(legs), tours=tuple(_tour(model, solver, k) for k in range(len(problem.vans))))


def _tour(model: ExactModel, solver: cp_model.CpSolver, van: int) -> tuple[tuple[int, bool], ...]:
    n_parties = len(model.problem.parties)
    following = {a: b for (a, b), literal in model.arcs[van].items() if a != b and solver.value(literal)}
    stops: list[tuple[int, bool]] = []
    node = following.get(0, 0)
    while node != 0:
        stops.append((node - 1, True) if node <= n_parties else (node - 1 - n_parties, False))
        node = following[node]
    return tuple(stops)
