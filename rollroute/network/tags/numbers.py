"""Read figures as people tag them: units, ranges, lists, guesses. Of several values the bad side is taken.

OSM wiki, Map features/Units (units after the figure, feet and inches as ``6'7"``, metres where no unit stands)
and OSM wiki, Semi-colon value separator (several values in one tag).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.reading import Reading, Side, not_understood
from rollroute.units import KG_PER_LB, M_PER_FOOT, M_PER_INCH, M_PER_MILE

CACHE_SIZE = 1 << 16
LENGTH_UNITS_M = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "mt": 1.0, "mtr": 1.0, "mts": 1.0,
    "dm": 0.1, "cm": 0.01, "cms": 0.01, "centimeter": 0.01, "centimeters": 0.01, "centimetre": 0.01, "centimetres": 0.01, "mm": 0.001,
    "km": 1000.0, "mi": M_PER_MILE,
    "'": M_PER_FOOT, "ft": M_PER_FOOT, "foot": M_PER_FOOT, "feet": M_PER_FOOT,
    '"': M_PER_INCH, "in": M_PER_INCH, "inch": M_PER_INCH, "inches": M_PER_INCH,
}  # fmt: skip
MASS_UNITS_KG = {
    "t": 1000.0, "ton": 1000.0, "tonne": 1000.0, "tonnes": 1000.0, "kg": 1.0,
    "lb": KG_PER_LB, "lbs": KG_PER_LB, "st": 2000.0 * KG_PER_LB, "cwt": 112.0 * KG_PER_LB, "lt": 2240.0 * KG_PER_LB,
}  # fmt: skip
"""``st`` is the short ton of 2000 lb, ``lt`` the long ton of 2240 lb, ``cwt`` 112 lb (OSM wiki, Key:maxweight; cwt and lt from memory)."""

_QUOTES = str.maketrans(dict.fromkeys("’‘′`´ʹ", "'") | dict.fromkeys("”“″", '"') | dict.fromkeys("–—−", "-"))
_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+|\d+\.(?!\d|\.)"
_AMOUNT = re.compile(rf"(\d+)/(\d+)|({_NUMBER})(?:\s+(\d+)/(\d+))?")
_UNIT = re.compile(r"\s*([a-z'\"]*)\.?\s*")
_ABOUT = re.compile(
    r"^(?:~|≈|±|ca?\.?(?=[\s\d])|circa|approx(?:imately|\.)?|about|around|roughly|est\.?)\s*"
    r"|\s*(?:\?|\(est(?:imated)?\)|approx\.?|\+/-)$"
)
_BOUND = re.compile(r"^(<=|>=|<|>|≤|≥|min\.?|max\.?|at least|up to)\s*")
_RANGE = re.compile(rf"^((?:{_NUMBER})\s*[a-z'\"]*)\s*(?:-|\.\.\.?|to|bis|…)\s*((?:{_NUMBER}).*)$")
_LOWER = {">", ">=", "≥", "min", "min.", "at least"}


def first_tag(tags: Mapping[str, str], *keys: str) -> tuple[str, str] | None:
    """The first of ``keys`` that is tagged, with its value; an empty value counts as missing."""
    for key in keys:
        text = tags.get(key)
        if text is not None and text.strip():
            return key, text
    return None


@lru_cache(CACHE_SIZE)
def read_length_m(text: str, bad: Side = "low", least_m: float = 0.0, most_m: float = 1000.0) -> Reading[float]:
    """A length in metres; without a unit it is metres. Of a list or a range the ``bad`` side counts.

    A figure outside ``least_m`` … ``most_m`` is no length that such a thing can have (mostly a missing unit): it stays unknown.

    Examples
    --------
    >>> [read_length_m(text).value for text in ("2 m", "80 cm", "1.5;2", "2,5", "narrow")]
    [2.0, 0.8, 1.5, 2.5, None]
    """
    return _read(text, bad, LENGTH_UNITS_M, 1.0, (least_m, most_m), "a length")


@lru_cache(CACHE_SIZE)
def read_mass_kg(text: str, bad: Side = "low") -> Reading[float]:
    """A mass in kilograms; without a unit it is metric tonnes (OSM wiki, Key:maxweight)."""
    return _read(text, bad, MASS_UNITS_KG, 1000.0, (1.0, 1e6), "a mass")


@lru_cache(CACHE_SIZE)
def read_count(text: str, bad: Side = "high") -> Reading[int]:
    """A whole number of things; ``1.5`` (as some tag narrow lanes) is taken up or down to the bad side."""
    found = _read(text, bad, {}, 1.0, (0.0, 10000.0), "a number of things")
    if found.value is None:
        return Reading(None, found.rank, text, found.problem)
    whole = int(found.value) if bad == "low" else -int(-found.value // 1)
    return Reading(whole, found.rank, text, None, found.is_approximate or whole != found.value)


def tidy(text: str) -> str:
    """Lower case, straight quotes, plain dashes, single spaces."""
    return " ".join(text.translate(_QUOTES).replace("''", '"').casefold().split())


def split_values(text: str) -> list[str]:
    """The parts of a list ``a;b``; empty parts are dropped."""
    return [part.strip() for part in text.split(";") if part.strip()]


def take_about(text: str) -> tuple[str, bool]:
    """The text without words such as ``~`` or ``ca.``, and whether there was one."""
    bare = _ABOUT.sub("", text)
    return bare.strip(), bare != text


def _read(text: str, bad: Side, units: Mapping[str, float], default: float, span: tuple[float, float], what: str) -> Reading[float]:
    values: list[float] = []
    is_about = False
    for part in split_values(tidy(text)) or [""]:
        bare, about = take_about(part)
        is_about |= about
        figure = _one(bare, bad, units, default)
        if isinstance(figure, str):
            return not_understood(text, figure or f"not {what}")
        values.append(figure)
    value = min(values) if bad == "low" else max(values)
    if not span[0] <= value <= span[1]:
        return not_understood(text, f"{value:g} is not believable here, a unit may be missing")
    return Reading(value, Rank.TAG_NUMBER, text, None, is_about)


def _one(text: str, bad: Side, units: Mapping[str, float], default: float) -> float | str:
    """One figure, or why it is none."""
    bound = _BOUND.match(text)
    if bound:
        is_lower = bound.group(1) in _LOWER
        if is_lower != (bad == "low"):
            return "only a bound on the good side"
        return _one(text[bound.end() :], bad, units, default)
    span = _RANGE.match(text)
    if span:
        return _range(span.group(1).strip(), span.group(2).strip(), bad, units, default)
    return _amounts(text, units, default)


def _range(low: str, high: str, bad: Side, units: Mapping[str, float], default: float) -> float | str:
    """The bad end of ``low - high``; a unit that stands only at the end belongs to both."""
    unit = _AMOUNT.sub("", high).strip()
    if _AMOUNT.fullmatch(low) and unit in units:
        low = f"{low} {unit}"
    ends = [_amounts(low, units, default), _amounts(high, units, default)]
    figures = [end for end in ends if not isinstance(end, str)]
    if len(figures) < 2:
        return ""
    return min(figures) if bad == "low" else max(figures)


def _amounts(text: str, units: Mapping[str, float], default: float) -> float | str:
    """``6'7"``, ``6 ft 7 in``, ``80 cm``, ``2``: figures with units, added up; only a single figure may lack its unit."""
    total, position, last_unit = 0.0, 0, float("inf")
    while position < len(text):
        amount = _AMOUNT.match(text, position)
        if amount is None:
            return ""
        unit = _UNIT.match(text, amount.end())
        name, position = (unit.group(1), unit.end()) if unit else ("", amount.end())
        is_alone = amount.start() == 0 and position == len(text)
        factor = default if not name and is_alone else units.get(name)
        if factor is None or factor >= last_unit:
            return ""
        value = _amount(amount)
        if value is None:
            return ""
        total, last_unit = total + value * factor, factor
    return total if position else ""


def _amount(match: re.Match[str]) -> float | None:
    lone_top, lone_bottom, whole, top, bottom = match.groups()
    top, bottom = top or lone_top, bottom or lone_bottom
    if bottom is not None and int(bottom) == 0:
        return None
    fraction = int(top) / int(bottom) if top and bottom else 0.0
    return (float(whole.replace(",", ".")) if whole else 0.0) + fraction
