"""The Pareto set of time, energy and doubt against every walk tried one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import brute_force
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import Outlet, Piece, World, graph_of, query_of, random_town, random_world

from rollroute.search.audit import audit
from rollroute.search.pareto import pareto_set
from rollroute.search.simple import search

Ends = tuple[float, float, float]


class TooManyWalksError(Exception):
    """More walks than this test is willing to try."""


def every_end(world: World, *, most_walks: int = 20_000) -> list[Ends]:
    """Time, energy and doubt of every walk that keeps the rules, with the quickest charging on it; no walk is cut off for being slow."""
    timed = replace(world, pieces=[replace(p, extra=0.0) for p in world.pieces])
    r = brute_force._retreats(timed)
    b = r[world.start]
    stack = [brute_force._Walk(world.start, [], 0.0, world.charge, 0.0, b, {world.start: b}, 0)]
    ends: list[Ends] = []
    n = 0
    while stack:
        walk = stack.pop()
        n += 1
        if n > most_walks:
            raise TooManyWalksError
        if walk.time > world.latest + brute_force.EPS or world.charge < world.reserve - brute_force.EPS:
            continue
        if walk.node in world.goals:
            time = brute_force._best_charging(timed, walk.steps, r)
            driven = [world.pieces[i] for kind, i in walk.steps if kind == "drive"]
            if math.isfinite(time):
                ends.append((time, sum(p.energy for p in driven), sum(p.doubt for p in driven)))
            continue
        stack += brute_force._driven(timed, walk, r) + brute_force._plugged_in(timed, walk)
    return ends


def front_of(ends: list[Ends], close: float) -> list[Ends]:
    """The ends that no other one beats by more than rounding, in rising time; near twins once."""
    kept: list[Ends] = []
    for end in sorted(ends):
        if not any(all(a <= b + close for a, b in zip(other, end, strict=True)) for other in kept):
            kept.append(end)
    return kept


def covers(front: list[Ends], ends: list[Ends], close: float) -> bool:
    """Whether every one of ``ends`` is matched or beaten by one of ``front``."""
    return all(any(all(a <= b + close for a, b in zip(f, end, strict=True)) for f in front) for end in ends)


def check(world: World) -> int | None:
    """Compare; the number of points, ``None`` where there are too many walks."""
    close = 1e-5 if world.outlets else 1e-7  # a mixed-integer program stands behind two charges on one walk
    try:
        ends = every_end(world)
    except TooManyWalksError:
        return None
    found = pareto_set(graph_of(world), query_of(world), most_routes=10_000)
    assert found.is_complete
    ours = [(r.time_s, r.energy_wh, r.surprisal) for r in found.routes]
    if all(len(r.stop_uses) <= brute_force.MOST_CHARGES for r in found.routes):
        assert covers(ends, ours, close)  # none is better than what there is
    assert covers(ours, ends, close)  # nothing is missing
    assert len(front_of(ours, 0.0)) == len(ours)  # none is superfluous
    for route in found.routes:
        assert audit(graph_of(world), query_of(world), route) == []
    return len(ours)


@pytest.mark.parametrize("charging", [False, True])
@pytest.mark.parametrize("way_back", [False, True])
@pytest.mark.parametrize("closings", [False, True])
def test_the_set_equals_every_walk_tried_one_by_one(charging: bool, way_back: bool, closings: bool) -> None:
    """All rules alone and together; both worlds with several points and worlds with none occur."""
    n = (60 if way_back else 30) if charging else 80
    sizes = [check(random_world(s, charging=charging, way_back=way_back, closings=closings, whole_numbers=s % 3 == 0)) for s in range(n)]
    known = [size for size in sizes if size is not None]
    assert len(known) >= n // 2
    assert sum(size >= 2 for size in known) >= (2 if charging else 4)
    assert known.count(0) >= 1


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9), st.booleans(), st.booleans(), st.booleans(), st.booleans())
def test_the_set_equals_every_walk_on_any_world(seed: int, charging: bool, way_back: bool, closings: bool, whole: bool) -> None:
    """The same on worlds that hypothesis picks."""
    check(random_world(seed, charging=charging, way_back=way_back, closings=closings, whole_numbers=whole))


def three_ways(**changes: object) -> World:
    """From 0 to 1: quick (10 s, 9 Wh, doubt 1), thrifty (30 s, 2 Wh, doubt 1), sure (20 s, 9 Wh, doubt 0), and one that all three beat."""
    kinds = ((10.0, 9.0, 1.0), (30.0, 2.0, 1.0), (20.0, 9.0, 0.0), (35.0, 9.5, 1.5))
    pieces = [Piece(0, 1, time, 0.0, energy, doubt=doubt) for time, energy, doubt in kinds]
    return replace(World(3, pieces, 0, [1], charge=20.0, capacity=40.0), **changes)  # type: ignore[arg-type]


def test_three_ways_each_best_in_one_thing() -> None:
    """By hand."""
    world = three_ways()
    found = pareto_set(graph_of(world), query_of(world))
    assert [(r.time_s, r.energy_wh, r.surprisal) for r in found.routes] == [(10.0, 9.0, 1.0), (20.0, 9.0, 0.0), (30.0, 2.0, 1.0)]
    assert found.is_complete


def test_a_charge_pays_for_the_quick_way_in_time() -> None:
    """By hand: 5 Wh on board, an outlet at the start at 2 s a Wh: the ways of 9 Wh cost 8 s more, the thrifty one does not charge."""
    world = three_ways(charge=5.0, outlets=[Outlet(0, [(20.0, 2.0)])])
    found = pareto_set(graph_of(world), query_of(world))
    assert [(r.time_s, r.energy_wh, r.surprisal) for r in found.routes] == [(18.0, 9.0, 1.0), (28.0, 9.0, 0.0), (30.0, 2.0, 1.0)]


def test_a_capped_set_says_so_and_holds_the_quickest() -> None:
    """With room for one route the set is marked, and the one is the quickest there is."""
    world = three_ways()
    found = pareto_set(graph_of(world), query_of(world), most_routes=1)
    assert not found.is_complete
    assert [r.time_s for r in found.routes] == [10.0]
    assert not pareto_set(graph_of(world), query_of(world), most_labels=1).is_complete
    assert pareto_set(graph_of(world), query_of(world), most_routes=3).is_complete


@pytest.mark.parametrize("seed", range(10))
def test_the_first_of_the_set_is_the_quickest_route_in_towns(seed: int) -> None:
    """Another search: the exact one with cost = time has the same least time; no route exists for both or for neither."""
    world = random_town(seed, charging=seed % 2 == 0, way_back=True, closings=True, side=4)
    timed = replace(world, pieces=[replace(p, extra=0.0) for p in world.pieces])
    found = pareto_set(graph_of(world), query_of(world), most_routes=5)
    verdict = search(graph_of(timed), query_of(timed))
    assert (verdict.steps is None) == (not found.routes)
    if found.routes:
        assert found.routes[0].time_s == pytest.approx(verdict.lower_bound_s, abs=1e-9)
