"""Fetching goes through one function that takes a fetcher: no test opens a socket."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from rollroute.errors import InputError
from rollroute.inputs.download import fetch_graph
from rollroute.network.kinds import WayKind
from rollroute.network.tables import from_osmnx, to_networkx


def _graph() -> nx.MultiDiGraph:
    """Two pieces of street and a flight of steps, as osmnx hands them out: both directions of a street are edges."""
    graph = nx.MultiDiGraph(crs="epsg:4326")
    for node, (x, y) in {1: (-37.30, 45.20), 2: (-37.299, 45.20), 3: (-37.299, 45.201)}.items():
        graph.add_node(node, x=x, y=y)
    for u, v in ((1, 2), (2, 1)):
        graph.add_edge(u, v, osmid=10, highway="residential", name="Mill Street", length=78.5, oneway=False)
    graph.add_edge(2, 3, osmid=11, highway="steps", length=111.2, oneway=False)
    graph.add_edge(3, 2, osmid=11, highway="steps", length=111.2, oneway=False)
    return graph


def test_a_place_and_a_box_reach_the_fetcher_as_given() -> None:
    """The fetcher is asked once, with what the user said."""
    asked: list[object] = []
    for where in ("Quillhaven", (-37.32, 45.19, -37.28, 45.21)):
        fetch_graph(where, lambda w: (asked.append(w), _graph())[1])
    assert asked == ["Quillhaven", (-37.32, 45.19, -37.28, 45.21)]


def test_a_fetched_graph_becomes_a_network_with_each_piece_once() -> None:
    """The two directions of a street are one piece, and stairs stay stairs."""
    network = from_osmnx(fetch_graph("Quillhaven", lambda _: _graph()))
    assert sorted(network.pieces.kind.tolist()) == [WayKind.STEPS, WayKind.RESIDENTIAL]
    assert network.ways.osm_id.tolist() == [10, 11]
    # 0.001° of longitude at 45.2° N on WGS 84: cos(45.2°) × 111 413 m ≈ 78.6 m
    assert np.isclose(network.pieces.length_m.min(), 78.6, atol=0.1)


def test_a_network_goes_out_and_comes_back() -> None:
    """What is exported in osmnx's conventions can be read again."""
    graph = to_networkx(from_osmnx(_graph()))
    assert graph.graph["crs"] == "EPSG:4326"
    assert {"geometry", "length", "osmid"} <= set(next(iter(graph.edges(data=True)))[2])
    assert graph.number_of_edges() == 4


def test_a_box_inside_out_and_a_dead_line_are_told_with_a_remedy() -> None:
    """No traceback of a network library reaches the user."""
    with pytest.raises(InputError, match="west, south, east, north"):
        fetch_graph((1.0, 2.0, 0.0, 3.0), lambda _: _graph())

    def dead(_: object) -> nx.MultiDiGraph:
        raise OSError("no route to host")

    with pytest.raises(InputError, match="map file"):
        fetch_graph("Quillhaven", dead)
