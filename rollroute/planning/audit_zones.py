"""The auditor's look at loading zones: a van may stop there, and the chair gets there from the door, or from there to the door."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_map import AuditMap, metres, sparse
from rollroute.planning.audit_roads import Roads
from rollroute.planning.plan import RiderPlan
from rollroute.planning.travel import LoadingZone

Floats = npt.NDArray[np.float64]
KERB_M = 9.0  # assumption: how far from the chair's way a van at the kerb may stand
CARRIED_WITHIN_M = 100.0  # assumption: trained people carry no further down to the street
ROAD_WITHIN_M = 1.0
SLACK_MIN = 0.02
DOUBT_MIN = 30.0  # no way is both as quick and as sure as told, if even the least of minutes + this × surprisal is more than told


def zone_violations(book: Book, chart: AuditMap, roads: Roads) -> Iterator[Violation]:
    """Walks and stopping places of everybody who rides."""
    looks: dict[Any, tuple[Floats, Floats]] = {}
    for line in book.plan.riders:
        if line.way not in ("van", "apart") or line.id not in book.riders or line.shelter not in book.shelters:
            continue
        if book.time(line.arrive) <= book.now:
            continue
        stops = [s for v in book.plan.vans if v.id == line.van for s in v.stops if line.id in s.riders]
        loads, unloads = (next((s.node for s in stops if s.kind == kind), None) for kind in ("load", "unload"))
        pickup = _zone(book.travel.pickups.get(line.id, ()), loads)
        dropoff = _zone(book.travel.dropoffs.get((line.id, line.shelter)), unloads)
        look = _Look(book, chart, line, looks)
        for zone, kind, name in ((pickup, "rider", line.id), (dropoff, "shelter", line.shelter)):
            if zone is not None:  # where there is none, the vans' audit has said so
                yield from look.at(zone, kind, name, roads)


def _zone(zones: tuple[LoadingZone, ...] | None, node: str | None) -> LoadingZone | None:
    return next((z for z in zones or () if z.node == node), None)


class _Look:
    """One rider's zones. ``looks`` keeps fields of minutes and doubt, which riders of one chair share."""

    def __init__(self, book: Book, chart: AuditMap, line: RiderPlan, looks: dict[Any, tuple[Floats, Floats]]) -> None:
        self.book, self.chart, self.line, self.looks = book, chart, line, looks
        rider = book.riders[line.id]
        self.is_dark = book.is_dark(book.time(line.leave), book.time(line.arrive))
        self.on_map = chart.chair_map(rider, is_dark=self.is_dark)

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
        minutes, weighed = self._fields(kind, name)
        near = self._near(here)
        least = float(minutes[near].min(initial=np.inf))
        if least > zone.roll_min + SLACK_MIN:
            said = f"{zone.roll_min:.1f} min between the door and {zone.label}"
            asks = f"the map asks for {least:.1f}" if np.isfinite(least) else "there is no way for this chair"
            yield Violation("loading zone", self.line.id, f"{said}, {asks}")
        elif float(weighed[near].min(initial=np.inf)) > zone.roll_min + DOUBT_MIN * zone.doubt + SLACK_MIN:
            yield Violation("loading zone", self.line.id, f"the way to {zone.label} is less sure than the estimates say")

    def _near(self, here: tuple[float, float]) -> npt.NDArray[np.int64]:
        nodes = self.chart.joined.nodes
        squeeze = np.cos(np.radians(here[1]))
        away = np.hypot((nodes.lon - here[0]) * squeeze, nodes.lat - here[1]) * 111_320.0
        return np.flatnonzero(away <= KERB_M + 0.1)

    def _fields(self, kind: str, name: str) -> tuple[Floats, Floats]:
        """(n_nodes,) least minutes, and least minutes and doubt together, between a door and every node: from a home, and to a shelter."""
        from scipy.sparse.csgraph import dijkstra

        chart, weights, door = self.chart, self.on_map.weights, self.chart.node[kind, name]
        walked = self.book.time(self.line.load if kind == "rider" else self.line.arrive)
        n_closed = int((chart.road_closes <= walked).sum())
        key = (self.on_map.chair, self.is_dark, door, n_closed)
        if key not in self.looks:
            use = np.flatnonzero(weights.is_passable & (np.repeat(chart.road_closes, 2) > walked))
            ends = (chart.tail[use], chart.head[use])
            if kind == "shelter":
                ends = (ends[1], ends[0])
            minutes = weights.planned_time_s[use] / 60.0
            parts = (minutes, minutes + DOUBT_MIN * weights.surprisal[use])
            fields = [dijkstra(sparse(chart.joined.n_nodes, *ends, part), indices=door) for part in parts]
            self.looks[key] = (np.asarray(fields[0]), np.asarray(fields[1]))
        return self.looks[key]
