"""The planned case: never more hopeful than the expected one, additive, and set by its own stated rule."""

import dataclasses
import math
from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.inputs.chair import bundled_chairs, find_chair
from rollroute.inputs.charge import ChargeReading, parse_charge
from rollroute.inputs.tables import load_table
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import default_reserve_soc, plan_scenario

B = find_chair("en12184-b")
DRIVE = calibrate(B)
EXACT = ChargeReading(low=0.6, expected=0.6, high=0.6, words="measured")


@pytest.mark.parametrize("name", bundled_chairs())
@pytest.mark.parametrize("text", ["60%", "3 of 5 bars", "full", "red light", "unknown"])
def test_planned_is_never_more_hopeful_than_expected(name, text):
    """Energy and time at least, usable energy at most, the expected figure."""
    chair = find_chair(name)
    scenario = plan_scenario(chair, calibrate(chair), parse_charge(text), temperature_c=5.0)
    assert scenario.factors.energy > 1.0
    assert scenario.factors.time > 1.0
    assert 0.0 < scenario.factors.usable < 1.0
    assert scenario.planned_usable_wh <= scenario.expected_usable_wh
    assert scenario.planned_soc <= parse_charge(text).low


def test_an_exact_charge_gives_the_plain_design_point():
    """Without doubt about the charge, ln f_E - ln f_U = z sigma at the target share; each factor's part is its share of variance."""
    scenario = plan_scenario(B, DRIVE, EXACT, temperature_c=20.0)
    z = NormalDist().inv_cdf(load_table("scenario")["target"]["share"])
    sds = [p.log_sd for p in scenario.parts if p.name != "pace"]
    sigma = math.sqrt(sum(sd**2 for sd in sds))
    assert math.log(scenario.factors.energy / scenario.factors.usable) == pytest.approx(z * sigma, rel=1e-3)
    for part in scenario.parts:
        if part.name != "pace":
            assert abs(math.log(part.planned_multiplier)) == pytest.approx(z * part.log_sd**2 / sigma, rel=1e-3)


def test_quantiles_are_not_added_up():
    """Adding each factor's own 95 % would ask for clearly more: the scenario's product stays below the product of the quantiles."""
    scenario = plan_scenario(B, DRIVE, EXACT, temperature_c=20.0)
    one_by_one = math.exp(1.645 * sum(p.log_sd for p in scenario.parts if p.name != "pace"))
    assert scenario.factors.energy / scenario.factors.usable < 0.8 * one_by_one


def test_usable_energy_by_hand():
    """Expected: rated × 0.65 (unknown age) × 0.99 (20 °C) × (0.6 - 0.2)."""
    scenario = plan_scenario(B, DRIVE, EXACT, temperature_c=20.0)
    assert scenario.expected_usable_wh == pytest.approx(DRIVE.rated_wh * 0.65 * 0.99 * 0.4)
    assert scenario.planned_usable_wh == pytest.approx(scenario.expected_usable_wh * scenario.factors.usable)


def test_where_a_trip_may_charge_each_factor_is_enough_alone():
    """What a socket gives does not shrink with the battery: the energy factor alone covers a use that is all charged on the way.

    With q the quantile of the factors: ln f_E = q × sd of use, and ln f_E − ln f_U = q × sd of everything, for a leg on a full battery.
    """
    scenario = plan_scenario(B, DRIVE, EXACT, temperature_c=20.0, may_charge=True)
    use = [p for p in scenario.parts if p.name != "pace" and p.planned_multiplier > 1.0]
    store = [p for p in scenario.parts if p.planned_multiplier < 1.0]
    sd_use, sd_all = (math.sqrt(sum(p.log_sd**2 for p in parts)) for parts in (use, use + store))
    quantile = math.log(scenario.factors.energy) / sd_use
    assert quantile == pytest.approx(math.log(scenario.factors.energy / scenario.factors.usable) / sd_all, rel=1e-6)
    assert quantile >= NormalDist().inv_cdf(load_table("scenario")["target"]["charging_share"])
    assert math.prod(p.planned_multiplier for p in use) == pytest.approx(scenario.factors.energy)
    assert math.prod(p.planned_multiplier for p in store) == pytest.approx(scenario.factors.usable)


def test_a_measured_health_is_not_in_doubt_with_the_table():
    """That the middle of the table of health may be wrong matters only to whom the table is asked for."""
    measured = dataclasses.replace(B, battery=dataclasses.replace(B.battery, health=0.65))
    sds = [{p.name: p.log_sd for p in plan_scenario(c, DRIVE, EXACT, temperature_c=20.0).parts} for c in (measured, B)]
    assert sds[0]["health table"] == 0.0
    assert sds[1]["health table"] == load_table("scenario")["health_table"]["log_sd"] > 0.0


def test_a_better_calibration_promises_more():
    """Rider's log before maker's range before class default: less doubt, less margin."""
    drives = [dataclasses.replace(DRIVE, basis=basis) for basis in ("log", "range", "class")]
    factors = [plan_scenario(B, drive, EXACT, temperature_c=20.0).factors.energy for drive in drives]
    assert factors == sorted(factors)
    assert factors[0] < factors[2]


def test_the_reserve_is_a_bound_not_a_buffer():
    """A reading whose low end is at the reserve allows no planned energy at all."""
    reading = ChargeReading(low=0.2, expected=0.3, high=0.4, words="x")
    assert plan_scenario(B, DRIVE, reading, temperature_c=20.0).planned_usable_wh == 0.0


def test_lithium_keeps_a_smaller_reserve_and_unknown_the_larger():
    """Lead-acid to 80 % used, lithium to 90 % (from memory)."""
    assert default_reserve_soc("lithium") == 0.10
    assert default_reserve_soc("gel") == default_reserve_soc(None) == 0.20


@settings(max_examples=40, deadline=None)
@given(st.floats(0.25, 0.9), st.floats(0.0, 0.3), st.floats(0.0, 1.0))
def test_doubt_about_the_charge_never_lets_a_chair_drive_farther(expected, below, upside):
    """Compared on what can be driven, usable energy over the energy factor, with the same middle and no more upside than downside."""
    reading = ChargeReading(low=max(0.0, expected - below), expected=expected, high=min(1.0, expected + upside * below), words="x")
    sure = ChargeReading(low=reading.expected, expected=reading.expected, high=reading.expected, words="x")
    wide, exact = (plan_scenario(B, DRIVE, r, temperature_c=20.0) for r in (reading, sure))
    assert wide.planned_usable_wh / wide.factors.energy <= exact.planned_usable_wh / exact.factors.energy * (1.0 + 1e-3)


def test_a_bad_reserve_is_refused():
    with pytest.raises(InputError, match=r"reserve_soc must be from 0 to below 1, got 20"):
        plan_scenario(B, DRIVE, EXACT, temperature_c=20.0, reserve_soc=20)
