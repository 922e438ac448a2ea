"""The auditor's look at the travel estimates that a plan uses, from the map: driving, rolling, and the way to each loading zone.

Driving and the ways to zones are found again with networkx on graphs of its own; rolls are driven again at the time of the plan
and held against the audit of the route search. Nothing here is imported from the modules that made the estimates, but for two tables
of settings: planned speeds of vans and the kinds of way on which nobody rolls without somebody in the road.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np

from rollroute.errors import RollrouteError
from rollroute.inputs.move_folder import Move
from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.plan import Plan, RiderPlan, VanPlan
from rollroute.planning.roads import VAN_KMH
from rollroute.planning.travel import TravelTable

SLACK_MIN = 0.02  # estimates are written in hundredths of a minute
SOC_SLACK = 0.01
TOO_FAR_M = 60.0  # a zone of the estimates lies where a node of the map lies, or the map is another one


def travel_violations(plan: Plan, move: Move, travel: TravelTable, network: Network) -> list[Violation]:
    """Claims of the estimates that ``plan`` uses and that the map does not bear out."""
    book = Book(plan, move, travel)
    if book.unreadable:
        return []
    roads = _Roads(network, move)
    found: list[Violation] = []
    for van_plan in plan.vans:
        found += _drives(book, van_plan, roads)
    found += _rolls(book, network)
    return found


class _Roads:
    """A road graph of the auditor's own, with the minute at which each road closes."""

    def __init__(self, network: Network, move: Move) -> None:
        self.network = network
        self.graph = nx.MultiDiGraph()
        pieces = network.pieces
        for p in np.flatnonzero(np.isin(pieces.kind, [int(k) for k in VAN_KMH])):
            along, against = _allowed(network.ways.tags(int(pieces.way[p])))
            speed = VAN_KMH[WayKind(int(pieces.kind[p]))]
            posted = float(pieces.speed_kmh[p])
            if math.isfinite(posted):
                speed = min(speed, max(posted, 5.0))
            minutes = 0.06 * float(pieces.length_m[p]) / speed
            ends = [int(pieces.tail[p]), int(pieces.head[p])]
            closes = _closes(network, move, ends)
            for tail, head, is_allowed in ((*ends, along), (*reversed(ends), against)):
                if is_allowed:
                    self.graph.add_edge(tail, head, minutes=minutes, closes=closes)

    def at(self, lon: float, lat: float) -> int | None:
        """The road node at a position."""
        nodes = np.fromiter(self.graph.nodes, int)
        if not len(nodes):
            return None
        squeeze = math.cos(math.radians(lat))
        east = (self.network.nodes.lon[nodes] - lon) * squeeze
        away = np.hypot(east, self.network.nodes.lat[nodes] - lat) * 111_320.0
        return int(nodes[np.argmin(away)]) if float(away.min()) <= TOO_FAR_M else None

    def minutes(self, start: int, end: int, arrive: float) -> float:
        """Least driving minutes on roads that stay open until ``arrive``; inf where there is no way."""

        def weight(_: int, __: int, parallel: dict[int, dict[str, Any]]) -> float | None:
            open_ways = [d["minutes"] for d in parallel.values() if d["closes"] >= arrive - SLACK_MIN]
            return min(open_ways, default=None)

        try:
            return float(nx.dijkstra_path_length(self.graph, start, end, weight=weight))
        except (nx.NetworkXNoPath, nx.NodeNotFound):
            return math.inf


def _allowed(tags: dict[str, str]) -> tuple[bool, bool]:
    """Along and against a way (OSM wiki: Key:oneway, Key:access)."""
    right = next((tags[k] for k in ("motor_vehicle", "vehicle", "access") if k in tags), "")
    if right in {"no", "private", "agricultural", "forestry"}:
        return False, False
    oneway = tags.get("oneway", "yes" if tags.get("junction") == "roundabout" else "no")
    return oneway not in {"-1", "reverse"}, oneway not in {"yes", "true", "1"}


def _closes(network: Network, move: Move, ends: list[int]) -> float:
    """The minute at which a straight piece closes: the first closed area that it touches."""
    import shapely

    (a, b) = (network.node_place(n) for n in ends)
    line, earliest = shapely.LineString([a, b]), math.inf
    for hazard in move.hazards:
        if hazard.kind != "closed" or (hazard.ends is not None and hazard.ends <= move.start):
            continue
        if any(_touches(shapely, ring, line, is_road=hazard.is_road) for ring in hazard.rings):
            starts = 0.0 if hazard.starts is None else (hazard.starts - move.start).total_seconds() / 60.0
            earliest = min(earliest, starts)
    return earliest


def _touches(shapely: Any, ring: Any, line: Any, *, is_road: bool) -> bool:
    shape = shapely.LineString(ring) if is_road else shapely.Polygon(ring)
    return bool(shape.intersects(line))


def _drives(book: Book, van_plan: VanPlan, roads: _Roads) -> Iterator[Violation]:
    """Each drive of a van takes at least what the map asks for."""
    places = _zone_places(book.travel)
    at = {node: roads.at(*place) for node, place in places.items()}
    for before, stop in pairwise(van_plan.stops):
        start, end = at.get(before.node), at.get(stop.node)
        if start is None or end is None:
            yield Violation("driving", van_plan.id, f"{stop.place}: no road of this map lies there")
            continue
        leave, arrive = book.time(before.end), book.time(stop.arrive)
        needed = roads.minutes(start, end, arrive)
        if arrive - leave < needed - SLACK_MIN:
            yield Violation("driving", van_plan.id, f"{arrive - leave:.1f} min to {stop.place}, the map asks for {needed:.1f}")


def _zone_places(travel: TravelTable) -> dict[str, tuple[float, float]]:
    zones = [z for many in (*travel.pickups.values(), *travel.dropoffs.values()) for z in many]
    return {z.node: (z.lon, z.lat) for z in zones}


def _rolls(book: Book, network: Network) -> Iterator[Violation]:
    """Each roll found and driven again, at the time of the plan."""
    lines = [line for line in book.plan.riders if line.way == "roll" and line.id in book.riders and line.shelter in book.shelters]
    if not lines:
        return
    drive = _Driver(book, network)
    for line in lines:
        yield from drive.check(line)


class _Driver:
    """Drives rolls again and asks the auditor of the route search."""

    def __init__(self, book: Book, network: Network) -> None:
        from rollroute.planning.needs import read_needs
        from rollroute.planning.network_travel import finder_of

        self.book = book
        self.finder = finder_of(network, book.move)
        self.read = read_needs

    def check(self, line: RiderPlan) -> Iterator[Violation]:
        """What of one rider's roll does not hold."""
        from rollroute.journey import PREFERENCES, search_graph
        from rollroute.search.audit import audit as audit_route

        way = self.book.travel.rolls.get((line.id, line.shelter or ""))
        if way is None:
            return  # said already
        needs = self.read(self.book.riders[line.id], self.book.settings)
        leave = self.book.time(line.leave)
        try:
            journey = self.finder.journey(needs, line.shelter or "", leave, charge_first_min=way.charge_first_min)
        except RollrouteError as error:
            yield Violation("rolling", line.id, f"leaving at {line.leave}: {error}")
            return
        graph = search_graph(journey.network, journey.weights, PREFERENCES[journey.trip.preference])
        for words in audit_route(graph, journey.query, journey.route):
            yield Violation("rolling", line.id, words)
        minutes = journey.route.time_s / 60.0
        if minutes > way.minutes + SLACK_MIN and minutes > self.book.time(line.arrive) - leave + SLACK_MIN:
            yield Violation("rolling", line.id, f"the way takes {minutes:.1f} planned min, the plan gives it less")
        soc = journey.route.charge_end_wh / journey.scenario.planned_full_wh
        if soc < way.soc_arrival - SOC_SLACK:
            yield Violation("rolling", line.id, f"arrives with {soc:.0%} of the battery, the estimates say {way.soc_arrival:.0%}")
