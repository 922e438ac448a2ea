"""Say quantities and sentences in one language, one system of units, one clock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from rollroute.errors import InputError
from rollroute.output.itinerary import ChairFacts
from rollroute.output.words.catalogue import LANGUAGES, decimal_sign, read_catalogue
from rollroute.units import KG_PER_LB, M_PER_FOOT, M_PER_INCH, M_PER_MILE, S_PER_MIN, STANDARD_GRAVITY_M_S2

UNITS = ("metric", "us")
CLOCKS = ("24", "12")
FEET_UP_TO = 5280.0  # one mile; hundredths of a mile are too coarse to find a kerb by


@dataclass(frozen=True, slots=True)
class Words:
    """The reader's language (``en``, ``es``, …), units (``metric``, ``us``) and clock (``24``, ``12``).

    Examples
    --------
    >>> Words().distance(1234.0), Words(units="us").distance(40.0), Words(clock="12").time_of_day("2026-03-14T20:45:00-03:00")
    ('1235 m', '130 ft', '8:45 pm')
    """

    language: str = "en"
    units: str = "metric"
    clock: str = "24"

    def __post_init__(self) -> None:
        for name, value, allowed in (("language", self.language, LANGUAGES), ("units", self.units, UNITS), ("clock", self.clock, CLOCKS)):
            if value not in allowed:
                raise InputError(f"words: {name} must be one of {', '.join(allowed)}, got {value!r}.")

    def say(self, message: str, **values: str | int) -> str:
        """Say ``message`` (an English sentence with ``{names}``) in the reader's language. Values are put in as they are."""
        text = read_catalogue(self.language).get(message, message)
        return (text if isinstance(text, str) else text[0]).format(**values)

    def say_n(self, one: str, many: str, n: int, **values: str | int) -> str:
        """Say a sentence about ``n`` things; ``{n}`` stands for the number. Plural as in English and Spanish: one, other."""
        text = read_catalogue(self.language).get(one, (one, many))
        forms = (text, text) if isinstance(text, str) else text
        return forms[0 if n == 1 else -1].format(n=n, **values)

    def number(self, value: float, decimals: int = 0) -> str:
        """A number with the decimal sign of the language; no sign between thousands, which differ too much to be read aloud."""
        return f"{value:.{decimals}f}".replace(".", decimal_sign(self.language))

    def distance(self, length_m: float) -> str:
        """A distance along the way: "120 m", never "0.12 km"; in feet, then miles, for US units."""
        if self.units == "us":
            feet = length_m / M_PER_FOOT
            if feet < FEET_UP_TO:
                return f"{_rounded(feet, 1 if feet < 30 else 5 if feet < 100 else 10)} ft"
            return f"{self.number(length_m / M_PER_MILE, 2)} mi"
        if length_m >= 10_000:
            return f"{self.number(length_m / 1000, 1)} km"
        return f"{_rounded(length_m, 1 if length_m < 30 else 5)} m"

    def stretch(self, from_m: float, to_m: float) -> str:
        """A stretch of the way, the unit once: "275–320 m"."""
        begin, end = self.distance(from_m), self.distance(to_m)
        figure, _, unit = begin.rpartition(" ")
        return f"{figure}–{end}" if end.endswith(f" {unit}") else f"{begin}–{end}"

    def size(self, value_m: float) -> str:
        """A kerb, a gap or a width: centimetres and metres, or inches and feet."""
        if self.units == "us":
            inches = value_m / M_PER_INCH
            if inches < 24:
                return f"{self.number(inches, 0 if inches >= 10 else 1)} in"
            return f"{round(inches) // 12} ft {round(inches) % 12} in"
        return f"{round(value_m * 100)} cm" if value_m < 1.0 else f"{self.number(value_m, 1)} m"

    def minutes(self, seconds: float) -> str:
        """A duration, rounded up to whole minutes."""
        total = math.ceil(round(seconds / S_PER_MIN, 3))
        return f"{total} min" if total < 60 else f"{total // 60} h {total % 60} min"

    def seconds(self, seconds: float) -> str:
        """A short duration, rounded up to whole seconds."""
        return f"{math.ceil(round(seconds, 3))} s"

    def percent(self, share: float) -> str:
        """A share of one as per cent."""
        return f"{round(share * 100)} %"

    def mass(self, mass_kg: float) -> str:
        """A mass in kilograms or pounds."""
        return f"{round(mass_kg / KG_PER_LB)} lb" if self.units == "us" else f"{round(mass_kg)} kg"

    def force(self, force_n: float) -> str:
        """A push: newtons with the kilograms that weigh as much, or pounds-force."""
        kilograms = force_n / STANDARD_GRAVITY_M_S2
        return f"{round(kilograms / KG_PER_LB)} lbf" if self.units == "us" else f"{round(force_n)} N"

    def temperature(self, temperature_c: float) -> str:
        """A temperature in °C or °F."""
        return f"{round(temperature_c * 9 / 5 + 32)} °F" if self.units == "us" else f"{round(temperature_c)} °C"

    def time_of_day(self, moment: str | datetime) -> str:
        """The clock time of an ISO 8601 text or a moment, in the zone that it is given in."""
        when = moment if isinstance(moment, datetime) else read_moment(moment)
        if self.clock == "24":
            return f"{when.hour:02d}:{when.minute:02d}"
        return f"{(when.hour + 11) % 12 + 1}:{when.minute:02d} {'am' if when.hour < 12 else 'pm'}"

    def moment(self, moment: str, *, day: str | None) -> str:
        """The clock time of a moment; with its date where that is not the day of ``day``."""
        time = self.time_of_day(moment)
        return time if day is None or self.date(moment) == self.date(day) else f"{self.date(moment)} {time}"

    def date(self, moment: str | datetime) -> str:
        """The day, year first: the one order that is read alike everywhere."""
        when = moment if isinstance(moment, datetime) else read_moment(moment)
        return when.date().isoformat()

    def gauge(self, soc: float, chair: ChairFacts) -> str:
        """A charge in the gauge's own units first: "2 of 5 bars, about 38 %"."""
        if chair.gauge_kind != "bars" or not chair.gauge_bars:
            return self.percent(soc)
        shown = min(max(math.ceil(round(soc * chair.gauge_bars, 6)), 0), chair.gauge_bars)
        return self.say("{n} of {bars} bars, about {percent}", n=shown, bars=chair.gauge_bars, percent=self.percent(soc))

    def gauge_at_least(self, soc: float, chair: ChairFacts) -> str:
        """The least display that promises ``soc`` (``rollroute.inputs.charge``); where none does, that is said."""
        from rollroute.inputs.charge import Gauge, display_for

        kind = "bars" if chair.gauge_kind == "bars" else "percent"
        gauge = Gauge(kind=kind, n_bars=chair.gauge_bars if kind == "bars" else None)
        shown = display_for(min(max(soc, 0.0), 1.0), gauge, battery_age_years=chair.battery_age_years)
        if not shown.is_reachable:
            return self.say("more than this gauge can promise")
        if shown.bars is None or shown.n_bars is None:
            return self.percent(shown.percent / 100.0)
        return self.say("{n} of {bars} bars", n=shown.bars, bars=shown.n_bars)

    def listing(self, items: list[str]) -> str:
        """Join items as people do: "a, b and c"."""
        if len(items) < 2:
            return "".join(items)
        return self.say("{first} and {last}", first=", ".join(items[:-1]), last=items[-1])


def read_moment(text: str) -> datetime:
    """Read an ISO 8601 moment."""
    try:
        return datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"time: {text!r} is no ISO 8601 moment. Give, for example, 2026-03-14T20:45:00-03:00.") from error


def _rounded(value: float, step: int) -> int:
    return step * round(value / step)
