"""What is drawn around a route: buildings and streets near it, pieces near it that are barred, hazards."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rollroute.journey import Journey
from rollroute.network.network import Flag, Lines
from rollroute.network.tags import read_levels
from rollroute.output.compose_facts import known_of
from rollroute.output.itinerary import Backdrop, Barred, Hazard, LonLat
from rollroute.units import M_PER_DEGREE
from rollroute.weights.reasons import Reason, names

MOST_BARRED = 30
DIGITS = 6  # about 0.1 m

Floats = npt.NDArray[np.float64]


def backdrop_near(journey: Journey, margin_m: float) -> Backdrop:
    """The map's own picture within ``margin_m`` of the way's bounding box, cut down to lines that touch its corridor."""
    corridor = _Corridor(journey, margin_m)
    lines = journey.network.backdrop
    labels = journey.network.about.get("labels", [])
    return Backdrop(
        buildings=corridor.rings(lines.get("building")),
        water=corridor.rings(lines.get("water")),
        green=corridor.rings(lines.get("green")),
        waterways=corridor.rings(lines.get("waterway")),
        roads=corridor.named(lines.get("road"), labels),
        paths=corridor.named(lines.get("path"), labels),
        rooms=corridor.rooms(lines.get("room"), labels),
    )


class _Corridor:
    """A coarse raster of the ground near the way, to keep or drop lines quickly."""

    def __init__(self, journey: Journey, margin_m: float) -> None:
        nodes = journey.network.nodes
        way = journey.route.nodes
        self.lon, self.lat = nodes.lon[way], nodes.lat[way]
        lat = float(self.lat.mean())
        self.scale = np.array([np.cos(np.radians(lat)) * M_PER_DEGREE, M_PER_DEGREE])
        self.origin = np.array([self.lon.min(), self.lat.min()]) - margin_m / self.scale
        self.cell_m = margin_m / 2
        cells = np.floor((np.column_stack([self.lon, self.lat]) - self.origin) * self.scale / self.cell_m).astype(int)
        size = cells.max(0) + 4
        self.near = np.zeros(size, bool)
        for dx in (-2, -1, 0, 1, 2):
            for dy in (-2, -1, 0, 1, 2):
                self.near[np.clip(cells[:, 0] + dx, 0, size[0] - 1), np.clip(cells[:, 1] + dy, 0, size[1] - 1)] = True

    def touches(self, points: Floats) -> npt.NDArray[np.bool_]:
        """Which points lie in the corridor."""
        cells = np.floor((points - self.origin) * self.scale / self.cell_m).astype(int)
        inside = (cells >= 0).all(1) & (cells < self.near.shape).all(1)
        hit = np.zeros(len(points), bool)
        hit[inside] = self.near[cells[inside, 0], cells[inside, 1]]
        return hit

    def _kept(self, lines: Lines) -> npt.NDArray[np.intp]:
        hits = self.touches(np.asarray(lines.points))
        owner = np.repeat(np.arange(len(lines.offsets) - 1), np.diff(lines.offsets))
        return np.unique(owner[hits])

    def rings(self, lines: Lines | None) -> list[list[LonLat]]:
        """Whole lines that touch the corridor."""
        if lines is None or len(lines.offsets) < 2:
            return []
        return [_points(lines, int(row)) for row in self._kept(lines)]

    def named(self, lines: Lines | None, labels: list[str]) -> list[tuple[str | None, list[LonLat]]]:
        """Lines with their names."""
        if lines is None or len(lines.offsets) < 2:
            return []
        return [(labels[lines.label[row]] if lines.label[row] >= 0 else None, _points(lines, int(row))) for row in self._kept(lines)]

    def rooms(self, lines: Lines | None, labels: list[str]) -> list[tuple[float, str | None, list[LonLat]]]:
        """Rooms as (level, name, ring); a room on several levels is drawn on each, one whose level is not understood on none."""
        found: list[tuple[float, str | None, list[LonLat]]] = []
        for label, ring in self.named(lines, labels):
            level_text, _, name = (label or "0|").partition("|")
            levels = read_levels({"level": level_text}).value or ()
            found.extend((float(level), name or None, ring) for level in levels)
        return found


def _points(lines: Lines, row: int) -> list[LonLat]:
    part = np.round(np.asarray(lines.points[lines.offsets[row] : lines.offsets[row + 1]]), DIGITS)
    return [(float(lon), float(lat)) for lon, lat in part]


def barred_near(journey: Journey) -> list[Barred]:
    """Pieces that branch off the way, near it, and that this chair may not take."""
    network, weights = journey.network, journey.weights
    on_way = np.zeros(network.n_nodes, bool)
    on_way[journey.route.nodes] = True
    driven = np.zeros(network.n_pieces, bool)
    driven[journey.route.edges // 2] = True
    branches = (on_way[network.edge_tail] & ~on_way[network.edge_head]) & (weights.reasons != 0)
    edges = [int(e) for e in np.flatnonzero(branches) if not driven[e // 2] and not network.pieces.flags[e // 2] & Flag.OFF_MAP]
    shown: dict[int, Barred] = {}
    for edge in edges:
        way = int(network.pieces.way[edge // 2])
        if way in shown or len(shown) >= MOST_BARRED:
            continue
        reasons = [n for n in names(int(weights.reasons[edge]), Reason) if n not in ("one_way",)]
        ends = [network.node_place(int(network.edge_tail[edge])), network.node_place(int(network.edge_head[edge]))]
        if reasons:
            shown[way] = Barred(coordinates=ends, reasons=reasons, name=network.ways.name(way), facts=known_of(journey, edge))
    return list(shown.values())


def hazards_of(journey: Journey) -> list[Hazard]:
    """The hazards of the trip, for the map."""
    return [
        Hazard(
            kind=hazard.kind,
            label=hazard.label,
            rings=[[(float(lon), float(lat)) for lon, lat in ring] for ring in hazard.rings],
            starts=None if hazard.starts is None else hazard.starts.isoformat(timespec="minutes"),
            ends=None if hazard.ends is None else hazard.ends.isoformat(timespec="minutes"),
        )
        for hazard in journey.trip.hazards
    ]
