"""Doors and entrances: kind, clear width, motor, threshold.

OSM wiki, Key:door; Key:automatic_door; Key:entrance; Key:door:width (seldom tagged: then unknown, not "fits"); Key:step_count;
OSM wiki, Key:step:height; Key:kerb:height (the threshold where the map has no better key: common practice).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import first_tag, read_count, read_length_m, split_values, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key, not_understood, worst
from rollroute.network.tags.wheelchair import WheelchairFact, read_wheelchair


class DoorKind(IntEnum):
    """How the door moves; a revolving door is assumed to stop a chair."""

    UNKNOWN = 0
    NO = 1
    HINGED = 2
    SLIDING = 3
    FOLDING = 4
    REVOLVING = 5
    OVERHEAD = 6
    PRESENT = 7
    TRAPDOOR = 8
    LOADING = 9


@dataclass(frozen=True, slots=True)
class DoorFact:
    """A door or entrance.

    ``needs_power`` is whether only a motor opens it: ``True`` for a tagged automatic door, ``False`` for one tagged as not automatic,
    ``None`` unknown. ``threshold`` is the highest tagged step or sill in metres, ``steps`` the tagged number of steps.
    """

    kind: Reading[DoorKind]
    width: Reading[float]
    needs_power: bool | None
    threshold: Reading[float]
    steps: Reading[int]
    entrance: str | None
    wheelchair: WheelchairFact
    is_locked: bool | None = None
    is_emergency_exit: bool = False
    problem: str | None = None


WORDS = {
    "no": DoorKind.NO, "none": DoorKind.NO, "opening": DoorKind.NO,
    "hinged": DoorKind.HINGED, "swinging": DoorKind.HINGED, "swing": DoorKind.HINGED, "double": DoorKind.HINGED,
    "single": DoorKind.HINGED, "manual": DoorKind.HINGED, "double_hinged": DoorKind.HINGED,
    "sliding": DoorKind.SLIDING, "automatic": DoorKind.SLIDING,
    "folding": DoorKind.FOLDING, "bifold": DoorKind.FOLDING,
    "revolving": DoorKind.REVOLVING,
    "overhead": DoorKind.OVERHEAD, "garage": DoorKind.OVERHEAD, "rolling": DoorKind.OVERHEAD, "shutter": DoorKind.OVERHEAD,
    "yes": DoorKind.PRESENT, "door": DoorKind.PRESENT, "trapdoor": DoorKind.TRAPDOOR, "loadingdock": DoorKind.LOADING,
}  # fmt: skip
_MOTOR = {"no": False, "yes": True, "motion": True, "button": True, "floor": True, "continuous": True, "slowdown_button": True}
ENTRANCE_WORDS = frozenset({
    "main", "yes", "secondary", "service", "shop", "staircase", "home", "garage", "side", "entrance", "exit", "emergency", "back", "house",
    "apartment", "main_entrance", "parking", "entry", "private", "residence", "office", "stairwell", "gate",
})  # fmt: skip
THRESHOLD_KEYS = ("threshold", "threshold:height", "door:threshold", "door:threshold:height", "step_height", "step:height", "kerb:height")
NO_DOOR: Reading[DoorKind] = Reading(None, Rank.UNKNOWN)


def read_door(tags: Mapping[str, str]) -> DoorFact:
    """The door or entrance of a node, or the car door of a lift."""
    kind = _kind(tags)
    width = _width(tags)
    threshold, steps = _threshold(tags), _steps(tags)
    motor, motor_problem = _motor(tags)
    entrance = tags.get("entrance")
    problems = [r.problem for r in (kind, width, threshold, steps)] + [motor_problem]
    if entrance is not None and tidy(entrance) not in ENTRANCE_WORDS | {"no"}:
        problems.append(f"entrance={entrance}: not a known kind of entrance")
    return DoorFact(
        kind=kind,
        width=width,
        needs_power=motor,
        threshold=threshold,
        steps=steps,
        entrance=entrance,
        wheelchair=read_wheelchair(tags),
        is_locked={"yes": True, "no": False}.get(tidy(tags.get("locked", ""))),
        is_emergency_exit=tidy(entrance or "") == "emergency" or tags.get("exit") == "emergency",
        problem="; ".join(p for p in problems if p) or None,
    )


def _kind(tags: Mapping[str, str]) -> Reading[DoorKind]:
    text = tags.get("door")
    if text is None:
        return NO_DOOR
    found = [WORDS.get(part) for part in split_values(tidy(text))]
    known = [kind for kind in found if kind is not None]
    if not known or len(known) < len(found):
        return for_key(not_understood(text, "not a known door"), "door")
    # Where a revolving door has another beside it, the other one counts; which of several remains open otherwise.
    passable = [kind for kind in known if kind is not DoorKind.REVOLVING]
    return Reading(max(passable) if passable else DoorKind.REVOLVING, Rank.TAG_WORD, text)


def _width(tags: Mapping[str, str]) -> Reading[float]:
    keys = [key for key in ("door:width", "entrance:width", "maxwidth:physical", "width") if key in tags]
    return worst([for_key(read_length_m(tags[key], "low", 0.2, 30.0), key) for key in keys], "low") if keys else ABSENT


def _threshold(tags: Mapping[str, str]) -> Reading[float]:
    keys = [key for key in THRESHOLD_KEYS if key in tags]
    if not keys:
        return ABSENT
    words = {"no": Reading(0.0, Rank.TAG_WORD, "no")}
    return worst([words.get(tidy(tags[k])) or for_key(read_length_m(tags[k], "high", 0.0, 0.6), k) for k in keys], "high")


def _steps(tags: Mapping[str, str]) -> Reading[int]:
    found = first_tag(tags, "step_count", "entrance:step_count", "entrance:steps")
    return Reading(None, Rank.UNKNOWN) if found is None else for_key(read_count(found[1], "high"), found[0])


def _motor(tags: Mapping[str, str]) -> tuple[bool | None, str | None]:
    text = tags.get("automatic_door")
    if text is None:
        return (True if tidy(tags.get("door", "")) == "automatic" else None), None
    known = [_MOTOR[part] for part in split_values(tidy(text)) if part in _MOTOR]
    if not known:
        return None, f"automatic_door={text}: not a known kind of motor"
    return any(known), None
