"""Join sidewalks across a change of mapping: where a street's sidewalk stops being a tag and goes on as a way of its own.

Mappers draw a bridge as one line tagged ``sidewalk=both`` and the quay beyond it with sidewalks as ways, and leave a gap of a few
metres between the two. On the ground the sidewalk runs on. Each such end is joined to the nearest sidewalk ways by a short line
that carries a question of its own.
"""

from __future__ import annotations

import math

from rollroute.inputs.osm import RawWay
from rollroute.network.facts.ways import WayFacts
from rollroute.network.kinds import WALK_KINDS, WayKind
from rollroute.network.network import Flag
from rollroute.units import M_PER_DEGREE

LINK_WITHIN_M = 25.0  # assumption: half the width of a wide street with its sidewalks
MOST_LINKS = 2  # one for each side of the street
LINK_TAGS = {"highway": "footway", "footway": "sidewalk", "note": "joined by rollroute where the mapping of the sidewalk changes"}
Place = tuple[float, float]  # lon, lat, or metres east and north


def sidewalk_links(ways: list[RawWay], facts: list[WayFacts]) -> list[RawWay]:
    """Short lines from ends of tagged sidewalks to sidewalk ways near them, one for each side of the street."""
    tagged, separate, walk = _ends(ways, facts)
    gaps = {node: place for node, place in tagged.items() if node in separate and node not in walk}
    if not gaps or not walk:
        return []
    from scipy.spatial import cKDTree

    squeeze = math.cos(math.radians(next(iter(gaps.values()))[0][1]))
    ids = sorted(walk)
    tree = cKDTree([(walk[i][0] * squeeze * M_PER_DEGREE, walk[i][1] * M_PER_DEGREE) for i in ids])
    links = []
    for node, (end, before) in sorted(gaps.items()):
        here = (end[0] * squeeze * M_PER_DEGREE, end[1] * M_PER_DEGREE)
        along = ((end[0] - before[0]) * squeeze, end[1] - before[1])
        near = sorted(tree.query_ball_point(here, LINK_WITHIN_M), key=lambda k: (math.dist(here, tree.data[k]), ids[k]))
        for k in _either_side(here, along, [tuple(tree.data[k]) for k in near], near):
            links += [RawWay(0, dict(LINK_TAGS), [node, ids[k]], [end[0], walk[ids[k]][0]], [end[1], walk[ids[k]][1]])]
    return links


def _ends(ways: list[RawWay], facts: list[WayFacts]) -> tuple[dict[int, tuple[Place, Place]], set[int], dict[int, Place]]:
    """Ends of streets whose sidewalk is a tag with the place before each, nodes of streets whose sidewalk is a way, of ways on foot."""
    tagged: dict[int, tuple[Place, Place]] = {}
    walk: dict[int, Place] = {}
    separate: set[int] = set()
    for way, fact in zip(ways, facts, strict=True):
        if fact.flags & Flag.STREET_SIDEWALK:
            for end, before in ((0, 1), (-1, -2)):
                tagged[way.node_ids[end]] = (way.lons[end], way.lats[end]), (way.lons[before], way.lats[before])
        elif "separate" in {way.tags.get(k) for k in ("sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right")}:
            separate.update(way.node_ids)
        elif fact.kind in WALK_KINDS and fact.kind is not WayKind.CROSSING and not fact.flags & Flag.INDOOR:
            walk.update(zip(way.node_ids, zip(way.lons, way.lats, strict=True), strict=True))
    return tagged, separate, walk


def _either_side(here: Place, along: Place, places: list[Place], rows: list[int]) -> list[int]:
    """The nearest row, and the nearest that lies on the other side of the street, which runs ``along``."""
    if not rows:
        return []
    side = [along[0] * (y - here[1]) - along[1] * (x - here[0]) for x, y in places]  # left of the street is over zero
    opposite = [row for row, where in zip(rows, side, strict=True) if where * side[0] < 0]
    return [rows[0], *opposite[: MOST_LINKS - 1]]
