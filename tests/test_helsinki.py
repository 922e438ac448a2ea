"""The main job on real map data: central Helsinki, checked against plain osmium, networkx and brute force."""

from __future__ import annotations

import dataclasses
import datetime as dt

import networkx as nx
import numpy as np
import osmium
import pytest
from helsinki import helsinki_pbf

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.journey import PREFERENCES, Trip, _join_places, plan_journey, search_graph
from rollroute.network.facts.points import PlaceKind
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.network.tables import edges, to_networkx
from rollroute.search.audit import audit
from rollroute.search.find import find_route
from rollroute.search.problem import FailureKind, ProvenNoRouteError, SearchQuery
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

NOON = dt.datetime(2026, 6, 1, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=3)))
CONDITIONS = Conditions(departure=NOON, temperature_c=18.0)
CHAIRS = ("en12184-a", "en12184-b", "en12184-c")


def _weights(network: Network, chair_name: str) -> EdgeWeights:
    chair = find_chair(chair_name)
    drive = calibrate(chair)
    scenario = plan_scenario(chair, drive, parse_charge("90%", chair.gauge), temperature_c=18.0)
    return weigh(network, chair, drive, scenario.factors, CONDITIONS)


def _plain_count() -> dict[str, set[int]]:
    """Ids by kind, counted with osmium alone; ways that lie whole or in part in the extract with at least two known nodes."""
    found: dict[str, set[int]] = {"steps": set(), "lift": set(), "wheelchair": set()}
    for item in osmium.FileProcessor(str(helsinki_pbf()), osmium.osm.NODE | osmium.osm.WAY).with_locations():
        tags = dict(item.tags)
        if item.is_node():
            if tags.get("highway") == "elevator":
                found["lift"].add(item.id)
            continue
        n_known = sum(1 for ref in item.nodes if ref.location.valid())
        if n_known < 2 or "highway" not in tags:
            continue
        if tags["highway"] == "steps" and tags.get("conveying", "no") == "no":
            found["steps"].add(item.id)
        if tags.get("wheelchair") in ("yes", "no", "limited", "designated"):
            found["wheelchair"].add(item.id)
    return found


def test_steps_lifts_and_wheelchair_tags_equal_a_plain_count(helsinki: Network) -> None:
    """What a reader of the file without our code finds is what the network holds."""
    counted = _plain_count()
    way_ids = helsinki.ways.osm_id[helsinki.pieces.way]
    assert set(way_ids[helsinki.pieces.kind == WayKind.STEPS].tolist()) == counted["steps"]
    assert len(counted["steps"]) > 100
    lifts = set(helsinki.places.osm_id[helsinki.places.kind == PlaceKind.LIFT].tolist())
    on_ways = set(helsinki.nodes.osm_id.tolist())
    assert lifts == counted["lift"] & on_ways
    assert set(way_ids[helsinki.pieces.wheelchair > 0].tolist()) == counted["wheelchair"] & set(way_ids.tolist())


@pytest.mark.parametrize("chair_name", CHAIRS)
def test_no_weight_is_missing_and_no_stairs_are_open(helsinki: Network, chair_name: str) -> None:
    """A NaN weight would let a search treat an unknown as free; stairs are never a way."""
    weights = _weights(helsinki, chair_name)
    for name in ("time_s", "planned_time_s", "energy_wh", "planned_energy_wh", "surprisal", "discomfort_s"):
        values = getattr(weights, name)
        assert np.isfinite(values).all(), name
        assert (values >= 0).all(), name
    stairs = np.repeat(helsinki.pieces.kind == WayKind.STEPS, 2) & ~np.repeat((helsinki.pieces.flags & 4096) != 0, 2)
    assert not weights.is_passable[stairs].any()


@pytest.mark.parametrize("chair_name", ["en12184-b", "en12184-c"])
def test_a_route_across_the_real_centre_keeps_every_rule(helsinki: Network, chair_name: str) -> None:
    """From the railway square to the south harbour, about 1 km, audited; no kerb is tagged there, so much is unverified, and says so."""
    chair = find_chair(chair_name)
    trip = Trip(
        start=FoundPlace("Railway square", 24.9435, 60.1713, "position"),
        goal=FoundPlace("South harbour", 24.9515, 60.1675, "position"),
        chair=chair,
        reading=parse_charge("90%", chair.gauge),
        conditions=CONDITIONS,
    )
    journey = plan_journey(helsinki, trip)
    graph = search_graph(journey.network, journey.weights, PREFERENCES["surest"])
    assert audit(graph, journey.query, journey.route) == []
    assert journey.route.is_proven
    length_m = journey.network.pieces.length_m[journey.route.edges // 2].sum()
    assert 600 < length_m < 3000
    assert journey.weights.is_unverified[journey.route.edges].any()


def test_an_indoor_chair_gets_a_proof_instead_of_a_way(helsinki: Network) -> None:
    """Class A climbs 15 mm and must not drive on setts: across the old centre there is no way for it.

    That no passable way exists is checked with networkx on the exported graph; the search names the same reason.
    """
    chair = find_chair("en12184-a")
    trip = Trip(
        start=FoundPlace("Railway square", 24.9435, 60.1713, "position"),
        goal=FoundPlace("South harbour", 24.9515, 60.1675, "position"),
        chair=chair,
        reading=parse_charge("90%", chair.gauge),
        conditions=CONDITIONS,
    )
    with pytest.raises(ProvenNoRouteError) as caught:
        plan_journey(helsinki, trip)
    assert caught.value.exit_code == 3
    assert [f.kind for f in caught.value.failures] == [FailureKind.UNREACHABLE]
    joined, nodes = _join_places(helsinki, trip)
    exported = to_networkx(joined, _weights(joined, "en12184-a"))
    exported.remove_edges_from([(u, v, k) for u, v, k, is_open in exported.edges(keys=True, data="is_passable") if not is_open])
    assert not nx.has_path(exported, nodes[0], nodes[1])


def test_the_unconstrained_optimum_equals_networkx_on_200_random_pairs(helsinki: Network) -> None:
    """Dijkstra of networkx (an independent implementation) on the exported graph, equal to 1e-9 relative."""
    weights = _weights(helsinki, "en12184-c")
    graph = search_graph(helsinki, weights, dataclasses.replace(PREFERENCES["quickest"], discomfort=0.0, doubt_s=0.0, scout_s=0.0))
    exported = to_networkx(helsinki, weights)
    closed = [(u, v, k) for u, v, k, open_ in exported.edges(keys=True, data="is_passable") if not open_]
    exported.remove_edges_from(closed)
    largest = max(nx.strongly_connected_components(exported), key=len)
    rng = np.random.default_rng(20260314)
    nodes = np.array(sorted(largest))
    for _ in range(40):
        start, *goals = (int(n) for n in rng.choice(nodes, 6, replace=False))
        lengths = nx.single_source_dijkstra_path_length(exported, start, weight="planned_time_s")
        for goal in goals:
            query = SearchQuery(start=start, goals=(goal,), charge_wh=1e9, capacity_wh=1e9)
            assert find_route(graph, query).cost_s == pytest.approx(lengths[goal], rel=1e-9)


def test_the_exported_edges_carry_every_number_with_its_rank(helsinki: Network) -> None:
    """The table that goes to a GeoPackage: one row per directed edge, in WGS 84, with the facts and their ranks."""
    table = edges(helsinki)
    assert len(table) == 2 * helsinki.n_pieces
    assert table.crs.to_epsg() == 4326
    facts = {"length_m", "climb_m", "descent_m", "grade", "surface", "width_m", "kerb", "osm_way_id"}
    assert facts | {"width_rank", "surface_rank", "grade_rank"} <= set(table.columns)
    assert table["length_m"].sum() == pytest.approx(2 * helsinki.pieces.length_m.sum())
    assert table["width_m"].isna().mean() > 0.3  # most widths are not tagged, and stay unknown


def test_lengths_equal_osmnx_great_circle_within_its_sphere(helsinki: Network) -> None:
    """The library osmnx measures on a sphere of 6371009 m, we on the ellipsoid: at 60° north the two differ by less than 0.5 %."""
    import osmnx

    nodes, pieces = helsinki.nodes, helsinki.pieces
    sphere_m = osmnx.distance.great_circle(nodes.lat[pieces.tail], nodes.lon[pieces.tail], nodes.lat[pieces.head], nodes.lon[pieces.head])
    assert np.allclose(sphere_m, pieces.length_m, rtol=5e-3, atol=1e-6)
