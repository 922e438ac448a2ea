"""The compiled engine against the search without compilation, in towns with chains, dead ends and clusters of doubt."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import pytest
from worlds import World, graph_of, query_of, random_town, random_world

from rollroute.search import simple
from rollroute.search.audit import audit
from rollroute.search.compiled import engine, every_rule
from rollroute.search.drive import drive

KINDS = [(c, w, t) for c in (False, True) for w in (False, True) for t in (False, True)]


def check(world: World) -> bool:
    """The two solvers agree on the cost; whether there is a route."""
    graph, query = graph_of(world), query_of(world)
    expected, found = simple.search(graph, query), engine.search(graph, query)
    assert found.is_proven
    assert (found.steps is None) == (expected.steps is None)
    if found.steps is None:
        return False
    route = drive(graph, query, found)
    assert audit(graph, query, route) == []
    assert route.cost_s == pytest.approx(drive(graph, query, expected).cost_s, rel=1e-9, abs=1e-9)
    return True


@pytest.mark.parametrize("kind", KINDS)
def test_compiled_costs_equal_those_without_compilation_in_towns(kind: tuple[bool, bool, bool]) -> None:
    """Towns have what small worlds lack: chains to contract, with starts, goals and stops inside them."""
    charging, way_back, closings = kind
    towns = [random_town(s, charging=charging, way_back=way_back, closings=closings, side=4 + s % 4) for s in range(60)]
    found = [check(town) for town in towns]
    assert found.count(True) >= 10
    assert found.count(False) >= 5


@pytest.mark.parametrize("kind", KINDS)
def test_compiled_costs_equal_those_without_compilation_in_small_worlds(kind: tuple[bool, bool, bool]) -> None:
    """Small worlds have what towns lack: ties, limits met exactly, parallel edges, loops."""
    charging, way_back, closings = kind
    for seed in range(120):
        check(random_world(seed, charging=charging, way_back=way_back, closings=closings, whole_numbers=seed % 2 == 0))


@pytest.mark.parametrize("kind", [k for k in KINDS if not k[0]])
def test_barred_arcs_change_no_answer(kind: tuple[bool, bool, bool], monkeypatch: pytest.MonkeyPatch) -> None:
    """Small questions are answered before any arc is barred; with no label for the first try, the barring is asked every time."""
    monkeypatch.setattr(every_rule, "SHORT", 1)
    charging, way_back, closings = kind
    for seed in range(150):
        check(random_world(seed, charging=charging, way_back=way_back, closings=closings, whole_numbers=seed % 3 == 0))
    for seed in range(60):
        check(random_town(seed, charging=charging, way_back=way_back, closings=closings, side=4 + seed % 3))


def test_threads_get_the_answers_that_one_thread_gets() -> None:
    """The desk asks from threads; kept fields are shared and grow under a lock."""
    graph = graph_of(random_town(3, charging=False, way_back=False, closings=False, side=14))
    world = random_town(3, charging=False, way_back=False, closings=False, side=14)
    queries = [
        query_of(world, start=s, goals=(g,), charge_wh=c, capacity_wh=40.0)
        for s in range(0, 60, 3)
        for g in (100, 150)
        for c in (15.0, 25.0, 40.0)
    ]
    alone = [engine.search(graph, q) for q in queries]
    engine.engine_of(graph).forget_goals()
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda q: engine.search(graph, q), queries))
    assert [v.steps for v in together] == [v.steps for v in alone]


def test_a_work_limit_returns_a_route_that_keeps_every_rule_and_a_true_bound() -> None:
    """At the limit: audited, its lower bound under the true optimum, and marked as not proven."""
    n_limited = 0
    for seed in range(60):
        world = random_town(seed, charging=True, way_back=True, closings=True, side=6)
        graph = graph_of(world)
        best = simple.search(graph, query_of(world))
        for solver in (simple.search, engine.search):
            found = solver(graph, query_of(world, work_limit=5))
            assert found.lower_bound_s <= best.lower_bound_s * (1 + 1e-9) or math.isinf(best.lower_bound_s)
            if found.steps is not None and not found.is_proven:
                n_limited += 1
                route = drive(graph, query_of(world), found)
                assert audit(graph, query_of(world), route) == []
                assert 0.0 <= route.gap < 1.0
    assert n_limited >= 5


def test_an_outlet_at_the_goal_is_not_used_for_no_time() -> None:
    """A use of no seconds after the last edge costs nothing, so rounding may prefer it; the audit refuses it, rightly."""
    assert check(random_world(202468, charging=True, way_back=True, closings=False, whole_numbers=True))
