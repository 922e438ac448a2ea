r"""Expected and planned: the 95 % case of a trip as one scenario of shared factors, given to the search as plain multipliers.

A trip fails when the energy used exceeds the usable energy. In logarithms the distance to failure is a sum of nearly normal factors:
consumption, height bias, pace and the independent parts of the pieces on the one side, health and temperature on the other, and the charge
reading. The scenario is the most likely point at which the sum reaches the wanted quantile: each factor is moved against the rider in
proportion to its own variance (the design point of first-order reliability, Hasofer and Lind 1974, from memory),

.. math:: f_E = e^{s \sigma_E^2 / \sigma}, \quad f_U = e^{-s \sigma_U^2 / \sigma}, \quad \sigma^2 = \sigma_E^2 + \sigma_U^2 .

The charge is taken at the gauge's low end; ``s`` is then solved so that the trip that is just possible on planned figures is covered in the
target share of cases. Where a gauge is so coarse that this asks for more than ``cap_share``, the planned charge goes below its low end.

Where a trip may charge on the way, what a socket gives does not shrink with a weak battery: then :math:`f_E = e^{z \sigma_E}` must cover
alone, and :math:`f_U = e^{-z (\sigma - \sigma_E)}` adds what a leg on a full battery needs on top. Any share of the two in between is then
covered at least as well, since :math:`(\sigma_E + w (\sigma - \sigma_E))^2 \ge \sigma_E^2 + w^2 \sigma_U^2` for :math:`0 \le w \le 1`.

Health is doubtful twice: each battery about the middle of the table, and the middle of the table itself (no published one was found).

So quantiles are never added piece by piece, and every weight stays additive along the way. The same holds for time, with pace and
independent parts. ``simulate_trip`` checks it without sharing this code.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.battery import battery_health, full_wh, temperature_factor
from rollroute.inputs.chair import Chair
from rollroute.inputs.charge import ChargeReading
from rollroute.inputs.tables import load_table
from rollroute.weights.energy import ESCORT_SPEED_M_S, Drive, energy_wh_per_piece

__all__ = ["FactorPart", "PlannedFactors", "Scenario", "default_reserve_soc", "plan_scenario"]

_STANDARD = NormalDist()
_GRID = [(i + 0.5) / 400.0 for i in range(400)]  # midpoints in probability, for the charge reading
READING_STRETCH = 1.25  # ends of the truth over ends of the reading: a tenth lies below ``low`` and a tenth above ``high``


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedFactors:
    """Multipliers that turn expected figures into planned ones: ``energy``, ``time`` >= 1, ``usable`` <= 1."""

    energy: float
    time: float
    usable: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorPart:
    """One uncertain factor for print: its spread, and what it is multiplied with in the planned case. All are assumptions."""

    name: str
    log_sd: float
    planned_multiplier: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Both cases of one chair under one set of conditions.

    ``full_wh`` is the energy between empty and full today; charge in watt hours is ``soc × full_wh``; usable counts from the reserve.
    """

    factors: PlannedFactors
    expected_full_wh: float
    planned_full_wh: float
    expected_soc: float
    planned_soc: float  # the low end of the reading, or below it for a very coarse gauge
    reserve_soc: float
    parts: tuple[FactorPart, ...]

    @property
    def expected_usable_wh(self) -> float:
        """Energy above the reserve, middle case [Wh]."""
        return self.expected_full_wh * max(0.0, self.expected_soc - self.reserve_soc)

    @property
    def planned_usable_wh(self) -> float:
        """Energy above the reserve, planned case [Wh]: what a search may spend of planned energy."""
        return self.planned_full_wh * max(0.0, self.planned_soc - self.reserve_soc)


def default_reserve_soc(chemistry: str | None) -> float:
    """Reserve below which no plan goes: lead-acid (and unknown) or lithium."""
    return float(load_table("scenario")["reserve"]["lithium" if chemistry == "lithium" else "lead"])


def plan_scenario(
    chair: Chair,
    drive: Drive,
    reading: ChargeReading,
    *,
    temperature_c: float | None,
    reserve_soc: float | None = None,
    may_charge: bool = False,
) -> Scenario:
    """Build the scenario of a trip.

    Parameters
    ----------
    chair, drive
        The chair and its calibration (:func:`rollroute.weights.energy.calibrate`).
    reading
        The charge as an interval (:func:`rollroute.inputs.charge.parse_charge`).
    temperature_c
        Forecast for the trip; ``None`` takes the bad side.
    reserve_soc
        ``None``: :func:`default_reserve_soc`.
    may_charge
        The trip may charge on the way. What the gauge's low end adds to the margin weighs less once much has been charged, so the shared
        factors then cover ``charging_share`` alone; a trip that then does not charge is covered better than the target.
    """
    reserve = default_reserve_soc(chair.battery.chemistry) if reserve_soc is None else reserve_soc
    if not 0.0 <= reserve < 1.0:
        raise InputError(f"reserve_soc must be from 0 to below 1, got {reserve!r}. 20 % is 0.2.")
    use, store = _energy_spreads(drive), _usable_spreads(chair, temperature_c)
    variance_use, variance_store = (sum(sd**2 for sd in spreads.values()) for spreads in (use, store))
    sigma = math.sqrt(variance_use + variance_store)
    planned_soc, quantile = _solve_reading(reading, reserve, sigma, may_charge)
    # What is drawn at a socket does not shrink with the battery, so then the energy factor must do alone; the rest falls to the battery.
    log_energy = quantile * (math.sqrt(variance_use) if may_charge else variance_use / sigma)
    log_usable = quantile * sigma - log_energy
    time_sd = _time_log_sd()
    factors = PlannedFactors(
        energy=math.exp(log_energy),
        time=math.exp(_STANDARD.inv_cdf(_target("time_share")) * time_sd),
        usable=math.exp(-log_usable),
    )
    rated = full_wh(drive.rated_wh, chair.battery, temperature_c=temperature_c)
    steps = log_energy / variance_use, -log_usable / variance_store
    parts = [
        FactorPart(name=name, log_sd=sd, planned_multiplier=math.exp(step * sd**2))
        for spreads, step in zip((use, store), steps, strict=True)
        for name, sd in spreads.items()
    ]
    return Scenario(
        factors=factors,
        expected_full_wh=rated,
        planned_full_wh=rated * factors.usable,
        expected_soc=reading.expected,
        planned_soc=planned_soc,
        reserve_soc=reserve,
        parts=(*parts, FactorPart(name="pace", log_sd=time_sd, planned_multiplier=factors.time)),
    )


def _target(name: str) -> float:
    return float(load_table("scenario")["target"][name])


def _energy_spreads(drive: Drive) -> dict[str, float]:
    """Spread of the energy of a trip by cause, at the reference length, on the level hard floor (where a tilt weighs most)."""
    table: dict[str, Any] = dict(load_table("scenario"))
    piece, height = table["piece"], table["height"]
    speed = min(drive.cruise_m_s, ESCORT_SPEED_M_S)
    level = float(energy_wh_per_piece(1.0, 0.0, speed, 1.0, drive))
    per_grade = (float(energy_wh_per_piece(1.0, 0.01, speed, 1.0, drive)) / level - 1.0) / 0.01
    steady_share = (drive.electronics_w + drive.loads_w) / (level * speed * 3600.0)
    thinned = math.sqrt(piece["correlation_m"] / piece["reference_m"])
    is_weighed = level * speed * 3600.0 / drive.nominal_v > drive.reference_a  # then a higher draw also weighs more, by Peukert's law
    return {
        "consumption": float(table["consumption"][drive.basis]["log_sd"]) * (drive.peukert_k if is_weighed else 1.0),
        "height bias": per_grade * float(height["grade_bias_sd"]),
        "pace in energy": steady_share * float(table["pace"]["log_sd"]),
        "pieces": thinned * math.hypot(float(piece["energy_log_sd"]), per_grade * float(height["grade_sd"])),
    }


def _usable_spreads(chair: Chair, temperature_c: float | None) -> dict[str, float]:
    """Spread of the usable energy by cause, without the charge reading."""
    health = battery_health(chair.battery)
    spreads = {"health": health.log_sd, "health table": 0.0, "temperature": 0.0}
    if health.basis != "measured":
        spreads["health table"] = float(load_table("scenario")["health_table"]["log_sd"])
    if temperature_c is not None:  # an unknown temperature already took the bad side
        sd_c = float(load_table("scenario")["temperature"]["sd_c"])
        cold, warm = (temperature_factor(chair.battery.chemistry, temperature_c + d) for d in (-sd_c, sd_c))
        spreads["temperature"] = math.log(warm / cold) / 2.0 if cold > 0.0 else 1.0
    return spreads


def _time_log_sd() -> float:
    table = load_table("scenario")
    piece = table["piece"]
    thinned = float(piece["time_log_sd"]) * math.sqrt(piece["correlation_m"] / piece["reference_m"])
    return math.hypot(float(table["pace"]["log_sd"]), thinned)


def _solve_reading(reading: ChargeReading, reserve_soc: float, sigma: float, may_charge: bool) -> tuple[float, float]:
    """Planned state of charge, and standard deviations by which the shared factors are moved, so that the target share is covered.

    The truth of a reading is even on each side of ``expected``, out to ``READING_STRETCH`` times the ends, cut to 0..1.
    Where the low end is at the reserve nothing may be driven, and the plain quantile is returned.
    """
    target, floor, cap = (_STANDARD.inv_cdf(_target(name)) for name in ("share", "floor_share", "cap_share"))
    if reading.low <= reserve_soc:
        return reading.low, target
    floor = _STANDARD.inv_cdf(_target("charging_share")) if may_charge else floor
    truths = [_truth(reading, p) - reserve_soc for p in _GRID]

    def is_covered(planned: float, quantile: float) -> bool:
        shares = (_STANDARD.cdf(quantile + math.log(t / planned) / sigma) if t > 0.0 else 0.0 for t in truths)
        return sum(shares) / len(truths) >= _target("share")

    at_low = reading.low - reserve_soc
    if is_covered(at_low, floor):
        return reading.low, floor
    if is_covered(at_low, cap):
        return reading.low, _least(floor, cap, lambda quantile: is_covered(at_low, quantile))
    return reserve_soc + at_low * (1.0 - _least(0.0, 1.0, lambda share: is_covered(at_low * (1.0 - share) + 1e-12, cap))), cap


def _truth(reading: ChargeReading, probability: float) -> float:
    side = 2.0 * probability - 1.0
    width = (reading.expected - reading.low) if side < 0.0 else (reading.high - reading.expected)
    return min(1.0, max(0.0, reading.expected + READING_STRETCH * side * width))


def _least(low: float, high: float, holds: Callable[[float], bool]) -> float:
    """Least number in [low, high] from which ``holds`` is true, to a millionth; ``high`` if it never is."""
    while high - low > 1e-6:
        middle = (low + high) / 2.0
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
