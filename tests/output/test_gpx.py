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
# The GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd, written down from its list of elements (from memory): every complex
# type is a sequence, so order counts. Left out: the kinds of email, ptseg and extensions, which these files do not use.
TYPES = {
    "gpxType": "metadata?:metadataType wpt*:wptType rte*:rteType trk*:trkType",
    "metadataType": "name?:s desc?:s author?:personType copyright?:copyrightType link*:linkType time?:t keywords?:s bounds?:boundsType",
    "personType": "name?:s link?:linkType",
    "copyrightType": "year?:y license?:u",
    "linkType": "text?:s type?:s",
    "boundsType": "",
    "rteType": "name?:s cmt?:s desc?:s src?:s link*:linkType number?:n type?:s rtept*:wptType",
    "trkType": "name?:s cmt?:s desc?:s src?:s link*:linkType number?:n type?:s trkseg*:trksegType",
    "trksegType": "trkpt*:wptType",
    "wptType": (
        "ele?:d time?:t magvar?:degrees geoidheight?:d name?:s cmt?:s desc?:s src?:s link*:linkType sym?:s type?:s fix?:s sat?:n "
        "hdop?:d vdop?:d pdop?:d ageofdgpsdata?:d dgpsid?:n"
    ),
}
ATTRIBUTES = {
    "gpxType": "version=s creator=s", "copyrightType": "author=s", "linkType": "href=u", "wptType": "lat=latitude lon=longitude",
    "boundsType": "minlat=latitude minlon=longitude maxlat=latitude maxlon=longitude",
}  # fmt: skip
PLAIN = {"s": "string", "t": "dateTime", "y": "gYear", "u": "anyURI", "n": "nonNegativeInteger", "d": "decimal"}
RANGES = {"latitude": ("minInclusive=-90", "maxInclusive=90"), "longitude": ("minInclusive=-180", "maxExclusive=180"),
          "degrees": ("minInclusive=0", "maxExclusive=360")}  # fmt: skip


def schema() -> etree.XMLSchema:
    """The list above as a schema that lxml checks by."""
    parts = []
    for name, (low, high) in RANGES.items():
        facets = "".join(f'<xs:{key} value="{value}"/>' for key, value in (low.split("="), high.split("=")))
        parts.append(f'<xs:simpleType name="{name}"><xs:restriction base="xs:decimal">{facets}</xs:restriction></xs:simpleType>')
    for name, elements in TYPES.items():
        rows = []
        for element in elements.split():
            label, _, kind = element.partition(":")
            many = 'maxOccurs="unbounded"' if label.endswith("*") else ""
            rows.append(f'<xs:element name="{label[:-1]}" type="{_kind(kind)}" minOccurs="0" {many}/>')
        needed = [pair.split("=") for pair in ATTRIBUTES.get(name, "").split()]
        attributes = "".join(f'<xs:attribute name="{label}" type="{_kind(kind)}" use="required"/>' for label, kind in needed)
        parts.append(f'<xs:complexType name="{name}"><xs:sequence>{"".join(rows)}</xs:sequence>{attributes}</xs:complexType>')
    head = (
        f'xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns="{SPACE[1:-1]}" targetNamespace="{SPACE[1:-1]}" elementFormDefault="qualified"'
    )
    text = f'<xs:schema {head}><xs:element name="gpx" type="gpxType"/>{"".join(parts)}</xs:schema>'
    return etree.XMLSchema(etree.fromstring(text.encode()))


def _kind(kind: str) -> str:
    return f"xs:{PLAIN[kind]}" if kind in PLAIN else kind


@pytest.mark.parametrize("itinerary", [sample(), hostile()], ids=["sample", "hostile"])
def test_elements_keep_the_order_of_the_schema(itinerary):
    """A program that reads strictly by the schema must not stumble, whatever the names hold."""
    root = etree.fromstring(gpx_text(itinerary, Words()).encode())
    rules = schema()

    assert root.get("version") == "1.1"
    assert root.get("creator") == "rollroute"
    assert rules.validate(root), rules.error_log


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ("<rte>", "<rte><mood>good</mood>"),
        ('lat="45', 'lat="145'),
        ("<rte>", "<trk/><rte>"),
        ('author="OpenStreetMap contributors"', ""),
    ],
)
def test_the_schema_can_fail(good: str, bad: str):
    """An unknown element, a latitude of 145 degrees, a track before the route, a copyright without its holder."""
    text = gpx_text(sample(), Words())

    assert good in text
    assert not schema().validate(etree.fromstring(text.replace(good, bad, 1).encode()))


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
