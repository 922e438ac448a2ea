"""KML: read back by GDAL; nothing in it asks for a picture elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree
from sample_itinerary import hostile, sample

from rollroute.output.kml import _colour, kml_text, write_kml
from rollroute.output.words import Words


@pytest.mark.parametrize("itinerary", [sample(), hostile()], ids=["sample", "hostile"])
def test_gdal_reads_way_places_and_hazards(itinerary, tmp_path: Path):
    """One line a piece, one point a place, one area a hazard's ring."""
    import pyogrio

    path = tmp_path / "route.kml"
    write_kml(itinerary, path)
    counts = {str(name): pyogrio.read_info(path, layer=name)["features"] for name, _ in pyogrio.list_layers(path)}
    assert counts["Way"] == len(itinerary.pieces)
    assert counts["Hazards"] == sum(len(hazard.rings) for hazard in itinerary.hazards)
    assert counts["Places"] >= len(itinerary.questions) + len(itinerary.halts) + 2


def test_hostile_names_stay_text():
    """A description is shown as HTML by some programs, so markup must be escaped in it."""
    root = etree.fromstring(kml_text(hostile(), Words()).encode())
    tags = {etree.QName(element).localname for element in root.iter()}
    assert not tags & {"script", "img", "b", "i"}


def test_nothing_is_fetched():
    """No icon, overlay or link to another server; name spaces are names, not requests."""
    root = etree.fromstring(kml_text(sample(), Words()).encode())
    assert not [element for element in root.iter() if etree.QName(element).localname in ("href", "NetworkLink", "Icon")]


def test_colour_order_by_hand():
    """OGC KML 2.2: aabbggrr. Blue #0072B2 opaque is ff b2 72 00."""
    assert _colour("#0072B2") == "ffb27200"
    assert _colour("#D55E00", opacity=0.4) == "66005ed5"


def test_same_route_gives_same_bytes():
    """The library numbers its elements through a whole process; ours begin anew."""
    assert kml_text(sample(), Words()) == kml_text(sample(), Words())


def test_no_address_of_the_start_is_in_the_file():
    """A KML file is passed on like any other."""
    assert sample().start.label not in kml_text(sample(), Words())
