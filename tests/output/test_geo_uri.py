"""geo: URIs and grid references against their standards."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.output.geo_uri import geo_uri, grid_reference

# RFC 5870, section 3.3, for the coordinates and parameters that are written here.
SYNTAX = re.compile(r"geo:-?\d+(\.\d+)?,-?\d+(\.\d+)?(;u=\d+(\.\d+)?)?")


def test_the_example_of_rfc_5870():
    """The first example of RFC 5870, section 1 (from memory): latitude first, no spaces."""
    assert geo_uri(103.8667, 13.4125) == "geo:13.4125,103.8667"


@given(st.floats(-180, 180), st.floats(-90, 90), st.one_of(st.none(), st.floats(0, 1e4)))
def test_every_uri_keeps_the_syntax(lon: float, lat: float, uncertainty: float | None):
    """No exponent, no minus zero, no lost digit beyond 0.1 m."""
    text = geo_uri(lon, lat, uncertainty_m=uncertainty)
    assert SYNTAX.fullmatch(text)
    assert "-0," not in text
    assert not text.endswith("-0")
    y, x = text[4:].split(";")[0].split(",")
    assert float(y) == pytest.approx(lat, abs=1e-6)
    assert abs(lat) == 90 or float(x) == pytest.approx(lon, abs=1e-6) or abs(lon) == 180


def test_poles_and_the_date_line_have_one_name():
    """RFC 5870, section 3.4.2: at a pole the longitude should be 0; section 3.4.4: -180 equals 180."""
    assert geo_uri(77.0, 90.0) == "geo:90,0"
    assert geo_uri(-180.0, 10.0) == geo_uri(180.0, 10.0)


def test_a_place_off_the_globe_is_refused():
    """Swapped coordinates are the commonest mistake; some of them can be caught."""
    with pytest.raises(InputError, match="longitude first"):
        geo_uri(45.0, 145.0)


def test_the_published_national_grid_example():
    """USNG (FGDC-STD-011-2001) example 18SUJ2348306479 in Washington, DC; cut to 10 m it is 18SUJ23480647: truncated, not rounded."""
    import mgrs

    lat, lon = mgrs.MGRS().toLatLon("18SUJ2348306479")
    assert grid_reference(lon, lat, precision_m=1) == "18S UJ 23483 06479"
    assert grid_reference(lon, lat, precision_m=10) == "18S UJ 2348 0647"
    assert grid_reference(lon, lat, precision_m=100) == "18S UJ 234 064"


def test_another_library_finds_the_same_square():
    """UTM zone 18 by pyproj: false easting 500 000 m; the grid's digits are the last five of easting and northing."""
    from pyproj import Transformer

    east, north = Transformer.from_crs(4326, 32618, always_xy=True).transform(-77.0352, 38.8895)
    digits = grid_reference(-77.0352, 38.8895, precision_m=1).split()[2:]
    assert digits == [f"{int(east) % 100000:05d}", f"{int(north) % 100000:05d}"]


def test_an_odd_precision_is_refused():
    """25 m is no precision of the grid."""
    with pytest.raises(InputError, match="precision_m"):
        grid_reference(0.0, 0.0, precision_m=25)
