"""The bundled town: made again it is the same, it holds every kind of thing that real maps hold, and its truth covers the map."""

from __future__ import annotations

import csv
import gzip
import hashlib
import importlib
import itertools
import json
import math
import re
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import osmium
import pytest
import rasterio

DATA = Path(__file__).parents[1] / "data"
TOWN = DATA / "quillhaven"
TEXT_FILES = ("address_points.csv", "shelters.csv", "riders.csv", "vans.csv", "escorts.csv", "hazards.geojson", "move.toml")
MapObjects = tuple[dict[int, tuple[float, float, dict[str, str]]], dict[int, tuple[list[int], dict[str, str]]]]


def read_map(path: Path) -> MapObjects:
    """Nodes (lon, lat, tags) and ways (refs, tags), by plain osmium."""
    nodes, ways = {}, {}
    for thing in osmium.FileProcessor(str(path)):
        tags = {t.k: t.v for t in thing.tags}
        if thing.is_node():
            nodes[thing.id] = (thing.lon, thing.lat, tags)
        elif thing.is_way():
            ways[thing.id] = ([n.ref for n in thing.nodes], tags)
    return nodes, ways


@pytest.fixture(scope="module")
def maker() -> Iterator[Any]:
    """The script, imported from its folder."""
    sys.path.insert(0, str(TOWN))
    yield importlib.import_module("make_town")
    sys.path.remove(str(TOWN))
    for name in [n for n in sys.modules if n in ("make_town", "town") or n.startswith("town.")]:
        del sys.modules[name]


@pytest.fixture(scope="module")
def remade(maker: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Any]:
    """The town made again, and what was drawn."""
    folder = tmp_path_factory.mktemp("town")
    return folder, maker.write_all(folder)


@pytest.fixture(scope="module")
def town_map() -> MapObjects:
    return read_map(TOWN / "town.osm.pbf")


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    return json.loads(gzip.decompress((TOWN / "truth.json.gz").read_bytes()))


@pytest.mark.parametrize("name", TEXT_FILES)
def test_lists_come_out_byte_for_byte_the_same(remade: tuple[Path, Any], name: str) -> None:
    """A seeded script: whoever runs it gets the committed file."""
    assert (remade[0] / name).read_bytes() == (TOWN / name).read_bytes()


def test_map_comes_out_the_same(remade: tuple[Path, Any], town_map: MapObjects) -> None:
    """Every node, place, tag and way; the packing may differ between versions of the compressor, the content may not."""
    assert read_map(remade[0] / "town.osm.pbf") == town_map


def test_truth_comes_out_the_same(remade: tuple[Path, Any], truth: dict[str, Any]) -> None:
    """Compared after unpacking, for the same reason."""
    assert json.loads(gzip.decompress((remade[0] / "truth.json.gz").read_bytes())) == truth


def test_heights_come_out_the_same(remade: tuple[Path, Any]) -> None:
    """Same cells, place and labels."""
    with rasterio.open(remade[0] / "heights.tif") as new, rasterio.open(TOWN / "heights.tif") as old:
        np.testing.assert_array_equal(new.read(1), old.read(1))
        assert (new.crs, new.transform, new.nodata, new.tags()) == (old.crs, old.transform, old.nodata, old.tags())


def test_noise_of_heights_is_what_the_file_states(maker: Any) -> None:
    """Noise = raster minus the noise-free surface: sigma 0.10 m within 0.01, mean near 0, neighbours unrelated (white)."""
    with rasterio.open(TOWN / "heights.tif") as raster:
        cells, stated, units = raster.read(1, masked=True), float(raster.tags()["HEIGHT_SIGMA_M"]), raster.units
        labels = raster.tags()
    noise = cells - maker.write.true_heights()

    assert units == ("metre",)
    assert labels["MODEL"] == "terrain"
    assert "datum" in labels["VERTICAL_DATUM"]
    assert noise.std() == pytest.approx(stated, abs=0.01)
    assert stated == pytest.approx(0.10)
    assert abs(float(noise.mean())) < 0.002  # 200 000 cells: standard error 0.0002 m
    neighbours = np.ma.corrcoef(noise[:, :-1].ravel(), noise[:, 1:].ravel())[0, 1]
    assert abs(float(neighbours)) < 0.01


def test_heights_have_one_small_hole(maker: Any) -> None:
    """Unknown heights exist in real rasters: here 6 × 4 cells or so, less than a thousandth."""
    with rasterio.open(TOWN / "heights.tif") as raster:
        missing = raster.read(1) == raster.nodata
    rows, columns = np.nonzero(missing)

    assert missing.sum() == (np.ptp(rows) + 1) * (np.ptp(columns) + 1)  # one block
    assert 10 <= missing.sum() <= missing.size / 1000


WAY_KINDS: dict[str, Any] = {
    "sidewalk as own way": lambda t: t.get("footway") == "sidewalk",
    "crossing as own way": lambda t: t.get("footway") == "crossing",
    "sidewalk=both": lambda t: t.get("sidewalk") == "both",
    "sidewalk=left": lambda t: t.get("sidewalk") == "left",
    "sidewalk=right": lambda t: t.get("sidewalk") == "right",
    "sidewalk=separate": lambda t: t.get("sidewalk") == "separate",
    "sidewalk=no": lambda t: t.get("sidewalk") == "no",
    "kerb as a line": lambda t: t.get("barrier") == "kerb",
    "wood": lambda t: t.get("natural") == "wood",
    "sidewalk:left": lambda t: "sidewalk:left" in t,
    "driveway": lambda t: t.get("service") == "driveway",
    "parking aisle": lambda t: t.get("service") == "parking_aisle",
    "steps": lambda t: t.get("highway") == "steps",
    "steps with wheeling ramp": lambda t: t.get("ramp:wheelchair") == "yes",
    "steps with a ramp beside them": lambda t: t.get("ramp") == "separate",
    "bridge": lambda t: "bridge" in t,
    "underpass": lambda t: t.get("tunnel") == "yes" and t.get("layer") == "-1",
    "building passage": lambda t: t.get("tunnel") == "building_passage" and t.get("covered") == "yes",
    "cobbles": lambda t: t.get("surface") in ("sett", "cobblestone", "unhewn_cobblestone"),
    "gravel path": lambda t: t.get("highway") == "path" and t.get("surface") in ("gravel", "fine_gravel"),
    "narrow alley": lambda t: t.get("highway") == "footway" and t.get("width") == "0.8",
    "construction": lambda t: t.get("highway") == "construction",
    "square as area": lambda t: t.get("highway") == "pedestrian" and t.get("area") == "yes",
    "conditional access": lambda t: any(k.endswith(":conditional") for k in t),
    "private way": lambda t: t.get("access") == "private",
    "lit": lambda t: "lit" in t,
    "maxspeed": lambda t: "maxspeed" in t,
    "lanes": lambda t: "lanes" in t,
    "trunk road": lambda t: t.get("highway") == "trunk",
    "name with quotes": lambda t: '"' in t.get("name", ""),
    "name with accents": lambda t: any(ord(c) > 127 for c in t.get("name", "")),
    "building": lambda t: "building" in t,
    "address": lambda t: "addr:street" in t and "addr:housenumber" in t,
    "river": lambda t: t.get("natural") == "water",
    "park": lambda t: t.get("leisure") == "park",
    "room": lambda t: t.get("indoor") == "room" and "level" in t,
    "corridor": lambda t: t.get("indoor") == "corridor",
    "indoor area": lambda t: t.get("indoor") == "area",
    "indoor steps": lambda t: t.get("highway") == "steps" and t.get("level") == "0;1",
    "ramp between half levels": lambda t: t.get("indoor") == "yes" and t.get("level") == "0;0.5" and "incline" in t,
    "shelter tag": lambda t: t.get("emergency:social_facility") == "shelter",
    "dirty width ~2": lambda t: t.get("width") == "~2",
    "dirty width with unit": lambda t: t.get("width", "").endswith(" m"),
    "dirty width in feet": lambda t: "'" in t.get("width", ""),
    "dirty width list": lambda t: ";" in t.get("width", ""),
    "incline=up": lambda t: t.get("incline") == "up",
    "incline in percent": lambda t: t.get("incline") == "10%",
    "incline in degrees": lambda t: "°" in t.get("incline", ""),
    "two surfaces": lambda t: t.get("surface") == "paved;cobblestone",
    "smoothness=bad": lambda t: t.get("smoothness") == "bad",
    "contradicting sidewalks": lambda t: t.get("sidewalk") == "both" and t.get("sidewalk:left") == "no",
}
NODE_KINDS: dict[str, Any] = {
    **{f"kerb={kind}": (lambda t, k=kind: t.get("kerb") == k) for kind in ("lowered", "raised", "flush", "rolled")},
    "kerb:height": lambda t: "kerb:height" in t,
    "kerb place without kerb tag": lambda t: t.get("barrier") == "kerb" and "kerb" not in t,
    "contradicting kerb": lambda t: t.get("kerb") == "flush" and float(t.get("kerb:height", "0").split()[0]) > 0.08,
    **{f"crossing={kind}": (lambda t, k=kind: t.get("crossing") == k) for kind in ("marked", "traffic_signals", "uncontrolled")},
    "cycle barrier": lambda t: t.get("barrier") == "cycle_barrier",
    "bollard with width": lambda t: t.get("barrier") == "bollard" and ("maxwidth:physical" in t or "width" in t),
    "bollard without width": lambda t: t.get("barrier") == "bollard" and "maxwidth:physical" not in t and "width" not in t,
    "locked gate": lambda t: t.get("barrier") == "gate" and t.get("access") == "private",
    "lift": lambda t: t.get("highway") == "elevator" and t.get("level") == "0;1",
    "door with width": lambda t: "door" in t and ("width" in t or "door:width" in t),
    "door without width": lambda t: "door" in t and "width" not in t and "door:width" not in t,
    "main entrance": lambda t: t.get("entrance") == "main",
    "side entrance": lambda t: t.get("entrance") == "yes",
    "automatic door": lambda t: t.get("automatic_door") not in (None, "no"),
    "threshold": lambda t: "entrance" in t and "kerb:height" in t,
    "shop": lambda t: "shop" in t and "name" in t,
    "bench": lambda t: t.get("amenity") == "bench",
    "bus stop": lambda t: t.get("highway") == "bus_stop" and "name" in t,
}


@pytest.mark.parametrize("kind", WAY_KINDS)
def test_map_has_ways_of_every_kind(town_map: MapObjects, kind: str) -> None:
    """What real mapping holds, right, dirty and missing, is in the town at least once."""
    assert sum(WAY_KINDS[kind](tags) for _, tags in town_map[1].values()) >= 1


@pytest.mark.parametrize("kind", NODE_KINDS)
def test_map_has_nodes_of_every_kind(town_map: MapObjects, kind: str) -> None:
    """Likewise for what is mapped as a point."""
    assert sum(NODE_KINDS[kind](tags) for _, _, tags in town_map[0].values()) >= 1


def test_map_has_several_thousand_nodes_of_ways(town_map: MapObjects) -> None:
    """4000 to 8000 nodes on highways: large enough to mean something, small enough for a demo."""
    used = {r for refs, tags in town_map[1].values() if "highway" in tags for r in refs}

    assert 4000 <= len(used) <= 8000


def test_map_holds_together(town_map: MapObjects) -> None:
    """Every way has its nodes, at least two, none twice in a row; ids are positive; files stay small."""
    nodes, ways = town_map
    assert min(nodes) > 0
    assert min(ways) > 0
    for ident, (refs, _) in ways.items():
        assert len(refs) >= 2, ident
        assert set(refs) <= nodes.keys(), ident
        assert all(a != b for a, b in itertools.pairwise(refs)), ident
    assert all(f.stat().st_size < 1_500_000 for f in TOWN.iterdir() if f.is_file())


def test_map_is_dated_and_lies_in_open_sea(town_map: MapObjects) -> None:
    """Nobody may take the town for a real place: 45.2 N 37.3 W is more than 700 km from any land (the Azores)."""
    header = osmium.io.Reader(str(TOWN / "town.osm.pbf")).header()
    lons, lats = zip(*((lon, lat) for lon, lat, _ in town_map[0].values()), strict=True)

    assert header.get("osmosis_replication_timestamp") == "2026-03-01T00:00:00Z"
    assert -37.33 < min(lons) < max(lons) < -37.27
    assert 45.17 < min(lats) < max(lats) < 45.23


def test_most_of_the_town_is_one_piece(town_map: MapObjects) -> None:
    """On foot, 95 % of all nodes of highways hang together."""
    parent: dict[int, int] = {}

    def root(r: int) -> int:
        while parent.setdefault(r, r) != r:
            parent[r] = parent[parent[r]]
            r = parent[r]
        return r

    for refs, tags in town_map[1].values():
        if tags.get("highway") not in (None, "trunk", "construction"):
            for a, b in itertools.pairwise(refs):
                parent[root(a)] = root(b)
    sizes = Counter(root(r) for r in list(parent))

    assert sizes.most_common(1)[0][1] >= 0.95 * sum(sizes.values())


def test_truth_covers_every_way_and_kerb(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """Tags can be deleted and compared: each highway has width, surface, a grade per piece; each tagged kerb or crossing a height."""
    nodes, ways = town_map
    moving = {i: (refs, tags) for i, (refs, tags) in ways.items() if "highway" in tags or "indoor" in tags}
    assert moving.keys() == {int(i) for i in truth["ways"]}
    for ident, (refs, _) in moving.items():
        facts = truth["ways"][str(ident)]
        assert facts["width_m"] > 0
        assert facts["surface"]
        assert len(facts["grades"]) == len(refs) - 1
    kerbs = {i for i, (_, _, tags) in nodes.items() if tags.get("barrier") == "kerb" or "kerb" in tags or tags.get("highway") == "crossing"}
    on_footway_crossing = {r for refs, tags in ways.values() if tags.get("footway") == "crossing" for r in refs}
    streets = {r for refs, tags in ways.values() if tags.get("highway") not in ("footway", None) for r in refs}
    for ident in kerbs - (on_footway_crossing & streets):  # a node in the middle of a crossing way has its kerbs beside it
        if "entrance" not in nodes[ident][2]:
            assert truth["nodes"][str(ident)]["kerb"]["height_m"] >= 0, ident


def test_truth_knows_kerbs_that_nobody_mapped(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """Aprons, corners and bare crossing nodes: places of all four kinds exist, and most have no kerb tag."""
    places = Counter(n["kerb"]["place"] for n in truth["nodes"].values() if "kerb" in n)
    bare = sum("kerb" in n and not any(k.startswith("kerb") for k in town_map[0][int(i)][2]) for i, n in truth["nodes"].items())

    assert set(places) == {"kerb_node", "crossing_node", "apron", "corner"}
    assert min(places.values()) >= 50
    assert bare > 300


def test_truth_has_the_kerb_of_every_way_that_meets_a_street(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """Silence is not a level street: each foot way or driveway that ends on a street has its kerb's height."""
    ways = town_map[1]
    streets = {r for i, (refs, _) in ways.items() if truth["ways"].get(str(i), {}).get("kind") == "street" for r in refs}
    checked = 0
    for ident, facts in truth["ways"].items():
        if facts.get("kind") in ("path", "crossing", "driveway", "service"):
            refs = ways[int(ident)][0]
            for end in {refs[0], refs[-1]} & streets:
                assert facts["end_kerbs"][str(end)] >= 0, ident
                checked += 1

    assert checked > 400


def test_truth_of_numeric_kerb_tags_agrees_with_the_tag(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """A measured height was measured: within 6 mm (tags are rounded to a centimetre)."""
    checked = 0
    for ident, (_, _, tags) in town_map[0].items():
        text = tags.get("kerb:height")
        if text and "entrance" not in tags:
            value = float(text.split()[0]) / (100 if text.endswith("cm") else 1)
            assert value == pytest.approx(truth["nodes"][str(ident)]["kerb"]["height_m"], abs=0.006), ident
            checked += 1

    assert checked > 50


def test_true_grades_match_true_heights(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """Grade = rise over run between the true heights of the nodes, run measured on the map (haversine, sphere of 6 371 009 m)."""
    nodes = town_map[0]
    checked = 0
    for ident, facts in truth["ways"].items():
        refs, _ = town_map[1][int(ident)]
        for a, b, grade in zip(refs, refs[1:], facts["grades"], strict=False):
            (lon1, lat1, _), (lon2, lat2, _) = nodes[a], nodes[b]
            dx = math.radians(lon2 - lon1) * math.cos(math.radians((lat1 + lat2) / 2)) * 6_371_009
            run = math.hypot(dx, math.radians(lat2 - lat1) * 6_371_009)
            if run > 8:
                rise = truth["nodes"][str(b)]["ele_m"] - truth["nodes"][str(a)]["ele_m"]
                assert rise / run == pytest.approx(grade, abs=0.0015), ident
                checked += 1

    assert checked > 2000


def test_streets_run_from_flat_to_fourteen_percent(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """A hill town: some streets are level, some steeper than 12 %, none over 16 %."""
    grades = [abs(g) for i, f in truth["ways"].items() if f.get("kind") == "street" for g in f["grades"]]

    assert min(grades) < 0.001
    assert 0.12 < max(grades) < 0.16


def test_bridges_are_level_and_clear_of_the_river(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """A deck runs straight between its ends: one grade all along, and under 5 %."""
    decks = [truth["ways"][str(i)]["grades"] for i, (_, tags) in town_map[1].items() if tags.get("bridge") == "yes"]

    assert len(decks) >= 3
    for grades in decks:
        assert max(grades) - min(grades) < 0.002
        assert max(abs(g) for g in grades) < 0.05


def test_one_house_stands_about_eighty_metres_off_the_ways(town_map: MapObjects) -> None:
    """The start of somebody whose street nobody has mapped."""
    import shapely

    nodes, ways = town_map
    scale = 111_195.0
    squeeze = math.cos(math.radians(45.2))

    def flat(refs: list[int]) -> list[tuple[float, float]]:
        return [(nodes[r][0] * scale * squeeze, nodes[r][1] * scale) for r in refs]

    house = next(refs for refs, tags in ways.values() if tags.get("addr:street") == "Far Meadow")
    streets = shapely.MultiLineString([flat(refs) for refs, tags in ways.values() if "highway" in tags])

    assert 70 < streets.distance(shapely.Polygon(flat(house)).centroid) < 90


def test_main_story_holds_in_truth(remade: tuple[Path, Any]) -> None:
    """From the hill to the school: the short way is closed to the chair, the surveyed one about 2 km and longer than the unverified."""
    _, (_, _, _, story) = remade

    assert story.foot_m < story.unverified_m < story.surveyed_m
    assert 1300 < story.unverified_m < 2000
    assert 1800 < story.surveyed_m < 2600


def test_class_b_chair_reaches_most_of_the_town(remade: tuple[Path, Any], maker: Any) -> None:
    """In truth (kerbs to 50 mm, 1:12, 0.80 m gaps) most of what is open to the chair at all hangs together."""
    town, _, shelters, _ = remade[1]
    check = importlib.import_module("town.check")
    open_ways = check.graph(town, check.Limits())

    assert len(check.reachable(open_ways, shelters[0].entrance)) > 0.8 * len(open_ways)


def test_side_stories_hold_in_truth(remade: tuple[Path, Any], maker: Any) -> None:
    """A class B chair can move between four of the shelters; Larkmount Hall's one step of 70 mm keeps it out (limit 50 mm, EN 12184)."""
    town, _, shelters, _ = remade[1]
    check = importlib.import_module("town.check")
    open_ways = check.graph(town, check.Limits())
    doors = {s.name: s.entrance for s in shelters}
    reached = check.reachable(open_ways, doors["North Quay School"])

    assert {name for name, door in doors.items() if door in reached} == doors.keys() - {"Larkmount Hall"}
    assert town.nodes[doors["Larkmount Hall"]].truth["threshold_m"] == 0.07
    _, _, ways = check.shortest(open_ways, doors["Ferrow Library"], doors["Tannery Hall"])
    assert "Ferrow Subway" in {w.tags.get("name") for w in town.ways if w.id in set(ways)}


def test_short_way_of_the_main_story_is_too_steep(town_map: MapObjects, truth: dict[str, Any]) -> None:
    """Sheep Path is over 1:12 in part; the footbridge below it has a kerb of 0.12 m and a gap of 0.70 m."""
    steep = [truth["ways"][str(i)]["grades"] for i, (_, tags) in town_map[1].items() if tags.get("name") == "Sheep Path"]
    assert max(abs(g) for grades in steep for g in grades) > 0.09
    gaps = [n["opening_m"] for i, n in truth["nodes"].items() if town_map[0][int(i)][2].get("cycle_barrier") == "double"]
    assert gaps == [0.7]


def rows(name: str) -> list[dict[str, str]]:
    with (TOWN / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_riders_are_numbers(town_map: MapObjects) -> None:
    """No rider, escort or van has a name; some fields are empty or unknown, as forms come back."""
    riders = rows("riders.csv")

    assert [r["id"] for r in riders] == [f"R{k:02d}" for k in range(1, 13)]
    assert all(re.fullmatch(r"E\d\d", r["id"]) for r in rows("escorts.csv"))
    assert all(re.fullmatch(r"V\d", r["id"]) for r in rows("vans.csv"))
    values = [v for r in riders for v in r.values()]
    assert values.count("") > 5
    assert values.count("unknown") >= 2


def test_rider_places_can_be_found(town_map: MapObjects) -> None:
    """Each place is an address on the map, the name of a shelter, or a point."""
    addresses = {f"{t['addr:housenumber']} {t['addr:street']}" for _, t in town_map[1].values() if "addr:street" in t}
    names = {r["name"] for r in rows("shelters.csv")}
    for rider in rows("riders.csv"):
        place = rider["place"]
        assert place in addresses or place in names or re.fullmatch(r"-?\d+\.\d+,-?\d+\.\d+", place), rider["id"]


def test_shelters_stand_at_mapped_entrances(town_map: MapObjects) -> None:
    """Five shelters; where an entrance is named it is one on the map, at that very place."""
    shelters = rows("shelters.csv")

    assert len({r["name"] for r in shelters}) == 5
    for r in shelters:
        if r["entrance"]:
            lon, lat, tags = town_map[0][int(r["entrance"].removeprefix("node/"))]
            assert "entrance" in tags
            assert (f"{lon:.7f}", f"{lat:.7f}") == (r["lon"], r["lat"])


def test_hazards_follow_the_standard(town_map: MapObjects) -> None:
    """RFC 7946 §3.1.6: rings closed and anticlockwise (signed area by the shoelace formula > 0); kinds and times as the readers want."""
    features = json.loads((TOWN / "hazards.geojson").read_text(encoding="utf-8"))["features"]

    assert {f["properties"]["kind"] for f in features} == {"closed", "deadline", "watch"}
    for f in features:
        ring = f["geometry"]["coordinates"][0]
        assert ring[0] == ring[-1]
        assert sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(ring)) > 0
        assert f["properties"]["from"] < f["properties"]["to"]


def test_move_names_files_that_exist() -> None:
    """``move.toml`` is the way into the folder."""
    files = tomllib.loads((TOWN / "move.toml").read_text(encoding="utf-8"))["files"]

    assert all((TOWN / name).is_file() for name in files.values())


def test_readme_states_the_sums_of_the_files() -> None:
    """The table in data/README.md is about these very files."""
    text = (DATA / "README.md").read_text(encoding="utf-8")
    stated = dict(re.findall(r"`quillhaven/([\w.]+)`.*?`([0-9a-f]{64})`", text))

    assert set(stated) == {*TEXT_FILES, "town.osm.pbf", "heights.tif", "truth.json.gz"}
    for name, digest in stated.items():
        assert hashlib.sha256((TOWN / name).read_bytes()).hexdigest() == digest, name


def test_the_data_readme_names_every_file() -> None:
    """Nobody should have to guess where a number comes from."""
    text = (DATA / "README.md").read_text(encoding="utf-8")
    files = [p.relative_to(DATA).as_posix() for p in DATA.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    missing = [name for name in files if f"`{name}`" not in text and not name.startswith("quillhaven/town/")]

    assert missing == ["README.md"]
    assert all((DATA / name).exists() for row in re.findall(r"^\| (`[^|]+) \|", text, re.MULTILINE) for name in re.findall("`(.+?)`", row))


def test_script_does_not_lean_on_the_planner() -> None:
    """The truth is independent: no file of the town imports rollroute."""
    sources = [TOWN / "make_town.py", *(TOWN / "town").glob("*.py")]

    assert not any(re.search(r"^\s*(import|from)\s+rollroute", s.read_text(encoding="utf-8"), re.MULTILINE) for s in sources)
