"""Force, power, energy, speed and time of a chair on a piece of way, and the calibration that they rest on.

All formulas work on arrays; a NaN grade gives NaN, never a free ride.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.battery import RATED_HOURS, battery_health, capacity_ah, peukert_k
from rollroute.inputs.chair import Chair
from rollroute.units import J_PER_WH, S_PER_H, STANDARD_GRAVITY_M_S2

__all__ = [
    "ESCORT_SPEED_M_S",
    "TEST_RIDER_MASS_KG",
    "Drive",
    "calibrate",
    "drive_pieces",
    "energy_wh_per_piece",
    "idle_wh",
    "level_range_km",
    "peukert_weight",
    "power_w",
    "speed_m_s",
    "time_s_per_piece",
    "wheel_force_n",
]

Floats = npt.NDArray[np.float64]

ESCORT_SPEED_M_S = 1.1  # assumption: a helper walking beside the chair; model default
TEST_RIDER_MASS_KG = 100.0  # EN 12184:2014, test dummy of the performance classes
CLIMB_SPEED_SHARE = 0.5  # assumption: the motors climb the rated slope at half the cruise speed
# What a calibration may imply (assumption): a little under the least published value of manual chairs, 0.0104 on tile, up to soft ground.
CRR_LIMITS = (0.008, 0.15)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What the energy formulas need of one loaded chair, calibrated.

    ``rated_wh`` is the energy of the new battery counted at ``reference_a``; above that current Peukert's law weighs the draw.
    ``basis``: ``log`` (the rider's own), ``range`` (the maker's theoretical range) or ``class`` (default of the class).
    """

    mass_kg: float  # chair, rider and bags
    crr_hard_floor: float
    drive_efficiency: float
    electronics_w: float
    loads_w: float
    regeneration: float
    nominal_v: float
    rated_wh: float
    reference_a: float
    peukert_k: float
    cruise_m_s: float
    max_wheel_w: float
    basis: str


def wheel_force_n(grade: npt.ArrayLike, mass_kg: npt.ArrayLike, crr: npt.ArrayLike) -> Floats:
    r"""Force at the wheels at a steady speed, negative where the chair would roll by itself.

    .. math:: F = m g (C_{rr} \cos\theta + \sin\theta), \quad \theta = \arctan(grade)

    Bearings and air are negligible at chair speed. ``grade`` is rise over run, uphill positive; NaN gives NaN.

    References
    ----------
    .. [1] University of Pittsburgh, Wheelchair Standards, article on rolling resistance (form of the formula).

    Examples
    --------
    >>> wheel_force_n(0.05, 200.0, 0.015).round(2)  # 200 × 9.80665 × (0.015 × 0.998752 + 0.049938)
    np.float64(127.33)
    """
    rise = np.asarray(grade, dtype=np.float64)
    weight_n = np.asarray(mass_kg, dtype=np.float64) * STANDARD_GRAVITY_M_S2
    # cos = 1 / sqrt(1 + grade²) and sin = grade × cos: three times faster than the angle's own functions on a city's pieces
    force: Floats = weight_n * (np.asarray(crr, dtype=np.float64) + rise) / np.sqrt(1.0 + rise * rise)
    return force


def power_w(force_n: npt.ArrayLike, speed: npt.ArrayLike, drive: Drive) -> Floats:
    r"""Power from the battery [W]: :math:`P = F v / \eta + P_{electronics} + P_{loads}`.

    Downhill gives no credit; where the chair states regeneration, what returns may pay for electronics and loads, never more.
    """
    force, v = np.asarray(force_n, dtype=np.float64), np.asarray(speed, dtype=np.float64)
    driving = np.maximum(force, 0.0) * v / drive.drive_efficiency
    returned = np.minimum(force, 0.0) * v * drive.drive_efficiency * drive.regeneration
    steady = drive.electronics_w + drive.loads_w
    power: Floats = driving + np.maximum(steady + returned, 0.0)
    return power


def peukert_weight(power: Floats, drive: Drive) -> Floats:
    r"""How much more charge a high current costs: :math:`\max(1, I / I_{ref})^{k-1}`, from the current of the calibration on."""
    over = np.asarray(power / (drive.nominal_v * drive.reference_a), dtype=np.float64)
    weight: Floats = np.where(np.isnan(over), np.nan, 1.0)
    np.power(over, drive.peukert_k - 1.0, out=weight, where=over > 1.0)
    return weight


def speed_m_s(
    grade: npt.ArrayLike,
    drive: Drive,
    *,
    surface_speed_factor: npt.ArrayLike = 1.0,
    crr_ratio: npt.ArrayLike = 1.0,
    escort_m_s: float | None = ESCORT_SPEED_M_S,
) -> Floats:
    """Speed on each piece: the lowest of chair × surface factor, escort, and what the motors can climb [m/s].

    ``escort_m_s=None``: nobody walks beside the chair. Downhill is driven as fast as level. NaN grade gives NaN.
    """
    force = wheel_force_n(grade, drive.mass_kg, drive.crr_hard_floor * np.asarray(crr_ratio, dtype=np.float64))
    return _speed_against(force, drive, np.asarray(surface_speed_factor, dtype=np.float64), escort_m_s)


def _speed_against(force_n: Floats, drive: Drive, surface_speed_factor: Floats, escort_m_s: float | None) -> Floats:
    most: Floats = drive.cruise_m_s * surface_speed_factor
    if escort_m_s is not None:
        most = np.minimum(most, escort_m_s)
    speed: Floats = np.minimum(most, drive.max_wheel_w / np.maximum(force_n, 1e-9))  # NaN stays NaN
    return speed


def time_s_per_piece(length_m: npt.ArrayLike, speed: npt.ArrayLike) -> Floats:
    """Driving time of each piece [s]; NaN speed gives NaN."""
    time: Floats = np.asarray(length_m, dtype=np.float64) / np.asarray(speed, dtype=np.float64)
    return time


def energy_wh_per_piece(
    length_m: npt.ArrayLike, grade: npt.ArrayLike, speed: npt.ArrayLike, crr_ratio: npt.ArrayLike, drive: Drive
) -> Floats:
    r"""Energy that the battery gives for each piece, in the terms of ``drive.rated_wh`` [Wh], in the middle case.

    .. math:: E = \frac{P}{3600} \frac{L}{v} \max(1, I/I_{ref})^{k-1}, \quad I = P / V

    Parameters
    ----------
    length_m, grade, speed, crr_ratio
        (n,) or scalars: length on the ground [m], rise over run in the direction of travel, speed [m/s], rolling resistance over that of
        the chair's hard floor. NaN in any gives NaN. Proportional to length, so cutting a piece changes nothing.

    Examples
    --------
    >>> from rollroute.inputs.chair import find_chair
    >>> drive = calibrate(find_chair("en12184-b"))
    >>> bool(np.isnan(energy_wh_per_piece(100.0, np.nan, 1.1, 1.0, drive)))
    True
    """
    force = wheel_force_n(grade, drive.mass_kg, drive.crr_hard_floor * np.asarray(crr_ratio, dtype=np.float64))
    return _energy_against(force, speed, time_s_per_piece(length_m, speed), drive)


def _energy_against(force_n: Floats, speed: npt.ArrayLike, time_s: Floats, drive: Drive) -> Floats:
    power = power_w(force_n, speed, drive)
    return np.asarray(power * time_s * peukert_weight(power, drive) / J_PER_WH, dtype=np.float64)


def drive_pieces(
    length_m: Floats, grade: Floats, drive: Drive, *, surface_speed_factor: Floats, crr_ratio: Floats, escort_m_s: float | None
) -> tuple[Floats, Floats]:
    """``(time_s, energy_wh)`` of many pieces at the speed of ``speed_m_s``: the same formulas, with the force worked out once."""
    force = wheel_force_n(grade, drive.mass_kg, drive.crr_hard_floor * crr_ratio)
    speed = _speed_against(force, drive, surface_speed_factor, escort_m_s)
    time_s = time_s_per_piece(length_m, speed)
    return time_s, _energy_against(force, speed, time_s, drive)


def idle_wh(seconds: npt.ArrayLike, drive: Drive, *, is_switched_on: bool = True) -> Floats:
    """Energy of standing still [Wh]: loads always, electronics while the chair is switched on."""
    watts = drive.loads_w + (drive.electronics_w if is_switched_on else 0.0)
    energy: Floats = watts * np.asarray(seconds, dtype=np.float64) / J_PER_WH
    return energy


def level_range_km(drive: Drive, *, speed: float | None = None) -> float:
    """Range on a level hard floor with the new, full battery at 25 °C [km]."""
    per_km = energy_wh_per_piece(1000.0, 0.0, drive.cruise_m_s if speed is None else speed, 1.0, drive)
    return drive.rated_wh / float(per_km)


def calibrate(chair: Chair, *, as_tested: bool = False) -> Drive:
    """Calibrated drive of a chair: by the rider's log, else the maker's range, else the class default.

    A range counts the 5-hour capacity of the new battery (theoretical range, ISO 7176-4, formula from memory) with a 100 kg dummy and no
    extra loads at the speed of the test; a log counts the battery at its expected health with this rider and these loads. Either gives the
    energy per kilometre on a level hard floor, and that gives the rolling resistance; gear, turning and tyre losses are inside it. A log
    over hills or rough ground therefore asks for more than needed, never for less. ``as_tested`` gives the chair as it was loaded and
    driven for its calibration (for checks).

    Raises
    ------
    InputError
        If the rolling resistance that follows is outside ``CRR_LIMITS``: range, battery or log in the file contradict each other.
    """
    battery = chair.battery
    five_hour_wh = battery.nominal_v * capacity_ah(battery, 5.0)
    if chair.log_distance_km is not None and chair.log_soc_used is not None:
        per_km = five_hour_wh * battery_health(battery).expected * chair.log_soc_used / chair.log_distance_km
        test = _Test("log", per_km, chair.log_speed_m_s or chair.speed_m_s, chair.total_mass_kg, chair.loads_w)
    elif chair.range_km is not None:
        mass_kg = chair.mass_kg + (chair.range_rider_mass_kg or TEST_RIDER_MASS_KG)
        test = _Test("range", five_hour_wh / chair.range_km, chair.range_speed_m_s or chair.speed_m_s, mass_kg, 0.0)
    else:
        amp_hours = battery.capacity_ah_20h
        return _drive(chair, chair.crr_hard_floor, battery.nominal_v * amp_hours, amp_hours / RATED_HOURS, "class")
    made = _drive(chair, _implied_crr(chair, test), five_hour_wh, test.watts / battery.nominal_v, test.basis)
    if as_tested:
        made = dataclasses.replace(made, mass_kg=test.mass_kg, cruise_m_s=test.speed_m_s, loads_w=test.loads_w)
    return made


@dataclass(frozen=True, slots=True)
class _Test:
    """One measured consumption on what counts as a level hard floor."""

    basis: str
    wh_per_km: float
    speed_m_s: float
    mass_kg: float
    loads_w: float

    @property
    def watts(self) -> float:
        return self.wh_per_km / 1000.0 * self.speed_m_s * S_PER_H


def _implied_crr(chair: Chair, test: _Test) -> float:
    """Solve the power formula on the level for the rolling resistance. The mean current of the test is the reference current."""
    wheel_n = (test.watts - chair.electronics_w - test.loads_w) / test.speed_m_s * chair.drive_efficiency
    crr = wheel_n / (test.mass_kg * STANDARD_GRAVITY_M_S2)
    if not CRR_LIMITS[0] <= crr <= CRR_LIMITS[1]:
        raise InputError(
            f"chair {chair.label!r}: its {test.basis} and battery imply {test.wh_per_km:.1f} Wh/km, a rolling resistance of {crr:.4f}, "
            f"outside {CRR_LIMITS[0]:g} to {CRR_LIMITS[1]:g}. Check {test.basis}, capacity_ah_20h and speed."
        )
    return crr


def _drive(chair: Chair, crr: float, rated_wh: float, reference_a: float, basis: str) -> Drive:
    rated_climb_n = float(wheel_force_n(chair.rated_grade, chair.mass_kg + TEST_RIDER_MASS_KG, crr))
    return Drive(
        mass_kg=chair.total_mass_kg,
        crr_hard_floor=crr,
        drive_efficiency=chair.drive_efficiency,
        electronics_w=chair.electronics_w,
        loads_w=chair.loads_w,
        regeneration=chair.regeneration,
        nominal_v=chair.battery.nominal_v,
        rated_wh=rated_wh,
        reference_a=reference_a,
        peukert_k=peukert_k(chair.battery),
        cruise_m_s=chair.speed_m_s,
        max_wheel_w=rated_climb_n * chair.speed_m_s * CLIMB_SPEED_SHARE,
        basis=basis,
    )
