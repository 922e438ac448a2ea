"""Facts from the field and from inventories, laid over a map."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LON, judge, network_of

from rollroute.errors import InputError
from rollroute.inputs.field_facts import FieldFact, read_field_facts, read_inventory
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

    with pytest.raises(InputError, match="row 1"):
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
