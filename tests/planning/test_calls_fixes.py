"""The call list and the cheapest fix, on hand-made moves where the answer can be worked out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from move_worlds import escort, line_travel, move, rider, roll_way, shelter, van

from rollroute.planning import calls as calls_module
from rollroute.planning.calls import call_list
from rollroute.planning.make_plan import make_plan, needs_of


def _calls(a_move, travel):
    return call_list(a_move, needs_of(a_move)[0], travel)


def test_the_answer_that_lets_somebody_go_stands_first():
    """A's length is not known: 140 cm on a platform of 130. B's longest ride is not known, and changes nothing: B rides for 10 min."""
    a_move = move([rider("A"), rider("B", chair_length_cm=110, longest_ride_min="")], [shelter("N")], [van("V", platform_length_cm=130)])
    travel = line_travel(a_move, {"A": 1, "B": 2, "N": 4, "V": 0})

    calls = _calls(a_move, travel)

    assert (calls[0].whom, calls[0].field, calls[0].people) == ("rider A", "chair_length_cm", 1.0)
    assert [c.people for c in calls if (c.whom, c.field) == ("rider B", "longest_ride_min")] == [0.0]
    assert calls[0].meanwhile


def test_fields_that_stand_in_the_way_together_share_the_worth():
    """Length and seated height unknown: one good answer alone opens nothing, both do; so both are asked."""
    a_move = move(
        [rider("A", seated_height_cm="")], [shelter("N")], [van("V", platform_length_cm=130, door_height_cm=135)]
    )  # unknown stands at 140 cm, for both
    travel = line_travel(a_move, {"A": 1, "N": 4, "V": 0})

    worth = {c.field: c.people for c in _calls(a_move, travel) if c.whom == "rider A"}

    assert worth["chair_length_cm"] == worth["seated_height_cm"] == 1.0


def test_a_yes_is_asked_for_before_what_only_saves_time():
    """Nobody is moved without a yes; whoever has agreed is not asked again."""
    a_move = move([rider("A", chair_length_cm=110, consent="asked", longest_ride_min=""), rider("B", chair_length_cm=110)],
                  [shelter("N")], [van("V")])  # fmt: skip
    travel = line_travel(a_move, {"A": 1, "B": 1, "N": 4, "V": 0})

    consent = [c.whom for c in _calls(a_move, travel) if c.field == "consent"]

    assert consent == ["rider A"]
    assert _calls(a_move, travel)[0].field == "consent"


def test_a_shelter_s_places_are_asked_for_where_people_wait_for_them():
    """One shelter, and nobody has said how many places: none is counted on, so both riders wait for that answer."""
    a_move = move([rider("A", chair_length_cm=110), rider("B", chair_length_cm=110)], [shelter("N", accessible_places=None)], [van("V")])
    travel = line_travel(a_move, {"A": 1, "B": 2, "N": 4, "V": 0})

    first = _calls(a_move, travel)[0]

    assert (first.whom, first.field, first.people) == ("shelter N", "accessible_places", 2.0)


@pytest.mark.parametrize(
    ("fields", "shelters", "words"),
    [
        ({"chair_length_cm": ""}, [shelter("N")], "How long is the chair"),
        ({"chair_length_cm": 110}, [shelter("N", accessible_places=0)], None),
        ({"chair_length_cm": 110, "life_support_min": 60}, [shelter("N")], "the vans from the start"),
        ({"chair_length_cm": 110, "life_support_min": 46}, [shelter("N")], "30 min more until the latest time"),
    ],
)
def test_the_fix_is_the_cheapest_that_is_enough(fields, shelters, words):
    """An answer where one is enough; nothing where no change that is tried helps; else the van sooner, or more time.

    Third case: a socket by 60 - 30 = 30 min. The van starts at 20 min, drives 2, loads 10, drives 6: over 30 before unloading.
    From the start it is 2 + 10 + 6 + 5 = 23 min. Fourth: by 46 - 30 = 16 min, which no van can keep; 30 min more and from 20 on: 43 of 46.
    """
    a_move = move([rider("A", **fields)], shelters, [van("V", platform_length_cm=130, available_from="19:00")])
    travel = line_travel(a_move, {"A": 1, "N": 4, "V": 0})

    line = make_plan(a_move, travel).rider("A")

    assert line.status == "not served"
    assert line.fix is None if words is None else words in (line.fix or "")
    assert line.fallback


def test_an_answer_that_helps_somebody_else_is_no_fix():
    """Nobody knows the van's lift: A is too heavy for the 272 kg that count then, B is 200 cm long on any platform.

    The answer could serve one more, A: it stands at A, and not at B, for whom nothing is known that would help.
    """
    riders = [rider("A", chair_length_cm=110, rider_mass_kg=200), rider("B", chair_length_cm=200)]
    a_move = move(riders, [shelter("N")], [van("V", lift_rating_kg=None)])
    travel = line_travel(a_move, {"A": 1, "B": 1, "N": 4, "V": 0})

    plan = make_plan(a_move, travel)

    assert {line.id for line in plan.not_served} == {"A", "B"}
    assert "rated for" in (plan.rider("A").fix or "")
    assert plan.rider("B").fix is None


def test_a_van_without_positions_takes_no_chair_and_says_so():
    """0 is a figure that somebody gave, not one that nobody knows: for that one position counts."""
    riders = [rider("A", chair_length_cm=110)]
    for positions, is_served in ((0, False), (None, True)):
        a_move = move(riders, [shelter("N")], [van("V", positions=positions)])
        line = make_plan(a_move, line_travel(a_move, {"A": 1, "N": 4, "V": 0})).rider("A")
        assert (line.way == "van") is is_served
        assert is_served or any("positions needed: 1, there: 0" in why for why in line.reasons)


def test_a_loading_zone_that_no_open_road_leads_to_is_told_as_that():
    """It is not the van's height: from its start no road is open to A's door."""
    a_move = move([rider("A", chair_length_cm=110)], [shelter("N")], [van("V")])
    travel = line_travel(a_move, {"A": 1, "N": 4, "V": 0})
    at = travel.nodes.index(travel.pickups["A"][0].node)
    cut = [replace(p, minutes=p.minutes.copy()) for p in travel.phases]
    for phase in cut:
        phase.minutes[:, at] = math.inf
    line = make_plan(a_move, replace(travel, phases=tuple(cut))).rider("A")
    assert line.way is None
    assert any("no open road that lets it through leads from its start" in why for why in line.reasons)


def test_two_more_escorts_are_named_where_only_they_are_missing():
    """A can roll in the light with one escort; there is none, and no van."""
    a_move = move([rider("A")], [shelter("N")], [], [escort("E", available_from="18:40", available_to="18:41")])
    travel = line_travel(a_move, {"A": 0, "N": 1, "E": 0}, rolls={("A", "N"): roll_way(20)})

    assert make_plan(a_move, travel).rider("A").fix == "2 more escorts"


def test_a_large_move_gets_its_list_too(monkeypatch):
    """Past the size up to which everybody is weighed together, each party is weighed alone; who could not go still stands first."""
    monkeypatch.setattr(calls_module, "WHOLE_UP_TO_PARTIES", 2)
    riders = [rider("A"), *(rider(f"B{i}", chair_length_cm=110) for i in range(4))]
    a_move = move(riders, [shelter("N")], [van("V", platform_length_cm=130)])
    travel = line_travel(a_move, {"A": 1, "N": 4, "V": 0, **{f"B{i}": 2 for i in range(4)}})

    first = _calls(a_move, travel)[0]

    assert (first.whom, first.field, first.people) == ("rider A", "chair_length_cm", 1.0)
