"""A roll searched in the part of the map that its limit leaves is the roll that the whole map gives."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.sparse.csgraph import dijkstra

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.journey import PREFERENCES, search_graph, search_query
from rollroute.network.network import Network
from rollroute.planning.cut_out import between, cut_out
from rollroute.planning.make_plan import needs_of
from rollroute.planning.network_travel import finder_of
from rollroute.planning.places import locate
from rollroute.planning.town import Town, shared_chair
from rollroute.search.find import finish
from rollroute.search.simple import search
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario

PAIRS = [("R05", "North Quay School"), ("R05", "Tannery Hall"), ("R09", "North Quay School"), ("R11", "Tannery Hall")]


@pytest.fixture(scope="module")
def move() -> Move:
    return read_move(data_dir() / "quillhaven")


@pytest.fixture(scope="module")
def town(move: Move, quillhaven: Network) -> Town:
    return Town(quillhaven, move, locate(move, quillhaven))


@pytest.mark.parametrize(("rider", "shelter"), PAIRS)
def test_the_part_gives_the_route_of_the_whole(rider: str, shelter: str, town: Town, move: Move, quillhaven: Network) -> None:
    """With a limit of 1.5 times its time, the best route of the whole map lies in the part; edges and cost come back the same."""
    needs = next(n for n in needs_of(move)[0] if n.id == rider)
    view, finder = town.view(needs), finder_of(quillhaven, move)
    trip = dataclasses.replace(finder.trip(needs, shelter), sockets=())
    chair = shared_chair(needs)
    scenario = plan_scenario(chair, calibrate(chair), trip.reading, temperature_c=trip.conditions.planned_temperature_c)
    weights = dataclasses.replace(view.weights, planned_energy_wh=view.weights.planned_energy_wh * scenario.factors.energy)
    graph = search_graph(town.network, weights, PREFERENCES[trip.preference])
    start, goal = town.node["rider", rider], town.node["shelter", shelter]
    query = dataclasses.replace(search_query(trip, scenario, [start, goal], charges=False)[0], work_limit=None)
    whole = finish(graph, query, search(graph, query))

    ahead = dijkstra(view.ahead.minutes, indices=start)
    is_in = between(ahead, town.minutes_to(view, goal), 1.5 * whole.time_s / 60.0)
    part = cut_out(graph, is_in)
    found = part.route(finish(part.graph, part.query(query), search(part.graph, part.query(query))), query)

    assert part.graph.n_nodes < graph.n_nodes
    assert is_in[whole.nodes].all()
    assert np.array_equal(found.edges, whole.edges)
    assert found.cost_s == pytest.approx(whole.cost_s)
