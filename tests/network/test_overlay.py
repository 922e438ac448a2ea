"""Facts from the field and from inventories, laid over a map."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, judge, network_of

from rollroute.errors import InputError
from rollroute.inputs.field_facts import FieldFact, read_field_facts, read_inventory
from rollroute.network.network import Flag, Network
from rollroute.network.overlay import lay_facts
from rollroute.standards import doubts_of

DAY = dt.date(2026, 3, 14)
TOWN = "n1 0,0\nn2 10,0\nn3 14,0\nn4 14,9\nn5 14,-9\nw10 1,2 highway=footway footway=sidewalk width=2\nw11 2,3 highway=footway " \
       "footway=crossing width=3 surface=asphalt\nw12 4,3,5 highway=residential"  # fmt: skip
KERB = {"lon": LON + 10 / M_PER_DEGREE_LON, "lat": LAT}


def fact(**changes: object) -> FieldFact:
    return FieldFact(**{"fact": "kerb_height", "value": 0.02, **KERB, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(("height", "reasons"), [(0.02, set()), (0.05, set()), (0.06, {"kerb"})])
def test_a_measured_kerb_answers_its_question_either_way(height, reasons):
    """The chair climbs 50 mm."""
    network, notes = lay_facts(network_of(TOWN), [fact(value=height)], DAY)
    said = judge(network, 3, 2)

    assert (said.reasons, said.questions, notes) == (reasons, set(), [])


def test_a_fact_that_expired_or_lies_ahead_says_nothing():
    for late in (fact(expires=dt.date(2026, 3, 13)), fact(date=dt.date(2026, 3, 15))):
        network, _ = lay_facts(network_of(TOWN), [late], DAY)
        assert "kerb" in judge(network, 3, 2).questions


def test_an_inventory_does_not_replace_what_was_measured():
    """Measured in the field outranks a survey, whatever the order."""
    both = [fact(value=0.06), fact(value=0.0, is_survey=True, date=dt.date(2026, 3, 1))]
    network, notes = lay_facts(lay_facts(network_of(TOWN), both[:1], DAY)[0], both[1:], DAY)

    assert judge(network, 3, 2).reasons == {"kerb"}
    assert "higher rank" in notes[0]


def test_blocked_stops_and_open_again_reopens():
    """The later of two words counts."""
    way = {"lon": LON + 5 / M_PER_DEGREE_LON, "lat": LAT, "fact": "blocked"}
    shut, reopened = fact(**way, value=1.0, date=dt.date(2026, 3, 1)), fact(**way, value=0.0, date=dt.date(2026, 3, 2))

    assert "measured" in judge(lay_facts(network_of(TOWN), [shut], DAY)[0], 1, 2).reasons
    assert not judge(lay_facts(network_of(TOWN), [reopened, shut], DAY)[0], 1, 2).reasons


# A street in three pieces of 20 m, one across it, and one that leaves it at 20 degrees (tan 20° = 0.364)
ALONG = "n1 0,0\nn2 20,0\nn3 40,0\nn4 60,0\nn5 20,20\nn6 40,7.28\nw10 1,2,3,4 highway=footway\nw11 5,2 highway=footway\n" \
        "w12 2,6 highway=footway"  # fmt: skip


def stretch(*places: tuple[float, float], **changes: object) -> FieldFact:
    line = tuple((LON + x / M_PER_DEGREE_LON, LAT + y / M_PER_DEGREE_LAT) for x, y in places)
    return fact(fact="blocked", line=line, **{"value": 1.0, **changes})


def shut(network: Network) -> set[frozenset[int]]:
    ids, p = network.nodes.osm_id, network.pieces
    rows = np.flatnonzero(p.flags & np.uint32(Flag.BLOCKED))
    return {frozenset((int(ids[p.tail[r]]), int(ids[p.head[r]]))) for r in rows}


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        (((0, 0), (20, 0)), [(1, 2)]),
        (((0, 0), (26, 0)), [(1, 2), (2, 3)]),  # blocked somewhere on 26 m: the last 6 m are a part of the second piece
        (((20, 0), (40, 0)), [(2, 3)]),  # the ways across, and off at 20 degrees, stay open
        (((60, 0), (0, 0)), [(1, 2), (2, 3), (3, 4)]),
        (((0, 30), (60, 30)), []),
    ],
)
def test_a_blocked_stretch_shuts_every_piece_that_it_runs_along_and_no_other(places, expected):
    """Nobody says where on it the way is blocked, so no part of it may be driven."""
    network, notes = lay_facts(network_of(ALONG), [stretch(*places)], DAY)

    assert shut(network) == {frozenset(pair) for pair in expected}
    assert bool(notes) == (not expected)


def test_a_stretch_opens_again_only_where_it_is_covered():
    """26 m found open: the first piece, not the second, of which 14 m were not seen."""
    facts = [stretch((0, 0), (60, 0), date=dt.date(2026, 3, 1)), stretch((0, 0), (26, 0), value=0.0, date=dt.date(2026, 3, 2))]

    assert shut(lay_facts(network_of(ALONG), facts, DAY)[0]) == {frozenset((2, 3)), frozenset((3, 4))}


def test_a_blocked_stretch_drawn_between_two_ways_shuts_the_nearer_and_both_floors_of_one_line():
    """A passage claims nothing there; a block that nobody lays would be a promise that both are open."""
    aside = network_of("n1 0,0\nn2 40,0\nn3 0,1.5\nn4 40,1.5\nw10 1,2 highway=footway\nw11 3,4 highway=footway")
    floors = network_of("n1 0,0\nn2 40,0\nn3 0,0.01\nn4 40,0.01\nw10 1,2 highway=footway\nw11 3,4 highway=footway level=1")

    assert shut(lay_facts(aside, [stretch((0, 0.5), (40, 0.5))], DAY)[0]) == {frozenset((1, 2))}
    assert shut(lay_facts(floors, [stretch((0, 0), (40, 0))], DAY)[0]) == {frozenset((1, 2)), frozenset((3, 4))}


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(1.5, 78.5), max_size=4, unique=True), st.floats(0.0, 70.0), st.floats(3.0, 80.0))
def test_cutting_a_way_opens_nothing_of_a_blocked_stretch(cuts, begin, length):
    """However the map cuts it: every metre of the stretch lies on a shut piece, but for its last half metres."""
    end = min(80.0, begin + length)
    nodes = [0.0, *sorted(cuts), 80.0]
    drawn = "\n".join(f"n{i} {x},0" for i, x in enumerate(nodes, start=1))
    ways = "\n".join(f"w{10 + i} {i},{i + 1} highway=footway" for i in range(1, len(nodes)))
    network, _ = lay_facts(network_of(f"{drawn}\n{ways}"), [stretch((begin, 0), (end, 0))], DAY)
    covered = [(nodes[min(pair) - 1], nodes[max(pair) - 1]) for pair in shut(network)]

    for metre in np.arange(begin + 1.0, end - 1.0, 1.0):
        near = [x for x in nodes if abs(x - metre) < 1.0]  # beside a cut a metre counts for either piece
        assert near or any(low <= metre <= high for low, high in covered)


def test_a_line_in_a_field_file_holds_along_it(tmp_path: Path):
    """Points and lines in one file; what is neither is refused by feature."""

    def feature(kind: str, coordinates: object) -> dict[str, object]:
        said = {"fact": "blocked", "value": "yes", "date": "2026-03-01"}
        return {"type": "Feature", "geometry": {"type": kind, "coordinates": coordinates}, "properties": said}

    line = [[LON, LAT], [LON + 0.001, LAT], [LON + 0.002, LAT]]
    (tmp_path / "a.geojson").write_text(json.dumps({"features": [feature("Point", line[0]), feature("LineString", line)]}))
    point, along = read_field_facts(tmp_path / "a.geojson")
    assert (point.line, along.line, along.value) == ((), tuple((x, y) for x, y in line), 1.0)
    assert (along.lon, along.lat) == (LON + 0.001, LAT)

    for kind, places, says in (("Polygon", [line], "feature 1: is a Polygon"), ("LineString", [], "no coordinates")):
        (tmp_path / "b.geojson").write_text(json.dumps({"features": [feature(kind, places)]}))
        with pytest.raises(InputError, match=says):
            read_field_facts(tmp_path / "b.geojson")


def test_checks_move_this_towns_table_of_doubts():
    """Beta(1, 4) and one bad check: (1 + 1) / (5 + 1) = 1/3 (Beta-binomial)."""
    network, _ = lay_facts(network_of(TOWN), [fact(value=0.12)], DAY)

    assert doubts_of(network.about).probability("kerb_crossing") == pytest.approx(1 / 3)


def test_csv_and_geojson_say_the_same(tmp_path: Path):
    """3/4 in = 19.05 mm."""
    (tmp_path / "a.csv").write_text(f"lat,lon,fact,value,unit,date\n{LAT},{KERB['lon']},kerb_height,0.75,in,2026-03-01\n")
    feature = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [KERB["lon"], LAT]},
        "properties": {"fact": "kerb_height", "value": 0.75, "unit": "in", "date": "2026-03-01"},
    }
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    rows = read_field_facts(tmp_path / "a.csv")

    assert rows == read_field_facts(tmp_path / "a.geojson")
    assert rows[0].value == pytest.approx(0.01905)


@pytest.mark.parametrize("line", ["kerb_height,0.75,", "kerb_height,nine,in", "kerb_height,90,cm", "colour,1,m"])
def test_what_cant_be_right_is_refused_by_row(tmp_path: Path, line: str):
    (tmp_path / "a.csv").write_text(f"lat,lon,fact,value,unit\n{LAT},{LON},{line}\n")

    with pytest.raises(InputError, match="row 2"):  # as a spreadsheet counts
        read_field_facts(tmp_path / "a.csv")


def test_a_citys_inventory_is_read_through_a_mapping(tmp_path: Path):
    """Any vector format that GDAL reads; empty cells say nothing."""
    import geopandas as gpd
    from shapely import Point

    table = gpd.GeoDataFrame({"LIP_IN": [0.25, None]}, geometry=[Point(KERB["lon"], LAT)] * 2, crs=4326)
    table.to_file(tmp_path / "ramps.gpkg", driver="GPKG")
    rule = '[[fact]]\nfact = "kerb_height"\ncolumn = "LIP_IN"\nunit = "in"\n'
    (tmp_path / "map.toml").write_text('source = "ramps"\ndate = "2025-06-01"\n' + rule)
    rows = read_inventory(tmp_path / "ramps.gpkg", tmp_path / "map.toml")

    assert [(r.value, r.is_survey, r.date) for r in rows] == [(pytest.approx(0.00635), True, dt.date(2025, 6, 1))]


def _ramps(folder: Path, mapping: str) -> tuple[Path, Path]:
    import geopandas as gpd
    from shapely import Point

    gpd.GeoDataFrame({"LIP_IN": [0.25]}, geometry=[Point(KERB["lon"], LAT)], crs=4326).to_file(folder / "ramps.gpkg", driver="GPKG")
    (folder / "map.toml").write_text(mapping)
    return folder / "ramps.gpkg", folder / "map.toml"


RULE = '[[fact]]\nfact = "kerb_height"\ncolumn = "LIP_IN"\nunit = "in"\n'


def test_an_inventory_ends_on_its_last_day_and_none_is_built_in_for_good(tmp_path: Path):
    """On a route it holds until then. A network has no last day, so that build refuses it before it reads the map."""
    from rollroute.assembly import build_from_files

    files = _ramps(tmp_path, f'expires = "2026-03-14"\n{RULE}')
    rows = read_inventory(*files)

    for day, asked in ((DAY, False), (dt.date(2026, 3, 15), True)):
        network, notes = lay_facts(network_of(TOWN), rows, day)
        assert ("kerb" in judge(network, 3, 2).questions) == asked
        assert notes == (["1 of 1 facts say nothing of 2026-03-15: found later, or no longer true"] if asked else [])
    with pytest.raises(InputError, match="holds until 2026-03-14"):
        build_from_files(tmp_path / "nowhere.osm", inventories=[files])


@pytest.mark.parametrize(
    ("mapping", "says"),
    [
        (RULE.replace("[[fact]]", "[[facts]]"), "unknown key 'facts'. Did you mean fact"),
        ('expiry = "2026-03-14"\n' + RULE, "unknown key 'expiry'"),
        ('date = "June"\n' + RULE, "'June' is not a date"),
        (RULE.replace("unit", "units"), "1: unknown key 'units'. Did you mean unit"),
        (RULE.replace('fact = "kerb_height"\n', ""), "1: fact missing"),
        (RULE.replace('column = "LIP_IN"\n', ""), "1: column missing"),
        (RULE + 'values = "no"\n', "must be a table"),
        ('source = "ramps"\n', r"no \[\[fact\]\] in it"),
        (RULE.replace("LIP_IN", "LIP"), "column 'LIP' is not in ramps.gpkg. It has LIP_IN"),
        (RULE.replace("kerb_height", "kerb"), "unknown fact 'kerb'"),
    ],
)
def test_a_mapping_that_cant_be_meant_is_refused_by_its_key(tmp_path: Path, mapping: str, says: str):
    """A misspelt key must not pass as not given: the facts would be silent, or in another unit."""
    with pytest.raises(InputError, match=says):
        read_inventory(*_ramps(tmp_path, mapping))


FEBRUARY = (f"{LAT}", f"{KERB['lon']}", "kerb_height", "1.9", "cm", "2026-02-28")
HEADER = ("lat", "lon", "fact", "value", "unit", "date")


def _comma(text: str) -> str:
    return text.replace(".", ",")


@pytest.mark.parametrize(
    ("header", "row", "delimiter", "encoding"),
    [
        (HEADER, FEBRUARY, ",", "utf-8"),
        (HEADER, FEBRUARY, ";", "utf-8-sig"),
        (HEADER, tuple(map(_comma, FEBRUARY)), ";", "utf-8"),
        (HEADER, FEBRUARY, "\t", "utf-16"),
        (("Latitude", "Longitude", "Fact", "Value", "Units", "Found"), FEBRUARY, ",", "utf-8"),
        (("lat", "lon", "fact", "value (cm)", "date"), FEBRUARY[:4] + FEBRUARY[5:], ",", "cp1252"),
        (("lat", "lon", "fact", "value", "date"), (*FEBRUARY[:3], "1.9 cm", FEBRUARY[5]), ",", "utf-8"),
    ],
)
def test_a_field_file_is_read_as_spreadsheets_write_it(tmp_path: Path, header, row, delimiter, encoding):
    """With a title above, blank rows between, semicolons and decimal commas, in any of the usual encodings."""
    blank = delimiter * (len(header) - 1)
    text = "\n".join(["Found in February", "", delimiter.join(header), blank, delimiter.join(row), "", blank, ""])
    (tmp_path / "f.csv").write_bytes(text.encode(encoding))
    (found,) = read_field_facts(tmp_path / "f.csv")

    assert (found.fact, found.date) == ("kerb_height", dt.date(2026, 2, 28))
    assert (found.lat, found.lon, found.value) == (pytest.approx(LAT), pytest.approx(KERB["lon"]), pytest.approx(0.019))


def test_a_workbook_of_facts_is_read_too(tmp_path: Path):
    import openpyxl

    book = openpyxl.Workbook()
    for cells in (HEADER, (LAT, KERB["lon"], "width", 1.2, "m", dt.date(2026, 3, 1)), ()):
        book.active.append(cells)
    book.save(tmp_path / "f.xlsx")

    assert [(f.fact, f.value, f.date) for f in read_field_facts(tmp_path / "f.xlsx")] == [("width", 1.2, dt.date(2026, 3, 1))]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("lat,lon,fact,value\n45.2,-37.3,blocked,perhaps\n", "row 2: value of blocked is 'perhaps'. Give yes, or no"),
        ("lat,lon,fact,value\n45.2,-37.3,blocked,\n", "row 2: value of blocked is ''"),
        ("lat,lon,fact,value,expire\n45.2,-37.3,blocked,yes,2026-03-14\n", "unknown column 'expire'. Did you mean expires"),
        ("lat,lon,fact,value,unit\n45.2,-37.3,width,1.2 m,ft\n", "Give one unit"),
        ("lat,lon,fact,value,unit\n45.2,-37.3,width,1.2,\n", "row 2: unit of width is ''. Give one of m, cm"),
        ("lat,lon,fact,value,unit\n,-37.3,width,1.2,m\n", "row 2: lat is empty"),
        ("fact,value\nwidth,1.2\n", "no column lat, lon. It has fact, value"),
        ("", "no row looks like a header"),
    ],
)
def test_what_a_field_file_leaves_open_is_asked_for_and_never_read_as_open(tmp_path: Path, text: str, says: str):
    """An empty or doubtful word about a block was read as *open again*."""
    (tmp_path / "f.csv").write_text(text)
    with pytest.raises(InputError, match=says):
        read_field_facts(tmp_path / "f.csv")


@pytest.mark.parametrize("name", ["f.gpx", "f.kml", "f.gpkg"])
def test_other_formats_are_named_with_what_to_do(tmp_path: Path, name: str):
    """A track of a satellite receiver says no chair, and may have no times."""
    from rollroute.inputs.tracks import read_tracks

    (tmp_path / name).write_text("<gpx/>")
    for read in (read_field_facts, read_tracks):
        with pytest.raises(InputError, match=r"which is not read here. Convert it to GeoJSON. Give a"):
            read(tmp_path / name)


@pytest.mark.parametrize("content", [b"PK\x03\x04\xff", b"{}", b"[]", b'{"features": [{"geometry": null, "properties": {}}]}', b"\xff\xfe"])
def test_a_damaged_geojson_is_told_in_one_line(tmp_path: Path, content: bytes):
    (tmp_path / "f.geojson").write_bytes(content)
    with pytest.raises(InputError) as told:
        read_field_facts(tmp_path / "f.geojson")
    assert len(str(told.value)) < len(str(tmp_path)) + 250
