"""Planned energy and time cover 95 ± 2 % of simulated trips, also under other laws of battery health than the assumed one.

Each case is the hardest that a plan allows: the trip *just* possible on planned figures (the battery's size is scaled to make it so).
4000 runs at fixed seeds: the standard error of a share near 0.95 is 0.35 %.
"""

import ast
import dataclasses
from pathlib import Path

import numpy as np
import pytest

from rollroute.errors import InputError
from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.weights import simulate_trip as module
from rollroute.weights.energy import calibrate, energy_wh_per_piece, speed_m_s, time_s_per_piece
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.simulate_trip import Draws, Outset, Trip, simulate_trip

CASES = [
    ("en12184-b", "60%", 1000.0, 0.02),
    ("en12184-b", "3 of 5 bars", 2500.0, 0.05),
    ("us-group3", "full", 5000.0, 0.0),
    ("en12184-a", "2 of 3 bars", 1000.0, 0.05),
    ("us-group2", "3 of 5 bars", 5000.0, 0.02),
    ("unknown", "60%", 2500.0, 0.02),
]


def make_trip(drive, length_m, hilliness, seed):
    """Uneven pieces of 5 to 120 m, grades about level with the given spread, a third of them on rougher ground."""
    random = np.random.default_rng(seed)
    lengths = random.uniform(5.0, 120.0, int(length_m / 40.0))
    lengths *= length_m / lengths.sum()
    grades = random.normal(0.0, hilliness, len(lengths))
    ratios = np.where(random.uniform(size=len(lengths)) < 0.67, 1.0, 1.5)
    return Trip(length_m=lengths, grade=grades, crr_ratio=ratios, speed_m_s=speed_m_s(grades, drive, crr_ratio=ratios))


def just_possible(name, text, length_m, hilliness, *, health_law="assumed", seed=7):
    """Runs of the trip that planned figures just allow, and its planned time."""
    chair = find_chair(name)
    drive = calibrate(chair)
    reading = parse_charge(text, minutes_since_charging=600.0)
    scenario = plan_scenario(chair, drive, reading, temperature_c=12.0)
    trip = make_trip(drive, length_m, hilliness, seed)
    planned_wh = energy_wh_per_piece(trip.length_m, trip.grade, trip.speed_m_s, trip.crr_ratio, drive).sum() * scenario.factors.energy
    planned_s = time_s_per_piece(trip.length_m, trip.speed_m_s).sum() * scenario.factors.time
    scaled = dataclasses.replace(drive, rated_wh=drive.rated_wh * planned_wh / scenario.planned_usable_wh)
    outset = Outset(battery=chair.battery, reading=reading, reserve_soc=scenario.reserve_soc, temperature_c=12.0)
    return simulate_trip(trip, scaled, outset, Draws(seed=seed, n_runs=4000, health_law=health_law)), planned_s


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("health_law", ["assumed", "uniform", "weak_tail"])
def test_planned_energy_covers_95_in_100_trips(case, health_law):
    """95 ± 2 % for a mix of trips (below and in ``test_cover.py``), half a percent more for a single one; laws in data/scenario.toml."""
    runs, _ = just_possible(*case, health_law=health_law)
    assert 0.93 <= runs.energy_cover() <= 0.975


@pytest.mark.parametrize("case", CASES)
def test_planned_time_covers_95_in_100_trips(case):
    runs, planned_s = just_possible(*case)
    assert 0.93 <= runs.time_cover(planned_s) <= 0.97


@pytest.mark.parametrize("case", CASES)
def test_a_town_whose_batteries_are_all_a_tenth_weaker_is_covered_less(case):
    """What the assumption is worth, said aloud: 93 % rather than 96 %. The check can fail, so the others mean something."""
    weaker, assumed = (just_possible(*case, health_law=law)[0].energy_cover() for law in ("all_weaker", "assumed"))
    assert 0.925 <= weaker < assumed - 0.01


def test_expected_figures_would_strand_about_every_second_rider():
    """Why planned figures exist: a trip just possible in the middle case fails about half of the time."""
    chair = find_chair("en12184-b")
    drive = calibrate(chair)
    reading = parse_charge("60%", battery_age_years=0.0, minutes_since_charging=600.0)
    scenario = plan_scenario(chair, drive, reading, temperature_c=12.0)
    trip = make_trip(drive, 2500.0, 0.02, 3)
    wh = energy_wh_per_piece(trip.length_m, trip.grade, trip.speed_m_s, trip.crr_ratio, drive).sum()
    scaled = dataclasses.replace(drive, rated_wh=drive.rated_wh * wh / scenario.expected_usable_wh)
    outset = Outset(battery=chair.battery, reading=reading, reserve_soc=scenario.reserve_soc, temperature_c=12.0)
    runs = simulate_trip(trip, scaled, outset, Draws(seed=3))
    assert 0.40 <= runs.energy_cover() <= 0.60


def test_the_simulators_middle_run_agrees_with_the_formulas():
    """Two programs, one physics: median energy and time within 4 % of the expected figures (grade noise adds a little, never takes)."""
    drive = calibrate(find_chair("en12184-b"))
    trip = make_trip(drive, 2500.0, 0.02, 5)
    outset = Outset(battery=find_chair("en12184-b").battery, reading=parse_charge("60%"), reserve_soc=0.2, temperature_c=12.0)
    runs = simulate_trip(trip, drive, outset, Draws(seed=5, n_runs=4000))
    wh = energy_wh_per_piece(trip.length_m, trip.grade, trip.speed_m_s, trip.crr_ratio, drive).sum()
    assert np.median(runs.energy_wh) == pytest.approx(wh, rel=0.04)
    assert np.median(runs.time_s) == pytest.approx(time_s_per_piece(trip.length_m, trip.speed_m_s).sum(), rel=0.04)


def test_same_seed_same_runs():
    first, second = (just_possible(*CASES[0])[0] for _ in range(2))
    assert np.array_equal(first.energy_wh, second.energy_wh)
    assert np.array_equal(first.usable_wh, second.usable_wh)


def test_the_simulator_shares_no_code_with_the_scenario():
    """It may take the drive's numbers and the tables of assumptions, but no function of scenario or energy."""
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    taken = {(node.module, name.name) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for name in node.names}
    assert not any(source and source.endswith("scenario") for source, _ in taken)
    assert {name for source, name in taken if source == "rollroute.weights.energy"} == {"Drive"}


def test_an_unknown_health_law_is_refused():
    with pytest.raises(InputError, match=r"health_law must be one of assumed, uniform, weak_tail, all_weaker, got 'rosy'"):
        just_possible(*CASES[0], health_law="rosy")


@pytest.mark.parametrize("text", ["60%", "3 of 5 bars", "2 of 3 bars", "full"])
@pytest.mark.parametrize("further", [0.5, 1.0, 3.0])
def test_a_trip_with_a_charging_stop_is_covered_too(text, further):
    """Reach the stop with nothing planned to spare, charge just enough for the rest (half, once, three times as far): at least 93 %.

    The other side is looser than without a stop (up to 99 %): the gauge's low end counts in full, and the factors cover alone.
    """
    chair = find_chair("en12184-b")
    drive = calibrate(chair)
    reading = parse_charge(text, minutes_since_charging=600.0)
    scenario = plan_scenario(chair, drive, reading, temperature_c=12.0, may_charge=True)
    trip = make_trip(drive, 1000.0 * (1.0 + further), 0.02, 1)
    planned = energy_wh_per_piece(trip.length_m, trip.grade, trip.speed_m_s, trip.crr_ratio, drive) * scenario.factors.energy
    to_stop_wh = float(np.interp(1000.0, np.cumsum(trip.length_m), np.cumsum(planned)))
    scaled = dataclasses.replace(drive, rated_wh=drive.rated_wh * to_stop_wh / scenario.planned_usable_wh)
    outset = Outset(battery=chair.battery, reading=reading, reserve_soc=scenario.reserve_soc, temperature_c=12.0)
    runs = simulate_trip(trip, scaled, outset, Draws(seed=3, n_runs=4000), stop=(1000.0, float(planned.sum()) - to_stop_wh))
    assert 0.93 <= runs.energy_cover() <= 0.99


def test_how_the_map_divides_the_way_changes_no_run():
    """Pieces cut anywhere (here in halves and thirds) give the very same runs, to rounding: draws belong to stretches of way."""
    drive = calibrate(find_chair("en12184-b"))
    trip = make_trip(drive, 1000.0, 0.02, 5)
    shares = np.tile([0.5, 1 / 3, 1 / 6], len(trip.length_m))
    columns = {f.name: np.repeat(getattr(trip, f.name), 3) for f in dataclasses.fields(trip)}
    cut = Trip(**{**columns, "length_m": columns["length_m"] * shares})
    outset = Outset(battery=find_chair("en12184-b").battery, reading=parse_charge("60%"), reserve_soc=0.2, temperature_c=12.0)
    whole, parts = (simulate_trip(t, drive, outset, Draws(seed=5, n_runs=200)) for t in (trip, cut))
    assert parts.energy_wh == pytest.approx(whole.energy_wh, rel=1e-9)
    assert parts.time_s == pytest.approx(whole.time_s, rel=1e-9)


@pytest.mark.parametrize("health_law", ["assumed", "uniform", "weak_tail", "all_weaker"])
def test_a_mixed_thousand_of_trips_is_covered(health_law):
    """The issue's own sentence: 1000 simulated trips. 100 different ways, chairs and readings at their limit, forty draws of each."""
    random = np.random.default_rng(11)
    names, texts = ("en12184-a", "en12184-b", "en12184-c", "us-group2", "us-group3"), ("60%", "3 of 5 bars", "full", "80%")
    chairs = {name: find_chair(name) for name in names}
    drives = {name: calibrate(chair) for name, chair in chairs.items()}
    readings = {text: parse_charge(text, battery_age_years=1.5) for text in texts}
    scenarios = {(n, t): plan_scenario(chairs[n], drives[n], readings[t], temperature_c=8.0) for n in names for t in texts}
    is_enough, is_in_time = [], []
    for i in range(100):
        name, text = names[random.integers(len(names))], texts[random.integers(len(texts))]
        drive, factors = drives[name], scenarios[name, text].factors
        trip = make_trip(drive, random.uniform(500.0, 5000.0), random.uniform(0.0, 0.05), i)
        planned_wh = energy_wh_per_piece(trip.length_m, trip.grade, trip.speed_m_s, trip.crr_ratio, drive).sum() * factors.energy
        scaled = dataclasses.replace(drive, rated_wh=drive.rated_wh * planned_wh / scenarios[name, text].planned_usable_wh)
        outset = Outset(
            battery=chairs[name].battery, reading=readings[text], reserve_soc=scenarios[name, text].reserve_soc, temperature_c=8.0
        )
        runs = simulate_trip(trip, scaled, outset, Draws(seed=i, n_runs=40, health_law=health_law))
        is_enough.append(runs.energy_cover())
        is_in_time.append(runs.time_cover(time_s_per_piece(trip.length_m, trip.speed_m_s).sum() * factors.time))
    assert 0.93 <= np.mean(is_enough) <= 0.97
    assert 0.93 <= np.mean(is_in_time) <= 0.97
