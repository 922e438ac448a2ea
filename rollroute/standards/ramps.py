"""How long a ramp must be."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollroute.errors import InputError
from rollroute.standards.presets import CEILING_GRADE, Standard


@dataclass(frozen=True, slots=True, kw_only=True)
class RampLayout:
    """A ramp of equal runs: horizontal lengths in metres; ``total_m`` counts the spaces at both ends too."""

    run_m: float
    n_runs: int
    n_landings: int  # between runs
    total_m: float


def ramp_length_m(rise_m: float, grade: float = CEILING_GRADE) -> float:
    """Horizontal length of a ramp that rises ``rise_m`` at ``grade``.

    Raises
    ------
    InputError
        If the rise is negative or the grade is not above 0.

    Examples
    --------
    >>> round(ramp_length_m(30 * 0.0254), 3)  # 30 in at 1:12 is 30 ft
    9.144
    """
    if not (math.isfinite(rise_m) and rise_m >= 0.0 and math.isfinite(grade) and grade > 0.0):
        raise InputError(f"ramp: rise must be >= 0 m and grade > 0, got {rise_m!r} m and {grade!r}.")
    return rise_m / grade


def lay_out_ramp(rise_m: float, standard: Standard) -> RampLayout:
    """The shortest ramp of equal runs at the standard's steepest grade, with landings where it asks for them.

    A run is as long as the table of lengths, the largest rise and the longest run allow.
    Spaces at both ends take ``end_landing_m``, or ``landing_length_m`` where the standard states only that.
    """
    grade = standard.max_grade
    length_m = ramp_length_m(rise_m, grade)
    rise_most_m = standard.bound("ramp_rise_m")
    run_most_m = min(standard.max_length_m(grade), math.inf if rise_most_m is None else rise_most_m / grade)
    n_runs = max(1, math.ceil(length_m / run_most_m - 1e-9)) if length_m else 0
    landing_m = standard.bound("landing_length_m") or 0.0
    end_m = standard.bound("end_landing_m") or landing_m
    n_landings = max(0, n_runs - 1)
    total_m = length_m + n_landings * landing_m + (2 * end_m if n_runs else 0.0)
    return RampLayout(run_m=length_m / n_runs if n_runs else 0.0, n_runs=n_runs, n_landings=n_landings, total_m=total_m)
