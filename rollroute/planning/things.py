"""What travels with a rider, there and back, to be ticked off at both doors. Says nothing about illness: a bag is a bag."""

from __future__ import annotations

import math

from rollroute.inputs.move_riders import Rider

CHAIR = "chair with headrest, footrests, cushion and joystick cover"
CHARGER_THERE = {
    "on board": "charger: built into the chair, check its cable",
    "with the rider": "charger and its cable",
    "at the stop": "charger: the shelter has one that fits",
    "missing": "charger: missing, look once more",
    None: "charger and its cable, wherever it is",
}
CHARGER_BACK = {
    **CHARGER_THERE,
    "at the stop": "charger: belongs to the shelter, stays there; the own one must be at home",
    "missing": "charger: missing when they came; one must be at home before they go",
    None: "charger: ask whose it is; without one nobody can go on",
}
SLING_IF_USED, SLING = "sling, if one is used to get into the chair", "sling and whatever lifts them"
BAG = "the bag that stays within reach, with its chargers and batteries"  # asked of everybody on the way there: it tells nobody apart
BAG_BACK = "the bag that stays within reach, its own charger and its spare batteries"
THE_REST = ("box with the daily things and papers", "phone and its charger", "tie-down straps or loops that belong to the chair", "keys")


def things_to_take(rider: Rider) -> tuple[str, ...]:
    """What to ask for when the rider is fetched, since whatever is left behind is missing tonight."""
    return (CHAIR, CHARGER_THERE[rider.charger], SLING_IF_USED if rider.may_transfer is not False else SLING, BAG, *THE_REST)


def things_of(rider: Rider) -> tuple[str, ...]:
    """What goes home with a rider."""
    things = [CHAIR, CHARGER_BACK[rider.charger], SLING_IF_USED if rider.may_transfer is not False else SLING]
    if rider.life_support_min is None or math.isfinite(rider.life_support_min):
        things.append(BAG_BACK)
    things += THE_REST
    if rider.companions:
        things.append(f"{rider.companions} who came along go back too")
    return tuple(things)
