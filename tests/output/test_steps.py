"""Steps: what a volunteer is asked to do, checked against the drawn route."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_itinerary import HALT_PIECE, hostile, lon_lat, sample

from rollroute.output.steps import build_steps, planned_pace_m_s, turn_word
from rollroute.output.steps_runs import bearing_deg
from rollroute.output.steps_watch import helper_places


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
