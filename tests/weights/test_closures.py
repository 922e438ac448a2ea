"""Areas that close: which pieces, and when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, NOON, a_chair, network_of, noon

from rollroute.network.attach import split_piece
from rollroute.network.network import Network
from rollroute.weights.closures import closing_times_s
from rollroute.weights.energy import calibrate
from rollroute.weights.reasons import Reason
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import weigh

STREET = network_of("n1 0,0\nn2 100,0\nn3 200,0\nn4 300,0\nw1 1,2,3,4 highway=footway width=2 surface=asphalt incline=0%")
HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True)
class Area:
    """A hazard as far as closing goes."""

    kind: str
    rings: tuple
    starts: dt.datetime | None = None
    ends: dt.datetime | None = None


def box(west, east, south=-10.0, north=10.0):
    """A ring of metres as degrees."""
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return (tuple((LON + x / M_PER_DEGREE_LON, LAT + y / M_PER_DEGREE_LAT) for x, y in corners),)


def test_a_piece_that_only_touches_the_area_is_closed_too():
    """The area covers the second hundred metres and a little of the third: both pieces close, the first stays open."""
    closes = closing_times_s(STREET, [Area("closed", box(110, 210))], NOON)

    assert closes.tolist() == [np.inf, -0.0, -0.0]


@pytest.mark.parametrize(("kind", "after_s"), [("closed", 3600.0), ("deadline", 3600.0), ("watch", np.inf)])
def test_what_closes_later_is_open_until_then_and_a_watch_closes_nothing(kind, after_s):
    """From one hour after departure."""
    closes = closing_times_s(STREET, [Area(kind, box(110, 190), starts=NOON + HOUR)], NOON)

    assert closes.tolist() == [np.inf, after_s, np.inf]


@pytest.mark.parametrize(("ends", "is_closed"), [(NOON - HOUR, False), (NOON, False), (NOON + HOUR, True), (None, True)])
def test_an_area_that_reopened_before_departure_closes_nothing_and_one_that_reopens_later_stays_closed(ends, is_closed):
    """Nobody waits on the way for water to fall."""
    area = Area("closed", box(110, 190), starts=NOON - 2 * HOUR, ends=ends)

    assert np.isfinite(closing_times_s(STREET, [area], NOON)[1]) == is_closed


def test_of_two_areas_the_earlier_closes_the_piece():
    areas = [Area("closed", box(110, 190), starts=NOON + k * HOUR) for k in (3, 1, 2)]

    assert closing_times_s(STREET, areas, NOON)[1] == 3600.0


def test_what_is_closed_from_the_start_is_excluded_with_its_reason_and_what_closes_later_is_not():
    chair = a_chair()
    areas = [Area("closed", box(10, 90), starts=NOON - HOUR), Area("closed", box(210, 290), starts=NOON + HOUR)]
    closes = closing_times_s(STREET, areas, NOON)
    found = weigh(STREET, chair, calibrate(chair), PlannedFactors(time=1.2, energy=1.3, usable=0.8), noon(), closes_s=closes)

    assert [bool(found.reasons[2 * p] & Reason.CLOSED) for p in range(3)] == [True, False, False]
    assert found.closes_s.tolist() == [-3600.0, -3600.0, np.inf, np.inf, 3600.0, 3600.0]


@settings(max_examples=20, deadline=None)
@given(west=st.floats(-50, 300), width=st.floats(1, 200), piece=st.integers(0, 2), fraction=st.floats(0.05, 0.95))
def test_cutting_a_piece_never_keeps_a_closed_part_open(west, width, piece, fraction):
    """Of both halves the earlier closing time is that of the whole: each half that touches the area is closed."""
    area = Area("closed", box(west, west + width), starts=NOON + HOUR)
    cut, _ = split_piece(STREET, piece, fraction)
    whole, parts = (closing_times_s(n, [area], NOON) for n in (STREET, cut))

    assert min(parts[piece], parts[-1]) == whole[piece]


@settings(max_examples=10, deadline=None)
@given(x=st.floats(-0.01, 0.01), y=st.floats(-0.006, 0.006), size=st.floats(0.0005, 0.004))
def test_in_the_town_every_piece_with_an_end_in_the_area_closes(quillhaven: Network, x, y, size):
    """An independent look: ends inside a box of degrees, compared number by number."""
    west, south, east, north = LON + x - size, LAT + y - size, LON + x + size, LAT + y + size
    ring = ((west, south), (east, south), (east, north), (west, north), (west, south))
    closes = closing_times_s(quillhaven, [Area("closed", (ring,))], NOON)
    lon, lat = quillhaven.nodes.lon, quillhaven.nodes.lat
    inside = (lon >= west) & (lon <= east) & (lat >= south) & (lat <= north)
    p = quillhaven.pieces
    has_end_inside = inside[p.tail] | inside[p.head]
    is_far = (np.maximum(lon[p.tail], lon[p.head]) < west) | (np.minimum(lon[p.tail], lon[p.head]) > east)

    assert np.isfinite(closes[has_end_inside]).all()
    assert np.isinf(closes[is_far]).all()
