"""Tags that hold only at times: ``*:conditional``, ``opening_hours``, seasons.

OSM wiki, Conditional restrictions (``value @ (condition)``; of several that hold the last counts; AND joins conditions).
OSM wiki, Key:opening_hours (its grammar is read by the library opening-hours-py). OSM wiki, Key:seasonal.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood

CHAIR_MOST_T = 0.5  # assumption: no chair with its rider weighs half a tonne
_RULE = re.compile(r"^\s*([^@]*?)\s*@\s*(.+?)\s*$", re.DOTALL)
_WEIGHT = re.compile(r"^(?:max)?weight\s*(>=|>)\s*(\d+(?:\.\d+)?)\s*t?$")
_SEASONS = {  # months that are surely in the season and months that may be, in the northern half of the world (assumption)
    "winter": ({12, 1, 2}, {11, 3}),
    "spring": ({4, 5}, {3, 6}),
    "summer": ({6, 7, 8}, {5, 9}),
    "autumn": ({10, 11}, {9, 12}),
    "fall": ({10, 11}, {9, 12}),
}
_WALKING = ("foot", "access", "wheelchair")
_HOLIDAYS = re.compile(r"\b(PH|SH|easter)\b")


@dataclass(frozen=True, slots=True)
class Moment:
    """When a way is travelled, in the place's own time, and the weather where it is known (``None``: not known)."""

    when: dt.datetime
    is_wet: bool | None = None
    is_snowy: bool | None = None
    lon: float | None = None
    lat: float | None = None

    @property
    def is_north(self) -> bool:
        """Whether seasons are those of the northern half; where nobody says, they are."""
        return self.lat is None or self.lat >= 0.0


def has_conditional(tags: Mapping[str, str]) -> bool:
    """Whether any tag of this element holds only at times, so that it must be read again at the moment of travel."""
    return any(key.endswith(":conditional") for key in tags) or "opening_hours" in tags or "seasonal" in tags


def possible_values(tags: Mapping[str, str], key: str, moment: Moment | None) -> tuple[tuple[str, ...], str | None]:
    """Every value that ``key`` may have at that moment, and what was not understood.

    A condition that can't be decided leaves both values possible. Without a moment only the plain tag counts.
    """
    plain = tags.get(key)
    values = {} if plain is None else {plain: None}
    text = tags.get(f"{key}:conditional")
    if text is None or moment is None:
        return tuple(values), None
    problems = []
    for value, condition in _rules(text):
        holds = None if value is None else _holds(condition, moment)
        if holds is None:
            problems.append(f"{key}:conditional={text}: can't tell whether {condition!r} holds")
        if value is None:
            continue
        values = {value: None} if holds else values if holds is False else {**(values or {"": None}), value: None}
    return tuple(values), "; ".join(problems) or None


def read_conditional(tags: Mapping[str, str], key: str, moment: Moment) -> Reading[str]:
    """The value of ``key`` at that moment; unknown, with the problem, where several are possible."""
    values, problem = possible_values(tags, key, moment)
    text = tags.get(f"{key}:conditional", tags.get(key))
    if len(values) == 1 and values[0]:
        return Reading(values[0], Rank.TAG_WORD, text, problem)
    return Reading(None, Rank.UNKNOWN, text, problem)


def read_open(tags: Mapping[str, str], moment: Moment, key: str = "opening_hours") -> Reading[bool]:
    """Whether ``opening_hours`` say open at that moment; approximate where public holidays matter (their dates are not known)."""
    text = tags.get(key)
    if text is None:
        return Reading(None, Rank.UNKNOWN)
    answer = _open_at(text, moment)
    if answer is None:
        return for_key(not_understood(text, "not opening hours, or they say unknown"), key)
    return Reading(answer, Rank.TAG_WORD, text, None, bool(_HOLIDAYS.search(text)))


def read_in_season(tags: Mapping[str, str], moment: Moment) -> Reading[bool]:
    """Whether a feature with ``seasonal=*`` exists at that moment; ``None`` between the seasons."""
    text = tags.get("seasonal")
    if text is None:
        return Reading(None, Rank.UNKNOWN)
    words = split_values(tidy(text))
    if words == ["no"]:
        return Reading(True, Rank.TAG_WORD, text)
    if not words or any(word not in _SEASONS for word in words):
        return for_key(not_understood(text, "not a season"), "seasonal")
    answers = [_in_season(word, moment) for word in words]
    answer = True if True in answers else None if None in answers else False
    return Reading(answer, Rank.TAG_WORD if answer is not None else Rank.UNKNOWN, text)


def changes_after(tags: Mapping[str, str], moment: Moment, until: dt.datetime) -> list[dt.datetime]:
    """Moments after ``moment`` and before ``until`` at which a rule about walking here may begin or end to hold, in order.

    Of hours every opening and closing, and each midnight, where seasons and dates turn. ``until`` is in the place's own time too.
    """
    texts = [tags["opening_hours"]] if "opening_hours" in tags else []
    for key in _WALKING:
        for _, condition in _rules(tags.get(f"{key}:conditional", "")):
            texts += [_bare(part) for part in re.split(r"\s+(?:AND|and)\s+", condition)]
    begin, end = moment.when.replace(tzinfo=None), until.replace(tzinfo=None)
    midnight = dt.datetime.combine(begin.date(), dt.time())
    found = {midnight + dt.timedelta(days=day) for day in range(1, (end - begin).days + 2)}
    for text in texts:
        hours, at = _hours(text, moment.lon, moment.lat), begin
        while hours is not None and (at := hours.next_change(at)) is not None and at < end:
            found.add(at)
    return sorted(at.replace(tzinfo=moment.when.tzinfo) for at in found if begin < at < end)


@lru_cache(CACHE_SIZE)
def _rules(text: str) -> tuple[tuple[str | None, str], ...]:
    """``(value, condition)`` of each rule; semicolons inside brackets belong to the condition."""
    parts, depth, start = [], 0, 0
    for i, sign in enumerate(text):
        depth += (sign == "(") - (sign == ")")
        if sign == ";" and depth <= 0:
            parts.append(text[start:i])
            start = i + 1
    parts.append(text[start:])
    rules: list[tuple[str | None, str]] = []
    for part in parts:
        match = _RULE.match(part)
        if match is not None and match.group(1):
            rules.append((match.group(1), _bare(match.group(2))))
        elif part.strip() and rules and rules[-1][0] is not None:  # hours without brackets: Mo-Fr 8-18; Sa 8-12
            rules[-1] = (rules[-1][0], f"{rules[-1][1]};{part}")
        elif part.strip():
            rules.append((None, part.strip()))
    return tuple(rules)


def _bare(condition: str) -> str:
    condition = condition.strip()
    if condition.startswith("(") and condition.endswith(")") and condition.count("(") == 1:
        return condition[1:-1].strip()
    return condition


def _holds(condition: str, moment: Moment) -> bool | None:
    """Whether all parts of a condition hold; ``None`` where that can't be told."""
    answers = [_one_holds(_bare(part), moment) for part in re.split(r"\s+(?:AND|and)\s+", condition)]
    return False if False in answers else None if None in answers else True


def _one_holds(part: str, moment: Moment) -> bool | None:
    word = tidy(part)
    if word in {"wet", "rain"}:
        return moment.is_wet
    if word in {"snow", "ice", "snowy"}:
        return moment.is_snowy
    if word in _SEASONS:
        return _in_season(word, moment)
    weight = _WEIGHT.match(word)
    if weight is not None and float(weight.group(2)) >= CHAIR_MOST_T:
        return False
    return _open_at(part, moment)


def _in_season(word: str, moment: Moment) -> bool | None:
    month = moment.when.month if moment.is_north else (moment.when.month + 5) % 12 + 1
    surely, maybe = _SEASONS[word]
    return True if month in surely else None if month in maybe else False


def _open_at(text: str, moment: Moment) -> bool | None:
    hours = _hours(text, moment.lon, moment.lat)
    if hours is None:
        return None
    local = moment.when.replace(tzinfo=None)
    return None if hours.is_unknown(local) else bool(hours.is_open(local))


@lru_cache(4096)
def _hours(text: str, lon: float | None, lat: float | None) -> Any:
    """The parsed hours, or ``None`` where the library does not understand them."""
    from opening_hours import OpeningHours, ParserError  # type: ignore[attr-defined]  # its stub leaves the error out

    place = None if lon is None or lat is None else (lat, lon)
    try:
        return OpeningHours(text, coords=place, auto_country=False, auto_timezone=False)
    except ParserError:
        return None
