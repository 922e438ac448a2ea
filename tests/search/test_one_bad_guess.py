"""N − 1: of every returned route each unverified piece is played bad, one at a time; nobody may end without a refuge or promised pick-up.

The player is ``replay.fail_one``: it shares no code with the solvers, and looks for the way back itself, over all that is known to be good.
"""

from __future__ import annotations

from collections import Counter

import pytest
from replay import fail_one, replay
from worlds import Outlet, Piece, World, graph_of, query_of, random_town, varied_world

from rollroute.errors import DataGapError, NoRouteError
from rollroute.inputs.chair import bundled_chairs, find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.journey import OFF_MAP_LIMIT_M, PREFERENCES, Journey, plan_journey, weigh_joinable
from rollroute.network.attach import attach, nearest_joint
from rollroute.network.network import Network
from rollroute.planning.needs import read_needs
from rollroute.planning.network_travel import finder_of
from rollroute.planning.roll_ways import RollFinder
from rollroute.search import simple
from rollroute.search.audit import audit
from rollroute.search.compiled import engine
from rollroute.search.drive import drive
from rollroute.search.problem import ChargeCurve, ChargingStop, Route, SearchGraph
from rollroute.weights.charging import charge_table
from rollroute.weights.closures import closing_times_s
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

CLASSES = tuple(bundled_chairs())


def played(world: World, solver: object) -> tuple[Route, int, int] | None:
    """The best route, the number of bad guesses played on it, and how many of them left almost nothing to spare."""
    graph, query = graph_of(world), query_of(world)
    verdict = solver.search(graph, query)  # type: ignore[attr-defined]
    if verdict.steps is None:
        return None
    route = drive(graph, query, verdict)
    assert audit(graph, query, route) == []
    assert replay(world, route).wrong == []
    found = fail_one(world, route)
    assert found.stranded == []
    return route, found.n_played, found.n_tight


@pytest.mark.parametrize("solver", [simple, engine])
def test_no_single_bad_guess_strands_anybody_in_random_towns(solver: object) -> None:
    """Clusters of doubt, dead ends, few refuges, stops and closings; in some the charge is just what the way back asks for."""
    n: Counter[str] = Counter()
    for seed in range(240):
        town = random_town(seed, charging=seed % 2 == 0, way_back=True, closings=seed % 3 == 0, side=4 + seed % 3)
        town.refuges.append(town.start)
        found = played(town, solver)
        if found is not None:
            n["routes"] += 1
            n["played"] += found[1]
    assert n["routes"] >= 30
    assert n["played"] >= 60


def test_no_single_bad_guess_strands_anybody_in_small_worlds() -> None:
    """Small worlds in whole numbers meet the rule's limit exactly: somebody comes home on the last watt-hour."""
    n: Counter[str] = Counter()
    for seed in range(600):
        found = played(varied_world(seed, charging=seed % 2 == 0, way_back=True, closings=seed % 4 < 2), simple)
        if found is not None:
            n["played"] += found[1]
            n["tight"] += found[2]
    assert n["played"] >= 60
    assert n["tight"] >= 3


def world_of(journey: Journey) -> World:
    """The journey's edges and question as plain lists."""
    network, query = journey.network, journey.query
    pieces = pieces_of(network, journey.weights, journey.trip.preference)
    world = World(network.n_nodes, pieces, journey.start_node, [journey.goal_node], query.charge_wh, query.reserve_wh, query.capacity_wh)
    world.outlets = [_outlet(stop) for stop in query.stops]
    world.refuges, world.way_back = list(query.refuges), query.needs_way_back
    world.latest, world.retreats_until = query.latest_arrival_s, query.retreats_until_s
    return world


def pieces_of(network: Network, weights: EdgeWeights, preference: str) -> list[Piece]:
    """Every directed edge with its planned figures; the other way over the same piece is its neighbour in number."""
    wish = PREFERENCES[preference]
    columns = (
        network.edge_tail,
        network.edge_head,
        weights.planned_time_s,
        wish.discomfort * weights.discomfort_s + wish.doubt_s * weights.surprisal,
        weights.planned_energy_wh,
        weights.surprisal,
        weights.is_unverified,
        weights.is_passable,
        weights.closes_s,
    )
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return [Piece(*row, back=e ^ 1) for e, row in enumerate(rows)]


def _outlet(stop: ChargingStop) -> Outlet:
    times, charges = stop.curve.time_s, stop.curve.charge_wh
    stretches = [(c1, (t1 - t0) / (c1 - c0)) for t0, t1, c0, c1 in zip(times, times[1:], charges, charges[1:], strict=False) if c1 > c0]
    return Outlet(stop.node, stretches, stop.setup_s, stop.opens_s, stop.closes_s)


def check(journey: Journey, n: Counter[str]) -> None:
    """Play one journey again, and each bad guess on it."""
    world = world_of(journey)
    assert replay(world, journey.route).wrong == []
    found = fail_one(world, journey.route)
    assert found.stranded == [], f"{journey.trip.start.label} to {journey.trip.goal.label}, {journey.trip.chair.name}"
    n["routes"] += 1
    n["charged"] += bool(journey.route.stop_uses)
    n["played"] += found.n_played


@pytest.fixture(scope="module")
def move() -> Move:
    return read_move(data_dir() / "quillhaven")


@pytest.fixture(scope="module")
def finder(quillhaven: Network, move: Move) -> RollFinder:
    return finder_of(quillhaven, move)


def test_no_single_bad_guess_strands_a_rider_of_the_town(finder: RollFinder, move: Move) -> None:
    """Every rider of the bundled move to every shelter, as the plan asks for it: as they are, in the dark, without mains."""
    n: Counter[str] = Counter()
    for rider in move.riders:
        needs = read_needs(rider, move.settings)
        for shelter in move.shelters:
            try:
                check(plan_journey(finder.network, finder.trip(needs, shelter.name)), n)
            except (NoRouteError, DataGapError):
                n["no route"] += 1
    assert n["routes"] >= 5
    assert n["played"] >= 100


@pytest.mark.parametrize("name", CLASSES)
def test_no_single_bad_guess_strands_a_chair_of_any_class_in_the_town(name: str, finder: RollFinder, move: Move) -> None:
    """Each class of chair from every rider's home to every shelter, with mains, on a full charge and on half of it.

    Shelters are refuges with a socket, so chairs charge on the way where they must; the low road closes.
    """
    n: Counter[str] = Counter()
    places = [finder.located.found["rider", rider.id] for rider in move.riders]
    places += [finder.located.found["shelter", shelter.name] for shelter in move.shelters]
    usable = weigh_joinable(finder.network)
    joints = [(p.lon, p.lat, nearest_joint(finder.network, p.lon, p.lat, limit_m=OFF_MAP_LIMIT_M, usable=usable)) for p in places]
    network, nodes = attach(finder.network, joints)
    starts, goals = nodes[: len(move.riders)], nodes[len(move.riders) :]
    town = town_for(name, network, move, goals)
    graph = graph_of(town)
    for start in starts:
        for goal in goals:
            town.start, town.goals, town.refuges = start, [goal], sorted({start, *goals})
            for charge in (town.capacity, 0.5 * (town.capacity + town.reserve)):
                town.charge = charge
                route = best_route(graph, town)
                if route is None:
                    break
                n["routes"] += 1
                n["charged"] += bool(route.stop_uses)
                found = fail_one(town, route)
                n["played"] += found.n_played
                assert found.stranded == []
                assert replay(town, route).wrong == []
    assert n["routes"] >= 10
    assert n["played"] >= 200


def town_for(name: str, network: Network, move: Move, goals: list[int]) -> World:
    """The town's pieces as one class of chair meets them; start, goal and charge are for the caller to set."""
    chair = find_chair(name)
    drive_of_chair = calibrate(chair)
    conditions = Conditions(departure=move.start, temperature_c=18.0)
    scenario = plan_scenario(chair, drive_of_chair, parse_charge("full", chair.gauge), temperature_c=18.0, may_charge=True)
    closes_s = closing_times_s(network, move.hazards, move.start)
    weights = weigh(network, chair, drive_of_chair, scenario.factors, conditions, closes_s=closes_s)
    full_wh = scenario.planned_full_wh
    world = World(network.n_nodes, pieces_of(network, weights, "surest"), 0, [0], full_wh, full_wh * scenario.reserve_soc, full_wh)
    table = charge_table(full_wh, 200.0, chemistry=chair.battery.chemistry)
    curve = ChargeCurve(tuple(table.breakpoints_s.tolist()), tuple(table.breakpoints_wh.tolist()))
    world.outlets = [_outlet(ChargingStop(goal, curve, 180.0)) for goal in goals]
    world.way_back = True
    return world


def best_route(graph: SearchGraph, world: World) -> Route | None:
    """The audited best route, ``None`` where there is none."""
    query = query_of(world)
    verdict = engine.search(graph, query)
    if verdict.steps is None:
        return None
    route = drive(graph, query, verdict)
    assert audit(graph, query, route) == []
    return route
