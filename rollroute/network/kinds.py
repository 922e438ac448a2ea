"""Kinds of way, and what each means for a person who sits, before any fact is known.

Keys and values are those of the OSM wiki pages Key:highway, Key:footway, Key:service, Key:indoor and Key:area.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum

from rollroute.units import M_PER_MILE

Tags = Mapping[str, str]


class WayKind(IntEnum):
    """What a piece of way is."""

    FOOTWAY = 1
    SIDEWALK = 2
    CROSSING = 3
    PATH = 4
    PEDESTRIAN = 5
    CYCLEWAY = 6
    STEPS = 7
    RAMP = 8
    ELEVATOR = 9
    CORRIDOR = 10
    PLATFORM = 11
    LIVING_STREET = 12
    RESIDENTIAL = 13
    SERVICE = 14
    DRIVEWAY = 15
    PARKING_AISLE = 16
    TRACK = 17
    BUSY_ROAD = 18  # tertiary and above, or faster than 40 km/h
    FAST_ROAD = 19  # trunk, or 60 km/h and above
    CONSTRUCTION = 20
    ESCALATOR = 21


_FOOT = {
    "footway": WayKind.FOOTWAY,
    "path": WayKind.PATH,
    "pedestrian": WayKind.PEDESTRIAN,
    "cycleway": WayKind.CYCLEWAY,
    "steps": WayKind.STEPS,
    "elevator": WayKind.ELEVATOR,
    "corridor": WayKind.CORRIDOR,
    "platform": WayKind.PLATFORM,
    "bridleway": WayKind.PATH,
    "track": WayKind.TRACK,
    "living_street": WayKind.LIVING_STREET,
    "construction": WayKind.CONSTRUCTION,
}
_SERVICE = {"driveway": WayKind.DRIVEWAY, "parking_aisle": WayKind.PARKING_AISLE}
_ROADS = {"residential", "unclassified", "road", "tertiary", "secondary", "primary", "trunk", "busway"} | {
    f"{road}_link" for road in ("tertiary", "secondary", "primary", "trunk")
}
BUSY_FROM_KMH = 40.0  # assumption: above this a carriageway is not shared with a chair
FAST_FROM_KMH = 60.0  # assumption

CARRIAGEWAY_KINDS = frozenset({
    WayKind.RESIDENTIAL, WayKind.SERVICE, WayKind.DRIVEWAY, WayKind.PARKING_AISLE, WayKind.LIVING_STREET, WayKind.BUSY_ROAD,
    WayKind.FAST_ROAD,
})  # fmt: skip
STREET_KINDS = frozenset({WayKind.RESIDENTIAL, WayKind.BUSY_ROAD, WayKind.FAST_ROAD})  # kinds that have kerbs along them
WALK_KINDS = frozenset({
    WayKind.FOOTWAY, WayKind.SIDEWALK, WayKind.PATH, WayKind.PEDESTRIAN, WayKind.CYCLEWAY, WayKind.RAMP, WayKind.PLATFORM,
})  # fmt: skip
JOINABLE_KINDS = (WALK_KINDS | CARRIAGEWAY_KINDS | {WayKind.CORRIDOR}) - {WayKind.FAST_ROAD}
PAVED_KINDS = frozenset({
    WayKind.SIDEWALK, WayKind.CROSSING, WayKind.RESIDENTIAL, WayKind.LIVING_STREET, WayKind.BUSY_ROAD, WayKind.FAST_ROAD,
    WayKind.PARKING_AISLE,
})  # fmt: skip


def way_kind(tags: Tags) -> WayKind | None:
    """The kind of a way, or ``None`` where nobody travels on it, on foot or in a chair.

    Motorways, railways, raceways and ways that are only planned give ``None``; so do rooms without a level.
    """
    highway = tags.get("highway")
    if highway is None:
        return _indoor_kind(tags)
    if highway in ("footway", "path") and tags.get("footway") == "sidewalk":
        return WayKind.SIDEWALK
    if highway in ("footway", "path", "cycleway") and "crossing" in (tags.get("footway"), tags.get("path"), tags.get("cycleway")):
        return WayKind.CROSSING
    if highway == "footway" and tags.get("ramp") == "yes":
        return WayKind.RAMP
    if highway == "steps" and tags.get("conveying", "no") != "no":
        return WayKind.ESCALATOR
    if highway in _FOOT:
        return _FOOT[highway]
    if highway == "service":
        return _SERVICE.get(tags.get("service", ""), WayKind.SERVICE)
    return _road_kind(highway, tags) if highway in _ROADS else None


def _indoor_kind(tags: Tags) -> WayKind | None:
    if tags.get("indoor") in ("room", "corridor", "area", "yes") and ("level" in tags or tags["indoor"] != "yes"):
        return WayKind.CORRIDOR
    if tags.get("railway") == "platform" or tags.get("public_transport") == "platform":
        return WayKind.PLATFORM
    return None


def _road_kind(highway: str, tags: Tags) -> WayKind:
    speed_kmh = read_speed_kmh(tags)
    if highway.startswith("trunk") or (speed_kmh is not None and speed_kmh >= FAST_FROM_KMH):
        return WayKind.FAST_ROAD
    is_minor = highway in ("residential", "unclassified", "road")
    if not is_minor or (speed_kmh is not None and speed_kmh > BUSY_FROM_KMH):
        return WayKind.BUSY_ROAD
    return WayKind.RESIDENTIAL


def read_speed_kmh(tags: Tags) -> float | None:
    """The posted speed, from ``maxspeed`` (OSM wiki, Key:maxspeed): km/h, or mph where the unit says so; words give ``None``."""
    text = tags.get("maxspeed", "").split(";")[0].strip()
    number, _, _ = text.partition(" ")
    try:
        value = float(number.removesuffix("mph"))
    except ValueError:
        return None
    return value * M_PER_MILE / 1000 if "mph" in text else value
