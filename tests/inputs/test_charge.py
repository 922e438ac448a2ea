"""Words of a gauge: an interval that is never too hopeful, and refused where it is ambiguous."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.inputs.charge import ChargeReading, Gauge, display_for, gauge_words, parse_charge
from rollroute.inputs.tables import load_table

CALM = {"battery_age_years": 0.0, "minutes_since_driving": 90.0, "minutes_since_charging": 600.0}  # nothing widens the reading
BARS = st.integers(2, 20).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def ends(text, **about):
    reading = parse_charge(text, **{**CALM, **about})
    return [round(x, 6) for x in (reading.low, reading.expected, reading.high)]


@pytest.mark.parametrize("text", ["3 of 5 bars", "3/5", "3 / 5", "3 out of 5", "3 of 5 lights", "  3  OF 5  Bars "])
def test_three_of_five_bars_means_two_to_three_fifths(text):
    """A bar goes out at the foot of its part: 3 lit of 5 is between 2/5 and 3/5, middle 0.5."""
    assert ends(text) == [0.4, 0.5, 0.6]


@pytest.mark.parametrize("text", ["60%", "60 %", "60 percent", "about 60%"])
def test_a_percent_gauge_is_good_to_five_points(text):
    assert ends(text) == [0.55, 0.6, 0.65]


def test_a_stated_range_is_kept():
    assert ends("40-60%") == ends("between 40 and 60 percent") == [0.4, 0.5, 0.6]


def test_the_ends_of_the_scale_stay_inside_it():
    assert ends("100%") == [0.95, 1.0, 1.0]
    assert ends("0%") == [0.0, 0.0, 0.05]
    assert ends("0 of 5 bars") == [0.0, 0.0, 0.1]


@pytest.mark.parametrize("text", ["0.6", "60", "1.0", "", "lots", "-5%", "3", "6O%", "nan%"])
def test_an_ambiguous_charge_is_refused_with_good_examples(text):
    """0.6 may be 60 % or a voltage, 60 may be a percentage or a temperature: asking costs a second, a guess strands somebody."""
    with pytest.raises(InputError, match=r"can't be read, or is ambiguous.*\"60%\""):
        parse_charge(text)


@pytest.mark.parametrize("text", ["120%", "7 of 5 bars", "3 of 1 bars"])
def test_an_impossible_display_is_refused(text):
    with pytest.raises(InputError, match=text.split()[0]):
        parse_charge(text)


def test_bars_that_contradict_the_chairs_gauge_are_refused():
    with pytest.raises(InputError, match="this chair's gauge has 5 bars"):
        parse_charge("3 of 10 bars", Gauge(kind="bars", n_bars=5))


def test_bare_bars_need_the_number_of_the_gauge():
    with pytest.raises(InputError, match="of how many bars"):
        parse_charge("3 bars")
    assert parse_charge("3 bars", Gauge(kind="bars", n_bars=5), **CALM).low == 0.4


def test_age_and_fresh_charging_lower_the_low_end_only():
    """2 points a year, 5 points of surface charge within the hour (assumptions), added as squares.

    Two years: sqrt(5² + 4²) = 6.40 points. Fresh: sqrt(5² + 5²) = 7.07. Bars, both unknown: sqrt(10² + 6² + 5²) = 12.69.
    """
    assert ends("60%", battery_age_years=2.0) == [0.535969, 0.6, 0.65]
    assert ends("60%", minutes_since_charging=10.0) == [0.529289, 0.6, 0.65]
    assert parse_charge("3 of 5 bars").low == pytest.approx(0.5 - 0.12689, abs=1e-5)
    assert ends("60%", minutes_since_charging=10.0, minutes_since_driving=2.0) == [0.55, 0.6, 0.65]  # driven since


@given(BARS, st.floats(0.0, 20.0), st.floats(0.0, 2000.0), st.floats(0.0, 2000.0))
def test_what_is_not_said_is_never_better_than_what_is(display, age, driving, charging):
    """Leaving out age and minutes must not raise the low end."""
    text = f"{display[0]} of {display[1]} bars"
    said = parse_charge(text, battery_age_years=age, minutes_since_driving=driving, minutes_since_charging=charging)
    assert parse_charge(text).low <= said.low + 1e-12
    assert said.low <= said.expected <= said.high


@given(BARS)
def test_a_readings_own_low_end_asks_for_that_very_display(display):
    """The sheet must not send somebody back at the first metre whose gauge shows what they left with."""
    lit, n = display
    low = parse_charge(f"{lit} of {n} bars", **CALM).low
    assert display_for(low, Gauge(kind="bars", n_bars=n), battery_age_years=0.0).bars == max(1, lit)


@given(st.floats(0.0, 1.0), st.integers(2, 20), st.floats(0.0, 10.0))
def test_a_display_promises_at_least_the_charge_it_stands_for(soc, n, age):
    """Rounded up: reading the display back gives a low end of at least ``soc``, or the display can't be reached."""
    shown = display_for(soc, Gauge(kind="bars", n_bars=n), battery_age_years=age)
    if shown.is_reachable:
        back = parse_charge(f"{shown.bars} of {n} bars", battery_age_years=age, minutes_since_driving=0.0, minutes_since_charging=90.0)
        assert back.low >= soc - 1e-9
    percent = display_for(soc, Gauge(kind="percent"), battery_age_years=age)
    if percent.is_reachable:
        back = parse_charge(f"{percent.percent:.0f}%", battery_age_years=age, minutes_since_driving=0.0, minutes_since_charging=90.0)
        assert back.low >= soc - 1e-9


def test_gauge_words_by_hand():
    """0.38 of 5 bars: 2 lit promise 1/5, 3 lit promise 2/5 = 0.40. Percent: 0.38 + 0.05 = 0.43, next step 45."""
    assert gauge_words(0.38, Gauge(kind="bars", n_bars=5), battery_age_years=0.0) == "3 of 5 bars, about 38 %"
    assert gauge_words(0.38, Gauge(kind="percent"), battery_age_years=0.0) == "45 %"
    assert gauge_words(0.95, Gauge(kind="bars", n_bars=5), battery_age_years=0.0) == "more than a full gauge can promise"


def test_every_word_of_the_table_is_an_interval_in_order():
    """A typing error in the table must not make a low end higher than its middle."""
    for word in load_table("gauges")["word"]:
        assert isinstance(parse_charge(word), ChargeReading), word


def test_a_gauge_is_checked():
    with pytest.raises(InputError, match=r"kind must be one of percent, bars, got 'needle'"):
        Gauge(kind="needle")
    with pytest.raises(InputError, match=r"n_bars must be from 2 to 20, got 1"):
        Gauge(kind="bars", n_bars=1)
