"""Houses along the streets, their addresses, and the driveways of the hill quarter."""

import math
from dataclasses import dataclass
from random import Random

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union
from shapely.strtree import STRtree

from .model import Line, Point2, Tags, Town
from .paths import truth
from .plan import PARK, SITES, quarter
from .terrain import along_river, river_offset

# quarter -> (gap to the carriageway's edge, house front, house depth, gap between houses, share that is built)
PLOTS = {
    "hill": ((7, 11), (10, 15), (8, 12), (14, 30), 0.8),
    "old": ((2.6, 3.4), (10, 20), (9, 14), (0.4, 5), 0.9),
    "north": ((5, 8), (13, 24), (10, 15), (7, 18), 0.8),
    "ropewalk": ((5, 8), (11, 18), (9, 13), (12, 30), 0.7),
    "westbank": ((4.5, 8), (10, 16), (9, 12), (12, 30), 0.7),
    "upland": ((8, 14), (10, 15), (8, 12), (20, 50), 0.6),
}


@dataclass(frozen=True)
class Address:
    """One house with a number."""

    street: str
    number: int
    x: float
    y: float
    in_map: bool


@dataclass
class _Plot:
    front: Point2  # middle of the front wall
    out: Point2  # unit direction from the house to the street
    along: Point2
    width_m: float
    depth_m: float
    shape: Polygon


class Ground:
    """What is already taken."""

    def __init__(self, town: Town) -> None:
        lines = []
        for line in town.lines:
            reach = {"street": 1.5, "sidewalk": 1.3, "service": 3.6}.get(line.kind, 1.6)
            lines.append(town.shape(line).buffer(reach + line.truth.get("half_width_m", 0.0)))
        self._lines = lines + [s.polygon(3) for s in SITES] + [PARK.buffer(3)]
        self._tree = STRtree(self._lines)
        self._cells: dict[tuple[int, int], list[Polygon]] = {}

    def free(self, shape: Polygon) -> bool:
        """Whether a building may stand there."""
        if any(self._lines[int(i)].intersects(shape) for i in self._tree.query(shape)):
            return False
        x, y = shape.centroid.coords[0]
        if abs(river_offset(x, y)) < 92:
            return False
        cells = ((int(x // 40) + i, int(y // 40) + j) for i in (-1, 0, 1) for j in (-1, 0, 1))
        return not any(other.intersects(shape) for c in cells for other in self._cells.get(c, ()))

    def take(self, shape: Polygon) -> None:
        """Remember a building."""
        x, y = shape.centroid.coords[0]
        self._cells.setdefault((int(x // 40), int(y // 40)), []).append(shape.buffer(0.1))

    def taken(self) -> list[Polygon]:
        """All buildings so far."""
        return [p for row in self._cells.values() for p in row]


def _rectangle(front: Point2, along: Point2, out: Point2, width_m: float, depth_m: float) -> list[Point2]:
    w = width_m / 2
    corners = []
    for u, v in ((-w, 0.0), (w, 0.0), (w, -depth_m), (-w, -depth_m)):
        corners.append((front[0] + along[0] * u + out[0] * v, front[1] + along[1] * u + out[1] * v))
    return corners


def _outline(rng: Random, plot: _Plot) -> list[Point2]:
    """A rectangle, or one with a wing at the back."""
    box = _rectangle(plot.front, plot.along, plot.out, plot.width_m, plot.depth_m)
    if rng.random() > 0.3:
        return box
    a, b, c, d = box
    back = ((c[0] + d[0]) / 2, (c[1] + d[1]) / 2)
    deep = rng.uniform(2, 4)
    inner = (back[0] + plot.out[0] * deep, back[1] + plot.out[1] * deep)
    side = (d[0] + plot.out[0] * deep, d[1] + plot.out[1] * deep)
    return [a, b, c, back, inner, side]


def _plots(town: Town, line: Line, rng: Random, ground: Ground) -> list[tuple[int, _Plot]]:
    """House plots on both sides of a street, with +1 for left and -1 for right."""
    shape = town.shape(line)
    plots = []
    for side in (1, -1):
        s = rng.uniform(3, 9)
        while s < shape.length - 5:
            where = quarter(*shape.interpolate(s).coords[0])
            if where not in PLOTS or line.tags["highway"] == "trunk":
                s += 20
                continue
            setback, fronts, depths, gaps, share = PLOTS[where]
            width, depth = rng.uniform(*fronts), rng.uniform(*depths)
            plot = _plot(shape, s + width / 2, side, line.truth["half_width_m"] + rng.uniform(*setback), width, depth)
            if rng.random() < share and plot is not None and ground.free(plot.shape):
                ground.take(plot.shape)
                plots.append((side, plot))
                s += width + rng.uniform(*gaps)
            else:
                s += 6
    return plots


def _plot(shape: LineString, s: float, side: int, reach_m: float, width_m: float, depth_m: float) -> _Plot | None:
    if s > shape.length:
        return None
    a, b = shape.interpolate(max(0, s - 3)).coords[0], shape.interpolate(min(shape.length, s + 3)).coords[0]
    d = math.dist(a, b)
    along = ((b[0] - a[0]) / d, (b[1] - a[1]) / d)
    inward = (-along[1] * side, along[0] * side)
    x, y = shape.interpolate(s).coords[0]
    front = (x + inward[0] * reach_m, y + inward[1] * reach_m)
    out = (-inward[0], -inward[1])
    return _Plot(front, out, along, width_m, depth_m, Polygon(_rectangle(front, along, out, width_m, depth_m)))


def _driveway(town: Town, line: Line, plot: _Plot, rng: Random) -> None:
    """From the street over its apron to the house; in the hill quarter the only way over the kerb."""
    start = (plot.front[0] + plot.along[0] * (plot.width_m / 2 + 2.2), plot.front[1] + plot.along[1] * (plot.width_m / 2 + 2.2))
    on_street = town.insert(line, start, 1.0)
    sx, sy = town.xy(on_street)
    d = math.dist(start, (sx, sy))
    if d > 22:
        return
    share = line.truth["half_width_m"] / d
    apron = town.node(sx + (start[0] - sx) * share, sy + (start[1] - sy) * share)
    height = round(rng.uniform(0.0, 0.03) if rng.random() < 0.85 else rng.uniform(0.04, 0.09), 3)
    town.nodes[apron].truth["kerb"] = {"place": "apron", "kind": "lowered", "height_m": height}
    back = (start[0] - plot.out[0] * 4, start[1] - plot.out[1] * 4)
    _grade_driveway(town, on_street, [apron, town.node(*start), town.node(*back)], rng)
    tags = {"highway": "service", "service": "driveway"}
    if rng.random() < 0.25:
        tags["surface"] = rng.choice(["asphalt", "gravel", "concrete", "paving_stones"])
    if rng.random() < 0.2:
        tags["access"] = "private"
    town.line("driveway", [on_street, apron, start, back], tags, truth(2.7, tags.get("surface", "asphalt"), "intermediate"), joinable=False)


def _grade_driveway(town: Town, on_street: int, refs: list[int], rng: Random) -> None:
    """Most driveways were cut or filled to be gentler than the slope they stand on."""
    steepest = 0.06 if rng.random() < 0.7 else 0.14
    base = town.ele_m(on_street)
    for r in refs:
        run = math.dist(town.xy(on_street), town.xy(r))
        rise = town.ele_m(r) - base
        if abs(rise) > steepest * run:
            town.nodes[r].ele_m = round(base + math.copysign(steepest * run, rise), 3)


def build_houses(town: Town, rng: Random) -> list[Address]:
    """Draw the houses; returns every address, mapped or only known to the town hall."""
    ground = Ground(town)
    addresses: list[Address] = []
    for line in [x for x in town.lines if x.kind == "street"]:
        numbers = {1: 1, -1: 2}
        for side, plot in _plots(town, line, rng, ground):
            tags: Tags = {"building": rng.choice(["house", "yes", "residential", "detached"])}
            x, y = plot.shape.centroid.coords[0]
            where = quarter(x, y)
            if line.name:
                in_map = rng.random() < 0.72
                addresses.append(Address(line.name, numbers[side], round(x, 2), round(y, 2), in_map))
                if in_map:
                    tags.update({"addr:street": line.name, "addr:housenumber": str(numbers[side])})
                numbers[side] += 2 if rng.random() < 0.9 else 4
            if where == "old" and rng.random() < 0.1:
                tags["building"] = rng.choice(["retail", "commercial", "apartments"])
            town.closed(_outline(rng, plot), tags)
            if where == "hill" and rng.random() < 0.62:
                _driveway(town, line, plot, rng)
    addresses.append(_far_house(town, ground))
    return addresses


def _far_house(town: Town, ground: Ground) -> Address:
    """A house about 80 m off everything that is mapped."""
    everything = unary_union([town.shape(x) for x in town.lines])
    houses = unary_union(ground.taken())
    spots = [(float(x), float(y)) for x in range(1000, 2340, 6) for y in range(60, 1740, 6) if river_offset(x, y) < -100]
    away = shapely.distance(shapely.points(spots), everything)
    good = [
        (round(abs(d - 81), 3), p)
        for p, d in zip(spots, away, strict=True)
        if 79 < d < 83
        and houses.distance(Point(p)) > 15
        and not any(s.polygon(20).contains(Point(p)) for s in SITES)
        and not PARK.contains(Point(p))
    ]
    x, y = min(good)[1]
    town.closed(
        [(x - 5, y - 4), (x + 5, y - 4), (x + 5, y + 4), (x - 5, y + 4)],
        {"building": "house", "addr:street": "Far Meadow", "addr:housenumber": "1"},
    )
    return Address("Far Meadow", 1, x, y, True)


SHOPS = [
    ("bakery", 'Bakery "Zum Goldenen Korn"'),
    ("convenience", "Corner Basket"),
    ("pharmacy", "Blue Lamp Pharmacy"),
    ("books", "Inkwell Books"),
    ("bicycle", "Spoke & Chain"),
    ("florist", "Fleur d'Été"),
    ("hardware", "Anvil Hardware"),
    ("greengrocer", "Turnip & Thyme"),
    ("hairdresser", "The Parted Comb"),
    ("butcher", "Quayside Meats"),
    ("clothes", "Thread & Thimble"),
    ("optician", "Clear Sight"),
    ("fishmonger", "Herring Bone"),
    ("stationery", "Paper Boat"),
    ("laundry", "Suds"),
]


def landmarks(town: Town, rng: Random) -> None:
    """Shops, benches, stops, lamps and water, as points beside the ways."""
    streets = [x for x in town.lines if x.kind == "street" and x.tags["highway"] != "trunk"]
    for kind, name in SHOPS:
        tags = {"amenity": "pharmacy"} if kind == "pharmacy" else {"shop": kind}
        _beside(
            town,
            rng,
            [x for x in streets if quarter(*town.xy(x.refs[len(x.refs) // 2])) in ("old", "north")],
            7,
            {**tags, "name": name, "level": "0"},
        )
    for k in range(26):
        near = [x for x in town.lines if x.kind in ("path", "sidewalk")]
        _beside(
            town,
            rng,
            near,
            1.6,
            {"amenity": "bench", "backrest": rng.choice(["yes", "no"]), **({"name": f"Bench of the {k + 1}th Tide"} if k % 9 == 3 else {})},
        )
    for name in (
        "Long Bridge South",
        "Market",
        "Ropewalk",
        "Drover Way",
        "North Quay",
        "Weaver Street",
        "Hill Foot",
        "Mill Bridge",
        "Ferrow Road",
        "Hollow Lane",
    ):
        _beside(
            town,
            rng,
            [x for x in streets if x.tags["highway"] in ("secondary", "tertiary")],
            5,
            {"highway": "bus_stop", "name": name, "public_transport": "platform"},
        )
    for kind in ("drinking_water", "post_box", "toilets", "fountain", "clock", "telephone"):
        _beside(town, rng, streets, 5, {"amenity": kind})


def _beside(town: Town, rng: Random, lines: list[Line], reach_m: float, tags: Tags) -> None:
    line = rng.choice(lines)
    shape = town.shape(line)
    s = rng.uniform(0.1, 0.9) * shape.length
    a, b = shape.interpolate(s).coords[0], shape.interpolate(s + 1).coords[0]
    d = math.dist(a, b) or 1.0
    side = rng.choice([1, -1])
    town.node(a[0] - (b[1] - a[1]) / d * reach_m * side, a[1] + (b[0] - a[0]) / d * reach_m * side, tags, shared=False)


def grounds(town: Town) -> None:
    """The river and the park as areas."""
    north = [along_river(x, 32) for x in range(-20, 2421, 40)]
    south = [along_river(x, -32) for x in range(2420, -21, -40)]
    town.closed(north + south, {"natural": "water", "water": "river", "name": "Quill"})
    town.closed(list(PARK.exterior.coords)[:-1], {"leisure": "park", "name": "Heron Park"})
    refs = [town.node(x, y, shared=False) for x, y in (along_river(x, 0) for x in range(-20, 2421, 60))]
    town.add_way(refs, {"waterway": "river", "name": "Quill"})
    _green(town, (455, 300), (95, 55), {"natural": "wood", "name": "Larkmount Wood", "leaf_type": "broadleaved"})
    _green(town, (560, 235), (70, 34), {"landuse": "meadow"})
    _green(town, (2120, 1390), (30, 18), {"natural": "water", "water": "pond", "name": "Heron Pond"})


def _green(town: Town, centre: Point2, size: Point2, tags: Tags) -> None:
    """A patch with a wavy rim."""
    rim = []
    for k in range(16):
        a = k * math.pi / 8
        r = 1 + 0.15 * math.sin(3 * a + centre[0])
        rim.append((centre[0] + size[0] * r * math.cos(a), centre[1] + size[1] * r * math.sin(a)))
    town.closed(rim, tags)
