"""Steps: what a volunteer is asked to do, checked against the drawn route."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_itinerary import HALT_PIECE, hostile, lon_lat, sample

from rollroute.output.itinerary import Piece
from rollroute.output.steps import build_steps, planned_pace_m_s, turn_word
from rollroute.output.steps_runs import bearing_deg
from rollroute.output.steps_watch import helper_places, watch_stretches


def test_steps_cover_the_way_without_gap_or_overlap():
    """A metre that belongs to no step would send somebody on without words."""
    route = sample()
    steps = build_steps(route)

    assert [s.number for s in steps] == list(range(1, len(steps) + 1))
    for here, following in itertools.pairwise(steps):
        assert here.at_m + here.to_next_m == pytest.approx(following.at_m)
    assert steps[0].kind == "start"
    assert steps[-1].kind == "arrive"
    assert steps[-1].at_m == pytest.approx(route.length_m)


def test_every_piece_is_in_exactly_one_step():
    """Time, questions and maps are taken from the pieces, so none may be lost or counted twice."""
    route = sample()
    driven = [n for s in build_steps(route) if s.first_piece is not None for n in range(s.first_piece, (s.last_piece or 0) + 1)]

    assert driven == list(range(len(route.pieces)))


def test_every_point_and_question_reaches_a_step():
    """A kerb or a doubt that no step names is not seen at night."""
    route = sample()
    steps = build_steps(route)

    assert sorted(p.at_m for s in steps for p in s.points) == sorted(p.at_m for p in route.points)
    assert {n for s in steps for n in s.questions} == {q.number for q in route.questions}


def test_turns_follow_the_drawn_bearings():
    """By hand from the drawing: east, then north over Mill Street (left), then east again (right), then north (left)."""
    turns = [(s.kind, s.turn) for s in build_steps(sample())]

    assert turns[:8] == [
        ("start", None),
        ("follow", "right"),  # north from the door, then east
        ("cross", "left"),
        ("follow", "right"),
        ("follow", "left"),  # north into Chandler Lane
        ("cross", "straight"),
        ("follow", "right"),  # east along Bridge Street
        ("follow", "left"),  # north into Quay Path
    ]


def test_a_crossing_straight_on_is_one_step_with_the_street_after_it():
    """Weir Lane is crossed without leaving Harbour Road: one thing to do, 12 m + 48 m + 50 m long."""
    crossing = next(s for s in build_steps(sample()) if s.street == "Weir Lane")

    assert crossing.then_along == "Harbour Road"
    assert crossing.to_next_m == pytest.approx(110.0, abs=0.5)


def test_crossing_seconds_use_the_planned_pace():
    """By hand: the planned case takes 1.2 times as long, so 1.0 m/s becomes 1/1.2, and 8 m of carriageway take 9.6 s."""
    route = sample()
    crossing = next(s for s in build_steps(route) if s.kind == "cross")

    assert planned_pace_m_s(route) == pytest.approx(1.0 / 1.2)
    assert crossing.crossing_s == pytest.approx(8.0 * 1.2)


def test_a_halt_splits_a_street_into_two_steps():
    """Nobody drives past the socket: the charging step stands between two stretches."""
    steps = build_steps(sample())
    halt = next(n for n, s in enumerate(steps) if s.kind == "charge")

    assert steps[halt - 1].last_piece == HALT_PIECE
    assert steps[halt + 1].first_piece == HALT_PIECE + 1
    assert steps[halt].time_s.planned == pytest.approx(5700.0)  # 300 s to set up + 5400 s of charging


def test_a_halt_at_the_goal_comes_before_the_arrival():
    """The last halt lies at the last metre; arriving is still the end."""
    route = sample()
    at_goal = dataclasses.replace(route, halts=[dataclasses.replace(route.halts[0], at_m=route.length_m)])

    assert [s.kind for s in build_steps(at_goal)][-2:] == ["charge", "arrive"]


def test_a_landmark_tells_where_a_turn_is():
    """The bakery stands 12 m before the crossing, the bridge ends 105 m before Quay Path."""
    steps = build_steps(sample())
    crossing = next(s for s in steps if s.kind == "cross")
    path = next(s for s in steps if s.street == "Quay Path")

    assert (crossing.nearby.label, round(crossing.nearby.after_m)) == ("Corner Bakery", 12)
    assert (path.nearby.kind, round(path.nearby.after_m)) == ("bridge", 105)


def test_easy_to_miss_places_get_a_map():
    """Crossings, the gate, the door and the lift are where people go wrong at night."""
    marked = {s.kind for s in build_steps(sample()) if s.is_easy_to_miss}
    gate = next(s for s in build_steps(sample()) if any(p.kind == "gate" for p in s.points))

    assert {"cross", "inside", "lift"} <= marked
    assert gate.is_easy_to_miss


def test_unnamed_links_of_a_few_metres_are_no_steps():
    """OSM joins footway and crossing by stubs without a name; a volunteer knows none of them."""
    route = sample()
    stub = dataclasses.replace(route.pieces[4], way_kind="footway", name=None, from_m=0.0, to_m=4.0, questions=[], verdict="clear")
    shifted = [dataclasses.replace(p, from_m=p.from_m + 4.0, to_m=p.to_m + 4.0) for p in route.pieces[4:]]
    before = route.pieces[3]
    stub = dataclasses.replace(stub, from_m=before.to_m, to_m=before.to_m + 4.0, coordinates=[before.coordinates[-1], lon_lat((130, 16))])
    longer = dataclasses.replace(route, pieces=[*route.pieces[:4], stub, *shifted], halts=[], points=[], length_m=route.length_m + 4.0)
    plain = dataclasses.replace(route, halts=[], points=[])

    assert len(build_steps(longer)) == len(build_steps(plain))


@given(st.floats(-180.0, 180.0))
def test_turn_words_are_mirror_images(degrees: float):
    """Left is right seen in a mirror: a sign slip would send people the wrong way."""
    here, there = turn_word(degrees), turn_word(-degrees)

    assert here is not None
    assert there == here.replace("left", "~").replace("right", "left").replace("~", "right")


def test_unknown_turn_is_none_not_straight():
    """At the start there is no direction to turn from."""
    assert turn_word(math.nan) is None


def test_bearings_count_clockwise_from_north():
    """Due east is 90 and due south 180, as on every compass."""
    assert bearing_deg((0.0, 45.0), (0.001, 45.0)) == pytest.approx(90.0, abs=0.01)
    assert bearing_deg((0.0, 45.0), (0.0, 44.0)) == pytest.approx(180.0)


def test_helper_is_never_downhill_and_never_beside_on_a_narrow_path():
    """Never downhill of a chair, never beside it where the path is under 1.5 m."""
    for place in helper_places(sample()):
        if "descent" in place.why:
            assert place.place == "behind"
        if "ascent" in place.why:
            assert place.place != "behind"
        if "narrow" in place.why:
            assert place.place in {"ahead", "behind"}
    assert {w for p in helper_places(sample()) for w in p.why} == {"narrow", "ascent", "descent", "camber"}


def test_hostile_names_change_no_step():
    """Names carry no meaning for the steps: same kinds, same metres."""
    assert [(s.kind, s.at_m) for s in build_steps(hostile())] == [(s.kind, s.at_m) for s in build_steps(sample())]


def split(piece: Piece, parts: int) -> list[Piece]:
    """The piece as maps often hold it: in parts of equal length."""
    (x0, y0), (x1, y1) = piece.coordinates[0], piece.coordinates[-1]
    length = (piece.to_m - piece.from_m) / parts
    return [
        dataclasses.replace(
            piece,
            coordinates=[(x0 + (x1 - x0) * k / parts, y0 + (y1 - y0) * k / parts) for k in (n, n + 1)],
            from_m=piece.from_m + n * length,
            to_m=piece.from_m + (n + 1) * length,
            road_width_m=None if piece.road_width_m is None else piece.road_width_m / parts,
        )
        for n in range(parts)
    ]


def test_a_crossing_mapped_in_parts_is_crossed_once():
    """Maps cut a crossing at its kerbs and island; somebody who stops in the middle to read four steps is in danger."""
    route = sample()
    cut = dataclasses.replace(route, pieces=[part for p in route.pieces for part in (split(p, 4) if p.way_kind == "crossing" else [p])])
    here, there = build_steps(route), build_steps(cut)

    assert [(s.kind, s.street, s.turn) for s in here] == [(s.kind, s.street, s.turn) for s in there]
    assert [s.crossing_s for s in here] == [pytest.approx(s.crossing_s) if s.crossing_s else None for s in there]


@pytest.mark.parametrize("parts", [2, 5])
def test_cutting_pieces_changes_no_step(parts: int):
    """Steps belong to streets, not to how a map is cut."""
    route = sample()
    cut = dataclasses.replace(route, pieces=[part for p in route.pieces for part in split(p, parts)])

    assert [(s.kind, s.street, s.turn, round(s.at_m)) for s in build_steps(cut)] == [
        (s.kind, s.street, s.turn, round(s.at_m)) for s in build_steps(route)
    ]


def test_a_kink_of_a_few_metres_is_no_turn():
    """A footway that dodges a tree for two metres still goes straight on."""
    route = sample()
    long = route.pieces[27:31]  # Harbour Road, 60 m each, due east
    (x, y), length = long[1].coordinates[0], 2.0
    aside = (x, y + 1.5 / 111_140)
    kink = dataclasses.replace(long[1], coordinates=[(x, y), aside], to_m=long[1].from_m + length, questions=[])
    rest = dataclasses.replace(long[1], coordinates=[aside, long[1].coordinates[-1]], from_m=long[1].from_m + length)
    bent = dataclasses.replace(route, pieces=[*route.pieces[:28], kink, rest, *route.pieces[29:]])

    assert len(build_steps(bent)) == len(build_steps(route))


def test_a_landmark_of_an_earlier_step_is_not_used_again():
    """To count metres from the bakery around two corners is too much at night."""
    third = build_steps(sample())[3]

    assert third.street == "Mill Street"
    assert third.nearby is None


def test_slopes_with_short_gaps_are_told_as_one():
    """By hand: 6 % over 45 m, 20 m of nothing, 5.5 % over 45 m is one slope of up to 6 % over 110 m."""
    route = sample()
    grades = {7: 0.06, 8: 0.0, 9: 0.055}
    lengths = {7: 45.0, 8: 20.0, 9: 45.0}
    pieces, at_m = [], 0.0
    for n in (7, 8, 9):
        p = dataclasses.replace(route.pieces[n], grade=grades[n], from_m=at_m, to_m=at_m + lengths[n], surface="asphalt", cross_slope=None)
        pieces.append(p)
        at_m += lengths[n]
    found = watch_stretches(dataclasses.replace(route, pieces=pieces), 0, 2)

    assert [(w.kind, w.at_m, w.length_m, w.value) for w in found] == [("grade_up", 0.0, 110.0, 0.06)]


def test_a_landmark_just_past_a_corner_tells_the_corner():
    """Eight metres beyond the corner it is seen from before: "at the bakery", not lost between this step and the next."""
    route = sample()
    corner = build_steps(route)[4]
    lon, lat = corner.lon, corner.lat
    shop = dataclasses.replace(route.landmarks[0], label="Tea Room", lon=lon, lat=lat, at_m=corner.at_m + 8.0, off_way_m=6.0)
    told = build_steps(dataclasses.replace(route, landmarks=[*route.landmarks, shop]))[4]

    assert (told.street, told.turn) == ("Chandler Lane", "left")
    assert told.nearby is not None
    assert (told.nearby.label, told.nearby.after_m) == ("Tea Room", 0.0)
