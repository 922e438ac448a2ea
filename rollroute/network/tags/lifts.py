"""Lifts: car, door, load and floors.

OSM wiki, Tag:highway=elevator; Key:capacity; Key:maxweight; Key:door:width (seldom tagged: then unknown, not "fits").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rollroute.network.ranks import Rank
from rollroute.network.tags.doors import DoorKind, read_door
from rollroute.network.tags.levels import read_levels
from rollroute.network.tags.numbers import first_tag, read_count, read_length_m, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key
from rollroute.network.tags.roads import read_mass_limit_kg
from rollroute.network.tags.wheelchair import WheelchairFact, read_wheelchair

SMALLEST_M, LARGEST_M = 0.3, 10.0  # assumption: other figures are slips


@dataclass(frozen=True, slots=True)
class LiftFact:
    """A lift. ``works_without_mains`` is ``None`` unless tagged: lifts are assumed to fail with the mains."""

    width: Reading[float]
    length: Reading[float]
    door_width: Reading[float]
    door: Reading[DoorKind]
    mass_limit: Reading[float]
    capacity_persons: Reading[int]
    levels: Reading[tuple[float, ...]]
    wheelchair: WheelchairFact
    is_out_of_order: bool
    works_without_mains: bool | None
    problem: str | None = None


def read_lift(tags: Mapping[str, str]) -> LiftFact:
    """The tags of ``highway=elevator`` (or of a room that is a lift)."""
    width, length = _length(tags, "elevator:width", "width"), _length(tags, "elevator:length", "length", "elevator:depth", "depth")
    door_width = _length(tags, "elevator:door:width", "door:width")
    door, levels, mass = read_door(tags).kind, read_levels(tags), read_mass_limit_kg(tags)
    persons = first_tag(tags, "capacity:persons", "elevator:capacity", "capacity")
    capacity: Reading[int] = Reading(None, Rank.UNKNOWN) if persons is None else for_key(read_count(persons[1], "low"), persons[0])
    readings = (width, length, door_width, door, mass, capacity, levels)
    return LiftFact(
        width=width,
        length=length,
        door_width=door_width,
        door=door,
        mass_limit=mass,
        capacity_persons=capacity,
        levels=levels,
        wheelchair=read_wheelchair(tags),
        is_out_of_order=any(tidy(tags.get(key, "")) in values for key, values in _BROKEN.items()),
        works_without_mains={"yes": True, "no": False}.get(tidy(tags.get("emergency_power", tags.get("backup_power", "")))),
        problem="; ".join(r.problem for r in readings if r.problem) or None,
    )


_BROKEN = {
    "operational_status": {"broken", "out_of_order", "closed", "not_operational", "damaged"},
    "disused": {"yes"},
    "out_of_order": {"yes"},
}
"""``operational_status`` and ``emergency_power`` are in use without a settled wiki page: common practice."""


def _length(tags: Mapping[str, str], *keys: str) -> Reading[float]:
    found = first_tag(tags, *keys)
    return ABSENT if found is None else for_key(read_length_m(found[1], "low", SMALLEST_M, LARGEST_M), found[0])
