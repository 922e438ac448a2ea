"""Travel estimates of the bundled town against graphs that are made another way."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import islice, product

import networkx as nx
import numpy as np
import pytest

from rollroute.inputs.move_folder import Move
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.planning.audit_travel import travel_violations
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.plan import Plan, Stop
from rollroute.planning.roads import road_graph
from rollroute.planning.travel import TravelTable, read_travel, write_travel

CLOSES_MIN = 110.0  # 20:30, counted from 18:40


@pytest.fixture(scope="module")
def town(move: Move, quillhaven: Network) -> Network:
    return with_power(quillhaven, move.settings.ways.powered)


@pytest.fixture(scope="module")
def travel(move: Move, town: Network) -> TravelTable:
    return NetworkTravel(town).estimate(move, needs_of(move)[0])


@pytest.fixture(scope="module")
def plan(move: Move, travel: TravelTable) -> Plan:
    return make_plan(move, travel)


def _roads(network: Network) -> nx.MultiDiGraph:
    """Minutes from the OSM tags themselves, piece by piece."""
    kmh = {"residential": 20, "unclassified": 20, "living_street": 7, "service": 10, "tertiary": 25, "secondary": 25, "primary": 25}
    kmh |= {"trunk": 40, "tertiary_link": 25, "road": 20}
    graph = nx.MultiDiGraph()
    pieces = network.pieces
    known = set(road_graph(network).piece.tolist())
    for p in sorted(known):
        tags = network.ways.tags(int(pieces.way[p]))
        speed = float(kmh[tags["highway"]])
        if tags.get("service") in ("driveway", "parking_aisle"):
            speed = 7.0
        posted = tags.get("maxspeed", "")
        speed = min(speed, max(5.0, float(posted))) if posted.isdigit() else speed
        minutes = float(pieces.length_m[p]) / (speed / 0.06)
        if tags.get("oneway") != "-1":
            graph.add_edge(int(pieces.tail[p]), int(pieces.head[p]), minutes=minutes)
        if tags.get("oneway") not in ("yes", "1", "true"):
            graph.add_edge(int(pieces.head[p]), int(pieces.tail[p]), minutes=minutes)
    return graph


def test_driving_minutes_equal_dijkstra_on_the_tags(move: Move, town: Network, travel: TravelTable) -> None:
    """Networkx, on a graph written down from highway, oneway and maxspeed: every 29th pair of places, while all roads are open.

    The estimates join places to the map, which cuts pieces; driving minutes must not change by it.
    """
    graph = _roads(town)
    nodes = np.fromiter(graph.nodes, int)
    places = {z.node: (z.lon, z.lat) for many in (*travel.pickups.values(), *travel.dropoffs.values()) for z in many}

    def at(lon: float, lat: float) -> tuple[int, float]:
        away = np.hypot((town.nodes.lon[nodes] - lon) * math.cos(math.radians(lat)), town.nodes.lat[nodes] - lat) * 111_320
        return int(nodes[away.argmin()]), float(away.min())

    on_nodes = {name: at(*place)[0] for name, place in places.items() if at(*place)[1] < 0.05}
    assert len(on_nodes) > 20
    for start, end in islice(product(on_nodes, on_nodes), 0, None, 29):
        expected = nx.dijkstra_path_length(graph, on_nodes[start], on_nodes[end], weight="minutes") if start != end else 0.0
        assert travel.drive_min(start, end, 0.0) == pytest.approx(expected, abs=0.01)


def test_after_the_river_has_come_no_drive_uses_low_road(travel: TravelTable) -> None:
    """A drive that would end after 20:30 takes the roads that stay open: never quicker than before, and longer or impossible for some."""
    before, after = travel.phases[0].minutes, travel.phases[-1].minutes
    assert travel.phases[0].ends_min == CLOSES_MIN
    assert math.isinf(travel.phases[-1].ends_min)
    assert (after >= before - 1e-9).all()
    assert (after > before + 0.5).any()


def test_estimates_read_back_as_they_were_written(travel: TravelTable, tmp_path) -> None:
    """The audit rests on the file."""
    write_travel(travel, tmp_path / "travel.json")
    read = read_travel(tmp_path / "travel.json")
    assert read.rolls == travel.rolls
    assert read.pickups == travel.pickups
    assert read.no_dropoff == travel.no_dropoff
    assert all(np.allclose(a.minutes, b.minutes, equal_nan=True) for a, b in zip(read.phases, travel.phases, strict=True))


def test_the_audit_of_travel_passes_a_plan_and_catches_a_drive_that_is_too_short(
    plan: Plan, move: Move, travel: TravelTable, town: Network
) -> None:
    """A van that is said to be 2 min away when the map asks for more: one line, from a graph that is not the planner's."""
    assert travel_violations(plan, move, travel, town) == []
    number, stops = next((i, v.stops) for i, v in enumerate(plan.vans) if len(v.stops) > 2)
    hurried = _sooner(stops[1], by_min=stops[1].drive_min)
    vans = tuple(replace(v, stops=(stops[0], hurried, *stops[2:])) if i == number else v for i, v in enumerate(plan.vans))
    found = travel_violations(replace(plan, vans=vans), move, travel, town)
    assert [v.rule for v in found] == ["driving"]


def _sooner(stop: Stop, *, by_min: int) -> Stop:
    import datetime as dt

    arrive = dt.datetime.fromisoformat(stop.arrive) - dt.timedelta(minutes=by_min)
    return replace(stop, arrive=arrive.isoformat(timespec="minutes"))


def test_the_audit_of_travel_catches_a_roll_that_starts_after_its_charge_is_gone(
    plan: Plan, move: Move, travel: TravelTable, town: Network
) -> None:
    """R09's gauge is read again and shows 20 %: the roll is driven again from the inputs, and does not hold."""
    riders = tuple(r.model_copy(update={"charge": "22%"}) if r.id == "R09" else r for r in move.riders)
    found = travel_violations(plan, replace(move, riders=riders), travel, town)
    assert ("rolling", "R09") in [(v.rule, v.who) for v in found]


def test_a_heavier_rider_never_gets_there_with_more_charge(move: Move, town: Network, travel: TravelTable) -> None:
    """Masses count in steps of 5 kg, upwards: 1 kg more may change nothing, 40 kg more must cost charge."""
    heavy = tuple(r.model_copy(update={"rider_mass_kg": (r.rider_mass_kg or 80) + 40}) if r.id == "R09" else r for r in move.riders)
    heavier = replace(move, riders=heavy)
    again = NetworkTravel(town).estimate(heavier, [n for n in needs_of(heavier)[0] if n.id == "R09"])
    key = ("R09", "North Quay School")
    assert again.rolls[key].soc_arrival < travel.rolls[key].soc_arrival
