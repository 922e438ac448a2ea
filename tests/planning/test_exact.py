"""The exact solver against a brute force that shares no code with it."""

from __future__ import annotations

import pytest
from every_plan import TooManyError, best_tiers
from random_moves import random_move

from rollroute.planning.exact import solve_exactly
from rollroute.planning.make_plan import needs_of
from rollroute.planning.objective import tiers
from rollroute.planning.options import build_problem


def problem_of(seed: int, **sizes: int):
    a_move, travel = random_move(seed, **sizes)
    return build_problem(a_move, needs_of(a_move)[0], travel)


@pytest.mark.parametrize("block", range(6))
def test_small_moves_equal_brute_force(block: int):
    """Up to 6 riders, 3 shelters, 2 vans: all seven figures equal those of the best plan among all plans."""
    compared = 0
    for seed in range(20 * block, 20 * block + 20):
        problem = problem_of(seed)
        try:
            best = best_tiers(problem)
        except TooManyError:
            continue

        result = solve_exactly(problem, work=20.0)

        assert all(result.is_proven), seed
        assert result.tiers == best, seed
        assert result.tiers == tiers(problem, result.schedule), seed
        compared += 1
    assert compared >= 17  # the rest has more schedules than are tried here


def test_the_same_move_gives_the_same_schedule():
    """Work units and a seed decide, never a clock."""
    problem = problem_of(8)

    assert solve_exactly(problem, work=5.0).schedule == solve_exactly(problem, work=5.0).schedule


def test_a_hint_is_never_made_worse():
    """The search before it may already hold the best plan."""
    problem = problem_of(8)
    first = solve_exactly(problem, work=5.0)

    again = solve_exactly(problem, hint=first.schedule, work=0.001)

    assert again.tiers == first.tiers
