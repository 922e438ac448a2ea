"""What the tags of a node say about passing it: kerbs, barriers, doors, lifts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, IntFlag

from rollroute.network.facts.numbers import read_length_m
from rollroute.network.ranks import Rank

Tags = Mapping[str, str]
NAN = math.nan


class PlaceKind(IntEnum):
    """What a place is."""

    KERB = 1
    BARRIER = 2
    DOOR = 3
    LIFT = 4
    APRON = 5  # where a driveway meets the street: the ramp on which chairs mount kerbs that have no other


class KerbWord(IntEnum):
    """OSM wiki, Key:kerb."""

    UNKNOWN = 0
    FLUSH = 1  # 0 cm
    LOWERED = 2  # up to about 3 cm
    RAISED = 3  # over 3 cm
    ROLLED = 4


class BarrierKind(IntEnum):
    """OSM wiki, Key:barrier: kinds that stand across a way and can be passed by some."""

    UNKNOWN = 0
    BOLLARD = 1
    CYCLE_BARRIER = 2
    GATE = 3
    LIFT_GATE = 4
    BLOCK = 5
    STOPPING = 6  # stile, turnstile, kissing gate, wall … : no chair passes (assumption, unless wheelchair=yes)


class PlaceFlag(IntFlag):
    """Bits of ``Places.flags``."""

    LOCKED = 1
    NEEDS_POWER = 2
    PRIVATE = 4
    WHEELCHAIR_YES = 8
    WHEELCHAIR_NO = 16
    WHEELCHAIR_LIMITED = 32  # one step of at most 7 cm (OSM wiki, Key:wheelchair)
    ENTRANCE = 64  # between outdoors and indoors: there may be a threshold
    SIGNALLED = 128


KERB_BY_WORD_M = {KerbWord.FLUSH: 0.0, KerbWord.LOWERED: 0.03}  # OSM wiki, Key:kerb and Key:kerb:height: upper end of the word
_KERB_WORDS = {
    "flush": KerbWord.FLUSH, "no": KerbWord.FLUSH, "none": KerbWord.FLUSH, "lowered": KerbWord.LOWERED, "raised": KerbWord.RAISED,
    "regular": KerbWord.RAISED, "rolled": KerbWord.ROLLED,
}  # fmt: skip
_BARRIERS = {
    "bollard": BarrierKind.BOLLARD, "cycle_barrier": BarrierKind.CYCLE_BARRIER, "gate": BarrierKind.GATE, "swing_gate": BarrierKind.GATE,
    "sliding_gate": BarrierKind.GATE, "wicket_gate": BarrierKind.GATE, "hampshire_gate": BarrierKind.GATE, "bump_gate": BarrierKind.GATE,
    "lift_gate": BarrierKind.LIFT_GATE, "block": BarrierKind.BLOCK, "chain": BarrierKind.BLOCK, "jersey_barrier": BarrierKind.BLOCK,
    "planter": BarrierKind.BLOCK, "motorcycle_barrier": BarrierKind.CYCLE_BARRIER, "horse_stile": BarrierKind.STOPPING,
    "stile": BarrierKind.STOPPING, "turnstile": BarrierKind.STOPPING, "full-height_turnstile": BarrierKind.STOPPING,
    "kissing_gate": BarrierKind.STOPPING, "cattle_grid": BarrierKind.STOPPING, "log": BarrierKind.STOPPING, "debris": BarrierKind.STOPPING,
    "wall": BarrierKind.STOPPING, "fence": BarrierKind.STOPPING, "step": BarrierKind.STOPPING, "rope": BarrierKind.BLOCK,
    "yes": BarrierKind.UNKNOWN,
}  # fmt: skip
OPEN_BARRIERS = {"entrance", "no", "toll_booth", "height_restrictor", "border_control", "kerb", "speed_bump", "sally_port"}


@dataclass(slots=True)
class PlaceFacts:
    """One place's facts in the codes of ``Places``. ``problems``: (key, value) not understood."""

    kind: PlaceKind
    word: int = 0
    height_m: float = NAN
    height_rank: Rank = Rank.UNKNOWN
    width_m: float = NAN
    width_rank: Rank = Rank.UNKNOWN
    length_m: float = NAN
    flags: int = 0
    problems: list[tuple[str, str]] = field(default_factory=list)


def read_kerb(tags: Tags, prefix: str = "kerb") -> PlaceFacts | None:
    """A kerb from ``kerb``, ``kerb:height``, ``sloped_curb`` or ``barrier=kerb`` (OSM wiki, Key:kerb, Key:kerb:height).

    A height outranks the word. Where they contradict (lowered, but 12 cm) the higher counts: the bad side.
    ``prefix`` is ``kerb``, ``kerb:left`` or ``kerb:right``.
    """
    word_text, height_text = tags.get(prefix), tags.get(f"{prefix}:height")
    is_marked = tags.get("barrier") == "kerb" and prefix == "kerb"
    if word_text is None and height_text is None and not is_marked and "sloped_curb" not in tags:
        return None
    facts = PlaceFacts(PlaceKind.KERB)
    if word_text is not None:
        facts.word = _KERB_WORDS.get(word_text.strip().lower(), KerbWord.UNKNOWN)
        if not facts.word and word_text.lower() not in ("yes", "unknown"):
            facts.problems.append((prefix, word_text))
    elif tags.get("sloped_curb") in ("yes", "at_grade"):
        facts.word = KerbWord.FLUSH if tags["sloped_curb"] == "at_grade" else KerbWord.LOWERED
    _set_kerb_height(height_text, f"{prefix}:height", facts)
    return facts


def _set_kerb_height(text: str | None, key: str, facts: PlaceFacts) -> None:
    by_word = KERB_BY_WORD_M.get(KerbWord(facts.word))
    if text is not None:
        number = read_length_m(text, takes_least=False)
        if number is None or not 0 <= number.value <= 1:
            facts.problems.append((key, text))
        else:
            facts.height_m = max(number.value, by_word or 0.0) if facts.word == KerbWord.RAISED else number.value
            facts.height_rank = Rank.TAG_WORD if number.is_rough else Rank.TAG_NUMBER
            return
    if by_word is not None:
        facts.height_m, facts.height_rank = by_word, Rank.TAG_WORD


def read_barrier(tags: Tags) -> PlaceFacts | None:
    """A barrier across the way (OSM wiki, Key:barrier), with its opening (``maxwidth:physical``, ``opening``, ``width``)."""
    value = tags.get("barrier")
    if value is None or value in OPEN_BARRIERS:
        return None
    facts = PlaceFacts(PlaceKind.BARRIER)
    if value not in _BARRIERS:
        facts.problems.append(("barrier", value))
    facts.word = _BARRIERS.get(value, BarrierKind.UNKNOWN)
    _set_opening(tags, ("maxwidth:physical", "opening", "width"), facts)
    if tags.get("locked") == "yes":
        facts.flags |= PlaceFlag.LOCKED
    if tags.get("foot", tags.get("access")) in ("private", "no"):
        facts.flags |= PlaceFlag.PRIVATE
    _set_wheelchair(tags, facts)
    return facts


def read_door(tags: Tags) -> PlaceFacts | None:
    """A door or an entrance (OSM wiki, Key:door, Key:entrance, Key:automatic_door, Key:step_height)."""
    door, entrance = tags.get("door"), tags.get("entrance")
    if door is None and entrance is None and "automatic_door" not in tags:
        return None
    facts = PlaceFacts(PlaceKind.DOOR)
    _set_opening(tags, ("door:width", "entrance:width", "width"), facts)
    if door == "no" and math.isnan(facts.width_m):
        facts.width_m, facts.width_rank = 2.0, Rank.INFERRED  # an opening without a door
    if entrance is not None and entrance != "no":
        facts.flags |= PlaceFlag.ENTRANCE
    for key in ("step_height", "threshold:height", "kerb:height"):
        if key in tags and (number := read_length_m(tags[key], takes_least=False)) is not None:
            facts.height_m, facts.height_rank = number.value, Rank.TAG_NUMBER
            break
    if math.isnan(facts.height_m) and (tags.get("step_count") == "0" or tags.get("kerb") == "flush"):
        facts.height_m, facts.height_rank = 0.0, Rank.TAG_WORD
    if tags.get("automatic_door", "no") not in ("no", "floor", "slowdown_button"):
        facts.flags |= PlaceFlag.NEEDS_POWER
    if tags.get("locked") == "yes":
        facts.flags |= PlaceFlag.LOCKED
    if tags.get("access") in ("private", "no"):
        facts.flags |= PlaceFlag.PRIVATE
    _set_wheelchair(tags, facts)
    return facts


def read_lift(tags: Tags) -> PlaceFacts | None:
    """A lift drawn as a node (OSM wiki, Tag:highway=elevator): door width, car width and depth; it needs power."""
    if tags.get("highway") != "elevator":
        return None
    facts = PlaceFacts(PlaceKind.LIFT, flags=PlaceFlag.NEEDS_POWER)
    _set_opening(tags, ("door:width", "width"), facts)
    if "length" in tags and (number := read_length_m(tags["length"])) is not None:
        facts.length_m = number.value
    _set_wheelchair(tags, facts)
    return facts


def _set_opening(tags: Tags, keys: tuple[str, ...], facts: PlaceFacts) -> None:
    widths = []
    for key in keys:
        if key not in tags:
            continue
        number = read_length_m(tags[key])
        if number is None or not 0.1 <= number.value <= 50:
            facts.problems.append((key, tags[key]))
        else:
            widths.append((number.value, Rank.TAG_WORD if number.is_rough else Rank.TAG_NUMBER))
    if widths:
        facts.width_m, facts.width_rank = min(widths)


def _set_wheelchair(tags: Tags, facts: PlaceFacts) -> None:
    value = tags.get("wheelchair")
    if value in ("yes", "designated"):
        facts.flags |= PlaceFlag.WHEELCHAIR_YES
    elif value == "no":
        facts.flags |= PlaceFlag.WHEELCHAIR_NO
    elif value == "limited":
        facts.flags |= PlaceFlag.WHEELCHAIR_LIMITED
