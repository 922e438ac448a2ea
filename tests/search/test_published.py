"""Worked examples from outside, typed with their source."""

from __future__ import annotations

import math

import networkx as nx
import pytest
from worlds import Outlet, Piece, World, graph_of, query_of

from rollroute.search.compiled import engine
from rollroute.search.drive import drive
from rollroute.search.find import find_route
from rollroute.search.problem import ProvenNoRouteError


def world(arcs: list[tuple[int, int, float, float]], start: int, goal: int, limit: float = 1e6, *, both_ways: bool = False) -> World:
    """Arcs (from, to, cost, resource); the resource is spent from the battery."""
    pieces = [Piece(u, v, 0.0, cost, used) for u, v, cost, used in arcs]
    if both_ways:
        pieces += [Piece(v, u, 0.0, cost, used) for u, v, cost, used in arcs]
    return World(1 + max(max(u, v) for u, v, _, _ in arcs), pieces, start, [goal], charge=limit)


def solved(w: World) -> tuple[float, str]:
    """Cost and nodes of the best route; the compiled solver must give the same cost, and say so where there is no way."""
    graph, query = graph_of(w), query_of(w)
    compiled = engine.search(graph, query)
    try:
        route = find_route(graph, query)
    except ProvenNoRouteError:
        assert compiled.is_proven
        assert compiled.steps is None
        raise
    assert route.is_proven
    assert compiled.steps is not None
    assert drive(graph, query, compiled).cost_s == pytest.approx(route.cost_s, abs=1e-9)
    return route.cost_s, "-".join(map(str, route.nodes))


ROSETTA = [(0, 1, 7), (0, 2, 9), (0, 5, 14), (1, 2, 10), (1, 3, 15), (2, 3, 11), (2, 5, 2), (3, 4, 6), (4, 5, 9)]


@pytest.mark.parametrize(
    ("goal", "both_ways", "cost", "way"),
    [(4, False, 26, "0-2-3-4"), (5, False, 11, "0-2-5"), (3, False, 20, "0-2-3"), (4, True, 20, "0-2-5-4")],
)
def test_dijkstra_example_of_rosetta_code(goal: int, both_ways: bool, cost: float, way: str) -> None:
    """a..f = 0..5; RosettaCodeData, task "Dijkstra's algorithm" (first relaxations 7, 9, 14; the rest of the graph from memory)."""
    w = world([(u, v, c, 0.0) for u, v, c in ROSETTA], 0, goal, both_ways=both_ways)
    assert solved(w) == (cost, way)


def boost_world(*, windows: bool) -> World:
    """A..E = 0..4. A node's latest time is put on the arcs into it; the wait of 1 at C (opens at 6) on A-C, the only arc out of A."""
    latest = {0: 0.0, 1: 20.0, 2: 10.0, 3: 12.0, 4: 100.0}
    arcs = [(0, 2, 1, 6), (1, 3, 1, 2), (1, 4, 2, 7), (2, 1, 7, 3), (2, 3, 3, 8), (3, 4, 1, 3), (4, 0, 1, 5), (4, 1, 1, 4)]
    pieces = [Piece(u, v, float(t), float(c - t), 0.0, closes=latest[v] if windows else math.inf) for u, v, c, t in arcs]
    return World(5, pieces, 0, [4], charge=1.0)


def test_time_window_example_of_boost() -> None:
    """Boost, example/r_c_shortest_paths_example.cpp: A C D E without windows (cost 5).

    With windows A C B D E (cost 10, time 14) is the only one not dominated: A C B E costs as much and takes 16.
    """
    assert solved(boost_world(windows=False)) == (5.0, "0-2-3-4")
    assert solved(boost_world(windows=True))[0] == 10.0
    in_time = boost_world(windows=True)
    in_time.latest = 14.0
    assert solved(in_time) == (10.0, "0-2-1-3-4")
    in_time.latest = 13.9
    with pytest.raises(ProvenNoRouteError):
        solved(in_time)


AHUJA = [(1, 2, 1, 10), (1, 3, 10, 3), (2, 4, 1, 1), (2, 5, 2, 3), (3, 2, 1, 2), (3, 4, 5, 7), (3, 5, 12, 3), (4, 5, 10, 1), (4, 6, 1, 7)]
AHUJA = [*AHUJA, (5, 6, 2, 2)]


@pytest.mark.parametrize(("limit", "cost", "way"), [(14, 13, "1-3-2-4-6"), (18, 3, "1-2-4-6"), (1e6, 3, "1-2-4-6")])
def test_constrained_path_of_ahuja_magnanti_orlin(limit: float, cost: float, way: str) -> None:
    """The six-node graph of "Network Flows" that "A Primer in Column Generation" uses (graph from memory, answers by enumeration)."""
    assert solved(world(AHUJA, 1, 6, limit)) == (cost, way)


JAVA = [(0, 1, 4, 2), (0, 2, 3, 3), (1, 3, 2, 1), (2, 3, 5, 2), (2, 4, 8, 4), (3, 5, 7, 3), (3, 6, 6, 2), (4, 6, 3, 2), (5, 7, 1, 1)]
JAVA = [*JAVA, (6, 7, 2, 2), (7, 8, 3, 1), (8, 9, 2, 1)]


def enumerated(arcs: list[tuple[int, int, float, float]], start: int, goal: int) -> list[tuple[float, float, str]]:
    """(cost, resource, way) of every simple path, by networkx; cheapest first."""
    graph = nx.DiGraph()
    for u, v, cost, used in arcs:
        graph.add_edge(u, v, cost=cost, used=used)
    ways = nx.all_simple_paths(graph, start, goal)
    return sorted((nx.path_weight(graph, w, "cost"), nx.path_weight(graph, w, "used"), "-".join(map(str, w))) for w in ways)


def test_the_column_generation_example_has_the_paths_that_the_book_discusses() -> None:
    """Nine paths; 1-2-4-6 is cheapest (3) and takes 18, 1-3-2-4-6 costs 13 in 13, 1-2-4-5-6 costs 14 in 14 (facts of the same example).

    The Lagrangian bound of the book is 7: the least cost + 2 × (time − 14), at multiplier 2. It lies under the optimum, as a bound must.
    """
    paths = enumerated(AHUJA, 1, 6)
    assert len(paths) == 9
    assert paths[0] == (3, 18, "1-2-4-6")
    assert (13, 13, "1-3-2-4-6") in paths
    assert min(p for p in paths if p[1] <= 14 and p[2] != "1-3-2-4-6") == (14, 14, "1-2-4-5-6")
    bound = {m: min(cost + m * (time - 14) for cost, time, _ in paths) for m in (0, 1, 2, 3, 4)}
    assert max(bound.values()) == bound[2] == 7


@pytest.mark.parametrize("name", ["ahuja", "java"])
def test_every_limit_of_the_published_graphs(name: str) -> None:
    """From too little for any path to enough for all, in half units: the cheapest path within the limit, by enumeration."""
    arcs, start, goal = (AHUJA, 1, 6) if name == "ahuja" else (JAVA, 0, 9)
    paths = enumerated(arcs, start, goal)
    answers = set()
    for half in range(41):
        within = [cost for cost, used, _ in paths if used <= half / 2]
        if not within:
            with pytest.raises(ProvenNoRouteError):
                solved(world(arcs, start, goal, half / 2))
            continue
        answers.add(min(within))
        assert solved(world(arcs, start, goal, half / 2))[0] == min(within)
    assert len(answers) >= (4 if name == "ahuja" else 1)


@pytest.mark.parametrize(
    ("arcs", "goal", "limit", "cost"),
    [
        (JAVA, 9, 10, 19),
        ([(0, 1, 2, 3), (1, 2, 3, 2)], 2, 5, 5),  # a limit met exactly is met
        ([(0, 1, 1, 1), (1, 3, 5, 2), (0, 2, 2, 1), (2, 3, 3, 2)], 3, 3, 5),
    ],
)
def test_constrained_paths_of_the_algorithms_java(arcs: list[tuple[int, int, float, float]], goal: int, limit: float, cost: float) -> None:
    """TheAlgorithms/Java, ConstrainedShortestPathTest.java."""
    assert solved(world(arcs, 0, goal, limit))[0] == cost


def test_the_large_graph_of_the_algorithms_java_has_two_best_paths() -> None:
    """Cost 19 twice, with 9 of the resource; the next costs 21 and takes 11, over the limit of 10 (by enumeration)."""
    paths = enumerated(JAVA, 0, 9)
    assert [p[:2] for p in paths[:3]] == [(19, 9), (19, 9), (21, 11)]


def test_a_limit_missed_by_four_is_refused() -> None:
    """TheAlgorithms/Java, the same file: (2,6),(3,6) with limit 5 has no path. Needs 12, has 5: 7 short."""
    w = world([(0, 1, 2, 6), (1, 2, 3, 6)], 0, 2, 5)
    with pytest.raises(ProvenNoRouteError) as caught:
        find_route(graph_of(w), query_of(w))
    assert caught.value.failures[0].short_by == pytest.approx(7.0, abs=0.011)


def test_charge_never_rises_above_the_capacity() -> None:
    """Battery semantics of Dorfman, Kaplan, Tarjan and Zwick (2023): never above B. An outlet of 100 Wh fills a 10 Wh battery to 10."""
    w = World(3, [Piece(0, 1, 1.0, 0.0, 2.0), Piece(1, 2, 1.0, 0.0, 10.0)], 0, [2], charge=5.0, capacity=10.0)
    w.outlets = [Outlet(1, [(100.0, 1.0)])]
    route = find_route(graph_of(w), query_of(w))
    assert route.stop_uses[0].leave_wh == 10.0
    assert route.cost_s == 1.0 + 7.0 + 1.0  # drive, 3 Wh to 10 Wh at 1 s per Wh, drive
    w.pieces[1].energy = 10.1
    with pytest.raises(ProvenNoRouteError):
        find_route(graph_of(w), query_of(w))
