"""Cells of a coordinator's spreadsheet: masses, lengths, minutes, times, yes or no, each with its own ways of being written.

Empty and ``unknown`` give ``None``: not known, never zero and never the best case.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo

from rollroute.units import KG_PER_LB, M_PER_FOOT, M_PER_INCH

UNKNOWN_WORDS = frozenset({"", "?", "??", "-", "--", "unknown", "not known", "n/k", "nk", "tbc", "tba", "n/a", "na", "don't know", "unk"})
YES_WORDS = frozenset({"yes", "y", "true", "1", "x", "ok", "can", "agreed"})
NO_WORDS = frozenset({"no", "n", "false", "0", "none", "cannot", "can't"})
NONE_WORDS = frozenset({"none", "no", "not needed", "no need", "nil"})
_NUMBER = r"([-+]?\d+(?:[.,]\d+)?)"


def _text(value: Any) -> str | None:
    """The cell's text, or ``None`` if it says that nothing is known."""
    text = str(value).strip() if value is not None else ""
    return None if text.lower() in UNKNOWN_WORDS else text


def _number(text: str) -> float:
    if re.fullmatch(r"[-+]?\d{1,3},\d{3}", text):
        raise ValueError(f"could be {text.replace(',', '')} or {text.replace(',', '.')}. Write it without the comma.")
    return float(text.replace(",", "."))


def _quantity(value: Any, factors: dict[str, float], default: str, example: str) -> float | None:
    """A number with one of the units ``factors``; without a unit ``default`` is meant."""
    text = _text(value)
    if text is None:
        return None
    match = re.fullmatch(_NUMBER + r"\s*([a-z\"']*)\.?", text.lower())
    if match is None or (match[2] or default) not in factors:
        raise ValueError(f"not understood. Give for example {example}, or leave it empty.")
    result = _number(match[1]) * factors[match[2] or default]
    if result < 0:
        raise ValueError(f"must not be negative. Give for example {example}.")
    return result


def parse_mass_kg(value: Any) -> float | None:
    """``82``, ``82 kg`` or ``180 lb`` in kg."""
    factors = {"kg": 1.0, "lb": KG_PER_LB, "lbs": KG_PER_LB, "pounds": KG_PER_LB, "g": 0.001}
    return _quantity(value, factors, "kg", "82 kg or 180 lb")


def parse_length_cm(value: Any) -> float | None:
    """``76``, ``76 cm``, ``0.76 m`` or ``30 in`` in cm."""
    inch, foot = M_PER_INCH * 100, M_PER_FOOT * 100
    factors = {"cm": 1.0, "mm": 0.1, "m": 100.0, "in": inch, "inch": inch, "inches": inch, '"': inch, "ft": foot, "'": foot}
    return _quantity(value, factors, "cm", "76 cm or 30 in")


def parse_watts(value: Any) -> float | None:
    """``1800``, ``1800 W`` or ``1.8 kW`` in W."""
    return _quantity(value, {"w": 1.0, "kw": 1000.0, "va": 1.0}, "w", "1800 W or 1.8 kW")


def parse_amps(value: Any) -> float | None:
    """``15`` or ``15 A`` in A."""
    return _quantity(value, {"a": 1.0, "amp": 1.0, "amps": 1.0}, "a", "15 A")


def parse_hours(value: Any) -> float | None:
    """``4``, ``4 h`` or ``240 min`` in hours."""
    return _quantity(value, {"h": 1.0, "hours": 1.0, "hrs": 1.0, "min": 1 / 60, "mins": 1 / 60, "minutes": 1 / 60}, "h", "4 h")


def parse_minutes(value: Any) -> float | None:
    """``45``, ``45 min``, ``1.5 h``, ``1 h 30`` or ``1h30m`` in minutes."""
    text = _text(value)
    match = re.fullmatch(r"(\d+)\s*h(?:ours?)?\s*(\d+)\s*(?:m|min)?", text.lower()) if text else None
    if match:
        return float(match[1]) * 60 + float(match[2])
    factors = {"min": 1.0, "mins": 1.0, "minutes": 1.0, "m": 1.0, "h": 60.0, "hours": 60.0, "hour": 60.0, "hrs": 60.0}
    return _quantity(text, factors, "min", "45 min or 1 h 30")


def parse_life_support(value: Any) -> float | None:
    """Minutes that carried power lasts; ``none`` is infinity (no such need); empty is not known."""
    if isinstance(value, str) and value.strip().lower() in NONE_WORDS:
        return math.inf
    minutes = parse_minutes(value)
    if minutes == 0:
        raise ValueError("could mean no need or no minutes left. Write none, or the minutes that are left.")
    return minutes


def parse_yes_no(value: Any) -> bool | None:
    """``yes`` or ``no`` in its usual spellings."""
    text = _text(value)
    if text is None:
        return None
    if text.lower() in YES_WORDS | NO_WORDS:
        return text.lower() in YES_WORDS
    raise ValueError("not understood. Write yes, no or unknown.")


def parse_count(value: Any) -> int | None:
    """A whole number of things."""
    text = _text(value)
    if text is None:
        return None
    if text.lower() in {"none", "no"}:
        return 0
    if not re.fullmatch(r"\d+", text):
        raise ValueError("must be a whole number, 0 or more. Write the number, or leave it empty.")
    return int(text)


def parse_number(value: Any) -> float | None:
    """A plain number."""
    return _quantity(value, {"": 1.0}, "", "6")


def parse_degrees(value: Any) -> float | None:
    """A latitude or longitude in decimal degrees."""
    text = _text(value)
    if text is None:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ValueError("not decimal degrees. Give for example 47.6097.") from None


def parse_moment(value: Any, start: dt.datetime | None) -> dt.datetime | None:
    """``20:30``, ``8:30 pm``, ``2030`` or an ISO 8601 time; a bare clock time is its first moment from 12 h before ``start`` on.

    Without a zone the zone of ``start`` is meant.
    """
    text = _text(value)
    if text is None:
        return None
    if start is None:
        raise ValueError("a clock time needs the start of the move in move.toml.")
    clock = _parse_clock(text)
    if clock is None:
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError:
            raise ValueError("not a time. Give 20:30, 8:30 pm or 2026-03-01T20:30+01:00.") from None
        return moment if moment.tzinfo else moment.replace(tzinfo=start.tzinfo)
    moment = start.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
    while moment < start - dt.timedelta(hours=12):
        moment += dt.timedelta(days=1)
    while moment >= start + dt.timedelta(hours=12):
        moment -= dt.timedelta(days=1)
    return moment


def _parse_clock(text: str) -> dt.time | None:
    match = re.fullmatch(r"(\d{1,2})[:.h](\d{2})(?::\d{2})?\s*(am|pm|a\.m\.|p\.m\.)?", text.lower()) or re.fullmatch(
        r"(\d{1,2})()\s*(am|pm|a\.m\.|p\.m\.)", text.lower()
    )
    if match is None:
        match = re.fullmatch(r"(\d{2})(\d{2})()", text)
    if match is None:
        return None
    hour, minute, half = int(match[1]), int(match[2] or 0), (match[3] or "")[:1]
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59:
        raise ValueError("not a time of day. Give 20:30 or 8:30 pm.")
    return dt.time(hour, minute)


def _moment_in_context(value: Any, info: ValidationInfo) -> dt.datetime | None:
    return value if isinstance(value, dt.datetime) else parse_moment(value, (info.context or {}).get("start"))


MassKg = Annotated[float | None, BeforeValidator(parse_mass_kg)]
LengthCm = Annotated[float | None, BeforeValidator(parse_length_cm)]
Watts = Annotated[float | None, BeforeValidator(parse_watts)]
Amps = Annotated[float | None, BeforeValidator(parse_amps)]
Hours = Annotated[float | None, BeforeValidator(parse_hours)]
Minutes = Annotated[float | None, BeforeValidator(parse_minutes)]
LifeSupport = Annotated[float | None, BeforeValidator(parse_life_support)]
YesNo = Annotated[bool | None, BeforeValidator(parse_yes_no)]
Count = Annotated[int | None, BeforeValidator(parse_count)]
Number = Annotated[float | None, BeforeValidator(parse_number)]
Degrees = Annotated[float | None, BeforeValidator(parse_degrees)]
Moment = Annotated[dt.datetime | None, BeforeValidator(_moment_in_context)]
Words = Annotated[str | None, BeforeValidator(_text)]
