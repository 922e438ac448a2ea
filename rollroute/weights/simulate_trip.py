"""Play one trip many times with every uncertain thing drawn anew: the outside check of ``scenario``, sharing none of its code.

It takes the same tables of assumptions and the same calibrated numbers of the chair, but its own physics, written once more.
A run draws the shared factors once, cuts the way into stretches, and draws what differs from stretch to stretch for each.
Pieces are cut where stretches end, so how a map happens to divide the way changes nothing but the draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.battery import Battery, battery_health, chemistry_row
from rollroute.inputs.charge import ChargeReading
from rollroute.inputs.tables import load_table
from rollroute.weights.energy import Drive

__all__ = ["HEALTH_LAWS", "Draws", "Outset", "Trip", "TripRuns", "simulate_trip"]

Floats = npt.NDArray[np.float64]
HEALTH_LAWS = ("assumed", "uniform", "weak_tail", "all_weaker")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """A way as driven: (n,) float64 each, none NaN. ``speed_m_s`` is the expected speed."""

    length_m: Floats
    grade: Floats
    crr_ratio: Floats
    speed_m_s: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Outset:
    """What is known of battery, charge and weather when the trip starts."""

    battery: Battery
    reading: ChargeReading
    reserve_soc: float
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """How often and from which laws to draw.

    ``health_law``: ``assumed`` (lognormal about the table of batteries), or one of the other laws of ``data/scenario.toml``.
    """

    seed: int
    n_runs: int = 1000
    health_law: str = "assumed"

    def __post_init__(self) -> None:
        if self.health_law not in HEALTH_LAWS:
            raise InputError(f"health_law must be one of {', '.join(HEALTH_LAWS)}, got {self.health_law!r}.")
        if self.n_runs < 1:
            raise InputError(f"n_runs must be 1 or more, got {self.n_runs!r}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TripRuns:
    """One entry per run: energy used [Wh], driving time [s], state of charge at the start above the reserve [-], full energy [Wh].

    ``energy_to_stop_wh`` is the part used before a charging stop, where ``charged_wh`` is added; all of it and none where there is no stop.
    """

    energy_wh: Floats
    time_s: Floats
    soc_above_reserve: Floats
    full_wh: Floats
    energy_to_stop_wh: Floats
    charged_wh: float

    @property
    def usable_wh(self) -> Floats:
        """Energy above the reserve; negative where the charge was below it from the start."""
        return self.full_wh * self.soc_above_reserve

    def energy_cover(self) -> float:
        """Share of runs whose energy sufficed, to the stop and to the end."""
        reaches_stop = self.energy_to_stop_wh <= self.usable_wh
        return float(np.mean(reaches_stop & (self.energy_wh <= self.usable_wh + self.charged_wh)))

    def time_cover(self, planned_s: float) -> float:
        """Share of runs that arrived within ``planned_s``."""
        return float(np.mean(self.time_s <= planned_s))


def simulate_trip(trip: Trip, drive: Drive, outset: Outset, draws: Draws, *, stop: tuple[float, float] | None = None) -> TripRuns:
    """Play ``trip`` once per draw; same seed, same runs.

    ``stop`` is a charging stop: metres from the start, and the energy charged there [Wh], taken as given.
    """
    random = np.random.default_rng(draws.seed)
    table, n_runs, battery = load_table("scenario"), draws.n_runs, outset.battery
    consumption = np.exp(random.normal(0.0, table["consumption"][drive.basis]["log_sd"], n_runs))
    pace = np.exp(random.normal(0.0, table["pace"]["log_sd"], n_runs))
    tilt = random.normal(0.0, table["height"]["grade_bias_sd"], n_runs)
    stop_m, charged_wh = stop or (float(trip.length_m.sum()), 0.0)
    energy, to_stop, time = _drive_runs(trip, drive, np.column_stack((consumption, pace, tilt)), stop_m, random)
    health = _draw_health(battery, draws.health_law, n_runs, random)
    return TripRuns(
        energy_wh=energy,
        time_s=time,
        full_wh=drive.rated_wh * health * _draw_temperature(battery, outset.temperature_c, n_runs, random),
        soc_above_reserve=_draw_charge(outset.reading, n_runs, random) - outset.reserve_soc,
        energy_to_stop_wh=to_stop,
        charged_wh=charged_wh,
    )


def _cut(trip: Trip, stretch_m: float, stop_m: float) -> tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.int64], Floats]:
    """Length, piece, stretch and middle of every part that lies in one piece, one stretch and on one side of the stop."""
    ends = np.cumsum(trip.length_m)
    marks = np.unique(np.concatenate(([0.0, min(stop_m, float(ends[-1]))], ends, np.arange(0.0, float(ends[-1]), stretch_m))))
    marks = marks[np.concatenate(([True], np.diff(marks) > 1e-9))]
    middles = (marks[:-1] + marks[1:]) / 2.0
    piece_of = np.minimum(np.searchsorted(ends, middles), len(ends) - 1)
    return np.diff(marks), piece_of.astype(np.int64), (middles / stretch_m).astype(np.int64), middles


def _drive_runs(trip: Trip, drive: Drive, shared: Floats, stop_m: float, random: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Energy, energy to the stop, and time of each run; ``shared`` holds consumption, time and tilt per run.

    Loops over parts of the way, so memory stays small.
    """
    table = load_table("scenario")
    piece, n_runs = table["piece"], len(shared)
    lengths, piece_of, stretch_of, middles = _cut(trip, float(piece["correlation_m"]), stop_m)
    n_stretches = int(stretch_of[-1]) + 1
    rough = _mean_one(random, float(piece["energy_log_sd"]), (n_stretches, n_runs))
    slow = _mean_one(random, float(piece["time_log_sd"]), (n_stretches, n_runs))
    wobble = random.normal(0.0, float(table["height"]["grade_sd"]), (n_stretches, n_runs))
    energy, to_stop, time = np.zeros(n_runs), np.zeros(n_runs), np.zeros(n_runs)
    for length_m, i, k, middle_m in zip(lengths, piece_of, stretch_of, middles, strict=True):
        planned_s = length_m / trip.speed_m_s[i]
        seconds = planned_s * shared[:, 1] * slow[k]
        angle = np.arctan(trip.grade[i] + shared[:, 2] + wobble[k])
        pull_n = drive.mass_kg * 9.80665 * (drive.crr_hard_floor * trip.crr_ratio[i] * np.cos(angle) + np.sin(angle))
        motor_j = np.clip(pull_n, 0.0, None) / drive.drive_efficiency * length_m * shared[:, 0] * rough[k]
        steady_j = (drive.electronics_w + drive.loads_w) * seconds
        amperes = (motor_j + steady_j) / planned_s / drive.nominal_v
        penalty = np.clip(amperes / drive.reference_a, 1.0, None) ** (drive.peukert_k - 1.0)
        used_wh = (motor_j + steady_j) * penalty / 3600.0
        energy += used_wh
        to_stop += used_wh if middle_m < stop_m else 0.0
        time += seconds
    return energy, to_stop, time


def _mean_one(random: np.random.Generator, log_sd: float, shape: tuple[int, int]) -> Floats:
    return np.exp(random.normal(-(log_sd**2) / 2.0, log_sd, shape))


def _draw_health(battery: Battery, law: str, n_runs: int, random: np.random.Generator) -> Floats:
    health = battery_health(battery)
    if law == "uniform":
        half = np.sqrt(3.0) * health.log_sd * health.expected
        return random.uniform(health.expected - half, health.expected + half, n_runs)
    drawn: Floats = health.expected * np.exp(random.normal(0.0, health.log_sd, n_runs))
    if law == "assumed":
        return drawn
    row = load_table("scenario")["health_law"][law]
    is_weak = random.uniform(size=n_runs) < float(row.get("share", 1.0))
    return np.where(is_weak, drawn * float(row["factor"]), drawn)


def _draw_temperature(battery: Battery, temperature_c: float, n_runs: int, random: np.random.Generator) -> Floats:
    rows = load_table("batteries")["temperature"][chemistry_row(battery.chemistry)["temperature_table"]]
    drawn = random.normal(temperature_c, load_table("scenario")["temperature"]["sd_c"], n_runs)
    share: Floats = np.minimum(1.0, np.interp(drawn, rows["celsius"], rows["share"]))
    return share


def _draw_charge(reading: ChargeReading, n_runs: int, random: np.random.Generator) -> Floats:
    """Truth of a reading: even on either side of ``expected``, one in ten below ``low``, one in ten above ``high``; cut to 0..1."""
    far = np.where(random.uniform(size=n_runs) < 0.5, reading.low, reading.high)
    return np.clip(reading.expected + 1.25 * random.uniform(size=n_runs) * (far - reading.expected), 0.0, 1.0)
