"""Grades along and across a way, as tagged.

OSM wiki, Key:incline: ``10%``, ``5°``, ``up``, ``down``; positive is uphill in the direction in which the way is drawn.
OSM wiki, Tag:incline=up/down: hops up and down. OSM wiki, Proposal:Incline:across: the tilt to the side.
Ratios (``1:12``), per mille and bare figures are not on the wiki: common practice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, first_tag, split_values, take_about, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key, not_understood

STEEPEST = 1.0  # assumption: a tagged grade over 100 % is a slip
WORDS = {"up": 1, "down": -1, "upward": 1, "downward": -1, "uphill": 1, "downhill": -1}
SIGNLESS = frozenset({"up/down", "down/up", "up;down", "down;up", "both", "yes", "variable"})
_FIGURE = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_SIGN = r"([+-])?\s*"
_RATIO = re.compile(rf"^{_SIGN}{_FIGURE}\s*(?::|/|in)\s*{_FIGURE}$")
_VALUE = re.compile(rf"^{_SIGN}{_FIGURE}\s*(?:-\s*{_FIGURE}\s*)?(%|percent|pct|‰|°|º|deg|degs|degree|degrees)?$")
_DEGREES = frozenset({"°", "º", "deg", "degs", "degree", "degrees"})


@dataclass(frozen=True, slots=True)
class InclineFact:
    """A grade, or only its sign: +1 up in the direction of the way, −1 down, 0 not told."""

    grade: Reading[float]
    sign: int = 0


NO_INCLINE = InclineFact(ABSENT)


def read_incline(tags: Mapping[str, str]) -> InclineFact:
    """The tagged grade (rise over run, signed along the way), or its sign where the tag is only ``up`` or ``down``.

    Examples
    --------
    >>> read_incline({"incline": "-10%"}).grade.value
    -0.1
    >>> fact = read_incline({"incline": "up"})
    >>> fact.grade.value is None, fact.sign
    (True, 1)
    """
    text = tags.get("incline")
    if text is None:
        return NO_INCLINE
    found = _incline(text)
    return replace(found, grade=for_key(found.grade, "incline"))


def read_cross_slope(tags: Mapping[str, str]) -> Reading[float]:
    """The tilt to the side as a grade without sign; ``cross_slope`` has no wiki page: common practice."""
    found = first_tag(tags, "incline:across", "cross_slope")
    if found is None:
        return ABSENT
    return _signless(*found)


def read_counter_slope(tags: Mapping[str, str]) -> Reading[float]:
    """The slope of gutter or road at the foot of a curb ramp, without sign; the key has no wiki page: common practice of inventories."""
    found = first_tag(tags, "counter_slope", "kerb:counter_slope", "gutter:incline")
    if found is None:
        return ABSENT
    return _signless(*found)


def _signless(key: str, text: str) -> Reading[float]:
    grade = _incline(text).grade
    if grade.value is None:
        return for_key(not_understood(text, grade.problem or "no figure"), key)
    return for_key(replace(grade, value=abs(grade.value)), key)


@lru_cache(CACHE_SIZE)
def _incline(text: str) -> InclineFact:
    tidied = tidy(text)
    if tidied in SIGNLESS or tidied.replace(" ", "") in SIGNLESS:
        return InclineFact(Reading(None, Rank.TAG_WORD, text))
    parts = [_one(part, text) for part in split_values(tidied)]
    if not parts:
        return InclineFact(not_understood(text, "not a grade"))
    bad = [part for part in parts if part.grade.problem]
    if bad:
        return bad[0]
    if len({part.sign for part in parts if part.sign}) > 1:
        return InclineFact(not_understood(text, "both up and down: which part is which is not told"))
    figures = [part for part in parts if part.grade.value is not None]
    if not figures:
        return InclineFact(Reading(None, Rank.TAG_WORD, text), parts[0].sign)
    return max(figures, key=lambda part: abs(part.grade.value or 0.0))


def _one(part: str, text: str) -> InclineFact:
    """One grade of a list; ``text`` is the whole tag."""
    part, is_about = take_about(part)
    part, word_sign = _take_direction(part)
    if not part and word_sign:
        return InclineFact(Reading(None, Rank.TAG_WORD, text), word_sign)
    size = _size(part)
    if isinstance(size, str):
        sign = word_sign or (-1 if part.startswith("-") else 0)
        return InclineFact(not_understood(text, size), sign)
    grade, is_bare = size
    if word_sign and grade < 0 < word_sign:
        return InclineFact(not_understood(text, "word and sign contradict each other"))
    grade = math.copysign(grade, word_sign) if word_sign and grade else grade
    sign = (grade > 0) - (grade < 0)
    return InclineFact(Reading(grade, Rank.TAG_NUMBER, text, None, is_about or is_bare), sign)


def _take_direction(part: str) -> tuple[str, int]:
    """``10% down`` and ``up 10%``: the figure, and the sign that the word gives (0: no word)."""
    words = part.split()
    for word in (words[:1], words[-1:]):
        if word and word[0] in WORDS:
            rest = [w for w in words if w not in WORDS]
            return " ".join(rest), WORDS[word[0]]
    return part, 0


def _size(part: str) -> tuple[float, bool] | str:
    """``(grade, whether its unit had to be guessed)``, or why there is none."""
    ratio = _RATIO.match(part)
    if ratio:
        rise, run = _number(ratio.group(2)), _number(ratio.group(3))
        return _checked(rise / run if run else math.inf, ratio.group(1), is_bare=False)
    match = _VALUE.match(part)
    if match is None:
        return "not a grade"
    sign, low, high, unit = match.groups()
    figure = max(_number(low), _number(high)) if high else _number(low)
    if unit in _DEGREES:
        return _checked(math.tan(math.radians(figure)) if figure < 90.0 else math.inf, sign, is_bare=False)
    if unit is None and 0.0 < figure < 1.0:
        return "unit missing: percent, degrees or a ratio"
    # An earlier wiki text makes percent the unit of a bare figure.
    return _checked(figure / (1000.0 if unit == "‰" else 100.0), sign, is_bare=unit is None and figure > 0.0)


def _checked(size: float, sign: str | None, *, is_bare: bool) -> tuple[float, bool] | str:
    if size > STEEPEST:
        return "steeper than 100 %, which is not believable"
    return (-size if sign == "-" else size), is_bare


def _number(text: str) -> float:
    return float(text.replace(",", "."))
