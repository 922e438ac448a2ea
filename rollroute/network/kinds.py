"""Groups of kinds of way that the stages share; what a kind is, ``rollroute.network.tags.ways`` says."""

from __future__ import annotations

from rollroute.network.tags.ways import CARRIAGEWAYS
from rollroute.network.tags.ways import WayKind as WayKind
from rollroute.network.tags.ways import way_kind as way_kind

CARRIAGEWAY_KINDS = CARRIAGEWAYS - {WayKind.TRACK}  # a track has no kerb, and hardly a car
STREET_KINDS = frozenset({WayKind.RESIDENTIAL, WayKind.BUSY_ROAD, WayKind.FAST_ROAD})  # kinds that have kerbs along them
BUSY_KINDS = frozenset({WayKind.BUSY_ROAD, WayKind.FAST_ROAD})
APRON_KINDS = frozenset({WayKind.DRIVEWAY, WayKind.SERVICE, WayKind.PARKING_AISLE})  # what meets a street over an apron
INDOOR_KINDS = frozenset({WayKind.CORRIDOR, WayKind.ELEVATOR})
STAIR_KINDS = frozenset({WayKind.STEPS, WayKind.ESCALATOR})
WALK_KINDS = frozenset({
    WayKind.FOOTWAY, WayKind.SIDEWALK, WayKind.PATH, WayKind.PEDESTRIAN, WayKind.CYCLEWAY, WayKind.RAMP, WayKind.PLATFORM,
})  # fmt: skip
JOINABLE_KINDS = (WALK_KINDS | CARRIAGEWAY_KINDS | {WayKind.CORRIDOR, WayKind.TRACK}) - {WayKind.FAST_ROAD}
PAVED_KINDS = frozenset({
    WayKind.SIDEWALK, WayKind.CROSSING, WayKind.RESIDENTIAL, WayKind.LIVING_STREET, WayKind.BUSY_ROAD, WayKind.FAST_ROAD,
    WayKind.PARKING_AISLE,
})  # fmt: skip
