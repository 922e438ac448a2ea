"""Riders of a move, one row each; every field may be unknown."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict

from rollroute.inputs.move_fields import (
    UNKNOWN_WORDS,
    Degrees,
    LengthCm,
    LifeSupport,
    MassKg,
    Minutes,
    Moment,
    Watts,
    Words,
    YesNo,
)

Consent = Literal["agreed", "asked", "not asked", "declined"]
CONSENT_WORDS = {
    "agreed": ("agreed", "yes", "y", "agree", "consented", "true", "x"),
    "asked": ("asked", "pending", "waiting", "thinking"),
    "not asked": ("not asked", "not yet", "to ask"),
    "declined": ("declined", "no", "n", "refused", "stays", "false"),
}
CHARGER_WORDS = {
    "on board": ("on board", "onboard", "built in", "yes"),
    "with the rider": ("with the rider", "with rider", "carried", "bag", "own", "travels"),
    "at the stop": ("at the stop", "at shelter", "at the shelter", "there"),
    "missing": ("missing", "lost", "none", "no", "left behind", "at home"),
}

ALIASES = {
    "id": ("rider", "rider_id", "code", "no", "nr"),
    "place": ("address", "where", "location", "home", "start"),
    "lat": ("latitude",),
    "lon": ("lng", "long", "longitude"),
    "chair": ("chair_class", "wheelchair", "chair_file", "chair_type", "power_chair"),
    "charge": ("battery", "gauge", "charge_now", "battery_now"),
    "rider_mass_kg": ("rider_mass", "weight", "rider_weight", "mass", "weight_kg", "body_weight"),
    "load_mass_kg": ("load_mass", "bags", "luggage", "bags_kg"),
    "chair_mass_kg": ("chair_mass", "chair_weight"),
    "chair_width_cm": ("chair_width", "width"),
    "chair_length_cm": ("chair_length", "length", "length_with_footrests"),
    "seated_height_cm": ("seated_height", "height_seated", "head_height"),
    "charger": ("charger_where", "where_is_the_charger"),
    "charger_watts": ("charger_w", "charger_power"),
    "securable": ("tie_down", "tie_downs", "can_be_tied_down", "securement"),
    "may_transfer": ("transfer", "seat_transfer", "can_transfer"),
    "life_support_min": ("life_support", "power_dependent", "device_minutes", "life_support_minutes"),
    "longest_roll_min": ("longest_roll", "max_roll", "max_roll_min", "longest_drive"),
    "longest_ride_min": ("longest_ride", "max_ride", "max_ride_min", "longest_in_van"),
    "longest_outdoors_min": ("longest_outdoors", "max_outdoors", "longest_outside", "max_outside_min"),
    "latest_arrival": ("latest", "latest_time", "latest_arrival_time", "must_arrive_by", "arrive_by"),
    "ready_from": ("ready", "ready_at", "earliest", "earliest_departure"),
    "only_to": ("only_shelter", "goes_only_to", "wants_to_go_to"),
    "drives_to_street": ("door_to_street", "gets_to_street", "reaches_street", "own_door"),
    "stay_with": ("stays_with", "must_stay_with", "together_with", "with"),
    "companions": ("carers", "carer", "helpers", "comes_with"),
    "consent": ("agreed", "asked", "agreement", "rider_agreed", "agreed_asked_not_asked"),
    "note": ("notes", "remarks", "comment", "comments"),
}

BAD_SIDE = {
    "place": "not planned until somebody says where the rider is",
    "chair": "a chair of which nothing is known: widest, weakest battery, lowest kerb",
    "charge": "the lowest reading that the gauge allows; none known: no rolling",
    "rider_mass_kg": "a heavy rider (assumption in move.toml), so that a lift is not overloaded",
    "chair_length_cm": "the longest of its class: it must fit the lift's platform",
    "seated_height_cm": "a tall rider (assumption in move.toml), so that the door is not too low",
    "charger": "no charger: no charging",
    "charger_watts": "a large charger when outlets are shared, a slow one for charging time",
    "securable": "tie-down not known: never a reason to refuse, the driver is told",
    "may_transfer": "never moved to another seat",
    "life_support_min": "a socket is kept and must be reached within the assumed minutes",
    "longest_roll_min": "the coordinator's own limit for everybody, or less",
    "longest_ride_min": "the assumed ride limit",
    "longest_outdoors_min": "the assumed limit outdoors",
    "latest_arrival": "no time is held that nobody has named: ask",
    "drives_to_street": "the first metres from the door are not mapped: a place that nobody has verified",
    "consent": "not asked: planned for, shown as undecided",
}


def _choice(words: dict[str, tuple[str, ...]], value: Any, kind: str) -> str | None:
    text = re.sub(r"\s+", " ", str(value or "")).strip().lower()
    if text in UNKNOWN_WORDS:
        return None
    for meaning, spellings in words.items():
        if text in spellings:
            return meaning
    raise ValueError(f"not a known {kind}. Write one of: {', '.join(words)}, or leave it empty.")


def _ids(value: Any) -> tuple[str, ...]:
    if isinstance(value, tuple):
        return value
    text = str(value or "").strip()
    return () if text.lower() in UNKNOWN_WORDS | {"none", "nobody"} else tuple(p for p in re.split(r"[\s,;+&]+", text) if p)


class Rider(BaseModel):
    """A rider as the coordinator knows them. ``None`` is *not known*; ``BAD_SIDE`` says what is then planned with.

    ``life_support_min``: minutes that carried power lasts from the start of the move; infinity = no such need.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=True)

    id: str
    place: Words = None
    lat: Degrees = None
    lon: Degrees = None
    chair: Words = None
    charge: Words = None
    rider_mass_kg: MassKg = None
    load_mass_kg: MassKg = None
    chair_mass_kg: MassKg = None
    chair_width_cm: LengthCm = None
    chair_length_cm: LengthCm = None
    seated_height_cm: LengthCm = None
    charger: Annotated[
        Literal["on board", "with the rider", "at the stop", "missing"] | None,
        BeforeValidator(lambda v: _choice(CHARGER_WORDS, v, "place of a charger")),
    ] = None
    charger_watts: Watts = None
    securable: YesNo = None
    may_transfer: YesNo = None
    life_support_min: LifeSupport = None
    longest_roll_min: Minutes = None
    longest_ride_min: Minutes = None
    longest_outdoors_min: Minutes = None
    latest_arrival: Moment = None
    ready_from: Moment = None
    drives_to_street: YesNo = None  # from the own door to the street in this chair, by the rider's own word
    only_to: Words = None  # the one shelter that the rider wants to go to; the way home uses it, too
    stay_with: Annotated[tuple[str, ...], BeforeValidator(_ids)] = ()
    companions: int = 0
    consent: Annotated[Consent | None, BeforeValidator(lambda v: _choice(CONSENT_WORDS, v, "answer"))] = None
    note: Words = None

    def goes_to(self, shelter: str) -> bool:
        """Whether the rider would go to ``shelter`` at all."""
        return self.only_to is None or self.only_to.casefold() == shelter.casefold()
