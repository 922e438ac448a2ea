"""The charge gauge: what a rider's words about it mean, as an interval, and which display a state of charge needs.

Four times in five the truth lies between ``low`` and ``high``, one time in ten below; half of the time below ``expected``; never more
than a quarter further out (assumption). Planning takes ``low``, together with the other unlucky factors of ``rollroute.weights.scenario``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.tables import load_table

__all__ = ["GAUGE_KINDS", "ChargeReading", "Display", "Gauge", "age_margin", "display_for", "gauge_words", "parse_charge"]

GAUGE_KINDS = ("percent", "bars")

_HELP = 'Write it as the gauge shows it: "60%", "40-60%", "3 of 5 bars", "full", "yellow light" or "unknown".'
_PERCENT = re.compile(r"(?:about |approx\.? |~ ?)?(\d{1,3}(?:\.\d+)?) ?(?:%|percent|per cent)")
_RANGE = re.compile(r"(?:between )?(\d{1,3}(?:\.\d+)?) ?%? ?(?:-|–|to|and) ?(\d{1,3}(?:\.\d+)?) ?(?:%|percent|per cent)")
_BARS = re.compile(r"(\d{1,2}) ?(?:/|of|out of) ?(\d{1,2})(?: (?:bars?|lights?|leds?|lamps?))?")
_BARS_ALONE = re.compile(r"(\d{1,2}) (?:bars?|lights?|leds?|lamps?)")
_WORDS_EN = {
    "bars": "{bars} of {n_bars} bars, about {percent:.0f} %",
    "percent": "{percent:.0f} %",
    "beyond": "more than a full gauge can promise",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """How the chair shows its charge: ``percent``, or ``bars`` with their number (``None``: not known until somebody reads it out)."""

    kind: str = "bars"
    n_bars: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in GAUGE_KINDS:
            raise InputError(f"gauge: kind must be one of {', '.join(GAUGE_KINDS)}, got {self.kind!r}.")
        if self.n_bars is not None and not 2 <= self.n_bars <= 20:
            raise InputError(f"gauge: n_bars must be from 2 to 20, got {self.n_bars!r}. Count the lamps of a full gauge.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeReading:
    """State of charge read from a gauge, 0 <= low <= expected <= high <= 1.

    ``widened_by`` names why the interval is wider than its display: ``age``, ``just charged``.
    """

    low: float
    expected: float
    high: float
    words: str
    widened_by: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.expected <= self.high <= 1.0:
            raise InputError(f"charge {self.words!r}: interval {self.low:g}, {self.expected:g}, {self.high:g} is not in order.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """The least display that promises a state of charge. ``bars`` and ``n_bars`` are ``None`` on a percent gauge.

    ``percent`` is the share to show [%]; ``is_reachable`` is False where not even a full gauge promises it.
    """

    bars: int | None
    n_bars: int | None
    percent: float
    is_reachable: bool


def parse_charge(
    text: str,
    gauge: Gauge | None = None,
    *,
    battery_age_years: float | None = None,
    minutes_since_driving: float | None = None,
    minutes_since_charging: float | None = None,
) -> ChargeReading:
    """What a charge, said in the gauge's words, means as an interval.

    The low end goes lower with the battery's age (unknown counts as old), and after charging, when a gauge that reads the voltage shows
    too much (unknown counts as "just charged", unless the chair has been driven since). A voltage gauge shows too little just after
    driving; no credit is taken for that. Display, age and fresh charge are independent causes: their margins add as squares.

    Raises
    ------
    InputError
        If the text is ambiguous (``0.6``, ``60``) or contradicts the chair's own gauge.

    Examples
    --------
    >>> new_rested = {"battery_age_years": 0.0, "minutes_since_driving": 5.0, "minutes_since_charging": 600.0}
    >>> reading = parse_charge("3 of 5 bars", **new_rested)
    >>> [round(x, 3) for x in (reading.low, reading.expected, reading.high)]
    [0.4, 0.5, 0.6]
    """
    plain = " ".join(text.lower().split())
    low, expected, high = _nominal(plain, text, gauge)
    age = age_margin(battery_age_years)
    rest = _rest_margin(minutes_since_driving, minutes_since_charging)
    reasons = [name for name, margin in (("age", age), ("just charged", rest)) if margin > 0.0]
    below = math.hypot(expected - low, age, rest)
    return ChargeReading(low=max(0.0, expected - below), expected=expected, high=high, words=text.strip(), widened_by=tuple(reasons))


def _rules() -> dict[str, Any]:
    rules: dict[str, Any] = load_table("gauges")["margin"]
    return rules


def _nominal(plain: str, text: str, gauge: Gauge | None) -> tuple[float, float, float]:
    words = load_table("gauges")["word"]
    if plain in words:
        row = words[plain]
        return float(row["low"]), float(row["expected"]), float(row["high"])
    if match := _RANGE.fullmatch(plain):
        ends = sorted(_share(number, text) for number in match.groups())
        return ends[0], sum(ends) / 2.0, ends[1]
    if match := _PERCENT.fullmatch(plain):
        share, margin = _share(match[1], text), float(_rules()["percent"])
        return max(0.0, share - margin), share, min(1.0, share + margin)
    if match := _BARS.fullmatch(plain):
        return _bars(int(match[1]), int(match[2]), text, gauge)
    if match := _BARS_ALONE.fullmatch(plain):
        if gauge is None or gauge.n_bars is None:
            raise InputError(f'charge {text!r}: of how many bars? Write for example "{match[1]} of 5 bars".')
        return _bars(int(match[1]), gauge.n_bars, text, gauge)
    raise InputError(f"charge {text!r} can't be read, or is ambiguous. {_HELP}")


def _share(number: str, text: str) -> float:
    share = float(number) / 100.0
    if share > 1.0:
        raise InputError(f"charge {text!r}: more than 100 %. {_HELP}")
    return share


def _bars(lit: int, n_bars: int, text: str, gauge: Gauge | None) -> tuple[float, float, float]:
    """With ``lit`` of n bars the truth is taken between ``lit - 1`` and ``lit`` parts of n: a bar goes out at the foot of its part."""
    if not 2 <= n_bars <= 20 or lit > n_bars:
        raise InputError(f"charge {text!r}: {lit} of {n_bars} bars is no display. {_HELP}")
    if gauge is not None and gauge.kind == "bars" and gauge.n_bars not in (None, n_bars):
        raise InputError(f"charge {text!r}: this chair's gauge has {gauge.n_bars} bars. Read it again, or correct n_bars.")
    if lit == 0:
        return 0.0, 0.0, 0.5 / n_bars
    return (lit - 1) / n_bars, (lit - 0.5) / n_bars, lit / n_bars


def age_margin(battery_age_years: float | None) -> float:
    """How far the low end may be lower for a battery of this age alone; unknown counts as old."""
    rules = _rules()
    most = float(rules["age_most"])
    return most if battery_age_years is None else min(most, float(rules["age_per_year"]) * battery_age_years)


def _rest_margin(minutes_since_driving: float | None, minutes_since_charging: float | None) -> float:
    rules = _rules()
    settled_min = float(rules["settled_min"])
    if minutes_since_charging is not None and minutes_since_charging >= settled_min:
        return 0.0
    is_driven_since = minutes_since_driving is not None and (
        minutes_since_charging is None or minutes_since_driving < minutes_since_charging
    )
    return 0.0 if is_driven_since else float(rules["just_charged"])


def display_for(soc: float, gauge: Gauge, *, battery_age_years: float | None = None) -> Display:
    """The least display while driving whose *low end* is at least ``soc``: rounded up, never down.

    Bars: k of n promise the middle of bar k less half a bar and the age margin, added as squares. Percent likewise, in steps of 5.
    So a reading's own low end asks for that very display. A bars gauge whose number is unknown is answered in percent.
    """
    if not 0.0 <= soc <= 1.0:
        raise InputError(f"soc must be from 0 to 1, got {soc!r}. 60 % is 0.6.")
    age = age_margin(battery_age_years)
    tiny = 1e-9  # a display that promises exactly soc is enough, whatever the last bit of the sum
    if gauge.kind == "bars" and gauge.n_bars is not None:
        middle = soc + math.hypot(0.5 / gauge.n_bars, age)
        bars = max(1, math.ceil(middle * gauge.n_bars + 0.5 - tiny))
        return Display(bars=bars, n_bars=gauge.n_bars, percent=100.0 * soc, is_reachable=bars <= gauge.n_bars)
    percent = 5.0 * math.ceil((soc + math.hypot(float(_rules()["percent"]), age)) * 20.0 - tiny)
    return Display(bars=None, n_bars=None, percent=percent, is_reachable=percent <= 100.0)


def gauge_words(soc: float, gauge: Gauge, *, battery_age_years: float | None = None) -> str:
    """English words of :func:`display_for`, for a checkpoint.

    Examples
    --------
    >>> gauge_words(0.38, Gauge(kind="bars", n_bars=5), battery_age_years=0.0)  # 2 of 5 promises only 20 %, 3 of 5 promises 40 %
    '3 of 5 bars, about 38 %'
    >>> gauge_words(0.38, Gauge(kind="percent"), battery_age_years=0.0)
    '45 %'
    """
    shown = display_for(soc, gauge, battery_age_years=battery_age_years)
    key = "beyond" if not shown.is_reachable else "percent" if shown.bars is None else "bars"
    return _WORDS_EN[key].format(bars=shown.bars, n_bars=shown.n_bars, percent=shown.percent)
