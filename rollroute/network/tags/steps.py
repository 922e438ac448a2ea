"""Steps, the ramps beside and over them, and moving stairs.

OSM wiki, Tag:highway=steps; Key:step_count; Key:ramp (``separate``: drawn as a way of its own); Key:ramp:wheelchair;
OSM wiki, Key:ramp:portable, Key:ramp:portable:length (unfolded, metres), Key:ramp:portable:supervised; Key:conveying.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import read_count, read_length_m, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key

HIGHEST_STEP_M = 0.6  # assumption: a higher figure is a slip or lacks its unit
_YES = frozenset({"yes", "left", "right", "both", "middle", "center", "centre"})
_CONVEYING = frozenset({"yes", "forward", "backward", "reversible"})


@dataclass(frozen=True, slots=True)
class StepsFact:
    """What is known of a flight of steps; ``None`` where the map does not tell.

    ``has_wheelchair_ramp`` is the word of the map for a ramp over these steps; ``is_ramp_separate``: it is drawn as a way of its own.
    """

    has_wheelchair_ramp: bool | None
    is_ramp_separate: bool
    has_other_ramp: bool | None
    step_count: Reading[int]
    step_height: Reading[float]
    is_conveying: bool
    has_portable_ramp: bool | None
    portable_length: Reading[float]
    is_portable_supervised: bool | None
    problem: str | None = None


def read_steps(tags: Mapping[str, str]) -> StepsFact:
    """The tags of ``highway=steps``, or of an entrance with a step and a portable ramp."""
    wheelchair, ramp, portable = (_word(tags, key) for key in ("ramp:wheelchair", "ramp", "ramp:portable"))
    count = _reading(tags, "step_count")
    height = _length(tags, "step:height") if "step:height" in tags else _length(tags, "step_height")
    length = _length(tags, "ramp:portable:length", 20.0)
    other = [_word(tags, f"ramp:{kind}") for kind in ("stroller", "bicycle", "luggage")]
    problems = [r.problem for r in (count, height, length)] + [_problem(tags, key) for key in ("ramp", "ramp:wheelchair", "conveying")]
    return StepsFact(
        has_wheelchair_ramp=wheelchair if wheelchair is not None else (False if ramp is False else None),
        is_ramp_separate="separate" in (tidy(tags.get("ramp", "")), tidy(tags.get("ramp:wheelchair", ""))),
        has_other_ramp=True if True in other else ramp,
        step_count=count,
        step_height=height,
        is_conveying=tidy(tags.get("conveying", "")) in _CONVEYING,
        has_portable_ramp=portable,
        portable_length=length,
        is_portable_supervised=_word(tags, "ramp:portable:supervised"),
        problem="; ".join(p for p in problems if p) or None,
    )


def _word(tags: Mapping[str, str], key: str) -> bool | None:
    word = tidy(tags.get(key, ""))
    return True if word in _YES else False if word in {"no", "none"} else None


def _problem(tags: Mapping[str, str], key: str) -> str | None:
    known = _YES | _CONVEYING | {"no", "none", "separate", "automatic", "manual", "limited", ""}
    return None if tidy(tags.get(key, "")) in known else f"{key}={tags[key]}: not a known value"


def _reading(tags: Mapping[str, str], key: str) -> Reading[int]:
    return for_key(read_count(tags[key], "high"), key) if key in tags else Reading(None, Rank.UNKNOWN)


def _length(tags: Mapping[str, str], key: str, most_m: float = HIGHEST_STEP_M) -> Reading[float]:
    """A step counts at its highest, a ramp at its shortest."""
    if key not in tags:
        return ABSENT
    return for_key(read_length_m(tags[key], "low" if "ramp" in key else "high", 0.0, most_m), key)
