"""A chair that passed answers for every chair that asks no more, in that direction."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import a_chair, judge, network_of

from rollroute.inputs.chair import Chair
from rollroute.network.network import Network
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
