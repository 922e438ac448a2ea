"""Sidewalks as ways of their own (north quarter), and crossings in both manners."""

import itertools
import math
from dataclasses import dataclass
from random import Random

from shapely.geometry import LineString, MultiLineString, Point
from shapely.ops import linemerge, unary_union
from shapely.strtree import STRtree

from .kerbs import CORNER_KINDS, GOOD_KINDS, KINDS, TENDED_KINDS, kerb_tags, true_kerb
from .model import Line, Point2, Tags, Town
from .plan import north_polygon, quarter

TENDED = ("Low Road", "Mill Road", "Larkmount Road")  # every corner along these was rebuilt
MAIN = ("secondary", "tertiary")
SIDEWALK_GAP_M = 1.6  # from the carriageway's edge to the middle of the sidewalk


def _streets_in(town: Town) -> list[tuple[Line, LineString]]:
    area = north_polygon()
    inside = []
    for line in town.lines:
        if line.kind == "street" and line.tags["highway"] != "trunk":
            part = town.shape(line).intersection(area)
            inside += [(line, g) for g in getattr(part, "geoms", [part]) if g.length > 15]
    return inside


def _rings(parts: list[tuple[Line, LineString]], town: Town) -> list[LineString]:
    """The lines that run at a sidewalk's distance on both sides of all those streets."""
    solid = []
    knots = junctions(town)
    for line, shape in parts:
        reach = line.truth["half_width_m"] + SIDEWALK_GAP_M
        solid.append(shape.buffer(reach, cap_style="flat"))
        solid += [Point(town.xy(r)).buffer(reach) for r in line.refs if shape.distance(Point(town.xy(r))) < 1e-6 and r in knots]
    edge = unary_union(solid).boundary
    streets = unary_union([town.shape(x).buffer(x.truth["half_width_m"] + 0.6) for x in town.lines if x.kind == "street"])
    loose = edge.difference(streets)
    merged = linemerge(loose) if isinstance(loose, MultiLineString) else loose
    pieces = getattr(merged, "geoms", [merged])
    return [p.simplify(0.3) for p in pieces if p.length > 14]


def junctions(town: Town) -> dict[int, list[tuple[Line, int, int]]]:
    """Street nodes with three or more arms: node -> (line, position, step along it)."""
    arms: dict[int, list[tuple[Line, int, int]]] = {}
    for line in town.lines:
        if line.kind == "street":
            for i, r in enumerate(line.refs):
                if i > 0:
                    arms.setdefault(r, []).append((line, i, -1))
                if i < len(line.refs) - 1:
                    arms.setdefault(r, []).append((line, i, 1))
    return {r: a for r, a in arms.items() if len(a) >= 3}


def _dense(points: list[Point2], longest_m: float = 24.0) -> list[Point2]:
    out = [points[0]]
    for a, b in itertools.pairwise(points):
        n = max(1, math.ceil(math.dist(a, b) / longest_m))
        out += [(a[0] + (b[0] - a[0]) * k / n, a[1] + (b[1] - a[1]) * k / n) for k in range(1, n + 1)]
    return out


def _sidewalk_tags(rng: Random) -> tuple[Tags, dict[str, object]]:
    width = round(rng.uniform(1.3, 2.8), 1) if rng.random() > 0.06 else round(rng.uniform(0.75, 1.0), 2)
    surface = rng.choices(["asphalt", "paving_stones", "concrete:plates", "sett"], [0.5, 0.38, 0.1, 0.02])[0]
    tags = {"highway": "footway", "footway": "sidewalk"}
    if rng.random() < 0.6:
        tags["surface"] = surface
    if rng.random() < 0.3:
        tags["width"] = rng.choice([f"{width:g}", f"{width:g}", f"{width:g} m", f"{width * 100:.0f} cm"])
    if rng.random() < 0.25:
        tags["lit"] = "yes"
    if rng.random() < 0.12:
        tags["smoothness"] = "good"
    return tags, {"width_m": width, "surface": surface, "smoothness": "good"}


def draw_sidewalks(town: Town, rng: Random) -> None:
    """Sidewalk ways along every street of the north quarter, joined to the streets where they end."""
    parts = _streets_in(town)
    for ring in _rings(parts, town):
        tags, truth = _sidewalk_tags(rng)
        line = town.line("sidewalk", _dense(list(ring.coords)), tags, truth)
        if line.refs[0] != line.refs[-1]:
            for end in (line.refs[0], line.refs[-1]):
                _link_end(town, end, rng)


def _link_end(town: Town, end: int, rng: Random) -> None:
    street = town.nearest(town.xy(end), ("street",), 14)
    if street is None or street.tags["highway"] == "trunk":
        return
    on_street = town.insert(street, town.xy(end), 2.0)
    if on_street == end:
        return
    kerb = kerb_between(town, end, on_street, 0.55, rng, GOOD_KINDS)
    town.line(
        "crossing",
        [end, kerb, on_street],
        {"highway": "footway", "footway": "link"} if rng.random() < 0.5 else {"highway": "footway"},
        {"width_m": 1.6, "surface": "asphalt", "smoothness": "good"},
        joinable=False,
    )


def kerb_between(
    town: Town, a: int, b: int, share: float, rng: Random, kinds: tuple[tuple[float, str, float, float], ...] | None = None
) -> int:
    """A kerb node between two nodes, with its truth, tagged as mappers do."""
    (ax, ay), (bx, by) = town.xy(a), town.xy(b)
    ident = town.node(ax + (bx - ax) * share, ay + (by - ay) * share)
    kind, height = true_kerb(rng, kinds) if kinds else true_kerb(rng)
    town.nodes[ident].tags.update(kerb_tags(rng, kind, height))
    town.nodes[ident].truth["kerb"] = {"place": "kerb_node", "kind": kind, "height_m": height}
    return ident


def _arm_point(town: Town, line: Line, at: int, step: int, distance_m: float) -> tuple[Point2, Point2, float] | None:
    """Point, direction and free length along one arm of a junction."""
    run, i = 0.0, at
    found = None
    while 0 <= i + step < len(line.refs):
        a, b = town.xy(line.refs[i]), town.xy(line.refs[i + step])
        d = math.dist(a, b)
        if found is None and run + d >= distance_m:
            t = (distance_m - run) / d
            found = ((a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t), ((b[0] - a[0]) / d, (b[1] - a[1]) / d))
        run += d
        i += step
        if run > 60:
            break
    return (*found, run) if found else None


CROSSING = {
    "marked": {"crossing": "marked", "crossing:markings": "zebra"},
    "signals": {"crossing": "traffic_signals"},
    "uncontrolled": {"crossing": "uncontrolled"},
    "unmarked": {"crossing": "unmarked"},
}


def _crossing_kind(rng: Random, highway: str) -> Tags:
    kinds = (
        ["signals", "marked"]
        if highway == "secondary"
        else (["marked", "uncontrolled"] if highway == "tertiary" else ["marked", "uncontrolled", "unmarked"])
    )
    tags = dict(CROSSING[rng.choice(kinds)])
    if rng.random() < 0.15:
        tags["tactile_paving"] = rng.choice(["yes", "no"])
    if tags["crossing"] == "traffic_signals" and rng.random() < 0.6:
        tags["button_operated"] = "yes"
    return tags


@dataclass(frozen=True)
class _Arm:
    """Where a crossing would be on one arm of a junction."""

    line: Line
    spot: Point2
    along: Point2
    at_main: bool  # a side street where it meets a main one
    is_tended: bool


def _arms(town: Town, where: set[str]) -> list[_Arm]:
    """The arms of every junction in some quarters."""
    spots = []
    for ident, arms in sorted(junctions(town).items()):
        if quarter(*town.xy(ident)) not in where:
            continue
        widest = max(line.truth["half_width_m"] for line, _, _ in arms)
        is_main = any(line.tags["highway"] in MAIN for line, _, _ in arms)
        is_tended = any(line.name in TENDED for line, _, _ in arms)
        for line, at, step in arms:
            found = _arm_point(town, line, at, step, widest + 5.2)
            if found and found[2] > 26 and line.tags["highway"] != "trunk":
                spots.append(_Arm(line, found[0], found[1], is_main and line.tags["highway"] not in MAIN, is_tended))
    return spots


def draw_crossing_ways(town: Town, rng: Random) -> None:
    """Crossings as ways between separately mapped sidewalks, with a node at each kerb."""
    spots = _arms(town, {"north"})
    index = _SidewalkIndex(town)
    for arm in spots:
        line, spot, along = arm.line, arm.spot, arm.along
        if rng.random() < 0.14:
            continue  # nobody has mapped this one
        half = line.truth["half_width_m"]
        hits = [_hit_sidewalk(town, index, spot, (-along[1] * side, along[0] * side), half + 5) for side in (1, -1)]
        ends = [hit for hit in hits if hit is not None]
        if len(ends) < 2 or (ends[0][0] is ends[1][0] and math.dist(ends[0][1], ends[1][1]) < 4):
            continue
        tags = _crossing_kind(rng, line.tags["highway"])
        middle = town.insert(line, spot, 1.0)
        town.nodes[middle].tags.update({"highway": "crossing", **tags})
        refs = [town.insert(walk, point, 0.8) for walk, point in ends]
        kinds = GOOD_KINDS if line.tags["highway"] in MAIN else None
        gap = SIDEWALK_GAP_M / (half + SIDEWALK_GAP_M)
        kerbs = [kerb_between(town, r, middle, gap, rng, kinds) for r in refs]
        town.line(
            "crossing",
            [refs[0], kerbs[0], middle, kerbs[1], refs[1]],
            {"highway": "footway", "footway": "crossing", **tags},
            {"width_m": 3.0, "surface": "asphalt", "smoothness": "good"},
            joinable=False,
        )


class _SidewalkIndex:
    """Finds sidewalk lines near a ray; new nodes on them do not move them."""

    def __init__(self, town: Town) -> None:
        self._lines = [x for x in town.lines if x.kind == "sidewalk"]
        self._tree = STRtree([town.shape(x) for x in self._lines])

    def near(self, ray: LineString) -> list[Line]:
        """Lines whose box touches the ray's, in drawing order."""
        return [self._lines[int(i)] for i in sorted(self._tree.query(ray))]


def _hit_sidewalk(town: Town, index: _SidewalkIndex, spot: Point2, direction: Point2, reach_m: float) -> tuple[Line, Point2] | None:
    ray = LineString([spot, (spot[0] + direction[0] * reach_m, spot[1] + direction[1] * reach_m)])
    best = None
    for line in index.near(ray):
        shape = town.shape(line)
        if shape.intersects(ray):
            hit = shape.intersection(ray)
            point = hit.geoms[0] if hasattr(hit, "geoms") else hit
            d = Point(spot).distance(point)
            if best is None or d < best[0]:
                best = (d, line, (point.coords[0][0], point.coords[0][1]))
    return (best[1], best[2]) if best else None


def mark_crossing_nodes(town: Town, rng: Random) -> None:
    """Crossings that are only a node on the street, in the quarters that tag ``sidewalk=*``."""
    for arm in _arms(town, {"old", "ropewalk", "westbank", "upland"}):
        line, main = arm.line, arm.line.tags["highway"] in MAIN or arm.at_main
        if rng.random() > (0.85 if arm.at_main else 0.6 if main else 0.3):
            continue
        ident = town.insert(line, arm.spot, 1.0)
        node = town.nodes[ident]
        if "crossing" in node.tags:
            continue
        node.tags.update({"highway": "crossing", **_crossing_kind(rng, line.tags["highway"])})
        kinds = TENDED_KINDS if arm.is_tended else GOOD_KINDS if main else KINDS
        (kind, left), (_, right) = true_kerb(rng, kinds), true_kerb(rng, kinds)
        if rng.random() < 0.75:
            right = left
        node.truth["kerb"] = {
            "place": "crossing_node",
            "kind": kind,
            "left_height_m": left,
            "right_height_m": right,
            "height_m": max(left, right),
        }
        pick = rng.random()
        if left == right and pick < 0.38:
            node.tags["kerb"] = kind
        elif left == right and pick < 0.5:
            node.tags.update({"kerb": kind, "kerb:height": f"{left:.2f}"})
        elif left != right and pick < 0.5:
            node.tags.update(
                {
                    f"kerb:{s}": "raised" if h > 0.04 else ("lowered" if h > 0.006 else "flush")
                    for s, h in (("left", left), ("right", right))
                }
            )


def record_corners(town: Town, rng: Random, where: tuple[str, ...]) -> None:
    """The truth of every corner where someone on a tagged sidewalk steps down; as bad as the worst crossing beside it."""
    for ident, arms in sorted(junctions(town).items()):
        node = town.nodes[ident]
        if quarter(node.x, node.y) not in where or "kerb" in node.truth:
            continue
        names, classes = {line.name for line, _, _ in arms}, {line.tags["highway"] for line, _, _ in arms}
        kinds = TENDED_KINDS if names & set(TENDED) else GOOD_KINDS if classes & set(MAIN) else CORNER_KINDS
        kind, height = true_kerb(rng, kinds)
        beside = [town.nodes[r].truth["kerb"] for r in crossings_beside(town, ident, arms)]
        if beside:
            worst = max(beside, key=lambda k: k["height_m"])
            kind, height = worst["kind"], worst["height_m"]
        node.truth["kerb"] = {"place": "corner", "kind": kind, "height_m": height}


def crossings_beside(town: Town, ident: int, arms: list[tuple[Line, int, int]]) -> list[int]:
    """Crossing nodes on the arms of a junction, within 16 m."""
    found = []
    for line, at, step in arms:
        i = at + step
        while 0 <= i < len(line.refs) and math.dist(town.xy(ident), town.xy(line.refs[i])) < 16:
            if town.nodes[line.refs[i]].truth.get("kerb", {}).get("place") == "crossing_node":
                found.append(line.refs[i])
            i += step
    return found
