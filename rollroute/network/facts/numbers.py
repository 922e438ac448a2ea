"""Numbers as people tag them: lengths, grades, masses, with units, ranges and dirt.

What can't be understood gives ``None`` and never a guess; ``is_rough`` marks values that were tagged as approximate.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from rollroute.units import KG_PER_LB, M_PER_FOOT, M_PER_INCH, M_PER_MILE

_UNITS_M = {
    "": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "cm": 0.01, "mm": 0.001, "km": 1000.0,
    "ft": M_PER_FOOT, "feet": M_PER_FOOT, "foot": M_PER_FOOT, "'": M_PER_FOOT, "in": M_PER_INCH, "inch": M_PER_INCH, "inches": M_PER_INCH,
    '"': M_PER_INCH, "mi": M_PER_MILE,
}  # fmt: skip
_UNITS_KG = {"": 1000.0, "t": 1000.0, "kg": 1.0, "st": 907.18474, "lbs": KG_PER_LB, "lb": KG_PER_LB}
_FEET_INCHES = re.compile(r"""^(\d+(?:\.\d+)?)\s*(?:'|ft|′)\s*(?:(\d+(?:\.\d+)?)\s*(?:"|''|in|″)?)?$""")
_QUANTITY = re.compile(r"""^([+-]?\d+(?:\.\d+)?)\s*([a-z'"]*)$""")
_RATIO = re.compile(r"^([+-]?\d+(?:\.\d+)?)\s*(?::|in)\s*(\d+(?:\.\d+)?)$")
MOST_PERCENT_OR_DEGREES = 60.0  # steeper than any way that is not stairs: a slip of the keyboard
_ROUGH = re.compile(r"^(?:~|ca\.?|c\.|approx\.?|about|<|>|<=|>=)\s*")


@dataclass(frozen=True, slots=True)
class Number:
    """A value in SI units. ``is_rough``: tagged as approximate, or as several values of which the bad side was taken."""

    value: float
    is_rough: bool = False


@lru_cache(maxsize=65536)
def read_length_m(text: str, *, takes_least: bool = True) -> Number | None:
    r"""A length as in the OSM wiki, Map features/Units: metres unless a unit says otherwise.

    Of several values or a range the bad side counts: the least (an opening) or, with ``takes_least=False``, the most (a kerb).

    Examples
    --------
    >>> [read_length_m(t).value for t in ("2", "2 m", "80 cm", "1.5;2", "~2", "1,5")]
    [2.0, 2.0, 0.8, 1.5, 2.0, 1.5]
    >>> round(read_length_m("6'7\"").value, 4)  # 6 × 0.3048 + 7 × 0.0254
    2.0066
    >>> read_length_m("wide") is None
    True
    """
    return _read(text, _one_length, takes_least=takes_least)


def _read(text: str, one: object, *, takes_least: bool) -> Number | None:
    plain = text.strip().lower().replace("−", "-")
    is_rough = bool(_ROUGH.match(plain))
    plain = _ROUGH.sub("", plain)
    parts = [p for p in re.split(r";|(?<=[\d\w'\"])\s*[-–]\s*(?=\d)", plain) if p.strip()]
    values = [v for p in parts if (v := one(p.strip())) is not None]  # type: ignore[operator]
    if not values or len(values) != len(parts):
        return None
    return Number(min(values) if takes_least else max(values), is_rough or len(values) > 1)


def _one_length(text: str) -> float | None:
    if match := _FEET_INCHES.match(text):
        return float(match[1]) * M_PER_FOOT + float(match[2] or 0) * M_PER_INCH
    return _quantity(text, _UNITS_M)


def _quantity(text: str, units: dict[str, float]) -> float | None:
    match = _QUANTITY.match(text.replace(",", ".").replace(" ", " "))
    if not match or match[2] not in units:
        return None
    return float(match[1]) * units[match[2]]


@lru_cache(maxsize=4096)
def read_mass_kg(text: str) -> Number | None:
    """A mass limit as in the OSM wiki, Key:maxweight: tonnes unless a unit says otherwise."""
    return _read(text, lambda part: _quantity(part, _UNITS_KG), takes_least=True)


@lru_cache(maxsize=65536)
def read_grade(text: str) -> Number | None:
    """A numeric slope as in the OSM wiki, Key:incline, as rise over run in the direction of the way: ``10%``, ``-5°``, ``1:12``.

    A bare number is percent (the wiki asks for the sign; people leave it out). Of several values the steepest counts.

    Examples
    --------
    >>> [round(read_grade(t).value, 4) for t in ("10%", "-5°", "1:12", "-8")]
    [0.1, -0.0875, 0.0833, -0.08]
    >>> read_grade("up") is None
    True
    """
    plain = _ROUGH.sub("", text.strip().lower().replace("−", "-").replace(",", "."))
    values = [v for p in plain.split(";") if (v := _one_grade(p.strip())) is not None]
    if not values or len(values) != plain.count(";") + 1:
        return None
    return Number(max(values, key=abs), plain != text.strip().lower() or len(values) > 1)


def _one_grade(text: str) -> float | None:
    if match := _RATIO.match(text):
        return float(match[1]) / float(match[2]) if float(match[2]) else None
    unit = next((u for u in ("%", "°", "deg") if text.endswith(u)), "")
    try:
        number = float(text.removesuffix(unit).strip())
    except ValueError:
        return None
    if abs(number) >= MOST_PERCENT_OR_DEGREES:
        return None
    return math.tan(math.radians(number)) if unit in ("°", "deg") else number / 100
