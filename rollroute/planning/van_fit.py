"""Whether a van can take a chair: the van's own figures, not a common size, decide (49 CFR 37.165(b), from memory)."""

from __future__ import annotations

from rollroute.inputs.move_vehicles import Van
from rollroute.planning.needs import Needs

# What stands in for a van's unknown figures: the least that the rules ask of a lift vehicle.
LIFT_RATING_KG = 272.0  # 600 lb, 49 CFR 38.23(b)(1)
PLATFORM_WIDTH_CM = 76.0  # 30 in at 51 mm to 760 mm above the platform, 49 CFR 38.23(b)(6) (from memory)
PLATFORM_LENGTH_CM = 122.0  # 48 in, same
DOOR_HEIGHT_CM = 142.0  # 56 in, small vehicle, 36 CFR 1192 (2016) T502.2.2


def fits(needs: Needs, van: Van, *, is_apart: bool = False) -> list[str]:
    """Why ``van`` can't take this chair, in words; empty where it can.

    ``is_apart``: the chair goes up the lift without its rider.
    A chair that can't be tied down, or of which nobody knows, is no reason: the driver is told, a seat transfer is offered, never required.
    """
    rating = LIFT_RATING_KG if van.lift_rating_kg is None else van.lift_rating_kg
    mass = needs.chair_mass_kg if is_apart else needs.occupied_mass_kg
    width = PLATFORM_WIDTH_CM if van.platform_width_cm is None else van.platform_width_cm
    length = PLATFORM_LENGTH_CM if van.platform_length_cm is None else van.platform_length_cm
    door = DOOR_HEIGHT_CM if van.door_height_cm is None else van.door_height_cm
    reasons = []
    if mass > rating:
        reasons.append(f"lift rated {rating:.0f} kg, {mass:.0f} kg would stand on it")
    if needs.width_cm > width:
        reasons.append(f"platform {width:.0f} cm wide, the chair {needs.width_cm:.0f} cm")
    if needs.length_cm > length:
        reasons.append(f"platform {length:.0f} cm long, the chair {needs.length_cm:.0f} cm")
    if not is_apart and needs.seated_height_cm > door:
        reasons.append(f"door {door:.0f} cm high, the rider sits {needs.seated_height_cm:.0f} cm high")
    return reasons
