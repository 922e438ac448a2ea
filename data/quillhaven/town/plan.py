"""What was drawn by hand: main streets, quarters, places kept free, and invented names."""

import math
from dataclasses import dataclass

from shapely.geometry import Polygon

from .model import Point2, catmull
from .terrain import DECK_END_OFFSET_M, along_river, gradient, river_offset, trunk_y

LONG_BRIDGE_X = 1300.0
STREET_HALF_WIDTH_M = {"trunk": 5.5, "secondary": 4.2, "tertiary": 3.6, "residential": 2.9, "living_street": 2.4, "unclassified": 3.0}


@dataclass(frozen=True)
class Site:
    """A place that minor streets keep out of."""

    name: str
    x: float
    y: float
    length_m: float
    depth_m: float
    turn: float = 0.0  # radians, anticlockwise

    def at(self, u: float, v: float) -> Point2:
        """Local metres of a point given from the site's middle along its own axes."""
        c, s = math.cos(self.turn), math.sin(self.turn)
        return self.x + c * u - s * v, self.y + s * u + c * v

    def polygon(self, grow_m: float = 0.0) -> Polygon:
        """Outline of the site."""
        a, b = self.length_m / 2 + grow_m, self.depth_m / 2 + grow_m
        return Polygon([self.at(-a, -b), self.at(a, -b), self.at(a, b), self.at(-a, b)])


def _site_by_river(name: str, x: float, offset_m: float, size: Point2, turn: float) -> Site:
    return Site(name, *along_river(x, offset_m), *size, turn)


SCHOOL = _site_by_river("North Quay School", 1530, 172, (84, 66), 0.16)
HALL = Site("Tannery Hall", 905, 1235, 60, 50, -0.25)
HILL_HALL = Site("Larkmount Hall", 705, 470, 34, 28, 0.3)
SPORTS = Site("Ropewalk Sports Hall", 2120, 640, 66, 48, 0.12)
LIBRARY = Site("Ferrow Library", 1120, 1680, 44, 34, 0.05)
SQUARE = Site("Spindle Market", 1445, 665, 62, 46, 0.22)
PARKING = Site("Ropewalk parking", 1985, 560, 84, 60, 0.12)
PARK = Polygon(
    [
        along_river(1945, 118),
        along_river(2060, 112),
        along_river(2200, 114),
        along_river(2330, 120),
        (2335, 1330),
        (2290, 1470),
        (2130, 1500),
        (1985, 1460),
        (1950, 1330),
    ]
)
SITES = (SCHOOL, HALL, HILL_HALL, SPORTS, LIBRARY, SQUARE, PARKING)


def quarter(x: float, y: float) -> str:
    """Name of the quarter: decides how its streets are mapped."""
    if y > trunk_y(x) - 16:
        return "upland"
    if river_offset(x, y) > 0:
        return "north" if 740 < x < 1915 else ("westbank" if x <= 740 else "park")
    if x < 985 and river_offset(x, y) < -128:
        return "hill"
    return "old" if x < 1700 else "ropewalk"


def north_polygon() -> Polygon:
    """The quarter whose sidewalks are ways of their own."""
    south = [along_river(x, DECK_END_OFFSET_M) for x in range(740, 1916, 25)]
    north = [(x, trunk_y(x) - 16) for x in range(1915, 739, -25)]
    return Polygon(south + north)


def trace_grade(start: Point2, grade: float, turn: int, length_m: float) -> list[Point2]:
    """Follow the slope so that the street keeps one grade; ``turn`` picks which of the two ways."""
    points = [start]
    heading = None
    while len(points) * 8 < length_m:
        x, y = points[-1]
        gx, gy = gradient(x, y)
        steep = math.hypot(gx, gy)
        up = math.atan2(gy, gx)
        if steep > abs(grade):
            heading = up + turn * math.acos(grade / steep)
        elif heading is None:
            heading = up
        points.append((x + 8 * math.cos(heading), y + 8 * math.sin(heading)))
    return points


def _larkmount_road() -> list[Point2]:
    """The road that winds down from the top of the hill to Low Road at about 6 %."""
    down = trace_grade((352.0, 400.0), -0.056, 1, 900)
    keep = [p for p in down if p[0] < 740]
    return catmull([*keep[:90:6], (818, 634), (872, 628), (918, 650), (942, 710), (946, 785), along_river(938, -108)], 12)


def main_streets() -> list[tuple[str, str, list[Point2]]]:
    """(name, highway class, points) of the streets drawn by hand."""

    def by_river(offset: float, first: int, last: int) -> list[Point2]:
        return [along_river(x, offset) for x in range(first, last, 110)]

    bridge = [along_river(LONG_BRIDGE_X, -84), along_river(LONG_BRIDGE_X, 84)]
    mill = [along_river(1875, -84), along_river(1875, 84)]
    return [
        ("Ferrow Road", "trunk", [(x, trunk_y(x)) for x in range(0, 2401, 20)]),
        ("Low Road", "tertiary", catmull(by_river(-108, 30, 2390))),
        ("North Quay", "tertiary", catmull(by_river(104, 40, 2380))),
        (
            "Long Bridge Street",
            "secondary",
            catmull([(1190, 55), (1225, 300), (1290, 620), *bridge, (1335, 1240), (1310, 1545), (1290, 1770)]),
        ),
        ("Mill Road", "tertiary", catmull([(1840, 60), (1780, 330), (1830, 660), *mill, (1880, 1320), (1850, 1590), (1835, 1770)])),
        (
            "Drover Way",
            "tertiary",
            catmull([(872, 622), (960, 545), (1110, 470), (1260, 420), (1500, 480), (1760, 430), (2080, 470), (2380, 400)]),
        ),
        (
            "South Road",
            "tertiary",
            catmull([(70, 250), (170, 90), (480, 40), (850, 80), (1195, 110), (1500, 120), (1835, 90), (2200, 150), (2380, 400)]),
        ),
        ("Westing Road", "tertiary", catmull([along_river(50, -108), (60, 620), (45, 420), (70, 250)])),
        ("Weaver Street", "tertiary", catmull([along_river(x, 292) for x in range(230, 1900, 140)])),
        ("Hollow Lane", "residential", catmull([along_river(330, 104), (365, 1400), (395, 1590), (430, 1770)])),
        ("Tannery Street", "residential", catmull([along_river(800, 104), (770, 1270), (800, 1420), (815, 1570)])),
        ("Larkmount Rise", "residential", catmull([along_river(560, -108), (545, 780), (520, 600), (490, 440)])),
        ("Larkmount Road", "residential", _larkmount_road()),
    ]


STREET_NAMES = """Skylark Crescent|Cooper's Wynd|Bellfounder Street|Saltmarsh Lane|Curlew Street|Kiln Row|Heron Street|Gorse Bank
Ropewalk|Spindle Street|Chandler's Row|Pewter Lane|"Half Moon" Street|Café Row|Île Verte Lane|Sailmaker Street|Netherby Row|Ash Terrace
Quarry Rise|Thistle Bank|Plover Close|Tinder Street|Copperas Lane|Osier Street|Withy Lane|Millrace Street|Eelpot Lane|Sluice Street
Tidewaiter Row|Fuller's Yard|Hemp Street|Candle Row|Brine Street|Sextant Street|Compass Row|Lantern Street|Anchor Row|Windlass Lane
Barley Street|Oatmeal Row|Cider Lane|Orchard Bank|Damson Street|Medlar Row|Quince Lane|Hazel Bank|Bramble Row|Sorrel Street
Linnet Close|Wagtail Way|Dipper Street|Kestrel Bank|Swift Street|Martin's Eave|Fieldfare Row|Redwing Street|Lapwing Way|Dunlin Row
Flint Street|Chalk Lane|Marl Street|Slate Row|Clay Bank|Granite Street|Pebble Lane|Shingle Row|Cobble Street|Tile Yard
Marigold Row|Tansy Lane|Yarrow Street|Burdock Row|Comfrey Way|Mallow Street|Teasel Bank|Bracken Rise|Heather Bank|Fern Row
Weir Lane|Staithe Street|Wharf Row|Ferry Lane|Barge Street|Lighter Row|Keel Street|Mast Lane|Rigger's Row|Oakum Street
Clock Street|Pendulum Row|Sundial Lane|Bell Street|Chime Row|Hourglass Lane|Almanac Street|Quill Street|Inkwell Row|Parchment Lane
Vellum Street|Ledger Row|Seal Lane|Candlewick Row|Tallow Street|Beeswax Lane|Honey Row|Skep Street|Clover Bank|Meadow Row
Tern Street|Gannet Row|Puffin Lane|Fulmar Street|Petrel Row|Avocet Lane|Godwit Street|Whimbrel Row|Ruff Lane|Knot Street
Juniper Bank|Larch Row|Alder Street|Aspen Lane|Rowan Row|Elder Street|Hornbeam Lane|Spruce Row|Maple Bank|Cedar Lane
North Garth|South Garth|East Garth|West Garth|High Fold|Low Fold|Long Fold|Short Fold|Upper Toft|Nether Toft""".replace("\n", "|").split(
    "|"
)
