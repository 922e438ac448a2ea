"""The real extract read again by plain pyosmium, sharing no project code: both must have seen the same things."""

from __future__ import annotations

from collections import Counter

import numpy as np
import osmium
import pytest
from helsinki import helsinki_pbf

from rollroute.network.facts.points import PlaceKind
from rollroute.network.kinds import WayKind
from rollroute.network.network import Flag, Network
from rollroute.network.tags import USED_KEYS


@pytest.fixture(scope="module")
def reread() -> tuple[list[tuple[int, dict[str, str], bool]], dict[int, dict[str, str]], int]:
    """Ways on foot with tags, tagged nodes, and the number of values of used keys."""
    ways, nodes, n_values = [], {}, 0
    for item in osmium.FileProcessor(str(helsinki_pbf()), osmium.osm.NODE | osmium.osm.WAY).with_locations():
        tags = dict(item.tags)
        if item.is_node():
            if tags:
                nodes[item.id] = tags
        elif "highway" in tags or "indoor" in tags or tags.get("railway") == "platform":
            placed = [r.location.valid() for r in item.nodes]
            ways.append((item.id, tags, sum(placed) >= 2))
    n_values = sum(k in USED_KEYS for _, tags, _ in ways for k in tags) + sum(k in USED_KEYS for tags in nodes.values() for k in tags)
    return ways, nodes, n_values


def ids_of(network: Network, mask: np.ndarray) -> set[int]:
    return set(network.ways.osm_id[network.pieces.way[mask]].tolist())


def test_steps_are_the_same(helsinki: Network, reread) -> None:
    ours = ids_of(helsinki, np.isin(helsinki.pieces.kind, [int(WayKind.STEPS), int(WayKind.ESCALATOR)]))

    assert ours == {i for i, tags, is_there in reread[0] if tags.get("highway") == "steps" and is_there}


def test_tunnels_and_passages_are_the_same(helsinki: Network, reread) -> None:
    """Ways on foot only: motorways in tunnels are in neither."""
    foot = {"footway", "path", "steps", "pedestrian", "cycleway"}
    mine = {i for i, t, is_there in reread[0] if is_there and t.get("highway") in foot and t.get("tunnel", "no") != "no"}
    ours = ids_of(helsinki, (helsinki.pieces.flags & np.uint32(Flag.TUNNEL)) != 0)

    assert mine <= ours


def test_wheelchair_values_are_the_same(helsinki: Network, reread) -> None:
    words = {"yes": 1, "designated": 1, "limited": 2, "no": 3}
    on_network = ids_of(helsinki, np.ones(helsinki.n_pieces, bool))
    mine = {i: words[t["wheelchair"]] for i, t, _ in reread[0] if i in on_network and t.get("wheelchair") in words}
    rows = helsinki.pieces.wheelchair > 0
    ways = helsinki.ways.osm_id[helsinki.pieces.way[rows]].tolist()

    assert dict(zip(ways, helsinki.pieces.wheelchair[rows].tolist(), strict=True)) == mine


def test_barriers_and_lifts_on_ways_are_the_same(helsinki: Network, reread) -> None:
    """Kerbs, gaps and bars that only stop high vehicles are no barriers here."""
    on_network = set(helsinki.nodes.osm_id.tolist())
    passed = {"kerb", "entrance", "height_restrictor", "gap", "no"}
    mine = Counter("barrier" for i, t in reread[1].items() if i in on_network and t.get("barrier", "kerb") not in passed)
    mine += Counter("lift" for i, t in reread[1].items() if i in on_network and t.get("highway") == "elevator")
    kinds = helsinki.places.kind

    assert int((kinds == PlaceKind.BARRIER).sum()) == mine["barrier"]
    assert int((kinds == PlaceKind.LIFT).sum()) == mine["lift"]


def test_under_one_value_in_a_hundred_is_not_understood(helsinki: Network, reread) -> None:
    """The bar of the table that `build` prints."""
    assert len(helsinki.about["problems"]) < 0.01 * reread[2]
