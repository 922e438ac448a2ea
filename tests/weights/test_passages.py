"""A chair that passed answers for every chair that asks no more, in that direction."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from towns.hand_drawn import a_chair, judge, network_of, noon

from rollroute.inputs.chair import Chair
from rollroute.network.network import Network
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.passages import Passage

TEXT = "n1 0,0\nn2 20,0\nw1 1,2 highway=path access=customers"


def passed(network: Network, chair: Chair, start: int = 1) -> Weighing:
    ids = network.nodes.osm_id[network.edge_tail]
    passage = Passage(
        edges=np.flatnonzero(ids == start), width_m=chair.width_m, length_m=chair.length_m, mass_kg=chair.total_mass_kg,
        obstacle_up_m=chair.rated_obstacle_m, obstacle_down_m=chair.rated_obstacle_down_m, grade=chair.rated_grade, wheel=chair.wheel,
    )  # fmt: skip
    return Weighing(passages=(passage,))


def test_it_clears_what_it_passed_in_that_direction_only():
    """Width and surface are answered; who may pass, and a grade over the limit, are not."""
    network = network_of(TEXT)
    rules = passed(network, a_chair())
    there, back = (judge(network, a, b, rules=rules, grade_too=True) for a, b in ((1, 2), (2, 1)))

    assert there.questions == {"access", "grade"}
    assert back.questions == {"access", "grade", "width", "surface"}
    assert 0 < there.surprisal < back.surprisal


@pytest.mark.parametrize(
    "other",
    [{"width_m": 0.65}, {"length_m": 1.11}, {"mass_kg": 151.0}, {"rated_obstacle_m": 0.04}, {"rated_grade": 0.1}, {"wheel": "indoor"}],
)
def test_it_says_nothing_for_a_chair_that_is_wider_longer_heavier_or_weaker(other):
    network = network_of(TEXT)

    assert "width" in judge(network, 1, 2, chair=a_chair(**other), rules=passed(network, a_chair())).questions


def test_an_unknown_length_takes_the_bad_side():
    network = network_of(TEXT)

    assert "width" in judge(network, 1, 2, rules=passed(network, a_chair(length_m=None))).questions


@pytest.mark.parametrize(("changes", "asked"), [({}, False), ({"is_wet": True}, True)])
def test_a_passage_says_nothing_of_wet_ground(changes, asked):
    """Nobody told of the weather on that day; the width stays answered, and the doubt is that of the surface alone."""
    network = network_of("n1 0,0\nn2 20,0\nw1 1,2 highway=path")
    said = judge(network, 1, 2, rules=passed(network, a_chair()), conditions=noon(**changes), grade_too=True)
    alone = judge("n1 0,0\nn2 20,0\nw1 1,2 highway=path width=3", 1, 2, conditions=noon(**changes), grade_too=True)

    assert said.questions == {"grade"} | ({"surface"} if asked else set())
    assert not asked or said.surprisal == pytest.approx(alone.surprisal)


def test_a_passage_says_nothing_of_an_underpass_whose_pump_has_stopped():
    """Water stands in an underpass when it rains and the mains are off, whoever passed before."""
    network = network_of("n1 0,0\nn2 20,0\nw1 1,2 highway=footway tunnel=yes layer=-1 surface=asphalt width=3")
    rain = noon(is_wet=True, has_mains=False)
    before = judge(network, 1, 2, conditions=rain)

    assert "other" in before.questions
    assert "other" in judge(network, 1, 2, conditions=rain, rules=passed(network, a_chair())).questions


def test_a_passage_does_not_show_that_a_preset_is_met():
    """A footway of 1.0 m: PROWAG R302.2 asks for 1.22 m. Fitting through it does not make it wider."""
    network = network_of("n1 0,0\nn2 20,0\nw1 1,2 highway=footway width=1.0 surface=asphalt")
    rules = passed(network, a_chair())

    assert judge(network, 1, 2, rules=rules).is_clear
    strict = dataclasses.replace(rules, standard=load_standard("prowag-2023"))
    assert judge(network, 1, 2, rules=strict).reasons == {"width"}


KERB_ON_A_WAY = "n1 0,0\nn2 20,0 barrier=kerb\nn3 40,0\nw1 1,2,3 highway=footway surface=asphalt incline=0%"


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-0.2, 0.2), st.floats(-0.3, 0.3), st.floats(-40.0, 40.0), st.floats(-0.03, 0.03), st.floats(-0.03, 0.03), st.booleans(),
)  # fmt: skip
def test_a_passage_never_opens_more_than_it_shows(wider, longer, heavier, up, grade, is_wet):
    """It only ever takes away, and where one figure of the passing chair is the lesser it takes away nothing."""
    network = network_of(KERB_ON_A_WAY)
    asks = a_chair()
    drove = a_chair(
        width_m=asks.width_m + wider, length_m=asks.length_m + longer, mass_kg=asks.mass_kg + heavier,
        rated_obstacle_m=asks.rated_obstacle_m + up, rated_grade=asks.rated_grade + grade,
    )  # fmt: skip
    for there in ((1, 2), (2, 3)):
        before = judge(network, *there, conditions=noon(is_wet=is_wet))
        after = judge(network, *there, conditions=noon(is_wet=is_wet), rules=passed(network, drove, there[0]))
        assert after.questions <= before.questions
        assert after.reasons <= before.reasons
        assert after.surprisal <= before.surprisal + 1e-9
        if min(wider, longer, heavier) < -1e-6 or max(up, grade) > 1e-6:
            assert after == before
