"""Gates and ways with hours: what is open at departure closes like an area, when its hours end."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from towns.hand_drawn import NOON, a_chair, network_of, noon

from rollroute.network.tags import Access, Moment
from rollroute.weights.case import Weighing, case_of
from rollroute.weights.energy import calibrate
from rollroute.weights.moment import hours_close_s, worse_after_s
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import weigh

WAY = "highway=footway footway=sidewalk surface=asphalt incline=0% width=2"
EIGHT_PM = NOON.replace(hour=20)


def closes(text: str, departure: dt.datetime, **rules: object) -> list[float]:
    """Hours after departure at which each piece closes."""
    case = case_of(network_of(text), a_chair(), noon(departure=departure), Weighing(**rules))  # type: ignore[arg-type]
    return (hours_close_s(case) / 3600.0).tolist()


@pytest.mark.parametrize(
    "tags",
    [
        "opening_hours=06:00-22:00",
        "access:conditional=no_@_(22:00-06:00)",
        "foot:conditional=private_@_(22:00-06:00)",
        "wheelchair:conditional=no_@_(22:00-06:00)",
    ],
)
def test_a_way_that_shuts_at_ten_closes_two_hours_after_eight(tags: str):
    """OSM wiki, Conditional restrictions and Key:opening_hours. Read at departure alone, a chair that comes at 22:10 stands before it."""
    assert closes(f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} {tags}", EIGHT_PM) == [2.0]


def test_what_only_becomes_doubtful_closes_too():
    """For customers at night, who may be asked; the chair that set out by day was promised more than that."""
    assert closes(f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} access:conditional=customers_@_(22:00-06:00)", EIGHT_PM) == [2.0]


def test_hours_over_midnight_close_in_the_morning():
    assert closes(f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} opening_hours=18:00-02:30", EIGHT_PM) == [6.5]


@pytest.mark.parametrize("hours", ["24/7", "06:00-18:00", "Mar_14-Mar_20"])
def test_what_does_not_get_worse_does_not_close(hours: str):
    """Open for good; shut already, which is judged as it is; open beyond the next day."""
    assert closes(f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} access:conditional=yes_@_({hours})", EIGHT_PM) == [np.inf]


GATE = f"n1 0,0\nn2 100,0 barrier=gate locked=no width=1.5 opening_hours=06:00-22:00\nn3 200,0\nn4 300,0\nw1 1,2,3,4 {WAY}"


def test_a_gate_closes_the_piece_that_meets_it_and_no_others():
    """A gate belongs to one of the two pieces at its node, so that it is passed once."""
    assert closes(GATE, EIGHT_PM) == [np.inf, 2.0, np.inf]


def test_a_key_opens_its_gate_at_any_hour():
    assert closes(GATE, EIGHT_PM, keys=frozenset({"node/2"})) == [np.inf] * 3


def test_a_right_that_was_given_outlasts_the_hours():
    text = f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} access:conditional=private_@_(22:00-06:00)"
    assert closes(text, EIGHT_PM, granted=frozenset({Access.PRIVATE})) == [np.inf]


def test_the_earlier_of_hours_and_area_counts():
    """One hour until the area closes, two until the gate does."""
    network, chair = network_of(GATE), a_chair()
    area = np.array([3600.0, np.inf, np.inf])
    factors = PlannedFactors(energy=1.0, time=1.0, usable=1.0)
    weights = weigh(network, chair, calibrate(chair), factors, noon(departure=EIGHT_PM), closes_s=area)
    assert weights.closes_s.tolist() == [3600.0, 3600.0, 7200.0, 7200.0, np.inf, np.inf]


def test_a_change_of_the_clocks_is_an_hour_more_or_less():
    """Paris, 29 March 2026: clocks go from 02:00 to 03:00 (Directive 2000/84/EC), so from 23:00 until 05:00 it is five hours."""
    from zoneinfo import ZoneInfo

    moment = Moment(dt.datetime(2026, 3, 28, 23, 0, tzinfo=ZoneInfo("Europe/Paris")))
    assert worse_after_s({"opening_hours": "18:00-05:00"}, moment, frozenset()) == 5 * 3600.0


def test_a_closing_that_the_clocks_skip_counts_from_before():
    """The same night has no 02:30: whoever leaves at 01:05 finds it past 02:30 after 55 minutes, never after 85; half past one is sure."""
    from zoneinfo import ZoneInfo

    moment = Moment(dt.datetime(2026, 3, 29, 1, 5, tzinfo=ZoneInfo("Europe/Paris")))
    assert worse_after_s({"opening_hours": "05:00-02:30"}, moment, frozenset()) == 25 * 60.0
