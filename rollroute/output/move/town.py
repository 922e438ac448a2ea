"""The ground under a move, and where its vans drive: from the network where there is one, straight lines where there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from rollroute.network.network import Lines, Network
from rollroute.output.itinerary import Backdrop, Itinerary, LonLat
from rollroute.output.move.facts import MoveFacts
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import Stop

if TYPE_CHECKING:
    from rollroute.planning.roads import Graph

MARGIN_DEG = 0.0015  # about 150 m of ground around the outermost place
DIGITS = 6  # about 0.1 m
FAR_M = 60.0  # a place further than this from the road that it is drawn to is not drawn along roads
M_PER_DEGREE = 111_319.49  # WGS 84 equator; used to compare nearby distances only
LEAST_HOUSE_M2 = 60.0  # sheds are left out of a map of a whole town


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A van's drive to one stop. ``is_along_roads``: drawn on the roads that the estimates use; else a straight line that says so."""

    van: str
    number: int  # of the stop, from 1
    stop: Stop
    leave: str  # ISO 8601
    line: tuple[LonLat, ...]
    is_along_roads: bool


Bounds = tuple[float, float, float, float]  # west, south, east, north


def extent(facts: MoveFacts, rolls: Sequence[Itinerary], legs: Sequence[Leg]) -> Bounds | None:
    """The box round everybody and everything of the plan, with a margin; ``None`` where nothing has a place."""
    places = list(facts.travel.places.values())
    places += [(z.lon, z.lat) for zones in (*facts.travel.pickups.values(), *facts.travel.dropoffs.values()) for z in zones]
    places += [c for route in rolls for piece in route.pieces for c in piece.coordinates]
    places += [c for leg in legs for c in leg.line]
    if not places:
        return None
    lons, lats = [lon for lon, _ in places], [lat for _, lat in places]
    return min(lons) - MARGIN_DEG, min(lats) - MARGIN_DEG, max(lons) + MARGIN_DEG, max(lats) + MARGIN_DEG


def ground_of(network: Network | None, bounds: Bounds | None) -> Backdrop:
    """The map's own picture inside ``bounds``: larger buildings, water, green, streets; paths are left to the riders' own maps."""
    if network is None or bounds is None:
        return Backdrop()
    lines = network.backdrop
    labels: list[str] = network.about.get("labels", [])
    roads = lines.get("road")
    return Backdrop(
        buildings=[ring for ring in _inside(lines.get("building"), bounds) if _area_m2(ring) >= LEAST_HOUSE_M2],
        water=_inside(lines.get("water"), bounds),
        green=_inside(lines.get("green"), bounds),
        waterways=_inside(lines.get("waterway"), bounds),
        roads=[] if roads is None else [(_label(roads, row, labels), _points(roads, row)) for row in _rows_inside(roads, bounds)],
    )


def _label(lines: Lines, row: int, labels: Sequence[str]) -> str | None:
    return labels[int(lines.label[row])] if lines.label[row] >= 0 else None


def _inside(lines: Lines | None, bounds: Bounds) -> list[list[LonLat]]:
    return [] if lines is None else [_points(lines, row) for row in _rows_inside(lines, bounds)]


def _rows_inside(lines: Lines, bounds: Bounds) -> list[int]:
    if len(lines.offsets) < 2:
        return []
    west, south, east, north = bounds
    points = np.asarray(lines.points)
    hit = (points[:, 0] > west) & (points[:, 0] < east) & (points[:, 1] > south) & (points[:, 1] < north)
    owner = np.repeat(np.arange(len(lines.offsets) - 1), np.diff(lines.offsets))
    return [int(row) for row in np.unique(owner[hit])]


def _points(lines: Lines, row: int) -> list[LonLat]:
    part = np.round(np.asarray(lines.points[lines.offsets[row] : lines.offsets[row + 1]]), DIGITS)
    return [(float(lon), float(lat)) for lon, lat in part]


def _area_m2(ring: Sequence[LonLat]) -> float:
    shrink = math.cos(math.radians(ring[0][1])) * M_PER_DEGREE**2
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))) / 2 * shrink


def tour_legs(facts: MoveFacts, network: Network | None) -> list[Leg]:
    """Every drive of every van, in order, on roads that let that van through."""
    roads = {} if network is None else _roads_by_van(network, facts)
    return [leg for van in facts.used_vans for leg in _van_legs(facts, van.id, van.stops, roads.get(van.id))]


def _roads_by_van(network: Network, facts: MoveFacts) -> dict[str, _Roads]:
    from rollroute.planning.roads import road_graph
    from rollroute.planning.town import height_cm
    from rollroute.weights.closures import closing_times_s

    closes_min = closing_times_s(network, [h for h in facts.move.hazards if h.kind == "closed"], facts.move.start) / 60.0
    heights = {v.id: height_cm(v) for v in facts.move.vans}
    roads = {height: _Roads(network, road_graph(network, height), closes_min) for height in set(heights.values())}
    return {van: roads[height] for van, height in heights.items()}


def _van_legs(facts: MoveFacts, van_id: str, stops: Sequence[Stop], roads: _Roads | None) -> list[Leg]:
    van = facts.van(van_id)
    here: LonLat | None = None
    if van is not None and van.start_lon is not None and van.start_lat is not None:
        here = (van.start_lon, van.start_lat)
    legs = []
    for number, stop in enumerate(stops, start=1):
        there = facts.node_place(stop.node)
        leave = _minutes_before(stop.arrive, stop.drive_min)
        line, is_along = ((), False) if here is None or there is None else _line(here, there, stop, facts, roads)
        legs.append(Leg(van=van_id, number=number, stop=stop, leave=leave, line=line, is_along_roads=is_along))
        here = there or here
    return legs


def _line(here: LonLat, there: LonLat, stop: Stop, facts: MoveFacts, roads: _Roads | None) -> tuple[tuple[LonLat, ...], bool]:
    arrive_min = (read_moment(stop.arrive) - facts.move.start).total_seconds() / 60.0
    path = () if roads is None else roads.path(here, there, arrive_min)
    return (path, True) if path else ((here, there), False)


def _minutes_before(moment: str, minutes: int) -> str:
    import datetime as dt

    return (read_moment(moment) - dt.timedelta(minutes=minutes)).isoformat(timespec="minutes")


class _Roads:
    """Quickest ways of vans of one height, on the roads that let them through and are still open when they drive."""

    def __init__(self, network: Network, graph: Graph, closes_min: npt.NDArray[np.float64]) -> None:
        self.network, self.graph, self.closes_min = network, graph, closes_min[graph.piece]
        self.nodes = np.unique(np.concatenate([self.graph.tail, self.graph.head]))
        self.trees: dict[tuple[int, float], npt.NDArray[np.int32]] = {}

    def path(self, here: LonLat, there: LonLat, arrive_min: float) -> tuple[LonLat, ...]:
        """The way as a line, empty where there is none on open roads or a place is far from them."""
        a, b = self._nearest(here), self._nearest(there)
        if a is None or b is None:
            return ()
        ends = min((c for c in self.closes_min if arrive_min <= c < math.inf), default=math.inf)
        before = self._tree(a, ends)
        nodes, node = [b], b
        while node != a and before[node] >= 0:
            node = int(before[node])
            nodes.append(node)
        return () if node != a else _without_repeats([here, *(self.network.node_place(n) for n in reversed(nodes)), there])

    def _tree(self, source: int, ends: float) -> npt.NDArray[np.int32]:
        from scipy.sparse.csgraph import dijkstra

        if (source, ends) not in self.trees:
            keep = self.closes_min >= ends if math.isfinite(ends) else ~np.isfinite(self.closes_min)
            _, before = dijkstra(self.graph.matrix(keep), indices=source, return_predecessors=True)
            self.trees[source, ends] = before
        return self.trees[source, ends]

    def _nearest(self, place: LonLat) -> int | None:
        if not len(self.nodes):
            return None
        lon, lat = self.network.nodes.lon[self.nodes], self.network.nodes.lat[self.nodes]
        metres = np.hypot((lon - place[0]) * math.cos(math.radians(place[1])), lat - place[1]) * M_PER_DEGREE
        best = int(np.argmin(metres))
        return int(self.nodes[best]) if metres[best] <= FAR_M else None


def _without_repeats(line: Sequence[LonLat]) -> tuple[LonLat, ...]:
    rounded = [(round(lon, DIGITS), round(lat, DIGITS)) for lon, lat in line]
    return tuple(rounded[:1] + [b for a, b in pairwise(rounded) if a != b])
