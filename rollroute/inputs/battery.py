"""The battery: what it holds at a current, an age and a temperature, and how much of that may be used.

``soc`` (state of charge) runs from 0 to 1 *of the battery as it is today*: a worn battery at ``soc`` 1 holds its health times its label.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.tables import load_table

__all__ = [
    "CHEMISTRIES",
    "RATED_HOURS",
    "Battery",
    "Health",
    "battery_health",
    "capacity_ah",
    "chemistry_row",
    "full_wh",
    "peukert_exponent",
    "peukert_hours",
    "peukert_k",
    "temperature_factor",
    "usable_wh",
]

CHEMISTRIES = ("agm", "gel", "flooded", "lithium")
RATED_HOURS = 20.0  # the rate that labels of chair batteries are printed at (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """The pair of batteries of a chair, as their labels and their age say; ``None`` is unknown and takes the bad side."""

    nominal_v: float
    capacity_ah_20h: float  # label of one battery of the series pair, 20-hour rate
    chemistry: str | None = None  # one of CHEMISTRIES
    peukert_k: float | None = None
    age_years: float | None = None
    health: float | None = None  # measured share of the label that it still holds, 0 < health <= 1

    def __post_init__(self) -> None:
        _check("nominal_v", self.nominal_v, 6.0, 100.0, "Most power chairs have 24.")
        _check("capacity_ah_20h", self.capacity_ah_20h, 4.0, 400.0, "Give the Ah printed on one battery of the pair.")
        _check("peukert_k", self.peukert_k, 1.0, 1.8, "Leave it out if unknown.")
        _check("age_years", self.age_years, 0.0, 30.0, "Leave it out if unknown.")
        _check("health", self.health, 0.05, 1.0, "Give a measured share of the label, or leave it out.")
        if self.chemistry is not None and self.chemistry not in CHEMISTRIES:
            known = ", ".join(CHEMISTRIES)
            raise InputError(f"battery: chemistry must be one of {known}, got {self.chemistry!r}. Leave it out if unknown.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """Share of the label that a battery still holds: middle estimate and the standard deviation of its logarithm."""

    expected: float
    log_sd: float
    basis: str  # "measured", "age" or "unknown"


def _check(name: str, value: float | None, low: float, high: float, remedy: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise InputError(f"battery: {name} must be from {low:g} to {high:g}, got {value!r}. {remedy}")


def chemistry_row(chemistry: str | None) -> Mapping[str, Any]:
    """The row of ``data/batteries.toml`` for a chemistry; ``unknown`` holds the bad side of each property."""
    row: Mapping[str, Any] = load_table("batteries")["chemistry"][chemistry or "unknown"]
    return row


def peukert_k(battery: Battery) -> float:
    """Peukert exponent: the file's, else the default of its chemistry [-]."""
    return battery.peukert_k if battery.peukert_k is not None else float(chemistry_row(battery.chemistry)["peukert_k"])


def peukert_hours(capacity_ah: float, rated_hours: float, current_a: float, k: float) -> float:
    r"""Hours that a battery lasts at a constant current.

    .. math:: t = H \left( \frac{C}{I H} \right)^k

    ``capacity_ah`` is the capacity C at its ``rated_hours`` H. The form with a capacity at 1 A, :math:`t = C_p / I^k`, is the
    same with ``rated_hours = capacity_ah``; a caller must know which of the two its capacity is.

    Examples
    --------
    >>> round(peukert_hours(100.0, 100.0, 5.0, 1.2), 4)  # 1-A form, worked example published by electrotechnik.net, 2010
    14.4956
    >>> round(peukert_hours(100.0, 20.0, 10.0, 1.2), 4)  # 20-hour form (from memory: 8.7 h)
    8.7055
    """
    return float(rated_hours * (capacity_ah / (current_a * rated_hours)) ** k)


def peukert_exponent(hours_1: float, current_1_a: float, hours_2: float, current_2_a: float) -> float:
    """Exponent from two discharge tests: log(t2/t1) / log(I1/I2) (formula printed in battery-monitor manuals)."""
    return math.log(hours_2 / hours_1) / math.log(current_1_a / current_2_a)


def capacity_ah(battery: Battery, hours: float) -> float:
    r"""Capacity at another rate than the label's 20 h: :math:`C_h = C_{20} (h/20)^{(k-1)/k}` [Ah], by Peukert's law."""
    k = peukert_k(battery)
    return float(battery.capacity_ah_20h * (hours / RATED_HOURS) ** ((k - 1.0) / k))


def battery_health(battery: Battery) -> Health:
    """Health of the battery: measured, else by age, else the default for an unknown one, well under 1 (all assumptions in the table)."""
    table = load_table("batteries")["health"]
    if battery.health is not None:
        return Health(expected=battery.health, log_sd=float(table["measured"]["log_sd"]), basis="measured")
    if battery.age_years is None:
        row = table["unknown"]
        return Health(expected=float(row["expected"]), log_sd=float(row["log_sd"]), basis="unknown")
    by_age = table["by_age"]
    expected, log_sd = (float(np.interp(battery.age_years, by_age["years"], by_age[name])) for name in ("expected", "log_sd"))
    return Health(expected=expected, log_sd=log_sd, basis="age")


def temperature_factor(chemistry: str | None, temperature_c: float | None) -> float:
    """Share of the capacity at 25 °C that is there at a temperature, interpolated in the table; heat gives no credit above 1.

    Unknown temperature takes the table's bad side. Below the coldest row the last slope goes on, never below 0.
    """
    table = load_table("batteries")
    if temperature_c is None:
        temperature_c = float(table["temperature"]["unknown_c"])
    if not (math.isfinite(temperature_c) and -60.0 <= temperature_c <= 70.0):
        raise InputError(f"temperature must be from -60 to 70 °C, got {temperature_c!r}.")
    rows = table["temperature"][chemistry_row(chemistry)["temperature_table"]]
    at, share = rows["celsius"], rows["share"]
    if temperature_c < at[0]:
        slope = (share[1] - share[0]) / (at[1] - at[0])
        return max(0.0, float(share[0] + slope * (temperature_c - at[0])))
    return min(1.0, float(np.interp(temperature_c, at, share)))


def full_wh(rated_wh: float, battery: Battery, *, temperature_c: float | None = None, health: float | None = None) -> float:
    """Energy between empty and full today [Wh]: rated × health × temperature.

    ``rated_wh`` is that of the new battery at the current it is counted at (``Drive.rated_wh``); ``health`` replaces the battery's own.
    """
    share = battery_health(battery).expected if health is None else health
    return rated_wh * share * temperature_factor(battery.chemistry, temperature_c)


def usable_wh(
    rated_wh: float, battery: Battery, soc: float, *, reserve_soc: float, temperature_c: float | None = None, health: float | None = None
) -> float:
    r"""Energy that may be spent before the reserve is touched [Wh], never negative.

    .. math:: E = E_{rated} \cdot health \cdot temperature \cdot (soc - reserve)

    Examples
    --------
    >>> from rollroute.inputs.battery import Battery
    >>> new = Battery(nominal_v=24.0, capacity_ah_20h=50.0, chemistry="gel", health=0.8)
    >>> round(usable_wh(1200.0, new, 0.6, reserve_soc=0.1, temperature_c=25.0), 6)  # 1200 × 0.8 × 1 × 0.5
    480.0
    """
    for name, value in (("soc", soc), ("reserve_soc", reserve_soc)):
        if not 0.0 <= value <= 1.0:
            raise InputError(f"{name} must be from 0 to 1, got {value!r}. 60 % is 0.6.")
    return full_wh(rated_wh, battery, temperature_c=temperature_c, health=health) * max(0.0, soc - reserve_soc)
