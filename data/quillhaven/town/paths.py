"""Foot ways, and everything between the streets that was put in by hand: bridges, steps, underpass, passage, gates."""

import math
from random import Random
from typing import Any

from shapely.geometry import LineString, Point

from .model import Line, Point2, Span, Tags, Town, catmull
from .plan import PARK, PARKING, SITES, SQUARE
from .terrain import BANK_TOP_OFFSET_M, QUAY_OFFSET_M, along_river, river_offset, trunk_y

WEIR_X = 880.0
GOOD: dict[str, Any] = {"width_m": 2.2, "surface": "asphalt", "smoothness": "good"}


def truth(width_m: float, surface: str = "asphalt", smoothness: str = "good", **more: Any) -> dict[str, Any]:
    """What is really there."""
    return {"width_m": width_m, "surface": surface, "smoothness": smoothness, **more}


def barrier(town: Town, ident: int, kind: str, opening_m: float | None, tags: Tags | None = None, **more: Any) -> None:
    """Put a barrier on a node."""
    town.nodes[ident].tags.update({"barrier": kind, **(tags or {})})
    town.nodes[ident].truth.update({"opening_m": opening_m, **more})


def kerb(town: Town, ident: int, kind: str, height_m: float, tags: Tags) -> None:
    """Put a kerb on a node."""
    town.nodes[ident].tags.update(tags)
    town.nodes[ident].truth["kerb"] = {"place": "kerb_node", "kind": kind, "height_m": height_m}


def mid(a: Point2, b: Point2, share: float) -> Point2:
    """A point between two others."""
    return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


def quays(town: Town) -> dict[str, Line]:
    """The walks at the water, under the bridges, and their ramps and steps up to the town."""
    q = QUAY_OFFSET_M
    north = catmull([along_river(x, q) for x in range(470, 1701, 60)], 24)
    south = catmull([along_river(x, -q) for x in range(1040, 1641, 60)], 24)
    walks = {
        "north": town.line(
            "path",
            north,
            {"highway": "path", "name": "Quay Walk", "surface": "compacted", "foot": "designated", "width": "2.5"},
            truth(2.5, "compacted", "intermediate"),
        ),
        "south": town.line(
            "path", south, {"highway": "footway", "name": "Staithe Walk", "surface": "sett"}, truth(3.0, "sett", "intermediate")
        ),
    }
    _ramp(town, walks["north"], (1690, q), [(1760, 66), (1815, 84)], (1830, 100), {"surface": "asphalt", "width": "2.2", "incline": "4%"})
    _ramp(town, walks["north"], (480, q), [(430, 60), (395, 76)], (380, 100), {"surface": "compacted"}, truth(1.8, "compacted"))
    _ramp(town, walks["north"], (1235, q), [(1170, 60), (1120, 72)], (1085, 100), {"surface": "asphalt", "width": "2", "incline": "7%"})
    _ramp(town, walks["south"], (1610, -q), [(1665, -60), (1715, -74)], (1740, -104), {"surface": "asphalt"})
    _ramp(
        town,
        walks["south"],
        (1065, -q),
        [(1010, -60), (965, -72)],
        (935, -104),
        {"surface": "paving_stones", "smoothness": "good"},
        truth(2.0, "paving_stones"),
    )
    return walks


def _ramp(
    town: Town, walk: Line, foot: Point2, between: list[Point2], head: Point2, tags: Tags, true: dict[str, Any] | None = None
) -> None:
    start = town.insert(walk, along_river(*foot), 4)
    end = town.join_walk(along_river(*head))
    town.line(
        "path",
        [start, *catmull([town.xy(start), *(along_river(*p) for p in between), town.xy(end)], 14)[1:-1], end],
        {"highway": "footway", **tags},
        true or dict(GOOD),
    )


def _steps(town: Town, points: list[Point2 | int], count: int, tags: Tags, width_m: float = 1.6) -> Line:
    return town.line(
        "path", points, {"highway": "steps", "step_count": str(count), **tags}, truth(width_m, "concrete", steps=count), joinable=False
    )


def bank_steps(town: Town, walks: dict[str, Line]) -> None:
    """Steps up the bank: one with a (too steep) ramp beside it, one with a wheeling ramp on it, one with nothing."""
    q = QUAY_OFFSET_M
    foot = town.insert(walks["north"], along_river(WEIR_X, q), 3)
    head = town.join_walk(along_river(WEIR_X, 98))
    top = town.node(*along_river(WEIR_X, 82))
    _steps(
        town,
        [foot, along_river(WEIR_X, 52), top],
        26,
        {"name": "Cooper's Steps", "handrail": "yes", "ramp": "separate", "tactile_paving": "no"},
    )
    town.line("path", [top, head], {"highway": "footway"}, truth(1.6))
    town.line(
        "path",
        [foot, along_river(WEIR_X - 34, 60), along_river(WEIR_X - 60, 74), along_river(WEIR_X - 42, 82), top],
        {"highway": "footway", "incline": "10%", "surface": "concrete", "handrail": "both", "width": "1.3"},
        truth(1.3, "concrete"),
    )
    foot = town.insert(walks["south"], along_river(1130, -q), 3)
    head = town.join_walk(along_river(1130, -104))
    top = town.node(*along_river(1130, -82))
    _steps(town, [foot, top], 24, {"ramp": "yes", "ramp:wheelchair": "yes", "incline": "up"}, 2.4)
    town.line("path", [top, head], {"highway": "footway", "surface": "paving_stones"}, truth(2.4, "paving_stones"))
    foot = town.insert(walks["north"], along_river(1450, q), 3)
    head = town.join_walk(along_river(1450, 97))
    _steps(town, [foot, head], 27, {"name": "Schoolboard Steps", "handrail": "left", "lit": "no"})


def weir_footbridge(town: Town, walks: dict[str, Line]) -> None:
    """The short way over the river, with a raised kerb and a cycle barrier before it."""
    road = town.join(along_river(WEIR_X, -104), ("street",))
    edge, gate, deck = (town.node(*along_river(WEIR_X, d)) for d in (-99.5, -90, -80))
    foot = town.insert(walks["north"], along_river(WEIR_X, QUAY_OFFSET_M), 3)
    kerb(town, edge, "raised", 0.12, {"barrier": "kerb", "kerb": "raised", "kerb:height": "0.12"})
    kerb_line = [town.node(*along_river(WEIR_X + side, -99.5)) for side in (-6, 6)]
    town.add_way([kerb_line[0], edge, kerb_line[1]], {"barrier": "kerb", "kerb": "raised"})
    barrier(town, gate, "cycle_barrier", 0.7, {"cycle_barrier": "double", "maxwidth:physical": "0.7"})
    town.line("path", [road, edge, gate, deck], {"highway": "footway", "surface": "asphalt"}, truth(2.0))
    line = town.line(
        "path",
        [deck, *(along_river(WEIR_X, d) for d in (-40, 0, 36)), foot],
        {"highway": "footway", "bridge": "yes", "layer": "1", "name": "Weir Footbridge", "surface": "wood", "width": "2.2", "lit": "yes"},
        truth(2.2, "wood"),
    )
    line.cuts.add(line.refs[2])  # a deck in two ways, as mappers leave them
    line.spans.append(Span(deck, foot, {}, level=True))


def sheep_path(town: Town) -> None:
    """Straight down from the hill to the footbridge: the short way, too steep for a chair."""
    top, foot = town.join((640, 600), ("street",)), town.join(along_river(WEIR_X - 20, -108), ("street",))
    a, b = town.xy(top), town.xy(foot)
    inner = [(mid(a, b, s)[0] + 9 * math.sin(6.3 * s), mid(a, b, s)[1]) for s in (0.15, 0.35, 0.55, 0.75, 0.9)]
    town.line(
        "path",
        [top, *catmull([a, *inner, b], 16)[1:-1], foot],
        {"highway": "path", "surface": "asphalt", "name": "Sheep Path", "incline": "down"},
        truth(1.7, "asphalt"),
    )


def knit(town: Town) -> None:
    """Foot ways share a node with what they cross on the ground."""
    for line in [x for x in town.lines if x.kind == "path" and not x.spans]:
        for other in [
            x for x in town.lines if (x.kind in ("street", "sidewalk", "path") and x is not line and not x.spans) or x.kind == "street"
        ]:
            a, b = town.shape(line), town.shape(other)
            if not a.intersects(b):
                continue
            hit = a.intersection(b)
            for spot in getattr(hit, "geoms", [hit]):
                point = (spot.centroid.x, spot.centroid.y)
                if abs(river_offset(*point)) > BANK_TOP_OFFSET_M:
                    town.thread(other, town.insert(line, point, 0.6))


def underpass(town: Town) -> None:
    """A foot tunnel below the fast road."""
    x = 1062.0
    y = trunk_y(x)
    south, north = town.join_walk((x, y - 70)), town.join((x + 12, y + 70), ("street",))
    mouth_s, mouth_n = town.node(x, y - 22), town.node(x + 3, y + 22)
    town.line("path", [south, (x - 4, y - 40), mouth_s], {"highway": "footway", "surface": "asphalt", "lit": "yes"}, truth(2.6))
    line = town.line(
        "path",
        [mouth_s, (x + 1, y), mouth_n],
        {
            "highway": "footway",
            "tunnel": "yes",
            "layer": "-1",
            "surface": "concrete",
            "width": "2.4",
            "lit": "yes",
            "maxheight": "2.3",
            "name": "Ferrow Subway",
        },
        truth(2.4, "concrete"),
        joinable=False,
    )
    line.spans.append(Span(mouth_s, mouth_n, {}, level=True))
    town.line("path", [mouth_n, (x + 6, y + 45), north], {"highway": "footway", "surface": "asphalt"}, truth(2.6))


def square(town: Town) -> None:
    """An open square as an area, joined to the streets round it; bollards keep cars out."""
    rim: list[Point2] = [
        SQUARE.at(u, v) for u, v in ((-31, -20), (-10, -23), (14, -22), (31, -14), (29, 12), (12, 23), (-14, 21), (-30, 14))
    ]
    refs = [town.node(*p) for p in rim]
    town.line(
        "area",
        [*refs, refs[0]],
        {
            "highway": "pedestrian",
            "area": "yes",
            "name": "Spindle Market",
            "surface": "sett",
            "lit": "yes",
            "motor_vehicle:conditional": "delivery @ (Mo-Sa 06:00-10:00)",
        },
        truth(40.0, "sett", "intermediate"),
        joinable=False,
    )
    gaps: list[tuple[float | None, Tags]] = [(1.4, {"maxwidth:physical": "1.4"}), (0.95, {}), (1.1, {"width": "1.1"}), (None, {})]
    seen: set[int] = set()
    for k, (opening, tags) in zip((1, 3, 5, 7), gaps, strict=True):
        out = (rim[k][0] * 2.2 - SQUARE.x * 1.2, rim[k][1] * 2.2 - SQUARE.y * 1.2)
        street = town.join(out, ("street",))
        if street in seen:
            continue
        seen.add(street)
        post = town.node(*mid(rim[k], town.xy(street), 0.35))
        if opening is not None:
            barrier(town, post, "bollard", opening, tags)
        town.line(
            "path",
            [refs[k], post, street],
            {"highway": "pedestrian" if k < 4 else "footway", "surface": "sett" if k != 5 else "paving_stones"},
            truth(3.0, "sett" if k != 5 else "paving_stones", "intermediate"),
        )


def park(town: Town) -> None:
    """Heron Park: gravel paths, a loop, a gate that is shut in winter."""
    ring = PARK.exterior
    x0, y0 = PARK.centroid.coords[0]
    loop = [
        (x0 + 105 * math.cos(a) * (1 + 0.16 * math.sin(3 * a)), y0 + 95 * math.sin(a) * (1 + 0.12 * math.cos(2 * a)))
        for a in [k * math.pi / 9 for k in range(18)]
    ]
    refs = [town.node(*p) for p in loop]
    main = town.line(
        "path",
        [*refs, refs[0]],
        {"highway": "path", "surface": "fine_gravel", "name": "Heron Loop"},
        truth(2.4, "fine_gravel", "intermediate"),
    )
    main.cuts.add(refs[7])
    ways: list[tuple[int, float, str, Tags, str]] = [
        (14, 0.02, "gravel", {"surface": "gravel", "smoothness": "bad"}, "bad"),
        (8, 0.93, "compacted", {"surface": "compacted"}, "intermediate"),
        (6, 0.85, "gravel", {"access:conditional": "no @ (Nov-Mar)", "surface": "gravel"}, "bad"),
        (11, 0.1, "asphalt", {"surface": "asphalt", "width": "2.0"}, "good"),
    ]
    for k, share, surface, tags, smooth in ways:
        edge = ring.interpolate(share, normalized=True).coords[0]
        end = town.join_walk(edge)
        start = refs[k]
        gate = town.node(*mid(town.xy(start), town.xy(end), 0.75))
        bend_at = mid(town.xy(start), town.xy(end), 0.4)
        town.line(
            "path",
            [start, (bend_at[0] + 6, bend_at[1] - 5), gate, end],
            {"highway": "path" if surface != "asphalt" else "footway", **tags},
            truth(2.0, surface, smooth),
        )
        if k == 6:
            barrier(town, gate, "gate", 1.2, {"access:conditional": "no @ (Nov-Mar)", "opening_hours": "Apr-Oct"}, locked=False)
        elif k == 14:
            barrier(town, gate, "kissing_gate", 0.6)
        elif k == 8:
            barrier(town, gate, "bollard", 1.0)
    town.line(
        "path",
        [refs[0], (x0 + 20, y0 + 8), (x0 - 30, y0 - 12), refs[9]],
        {"highway": "path", "surface": "grass", "trail_visibility": "intermediate"},
        truth(1.0, "grass", "bad"),
    )


def parking(town: Town) -> None:
    """A parking lot with aisles; its lift gate and the aisles are the way to the hall."""
    at = PARKING.at
    entry = town.join(at(-60, 0), ("street",))
    inner = town.node(*at(-36, 0))
    gate = town.node(*at(-44, 0))
    barrier(town, gate, "lift_gate", 0.85, {"access": "customers", "opening_hours": "24/7"}, locked=False)
    base = truth(6.0)
    town.line("service", [entry, gate, inner], {"highway": "service", "surface": "asphalt"}, dict(base))
    nodes = {(u, v): town.node(*at(u, v)) for u in (-36, 0, 36) for v in (-18, 0, 18)}
    town.line("service", [nodes[-36, -18], nodes[-36, 0], nodes[-36, 18]], {"highway": "service", "service": "parking_aisle"}, dict(base))
    town.line("service", [nodes[36, -18], nodes[36, 0], nodes[36, 18]], {"highway": "service", "service": "parking_aisle"}, dict(base))
    for v in (-18, 0, 18):
        town.line(
            "service",
            [nodes[-36, v], nodes[0, v], nodes[36, v]],
            {"highway": "service", "service": "parking_aisle", "oneway": "yes", "surface": "asphalt"},
            dict(base),
        )
    out = town.join(at(60, 10), ("street",))
    town.line("service", [nodes[36, 18], out], {"highway": "service"}, dict(base))
    town.closed(
        [at(-42, -30), at(42, -30), at(42, 30), at(-42, 30)],
        {"amenity": "parking", "surface": "asphalt", "capacity:disabled": "4", "name": "Ropewalk Parking"},
    )


def shortcuts(town: Town, rng: Random) -> None:
    """Narrow alleys and passages between streets of the old quarter, with what stands in them."""
    kinds: list[tuple[Tags, dict[str, Any], str]] = [
        (
            {
                "highway": "footway",
                "tunnel": "building_passage",
                "covered": "yes",
                "width": "1.5",
                "maxheight": "2.2",
                "name": "Clockmaker's Passage",
            },
            truth(1.5, "paving_stones"),
            "",
        ),
        ({"highway": "footway", "name": "Pinch Alley", "width": "0.8"}, truth(0.8), ""),
        ({"highway": "service", "service": "alley", "name": "Back Pewter Lane"}, truth(1.1, "cobblestone", "bad"), "bollard"),
        ({"highway": "footway", "access": "private"}, truth(1.4), "gate"),
        ({"highway": "footway", "width": "1.2"}, truth(1.2), "stile"),
        ({"highway": "footway", "surface": "asphalt"}, truth(1.8), "swing_gate"),
        ({"highway": "cycleway", "foot": "yes", "surface": "asphalt"}, truth(2.0), "cycle_barrier"),
        ({"highway": "footway", "surface": "concrete", "foot:conditional": "no @ (22:00-06:00)"}, truth(1.6, "concrete"), ""),
        ({"highway": "steps", "step_count": "9", "ramp:wheelchair": "no"}, truth(1.5, "concrete", steps=9), ""),
        ({"highway": "footway", "surface": "paving_stones", "conveying": "no"}, truth(1.8, "paving_stones"), "turnstile"),
    ]
    for tags, true, kind in kinds:
        ends = _between_streets(town, rng)
        a, b = ends
        post = town.node(*mid(town.xy(a), town.xy(b), 0.5))
        town.line("path", [a, mid(town.xy(a), town.xy(b), 0.2), post, b], tags, true)
        _furnish(town, post, kind)


def _furnish(town: Town, post: int, kind: str) -> None:
    if kind == "gate":
        barrier(town, post, "gate", 0.9, {"access": "private", "locked": "yes"}, locked=True)
    elif kind == "bollard":
        barrier(town, post, "bollard", 0.8)
    elif kind == "cycle_barrier":
        barrier(town, post, "cycle_barrier", 0.95)
    elif kind == "swing_gate":
        barrier(town, post, "swing_gate", 1.0, {"access": "customers"}, locked=False)
    elif kind:
        barrier(town, post, kind, 0.55)


def _between_streets(town: Town, rng: Random) -> tuple[int, int]:
    """Ends on two neighbouring streets of the old quarter, 35 to 80 m apart with nothing between."""
    streets = [x for x in town.lines if x.kind == "street" and x.tags["highway"] in ("residential", "living_street")]
    shapes = {id(x): town.shape(x) for x in town.lines if x.kind in ("street", "path", "sidewalk")}
    for _ in range(4000):
        x, y = rng.uniform(1010, 1680), rng.uniform(150, 780)
        angle = rng.uniform(0, math.pi)
        a, b = ((x + s * 60 * math.cos(angle), y + s * 60 * math.sin(angle)) for s in (-1, 1))
        first = min(streets, key=lambda line: shapes[id(line)].distance(_point(a)))
        second = min(streets, key=lambda line: shapes[id(line)].distance(_point(b)))
        if first is second:
            continue
        p, q = (shapes[id(line)].interpolate(shapes[id(line)].project(_point(z))).coords[0] for line, z in ((first, a), (second, b)))
        if 35 < math.dist(p, q) < 80 and _clear(p, q, {id(first), id(second)}, shapes):
            return town.insert(first, p, 3), town.insert(second, q, 3)
    raise ValueError("no place for a passage")


def _point(p: Point2) -> Point:
    return Point(p)


def _clear(p: Point2, q: Point2, own: set[int], shapes: dict[int, Any]) -> bool:
    ray = LineString([mid(p, q, 0.06), mid(p, q, 0.94)])
    if any(site.polygon(4).intersects(ray) for site in SITES):
        return False
    return all(shape.distance(ray) > (9 if key not in own else 1) for key, shape in shapes.items())


def draw_paths(town: Town, rng: Random) -> None:
    """Everything in this module, in the order that later parts lean on."""
    walks = quays(town)
    bank_steps(town, walks)
    weir_footbridge(town, walks)
    sheep_path(town)
    underpass(town)
    square(town)
    park(town)
    parking(town)
    shortcuts(town, rng)
