"""Why there is no route, against brute force: the rule that is named fails, by the amount that is named, and by no more."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest
from brute_force import TooManyWalksError, least_cost
from test_many_worlds import KINDS
from worlds import World, graph_of, query_of, varied_world

from rollroute.search.find import find_route
from rollroute.search.problem import Failure, FailureKind, ProvenNoRouteError

HALF_A_SECOND, HUNDREDTH_WH = 0.5, 0.01  # tolerances that the amounts are given to
MOST_WALKS = 5_000


def has_route(world: World) -> bool:
    return math.isfinite(least_cost(world, most_walks=MOST_WALKS))


def later(world: World, seconds: float) -> World:
    """Any charge, nothing asked of the way back, everything open for longer."""
    pieces = [replace(p, closes=p.closes + seconds) for p in world.pieces]
    return replace(world, pieces=pieces, latest=world.latest + seconds, charge=1e6, capacity=1e6, outlets=[], way_back=False)


def charged(world: World, more_wh: float, *, way_back: bool) -> World:
    charge = world.charge + more_wh
    return replace(world, charge=charge, capacity=max(world.capacity, charge), way_back=way_back)


def check(world: World, failure: Failure) -> None:
    """The amount is enough, and a little less is not."""
    amount, kind = failure.short_by, failure.kind
    if kind is FailureKind.UNREACHABLE:
        assert not has_route(later(world, 1e6))
    elif kind is FailureKind.CLOSING:
        assert not has_route(later(world, 0.0))
        assert has_route(later(world, amount + 1e-6))
        assert not has_route(later(world, amount - HALF_A_SECOND - 1e-6))
    elif kind in (FailureKind.CHARGE, FailureKind.WAY_BACK):
        way_back = kind is FailureKind.WAY_BACK
        assert not has_route(charged(world, 0.0, way_back=way_back))
        if math.isinf(amount):
            assert not has_route(charged(world, 1e5, way_back=way_back))
            return
        assert has_route(charged(world, amount + 1e-6, way_back=way_back))
        assert not has_route(charged(world, max(0.0, amount - HUNDREDTH_WH - 1e-6), way_back=way_back))


def failures_of(world: World) -> tuple[Failure, ...] | None:
    """What the search says is wrong; ``None`` where there is a route."""
    try:
        find_route(graph_of(world), query_of(world))
    except ProvenNoRouteError as error:
        return error.failures
    return None


@pytest.mark.parametrize("kind", KINDS)
def test_the_rule_that_is_named_fails_by_the_amount_that_is_named(kind: tuple[bool, bool, bool]) -> None:
    """Seconds too late to half a second, watt-hours short to a hundredth."""
    charging, way_back, closings = kind
    n: Counter[str] = Counter()
    for seed in range(60):
        world = varied_world(seed + 7000, charging=charging, way_back=way_back, closings=closings)
        failures = failures_of(world)
        assert failures != ()
        for failure in failures or ():
            n[str(failure.kind)] += 1
            try:
                check(world, failure)
            except TooManyWalksError:
                n["given up"] += 1
            except AssertionError as wrong:
                raise AssertionError(f"seed {seed + 7000}: {failure}") from wrong
    assert n["charge"] >= 3
    assert n["way back"] >= (3 if way_back else 0)
    assert n["closing"] >= (1 if closings else 0)
    assert n["given up"] <= 6
