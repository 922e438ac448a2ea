"""Vans with a lift or ramp, and the people who walk along."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict

from rollroute.inputs.move_fields import UNKNOWN_WORDS, Count, Degrees, LengthCm, MassKg, Minutes, Moment, Words, YesNo

VAN_ALIASES = {
    "id": ("van", "van_id", "name", "vehicle", "call_sign"),
    "place": ("start", "start_place", "address", "depot", "base"),
    "start_lat": ("lat", "latitude"),
    "start_lon": ("lon", "lng", "longitude"),
    "lift_rating_kg": ("lift_rating", "lift", "ramp_rating", "rating", "lift_or_ramp_rating", "lift_limit"),
    "platform_width_cm": ("platform_width", "lift_width", "ramp_width"),
    "platform_length_cm": ("platform_length", "lift_length", "platform_depth"),
    "door_height_cm": ("door_height", "door"),
    "positions": ("securement_positions", "chair_positions", "chairs", "spaces", "places"),
    "large_chair_blocks": ("large_blocks", "large_chair_takes", "big_chair_blocks"),
    "companion_seats": ("seats", "companions", "passenger_seats"),
    "vehicle_height_cm": ("vehicle_height", "height", "overall_height"),
    "lift_side": ("side", "lift_at", "door_side"),
    "load_min": ("load", "loading_min", "minutes_to_load"),
    "unload_min": ("unload", "unloading_min", "minutes_to_unload"),
    "available_from": ("from", "hours_from", "starts"),
    "available_to": ("to", "until", "hours_to", "ends"),
    "fuel_min": ("fuel", "fuel_minutes", "range_min"),
    "driver": ("driver_name", "crew"),
    "note": ("notes", "remarks", "comment"),
}

ESCORT_ALIASES = {
    "id": ("escort", "name", "helper", "volunteer", "escort_id"),
    "place": ("address", "base", "where", "start"),
    "lat": ("latitude", "start_lat"),
    "lon": ("lng", "longitude", "start_lon"),
    "available_from": ("from", "starts", "hours_from"),
    "available_to": ("to", "until", "ends", "hours_to"),
    "stairs_trained": ("stairs", "carry_trained", "trained", "stair_crew"),
    "ramp": ("carries_ramp", "portable_ramp"),
    "note": ("notes", "remarks", "comment", "skills"),
}

VAN_BAD_SIDE = {
    "lift_rating_kg": "272 kg (600 lb), the least design load of 49 CFR 38.23(b)(1)",
    "platform_width_cm": "76 cm (30 in), the least of 49 CFR 38.23(b)(6)",
    "platform_length_cm": "122 cm (48 in), the least of 49 CFR 38.23(b)(6)",
    "door_height_cm": "142 cm (56 in), a small vehicle, 36 CFR 1192 (2016) T502.2.2",
    "positions": "one chair",
    "large_chair_blocks": "a large chair takes two positions",
    "companion_seats": "no seat for a companion",
    "vehicle_height_cm": "289 cm: only loading zones with the clearance of ADA 503.5, or none stated",
    "lift_side": "the driver checks the kerb side at every stop",
    "available_from": "later, by the assumption in move.toml",
    "available_to": "only for the assumed hours in move.toml",
}


def _side(value: Any) -> str | None:
    text = str(value or "").strip().lower()
    if text in UNKNOWN_WORDS:
        return None
    if text not in {"left", "right", "rear", "back", "l", "r"}:
        raise ValueError("not a side. Write left, right or rear.")
    return {"l": "left", "r": "right", "back": "rear"}.get(text, text)


class Van(BaseModel):
    """A van that takes a chair with its rider aboard. ``None`` is *not known*; ``VAN_BAD_SIDE`` says what is then planned with."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    place: Words = None
    start_lat: Degrees = None
    start_lon: Degrees = None
    lift_rating_kg: MassKg = None
    platform_width_cm: LengthCm = None
    platform_length_cm: LengthCm = None
    door_height_cm: LengthCm = None
    positions: Count = None
    large_chair_blocks: Count = None
    companion_seats: Count = None
    vehicle_height_cm: LengthCm = None
    lift_side: Annotated[Literal["left", "right", "rear"] | None, BeforeValidator(_side)] = None
    load_min: Minutes = None
    unload_min: Minutes = None
    available_from: Moment = None
    available_to: Moment = None
    fuel_min: Minutes = None
    driver: Words = None
    note: Words = None


class Escort(BaseModel):
    """Somebody who walks with a rolling chair and has to get back."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    place: Words = None
    lat: Degrees = None
    lon: Degrees = None
    available_from: Moment = None
    available_to: Moment = None
    stairs_trained: YesNo = None
    ramp: YesNo = None
    note: Words = None
