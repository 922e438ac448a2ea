"""A rider's row says more of the chair than its class: size, masses and where the charger is reach the search."""

from __future__ import annotations

import dataclasses

import pytest
from move_worlds import move, rider, shelter

from rollroute.inputs.move_settings import Margins
from rollroute.planning.needs import read_needs
from rollroute.planning.town import chair_for, reserve_for, shared_chair


def _chair(**fields: object):
    a_move = move([rider("A", **fields)], [shelter("N")], [])
    return read_needs(a_move.riders[0], a_move.settings)


def test_the_charger_of_the_row_is_the_chairs_charger():
    """A class says nothing of the charger; who carries one may charge on the way, and shelters with power are refuges for them."""
    assert chair_for(_chair(charger="on board")).charger.place == "on board"
    assert chair_for(_chair(charger="missing")).charger.place == "missing"
    assert chair_for(_chair(charger="")).charger.place == "unknown"


def test_a_length_counts_in_steps_upwards():
    """Of 117 and 120 cm, 120 count; of 121 cm, 125: a lift that takes the longer one takes the chair."""
    assert abs(chair_for(_chair(chair_length_cm=117)).length_m - 1.20) < 1e-9
    assert abs(chair_for(_chair(chair_length_cm=120)).length_m - 1.20) < 1e-9
    assert abs(chair_for(_chair(chair_length_cm=121)).length_m - 1.25) < 1e-9
    assert shared_chair(_chair(chair_length_cm=117)) == shared_chair(_chair(chair_length_cm=120))


@pytest.mark.parametrize(("margin", "chemistry", "reserve"), [(0.35, "agm", 0.35), (0.0, "agm", 0.20), (0.0, "lithium", 0.10)])
def test_the_moves_reserve_holds_where_it_is_more_than_the_batterys_own(margin: float, chemistry: str, reserve: float):
    """20 % of lead-acid and 10 % of lithium are the least (data/scenario.toml); a coordinator may ask for more, not for less."""
    a_move = move([rider("A")], [shelter("N")], [])
    settings = a_move.settings.model_copy(update={"margins": Margins(reserve_soc=margin)})
    chair = _chair().chair
    chair = dataclasses.replace(chair, battery=dataclasses.replace(chair.battery, chemistry=chemistry))
    assert reserve_for(dataclasses.replace(a_move, settings=settings), chair) == pytest.approx(reserve)
