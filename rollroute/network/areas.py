"""Cross squares, platforms, rooms and corridors that are drawn as areas.

A chair crosses an area from any node on its rim where something else joins it (a street, a door, a lift) to any other.
Two such nodes are joined by a straight line where it stays inside the area; the rim carries the rest.
This is the visibility graph of the joining nodes (de Berg et al., Computational Geometry, chapter 15), with the rim's own corners
added so that a bent area can still be crossed.
A room also has a point inside it, so that a way can end in the room and not at its door.
"""

from __future__ import annotations

import itertools

from rollroute.inputs.osm import RawWay

MAX_JOINTS = 40  # above this many joining nodes only the rim is used: the number of lines grows with the square
INSIDE_TOLERANCE_DEG = 2e-7  # about 2 cm, so that a line along the rim counts as inside


Stop = tuple[int, float, float]  # node id, lon, lat


def crossing_lines(area: RawWay, joints: set[int], *, inside: Stop | None = None) -> list[RawWay]:
    """Straight ways across ``area`` between the nodes ``joints`` on its rim, and the rim itself where needed.

    Parameters
    ----------
    area
        A closed way. Its tags and id are handed on to every line.
    joints
        Ids of rim nodes that other ways or doors use.
    inside
        A point of the area that is to be reached too, see ``point_inside``.
    """
    from shapely import LineString, Polygon, prepare

    ids = [i if i in joints else _own_corner(area, i) for i in area.node_ids[:-1]]
    ring = list(zip(ids, area.lons[:-1], area.lats[:-1], strict=True))
    corners = _reflex_corners(ring)
    stops = [item for item in ring if item[0] in joints or item[0] in corners]
    n_joints = sum(1 for item in ring if item[0] in joints)
    if n_joints < 1:
        return []
    shape = Polygon([(lon, lat) for _, lon, lat in ring]).buffer(INSIDE_TOLERANCE_DEG)
    prepare(shape)
    pairs = list(itertools.combinations(stops, 2))
    lines = []
    if len(stops) > MAX_JOINTS:
        pairs, lines = [], [RawWay(area.way_id, area.tags, [*ids, ids[0]], list(area.lons), list(area.lats))]
    if inside is not None:
        pairs += [(stop, inside) for stop in stops]
    for (id1, lon1, lat1), (id2, lon2, lat2) in pairs:
        if shape.contains(LineString([(lon1, lat1), (lon2, lat2)])):
            lines.append(RawWay(area.way_id, area.tags, [id1, id2], [lon1, lon2], [lat1, lat2]))
    return lines


def inside_id(way_id: int) -> int:
    """The number of the node that ``point_inside`` makes: OSM ids are above 0, and corners of areas lie below this one."""
    return -(way_id << 20)


def point_inside(area: RawWay) -> Stop:
    """A node in the middle of ``area``, or well inside it where the middle lies outside."""
    from shapely import Polygon

    shape = Polygon(zip(area.lons, area.lats, strict=True))
    middle = shape.centroid
    if not shape.is_valid or not shape.contains(middle):
        middle = shape.buffer(0).representative_point()
    return inside_id(area.way_id), float(middle.x), float(middle.y)


def _own_corner(area: RawWay, node_id: int) -> int:
    """A number that this area's corner shares with no other area: what lies on another level meets only at joints."""
    return -(area.way_id << 20) - area.node_ids.index(node_id) - 1


def _reflex_corners(ring: list[tuple[int, float, float]]) -> set[int]:
    """Rim nodes where the area's inside angle is over 180°: the only ones around which a shortest way can bend."""
    area2 = sum(x1 * y2 - x2 * y1 for (_, x1, y1), (_, x2, y2) in zip(ring, ring[1:] + ring[:1], strict=True))
    corners = set()
    for before, here, after in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True):
        turn = (here[1] - before[1]) * (after[2] - here[2]) - (here[2] - before[2]) * (after[1] - here[1])
        if turn * area2 < 0:
            corners.add(here[0])
    return corners
