"""The map as a move needs it: every place joined to it, roads with their stops, walks, and each chair's ways, each made once."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair
from rollroute.inputs.charge import ChargeReading, parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_vehicles import Van
from rollroute.journey import OFF_MAP_LIMIT_M, weigh_joinable
from rollroute.network.attach import Joint, attach, joint_at, nearest_joint
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.network import Network
from rollroute.network.tags import Access
from rollroute.planning.loading_zones import ChairWays, RoadStops, chair_ways, energy_ways, road_stops
from rollroute.planning.needs import Needs
from rollroute.planning.places import Located
from rollroute.planning.roads import Graph, height_classes, road_graph, walk_graph
from rollroute.planning.travel import LoadingZone
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.closures import closing_times_s
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors, default_reserve_soc, plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

Key = tuple[str, str]
UNKNOWN_HEIGHT_CM = 289.0  # of a van: as high as the clearance of ADA 503.5 allows
LENGTH_STEP_M = 0.05  # likewise for lengths, which lifts and bends ask for
MASS_STEP_KG = 5.0  # riders whose masses differ by less share a weighing of the map; the heavier figure counts for all of them


def chair_for(needs: Needs) -> Chair:
    """The rider's chair with the rider's own masses, size and charger."""
    rider, chair = needs.rider, needs.chair
    if rider.charger is not None:
        chair = dataclasses.replace(chair, charger=dataclasses.replace(chair.charger, place=rider.charger))
    if rider.chair_length_cm is not None:
        chair = dataclasses.replace(chair, length_m=LENGTH_STEP_M * math.ceil(rider.chair_length_cm / 100.0 / LENGTH_STEP_M - 1e-9))
    changes: dict[str, float] = {"rider_mass_kg": needs.occupied_mass_kg - needs.chair_mass_kg - _load(needs), "load_mass_kg": _load(needs)}
    if rider.chair_width_cm is not None:
        changes["width_m"] = rider.chair_width_cm / 100.0
    if rider.chair_mass_kg is not None:
        changes["mass_kg"] = rider.chair_mass_kg
    return dataclasses.replace(chair, **changes)  # type: ignore[arg-type]


def reserve_for(move: Move, chair: Chair) -> float:
    """The share of charge that no roll goes below: the move's margin, or what the battery asks for where that is more."""
    return max(move.settings.margins.reserve_soc, default_reserve_soc(chair.battery.chemistry))


def shared_chair(needs: Needs) -> Chair:
    """The rider's chair with rider and bags rounded up to a step of mass, so that riders of much the same mass share its ways."""
    chair = chair_for(needs)
    carried = chair.rider_mass_kg + chair.load_mass_kg
    return dataclasses.replace(chair, rider_mass_kg=MASS_STEP_KG * math.ceil(carried / MASS_STEP_KG - 1e-9), load_mass_kg=0.0)


def rules_for(move: Move, places: Mapping[Key, FoundPlace]) -> Weighing:
    """Keys, rights, preset, known passages of the move, and what riders say of their own doors; of several at one door the worst word."""
    ways = move.settings.ways
    words: dict[tuple[float, float], set[bool | None]] = {}
    for rider in move.riders:
        place = places.get(("rider", rider.id))
        if place is not None:
            words.setdefault((place.lon, place.lat), set()).add(rider.drives_to_street)
    return Weighing(
        doors=frozenset(at for at, said in words.items() if said == {True}),
        shut_doors=frozenset(at for at, said in words.items() if False in said),
        keys=frozenset(ways.keys),
        granted=frozenset(Access[word.upper()] for word in ways.granted),
        standard=None if ways.standard is None else load_standard(ways.standard),
        tracks=move.tracks,
    )


def _load(needs: Needs) -> float:
    return needs.chair.load_mass_kg if needs.rider.load_mass_kg is None else needs.rider.load_mass_kg


def reading_for(needs: Needs) -> ChargeReading:
    """The charge as the rider said it."""
    chair = needs.chair
    return parse_charge(needs.rider.charge or "unknown", chair.gauge, battery_age_years=chair.battery.age_years)


def conditions_for(move: Move, departure: dt.datetime) -> Conditions:
    """Conditions of a roll: dark if any of the plan is, so that an estimate holds for every departure."""
    weather = move.settings.weather
    is_dark = weather.dark_from is not None and move.settings.minute(move.settings.moment(weather.dark_from)) < move.settings.horizon_min
    return Conditions(
        departure=departure, temperature_c=weather.temperature_c, is_wet=weather.is_wet, is_dark=is_dark, has_mains=weather.has_mains
    )


@dataclass(frozen=True, slots=True)
class ChairView:
    """The map for one chair: ``weights`` with energies that are planned by a factor of 1, and its ways, ahead and turned round.

    energy : (n_nodes, n_nodes) sparse   Wh planned by a factor of 1, of parallel ways the thriftiest
    to_goal : node -> (n_nodes,) least planned minutes to it; doors : (node of a shelter, how many) -> zones. Filled when asked for
    """

    weights: EdgeWeights
    ahead: ChairWays
    behind: ChairWays
    energy: csr_array
    to_goal: dict[int, npt.NDArray[np.float64]] = field(default_factory=dict)
    doors: dict[tuple[int, int], tuple[LoadingZone, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class VanRoads:
    """The roads of vans up to ``height_cm``, and where they may stop. ``mark``: how their nodes end in the estimates.

    A place is another node for vans that drive other roads to it: the estimates have no way from one such node to another.
    """

    height_cm: float
    mark: str
    graph: Graph
    matrix: csr_array
    stops: RoadStops

    def node_name(self, node: int) -> str:
        """The name in the estimates of a node of the network."""
        return f"n{node}{self.mark}"


class Town:
    """The network with every place joined to it, its roads, stops and walks."""

    def __init__(self, network: Network, move: Move, located: Located) -> None:
        self.move = move
        self.places: dict[Key, FoundPlace] = {}
        self.wrong: dict[Key, str] = dict(located.wrong)
        joints = []
        usable = weigh_joinable(network)
        for key, place in located.found.items():
            try:
                joints.append((place.lon, place.lat, _joint(network, place, usable)))
                self.places[key] = place
            except InputError as error:
                self.wrong[key] = str(error)
        self.network, numbers = attach(network, joints)
        self.node = dict(zip(self.places, numbers, strict=True))
        tallest, *lower = height_classes(self.network, map(height_cm, move.vans))
        self.roads = (_van_roads(self.network, tallest, ""), *(_van_roads(self.network, h, f"@{h:g}") for h in lower))
        hard = [h for h in move.hazards if h.kind == "closed"]
        self.closes_s = closing_times_s(self.network, [h for h in move.hazards if h.kind != "watch"], move.start)
        self.road_closes_min = closing_times_s(self.network, hard, move.start) / 60.0
        self.walks: Graph = walk_graph(self.network, move.settings.escorts.walk_m_s)
        self._latest: tuple[Chair, ChairView] | None = None

    def chair_on_map(self, needs: Needs) -> Chair:
        """The chair as far as ways depend on it: riders of whom this is the same share a view of the map."""
        return dataclasses.replace(shared_chair(needs), charger=needs.chair.charger)  # where the charger is changes no way

    def view(self, needs: Needs) -> ChairView:
        """The map for one rider's chair; what is passable, and how long it takes, does not depend on the charge.

        Only the latest is kept, for on a city each one holds some 60 MB: ask for riders with the same chair one after another.
        """
        chair = self.chair_on_map(needs)
        if self._latest is None or self._latest[0] != chair:
            conditions = conditions_for(self.move, self.move.start)
            drive = calibrate(chair)
            scenario = plan_scenario(chair, drive, reading_for(needs), temperature_c=conditions.planned_temperature_c)
            factors = PlannedFactors(energy=1.0, time=scenario.factors.time, usable=1.0)
            weights = weigh(
                self.network, chair, drive, factors, conditions, rules=rules_for(self.move, self.places), closes_s=self.closes_s
            )
            ahead = chair_ways(self.network, weights, weights.closes_s > 0.0)
            self._latest = chair, ChairView(weights, ahead, ahead.backwards(), energy_ways(self.network, weights))
        return self._latest[1]

    def minutes_to(self, view: ChairView, node: int) -> npt.NDArray[np.float64]:
        """(n_nodes,) least planned minutes of one chair to a node."""
        if node not in view.to_goal:
            view.to_goal[node] = np.asarray(dijkstra(view.behind.minutes, indices=node), np.float64)
        return view.to_goal[node]

    def roads_of(self, van: Van) -> VanRoads:
        """The roads that let a van through."""
        return next(roads for roads in reversed(self.roads) if roads.height_cm >= height_cm(van))

    def vehicle_node(self, van: Van) -> int | None:
        """The node of its own roads that is nearest to a van's start."""
        key, stops = ("van", van.id), self.roads_of(van).stops
        if key not in self.node or not len(stops.node):
            return None
        place = self.places[key]
        lon, lat = self.network.nodes.lon[stops.node], self.network.nodes.lat[stops.node]
        squeeze = math.cos(math.radians(place.lat))
        return int(stops.node[np.argmin(((lon - place.lon) * squeeze) ** 2 + (lat - place.lat) ** 2)])

    def way_out_min(self, roads: VanRoads, node: int, areas: Sequence[Hazard]) -> float:
        """Least driving minutes from a road node to a node outside ``areas``; inf where there is no way."""
        minutes = dijkstra(roads.matrix, indices=node)
        outside = np.ones(self.network.n_nodes, np.bool_)
        for area in areas:
            outside &= ~_inside(self.network, area.rings)
        return float(minutes[outside].min(initial=math.inf))


def height_cm(van: Van) -> float:
    """The height that a road must let through; where nobody knows it, ADA 503.5's 2895 mm."""
    return UNKNOWN_HEIGHT_CM if van.vehicle_height_cm is None else van.vehicle_height_cm


def _van_roads(network: Network, tallest_cm: float, mark: str) -> VanRoads:
    graph = road_graph(network, tallest_cm)
    return VanRoads(tallest_cm, mark, graph, graph.matrix(), road_stops(network, graph))


def _joint(network: Network, place: FoundPlace, usable: npt.NDArray[np.bool_]) -> Joint:
    if place.node is not None:
        return joint_at(network, place.node)
    return nearest_joint(network, place.lon, place.lat, limit_m=OFF_MAP_LIMIT_M, usable=usable)


def _inside(network: Network, rings: Sequence[Sequence[tuple[float, float]]]) -> npt.NDArray[np.bool_]:
    import shapely

    points = shapely.points(network.nodes.lon, network.nodes.lat)
    found = np.zeros(network.n_nodes, np.bool_)
    for ring in rings:
        found |= shapely.contains(shapely.Polygon(ring), points)
    return found
