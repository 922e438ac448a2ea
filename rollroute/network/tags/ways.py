"""What kind of way this is, and what is assumed of a chair on it.

OSM wiki, Key:highway; Key:footway; Key:service; Key:indoor; Key:railway and Key:public_transport (platforms); Key:construction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.tags.roads import read_lanes, read_maxspeed_kmh


class WayKind(IntEnum):
    """Kinds of way that a chair may meet; motorways and what is no way at all are not in the network."""

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
    BUSY_ROAD = 18
    FAST_ROAD = 19
    CONSTRUCTION = 20
    ESCALATOR = 21


@dataclass(frozen=True, slots=True)
class Assumption:
    """What is assumed of a chair on a kind of way, where nothing better is known (assumptions throughout).

    ``on_carriageway``: among moving vehicles, so with an escort and light only, marked, and avoided where there is a choice.
    ``is_allowed``: whether a route may use it at all.
    """

    is_allowed: bool
    on_carriageway: bool
    note: str


SLOW_MOST_KMH = 41.0  # assumption: a street is slow up to 25 mph (40.2 km/h), which many towns post by default
FAST_KMH = 60.0  # assumption: from this posted speed on no crossing without a signal or island is taken for granted
FEW_LANES_MOST = 2  # assumption: a street with more lanes is wide

_FOOT = Assumption(True, False, "made for people on foot")
_SHARED = Assumption(True, False, "shared with slow vehicles")
_STREET = Assumption(True, True, "a slow street: on the carriageway with an escort and light, marked, and avoided where there is a choice")
_YARD = Assumption(True, True, "cars at walking pace: driven without an escort too; marked")
_CLOSED = Assumption(False, True, "wide or fast traffic: not without a sidewalk")
ASSUMPTIONS: dict[WayKind, Assumption] = {
    WayKind.FOOTWAY: _FOOT,
    WayKind.SIDEWALK: _FOOT,
    WayKind.CROSSING: _FOOT,
    WayKind.PATH: _FOOT,
    WayKind.PEDESTRIAN: _FOOT,
    WayKind.CYCLEWAY: _SHARED,
    WayKind.STEPS: Assumption(False, False, "steps stop a chair, unless a ramp for wheelchairs goes over them"),
    WayKind.RAMP: _FOOT,
    WayKind.ELEVATOR: Assumption(True, False, "a lift: needs power and room"),
    WayKind.CORRIDOR: _FOOT,
    WayKind.PLATFORM: _FOOT,
    WayKind.LIVING_STREET: Assumption(True, True, "a street where people on foot have the right of way; still a carriageway"),
    WayKind.RESIDENTIAL: _STREET,
    WayKind.SERVICE: _YARD,
    WayKind.DRIVEWAY: Assumption(True, True, "a driveway: its apron is where chairs mount the kerb"),
    WayKind.PARKING_AISLE: _YARD,
    WayKind.TRACK: Assumption(True, True, "a farm or forest track"),
    WayKind.BUSY_ROAD: _CLOSED,
    WayKind.FAST_ROAD: _CLOSED,
    WayKind.CONSTRUCTION: Assumption(False, False, "under construction"),
    WayKind.ESCALATOR: Assumption(False, False, "a moving stair stops a chair"),
}
CARRIAGEWAYS = frozenset(kind for kind, assumed in ASSUMPTIONS.items() if assumed.on_carriageway)

# A road of unknown class (``road``) takes the bad side.
_HIGHWAYS = {
    "footway": WayKind.FOOTWAY, "path": WayKind.PATH, "pedestrian": WayKind.PEDESTRIAN, "cycleway": WayKind.CYCLEWAY,
    "bridleway": WayKind.PATH, "steps": WayKind.STEPS, "elevator": WayKind.ELEVATOR, "corridor": WayKind.CORRIDOR,
    "platform": WayKind.PLATFORM, "living_street": WayKind.LIVING_STREET, "residential": WayKind.RESIDENTIAL,
    "unclassified": WayKind.RESIDENTIAL, "road": WayKind.BUSY_ROAD, "service": WayKind.SERVICE, "track": WayKind.TRACK,
    "busway": WayKind.BUSY_ROAD, "bus_guideway": None, "tertiary": WayKind.BUSY_ROAD, "tertiary_link": WayKind.BUSY_ROAD,
    "secondary": WayKind.BUSY_ROAD, "secondary_link": WayKind.BUSY_ROAD, "primary": WayKind.BUSY_ROAD, "primary_link": WayKind.BUSY_ROAD,
    "trunk": WayKind.FAST_ROAD, "trunk_link": WayKind.FAST_ROAD, "motorway": None, "motorway_link": None, "raceway": None,
    "escape": None, "ladder": None, "via_ferrata": None, "proposed": None, "razed": None, "abandoned": None,
    "construction": WayKind.CONSTRUCTION,
}  # fmt: skip
_SERVICES = {"driveway": WayKind.DRIVEWAY, "parking_aisle": WayKind.PARKING_AISLE, "crossover": WayKind.SERVICE}
_PARTS = {"sidewalk": WayKind.SIDEWALK, "crossing": WayKind.CROSSING, "traffic_island": WayKind.FOOTWAY, "ramp": WayKind.RAMP}
_INDOOR = frozenset({"corridor", "room", "area", "yes"})


def way_kind(tags: Mapping[str, str]) -> WayKind | None:
    """The kind of a way, or ``None`` where nobody travels: motorways, buildings, kerbs drawn as lines, what is gone or only planned."""
    highway = tags.get("highway")
    if highway is None:
        return _without_highway(tags)
    kind = _HIGHWAYS.get(highway)
    if kind is None:
        return None
    if kind is WayKind.SERVICE:
        return _SERVICES.get(tags.get("service", ""), kind)
    if kind in {WayKind.FOOTWAY, WayKind.PATH, WayKind.CYCLEWAY}:
        return _footway(tags, kind)
    if kind is WayKind.STEPS and tags.get("conveying", "no") != "no":
        return WayKind.ESCALATOR
    return _road(tags, kind) if kind in {WayKind.RESIDENTIAL, WayKind.BUSY_ROAD} else kind


def is_carriageway(kind: WayKind) -> bool:
    """Whether vehicles move there, so that an escort and light are needed."""
    return kind in CARRIAGEWAYS


def _footway(tags: Mapping[str, str], kind: WayKind) -> WayKind:
    if tags.get("construction", "no") not in {"no", "minor"}:
        return WayKind.CONSTRUCTION
    if "crossing" in (tags.get("footway"), tags.get("path"), tags.get("cycleway")):
        return WayKind.CROSSING
    if kind is WayKind.CYCLEWAY:
        return kind
    found = _PARTS.get(tags.get("footway") or tags.get("path") or "")
    if found is not None:
        return found
    if tags.get("ramp") == "yes":
        return WayKind.RAMP
    return WayKind.CORRIDOR if tags.get("indoor") in _INDOOR else kind


def _road(tags: Mapping[str, str], kind: WayKind) -> WayKind:
    """A street that is posted fast, or has many lanes, is busier than its class says; no speed posted leaves the class."""
    speed, lanes = read_maxspeed_kmh(tags).value, read_lanes(tags).value
    if (speed is not None and speed >= FAST_KMH) or tags.get("motorroad") == "yes":
        return WayKind.FAST_ROAD
    is_busy = (speed is not None and speed > SLOW_MOST_KMH) or (lanes is not None and lanes > FEW_LANES_MOST)
    return WayKind.BUSY_ROAD if is_busy else kind


def _without_highway(tags: Mapping[str, str]) -> WayKind | None:
    indoor = tags.get("indoor")
    if indoor in _INDOOR and (indoor != "yes" or "level" in tags):
        return WayKind.CORRIDOR
    is_platform = tags.get("public_transport") == "platform" or tags.get("railway") == "platform"
    return WayKind.PLATFORM if is_platform else None
