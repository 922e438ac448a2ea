"""Travel estimates from a network: rolls by the route search, loading zones, driving and walking minutes."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from scipy.sparse.csgraph import dijkstra

from rollroute.errors import InputError, RollrouteError
from rollroute.inputs.chair import Chair
from rollroute.inputs.charge import ChargeReading, parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_folder import Move
from rollroute.journey import OFF_MAP_LIMIT_M, weigh_joinable
from rollroute.network.attach import Joint, attach, joint_at, nearest_joint
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.network import Network
from rollroute.planning.blocked import why_cut_off
from rollroute.planning.loading_zones import ChairWays, RoadStops, carried_zone, chair_ways, road_stops, zones_near
from rollroute.planning.needs import Needs
from rollroute.planning.places import Located, locate
from rollroute.planning.roads import Graph, driving_phases, minutes_between, road_graph, walk_graph
from rollroute.planning.roll_ways import RollFinder
from rollroute.planning.travel import LoadingZone, RollWay, TravelTable
from rollroute.sockets import sockets_of
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.closures import closing_times_s
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

Progress = Callable[[str], None]
LOOKED_AT = 2.0  # times the limit: up to there a way that is too long is told by its minutes
NO_ZONE = "no place near the door that this chair can reach and a van can stop at"
Key = tuple[str, str]


def chair_for(needs: Needs) -> Chair:
    """The rider's chair with the rider's own masses and width."""
    rider, chair = needs.rider, needs.chair
    changes: dict[str, float] = {"rider_mass_kg": needs.occupied_mass_kg - needs.chair_mass_kg - _load(needs), "load_mass_kg": _load(needs)}
    if rider.chair_width_cm is not None:
        changes["width_m"] = rider.chair_width_cm / 100.0
    if rider.chair_mass_kg is not None:
        changes["mass_kg"] = rider.chair_mass_kg
    return dataclasses.replace(chair, **changes)  # type: ignore[arg-type]


def rules_for(move: Move) -> Weighing:
    """Keys and preset of the move."""
    ways = move.settings.ways
    return Weighing(keys=frozenset(ways.keys), standard=None if ways.standard is None else load_standard(ways.standard))


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


def finder_of(network: Network, move: Move, located: Located | None = None) -> RollFinder:
    """What finds the rolls of ``move`` on ``network``."""
    addresses = [tuple(a) for a in network.about.get("addresses", [])]
    sockets = sockets_of(move.shelters, conditions_for(move, move.start), addresses, mains_volts=move.settings.night.mains_v)
    return RollFinder(network, move, located or locate(move, network), sockets)


class NetworkTravel:
    """A ``TravelProvider`` on a network. ``finder`` can make each roll's journey again, for its papers."""

    def __init__(self, network: Network, *, progress: Progress | None = None) -> None:
        self.network = network
        self.progress = progress
        self.finder: RollFinder | None = None

    def estimate(self, move: Move, needs: Sequence[Needs]) -> TravelTable:
        """Travel estimates for every rider, shelter, van and escort of ``move``."""
        located = locate(move, self.network)
        town = _Town(self.network, move, located)
        self.finder = finder_of(self.network, move, located)
        tables = _Tables(town, self.finder)
        for number, n in enumerate(needs, start=1):
            if self.progress is not None:
                self.progress(f"ways of riders {number}/{len(needs)}")
            tables.add_rider(n)
        return tables.table(needs)


class _Town:
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
        self.roads: Graph = road_graph(self.network)
        self.stops: RoadStops = road_stops(self.network, self.roads)
        hard = [h for h in move.hazards if h.kind == "closed"]
        self.closes_s = closing_times_s(self.network, [h for h in move.hazards if h.kind != "watch"], move.start)
        self.road_closes_min = closing_times_s(self.network, hard, move.start) / 60.0
        self.walks: Graph = walk_graph(self.network, move.settings.escorts.walk_m_s)

    def weights(self, needs: Needs) -> EdgeWeights:
        """The network for one rider's chair."""
        chair, conditions = chair_for(needs), conditions_for(self.move, self.move.start)
        drive = calibrate(chair)
        scenario = plan_scenario(chair, drive, reading_for(needs), temperature_c=conditions.planned_temperature_c)
        rules = rules_for(self.move)
        return weigh(self.network, chair, drive, scenario.factors, conditions, rules=rules, closes_s=self.closes_s)

    def vehicle_node(self, key: Key) -> int | None:
        """The road node nearest to a van's start."""
        if key not in self.node or not len(self.stops.node):
            return None
        place = self.places[key]
        lon, lat = self.network.nodes.lon[self.stops.node], self.network.nodes.lat[self.stops.node]
        squeeze = math.cos(math.radians(place.lat))
        return int(self.stops.node[np.argmin(((lon - place.lon) * squeeze) ** 2 + (lat - place.lat) ** 2)])


def _joint(network: Network, place: FoundPlace, usable: npt.NDArray[np.bool_]) -> Joint:
    if place.node is not None:
        return joint_at(network, place.node)
    return nearest_joint(network, place.lon, place.lat, limit_m=OFF_MAP_LIMIT_M, usable=usable)


@dataclasses.dataclass(frozen=True, slots=True)
class _Ways:
    """One chair's ways, ahead and turned round."""

    weights: EdgeWeights
    ahead: ChairWays
    behind: ChairWays


class _Tables:
    """The parts of a ``TravelTable`` as they are collected."""

    def __init__(self, town: _Town, finder: RollFinder) -> None:
        self.town, self.finder = town, finder
        self.rolls: dict[Key, RollWay] = {}
        self.no_roll: dict[Key, tuple[str, ...]] = {}
        self.pickups: dict[str, tuple[LoadingZone, ...]] = {}
        self.no_pickup: dict[str, tuple[str, ...]] = {}
        self.dropoffs: dict[Key, tuple[LoadingZone, ...]] = {}
        self.no_dropoff: dict[Key, tuple[str, ...]] = {}
        self.exit_min: dict[str, float] = {}

    def add_rider(self, needs: Needs) -> None:
        """Rolls and zones of one rider."""
        town, key = self.town, ("rider", needs.id)
        if key not in town.node:
            why = f"place not on the map: {town.wrong.get(key, 'not found')}"
            self.no_pickup[needs.id] = (why,)
            self.no_roll |= {(needs.id, s.name): (why,) for s in town.move.shelters}
            return
        weights = town.weights(needs)
        is_open = weights.closes_s > 0.0
        ahead = chair_ways(town.network, weights, is_open)
        ways = _Ways(weights, ahead, ahead.backwards())
        door = town.node[key]
        zones = zones_near(town.network, town.stops, ahead, door)
        if not zones:
            self.no_pickup[needs.id] = why_cut_off(town.network, weights, ahead, door) or (NO_ZONE,)
            zones = carried_zone(town.network, town.stops, door)
        self.pickups[needs.id] = zones
        minutes = dijkstra(ahead.minutes, indices=door, limit=LOOKED_AT * self._roll_limit(needs))
        for shelter in town.move.shelters:
            self._add_shelter(needs, shelter.name, ways, minutes)
        self._add_exit(needs)

    def _roll_limit(self, needs: Needs) -> float:
        return min(needs.roll_limit_min, needs.outdoors_limit_min)

    def _add_shelter(self, needs: Needs, shelter: str, ways: _Ways, minutes: npt.NDArray[np.float64]) -> None:
        town, pair, goal = self.town, (needs.id, shelter), ("shelter", shelter)
        if goal not in town.node:
            self.no_roll[pair] = (f"place of the shelter not on the map: {town.wrong.get(goal, 'not found')}",)
            return
        self.dropoffs[pair] = zones_near(town.network, town.stops, ways.behind, town.node[goal])
        why = () if self.dropoffs[pair] else why_cut_off(town.network, ways.weights, ways.behind, town.node[goal])
        if not self.dropoffs[pair]:
            self.no_dropoff[pair] = tuple(f"at its door {words}" for words in why) or (NO_ZONE,)
        bound, limit = float(minutes[town.node[goal]]), self._roll_limit(needs)
        if bound > limit:
            far = f"no way for this chair within {LOOKED_AT * limit:.0f} min"
            near = f"{bound:.0f} min at least, {limit:.0f} min is the limit" if math.isfinite(bound) else far
            self.no_roll[pair] = self.no_dropoff[pair] if why else (near,)
            return
        try:
            self.rolls[pair] = self.finder.find(needs, shelter)
        except RollrouteError as error:
            self.no_roll[pair] = tuple(getattr(error, "reasons", ()) or (str(error),))[:4]

    def _add_exit(self, needs: Needs) -> None:
        """Driving minutes from the first zone until out of the closing area: to the nearest road outside."""
        town, place = self.town, self.town.places["rider", needs.id]
        closing = [h for h in town.move.hazards if h.kind == "closed" and not h.is_road and h.contains(place.lon, place.lat)]
        zones = self.pickups.get(needs.id, ())
        if not closing or not zones:
            self.exit_min[needs.id] = 0.0
            return
        minutes = dijkstra(town.roads.matrix(), indices=int(zones[0].node[1:]))
        outside = np.ones(town.network.n_nodes, np.bool_)
        for hazard in closing:
            outside &= ~_inside(town.network, hazard.rings)
        away = minutes[outside & np.isfinite(minutes)]
        if len(away):
            # The van leaves by the way of its round, not by the nearest way out: twice the nearest way, and a minute (assumption).
            self.exit_min[needs.id] = round(2.0 * float(away.min()) + 1.0, 2)

    def table(self, needs: Sequence[Needs]) -> TravelTable:
        """The whole table: driving between all zones and van starts, walking of all escorts."""
        town, move = self.town, self.town.move
        van_nodes = {v.id: node for v in move.vans if (node := town.vehicle_node(("van", v.id))) is not None}
        zone_nodes = {int(z.node[1:]) for zones in (*self.pickups.values(), *self.dropoffs.values()) for z in zones}
        nodes = sorted(zone_nodes | set(van_nodes.values()))
        riders = [n.id for n in needs if ("rider", n.id) in town.node]
        escorts = [e.id for e in move.escorts if ("escort", e.id) in town.node]
        shelters = [s.name for s in move.shelters if ("shelter", s.name) in town.node]
        homes = [town.node["escort", e] for e in escorts]
        there = minutes_between(town.walks, homes, [town.node["rider", r] for r in riders])
        stays_open = ~np.isfinite(town.road_closes_min[town.walks.piece])
        back = minutes_between(town.walks, [town.node["shelter", s] for s in shelters], homes, stays_open)
        return TravelTable(
            rolls=self.rolls,
            no_roll=self.no_roll,
            pickups=self.pickups,
            no_pickup=self.no_pickup,
            dropoffs=self.dropoffs,
            no_dropoff=self.no_dropoff,
            van_nodes={v: f"n{node}" for v, node in van_nodes.items()},
            nodes=tuple(f"n{node}" for node in nodes),
            phases=driving_phases(town.roads, nodes, town.road_closes_min),
            places={name: (p.lon, p.lat) for (kind, name), p in town.places.items() if kind in ("rider", "shelter")},
            exit_min=self.exit_min,
            approach_min={(e, r): round(float(there[i, j]), 2) for i, e in enumerate(escorts) for j, r in enumerate(riders)},
            back_min={(e, s): round(float(back[j, i]), 2) for i, e in enumerate(escorts) for j, s in enumerate(shelters)},
            basis="map and route search",
            notes=tuple(f"{kind} {name}: {why}" for (kind, name), why in town.wrong.items()),
        )


def _inside(network: Network, rings: Sequence[Sequence[tuple[float, float]]]) -> npt.NDArray[np.bool_]:
    import shapely

    points = shapely.points(network.nodes.lon, network.nodes.lat)
    found = np.zeros(network.n_nodes, np.bool_)
    for ring in rings:
        found |= shapely.contains(shapely.Polygon(ring), points)
    return found
