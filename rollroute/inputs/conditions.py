"""The moment and the weather that a route is planned for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from rollroute.errors import InputError

COLD_ASSUMPTION_C = 5.0  # assumption: where nobody says how cold it is, plan for a cold evening


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Conditions that change what a way means, without changing the map.

    Parameters
    ----------
    departure
        With its time zone.
    temperature_c
        ``None``: nobody said; planned figures then take ``COLD_ASSUMPTION_C``.
    is_wet, is_dark
        Rain or standing water; no daylight.
    has_mains
        Whether public mains power is on: lifts, automatic doors, street lamps, signals and sockets without a generator hang on it.
    has_escort
        Whether somebody walks with the chair; driving on a carriageway needs an escort and light.
    helper_eases_threshold
        Whether a helper may ease the chair over one low threshold.
    after_storm
        After a storm or snow: carriageways are cleared first, sidewalks and curb ramps last, so that the usual preference turns round.
    """

    departure: dt.datetime
    temperature_c: float | None = None
    is_wet: bool = False
    is_dark: bool = False
    has_mains: bool = True
    has_escort: bool = True
    helper_eases_threshold: bool = False
    after_storm: bool = False

    def __post_init__(self) -> None:
        if self.departure.tzinfo is None:
            raise InputError(f"departure {self.departure.isoformat()}: give the time zone too, for example 2026-03-01T18:40+01:00")
        if self.temperature_c is not None and not -50.0 <= self.temperature_c <= 60.0:
            raise InputError(f"temperature {self.temperature_c} °C: must be between -50 and 60. Give degrees Celsius.")

    @property
    def planned_temperature_c(self) -> float:
        """The temperature that planned figures use."""
        return COLD_ASSUMPTION_C if self.temperature_c is None else self.temperature_c


def parse_departure(text: str | None, now: dt.datetime | None) -> dt.datetime:
    """Read ``18:40``, ``2026-03-01 18:40`` or an ISO 8601 time; without a zone the zone of ``now`` is taken; ``None`` is ``now``.

    ``now=None`` is the clock of this machine.

    Raises
    ------
    InputError
        If the text is not a time, or one without a zone beyond a change of this machine's clocks.
    """
    now = now or dt.datetime.now().astimezone().replace(microsecond=0)
    if text is None:
        return now
    try:
        if len(text) <= 5 and ":" in text:
            clock = dt.time.fromisoformat(text.zfill(5))
            text = f"{now:%Y-%m-%d}T{clock:%H:%M}"
        moment = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"--at {text!r}: not a time. Give 18:40 or 2026-03-01T18:40+01:00.") from error
    if moment.tzinfo is not None:
        return moment
    _check_same_clock(moment, now, text)
    return moment.replace(tzinfo=now.tzinfo)


def _check_same_clock(moment: dt.datetime, now: dt.datetime, text: str) -> None:
    """Refuse a time without a zone when this machine's clocks change between ``now`` and then: it would be an hour off."""
    is_local = now.utcoffset() == now.astimezone().utcoffset()
    if is_local and moment.astimezone().utcoffset() != now.utcoffset():
        raise InputError(f"--at {text!r}: the clocks change between now and then. Give the zone too: {moment.astimezone().isoformat()}.")
