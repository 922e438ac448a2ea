"""Without constraints the search is a shortest path: on the real extract equal to scipy's and networkx's to 1e-9, by both solvers.

``tests/benchmarks/unconstrained.py`` asks more pairs, and igraph too (GPL: in benchmarks only).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence

import networkx as nx
import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from test_many_worlds import SOLVERS

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.journey import PREFERENCES, search_graph
from rollroute.network.network import Network
from rollroute.search.drive import drive
from rollroute.search.problem import SearchGraph, SearchQuery
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import weigh

Peer = Callable[[int, Sequence[int]], list[float]]  # costs from a node to others, inf where there is no way
CLOSE = 1e-9


def graph_for(network: Network, chair_name: str, preference: str) -> SearchGraph:
    """The extract as one chair and preference meet it."""
    chair = find_chair(chair_name)
    drive_of_chair = calibrate(chair)
    scenario = plan_scenario(chair, drive_of_chair, parse_charge("90%", chair.gauge), temperature_c=18.0)
    noon = dt.datetime(2026, 6, 1, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=3)))
    weights = weigh(network, chair, drive_of_chair, scenario.factors, Conditions(departure=noon, temperature_c=18.0))
    return search_graph(network, weights, PREFERENCES[preference])


def cheapest_arcs(graph: SearchGraph) -> dict[tuple[int, int], float]:
    """Of parallel edges the cheapest: matrices and simple graphs hold one."""
    arcs: dict[tuple[int, int], float] = {}
    for e in np.flatnonzero(graph.is_passable).tolist():
        key = int(graph.tail[e]), int(graph.head[e])
        arcs[key] = min(arcs.get(key, math.inf), float(graph.cost_s[e]))
    return arcs


def scipy_peer(graph: SearchGraph) -> Peer:
    """One-to-all Dijkstra of scipy."""
    arcs = cheapest_arcs(graph)
    tail, head = (np.array([key[i] for key in arcs]) for i in (0, 1))
    matrix = csr_array((np.array(list(arcs.values())), (tail, head)), shape=(graph.n_nodes, graph.n_nodes))
    return lambda start, goals: [float(c) for c in dijkstra(matrix, indices=start)[list(goals)]]


def networkx_peer(graph: SearchGraph) -> Peer:
    """One-to-all Dijkstra of networkx, in plain Python."""
    script = nx.DiGraph()
    script.add_nodes_from(range(graph.n_nodes))
    script.add_weighted_edges_from((u, v, cost) for (u, v), cost in cheapest_arcs(graph).items())

    def ask(start: int, goals: Sequence[int]) -> list[float]:
        lengths = nx.single_source_dijkstra_path_length(script, start)
        return [lengths.get(goal, math.inf) for goal in goals]

    return ask


def ask_solver(graph: SearchGraph, name: str, start: int, goal: int) -> float:
    """The cost of the driven route, inf where it is proven that there is none."""
    query = SearchQuery(start=start, goals=(goal,), charge_wh=1e9, capacity_wh=1e9)
    verdict = SOLVERS[name](graph, query)
    assert verdict.is_proven
    return math.inf if verdict.steps is None else drive(graph, query, verdict).cost_s


def largest_difference(graph: SearchGraph, peer: Peer, starts: int, goals: int, seed: int) -> tuple[float, int, int]:
    """Largest relative difference of any solver, and how many pairs had a way and how many had none. inf where one finds a way alone."""
    rng = np.random.default_rng(seed)
    nodes = np.unique(graph.tail[graph.is_passable])
    worst, n_ways, n_none = 0.0, 0, 0
    for _ in range(starts):
        start, *ends = (int(v) for v in rng.choice(nodes, goals + 1, replace=False))
        for goal, expected in zip(ends, peer(start, ends), strict=True):
            for name in SOLVERS:
                found = ask_solver(graph, name, start, goal)
                if found != expected:
                    worst = max(worst, abs(found - expected) / max(expected, 1e-300) if math.isfinite(found + expected) else math.inf)
            n_ways += math.isfinite(expected)
            n_none += math.isinf(expected)
    return worst, n_ways, n_none


@pytest.mark.parametrize("peer", [scipy_peer, networkx_peer])
@pytest.mark.parametrize(("chair", "preference"), [("en12184-c", "quickest"), ("en12184-a", "surest")])
def test_costs_equal_those_of_shortest_path_libraries(
    helsinki: Network, peer: Callable[[SearchGraph], Peer], chair: str, preference: str
) -> None:
    """Random pairs of central Helsinki, with and without a way between them."""
    graph = graph_for(helsinki, chair, preference)
    worst, n_ways, n_none = largest_difference(graph, peer(graph), starts=6, goals=6, seed=1959)
    assert worst <= CLOSE
    assert n_ways >= 5
    assert n_none >= 5 or chair == "en12184-c"
