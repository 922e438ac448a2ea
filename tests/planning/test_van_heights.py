"""Each van keeps its own roads: a low road is closed to the vans that are too high for it, and to no other."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from low_roads import limited
from scipy.sparse.csgraph import dijkstra

from rollroute.inputs.move_folder import Move
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.output.move.facts import gather
from rollroute.output.move.town import tour_legs
from rollroute.output.words.words import Words
from rollroute.planning.audit import audit
from rollroute.planning.audit_travel import travel_violations
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.plan import Plan
from rollroute.planning.roads import height_classes, road_graph
from rollroute.planning.travel import TravelTable, plain_node, read_travel, write_travel

STREET = "North Quay"
LOW, HIGH = "V1", "V2"  # 275 and 290 cm in the bundled town; of V3 nobody knows it: 289.5 cm of ADA 503.5 count


@pytest.fixture(scope="module")
def low_town(quillhaven: Network, move: Move) -> Network:
    """Quillhaven with a bridge of 2.8 m over every way of one street."""
    return limited(with_power(quillhaven, move.settings.ways.powered), STREET, "2.8")


@pytest.fixture(scope="module")
def provider(low_town: Network) -> NetworkTravel:
    return NetworkTravel(low_town)


@pytest.fixture(scope="module")
def travel(provider: NetworkTravel, move: Move) -> TravelTable:
    return provider.estimate(move, needs_of(move)[0])


@pytest.fixture(scope="module")
def plan(move: Move, travel: TravelTable) -> Plan:
    return make_plan(move, travel)


@pytest.mark.parametrize(
    ("heights", "expected"),
    [((260, 275, 290), (290, 275)), ((281, 290), (290,)), ((280, 290), (290, 280)), ((200,), (200,)), ((), (0.0,))],
)
def test_only_a_limit_between_two_heights_tells_vans_apart(
    low_town: Network, heights: tuple[float, ...], expected: tuple[float, ...]
) -> None:
    """280 is let through under a limit of 2.80 m, 281 is not; 260 and 275 drive the same roads."""
    assert height_classes(low_town, heights) == expected


def test_no_limit_between_them_no_second_table(quillhaven: Network, move: Move) -> None:
    """The bundled vans as they are: one name for each node, and one table."""
    assert len(height_classes(quillhaven, (275.0, 289.0, 290.0))) == 1


def test_the_lower_van_takes_the_low_road_and_the_higher_one_goes_round(low_town: Network, travel: TravelTable) -> None:
    """Between all places that both vans stop at: never longer for the lower one, for some pairs shorter, each equal to its own roads.

    The own roads: one Dijkstra over the roads that let the height through, on the map before any place is joined to it.
    """
    places = {z.node: (z.lon, z.lat) for many in (*travel.pickups.values(), *travel.dropoffs.values()) for z in many}
    squeeze = math.cos(math.radians(float(low_town.nodes.lat.mean())))

    def at(place: tuple[float, float]) -> int | None:
        away = np.hypot((low_town.nodes.lon - place[0]) * squeeze, low_town.nodes.lat - place[1]) * 111_320
        return int(away.argmin()) if float(away.min()) < 0.05 else None

    nodes = sorted({n for n in places if n == plain_node(n)} & {plain_node(n) for n in places if n != plain_node(n)})
    on_map = {n: at(places[n]) for n in nodes}
    known = [n for n in nodes if on_map[n] is not None][::3]
    assert len(known) > 8
    own = {van: road_graph(low_town, height).matrix() for van, height in ((LOW, 275.0), (HIGH, 290.0))}
    shorter = 0
    for a in known:
        by_van = {van: dijkstra(own[van], indices=on_map[a]) for van in own}
        for b in known:
            low, high = (travel.drive_min(travel.node_for(van, a), travel.node_for(van, b), 0.0) for van in (LOW, HIGH))
            assert low == pytest.approx(float(by_van[LOW][on_map[b]]), abs=0.01)
            assert high == pytest.approx(float(by_van[HIGH][on_map[b]]), abs=0.01)
            assert low <= high + 1e-9
            shorter += low < high - 0.05
    assert shorter > 0


def test_the_plan_holds_for_an_auditor_who_looks_up_each_vans_height(
    plan: Plan, move: Move, travel: TravelTable, low_town: Network
) -> None:
    """Both audits, the second with its own roads and heights; said to be higher than it is, the lower van breaks the plan."""
    assert audit(plan, move, travel) == []
    assert travel_violations(plan, move, travel, low_town) == []
    used = {v.id for v in plan.vans if v.stops}
    assert LOW in used
    higher = replace(move, vans=tuple(v.model_copy(update={"vehicle_height_cm": 289.0}) if v.id == LOW else v for v in move.vans))
    assert {v.who for v in travel_violations(plan, higher, travel, low_town) if v.rule == "driving"} <= {LOW}


def test_no_drive_is_drawn_under_a_bridge_that_the_van_is_too_high_for(
    plan: Plan, move: Move, travel: TravelTable, provider: NetworkTravel
) -> None:
    """The line on the map is what a driver follows: on each step a road that lets this van through."""
    assert provider.finder is not None
    network = provider.finder.network
    low_pieces = set(road_graph(network).piece.tolist()) - set(road_graph(network, 290.0).piece.tolist())
    assert low_pieces

    def key(node: int) -> tuple[float, float]:
        lon, lat = network.node_place(node)
        return round(lon, 6), round(lat, 6)

    under = {frozenset((key(int(network.pieces.tail[p])), key(int(network.pieces.head[p])))) for p in low_pieces}
    heights = {v.id: v.vehicle_height_cm or 289.0 for v in move.vans}
    drawn = [leg for leg in tour_legs(gather(plan, move, travel, words=Words()), network) if leg.is_along_roads]
    assert drawn
    for leg in drawn:
        steps = {frozenset(pair) for pair in zip(leg.line[:-1], leg.line[1:], strict=True)}
        assert heights[leg.van] <= 280.0 or not steps & under


def test_a_van_that_stands_in_for_another_is_looked_up_on_its_own_roads(travel: TravelTable) -> None:
    """One place, two nodes; a place that is none of the other's stops stays what it is, and is out of reach."""
    low = next(z.node for many in travel.pickups.values() for z in many if "@" in z.node and plain_node(z.node) in travel.nodes)
    assert travel.node_for(HIGH, low) == plain_node(low)
    assert travel.node_for(LOW, plain_node(low)) == low
    assert travel.node_for(LOW, low) == low
    assert math.isinf(travel.drive_min(low, plain_node(low), 0.0))
    assert travel.node_for("nobody", "elsewhere@275") == "elsewhere@275"


def test_two_tables_are_read_back_as_one(travel: TravelTable, tmp_path) -> None:
    """The audit of the command line reads the file."""
    write_travel(travel, tmp_path / "travel.json")
    read = read_travel(tmp_path / "travel.json")
    assert read.nodes == travel.nodes
    assert read.van_nodes == travel.van_nodes
    assert len({n.partition("@")[2] for n in read.van_nodes.values()}) == 2
