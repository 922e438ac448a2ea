"""Many to many: bounds against scipy and the search itself, on small maps and through the compiled engine."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse.csgraph import csgraph_from_dense, dijkstra
from worlds import graph_of, query_of, random_town

from rollroute.search import matrix, simple
from rollroute.search.compiled.core import core_of
from rollroute.search.compiled.engine import engine_of
from rollroute.search.drive import drive
from rollroute.search.matrix import constrained_matrix, travel_matrix
from rollroute.search.problem import SearchGraph


def by_bellman_ford(graph: SearchGraph, weight: np.ndarray, goal: int) -> np.ndarray:
    """Least sum to a goal by relaxing every edge until nothing changes; shares no code with the fields."""
    dist = np.full(graph.n_nodes, math.inf)
    dist[goal] = 0.0
    for _ in range(graph.n_nodes):
        before = dist.copy()
        for e in np.flatnonzero(graph.is_passable):
            dist[graph.tail[e]] = min(dist[graph.tail[e]], weight[e] + dist[graph.head[e]])
        if np.array_equal(before, dist):
            break
    return dist


@pytest.mark.parametrize("seed", range(6))
def test_matrices_equal_bellman_ford_on_small_and_large_maps(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Starts and goals in chains, in dead ends, on crossings, and one that is both; with and without the compiled engine."""
    graph = graph_of(random_town(seed, charging=False, way_back=False, closings=False, side=5))
    starts, goals = list(range(0, graph.n_nodes, 2)), [0, 3, graph.n_nodes - 1, graph.n_nodes // 2]
    for most in (10**9, 0):
        monkeypatch.setattr(matrix, "SIMPLE_UP_TO_NODES", most)
        found = travel_matrix(graph, starts, goals)
        for weight, ours in ((graph.cost_s, found.cost_s), (graph.time_s, found.time_s), (graph.energy_wh, found.energy_wh)):
            for column, goal in enumerate(goals):
                assert ours[:, column] == pytest.approx(by_bellman_ford(graph, weight, goal)[starts], abs=1e-9)


def test_weights_not_asked_for_are_unknown_not_zero() -> None:
    """A matrix of time and energy has no cost."""
    graph = graph_of(random_town(1, charging=False, way_back=False, closings=False, side=3))
    found = travel_matrix(graph, [0, 1], [2], weights=("time", "energy"))
    assert np.isnan(found.cost_s).all()
    assert not np.isnan(found.time_s).any()


@pytest.mark.parametrize("seed", range(4))
def test_the_filter_never_refuses_what_the_search_can_do(seed: int) -> None:
    """``may_reach`` is proven where it says no, and the constrained cost is no less than the bound."""
    world = random_town(seed, charging=False, way_back=True, closings=True, side=4)
    graph, query = graph_of(world), query_of(world)
    starts, goals = list(range(0, graph.n_nodes, 5)), [1, graph.n_nodes - 2]
    bounds = travel_matrix(graph, starts, goals)
    cost, is_proven = constrained_matrix(graph, query, starts, goals)
    may = bounds.may_reach(np.full(len(starts), query.charge_wh - query.reserve_wh))
    assert is_proven.all()
    assert np.isinf(cost[~may]).all()
    assert (cost >= bounds.cost_s - 1e-9).all()
    for row, column in np.ndindex(cost.shape):
        asked = query_of(world, start=starts[row], goals=(goals[column],))
        verdict = simple.search(graph, asked)
        expected = math.inf if verdict.steps is None else drive(graph, asked, verdict).cost_s
        assert cost[row, column] == pytest.approx(expected, abs=1e-9)


def test_a_change_of_chair_takes_over_the_shape_and_gives_the_distances_of_a_fresh_engine() -> None:
    """Another chair on the same map: other weights, other barred edges, other doubts. A copy of the map shares nothing and must agree."""
    rng = np.random.default_rng(5)
    n_shared = 0
    for seed in range(30):
        graph = graph_of(random_town(seed, charging=False, way_back=True, closings=False, side=6))
        engine_of(graph).ground()
        barred = rng.random(graph.n_edges) < 0.1
        other = replace(graph, energy_wh=graph.energy_wh * 1.7, is_passable=graph.is_passable & ~barred)
        fresh = replace(other, tail=other.tail.copy())
        starts, goals = rng.integers(0, graph.n_nodes, 12).tolist(), rng.integers(0, graph.n_nodes, 4).tolist()
        weights = ("energy", "time", "cost")
        ours, theirs = (engine_of(each).distances(starts, goals, weights) for each in (other, fresh))
        for k in range(3):
            assert ours[k] == pytest.approx(theirs[k], abs=1e-9)
        n_shared += engine_of(other).ground().skeleton.node is engine_of(graph).ground().skeleton.node
    assert n_shared > 20, "most chairs find the shape of the map ready"


def test_a_core_keeps_every_distance_between_the_nodes_that_it_keeps() -> None:
    """Against scipy on the whole map: nodes are taken out and bridged for two weights at once, and the largest squares are kept."""
    for seed in range(12):
        graph = graph_of(random_town(seed, charging=False, way_back=False, closings=False, side=9))
        skeleton = engine_of(graph).ground().skeleton
        keep = np.random.default_rng(seed).choice(skeleton.n_nodes, 6, replace=False).astype(np.int32)
        core = core_of(skeleton, [skeleton.time_s[skeleton.in_arc], skeleton.energy_wh[skeleton.in_arc]], keep)
        assert core.n_nodes < skeleton.n_nodes
        e = graph.is_passable
        for weight, row in ((graph.time_s, 0), (graph.energy_wh, 1)):
            whole = by_scipy(graph.n_nodes, graph.tail[e], graph.head[e], weight[e])[np.ix_(skeleton.node[keep], skeleton.node[keep])]
            head = np.repeat(np.arange(core.n_nodes), np.diff(core.in_start))
            small = by_scipy(core.n_nodes, core.in_tail, head, core.weight_into[row])
            assert small[np.ix_(core.index[keep], core.index[keep])] == pytest.approx(whole, abs=1e-9)


def by_scipy(n: int, tail: np.ndarray, head: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """(n, n) least sums; of parallel edges the least counts."""
    order = np.argsort(-weight, kind="stable")  # the last one written stays
    dense = np.full((n, n), np.inf)
    dense[tail[order], head[order]] = weight[order]
    return dijkstra(csgraph_from_dense(dense, null_value=np.inf))
