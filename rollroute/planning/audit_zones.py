"""The auditor's look at loading zones: a van may stop there, and the chair gets there from the door, or from there to the door."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_map import JOINED_WITHIN_M, AuditMap, metres, sparse
from rollroute.planning.audit_roads import Roads
from rollroute.planning.plan import RiderPlan
from rollroute.planning.travel import LoadingZone

KERB_M = 9.0  # assumption: how far from the chair's way a van at the kerb may stand
CARRIED_WITHIN_M = 100.0  # assumption: trained people carry no further down to the street
ROAD_WITHIN_M = 1.0
SLACK_MIN = 0.02
DOUBT_MIN = 30.0  # no way is both as quick and as sure as told, if even the least of minutes + this × surprisal is more than told


def zone_violations(book: Book, chart: AuditMap, roads: Roads) -> Iterator[Violation]:
    """Walks and stopping places of everybody who rides."""
    for line in chart.by_chair(book.plan.riders):
        if line.way not in ("van", "apart") or line.shelter not in book.shelters:
            continue
        if book.time(line.arrive) > book.now:
            yield from _Look(book, chart, line).violations(roads)


def _zone(zones: tuple[LoadingZone, ...] | None, node: str | None) -> LoadingZone | None:
    return next((z for z in zones or () if z.node == node), None)


class _Look:
    """One rider's zones."""

    def __init__(self, book: Book, chart: AuditMap, line: RiderPlan) -> None:
        self.book, self.chart, self.line = book, chart, line
        self.on_map = chart.chair_map(book.riders[line.id], is_dark=book.is_dark(book.time(line.leave), book.time(line.arrive)))

    def violations(self, roads: Roads) -> Iterator[Violation]:
        """What does not hold at either end of the ride."""
        book, line = self.book, self.line
        stops = [s for v in book.plan.vans if v.id == line.van for s in v.stops if line.id in s.riders]
        loads, unloads = (next((s.node for s in stops if s.kind == kind), None) for kind in ("load", "unload"))
        pickup = _zone(book.travel.pickups.get(line.id, ()), loads)
        dropoff = _zone(book.travel.dropoffs.get((line.id, line.shelter or "")), unloads)
        for zone, kind, name in ((pickup, "rider", line.id), (dropoff, "shelter", line.shelter or "")):
            if zone is not None:  # where there is none, the vans' audit has said so
                yield from self.at(zone, kind, name, roads)

    def at(self, zone: LoadingZone, kind: str, name: str, roads: Roads) -> Iterator[Violation]:
        """What does not hold of the zone at a rider's or a shelter's door."""
        here = (zone.lon, zone.lat)
        if roads.at(*here, ROAD_WITHIN_M) is None:
            yield Violation("loading zone", self.line.id, f"{zone.label}: no van may stop there")
        if (kind, name) not in self.chart.node:
            yield Violation("loading zone", self.line.id, f"{name} is not on the map")
            return
        if zone.carried:
            door = self.chart.places[kind, name]
            if metres(here, (door.lon, door.lat)) > CARRIED_WITHIN_M + ROAD_WITHIN_M:
                yield Violation("loading zone", self.line.id, f"{zone.label}: too far to carry anybody to")
            return
        least, weighed = self._least(zone, kind, name)
        if least > zone.roll_min + SLACK_MIN:
            said = f"{zone.roll_min:.1f} min between the door and {zone.label}"
            yield Violation("loading zone", self.line.id, f"{said}; the map has no way for this chair that is as short")
        elif weighed > zone.roll_min + DOUBT_MIN * zone.doubt + SLACK_MIN:
            yield Violation("loading zone", self.line.id, f"the way to {zone.label} is less sure than the estimates say")

    def _within(self, here: tuple[float, float], metres_off: float) -> npt.NDArray[np.bool_]:
        """(n_nodes,) whether a node is no further than that."""
        nodes = self.chart.joined.nodes
        east = (nodes.lon - here[0]) * np.cos(np.radians(here[1]))
        return np.asarray(np.hypot(east, nodes.lat - here[1]) * 111_320.0 <= metres_off, np.bool_)

    def _least(self, zone: LoadingZone, kind: str, name: str) -> tuple[float, float]:
        """Least minutes, and least minutes and doubt together, between a door and where the van stands; inf over what is told.

        No way that keeps within what is told leaves the circle that the chair drives in that time.
        """
        from scipy.sparse.csgraph import dijkstra

        chart, weights = self.chart, self.on_map.weights
        told = (zone.roll_min + SLACK_MIN, zone.roll_min + DOUBT_MIN * zone.doubt + SLACK_MIN)
        door, place = chart.node[kind, name], chart.places[kind, name]
        reach_m = told[1] * 60.0 * self.on_map.chair.speed_m_s + JOINED_WITHIN_M
        walked = self.book.time(self.line.load if kind == "rider" else self.line.arrive)
        is_open = np.repeat(chart.road_closes > walked, 2) & self._within((place.lon, place.lat), reach_m)[chart.tail]
        use = np.flatnonzero(self.on_map.is_passable & is_open)
        ends = (chart.tail[use], chart.head[use]) if kind == "rider" else (chart.head[use], chart.tail[use])
        minutes = weights.planned_time_s[use] / 60.0
        near, found = self._within((zone.lon, zone.lat), KERB_M + 0.1), []
        for part, limit in zip((minutes, minutes + DOUBT_MIN * weights.surprisal[use]), told, strict=True):
            field = dijkstra(sparse(chart.joined.n_nodes, *ends, part), indices=door, limit=limit)
            found.append(float(field[near].min(initial=np.inf)))
        return found[0], found[1]
