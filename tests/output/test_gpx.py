"""GPX 1.1: read back by gpxpy and by GDAL, elements in the order of the schema."""

from __future__ import annotations

from pathlib import Path

import gpxpy
import pytest
from lxml import etree
from sample_itinerary import hostile, sample

from rollroute.output.gpx import gpx_text, write_gpx
from rollroute.output.steps import build_steps
from rollroute.output.words import Words

SPACE = "{http://www.topografix.com/GPX/1/1}"
# GPX 1.1 schema (from memory): every complex type is a sequence, so order counts. Figures of satellites, never written, are left out.
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"],
    "copyright": ["year", "license"],
    "wpt": ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "extensions"],
    "rte": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
}
ORDER |= {"rtept": ORDER["wpt"], "trkpt": ORDER["wpt"]}


@pytest.mark.parametrize("itinerary", [sample(), hostile()], ids=["sample", "hostile"])
def test_elements_keep_the_order_of_the_schema(itinerary):
    """A program that reads strictly by the schema must not stumble, whatever the names hold."""
    root = etree.fromstring(gpx_text(itinerary, Words()).encode())
    assert root.get("version") == "1.1"
    assert root.get("creator") == "rollroute"
    for element in root.iter():
        name = element.tag.removeprefix(SPACE)
        if name in ORDER:
            places = [ORDER[name].index(child.tag.removeprefix(SPACE)) for child in element]
            assert places == sorted(places), name


def test_gpxpy_reads_back_the_way():
    """Track, steps and waypoints as they were; the length is the sample's within half a per cent (gpxpy measures on a sphere)."""
    itinerary = sample()
    read = gpxpy.parse(gpx_text(itinerary, Words()))
    assert read.length_2d() == pytest.approx(itinerary.length_m, rel=0.005)
    assert len(read.routes[0].points) == len(build_steps(itinerary))
    kinds = [point.type for point in read.waypoints]
    assert kinds.count("question") == len(itinerary.questions)
    assert kinds.count("halt") == len(itinerary.halts)


@pytest.mark.parametrize("itinerary", [sample(), hostile()], ids=["sample", "hostile"])
def test_gdal_reads_every_layer(itinerary, tmp_path: Path):
    """GDAL's own GPX driver finds waypoints, the route and the track."""
    import pyogrio

    path = tmp_path / "route.gpx"
    write_gpx(itinerary, path)
    frames = {layer: pyogrio.read_dataframe(path, layer=layer) for layer in ("waypoints", "routes", "route_points", "tracks")}
    assert len(frames["routes"]) == len(frames["tracks"]) == 1
    assert len(frames["route_points"]) == len(build_steps(itinerary))


def test_no_address_of_the_start_is_in_the_file():
    """Not in the name, not in a waypoint, not in a step, not as a place to turn back to."""
    itinerary = sample()
    assert itinerary.start.label not in gpx_text(itinerary, Words())
    assert "turn back to the start now" in gpx_text(itinerary, Words())


def test_control_signs_do_not_break_the_file():
    """XML 1.0 allows no form feed and no NUL; a name may hold them."""
    import dataclasses

    itinerary = sample()
    odd = dataclasses.replace(itinerary.refuges[0], label="Hall\x00\x0c\ufffe 1\u202e2")
    text = gpx_text(dataclasses.replace(itinerary, refuges=[odd]), Words())
    assert gpxpy.parse(text).waypoints
    assert "Hall 12" in text


def test_same_route_gives_same_bytes():
    """Two runs, one file."""
    assert gpx_text(sample(), Words()) == gpx_text(sample(), Words())
