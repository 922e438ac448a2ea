"""How hard a stopped chair is to push, and how many people that takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollroute.output.itinerary import Itinerary
from rollroute.units import STANDARD_GRAVITY_M_S2

PUSH_PER_HELPER_N = 150.0  # assumption: what one adult can push for minutes on wet ground; change it if your helpers differ
LEAST_HELPERS = 2  # assumption: one pushes, one watches chair and way


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """Force to keep the chair rolling, and helpers: on the flat and on the steepest slope of the way (``grade`` >= 0)."""

    flat_n: float
    flat_helpers: int
    grade: float
    slope_n: float
    slope_helpers: int


def push_force_n(mass_kg: float, crr: float, grade: float) -> float:
    r"""Force along the ground that keeps a free-wheeling chair rolling uphill at a steady pace.

    .. math:: F = m g (C_{rr} \cos\theta + \sin\theta), \quad \theta = \arctan(grade)

    ``crr`` is the chair's value on a hard floor; soft ground takes more. Same formula as the drive's wheel force.

    Examples
    --------
    >>> round(push_force_n(200.0, 0.015, 0.0), 1)  # 200 * 9.80665 * 0.015
    29.4
    """
    theta = math.atan(grade)
    return mass_kg * STANDARD_GRAVITY_M_S2 * (crr * math.cos(theta) + math.sin(theta))


def helpers_for(force_n: float) -> int:
    """People who push that much together, never fewer than ``LEAST_HELPERS``.

    Examples
    --------
    >>> helpers_for(30.0), helpers_for(301.0)
    (2, 3)
    """
    return max(math.ceil(force_n / PUSH_PER_HELPER_N), LEAST_HELPERS)


def push_on(itinerary: Itinerary) -> Push:
    """The push on the flat and on the steepest known slope of the way, up or down (holding back needs the like)."""
    chair = itinerary.chair
    steepest = max((abs(p.grade) for p in itinerary.pieces if p.grade is not None), default=0.0)
    flat = push_force_n(chair.total_mass_kg, chair.crr_hard_floor, 0.0)
    slope = push_force_n(chair.total_mass_kg, chair.crr_hard_floor, steepest)
    return Push(flat_n=flat, flat_helpers=helpers_for(flat), grade=steepest, slope_n=slope, slope_helpers=helpers_for(slope))
