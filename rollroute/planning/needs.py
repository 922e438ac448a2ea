"""What one rider needs, in numbers: unknown fields on the bad side, each named."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_settings import MoveSettings

LARGE_WIDTH_CM, LARGE_LENGTH_CM = 76.2, 122.0  # 30 x 48 in: securement area of 49 CFR 38.23(d)(2) (from memory); larger may block two
REFILL_EFFICIENCY = 0.70  # energy efficiency of charging lead-acid, facts of the trade (about 70 %)


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """One rider in numbers; minutes count from the start of the move, infinity = no limit.

    ``assumed`` names the fields that were not known and stand on the bad side.
    """

    rider: Rider
    chair: Chair
    occupied_mass_kg: float
    chair_mass_kg: float
    width_cm: float
    length_cm: float
    seated_height_cm: float
    is_large: bool
    soc_low: float
    battery_wh: float
    charger_w: float  # draw on the outlet
    has_charger: bool
    roll_limit_min: float
    ride_limit_min: float
    outdoors_limit_min: float
    socket_by_min: float  # the last planned minute to reach a socket, delay margin taken off
    keeps_socket: bool
    arrive_by_min: float
    ready_min: float
    assumed: tuple[str, ...]

    @property
    def id(self) -> str:
        """The rider's id."""
        return self.rider.id

    @property
    def refill_h(self) -> float:
        """Hours at the outlet to a full battery, from the low end of the gauge (charging losses counted, taper not shortened)."""
        return (1.0 - self.soc_low) * self.battery_wh / REFILL_EFFICIENCY / self.charger_w if self.has_charger else 0.0


def read_needs(rider: Rider, settings: MoveSettings) -> Needs:
    """Numbers for one rider.

    Raises
    ------
    InputError
        If the chair is no class and no file, or the charge can't be read.
    """
    assumed: list[str] = []
    assume = settings.assume

    def known(name: str, value: float | None, stand_in: float) -> float:
        if value is None:
            assumed.append(name)
            return stand_in
        return value

    chair = find_chair(rider.chair or "unknown")
    rider_mass = known("rider_mass_kg", rider.rider_mass_kg, assume.rider_mass_kg)
    load_mass = assume.load_mass_kg if rider.load_mass_kg is None else rider.load_mass_kg
    chair_mass = chair.mass_kg if rider.chair_mass_kg is None else rider.chair_mass_kg
    seated = rider.seated_height_cm or (chair.seated_height_m * 100 if chair.seated_height_m else None)
    if rider.chair_length_cm is None:
        assumed.append("chair_length_cm")
    length_cm = rider.chair_length_cm or (chair.length_m or 1.40) * 100  # assumption where none is stated: 1400 mm, class B of EN 12184
    width_cm = rider.chair_width_cm or chair.width_m * 100
    low = 0.0 if rider.charge is None else parse_charge(rider.charge, chair.gauge, battery_age_years=chair.battery.age_years).low
    roll_gate = settings.gates.longest_roll_min
    has_charger = rider.charger in ("on board", "with the rider", "at the stop")
    assumed += [f for f in ("chair", "charge", "charger", "consent", "may_transfer", "securable") if getattr(rider, f) is None]
    life_min = known("life_support_min", rider.life_support_min, assume.life_support_min)
    return Needs(
        rider=rider,
        chair=chair,
        occupied_mass_kg=rider_mass + load_mass + chair_mass,
        chair_mass_kg=chair_mass,
        width_cm=width_cm,
        length_cm=length_cm,
        seated_height_cm=known("seated_height_cm", seated, assume.seated_height_cm),
        is_large=width_cm > LARGE_WIDTH_CM or length_cm > LARGE_LENGTH_CM,
        soc_low=low,
        battery_wh=chair.battery.nominal_v * chair.battery.capacity_ah_20h,
        charger_w=rider.charger_watts or assume.charger_watts,
        has_charger=has_charger,
        roll_limit_min=min(known("longest_roll_min", rider.longest_roll_min, roll_gate), roll_gate),
        ride_limit_min=known("longest_ride_min", rider.longest_ride_min, assume.longest_ride_min),
        outdoors_limit_min=known("longest_outdoors_min", rider.longest_outdoors_min, assume.longest_outdoors_min),
        socket_by_min=life_min - settings.margins.life_support_delay_min,
        keeps_socket=math.isfinite(life_min),
        arrive_by_min=math.inf if rider.latest_arrival is None else settings.minute(rider.latest_arrival),
        ready_min=0.0 if rider.ready_from is None else max(0.0, settings.minute(rider.ready_from)),
        assumed=tuple(assumed),
    )
