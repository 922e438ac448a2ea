"""Sidewalks and crossings have the name of their street: a step says where it is."""

from __future__ import annotations

from towns.hand_drawn import network_of

STREETS = """
n1 0,0
n2 100,0
n3 0,60
n4 100,60
n5 50,0
n6 50,-60
w10 1,5,2 highway=residential name=Elm
w11 3,4 highway=residential name=Oak
w12 5,6 highway=residential name=Ash
"""


def names(text: str) -> dict[int, str | None]:
    network = network_of(STREETS + text)
    return {int(number): network.ways.name(row) for row, number in enumerate(network.ways.osm_id)}


def test_a_sidewalk_is_named_after_the_street_that_it_runs_beside():
    """8 m north of Elm, 52 m south of Oak; and one 8 m south of Oak."""
    said = names(
        "n11 5,8\nn12 95,8\nn13 5,52\nn14 95,52\nw1 11,12 highway=footway footway=sidewalk\nw2 13,14 highway=footway footway=sidewalk"
    )

    assert (said[1], said[2]) == ("Elm", "Oak")


def test_a_name_of_its_own_stays():
    said = names("n11 5,8\nn12 95,8\nw1 11,12 highway=footway footway=sidewalk name=Promenade")

    assert said[1] == "Promenade"


def test_a_street_that_only_ends_at_the_sidewalk_does_not_name_it():
    """Ash runs square to it, and its end is as near as the line of Elm: at 8 m south."""
    said = names("n11 30,-8\nn12 70,-8\nw1 11,12 highway=footway footway=sidewalk")

    assert said[1] == "Elm"


def test_round_a_corner_the_street_with_the_longer_part_names_it():
    """20 m along Elm, then 45 m along Ash."""
    said = names("n11 38,-8\nn12 58,-8\nn13 58,-53\nw1 11,12,13 highway=footway footway=sidewalk")

    assert said[1] == "Ash"


def test_more_than_25_m_away_nobody_names_it_and_a_footway_is_never_named():
    """30 m from either street, and a path through a park beside Elm."""
    said = names("n11 60,30\nn12 95,30\nn13 5,8\nn14 95,8\nw1 11,12 highway=footway footway=sidewalk\nw2 13,14 highway=footway")

    assert (said[1], said[2]) == (None, None)


def test_a_crossing_is_named_after_the_street_that_it_crosses():
    """It shares a node with Elm; Ash, which begins there too, is named only where Elm is not."""
    said = names("n7 20,-8\nn8 20,0\nn9 20,8\nw1 7,8,9 highway=footway footway=crossing\nw13 8,1 highway=residential name=Elm")

    assert said[1] == "Elm"


def test_a_crossing_of_a_nameless_street_has_no_name():
    said = names("n7 20,-28\nn8 20,-20\nn9 20,-12\nn10 0,-20\nw13 10,8 highway=residential\nw1 7,8,9 highway=footway footway=crossing")

    assert said[1] is None
