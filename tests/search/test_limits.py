"""Work limits and networks opened by memory map, through ``find_route`` and the compiled engine."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from worlds import graph_of, query_of, random_town

from rollroute.errors import InputError
from rollroute.network.storage import read_arrays, write_arrays
from rollroute.search import find
from rollroute.search.audit import audit
from rollroute.search.compiled import chains, engine
from rollroute.search.find import find_route
from rollroute.search.least import least_charge, what_charge_buys
from rollroute.search.matrix import constrained_matrix
from rollroute.search.pareto import pareto_set
from rollroute.search.problem import ProvenNoRouteError, SearchGraph, WorkLimitError


@pytest.mark.parametrize("most_nodes", [0, 10**9], ids=["compiled", "simple"])
def test_a_limit_ends_in_a_marked_route_or_says_that_nothing_is_decided(most_nodes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never an unmarked route, never "no way" without a proof; the gap bounds the true optimum."""
    monkeypatch.setattr(find, "SIMPLE_UP_TO_NODES", most_nodes)
    marked, bounds = 0, []
    for seed in range(40):
        world = random_town(seed, charging=True, way_back=True, closings=True, side=6)
        graph = graph_of(world)
        try:
            best = find_route(graph, query_of(world)).cost_s
        except ProvenNoRouteError:
            continue
        try:
            route = find_route(graph, query_of(world, work_limit=6))
        except WorkLimitError as error:
            bounds.append(error.lower_bound_s - best)
            continue
        assert audit(graph, query_of(world), route) == []
        assert route.lower_bound_s <= best + 1e-6
        assert route.cost_s * (1.0 - route.gap) <= best + 1e-6
        marked += not route.is_proven
        if route.is_proven:
            assert route.cost_s == pytest.approx(best, abs=1e-6)
    assert all(over <= 1e-6 for over in bounds)
    assert marked + len(bounds) >= 5


def test_a_graph_mapped_from_a_file_is_answered_without_compiling_again(tmp_path: Path) -> None:
    """Arrays of a mapped file can't be written to; kernels must not be compiled a second time for that."""
    world = random_town(5, charging=False, way_back=True, closings=True, side=7)
    graph = graph_of(world)
    expected = engine.search(graph, query_of(world))
    names = [f.name for f in fields(SearchGraph) if isinstance(getattr(graph, f.name), np.ndarray)]
    path = tmp_path / "graph.npz"
    write_arrays(path, {name: getattr(graph, name) for name in names} | {"about": np.frombuffer(b'{"version": 1}', np.uint8)})
    mapped = SearchGraph(graph.n_nodes, **read_arrays(path, version=1)[0])
    assert not mapped.tail.flags.writeable
    kernels = (chains.peel, chains.mark_open, chains.mark_meetings, chains.mark_kept, chains.sort_edges, chains.add_up, chains.energy_back)
    before = [len(kernel.signatures) for kernel in kernels]
    assert engine.search(mapped, query_of(world)).steps == expected.steps
    assert [len(kernel.signatures) for kernel in kernels] == before


def test_an_edge_that_costs_less_than_its_time_is_refused_where_a_stop_opens_later() -> None:
    """Driving about until it opens would be cheaper than waiting, without end; without opening hours it is allowed."""
    world = next(w for seed in range(99) if (w := random_town(seed, charging=True, way_back=False, closings=False)).outlets)
    graph, query = graph_of(world), query_of(world)
    cheap = replace(graph, cost_s=graph.cost_s * 0.01)
    late = replace(query, stops=tuple(replace(stop, opens_s=60.0, closes_s=math.inf) for stop in query.stops))
    replace(query, stops=tuple(replace(stop, opens_s=0.0) for stop in query.stops)).check_against(cheap)
    late.check_against(graph)
    for ask in (
        lambda: find_route(cheap, late),
        lambda: pareto_set(cheap, late),
        lambda: constrained_matrix(cheap, late, [0], [1]),
        lambda: least_charge(cheap, late),
        lambda: what_charge_buys(cheap, late, [5.0]),
    ):
        with pytest.raises(InputError, match="Let the cost hold the time"):
            ask()
