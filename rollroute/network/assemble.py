"""Lay ways end to end: number their nodes and cut them into pieces short enough to have one grade each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.inputs.osm import RawWay

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Skeleton:
    """Nodes and pieces without facts.

    node_id, node_lon, node_lat : (n_nodes,)   OSM id (0 for nodes that we put in), degrees
    tail, head, way : (n_pieces,)              node numbers; row of the way in the list given
    length_m : (n_pieces,)                     geodesic on WGS 84
    from_m, to_m : (n_pieces,)                 along the way, from its first node
    way_length_m : (n_ways,)
    """

    node_id: Ints
    node_lon: Floats
    node_lat: Floats
    tail: Ints
    head: Ints
    way: Ints
    length_m: Floats
    from_m: Floats
    to_m: Floats
    way_length_m: Floats


def assemble(ways: list[RawWay], *, longest_piece_m: float) -> Skeleton:
    """Cut ``ways`` at every node of theirs, and between nodes so that no piece is longer than ``longest_piece_m``.

    Segments of no length (a node given twice) are left out.
    """
    counts = np.array([len(way.node_ids) for way in ways], np.int64)
    ids = np.array([i for way in ways for i in way.node_ids], np.int64)
    lon = np.array([x for way in ways for x in way.lons], np.float64)
    lat = np.array([y for way in ways for y in way.lats], np.float64)
    node_id, first, number = np.unique(ids, return_index=True, return_inverse=True)
    row = np.repeat(np.arange(len(ways)), counts)
    starts = np.flatnonzero(row[1:] == row[:-1])  # segment from point i to point i + 1 of the same way
    length_m = _geodesic_m(lon[starts], lat[starts], lon[starts + 1], lat[starts + 1])
    starts, length_m = starts[length_m > 0], length_m[length_m > 0]
    tail, head, piece_m, segment, extra = _cut(number[starts], number[starts + 1], length_m, len(node_id), longest_piece_m)
    extra_lon, extra_lat = _extra_places(lon, lat, starts, extra)
    way = row[starts][segment]
    to_m, way_length_m = _along(way, piece_m, len(ways))
    return Skeleton(
        node_id=np.concatenate([node_id, np.zeros(len(extra_lon), np.int64)]),
        node_lon=np.concatenate([lon[first], extra_lon]),
        node_lat=np.concatenate([lat[first], extra_lat]),
        tail=tail,
        head=head,
        way=way,
        length_m=piece_m,
        from_m=to_m - piece_m,
        to_m=to_m,
        way_length_m=way_length_m,
    )


def _geodesic_m(lon1: Floats, lat1: Floats, lon2: Floats, lat2: Floats) -> Floats:
    from pyproj import Geod

    if not len(lon1):
        return np.empty(0)
    return np.asarray(Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)[2], np.float64)


def _cut(tail: Ints, head: Ints, length_m: Floats, n_nodes: int, longest_m: float) -> tuple[Any, ...]:
    """Cut segments into equal parts no longer than ``longest_m``.

    Returns tail, head, length and segment of every part, and (segment, fraction) of every node put in.
    """
    parts = np.maximum(1, np.ceil(length_m / longest_m - 1e-9)).astype(np.int64)
    segment = np.repeat(np.arange(len(parts)), parts)
    first = np.concatenate([[0], np.cumsum(parts)[:-1]]) if len(parts) else np.zeros(0, np.int64)
    part = np.arange(len(segment)) - first[segment]
    is_last = part == parts[segment] - 1
    new_number = n_nodes + np.cumsum(~is_last) - 1  # the node put in at the end of every part but the last
    part_head = np.where(is_last, head[segment], new_number)
    part_tail = np.where(part == 0, tail[segment], np.concatenate([[0], part_head[:-1]]) if len(part_head) else part_head)
    fraction = ((part + 1) / parts[segment])[~is_last]
    return part_tail, part_head, length_m[segment] / parts[segment], segment, (segment[~is_last], fraction)


def _extra_places(lon: Floats, lat: Floats, starts: Ints, extra: tuple[Ints, Floats]) -> tuple[Floats, Floats]:
    segment, fraction = extra
    begin = starts[segment]
    return (
        lon[begin] + fraction * (lon[begin + 1] - lon[begin]),
        lat[begin] + fraction * (lat[begin + 1] - lat[begin]),
    )


def _along(way: Ints, piece_m: Floats, n_ways: int) -> tuple[Floats, Floats]:
    """Distance along its way at the end of every piece, and the length of every way; pieces come in the order of their ways."""
    total = np.cumsum(piece_m)
    way_length_m = np.bincount(way, weights=piece_m, minlength=n_ways)
    before = np.concatenate([[0.0], np.cumsum(way_length_m)[:-1]]) if n_ways else np.zeros(0)
    return np.asarray(total - before[way], np.float64), np.asarray(way_length_m, np.float64)
