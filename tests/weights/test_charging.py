"""The charge table against a numerical integration, its concavity, and every reason for no charge."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from rollroute.errors import InputError
from rollroute.inputs.chair import Charger, find_chair
from rollroute.weights.charging import Outlet, charge_table, charging_current_a, charging_power_w, why_no_charging

HOUSEHOLD = Outlet(volts=120.0, amps=15.0)
B = dataclasses.replace(find_chair("en12184-b"), charger=Charger(current_a=8.0, place="with the rider"))


def with_battery(**fields):
    return dataclasses.replace(B, battery=dataclasses.replace(B.battery, **fields))


@pytest.mark.parametrize(("full_wh", "power_w", "loads_w"), [(600.0, 170.0, 0.0), (250.0, 60.0, 20.0), (1200.0, 400.0, 5.0)])
def test_the_table_lies_under_a_numerical_integration_by_at_most_its_stated_error(full_wh, power_w, loads_w):
    """Reference: dE/dt = P below the knee at 70 %, P (E_full - E) / (0.3 E_full) above, integrated by scipy (DOP853)."""
    table = charge_table(full_wh, power_w, chemistry="gel", loads_w=loads_w)
    gain_w = power_w - loads_w

    def rate(_seconds, charge):
        return gain_w / 3600.0 * np.minimum(1.0, (full_wh - charge) / (0.3 * full_wh))

    times = np.linspace(0.0, float(table.breakpoints_s[-1]), 2000)
    run = solve_ivp(rate, (0.0, times[-1]), [0.0], t_eval=times, method="DOP853", rtol=1e-10, atol=1e-9, max_step=60.0)
    below = run.y[0] - np.interp(times, table.breakpoints_s, table.breakpoints_wh)
    assert below.min() > -1e-4 * full_wh / 100.0
    assert below.max() <= table.max_error_wh
    assert table.max_error_wh == pytest.approx(0.002 * full_wh)


@settings(max_examples=60)
@given(st.floats(50.0, 3000.0), st.floats(30.0, 1500.0), st.sampled_from(["agm", "gel", "flooded", "lithium", None]), st.floats(0.0, 29.0))
def test_the_table_is_concave_and_rising(full_wh, power_w, chemistry, loads_w):
    """The search relies on it: more time never gives charge faster."""
    table = charge_table(full_wh, power_w, chemistry=chemistry, loads_w=loads_w)
    rates = np.diff(table.breakpoints_wh) / np.diff(table.breakpoints_s)
    assert np.all(np.diff(table.breakpoints_s) > 0.0)
    assert np.all(rates > 0.0)
    assert np.all(np.diff(rates) <= 1e-9 * rates[0])
    assert 0.98 * full_wh < table.breakpoints_wh[-1] < full_wh
    assert rates[0] == pytest.approx((power_w - loads_w) / 3600.0)


def test_the_time_constant_is_the_charge_balance():
    """A battery of 100 Wh at C/10: 0.3 × 100 / 10 = 3.0 h. After it, 1 - 1/e of the last 30 Wh: 88.96 Wh at 7 + 3 h (derived)."""
    table = charge_table(100.0, 10.0, chemistry="gel")
    at_wh = table.charge_after_wh(0.0, 10.0 * 3600.0)
    assert at_wh == pytest.approx(70.0 + 30.0 * (1.0 - math.exp(-1.0)), abs=table.max_error_wh)
    assert at_wh <= 70.0 + 30.0 * (1.0 - math.exp(-1.0)) + 1e-9


def test_charging_in_two_goes_gives_the_same():
    """Unplugging half-way neither wins nor loses charge."""
    table = charge_table(600.0, 170.0, chemistry="agm")
    half = table.charge_after_wh(200.0, 3600.0)
    assert table.charge_after_wh(half, 5000.0) == pytest.approx(table.charge_after_wh(200.0, 8600.0))
    assert table.seconds_to_wh(200.0, half) == pytest.approx(3600.0)


def test_the_last_percent_is_never_promised():
    table = charge_table(600.0, 170.0, chemistry="agm")
    assert table.seconds_to_wh(100.0, 600.0) == math.inf
    assert table.charge_after_wh(599.0, 3600.0) == 599.0
    assert table.seconds_to_wh(300.0, 200.0) == 0.0


def test_the_slowest_of_charger_outlet_and_share_counts():
    """8 A charger; 120 V × 15 A × 0.8 × 0.8 / 24 V = 48 A is no limit; a share of 180 W gives 180 × 0.8 / 24 = 6 A."""
    assert charging_current_a(B, HOUSEHOLD) == 8.0
    assert charging_current_a(B, dataclasses.replace(HOUSEHOLD, share_w=180.0)) == pytest.approx(6.0)
    assert charging_current_a(B, Outlet(volts=120.0, amps=1.0)) == pytest.approx(120.0 * 0.8 * 0.8 / 24.0)


def test_a_charger_of_unknown_current_counts_as_a_small_one():
    chair = dataclasses.replace(B, charger=Charger(place="on board"))
    assert charging_current_a(chair, HOUSEHOLD) == 5.0


def test_power_by_hand():
    """8 A × 24 V × 0.85 (lead-acid, vendor) = 163.2 W of usable energy."""
    assert charging_power_w(with_battery(chemistry="gel"), HOUSEHOLD) == pytest.approx(163.2)


@pytest.mark.parametrize(
    ("chair", "outlet", "celsius", "reason"),
    [
        (with_battery(chemistry="gel"), HOUSEHOLD, None, None),
        (with_battery(chemistry="gel"), HOUSEHOLD, -5.0, None),
        (with_battery(chemistry="lithium"), HOUSEHOLD, 0.0, None),
        (with_battery(chemistry="lithium"), HOUSEHOLD, -0.1, "cold"),
        (with_battery(chemistry="lithium"), HOUSEHOLD, None, "temperature unknown"),
        (with_battery(chemistry=None), HOUSEHOLD, -5.0, "cold"),
        (B, dataclasses.replace(HOUSEHOLD, is_open=None), 10.0, "closed"),
        (B, dataclasses.replace(HOUSEHOLD, has_power=None), 10.0, "power"),
        (B, dataclasses.replace(HOUSEHOLD, has_power=False), 10.0, "power"),
        (B, dataclasses.replace(HOUSEHOLD, share_w=0.0), 10.0, "share"),
        (dataclasses.replace(B, charger=Charger(place="missing")), HOUSEHOLD, 10.0, "charger missing"),
        (dataclasses.replace(B, charger=Charger(place="unknown")), HOUSEHOLD, 10.0, "charger unknown"),
        (dataclasses.replace(B, charger=Charger(place="at the stop")), HOUSEHOLD, 10.0, "charger unknown"),
        (dataclasses.replace(B, charger=Charger(place="missing")), dataclasses.replace(HOUSEHOLD, has_charger=True), 10.0, None),
    ],
)
def test_no_charge_is_promised_on_a_guess(chair, outlet, celsius, reason):
    """Lithium charges from 0 °C up only (vendors: plating below); unknown power, opening, charger or chemistry count as no."""
    assert why_no_charging(chair, outlet, temperature_c=celsius) == reason


def test_loads_that_eat_the_power_are_refused():
    with pytest.raises(InputError, match=r"60 W into 600 Wh with 60 W of loads gains nothing"):
        charge_table(600.0, 60.0, chemistry="gel", loads_w=60.0)


def test_an_outlet_is_checked():
    with pytest.raises(InputError, match=r"outlet: volts must be above 0 and at most 480, got 0"):
        Outlet(volts=0.0, amps=15.0)
