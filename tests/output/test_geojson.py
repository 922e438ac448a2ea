"""GeoJSON by the rules of RFC 7946, and by GDAL's own reading."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sample_itinerary import hostile, sample

from rollroute.output.geojson import feature_collection, write_geojson

UNITS = ("_m", "_s", "_wh", "_percent", "_number")


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The sample, written and read back as plain JSON."""
    path = tmp_path_factory.mktemp("geojson") / "route.geojson"
    write_geojson(sample(), path)
    return json.loads(path.read_text(encoding="utf-8"))


def of(document: dict[str, Any], feature: str) -> list[dict[str, Any]]:
    return [item for item in document["features"] if item["properties"]["feature"] == feature]


def positions(coordinates: Any) -> Iterator[list[float]]:
    if isinstance(coordinates[0], (int, float)):
        yield coordinates
    else:
        for part in coordinates:
            yield from positions(part)


def test_the_document_has_the_members_of_rfc_7946(document):
    """RFC 7946, sections 3.2 and 3.3: type, geometry and properties; section 4: no "crs"; section 5: bbox west, south, east, north."""
    assert document["type"] == "FeatureCollection"
    assert "crs" not in document
    for feature in document["features"]:
        assert feature["type"] == "Feature"
        assert {"geometry", "properties"} <= feature.keys()
    west, south, east, north = document["bbox"]
    every = [p for feature in document["features"] if feature["geometry"] for p in positions(feature["geometry"]["coordinates"])]
    assert (west, south) == (min(p[0] for p in every), min(p[1] for p in every))
    assert (east, north) == (max(p[0] for p in every), max(p[1] for p in every))


def test_one_feature_for_every_piece_in_order(document):
    """A table of pieces can be joined to the itinerary by position."""
    pieces = of(document, "piece")
    assert [p["properties"]["osm_way_id"] for p in pieces] == [str(p.way_id) for p in sample().pieces]
    assert all(p["geometry"]["type"] == "LineString" for p in pieces)


def test_every_place_that_matters_is_there(document):
    """Questions, halts, checkpoints, refuges, hazards: as many as the itinerary has."""
    itinerary = sample()
    counts = {
        "question": itinerary.questions,
        "charging_halt": itinerary.halts,
        "checkpoint": itinerary.checkpoints,
        "refuge": itinerary.refuges,
        "van_spot": itinerary.van_spots,
        "rest_spot": itinerary.rest_spots,
        "landmark": itinerary.landmarks,
        "barred": itinerary.barred,
        "hazard": itinerary.hazards,
        "point": itinerary.points,
    }
    assert {name: len(of(document, name)) for name in counts} == {name: len(items) for name, items in counts.items()}


def test_every_number_names_its_unit(document):
    """A bare number is the beginning of an accident."""

    def check(properties: dict[str, Any]) -> None:
        for key, value in properties.items():
            if isinstance(value, dict):
                check(value)
            elif isinstance(value, (int, float)) and not isinstance(value, bool):
                assert key.endswith(UNITS), key

    check(document["rollroute"])
    for feature in document["features"]:
        check(feature["properties"])


def test_unknown_is_null_never_zero(document):
    """The first piece has no grade, no width and no surface on the map."""
    first = of(document, "piece")[0]["properties"]
    assert (first["grade_percent"], first["width_m"], first["surface"]) == (None, None, None)


def test_positions_have_six_or_seven_decimals_and_longitude_first(document):
    """RFC 7946, section 3.1.1 (longitude first) and 11.2 (precision)."""
    for feature in document["features"]:
        if feature["geometry"]:
            for lon, lat in positions(feature["geometry"]["coordinates"]):
                assert -38 < lon < -37
                assert 45 < lat < 46
                assert lon == round(lon, 7)
                assert lat == round(lat, 7)


def test_rings_turn_counter_clockwise_and_close(document):
    """RFC 7946, section 3.1.6, judged by shapely, which shares no code with us; the sample's rings turned round give the same."""
    from shapely.geometry import LinearRing

    for feature in of(document, "hazard"):
        for polygon in feature["geometry"]["coordinates"]:
            assert polygon[0][0] == polygon[0][-1]
            assert len(polygon[0]) >= 4
            assert LinearRing(polygon[0]).is_ccw
    import dataclasses

    itinerary = sample()
    turned = [dataclasses.replace(h, rings=[ring[::-1] for ring in h.rings]) for h in itinerary.hazards]
    again = feature_collection(dataclasses.replace(itinerary, hazards=turned))
    for feature in of(again, "hazard"):
        assert LinearRing(feature["geometry"]["coordinates"][0][0]).is_ccw


def test_gdal_reads_every_feature(document, tmp_path: Path):
    """Read by GDAL (through pyogrio): as many features, in WGS 84, with the names of the keys."""
    import pyogrio

    path = tmp_path / "route.geojson"
    write_geojson(hostile(), path)
    info = pyogrio.read_info(path)
    assert info["features"] == len(document["features"])
    assert info["crs"] == "EPSG:4326"
    assert "grade_percent" in info["fields"]


def test_a_front_door_stays_without_its_words(document):
    """The start is an address: a file is passed on, so its words stay out; a shelter's name stays in."""
    text = json.dumps(document)
    assert sample().command not in text
    assert "name" not in of(document, "start")[0]["properties"]
    assert sample().start.label not in json.dumps(of(document, "start"))


def test_a_hazard_without_a_place_is_unlocated():
    """RFC 7946, section 3.2: a feature without a place has the geometry null."""
    import dataclasses

    itinerary = sample()
    nowhere = dataclasses.replace(itinerary, hazards=[dataclasses.replace(itinerary.hazards[0], rings=[])])
    assert of(feature_collection(nowhere), "hazard")[0]["geometry"] is None
