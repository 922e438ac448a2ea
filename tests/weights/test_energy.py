"""Force, power and energy against hand sums and a published push-power case; calibration gives back what it was given."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.inputs.chair import bundled_chairs, find_chair
from rollroute.weights.energy import (
    calibrate,
    energy_wh_per_piece,
    idle_wh,
    level_range_km,
    power_w,
    speed_m_s,
    time_s_per_piece,
    wheel_force_n,
)

B = calibrate(find_chair("en12184-b"))
PLAIN = dataclasses.replace(
    B, mass_kg=200.0, crr_hard_floor=0.015, drive_efficiency=0.6, electronics_w=0.0, loads_w=0.0, reference_a=1000.0, max_wheel_w=1e6
)  # numbers that can be checked by hand; current always under the reference, so no Peukert weight
GRADES = st.floats(-0.15, 0.15)
RATIOS = st.floats(0.5, 10.0)
LENGTHS = st.floats(0.1, 2000.0)


def test_push_power_gives_the_published_formula():
    """medicalalgorithms.com, tile: F(kgf) = 0.018 bw - 0.461, plus (person + chair) sin(angle).

    80 kg person, 20 kg chair, 2 degrees, 50 m/min: 0.979 + 3.490 = 4.469 kgf; 223.4 kgf·m/min = 36.5 W.
    The source leaves out the cosine (0.06 % at 2 degrees).
    """
    kgf = wheel_force_n(math.tan(math.radians(2.0)), 100.0, 0.979 / 100.0) / 9.80665
    assert float(kgf) == pytest.approx(4.469, rel=2e-4)
    pusher = dataclasses.replace(PLAIN, drive_efficiency=1.0)
    assert float(power_w(kgf * 9.80665, 50.0 / 60.0, pusher)) == pytest.approx(36.5, abs=0.05)


def test_level_floor_by_hand():
    """200 kg × 9.80665 × 0.015 = 29.42 N; over 1 km 29 420 J = 8.17 Wh at the wheel, 13.62 Wh at the battery (efficiency 0.6)."""
    assert float(wheel_force_n(0.0, 200.0, 0.015)) == pytest.approx(29.42, abs=0.005)
    assert float(energy_wh_per_piece(1000.0, 0.0, 1.0, 1.0, PLAIN)) == pytest.approx(13.62, abs=0.005)


def test_one_percent_of_grade_costs_what_it_lifts():
    """200 kg lifted by 10 m in 1 km: 200 × 9.80665 × 10 / 3600 = 5.45 Wh at the wheel, 9.08 at the battery."""
    flat, up = (float(energy_wh_per_piece(1000.0, g, 1.0, 1.0, PLAIN)) for g in (0.0, 0.01))
    assert up - flat == pytest.approx(5.448 / 0.6, rel=1e-3)


def test_electronics_and_loads_are_paid_by_the_hour():
    """10 W + 20 W at 1 m/s over 3600 m: one hour, 30 Wh more. Standing still too."""
    loaded = dataclasses.replace(PLAIN, electronics_w=10.0, loads_w=20.0)
    more = energy_wh_per_piece(3600.0, 0.0, 1.0, 1.0, loaded) - energy_wh_per_piece(3600.0, 0.0, 1.0, 1.0, PLAIN)
    assert float(more) == pytest.approx(30.0)
    assert float(idle_wh(3600.0, loaded)) == pytest.approx(30.0)
    assert float(idle_wh(3600.0, loaded, is_switched_on=False)) == pytest.approx(20.0)


def test_above_the_reference_current_peukert_weighs_the_draw():
    """240 W at 24 V are 10 A, twice the reference of 5 A: 2^0.2 = 1.1487 times the energy. At 5 A: no weight."""
    drive = dataclasses.replace(PLAIN, electronics_w=240.0, crr_hard_floor=1e-9, reference_a=5.0, peukert_k=1.2)
    assert float(energy_wh_per_piece(3600.0, 0.0, 1.0, 1.0, drive)) == pytest.approx(240.0 * 2.0**0.2, rel=1e-6)
    at_reference = dataclasses.replace(drive, electronics_w=120.0)
    assert float(energy_wh_per_piece(3600.0, 0.0, 1.0, 1.0, at_reference)) == pytest.approx(120.0, rel=1e-6)


def test_downhill_gives_no_credit():
    """Free-wheeling 10 % down costs exactly what the electronics draw, never less."""
    drive = dataclasses.replace(PLAIN, electronics_w=10.0)
    assert float(energy_wh_per_piece(3600.0, -0.10, 1.0, 1.0, drive)) == pytest.approx(10.0)


def test_stated_regeneration_pays_for_electronics_at_most():
    """What returns is never stored: an edge never gives charge, so a longer way round can't look better than none."""
    drive = dataclasses.replace(PLAIN, electronics_w=10.0, regeneration=0.5)
    gentle, steep = (float(energy_wh_per_piece(3600.0, g, 1.0, 1.0, drive)) for g in (-0.016, -0.10))
    assert 0.0 < gentle < 10.0
    assert steep == 0.0


@pytest.mark.parametrize("where", ["length", "grade", "speed", "ratio"])
def test_missing_in_means_missing_out(where):
    """A slope nobody measured is never a free ride."""
    numbers = {"length": 50.0, "grade": -0.10, "speed": 1.0, "ratio": 1.0, where: np.nan}
    assert np.isnan(energy_wh_per_piece(numbers["length"], numbers["grade"], numbers["speed"], numbers["ratio"], B))


def test_missing_grade_means_missing_speed_and_time():
    speed = speed_m_s(np.array([0.0, np.nan]), B)
    assert np.isnan(speed).tolist() == [False, True]
    assert np.isnan(time_s_per_piece(10.0, speed)).tolist() == [False, True]


def test_speed_is_the_lowest_of_chair_escort_and_surface():
    """Class B cruises at 1.67 m/s: alone on asphalt 1.67, with a helper 1.1, on a surface of factor 0.5 0.835."""
    assert float(speed_m_s(0.0, B, escort_m_s=None)) == pytest.approx(1.67)
    assert float(speed_m_s(0.0, B)) == pytest.approx(1.1)
    assert float(speed_m_s(0.0, B, surface_speed_factor=0.5)) == pytest.approx(0.835)


def test_the_rated_slope_is_climbed_at_half_the_cruise_speed():
    """Assumption of the model, with the 100 kg test dummy and nothing else aboard."""
    chair = dataclasses.replace(find_chair("en12184-b"), rider_mass_kg=100.0, load_mass_kg=0.0)
    drive = calibrate(chair)
    assert float(speed_m_s(chair.rated_grade, drive, escort_m_s=None)) == pytest.approx(chair.speed_m_s / 2.0)


@pytest.mark.parametrize("name", [n for n in bundled_chairs() if n != "unknown"])
def test_a_chair_calibrated_by_its_range_gives_its_range_back(name):
    """Model, section 3. New battery, 25 °C, test dummy, speed of the test."""
    chair = find_chair(name)
    drive = calibrate(chair, as_tested=True)
    assert drive.basis == "range"
    assert level_range_km(drive) == pytest.approx(chair.range_km, rel=1e-9)


def test_a_riders_log_outranks_the_makers_range_and_comes_back():
    """8 km on 40 % of a full battery at health 0.8: the log's consumption, with this rider and loads, on the level."""
    chair = find_chair("en12184-b")
    battery = dataclasses.replace(chair.battery, health=0.8)
    logged = dataclasses.replace(chair, battery=battery, log_distance_km=8.0, log_soc_used=0.4, log_speed_m_s=1.2, loads_w=12.0)
    drive = calibrate(logged)
    assert drive.basis == "log"
    used = float(energy_wh_per_piece(8000.0, 0.0, 1.2, 1.0, drive))
    assert used == pytest.approx(0.4 * 0.8 * drive.rated_wh, rel=1e-9)


def test_without_range_and_log_the_class_value_is_taken():
    drive = calibrate(find_chair("unknown"))
    assert (drive.basis, drive.crr_hard_floor) == ("class", 0.05)
    assert drive.rated_wh == pytest.approx(24.0 * 31.0)


def test_a_riders_loads_do_not_make_the_chair_roll_better():
    """The maker tested without the rider's ventilator: its watts come on top, they don't replace rolling resistance."""
    chair = find_chair("en12184-b")
    assert calibrate(dataclasses.replace(chair, loads_w=60.0)).crr_hard_floor == calibrate(chair).crr_hard_floor


def test_a_range_that_the_battery_cannot_give_is_refused():
    """100 km from a pair of 50 Ah batteries would need a chair that rolls better than any."""
    with pytest.raises(InputError, match=r"its range and battery imply 9\.1 Wh/km.*Check range, capacity_ah_20h and speed"):
        calibrate(dataclasses.replace(find_chair("en12184-b"), range_km=100.0))


def test_implied_consumption_lies_where_it_should():
    """Order of magnitude only (derived, illustrative): 24 V × 35 Ah × 0.8 / 25 km = 27 Wh/km; all classes within a factor of 2."""
    for name in bundled_chairs():
        if name != "unknown":
            drive = calibrate(find_chair(name), as_tested=True)
            assert 13.5 < drive.rated_wh / level_range_km(drive) < 54.0


@given(LENGTHS, GRADES, RATIOS, st.floats(100.0, 400.0), st.floats(100.0, 400.0))
def test_more_mass_never_takes_less_energy_or_time(length, grade, ratio, a, b):
    light, heavy = (dataclasses.replace(B, mass_kg=m) for m in sorted((a, b)))
    slow, fast = (speed_m_s(grade, d, crr_ratio=ratio) for d in (heavy, light))
    assert slow <= fast
    light_wh, heavy_wh = (energy_wh_per_piece(length, grade, 1.0, ratio, d) for d in (light, heavy))
    assert light_wh <= heavy_wh * (1.0 + 1e-12)


@given(LENGTHS, GRADES, GRADES, RATIOS)
def test_steeper_never_takes_less(length, a, b, ratio):
    low, high = (energy_wh_per_piece(length, g, 0.8, ratio, B) for g in sorted((a, b)))
    assert 0.0 < low <= high * (1.0 + 1e-12)


@given(LENGTHS, GRADES, RATIOS, st.floats(0.01, 0.99))
def test_cutting_a_piece_in_two_changes_nothing(length, grade, ratio, cut):
    """Model, section 1: splitting an edge changes no energy and no time, to 1e-9."""
    speed = speed_m_s(grade, B, crr_ratio=ratio)
    whole = energy_wh_per_piece(length, grade, speed, ratio, B)
    parts = energy_wh_per_piece(np.array([length * cut, length * (1.0 - cut)]), grade, speed, ratio, B)
    assert float(parts.sum()) == pytest.approx(float(whole), rel=1e-9)


@given(st.floats(10.0, 500.0), GRADES, RATIOS, st.floats(100.0, 400.0), st.floats(100.0, 400.0))
def test_more_mass_never_takes_less_energy_at_the_chairs_own_speed(length, grade, ratio, a, b):
    """A heavier load also climbs slower: the electronics run longer, so nothing is won."""
    used = []
    for mass_kg in sorted((a, b)):
        drive = dataclasses.replace(B, mass_kg=mass_kg)
        used.append(float(energy_wh_per_piece(length, grade, speed_m_s(grade, drive, crr_ratio=ratio), ratio, drive)))
    assert used[0] <= used[1] * (1.0 + 1e-12)


@given(GRADES, st.floats(0.008, 0.15), st.floats(50.0, 400.0))
def test_the_force_is_that_of_the_angle(grade, crr, mass_kg):
    """The code avoids the angle for speed; here is the formula with it: m g (Crr cos + sin)."""
    theta = math.atan(grade)
    by_angle = mass_kg * 9.80665 * (crr * math.cos(theta) + math.sin(theta))
    assert float(wheel_force_n(grade, mass_kg, crr)) == pytest.approx(by_angle, rel=1e-12, abs=1e-9)
