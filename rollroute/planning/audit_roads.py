"""The auditor's roads and walks: every drive of a van, the first one too, the way out of a closing area, and people who walk along.

Speeds are the auditor's own: nobody is believed to drive faster in the evening of an emergency. Limits of height count on every road.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.inputs.move_vehicles import Van
from rollroute.network.kinds import WayKind
from rollroute.network.tags import Access
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_map import AuditMap, sparse
from rollroute.planning.audit_vans import CLEARANCE_CM
from rollroute.planning.plan import VanPlan
from rollroute.planning.travel import LoadingZone

Floats = npt.NDArray[np.float64]
SLACK_MIN = 0.02  # estimates are written in hundredths of a minute
TOO_FAR_M = 60.0  # a zone of the estimates lies where a road of the map lies, or the map is another one
# km/h, assumptions: what is believed of a van on each kind of way, under the posted limit
BELIEVED_KMH = {
    "BUSY_ROAD": 25.0,
    "DRIVEWAY": 7.0,
    "FAST_ROAD": 40.0,
    "LIVING_STREET": 7.0,
    "PARKING_AISLE": 7.0,
    "RESIDENTIAL": 20.0,
    "SERVICE": 10.0,
}
NO_STOPPING = WayKind.FAST_ROAD
NO_WALKING = (WayKind.FAST_ROAD, WayKind.CONSTRUCTION, WayKind.ESCALATOR, WayKind.ELEVATOR)
NIGHT_WALK = 1.25  # assumption: planned over expected time of somebody on foot
METRES = re.compile(r"(\d+(?:[.,]\d+)?)\s*m?")
FEET = re.compile(r"(\d+)\s*(?:'|ft)\s*(?:(\d+(?:\.\d+)?)\s*(?:\"|in)?)?")


class Roads:
    """Directed roads with minutes, closing times and heights, and where a van may stop."""

    def __init__(self, chart: AuditMap) -> None:
        network, pieces = chart.joined, chart.joined.pieces
        self.chart = chart
        rows = np.flatnonzero(np.isin(pieces.kind, [int(WayKind[name]) for name in BELIEVED_KMH]))
        tags = {int(w): network.ways.tags(int(w)) for w in np.unique(pieces.way[rows])}
        along = np.array([_may_drive(tags[int(w)]) for w in pieces.way[rows]], np.bool_).reshape(-1, 2)
        believed = {int(WayKind[name]): speed for name, speed in BELIEVED_KMH.items()}
        posted = np.fmax(pieces.speed_kmh[rows], 5.0)
        speed = np.fmin([believed[int(k)] for k in pieces.kind[rows]], np.where(np.isfinite(pieces.speed_kmh[rows]), posted, math.inf))
        minutes = 0.06 * np.asarray(pieces.length_m[rows], np.float64) / speed
        height = np.array([_height_cm(tags[int(w)].get("maxheight", "")) for w in pieces.way[rows]])
        both = [(pieces.tail[rows], pieces.head[rows]), (pieces.head[rows], pieces.tail[rows])]
        self.tail = np.concatenate([both[i][0][along[:, i]] for i in (0, 1)])
        self.head = np.concatenate([both[i][1][along[:, i]] for i in (0, 1)])
        self.minutes_each, self.height_cm = (np.concatenate([v[along[:, i]] for i in (0, 1)]) for v in (minutes, height))
        self.closes = np.concatenate([chart.road_closes[rows][along[:, i]] for i in (0, 1)])
        can_stop = (pieces.kind[rows] != int(NO_STOPPING)) & ~chart.is_line[rows] & along.any(axis=1)
        self.stops = np.unique(np.concatenate([pieces.tail[rows][can_stop], pieces.head[rows][can_stop]]))
        self._from: dict[tuple[int, float, float], Floats] = {}

    def at(self, lon: float, lat: float, within_m: float = TOO_FAR_M) -> int | None:
        """The nearest node at which a van may stop."""
        if not len(self.stops):
            return None
        nodes, squeeze = self.chart.joined.nodes, math.cos(math.radians(lat))
        away = np.hypot((nodes.lon[self.stops] - lon) * squeeze, nodes.lat[self.stops] - lat) * 111_320.0
        return int(self.stops[np.argmin(away)]) if float(away.min()) <= within_m else None

    def minutes(self, start: int, end: int, arrive: float, height_cm: float) -> float:
        """Least driving minutes on roads that stay open until ``arrive`` and let the height through; inf where there is no way."""
        return float(self.minutes_from(start, arrive, height_cm)[end])

    def minutes_from(self, start: int, arrive: float, height_cm: float) -> Floats:
        """(n_nodes,) the same to every node."""
        from scipy.sparse.csgraph import dijkstra

        closed = self.closes[np.isfinite(self.closes)]
        phase = float(closed[closed < arrive - SLACK_MIN].max(initial=-math.inf))
        key = (start, phase, height_cm)
        if key not in self._from:
            use = (self.closes >= arrive - SLACK_MIN) & ~(self.height_cm < height_cm)
            graph: Any = sparse(self.chart.joined.n_nodes, self.tail[use], self.head[use], self.minutes_each[use])
            self._from[key] = np.asarray(dijkstra(graph, indices=start), np.float64)
        return self._from[key]


def _may_drive(tags: dict[str, str]) -> tuple[bool, bool]:
    """Along and against a way (OSM wiki: Key:oneway, Key:access)."""
    right = next((tags[k] for k in ("motor_vehicle", "vehicle", "access") if k in tags), "")
    if right in {"no", "private", "agricultural", "forestry"}:
        return False, False
    oneway = tags.get("oneway", "yes" if tags.get("junction") == "roundabout" else "no")
    return oneway not in {"-1", "reverse"}, oneway not in {"yes", "true", "1"}


def _height_cm(text: str) -> float:
    """A mapped limit of height, in metres, or feet and inches (OSM wiki: Key:maxheight); inf where none is told."""
    text = text.strip()
    if match := METRES.fullmatch(text):
        return 100.0 * float(match[1].replace(",", "."))
    match = FEET.fullmatch(text)
    return 2.54 * (12.0 * float(match[1]) + float(match[2] or 0.0)) if match else math.inf


def drive_violations(book: Book, roads: Roads) -> Iterator[Violation]:
    """Each drive of a van takes at least what the map asks for, the drive to its first stop too."""
    for van_plan in book.plan.vans:
        if van_plan.id in book.vans and van_plan.stops:
            yield from _round(book, book.vans[van_plan.id], van_plan, roads)
    yield from _exits(book, roads)


def _round(book: Book, van: Van, plan: VanPlan, roads: Roads) -> Iterator[Violation]:
    height = CLEARANCE_CM if van.vehicle_height_cm is None else van.vehicle_height_cm
    zones = zone_places(book)
    at: dict[str, int | None] = {s.node: roads.at(*zones[s.node]) if s.node in zones else None for s in plan.stops}
    home = roads.chart.places.get(("van", van.id))
    start_at = None if home is None else roads.at(home.lon, home.lat, math.inf)
    drives = [(start_at, book.van_hours(van)[0], plan.stops[0])]
    drives += [(at[before.node], book.time(before.end), stop) for before, stop in pairwise(plan.stops)]
    if home is None:
        yield Violation(
            "driving", van.id, f"where it starts is not on the map: {roads.chart.wrong.get(('van', van.id), 'nobody has said where')}"
        )
    for start, leave, stop in drives:
        end, arrive = at[stop.node], book.time(stop.arrive)
        if arrive <= book.now:
            continue  # driven: what has happened is a fact
        if end is None or start is None:
            if end is None:
                yield Violation("driving", van.id, f"{stop.place}: no road of this map lies there")
            continue
        needed = roads.minutes(start, end, arrive, height)
        if arrive - leave < needed - SLACK_MIN:
            yield Violation("driving", van.id, f"{arrive - leave:.1f} min to {stop.place}, the map asks for {needed:.1f}")


def zone_places(book: Book) -> dict[str, tuple[float, float]]:
    """Where the zones of the estimates lie, by the name of their node."""
    zones: list[LoadingZone] = [z for many in (*book.travel.pickups.values(), *book.travel.dropoffs.values()) for z in many]
    return {z.node: (z.lon, z.lat) for z in zones}


def _exits(book: Book, roads: Roads) -> Iterator[Violation]:
    """The minutes from a loading zone until out of a closing area are no fewer than the map asks for."""
    nodes = roads.chart.joined.nodes
    for line in book.plan.riders:
        told = book.travel.exit_min.get(line.id)
        zone = next((z for z in book.travel.pickups.get(line.id, ()) if z.label == line.pickup), None)
        place = roads.chart.places.get(("rider", line.id))
        if line.way not in ("van", "apart") or told is None or zone is None or place is None:
            continue
        around = [h for h in roads.chart.areas if h.contains(place.lon, place.lat)]
        start = roads.at(zone.lon, zone.lat)
        if not around or start is None:
            continue
        minutes = roads.minutes_from(start, -math.inf, 0.0)
        reached = np.flatnonzero(np.isfinite(minutes))
        for node in reached[np.argsort(minutes[reached], kind="stable")]:
            if not any(h.contains(float(nodes.lon[node]), float(nodes.lat[node])) for h in around):
                if minutes[node] > told + SLACK_MIN:
                    yield Violation("closed area", line.id, f"{told:.1f} min to be driven out of it, the map asks for {minutes[node]:.1f}")
                break
        else:
            yield Violation("closed area", line.id, "no road leads out of it")


def walk_violations(book: Book, chart: AuditMap) -> Iterator[Violation]:
    """People who walk along get there, and back over ways that stay open, in the minutes that the estimates give them."""
    from scipy.sparse.csgraph import dijkstra

    there, back = _walks(chart, book.settings.escorts.walk_m_s)
    for escort in (e for e in book.plan.escorts if e.jobs and ("escort", e.id) in chart.node):
        home = chart.node["escort", escort.id]
        riders = sorted({i for job in escort.jobs for i in job.riders if ("rider", i) in chart.node})
        goals = {book.lines[i].shelter or "" for job in escort.jobs if job.kind == "roll" for i in job.riders if i in book.lines}
        needed = dijkstra(there, indices=home)
        asked = [(book.approach(escort.id, i), i, float(needed[chart.node["rider", i]])) for i in riders]
        needed = dijkstra(back, indices=home)  # nobody walks a one-way street: the same both ways
        asked += [
            (book.back(escort.id, s), s, float(needed[chart.node["shelter", s]])) for s in sorted(goals) if ("shelter", s) in chart.node
        ]
        for told, name, least in asked:
            if told < least - SLACK_MIN:
                yield Violation("escorts", escort.id, f"{told:.1f} min on foot between home and {name}, the map asks for {least:.1f}")


def _walks(chart: AuditMap, walk_m_s: float) -> tuple[Any, Any]:
    """Minutes on foot over all ways, and over those that never close."""
    pieces = chart.joined.pieces
    can_walk = ~np.isin(pieces.kind, [int(k) for k in NO_WALKING]) & (pieces.access != int(Access.NO))
    graphs = []
    for use in (can_walk, can_walk & np.isinf(chart.road_closes)):
        tail, head = pieces.tail[use], pieces.head[use]
        minutes = np.asarray(pieces.length_m[use], np.float64) / walk_m_s / 60.0 * NIGHT_WALK
        ends = (np.concatenate([tail, head]), np.concatenate([head, tail]))
        graphs.append(sparse(chart.joined.n_nodes, *ends, np.concatenate([minutes, minutes])))
    return graphs[0], graphs[1]
