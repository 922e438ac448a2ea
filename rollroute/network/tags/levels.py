"""Floors of buildings.

OSM wiki, Key:level; Simple Indoor Tagging (lists ``0;1``, ranges ``0-3``, half levels); Key:repeat_on (not used here: reported).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood

DEEPEST, HIGHEST = -20.0, 200.0  # assumption
_LEVEL = r"[+-]?\d+(?:[.,]\d+)?"
_ONE = re.compile(rf"^{_LEVEL}$")
_RANGE = re.compile(rf"^({_LEVEL})\s*(?:-|\.\.|to)\s*({_LEVEL})$")
NO_LEVELS: Reading[tuple[float, ...]] = Reading(None, Rank.UNKNOWN)


def read_levels(tags: Mapping[str, str]) -> Reading[tuple[float, ...]]:
    """All levels that an element touches, lowest first; ``repeat_on`` is left aside, with a problem."""
    text = tags.get("level")
    found = NO_LEVELS if text is None else for_key(_levels(text), "level")
    repeat = tags.get("repeat_on")
    if repeat is None:
        return found
    problems = [found.problem, f"repeat_on={repeat}: not read, the element counts on its own level only"]
    return Reading(found.value, found.rank, found.text, "; ".join(p for p in problems if p))


@lru_cache(CACHE_SIZE)
def _levels(text: str) -> Reading[tuple[float, ...]]:
    levels: set[float] = set()
    for part in split_values(tidy(text).replace(", ", ";")):
        found = _part(part)
        if found is None:
            return not_understood(text, "not a level")
        levels.update(found)
    if not levels:
        return not_understood(text, "not a level")
    return Reading(tuple(sorted(levels)), Rank.TAG_NUMBER, text)


def _part(part: str) -> list[float] | None:
    if _ONE.match(part):
        level = float(part.replace(",", "."))
        return [level] if DEEPEST <= level <= HIGHEST else None
    span = _RANGE.match(part)
    if span is None:
        return None
    low, high = (float(end.replace(",", ".")) for end in span.groups())
    if not DEEPEST <= low < high <= HIGHEST:
        return None
    return [low + step for step in range(int(high - low) + 1)] + ([high] if (high - low) % 1.0 else [])
