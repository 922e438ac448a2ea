"""Minor streets: grown along a field of directions, then joined to each other and to the main streets."""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from shapely.geometry import LineString, Point
from shapely.ops import substring

from .model import Point2
from .plan import PARK, SITES, STREET_NAMES, main_streets, quarter
from .terrain import HEIGHT_M, WIDTH_M, gradient, river_offset, river_slope, trunk_y

STEP_M = 8.0


@dataclass
class Draft:
    """A street before it has nodes."""

    name: str
    highway: str
    points: list[Point2]
    main: bool = False
    joints: dict[Point2, float] = field(default_factory=dict)

    @property
    def shape(self) -> LineString:
        """Geometry in local metres."""
        return LineString(self.points)


@dataclass(frozen=True)
class Family:
    """One of the two sets of streets of a quarter."""

    quarter: str
    spacing_m: float
    angle: Callable[[float, float], float]
    longest_m: float
    tries: int


def _wobble(x: float, y: float, size_m: float) -> float:
    return math.sin(x / size_m + 1.7) * math.cos(y / (0.8 * size_m) - 0.4)


def _river_angle(x: float, y: float) -> float:
    return math.atan(river_slope(x)) * max(0.0, 1 - abs(river_offset(x, y)) / 700)


def _contour_angle(x: float, y: float) -> float:
    gx, gy = gradient(x, y)
    return math.atan2(gy, gx) + math.pi / 2 + 0.12 * math.sin(x / 70)


def _old_angle(x: float, y: float) -> float:
    around = math.atan2(y - 665, x - 1445)
    near = math.exp(-math.hypot(x - 1445, y - 665) / 260)
    return _river_angle(x, y) + 0.38 * _wobble(x, y, 120) + 0.5 * near * math.sin(2 * around)


def _families() -> list[Family]:
    def across(angle: Callable[[float, float], float]) -> Callable[[float, float], float]:
        return lambda x, y: angle(x, y) + math.pi / 2 + 0.2 * _wobble(y, x, 150)

    def north(x: float, y: float) -> float:
        return _river_angle(x, y) + 0.22 * _wobble(x, y, 170)

    def rope(x: float, y: float) -> float:
        return 0.35 + 0.3 * _wobble(x, y, 200)

    def up(x: float, y: float) -> float:
        return 0.25 + 0.35 * _wobble(x, y, 230)

    return [
        Family("hill", 66, _contour_angle, 560, 240),
        Family("hill", 135, across(_contour_angle), 330, 120),
        Family("old", 62, _old_angle, 520, 240),
        Family("old", 74, across(_old_angle), 420, 240),
        Family("north", 82, north, 900, 240),
        Family("north", 98, across(north), 460, 240),
        Family("ropewalk", 80, rope, 480, 240),
        Family("ropewalk", 100, across(rope), 400, 240),
        Family("westbank", 84, north, 520, 200),
        Family("westbank", 110, across(north), 420, 200),
        Family("upland", 60, up, 420, 140),
        Family("upland", 120, across(up), 160, 140),
    ]


class Traced:
    """Points of the streets drawn so far, with their headings, for keeping distance."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[tuple[float, float, float]]] = {}

    def add(self, points: list[Point2]) -> None:
        """Remember a street."""
        for a, b in itertools.pairwise(points):
            heading = math.atan2(b[1] - a[1], b[0] - a[0])
            n = max(1, int(math.dist(a, b) // 10))
            for k in range(n):
                x, y = a[0] + (b[0] - a[0]) * k / n, a[1] + (b[1] - a[1]) * k / n
                self._cells.setdefault((int(x // 40), int(y // 40)), []).append((x, y, heading))

    def parallel_within(self, point: Point2, heading: float, distance_m: float) -> bool:
        """Whether a street of about the same heading runs nearer than that."""
        reach = int(distance_m // 40) + 1
        cx, cy = int(point[0] // 40), int(point[1] // 40)
        for i in range(cx - reach, cx + reach + 1):
            for j in range(cy - reach, cy + reach + 1):
                for x, y, other in self._cells.get((i, j), ()):
                    if math.dist(point, (x, y)) < distance_m and abs(math.sin(other - heading)) < 0.6:
                        return True
        return False


KEEP_OUT = [site.polygon(9.0) for site in SITES] + [PARK.buffer(6)]


def _allowed(point: Point2, name: str) -> bool:
    x, y = point
    inside = 25 < x < WIDTH_M - 25 and 35 < y < HEIGHT_M - 25
    if not inside or quarter(x, y) != name or abs(river_offset(x, y)) < 118 or abs(y - trunk_y(x)) < 30:
        return False
    spot = Point(point)
    return not any(area.contains(spot) for area in KEEP_OUT)


def _trace(start: Point2, family: Family, traced: Traced, direction: int) -> list[Point2]:
    points = [start]
    heading = family.angle(*start) + (math.pi if direction < 0 else 0)
    while len(points) * STEP_M < family.longest_m / 2:
        x, y = points[-1]
        angle = family.angle(x + 4 * math.cos(heading), y + 4 * math.sin(heading))
        if math.cos(angle - heading) < 0:
            angle += math.pi
        heading = angle
        ahead = (x + STEP_M * math.cos(heading), y + STEP_M * math.sin(heading))
        if not _allowed(ahead, family.quarter) or traced.parallel_within(ahead, heading, 0.55 * family.spacing_m):
            break
        points.append(ahead)
    return points


def _grow(family: Family, traced: Traced, rng: Random) -> list[list[Point2]]:
    grown = []
    for _ in range(family.tries):
        start = (rng.uniform(20, WIDTH_M - 20), rng.uniform(20, HEIGHT_M - 20))
        for _ in range(30):
            if _allowed(start, family.quarter):
                break
            start = (rng.uniform(20, WIDTH_M - 20), rng.uniform(20, HEIGHT_M - 20))
        else:
            continue
        if traced.parallel_within(start, family.angle(*start), family.spacing_m):
            continue
        line = _trace(start, family, traced, -1)[::-1] + _trace(start, family, traced, 1)[1:]
        if len(line) * STEP_M >= 80:
            traced.add(line)
            grown.append(line)
    return grown


def _reach(draft: Draft, others: list[Draft], longest_m: float) -> None:
    """Lengthen both ends to the next street ahead, if there is one near."""
    for end in (0, 1):
        points = draft.points if end else draft.points[::-1]
        a, b = points[-2], points[-1]
        d = math.dist(a, b)
        far = (b[0] + (b[0] - a[0]) / d * longest_m, b[1] + (b[1] - a[1]) / d * longest_m)
        ray = LineString([b, far])
        hits = [Point(b).distance(ray.intersection(o.shape)) for o in others if o is not draft and ray.intersects(o.shape)]
        crosses_river = abs(river_offset(*far)) < 95
        if (hits and not crosses_river) or (hits and min(hits) < 25):
            reach = min(hits) + 1.0
            points.append((b[0] + (b[0] - a[0]) / d * reach, b[1] + (b[1] - a[1]) / d * reach))
        draft.points = points if end else points[::-1]


def _crossings(drafts: list[Draft]) -> list[tuple[Point2, set[int]]]:
    """Where streets meet; meetings nearer than 10 m become one."""
    found: list[tuple[Point2, set[int]]] = []
    shapes = [d.shape for d in drafts]
    for i, first in enumerate(shapes):
        for j in range(i + 1, len(shapes)):
            if not first.intersects(shapes[j]):
                continue
            hit = first.intersection(shapes[j])
            for spot in getattr(hit, "geoms", [hit]):
                point = (round(spot.centroid.x, 2), round(spot.centroid.y, 2))
                for known, members in found:
                    if math.dist(known, point) < 10:
                        members.update((i, j))
                        break
                else:
                    found.append((point, {i, j}))
    return found


def _trim(draft: Draft, joints: list[float], shortest_m: float) -> tuple[float, float]:
    """Ends of the part to keep: stubs beyond the last junction go."""
    length = draft.shape.length
    first, last = 0.0, length
    if joints and joints[0] < shortest_m:
        first = joints[0]
    if joints and length - joints[-1] < shortest_m:
        last = joints[-1]
    return first, last


def _knot(draft: Draft, at: list[tuple[float, Point2]]) -> list[Point2] | None:
    """The street's points with its junctions among them."""
    shape = draft.shape
    at = sorted(at)
    first, last = _trim(draft, [s for s, _ in at], 38)
    if last - first < 20:
        return None
    part = substring(shape, first, last)
    marks = [(s - first, p) for s, p in at if first - 0.1 <= s <= last + 0.1]
    run, rows = 0.0, []
    coords = list(part.coords)
    for a, b in zip([coords[0], *coords], coords, strict=False):
        run += math.dist(a, b)
        rows.append((run, (round(b[0], 2), round(b[1], 2))))
    rows = [r for r in rows if all(abs(r[0] - s) > 4.5 for s, _ in marks)]
    fixed = {p for _, p in marks}
    return _thinned([p for _, p in sorted(rows + marks)], fixed)


def _thinned(points: list[Point2], fixed: set[Point2]) -> list[Point2]:
    """Leave out points that a mapper would not have drawn; junctions stay."""
    kept = set(LineString(points).simplify(0.35).coords) | fixed
    out = [points[0]]
    for p, after in zip(points[1:], [*points[2:], points[-1]], strict=True):
        if p in kept or p == points[-1] or math.dist(out[-1], after) > 34:
            out.append(p)
    return out


def _named(rng: Random, lines: list[tuple[str, list[Point2]]]) -> list[Draft]:
    names = list(STREET_NAMES)
    first, rest = names[:1], names[1:]
    rng.shuffle(rest)
    pool = iter([*first, *rest])
    drafts = []
    for name, points in lines:
        highway = "living_street" if name == "old" and rng.random() < 0.2 else ("unclassified" if name == "upland" else "residential")
        drafts.append(Draft(next(pool, ""), highway, points))
    return drafts


def draft_streets(rng: Random) -> list[Draft]:
    """All streets, with shared points where they meet."""
    drafts = [Draft(name, highway, points, main=True) for name, highway, points in main_streets()]
    minor: list[tuple[str, list[Point2]]] = []
    for family in _families():
        traced = Traced()
        for d in drafts:
            traced.add(d.points)
        for name, points in minor:
            if name != family.quarter:
                traced.add(points)
        minor += [(family.quarter, points) for points in _grow(family, traced, rng)]
    drafts += _named(rng, minor)
    for d in drafts:
        _reach(d, drafts, 45 if d.main else 75)
    meetings = _crossings(drafts)
    kept = []
    for i, d in enumerate(drafts):
        shape = d.shape
        knotted = _knot(d, [(shape.project(Point(p)), p) for p, members in meetings if i in members])
        if knotted:
            kept.append(Draft(d.name, d.highway, knotted, d.main))
    return kept
