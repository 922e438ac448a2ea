"""Places near a door where a van can stop and a chair can get to: found on the map, level where known, else marked to check.

A loading zone of the standard has a pull-up space of 2440 × 6100 mm (ADA 503.2), an access aisle of 1525 mm beside all of it (503.3),
both at the same level and no steeper than 1:48 (503.4), and 2895 mm of clearance on the vehicle's way in and out (503.5).
A street corner is none of these by right: the map can only tell slope, clearance and who gets there; the driver looks at the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from rollroute.network.kinds import WayKind
from rollroute.network.network import Flag, Network
from rollroute.planning.roads import Graph, max_height_cm
from rollroute.planning.travel import LoadingZone
from rollroute.weights.weigh import EdgeWeights

Floats = npt.NDArray[np.float64]
NO_STOP = Flag.OFF_MAP | Flag.BRIDGE | Flag.TUNNEL
KERB_REACH_M = 9.0  # assumption: a van at the kerb reaches a chair on the sidewalk beside it
LONGEST_TO_ZONE_MIN = 15.0  # assumption: further than this the chair rolls all the way or not at all
ZONES_KEPT, ZONES_TOGETHER = 4, 24  # of each door; riders who stay together have to share one, with chairs of different sizes
LEVEL_GRADE = 1.0 / 48.0  # ADA 503.4
STOPPING_KINDS = (WayKind.RESIDENTIAL, WayKind.LIVING_STREET, WayKind.SERVICE, WayKind.PARKING_AISLE, WayKind.DRIVEWAY, WayKind.BUSY_ROAD)
DOUBT_MIN = 30.0  # assumption: minutes that somebody would go round for one unit of surprisal
SLOPE_PENALTY_MIN = 3.0  # assumption: what a level or a quiet place is worth in minutes of rolling
HOUSE_WITHIN_M = 60.0  # a house number further away helps nobody to find the place
CARRY_MIN = 20.0  # assumption: two trained people bring a person down to the street


@dataclass(frozen=True, slots=True)
class RoadStops:
    """Nodes of roads where a van may stop. ``clearance_cm`` NaN: no limit is mapped; ``slope``, ``slope_sd`` NaN: not known."""

    node: npt.NDArray[np.int64]
    clearance_cm: Floats
    slope: Floats
    slope_sd: Floats
    is_busy: npt.NDArray[np.bool_]
    name: tuple[str, ...]
    tree: cKDTree


def road_stops(network: Network, roads: Graph) -> RoadStops:
    """Every node of a road on which a van may stop and which it can reach; the steepest piece at a node counts.

    Nobody stops to load on a bridge or in a tunnel; where one begins, the road before it counts.
    """
    pieces = network.pieces
    driven = np.zeros(network.n_pieces, np.bool_)
    driven[roads.piece] = True
    rows = np.flatnonzero(driven & np.isin(pieces.kind, [int(k) for k in STOPPING_KINDS]) & ((pieces.flags & NO_STOP) == 0))
    ends = np.concatenate([pieces.tail[rows], pieces.head[rows]])
    piece = np.concatenate([rows, rows])
    node, group = np.unique(ends, return_inverse=True)
    slope, sd = _worst(group, np.abs(pieces.grade[piece]), len(node)), _worst(group, pieces.grade_sd[piece], len(node))
    heights = {int(w): max_height_cm(network.ways.tags(int(w))) for w in np.unique(pieces.way[rows])}  # inf: no limit is mapped
    limit = np.array([heights[int(w)] for w in pieces.way[rows]], np.float64)
    clearance = np.full(len(node), math.inf)
    np.minimum.at(clearance, group, np.concatenate([limit, limit]))
    clearance[np.isinf(clearance)] = math.nan
    busy = np.zeros(len(node), np.bool_)
    np.logical_or.at(busy, group, pieces.kind[piece] == int(WayKind.BUSY_ROAD))
    own = {int(w): network.ways.name(int(w)) or "" for w in np.unique(pieces.way[rows])}
    names = [""] * len(node)
    for g, w in zip(group.tolist(), pieces.way[piece].tolist(), strict=True):
        names[g] = names[g] or own[w]
    return RoadStops(node, clearance, slope, sd, busy, _with_numbers(network, node, names), cKDTree(_metres(network, node)))


def _with_numbers(network: Network, node: npt.NDArray[np.int64], names: Sequence[str]) -> tuple[str, ...]:
    """Each stop's street with the house that it is by, so that a driver finds it; the position where nothing is near."""
    houses = [(str(a[0]), str(a[1]), float(a[2]), float(a[3])) for a in network.about.get("addresses", [])]
    here = _metres(network, node)
    if houses and len(node):
        lon, lat = np.array([h[2] for h in houses], np.float64), np.array([h[3] for h in houses], np.float64)
        metres, house = cKDTree(_project(network, lon, lat)).query(here)
    labels = []
    for i, name in enumerate(names):
        if houses and metres[i] <= HOUSE_WITHIN_M:
            street, number = houses[int(house[i])][:2]
            labels.append(f"{name}, by number {number}" if name == street else f"{name or 'service road'}, by {number} {street}")
        else:
            where = network.node_place(int(node[i]))
            labels.append(name or f"{where[1]:.5f}, {where[0]:.5f}")
    return tuple(labels)


def _worst(group: npt.NDArray[np.int64], value: Floats, n: int) -> Floats:
    """The largest value of each group; NaN where any is not known."""
    worst = np.zeros(n)
    np.maximum.at(worst, group, value)
    return worst


def _metres(network: Network, nodes: npt.NDArray[np.int64]) -> Floats:
    return _project(network, network.nodes.lon[nodes], network.nodes.lat[nodes])


def _project(network: Network, lon: npt.NDArray[np.floating[Any]], lat: npt.NDArray[np.floating[Any]]) -> Floats:
    squeeze = math.cos(float(np.radians(np.mean(network.nodes.lat))))
    return np.column_stack([np.radians(lon) * squeeze, np.radians(lat)]) * 6_371_000.0


@dataclass(frozen=True, slots=True)
class ChairWays:
    """Passable ways of one chair: what a search weighs (minutes and doubt), with both parts; ``backwards`` turns every way round."""

    cost: csr_array
    minutes: csr_array
    doubt: csr_array

    def backwards(self) -> ChairWays:
        """The same ways towards a goal."""
        return ChairWays(csr_array(self.cost.T), csr_array(self.minutes.T), csr_array(self.doubt.T))


def chair_ways(network: Network, weights: EdgeWeights, open_edges: npt.NDArray[np.bool_]) -> ChairWays:
    """The ways of one chair, in planned minutes and surprisal; of parallel ways the better one."""
    use = np.flatnonzero(weights.is_passable & open_edges)
    minutes, doubt = np.maximum(weights.planned_time_s[use] / 60.0, 1e-6), weights.surprisal[use]
    cost = minutes + DOUBT_MIN * doubt
    best, where = _best_of_parallel(network, use, cost)
    shape = (network.n_nodes, network.n_nodes)
    return ChairWays(*(csr_array((part[best], where), shape=shape) for part in (cost, minutes, np.maximum(doubt, 1e-12))))


def energy_ways(network: Network, weights: EdgeWeights) -> csr_array:
    """Planned Wh of every passable way; of parallel ways the thriftiest."""
    use = np.flatnonzero(weights.is_passable)
    energy = np.maximum(weights.planned_energy_wh[use], 1e-9)
    best, where = _best_of_parallel(network, use, energy)
    return csr_array((energy[best], where), shape=(network.n_nodes, network.n_nodes))


def _best_of_parallel(network: Network, edges: npt.NDArray[np.int64], cost: Floats) -> tuple[npt.NDArray[np.int64], tuple[Any, Any]]:
    """Positions in ``edges`` of the cheapest from each node to each other, and (tail, head) of these."""
    tail, head = network.edge_tail[edges], network.edge_head[edges]
    order = np.lexsort((cost, tail.astype(np.int64) * network.n_nodes + head))
    tail, head = tail[order], head[order]
    first = np.ones(len(order), np.bool_)
    first[1:] = (tail[1:] != tail[:-1]) | (head[1:] != head[:-1])
    return order[first], (tail[first], head[first])


def zones_near(network: Network, stops: RoadStops, ways: ChairWays, door: int, *, kept: int = ZONES_KEPT) -> tuple[LoadingZone, ...]:
    """The ``kept`` best zones that the chair reaches from ``door`` (or, with the ways backwards, from which it reaches the door)."""
    cost, before = dijkstra(ways.cost, indices=door, limit=LONGEST_TO_ZONE_MIN, return_predecessors=True)
    reached = np.flatnonzero(np.isfinite(cost))
    if not len(reached) or not len(stops.node):
        return ()
    distance_m, nearest = stops.tree.query(_metres(network, reached), distance_upper_bound=KERB_REACH_M)
    found: dict[int, int] = {}
    for here, metres, stop in zip(reached, distance_m, nearest, strict=True):
        if math.isfinite(metres) and (int(stop) not in found or cost[here] < cost[found[int(stop)]]):
            found[int(stop)] = int(here)
    scored = sorted(found, key=lambda s: (float(cost[found[s]]) + _penalty(stops, s), s))[:kept]
    zones = []
    for s in scored:
        minutes, doubt = _along(ways, before, found[s])
        zones.append(_zone(network, stops, s, minutes, doubt=doubt))
    return tuple(zones)


def _along(ways: ChairWays, before: npt.NDArray[np.int32], node: int) -> tuple[float, float]:
    """Minutes and doubt of the way to ``node``."""
    minutes = doubt = 0.0
    while (earlier := int(before[node])) >= 0:
        minutes += float(ways.minutes[earlier, node])
        doubt += float(ways.doubt[earlier, node])
        node = earlier
    return minutes, doubt if doubt > 1e-9 else 0.0


def _penalty(stops: RoadStops, s: int) -> float:
    return SLOPE_PENALTY_MIN * (float(_is_level(stops, s) is False) + float(stops.is_busy[s]))


def _is_level(stops: RoadStops, s: int) -> bool | None:
    """Flatter than 1:48 with two standard errors to spare, steeper, or not known."""
    slope, sd = float(stops.slope[s]), float(stops.slope_sd[s])
    if not math.isfinite(slope):
        return None
    if slope > LEVEL_GRADE:
        return False
    return True if math.isfinite(sd) and slope + 2 * sd < LEVEL_GRADE else None


def _zone(network: Network, stops: RoadStops, s: int, minutes: float, *, doubt: float = 0.0, carried: bool = False) -> LoadingZone:
    lon, lat = network.node_place(int(stops.node[s]))
    clearance = float(stops.clearance_cm[s])
    return LoadingZone(
        node=f"n{int(stops.node[s])}",
        label=stops.name[s],
        lon=lon,
        lat=lat,
        roll_min=round(minutes, 2),
        doubt=round(doubt, 4),
        clearance_cm=clearance if math.isfinite(clearance) else None,
        is_level=_is_level(stops, s),
        carried=carried,
    )


def carried_zone(network: Network, stops: RoadStops, door: int) -> tuple[LoadingZone, ...]:
    """The nearest place for a van, for a person whom trained people carry down."""
    if not len(stops.node):
        return ()
    metres, stop = stops.tree.query(_metres(network, np.array([door])))
    return (_zone(network, stops, int(stop[0]), CARRY_MIN, carried=True),) if float(metres[0]) < 100.0 else ()
