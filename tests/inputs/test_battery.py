"""Battery capacity against published cases, and the bad side of what is unknown."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.inputs.battery import (
    CHEMISTRIES,
    Battery,
    battery_health,
    capacity_ah,
    full_wh,
    peukert_exponent,
    peukert_hours,
    peukert_k,
    temperature_factor,
    usable_wh,
)

GEL = Battery(nominal_v=24.0, capacity_ah_20h=50.0, chemistry="gel")
SHARES = st.floats(0.0, 1.0)


def test_peukert_gives_the_published_case_of_electrotechnik():
    """electrotechnik.net, 2010-01: Cp = 100, I = 5 A, k = 1.2 gives 14.5 h (1-A form; 14.4956 recomputed)."""
    assert peukert_hours(100.0, 100.0, 5.0, 1.2) == pytest.approx(14.4956, abs=5e-5)


def test_peukert_gives_the_published_case_of_easycalculation():
    """easycalculation.com: C = 250, I = 20 A, k = 1.3 gives 5.088631644 h and 101.772633 Ah (1-A form)."""
    hours = peukert_hours(250.0, 250.0, 20.0, 1.3)
    assert hours == pytest.approx(5.088631644, abs=1e-9)
    assert 20.0 * hours == pytest.approx(101.772633, abs=1e-6)


def test_peukert_rated_form_gives_the_encyclopedia_case():
    """100 Ah at 20 h, 10 A, k = 1.2 gives 8.7 h, 87 Ah (from memory). By hand: 20 (100/200)^1.2 = 20 × 0.435275 = 8.7055."""
    hours = peukert_hours(100.0, 20.0, 10.0, 1.2)
    assert hours == pytest.approx(8.7055, abs=5e-5)
    assert 10.0 * hours == pytest.approx(87.055, abs=5e-4)


@pytest.mark.parametrize(
    ("ah_20h", "minutes_at_25_a", "k"),
    [(70, 130, 1.130), (86, 167, 1.120), (95, 188, 1.116), (180, 388, 1.105), (225, 500, 1.096), (225, 447, 1.237)],
)
def test_peukert_exponent_gives_the_table_of_a_battery_monitor_manual(ah_20h, minutes_at_25_a, k):
    """Battery-monitor manual (manualshive.com, p. 26-27), gel 70 to 225 Ah and flooded 225 Ah; recomputed to three places."""
    assert peukert_exponent(20.0, ah_20h / 20.0, minutes_at_25_a / 60.0, 25.0) == pytest.approx(k, abs=5e-4)


def test_the_rate_of_the_capacity_agrees_with_the_hours_of_peukert():
    """Two ways to the same number: at the 5-hour current the battery lasts 5 hours."""
    amp_hours = capacity_ah(GEL, 5.0)
    assert peukert_hours(50.0, 20.0, amp_hours / 5.0, peukert_k(GEL)) == pytest.approx(5.0)
    assert capacity_ah(GEL, 20.0) == pytest.approx(50.0)


def test_usable_energy_by_hand():
    """1200 Wh × 0.8 × 0.84 (0 °C, lead-acid, manufacturer's FAQ) × (0.6 - 0.2) = 322.56 Wh."""
    worn = Battery(nominal_v=24.0, capacity_ah_20h=50.0, chemistry="agm", health=0.8)
    assert usable_wh(1200.0, worn, 0.6, reserve_soc=0.2, temperature_c=0.0) == pytest.approx(322.56)


@pytest.mark.parametrize(("celsius", "share"), [(0, 0.84), (5, 0.88), (10, 0.90), (15, 0.94), (20, 0.99), (25, 1.0), (12.5, 0.92)])
def test_lead_acid_temperature_follows_the_table(celsius, share):
    """Manufacturer's FAQ, discharge longer than 60 minutes: -16, -12, -10, -6, -1, 0 %; half-way between 10 and 15 °C by hand."""
    assert temperature_factor("gel", celsius) == pytest.approx(share)


def test_heat_gives_no_credit_and_deep_cold_goes_on_falling():
    assert temperature_factor("gel", 40.0) == 1.0
    assert temperature_factor("gel", -18.0) == pytest.approx(0.45)
    assert temperature_factor("gel", -30.0) < 0.45
    assert temperature_factor("gel", -50.0) == 0.0


def test_lithium_loses_less_in_the_cold():
    """Vendors: LiFePO4 about 80 % at 0 °C, 70 % at -20 °C."""
    assert temperature_factor("lithium", -20.0) == pytest.approx(0.70)
    assert temperature_factor("lithium", 0.0) == pytest.approx(0.80)


def test_unknown_is_never_better_than_known():
    """Chemistry, temperature and health unknown: no more energy than the best known, well under the label."""
    unknown = Battery(nominal_v=24.0, capacity_ah_20h=50.0)
    assert peukert_k(unknown) >= max(peukert_k(Battery(nominal_v=24.0, capacity_ah_20h=50.0, chemistry=c)) for c in CHEMISTRIES)
    assert temperature_factor("gel", None) <= temperature_factor("gel", 0.0)
    assert battery_health(unknown).expected <= 0.7
    assert battery_health(unknown).basis == "unknown"


@given(st.floats(0.0, 30.0), st.floats(0.0, 30.0))
def test_an_older_battery_never_holds_more(a, b):
    young, old = (battery_health(Battery(nominal_v=24.0, capacity_ah_20h=50.0, age_years=x)) for x in sorted((a, b)))
    assert old.expected <= young.expected
    assert old.log_sd >= young.log_sd


@given(SHARES, SHARES, SHARES)
def test_more_charge_is_never_less_usable_and_never_negative(a, b, reserve):
    low, high = (usable_wh(1200.0, GEL, soc, reserve_soc=reserve, temperature_c=10.0) for soc in sorted((a, b)))
    assert 0.0 <= low <= high <= full_wh(1200.0, GEL, temperature_c=10.0)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"nominal_v": 240.0}, "nominal_v must be from 6 to 100, got 240.0. Most power chairs have 24"),
        ({"capacity_ah_20h": float("nan")}, "capacity_ah_20h must be from 4 to 400, got nan"),
        ({"chemistry": "acid"}, "chemistry must be one of agm, gel, flooded, lithium, got 'acid'"),
        ({"health": 80.0}, "health must be from 0.05 to 1, got 80.0"),
    ],
)
def test_bad_battery_values_name_field_value_and_remedy(fields, message):
    with pytest.raises(InputError, match=message.replace(".", r"\.")):
        Battery(**{"nominal_v": 24.0, "capacity_ah_20h": 50.0, **fields})


def test_percent_where_a_share_is_wanted_is_refused():
    with pytest.raises(InputError, match=r"soc must be from 0 to 1, got 60.*60 % is 0\.6"):
        usable_wh(1200.0, GEL, 60, reserve_soc=0.2)
