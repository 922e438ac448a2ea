"""What the tags of a node say about passing it, in the codes of ``Places``; the reading itself is done by ``rollroute.network.tags``."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum, IntFlag

from rollroute.network import tags as read
from rollroute.network.facts.ways import RISER_MOST_M
from rollroute.network.ranks import Rank
from rollroute.network.tags import CrossingKind, DoorKind, Passing, Reading, Wheelchair
from rollroute.network.tags.barriers import OPEN
from rollroute.network.tags.barriers import BarrierKind as BarrierKind
from rollroute.network.tags.kerbs import KerbFact
from rollroute.network.tags.kerbs import KerbWord as KerbWord

Tags = Mapping[str, str]
NAN = math.nan
OPENING_WITHOUT_DOOR_M = 2.0  # assumption: an opening that has no door leaf
_HOME_ENTRANCES = frozenset({"home", "house", "apartment", "residence", "private"})


class PlaceKind(IntEnum):
    """What a place is."""

    KERB = 1
    BARRIER = 2
    DOOR = 3
    LIFT = 4
    APRON = 5  # where a driveway meets the street: the ramp on which chairs mount kerbs that have no other
    BEND = 7  # where a narrow way turns sharply
    CROSSING = 6  # where a fast, wide or signalled road is crossed; its kerbs are places of their own


class BendWord(IntEnum):
    """How sharply a way turns at a bend."""

    CORNER = 1
    HAIRPIN = 2


class PlaceFlag(IntFlag):
    """Bits of ``Places.flags``."""

    LOCKED = 1
    NEEDS_POWER = 2
    CONDITIONAL = 4  # open or closed by a rule with a time in it
    WHEELCHAIR_YES = 8
    WHEELCHAIR_NO = 16
    WHEELCHAIR_LIMITED = 32  # one step of at most 7 cm (OSM wiki, Key:wheelchair)
    ENTRANCE = 64  # between outdoors and indoors: there may be a threshold
    SIGNALLED = 128
    STOPS = 256  # of a kind that no chair passes, or out of order
    FAR_SIDE = 512  # a kerb beyond a busy road, and no apron within reach of it
    ISLAND = 1024
    FAST_OR_WIDE = 2048  # the road crossed is posted fast or has many lanes
    HAS_BACKUP = 4096  # runs without mains, by the map's word
    BLOCKED = 8192  # somebody found it blocked
    CROWDED = 32768  # another narrow spot is so near that neither is a pinch point


@dataclass(slots=True)
class PlaceFacts:
    """One place's facts; ``doubt`` is the row of ``data/doubts.toml`` that its main question takes."""

    kind: PlaceKind
    word: int = 0
    height_m: float = NAN
    height_rank: Rank = Rank.UNKNOWN
    width_m: float = NAN
    width_rank: Rank = Rank.UNKNOWN
    length_m: float = NAN
    mass_limit_kg: float = NAN
    ramp_grade: float = NAN
    counter_slope: float = NAN
    access: int = 0
    flags: int = 0
    doubt: str = "other"


def kerb_of(tags: Tags) -> PlaceFacts | None:
    """The kerb that a node or crossing is tagged with; of two sides the worse. ``None`` where nothing is tagged."""
    fact = read.read_kerb(tags)
    if not fact.is_tagged:
        return None
    sides = [side for side in (fact.left, fact.right) if side is not None and side.is_tagged]
    worst = max(sides, key=_kerb_badness) if len(sides) == 2 else fact
    if len(sides) == 1:  # what is said of both sides, if anything, holds for the other
        worst = max((sides[0], fact), key=_kerb_badness)
    return _kerb_place(worst)


def _kerb_badness(kerb: KerbFact) -> tuple[float, int]:
    height = kerb.height.value
    return (1.0 if height is None else height, int(kerb.word.value or 0))


def _kerb_place(kerb: KerbFact) -> PlaceFacts:
    word = kerb.word.value or KerbWord.UNKNOWN
    doubt = "kerb_raised" if word is KerbWord.RAISED else "kerb_word"
    place = PlaceFacts(PlaceKind.KERB, word=int(word), doubt=doubt)
    if kerb.height.value is not None:
        place.height_m, place.height_rank = kerb.height.value, _rank(kerb.height)
    return place


def with_ramp(kerb: PlaceFacts, tags: Tags) -> PlaceFacts:
    """The kerb with what its own node says of the ramp there: running slope, width where it is lowered, and the gutter's counter slope."""
    grade, counter = read.read_incline(tags).grade.value, read.read_counter_slope(tags).value
    kerb.ramp_grade = NAN if grade is None else abs(grade)
    kerb.counter_slope = NAN if counter is None else counter
    if kerb.word in (KerbWord.LOWERED, KerbWord.FLUSH):
        _set_width(kerb, read.read_width(tags))
    return kerb


def _rank(reading: Reading[float]) -> Rank:
    return Rank.TAG_WORD if reading.is_approximate else reading.rank


def barrier_of(tags: Tags) -> PlaceFacts | None:
    """A barrier across the way; ``None`` where nothing stands that a chair could notice."""
    if "barrier" not in tags:
        return None
    fact = read.read_barrier(tags)
    kind = fact.kind.value or BarrierKind.UNKNOWN
    if kind in OPEN and fact.opening.value is None:
        return None
    place = PlaceFacts(PlaceKind.BARRIER, word=int(kind), doubt=fact.doubt or "barrier_other")
    _set_width(place, fact.opening)
    _set_marks(place, tags, is_locked=fact.is_locked, needs_power=fact.needs_power)
    if fact.passing is Passing.STOPS and not place.flags & (PlaceFlag.LOCKED | PlaceFlag.WHEELCHAIR_NO):
        place.flags |= PlaceFlag.STOPS
    return place


def door_of(tags: Tags) -> PlaceFacts | None:
    """A door or an entrance: width, threshold, motor."""
    if not {"door", "entrance", "automatic_door"} & tags.keys():
        return None
    fact = read.read_door(tags)
    kind = fact.kind.value or DoorKind.UNKNOWN
    place = PlaceFacts(PlaceKind.DOOR, word=int(kind), doubt="door_home" if fact.entrance in _HOME_ENTRANCES else "door")
    _set_width(place, fact.width)
    if kind is DoorKind.NO and math.isnan(place.width_m):
        place.width_m, place.width_rank = OPENING_WITHOUT_DOOR_M, Rank.INFERRED
    if kind in (DoorKind.REVOLVING, DoorKind.TRAPDOOR):
        place.flags |= PlaceFlag.STOPS
    if fact.entrance not in (None, "no"):
        place.flags |= PlaceFlag.ENTRANCE
    _set_threshold(place, tags, fact)
    _set_marks(place, tags, is_locked=fact.is_locked, needs_power=fact.needs_power)
    return place


def _set_threshold(place: PlaceFacts, tags: Tags, fact: read.DoorFact) -> None:
    kerb = read.read_kerb(tags).height  # common practice: the threshold of a door is tagged as a kerb too
    if fact.threshold.value is not None:
        place.height_m, place.height_rank = fact.threshold.value, _rank(fact.threshold)
    elif fact.steps.value is not None:
        place.height_m, place.height_rank = (RISER_MOST_M if fact.steps.value else 0.0), Rank.TAG_WORD
    elif kerb.value is not None:
        place.height_m, place.height_rank = kerb.value, _rank(kerb)


def lift_of(tags: Tags) -> PlaceFacts | None:
    """A lift drawn as a node: its narrowest part, its depth and load. A part that is not tagged leaves the width unknown."""
    if tags.get("highway") != "elevator":
        return None
    fact = read.read_lift(tags)
    place = PlaceFacts(PlaceKind.LIFT, flags=PlaceFlag.NEEDS_POWER, doubt="lift")
    widths = [w for w in (fact.door_width, fact.width) if w.value is not None]
    if widths:
        _set_width(place, min(widths, key=lambda w: w.value or 0.0))
    if fact.door_width.value is None:
        place.width_rank = Rank.UNKNOWN  # a car wide enough says nothing of its door
    place.length_m = NAN if fact.length.value is None else fact.length.value
    place.mass_limit_kg = NAN if fact.mass_limit.value is None else fact.mass_limit.value
    if fact.works_without_mains:
        place.flags |= PlaceFlag.HAS_BACKUP
    if fact.is_out_of_order:
        place.flags |= PlaceFlag.STOPS
    _set_marks(place, tags, is_locked=None, needs_power=True)
    return place


def crossing_of(tags: Tags) -> PlaceFacts:
    """How a road is crossed at a node, or along a crossing way."""
    fact = read.read_crossing(tags)
    place = PlaceFacts(PlaceKind.CROSSING, word=int(fact.kind.value or CrossingKind.UNKNOWN), doubt="crossing_unsignalled")
    place.flags |= PlaceFlag.SIGNALLED if fact.kind.value is CrossingKind.SIGNALS else 0
    place.flags |= PlaceFlag.ISLAND if fact.has_island else 0
    return place


def _set_width(place: PlaceFacts, width: Reading[float]) -> None:
    if width.value is not None:
        place.width_m, place.width_rank = width.value, _rank(width)


_WHEELCHAIR = {
    Wheelchair.YES: PlaceFlag.WHEELCHAIR_YES,
    Wheelchair.LIMITED: PlaceFlag.WHEELCHAIR_LIMITED,
    Wheelchair.NO: PlaceFlag.WHEELCHAIR_NO,
}


def _set_marks(place: PlaceFacts, tags: Tags, *, is_locked: bool | None, needs_power: bool | None) -> None:
    place.access = int(read.access_of(tags))
    word = read.read_wheelchair(tags).word.value
    place.flags |= _WHEELCHAIR.get(word, 0) if word is not None else 0
    place.flags |= PlaceFlag.LOCKED if is_locked else 0
    place.flags |= PlaceFlag.NEEDS_POWER if needs_power else 0
    place.flags |= PlaceFlag.CONDITIONAL if read.has_conditional(tags) else 0
