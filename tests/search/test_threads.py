"""One process answers many requests: four threads get what one gets, with every rule, through both solvers."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from worlds import graph_of, query_of, random_town

from rollroute.search import simple
from rollroute.search.compiled import engine
from rollroute.search.problem import SearchGraph, SearchQuery, Verdict

Solver = Callable[[SearchGraph, SearchQuery], Verdict]


@pytest.mark.parametrize("solver", [simple.search, engine.search], ids=["simple", "compiled"])
@pytest.mark.parametrize("charging", [False, True])
def test_four_threads_get_the_answers_of_one(solver: Solver, charging: bool) -> None:
    """Same steps and same bounds on a fresh graph, whoever asks first and grows the kept fields how far; goals as sets among them."""
    world = random_town(11, charging=charging, way_back=True, closings=True, side=9)
    queries = [
        query_of(world, start=start, goals=goals, charge_wh=charge, capacity_wh=40.0)
        for start in range(0, 60, 5)
        for goals in ((70,), (8, 77), (40, 3))
        for charge in (6.0, 14.0, 30.0)
    ]
    alone = [solver(graph, query) for graph in [graph_of(world)] for query in queries]
    fresh = graph_of(world)
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda query: solver(fresh, query), queries))
    assert [(v.steps, v.lower_bound_s) for v in together] == [(v.steps, v.lower_bound_s) for v in alone]
    assert sum(v.steps is not None for v in alone) >= 10
    assert sum(v.steps is None for v in alone) >= 10
