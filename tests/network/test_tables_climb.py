"""The table of edges states the climb that is to be expected, not that of the mean grade."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import network_of

from rollroute.network.network import Network
from rollroute.network.tables import edges


def test_a_tagged_slope_climbs_what_its_tag_says():
    """100 m at 5 % rise 5 m one way and fall 5 m the other."""
    table = edges(network_of("n1 0,0\nn2 100,0\nw1 1,2 highway=footway incline=5%"))

    assert table["climb_m"].tolist() == pytest.approx([5.0, 0.0], rel=0.01, abs=1e-6)
    assert table["descent_m"].tolist() == pytest.approx([0.0, 5.0], rel=0.01, abs=1e-6)


def test_an_unknown_grade_has_no_climb():
    table = edges(network_of("n1 0,0\nn2 100,0\nw1 1,2 highway=footway"))

    assert table["climb_m"].isna().all()


def test_climb_less_descent_is_the_mean_grade_over_the_length(quillhaven: Network):
    """E[g+] − E[g−] = E[g]; what rises one way falls the other; an estimate never climbs less than its mean."""
    table = edges(quillhaven)
    known = table["grade"].notna() & table["climb_m"].notna()
    mean_m = (table["grade"] * table["length_m"])[known]

    assert np.allclose((table["climb_m"] - table["descent_m"])[known], mean_m, atol=1e-4)
    assert (table["climb_m"][known] >= np.maximum(mean_m, 0.0) - 1e-4).all()
    assert np.allclose(table["climb_m"][known].to_numpy()[0::2], table["descent_m"][known].to_numpy()[1::2])
