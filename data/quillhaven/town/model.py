"""Nodes, lines and ways of the town while it is being drawn, with the truth beside the tags."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from pyproj import Transformer
from shapely.geometry import LineString, Point

from .terrain import height_m

EPSG = 32624  # UTM zone 24 north, open sea in the middle of the North Atlantic
ORIGIN_LON, ORIGIN_LAT = -37.3, 45.2  # the middle of the town
Point2 = tuple[float, float]
Tags = dict[str, str]

_to_utm = Transformer.from_crs(4326, EPSG, always_xy=True)
_to_lonlat = Transformer.from_crs(EPSG, 4326, always_xy=True)
_centre = _to_utm.transform(ORIGIN_LON, ORIGIN_LAT)
ORIGIN_E, ORIGIN_N = round(_centre[0]) - 1200, round(_centre[1]) - 900


def lonlat(x: float, y: float) -> Point2:
    """Local metres to longitude, latitude (7 decimals, about a centimetre)."""
    lon, lat = _to_lonlat.transform(ORIGIN_E + x, ORIGIN_N + y)
    return round(lon, 7), round(lat, 7)


@dataclass
class Node:
    """A node; ``ele_m`` stands where the surface is not the ground (deck, floor)."""

    x: float
    y: float
    tags: Tags = field(default_factory=dict)
    truth: dict[str, Any] = field(default_factory=dict)
    ele_m: float | None = None


@dataclass
class Span:
    """Tags and truth for the part of a line between two of its nodes."""

    first: int
    last: int
    tags: Tags
    truth: dict[str, Any] = field(default_factory=dict)
    level: bool = False  # a structure: runs straight between its ends


@dataclass
class Line:
    """Something linear that other things may still be joined to; becomes one or more ways."""

    kind: str
    refs: list[int]
    tags: Tags
    truth: dict[str, Any]
    name: str = ""
    cuts: set[int] = field(default_factory=set)
    spans: list[Span] = field(default_factory=list)
    joinable: bool = True


@dataclass
class Way:
    """A finished way."""

    id: int
    refs: list[int]
    tags: Tags
    truth: dict[str, Any] | None = None


class Town:
    """Everything drawn so far."""

    def __init__(self) -> None:
        self.nodes: dict[int, Node] = {}
        self.lines: list[Line] = []
        self.ways: list[Way] = []
        self._at: dict[tuple[int, int], int] = {}
        self._next_way = 1
        self._shapes: dict[int, tuple[int, LineString]] = {}  # lines live as long as the town, so their ids stay theirs

    # nodes
    def node(self, x: float, y: float, tags: Tags | None = None, *, shared: bool = True) -> int:
        """Make a node, or take the one that is already there."""
        key = (round(x * 100), round(y * 100))
        if shared and key in self._at:
            ident = self._at[key]
        else:
            ident = len(self.nodes) + 1
            self.nodes[ident] = Node(key[0] / 100, key[1] / 100)
            if shared:
                self._at[key] = ident
        self.nodes[ident].tags.update(tags or {})
        return ident

    def xy(self, ident: int) -> Point2:
        """Local position of a node."""
        node = self.nodes[ident]
        return node.x, node.y

    def ele_m(self, ident: int) -> float:
        """True height of a node: the structure's, otherwise the ground's."""
        node = self.nodes[ident]
        return height_m(node.x, node.y) if node.ele_m is None else node.ele_m

    # lines
    def line(self, kind: str, points: Iterable[Point2 | int], tags: Tags, truth: dict[str, Any], **more: Any) -> Line:
        """Draw a line through points or existing nodes."""
        refs = [p if isinstance(p, int) else self.node(*p) for p in points]
        refs = [r for i, r in enumerate(refs) if i == 0 or r != refs[i - 1]]
        made = Line(kind, refs, tags, truth, **more)
        self.lines.append(made)
        return made

    def shape(self, line: Line) -> LineString:
        """The line's geometry in local metres."""
        made = self._shapes.get(id(line))
        if made is None or made[0] != len(line.refs):
            made = self._shapes[id(line)] = (len(line.refs), LineString([self.xy(r) for r in line.refs]))
        return made[1]

    def insert(self, line: Line, point: Point2, reuse_m: float = 1.5) -> int:
        """Put a node on the line where it is nearest to ``point``; a vertex within ``reuse_m`` is taken instead."""
        shape = self.shape(line)
        at = shape.project(Point(point))
        run = 0.0
        for i in range(len(line.refs) - 1):
            a, b = self.xy(line.refs[i]), self.xy(line.refs[i + 1])
            piece = math.dist(a, b)
            if run + piece >= at - 1e-9:
                if at - run <= min(reuse_m, piece / 2):
                    return line.refs[i]
                if run + piece - at <= reuse_m:
                    return line.refs[i + 1]
                made = self.node(*shape.interpolate(at).coords[0])
                if made not in line.refs:
                    line.refs.insert(i + 1, made)
                return made
            run += piece
        return line.refs[-1]

    def thread(self, line: Line, ident: int) -> None:
        """Make an existing node one of the line's own, where it is nearest."""
        if ident in line.refs:
            return
        shape = self.shape(line)
        at, run = shape.project(Point(self.xy(ident))), 0.0
        for i in range(len(line.refs) - 1):
            run += math.dist(self.xy(line.refs[i]), self.xy(line.refs[i + 1]))
            if run >= at - 1e-9:
                line.refs.insert(i + 1, ident)
                return

    def nearest(self, point: Point2, kinds: tuple[str, ...], within_m: float = 1e9) -> Line | None:
        """The nearest joinable line of some kinds."""
        best, found = within_m, None
        spot = Point(point)
        for line in self.lines:
            if line.kind in kinds and line.joinable:
                d = self.shape(line).distance(spot)
                if d < best:
                    best, found = d, line
        return found

    def join(self, point: Point2, kinds: tuple[str, ...] = ("street",), reuse_m: float = 1.5) -> int:
        """A node on the nearest line of some kinds."""
        line = self.nearest(point, kinds)
        if line is None:
            raise ValueError(f"no line of kind {kinds} to join at {point}")
        return self.insert(line, point, reuse_m)

    def join_walk(self, point: Point2) -> int:
        """A node where somebody on foot would join: the sidewalk where those are ways, else the street."""
        beside = self.nearest(point, ("sidewalk",), 25)
        return self.insert(beside, point, 3.0) if beside else self.join(point, ("street",), 3.0)

    # ways
    def add_way(self, refs: list[int], tags: Tags, truth: dict[str, Any] | None = None) -> Way:
        """Finish a way."""
        made = Way(self._next_way, refs, tags, truth)
        self._next_way += 1
        self.ways.append(made)
        return made

    def closed(self, points: list[Point2], tags: Tags) -> Way:
        """Finish a closed way that is an area."""
        refs = [self.node(*p, shared=False) for p in points]
        return self.add_way([*refs, refs[0]], tags)


def _spline(p: float, q: float, r: float, s: float, t: float) -> float:
    return 0.5 * (2 * q + (r - p) * t + (2 * p - 5 * q + 4 * r - s) * t * t + (3 * q - p - 3 * r + s) * t**3)


def catmull(points: list[Point2], step_m: float = 12.0) -> list[Point2]:
    """A smooth curve through control points, sampled about every ``step_m``."""
    out: list[Point2] = []
    padded = [points[0], *points, points[-1]]
    for a, b, c, d in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        n = max(1, round(math.dist(b, c) / step_m))
        for k in range(n):
            t = k / n
            out.append((_spline(a[0], b[0], c[0], d[0], t), _spline(a[1], b[1], c[1], d[1], t)))
    return [*out, points[-1]]
