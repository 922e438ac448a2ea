"""Everything known about a piece, said line by line."""

from __future__ import annotations

import pytest
from towns.hand_drawn import a_chair, network_of, noon

from rollroute.errors import InputError
from rollroute.explain import explain_lines
from rollroute.weights.case import Weighing

TEXT = "n1 0,0\nn2 10,0 kerb=raised barrier=kerb\nn3 20,0\nw7 1,2,3 highway=footway width=0.7 surface=sand lit=no access=private"


def said(place: str) -> str:
    return "\n".join(explain_lines(network_of(TEXT), place, a_chair(), noon(), Weighing()))


def test_every_fact_stands_with_its_rank_and_what_it_means():
    """Tagged width, surface, kerb and access, each with where it comes from; all reasons are kept."""
    text = said("way/7")

    for part in ("width: 0.70 m (tag number)", "surface: sand (tag word)", "kerb raised at node/2", "access: private", "no street lamps"):
        assert part in text
    assert "excluded:" in text
    for reason in ("width", "surface", "access", "kerb"):
        assert reason in text.split("excluded:", 1)[1]


def test_a_place_that_is_neither_position_nor_way_is_refused():
    with pytest.raises(InputError, match="way/ID"):
        said("somewhere")


def test_a_way_that_is_not_there_is_refused():
    with pytest.raises(InputError, match="no piece of that way"):
        said("way/99")
