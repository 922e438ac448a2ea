"""Roads for vans and ways for walkers: planned minutes between places, also after roads have closed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.network.tags import Access
from rollroute.planning.travel import Phase

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Planned speeds of a van in the evening of an emergency, km/h; assumptions, under the posted limit.
# For comparison: a mean of about 23 km/h over demand-response fleets (from memory).
VAN_KMH = {
    WayKind.RESIDENTIAL: 20.0,
    WayKind.LIVING_STREET: 7.0,
    WayKind.SERVICE: 10.0,
    WayKind.PARKING_AISLE: 7.0,
    WayKind.DRIVEWAY: 7.0,
    WayKind.BUSY_ROAD: 25.0,
    WayKind.FAST_ROAD: 40.0,
}
ROAD_KINDS = tuple(VAN_KMH)
NO_ENTRY = {"no", "private", "agricultural", "forestry"}
UNWALKED = (WayKind.FAST_ROAD, WayKind.CONSTRUCTION, WayKind.ESCALATOR, WayKind.ELEVATOR)
AT_ONCE = 64  # sources whose fields are in memory together
FEET_AND_INCHES = re.compile(r"(\d+)(?:'|\s*ft)\s*(?:(\d+(?:\.\d+)?)\s*(?:\"|in)?)?")
CM_PER_INCH = 2.54
WALK_DELAY = 1.25  # assumption: planned over expected time of somebody on foot at night


@dataclass(frozen=True, slots=True)
class Graph:
    """Directed minutes over the nodes of a network; ``piece[i]`` is the piece of entry ``i``."""

    n_nodes: int
    tail: npt.NDArray[np.int32]
    head: npt.NDArray[np.int32]
    minutes: Floats
    piece: npt.NDArray[np.int64]

    def matrix(self, keep: Bools | None = None) -> csr_array:
        """Sparse minutes; parallel ways keep the quickest."""
        use = np.ones(len(self.tail), np.bool_) if keep is None else keep
        order = np.lexsort((self.minutes[use], self.head[use], self.tail[use]))
        tail, head, minutes = self.tail[use][order], self.head[use][order], self.minutes[use][order]
        first = np.ones(len(tail), np.bool_)
        first[1:] = (tail[1:] != tail[:-1]) | (head[1:] != head[:-1])
        return csr_array((np.maximum(minutes[first], 1e-6), (tail[first], head[first])), shape=(self.n_nodes, self.n_nodes))


def road_graph(network: Network, height_cm: float = 0.0) -> Graph:
    """Ways that a van of this height may drive, with one-way streets as the map has them."""
    pieces = network.pieces
    rows = np.flatnonzero(np.isin(pieces.kind, [int(k) for k in ROAD_KINDS]))
    ways, own = np.unique(pieces.way[rows], return_inverse=True)
    tags = [network.ways.tags(int(way)) for way in ways]
    is_low = np.array([max_height_cm(t) < height_cm for t in tags], np.bool_)[own]
    allowed = np.array([_directions(t) for t in tags], np.bool_).reshape(-1, 2)[own] & ~is_low[:, np.newaxis]
    forward, backward = allowed[:, 0], allowed[:, 1]
    speed = np.array([VAN_KMH.get(WayKind(int(k)), 10.0) for k in pieces.kind[rows]])
    posted = pieces.speed_kmh[rows]
    speed = np.where(np.isfinite(posted), np.minimum(speed, np.maximum(posted, 5.0)), speed)
    minutes = pieces.length_m[rows] / 1000.0 / speed * 60.0
    return Graph(
        network.n_nodes,
        np.concatenate([pieces.tail[rows][forward], pieces.head[rows][backward]]).astype(np.int32),
        np.concatenate([pieces.head[rows][forward], pieces.tail[rows][backward]]).astype(np.int32),
        np.concatenate([minutes[forward], minutes[backward]]),
        np.concatenate([rows[forward], rows[backward]]),
    )


def height_classes(network: Network, heights_cm: Iterable[float]) -> tuple[float, ...]:
    """The tallest van of each group of vans that no limit of height on a road tells apart, tallest first; at least one.

    A limit lets through what is as high or lower, so two heights are told apart by a limit that is lower than one only.
    """
    pieces = network.pieces
    ways = np.unique(pieces.way[np.isin(pieces.kind, [int(k) for k in ROAD_KINDS])])
    limits = np.unique([max_height_cm(network.ways.tags(int(way))) for way in ways])
    heights = np.unique([*heights_cm])[::-1]
    if not len(heights):
        return (0.0,)
    _, first = np.unique(-np.searchsorted(limits, heights), return_index=True)
    return tuple(float(heights[i]) for i in np.sort(first))


def _directions(tags: dict[str, str]) -> tuple[bool, bool]:
    """Whether a vehicle may go along and against a way (OSM wiki: Key:oneway, Key:access)."""
    rule = tags.get("motor_vehicle", tags.get("vehicle", tags.get("access", "")))
    if rule in NO_ENTRY:
        return False, False
    oneway = tags.get("oneway", "yes" if tags.get("junction") == "roundabout" else "no")
    return oneway not in ("-1", "reverse"), oneway not in ("yes", "true", "1")


def max_height_cm(tags: dict[str, str]) -> float:
    """The limit of height of a way, in metres or in feet and inches (OSM wiki: Key:maxheight); inf where no figure is mapped."""
    text = tags.get("maxheight", "").replace(",", ".").removesuffix("m").strip()
    feet = FEET_AND_INCHES.fullmatch(text)
    if feet:
        return CM_PER_INCH * (12.0 * float(feet[1]) + float(feet[2] or 0.0))
    try:
        return float(text) * 100.0
    except ValueError:
        return math.inf


def walk_graph(network: Network, walk_m_s: float) -> Graph:
    """Ways that somebody on foot can take, steps included."""
    pieces = network.pieces
    no_way = np.isin(pieces.kind, [int(k) for k in UNWALKED]) | (pieces.access == int(Access.NO))
    rows = np.flatnonzero(~no_way)
    minutes = pieces.length_m[rows] / walk_m_s / 60.0 * WALK_DELAY
    return Graph(
        network.n_nodes,
        np.concatenate([pieces.tail[rows], pieces.head[rows]]).astype(np.int32),
        np.concatenate([pieces.head[rows], pieces.tail[rows]]).astype(np.int32),
        np.concatenate([minutes, minutes]),
        np.concatenate([rows, rows]),
    )


def minutes_between(graph: Graph, sources: Sequence[int], goals: Sequence[int], keep: Bools | None = None) -> Floats:
    """(n_sources, n_goals) minutes, inf where there is no way; nodes that no way of the graph touches are left out of the search."""
    found = np.full((len(sources), len(goals)), math.inf)
    if not len(sources) or not len(goals):
        return found
    met = np.unique(np.concatenate([graph.tail, graph.head, np.asarray(sources, np.int32), np.asarray(goals, np.int32)]))
    number = np.full(graph.n_nodes, -1, np.int32)
    number[met] = np.arange(len(met), dtype=np.int32)
    small = Graph(len(met), number[graph.tail], number[graph.head], graph.minutes, graph.piece).matrix(keep)
    rows, columns = number[np.asarray(sources)], number[np.asarray(goals)]
    for first in range(0, len(rows), AT_ONCE):
        found[first : first + AT_ONCE] = dijkstra(small, indices=rows[first : first + AT_ONCE])[:, columns]
    return found


def driving_phases(parts: Sequence[tuple[Graph, Sequence[int]]], closes_min: Floats) -> tuple[Phase, ...]:
    """Driving minutes between the nodes of each part, before and after each closing; from part to part there is no way.

    parts : roads of one height of van, and the nodes that such vans stop at; all nodes in this order are rows and columns
    closes_min : (n_pieces,) minute at which a piece closes; inf = never
    """
    driven = np.unique(np.concatenate([graph.piece for graph, _ in parts]))
    closings = sorted({float(c) for c in closes_min[driven] if math.isfinite(c) and c > 0})
    return tuple(Phase(ends, _minutes_until(ends, parts, closes_min)) for ends in [*closings, math.inf])


def _minutes_until(ends: float, parts: Sequence[tuple[Graph, Sequence[int]]], closes_min: Floats) -> Floats:
    size, first = sum(len(nodes) for _, nodes in parts), 0
    minutes = np.full((size, size), math.inf)
    for graph, nodes in parts:
        keep = closes_min[graph.piece] >= ends if math.isfinite(ends) else ~np.isfinite(closes_min[graph.piece])
        last = first + len(nodes)
        minutes[first:last, first:last] = minutes_between(graph, nodes, nodes, keep)
        first = last
    return minutes
