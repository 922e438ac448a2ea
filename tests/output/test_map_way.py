"""Runs of one look, arrowheads that point uphill, places along a line."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod
from sample_itinerary import lon_lat, sample

from rollroute.output.map.data import upright
from rollroute.output.map.way import along, arrowheads, distance_m, distance_to_line_m, middle, off_the_way, runs, steepness, way_arrowheads

GEOD = Geod(ellps="WGS84")
EAST = [lon_lat((0, 0)), lon_lat((100, 0))]
ITINERARY = sample()


def one_piece(grade: float | None, line=EAST):
    """An itinerary of one piece of this grade."""
    piece = dataclasses.replace(ITINERARY.pieces[1], coordinates=line, grade=grade)
    return dataclasses.replace(ITINERARY, pieces=[piece])


@pytest.mark.parametrize(("grade", "bearing"), [(0.06, 90.0), (-0.06, 270.0)])
def test_arrowheads_point_uphill(grade: float, bearing: float):
    """A way to the east that climbs has its arrowheads to the east (90 degrees); one that falls, to the west."""
    (run,) = runs(one_piece(grade))
    assert {round(arrow.bearing_deg) for arrow in arrowheads(run)} == {bearing}


@pytest.mark.parametrize(
    ("grade", "expected"),
    [(None, 0), (0.05, 0), (0.0501, 1), (-0.06, 1), (0.0666, 1), (0.0667, 2), (-0.0833, 2)],
)
def test_steepness_by_hand(grade: float | None, expected: int):
    """Over 1:20 (2010 ADA Standards, 403.3) one arrowhead; from 0.8 x 1:12 = 0.06667 (405.2) two; unknown has none."""
    assert steepness(one_piece(grade).pieces[0], 1 / 12) == expected


def test_a_weak_chair_sees_two_arrowheads_earlier():
    """The lower of 1:12 and the chair's rated slope counts: 0.8 x 0.06 = 0.048."""
    weak = dataclasses.replace(one_piece(0.05), chair=dataclasses.replace(ITINERARY.chair, rated_grade=0.06))
    assert runs(weak)[0].steepness == 2


def test_runs_keep_the_whole_way():
    """What is drawn is the way: no piece lost, none twice, in order."""
    assert [piece for run in runs(ITINERARY) for piece in run.pieces] == ITINERARY.pieces


def test_unverified_and_clear_never_share_a_run():
    """A stretch that nobody verified must not be painted as clear."""
    assert all(len({piece.verdict for piece in run.pieces}) == 1 for run in runs(ITINERARY))


@given(st.floats(-0.5, 1.5))
def test_along_measures_like_an_ellipsoid(part: float):
    """Against pyproj's geodesic: a place at a part of a 100 m line lies there, clamped to its ends, within a few centimetres."""
    total = distance_m(*EAST)
    (lon, lat), heading = along(EAST, part * total)
    _, _, from_start = GEOD.inv(*EAST[0], lon, lat)
    _, _, whole = GEOD.inv(*EAST[0], *EAST[1])
    assert from_start == pytest.approx(min(max(part, 0.0), 1.0) * whole, abs=0.05)
    assert heading == pytest.approx(90.0, abs=0.1)


def test_middle_of_a_bent_line():
    """60 m east, then 20 m north: the middle is 40 m along, on the first part."""
    line = [lon_lat((0, 0)), lon_lat((60, 0)), lon_lat((60, 20))]
    place, heading = middle(line)
    assert distance_m(place, lon_lat((40, 0))) < 0.1
    assert heading == pytest.approx(90.0, abs=0.1)


@given(st.floats(0, 720))
def test_names_never_stand_on_their_head(heading: float):
    """A street name is turned by at most a quarter either way, and lies along its street."""
    angle = upright(heading)
    assert -90.1 <= angle <= 90.0
    assert (angle - (heading - 90.0)) % 180.0 == pytest.approx(0.0, abs=0.06) or (angle - (heading - 90.0)) % 180.0 == pytest.approx(
        180.0, abs=0.06
    )


def test_distance_to_a_line_agrees_with_shapely():
    """A second opinion in metres on a flat plane: 30 m beside the middle, 50 m beyond the end (3-4-5 with 40 and 30)."""
    from shapely import LineString, Point

    line = [(0, 0), (100, 0)]
    for spot in ((50, 30), (130, 40), (-40, 30), (100, 0)):
        expected = LineString(line).distance(Point(spot))
        assert distance_to_line_m(lon_lat(spot), [lon_lat(place) for place in line]) == pytest.approx(expected, abs=0.2)


def test_a_bar_stands_off_the_way():
    """A side street of 100 m that leaves the way at a right angle: the bar is 40 m down it, not on the way."""
    way = [lon_lat((-100, 0)), lon_lat((100, 0))]
    side = [lon_lat((0, 0)), lon_lat((0, 100))]
    for line in (side, side[::-1]):
        place, _, off_m = off_the_way(line, way, within_m=40.0)
        assert off_m == pytest.approx(50.0, abs=0.2)  # the middle, 50 m, is further than 40
        assert distance_m(place, lon_lat((0, 50))) < 0.2


def test_a_figure_is_not_repeated_every_few_metres():
    """Two runs of 6 % divided by 100 m of another look: one figure; 8 % later is another."""
    pieces = []
    for n, (grade, verdict) in enumerate([(0.06, "clear"), (0.061, "unverified"), (0.06, "clear"), (0.082, "clear")]):
        line = [lon_lat((40 * n, 0)), lon_lat((40 * n + 40, 0))]
        facts = {"coordinates": line, "grade": grade, "verdict": verdict, "from_m": 40.0 * n, "to_m": 40.0 * n + 40}
        pieces.append(dataclasses.replace(ITINERARY.pieces[1], **facts))
    figures = [arrow.figure for arrow in way_arrowheads(runs(dataclasses.replace(ITINERARY, pieces=pieces))) if arrow.figure]
    assert figures == [0.06, 0.082]
