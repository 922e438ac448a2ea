"""Give sidewalks and crossings the name of the street they belong to, so that a step can say where it is."""

from __future__ import annotations

import numpy as np

from rollroute.inputs.osm import RawWay
from rollroute.network.assemble import Skeleton
from rollroute.network.facts.ways import WayFacts
from rollroute.network.kinds import CARRIAGEWAY_KINDS, STREET_KINDS, WayKind
from rollroute.units import M_PER_DEGREE

BESIDE_M = 25.0  # assumption: a sidewalk lies within this distance of the middle of its street
MOST_TURN_COS = 0.8  # and runs within about 37° of its direction


def names_of_ways(skeleton: Skeleton, ways: list[RawWay], facts: list[WayFacts]) -> list[str | None]:
    """One name per way: its own, for a crossing that of the street it crosses, for a sidewalk that of the street beside it."""
    names = [way.tags.get("name") for way in ways]
    kinds = [f.kind for f in facts]
    by_node: dict[int, str] = {}
    for way, name, kind in zip(ways, names, kinds, strict=True):
        if name and kind in CARRIAGEWAY_KINDS:
            by_node.update(dict.fromkeys(way.node_ids, name))
    for row, (way, kind) in enumerate(zip(ways, kinds, strict=True)):
        if names[row] is None and kind is WayKind.CROSSING:
            names[row] = next((by_node[i] for i in way.node_ids if i in by_node), None)
    _name_sidewalks(skeleton, names, kinds)
    return names


def _name_sidewalks(skeleton: Skeleton, names: list[str | None], kinds: list[WayKind]) -> None:
    """Name every nameless sidewalk after the named street that most of it runs beside."""
    way = skeleton.way
    is_street = np.array([k in CARRIAGEWAY_KINDS and n is not None for k, n in zip(kinds, names, strict=True)], bool)[way]
    is_nameless = np.array([k is WayKind.SIDEWALK and n is None for k, n in zip(kinds, names, strict=True)], bool)[way]
    votes: dict[int, dict[str, float]] = {}
    for piece, other in _beside(skeleton, np.flatnonzero(is_nameless), np.flatnonzero(is_street)):
        name = names[int(way[other])] or ""
        tally = votes.setdefault(int(way[piece]), {})
        tally[name] = tally.get(name, 0.0) + float(skeleton.length_m[piece])
    for row, tally in votes.items():
        names[row] = max(sorted(tally), key=lambda name: tally[name])


def ways_with_sidewalks_drawn(skeleton: Skeleton, kinds: list[WayKind]) -> set[int]:
    """Streets along at least half of which a sidewalk is drawn as a way of its own: their line is the carriageway."""
    way = skeleton.way
    is_street = np.array([k in STREET_KINDS for k in kinds], bool)[way]
    is_sidewalk = np.array([k is WayKind.SIDEWALK for k in kinds], bool)[way]
    beside_m: dict[int, float] = {}
    for piece, other in _beside(skeleton, np.flatnonzero(is_sidewalk), np.flatnonzero(is_street)):
        row = int(way[other])
        beside_m[row] = beside_m.get(row, 0.0) + float(skeleton.length_m[piece])
    return {row for row, length_m in beside_m.items() if length_m >= skeleton.way_length_m[row] / 2}


def _beside(skeleton: Skeleton, walk: np.ndarray, street: np.ndarray) -> list[tuple[int, int]]:
    """For every piece of ``walk`` the nearest of ``street`` that runs along it, where there is one."""
    from scipy.spatial import cKDTree

    if not len(walk) or not len(street):
        return []
    points, along = _points(skeleton)
    owner, samples = _sampled(points, along, skeleton.length_m, street)
    _, near = cKDTree(samples).query(points[walk], k=min(8, len(samples)), distance_upper_bound=BESIDE_M)
    near = near.reshape(len(walk), -1)
    other = owner[np.minimum(near, len(samples) - 1)]
    fits = (near < len(samples)) & (np.abs((along[walk][:, None, :] * along[other]).sum(2)) >= MOST_TURN_COS)
    rows = np.flatnonzero(fits.any(axis=1))
    return list(zip(walk[rows].tolist(), other[rows, fits[rows].argmax(axis=1)].tolist(), strict=True))


def _points(skeleton: Skeleton) -> tuple[np.ndarray, np.ndarray]:
    """Middle of every piece in metres, and its unit direction."""
    scale = np.array([np.cos(np.radians(skeleton.node_lat.mean())), 1.0]) * M_PER_DEGREE
    place = np.column_stack([skeleton.node_lon, skeleton.node_lat]) * scale
    tail, head = place[skeleton.tail], place[skeleton.head]
    along = head - tail
    return (tail + head) / 2, along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]


def _sampled(points: np.ndarray, along: np.ndarray, length_m: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points every 10 m along street pieces, so that a long street is near all along it; with the piece of each."""
    count = np.maximum(1, np.ceil(length_m[rows] / 10.0)).astype(int)
    owner = np.repeat(rows, count)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    offset = ((step + 0.5) / np.repeat(count, count) - 0.5) * length_m[owner]
    return owner, points[owner] + offset[:, None] * along[owner]
