"""Travel estimates from a network: rolls by the route search, loading zones, driving and walking minutes."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from scipy.sparse.csgraph import dijkstra

from rollroute.errors import RollrouteError
from rollroute.inputs.move_folder import Move
from rollroute.network.network import Network
from rollroute.planning.blocked import why_cut_off
from rollroute.planning.claims import NOT_LOOKED_AT
from rollroute.planning.loading_zones import ZONES_KEPT, ZONES_TOGETHER, ChairWays, carried_zone, zones_near
from rollroute.planning.needs import Needs
from rollroute.planning.places import Located, locate
from rollroute.planning.rider_rolls import RiderRolls
from rollroute.planning.roads import driving_phases, minutes_between
from rollroute.planning.roll_ways import RollFinder
from rollroute.planning.town import ChairView, Key, Town, VanRoads, conditions_for
from rollroute.planning.travel import LoadingZone, RollWay, TravelTable, plain_node
from rollroute.sockets import sockets_of

T = TypeVar("T")
Progress = Callable[[str], None]
LOOKED_AT = 2.0  # times the limit: up to there a way that is too long is told by its minutes
NO_ZONE = "no place near the door that this chair can reach and a van can stop at"


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
        self.finder = finder_of(self.network, move, located)
        town = Town(self.network, move, located)
        tables = _Tables(town, self.finder)
        chairs = [town.chair_on_map(n) for n in needs]
        together = sorted(range(len(needs)), key=lambda i: chairs.index(chairs[i]))  # one view of the map at a time
        for number, i in enumerate(together, start=1):
            if self.progress is not None:
                self.progress(f"ways of riders {number}/{len(needs)}")
            tables.add_rider(needs[i])
        if self.progress is not None:
            self.progress("ways of vans")
        return tables.table(needs)


class _Tables:
    """The parts of a ``TravelTable`` as they are collected."""

    def __init__(self, town: Town, finder: RollFinder) -> None:
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
        view, door = town.view(needs), town.node[key]
        zones = self._zones(view.ahead, door, self._kept(needs.id))
        if not zones:
            self.no_pickup[needs.id] = why_cut_off(town.network, view.weights, view.ahead, door) or (NO_ZONE,)
            zones = tuple(_on(roads, z) for roads in town.roads for z in carried_zone(town.network, roads.stops, door))
        self.pickups[needs.id] = zones
        self._add_shelters(needs, view, door)
        self._add_exit(needs)

    def _add_shelters(self, needs: Needs, view: ChairView, door: int) -> None:
        """Ways in from a van, and rolls to as many of the nearest shelters as ``effort.rolls_per_rider`` allows."""
        town = self.town
        limit = min(needs.roll_limit_min, needs.outdoors_limit_min)
        minutes = dijkstra(view.ahead.minutes, indices=door, limit=LOOKED_AT * limit)
        reached: list[tuple[float, str]] = []
        for shelter in (s for s in town.move.shelters if needs.rider.goes_to(s.name)):
            bound = self._way_in(needs, shelter.name, view, minutes, limit)
            if bound <= limit and needs.rider.goes_to(shelter.name):
                reached.append((bound, shelter.name))
        kept = town.move.settings.effort.rolls_per_rider
        rolls = RiderRolls(town, self.finder, needs, view, minutes)
        names = [name for _, name in sorted(reached)]
        for name in names[:kept]:
            try:
                self.rolls[needs.id, name] = rolls.find(name)
            except RollrouteError as error:
                self.no_roll[needs.id, name] = (str(error),)
        self.no_roll |= {(needs.id, name): (NOT_LOOKED_AT.format(kept=kept),) for name in names[kept:]}
        if not any((needs.id, name) in self.rolls for name in names):
            charged = {name: way for name in names[:kept] if (way := rolls.find_charged(name)) is not None}
            self.rolls |= {(needs.id, name): way for name, way in charged.items()}
            for name in charged:
                del self.no_roll[needs.id, name]

    def _way_in(self, needs: Needs, shelter: str, view: ChairView, minutes: npt.NDArray[np.float64], limit: float) -> float:
        """Zones of one shelter; least minutes of a roll there, inf where there is none."""
        town, pair, goal = self.town, (needs.id, shelter), ("shelter", shelter)
        if goal not in town.node:
            self.no_roll[pair] = (f"place of the shelter not on the map: {town.wrong.get(goal, 'not found')}",)
            return math.inf
        node = town.node[goal]
        self.dropoffs[pair] = self._zones_of(view, node, self._kept(needs.id))
        why = () if self.dropoffs[pair] else why_cut_off(town.network, view.weights, view.behind, node)
        if not self.dropoffs[pair]:
            self.no_dropoff[pair] = tuple(f"at its door {words}" for words in why) or (NO_ZONE,)
        bound = float(minutes[node])
        if bound > limit:
            far = f"no way for this chair within {LOOKED_AT * limit:.0f} min"
            near = f"{bound:.0f} min at least, {limit:.0f} min is the limit" if math.isfinite(bound) else far
            self.no_roll[pair] = self.no_dropoff[pair] if why else (near,)
        return bound

    def _kept(self, rider: str) -> int:
        """How many zones of a door are told: more to riders who stay together, since they have to share one."""
        is_alone = not any((rider == r.id and r.stay_with) or rider in r.stay_with for r in self.town.move.riders)
        return ZONES_KEPT if is_alone else ZONES_TOGETHER

    def _zones_of(self, view: ChairView, node: int, kept: int) -> tuple[LoadingZone, ...]:
        if (node, kept) not in view.doors:
            view.doors[node, kept] = self._zones(view.behind, node, kept)
        return view.doors[node, kept]

    def _zones(self, ways: ChairWays, door: int, kept: int) -> tuple[LoadingZone, ...]:
        """The best zones of vans of every height, the tallest first."""
        network = self.town.network
        return tuple(_on(roads, z) for roads in self.town.roads for z in zones_near(network, roads.stops, ways, door, kept=kept))

    def _add_exit(self, needs: Needs) -> None:
        """Driving minutes from the first zone of any van until out of the closing area: to the nearest road outside."""
        town, place = self.town, self.town.places["rider", needs.id]
        closing = [h for h in town.move.hazards if h.kind == "closed" and not h.is_road and h.contains(place.lon, place.lat)]
        zones = self.pickups.get(needs.id, ())
        if not closing or not zones:
            self.exit_min[needs.id] = 0.0
            return
        first = {node[len(plain_node(node)) :]: int(plain_node(node)[1:]) for node in (z.node for z in reversed(zones))}
        ways_out = [town.way_out_min(roads, first[roads.mark], closing) for roads in town.roads if roads.mark in first]
        away = max((minutes for minutes in ways_out if math.isfinite(minutes)), default=math.inf)
        if math.isfinite(away):
            # The van leaves by the way of its round, not by the nearest way out: twice the nearest way, and a minute (assumption).
            self.exit_min[needs.id] = round(2.0 * away + 1.0, 2)

    def table(self, needs: Sequence[Needs]) -> TravelTable:
        """The whole table: driving between all zones and van starts, walking of all escorts."""
        town, move = self.town, self.town.move
        van_nodes = {v.id: (town.roads_of(v), node) for v in move.vans if (node := town.vehicle_node(v)) is not None}
        zones = {z.node for many in (*self.pickups.values(), *self.dropoffs.values()) for z in many}
        stops = {int(plain_node(name)[1:]) for name in zones}
        parts = [(roads, sorted(stops | {node for on, node in van_nodes.values() if on is roads})) for roads in town.roads]
        riders = [n.id for n in needs if ("rider", n.id) in town.node]
        escorts = [e.id for e in move.escorts if ("escort", e.id) in town.node]
        shelters = [s.name for s in move.shelters if ("shelter", s.name) in town.node]
        homes = [town.node["escort", e] for e in escorts]
        there = minutes_between(town.walks, homes, [town.node["rider", r] for r in riders])
        stays_open = ~np.isfinite(town.road_closes_min[town.walks.piece])
        back = minutes_between(town.walks, [town.node["shelter", s] for s in shelters], homes, stays_open)
        order = {n.id: number for number, n in enumerate(needs)}
        return TravelTable(
            rolls=_in_order(self.rolls, order),
            no_roll=_in_order(self.no_roll, order),
            pickups={n.id: self.pickups[n.id] for n in needs if n.id in self.pickups},
            no_pickup={n.id: self.no_pickup[n.id] for n in needs if n.id in self.no_pickup},
            dropoffs=_in_order(self.dropoffs, order),
            no_dropoff=_in_order(self.no_dropoff, order),
            van_nodes={v: roads.node_name(node) for v, (roads, node) in van_nodes.items()},
            nodes=tuple(roads.node_name(node) for roads, nodes in parts for node in nodes),
            phases=driving_phases([(roads.graph, nodes) for roads, nodes in parts], town.road_closes_min),
            places={name: (p.lon, p.lat) for (kind, name), p in town.places.items() if kind in ("rider", "shelter")},
            exit_min=self.exit_min,
            approach_min={(e, r): round(float(there[i, j]), 2) for i, e in enumerate(escorts) for j, r in enumerate(riders)},
            back_min={(e, s): round(float(back[j, i]), 2) for i, e in enumerate(escorts) for j, s in enumerate(shelters)},
            basis="map and route search",
            notes=tuple(f"{kind} {name}: {why}" for (kind, name), why in town.wrong.items()),
        )


def _on(roads: VanRoads, zone: LoadingZone) -> LoadingZone:
    """A zone as vans on ``roads`` use it."""
    return dataclasses.replace(zone, node=zone.node + roads.mark)


def _in_order(table: dict[Key, T], order: Mapping[str, int]) -> dict[Key, T]:
    """A table by rider and shelter in the order of the riders, whoever was looked at first."""
    return dict(sorted(table.items(), key=lambda item: order[item[0][0]]))
