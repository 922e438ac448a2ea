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

LINK_WITHIN_M = 25.0  # assumption: half the width of a wide street with its sidewalks
MOST_LINKS = 2  # one for each side of the street
M_PER_DEGREE = 111_319.49  # WGS 84 equator; used to compare nearby distances only
LINK_TAGS = {"highway": "footway", "footway": "sidewalk", "note": "joined by rollroute where the mapping of the sidewalk changes"}


def sidewalk_links(ways: list[RawWay], facts: list[WayFacts]) -> list[RawWay]:
    """Short lines from ends of tagged sidewalks to sidewalk ways near them, one for each side of the street."""
    tagged, separate, walk = _ends(ways, facts)
    gaps = {node: place for node, place in tagged.items() if node in separate and node not in walk}
    if not gaps or not walk:
        return []
    from scipy.spatial import cKDTree

    squeeze = math.cos(math.radians(next(iter(gaps.values()))[1]))
    ids = sorted(walk)
    tree = cKDTree([(walk[i][0] * squeeze * M_PER_DEGREE, walk[i][1] * M_PER_DEGREE) for i in ids])
    links = []
    for node, (lon, lat) in sorted(gaps.items()):
        here = (lon * squeeze * M_PER_DEGREE, lat * M_PER_DEGREE)
        near = sorted(tree.query_ball_point(here, LINK_WITHIN_M), key=lambda k: (math.dist(here, tree.data[k]), ids[k]))
        for k in _either_side(here, [tuple(tree.data[k]) for k in near], near):
            links += [RawWay(0, dict(LINK_TAGS), [node, ids[k]], [lon, walk[ids[k]][0]], [lat, walk[ids[k]][1]])]
    return links


def _ends(
    ways: list[RawWay], facts: list[WayFacts]
) -> tuple[dict[int, tuple[float, float]], set[int], dict[int, tuple[float, float]]]:
    """Nodes of streets whose sidewalk is a tag, of streets whose sidewalk is a way of its own, and of the ways on foot."""
    tagged: dict[int, tuple[float, float]] = {}
    walk: dict[int, tuple[float, float]] = {}
    separate: set[int] = set()
    for way, fact in zip(ways, facts, strict=True):
        if fact.flags & Flag.STREET_SIDEWALK:
            for end in (0, -1):
                tagged[way.node_ids[end]] = (way.lons[end], way.lats[end])
        elif "separate" in {way.tags.get(k) for k in ("sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right")}:
            separate.update(way.node_ids)
        elif fact.kind in WALK_KINDS and fact.kind is not WayKind.CROSSING and not fact.flags & Flag.INDOOR:
            walk.update(zip(way.node_ids, zip(way.lons, way.lats, strict=True), strict=True))
    return tagged, separate, walk


def _either_side(here: tuple[float, float], places: list[tuple[float, ...]], rows: list[int]) -> list[int]:
    """The nearest row, and the nearest that lies on the other side of ``here``."""
    if not rows:
        return []
    first = (places[0][0] - here[0], places[0][1] - here[1])
    chosen = [rows[0]]
    for place, row in zip(places[1:], rows[1:], strict=True):
        other = (place[0] - here[0], place[1] - here[1])
        if first[0] * other[0] + first[1] * other[1] < 0:
            chosen.append(row)
            break
    return chosen[:MOST_LINKS]
