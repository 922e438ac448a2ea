"""What replies from the way say of it: blocks, which become facts of the field, and passages. Nobody is named.

Codes are short and can be meant in two ways; each is read the way that promises less:

- ``P12``: the chair has come to where step 12 begins; step 12 itself counts as driven with the next step that is passed.
  What was driven runs from the last step passed, or the start; where somebody told of a block in between, nobody knows which way round
  it the chair took, so nothing counts as driven.
- ``B12``: the way is blocked somewhere on step 12, or on the step before it; on step 12 alone where ``P12`` was told too.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import itertools
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.tracks import FIGURES
from rollroute.output.itinerary import ChairFacts, Itinerary, Piece
from rollroute.output.plain_text import plain
from rollroute.output.sms import Reply, parse_reply
from rollroute.output.steps import build_steps
from rollroute.output.steps_runs import line_of

LETTERS = {"blocked": "B", "passed": "P", "help": "H"}
NEAR_M = 0.05  # steps begin and end with pieces; this is rounding
_CLOCK = re.compile(r"\d{1,2}:\d{2}")
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}\S*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One reply, when it was sent if anybody said so, and the last day on which a block counts if anybody knows one."""

    reply: Reply
    moment: dt.datetime | None = None
    until: dt.date | None = None

    @property
    def code(self) -> str:
        """The reply as it is written on the sheet."""
        return f"{self.reply.route} {LETTERS[self.reply.kind]}{self.reply.step or ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """One line for each reply, and what goes into files: GeoJSON features of blocks and of passages."""

    lines: tuple[str, ...]
    blocks: tuple[dict[str, Any], ...] = ()
    passages: tuple[dict[str, Any], ...] = ()


def read_reply(text: str, itinerary: Itinerary, *, n_steps: int) -> Heard:
    """Read ``K7 B12``, with or without a time before or after it: ``19:05`` or ``2026-03-14T19:05-02:00``.

    Raises
    ------
    InputError
        If it is no code, names another route or a step that this route lacks, or its time is none.
    """
    words = text.split()
    times = [word for word in words if _CLOCK.fullmatch(word) or _MOMENT.fullmatch(word)]
    if len(times) > 1:
        raise InputError(f"reply: {text!r} has {len(times)} times. Give one reply with one time, for example {itinerary.code} B12 19:05.")
    reply = parse_reply(" ".join(word for word in words if word not in times), n_steps=n_steps)
    if reply.route != _squeezed(itinerary.code):
        raise InputError(f"reply: {text!r} is of route {reply.route}, this is route {itinerary.code}. Give the folder of {reply.route}.")
    return Heard(reply=reply, moment=_moment(times[0], itinerary, text) if times else None)


def split_replies(texts: Sequence[str], itinerary: Itinerary, *, until: dt.date | None = None) -> list[Heard]:
    """Replies, one a text; or one that was typed in several words without quotes. ``until``: the last day of the blocks among them.

    Raises
    ------
    InputError
        If there is none, or one can't be read.
    """
    texts = [text for text in texts if text.strip()]
    if not texts:
        raise InputError(f'no reply given. Give one, for example "{itinerary.code} P12", or one a line on standard input.')
    n_steps = len(build_steps(itinerary))
    found: list[Heard] = []
    if len(texts) > 1:
        with contextlib.suppress(InputError):
            found = [read_reply(" ".join(texts), itinerary, n_steps=n_steps)]
    found = found or [read_reply(text, itinerary, n_steps=n_steps) for text in texts]
    return [dataclasses.replace(one, until=until) if one.reply.kind == "blocked" else one for one in found]


def understand(itinerary: Itinerary, heard: Iterable[Heard]) -> Understood:
    """What all replies of one route say together: in the order of their times where each has one, else in the order given."""
    told = _once(heard)
    if all(one.moment for one in told):
        told.sort(key=lambda one: one.moment or _departure(itinerary))
    way = _Way(itinerary, told)
    lines: list[str] = []
    blocks: list[dict[str, Any]] = []
    passages: list[dict[str, Any]] = []
    last_step, passed_m = 1, 0.0
    for one in told:
        step = one.reply.step or last_step
        if one.reply.kind == "help":
            words = f"asks for help: call them. Last told of: {way.at(way.steps[step - 1].at_m)}."
        elif one.reply.kind == "blocked":
            words, features = way.block(one, step)
            blocks += features
        else:
            words, features = way.passage(one, step, passed_m)
            passages += features
            passed_m = max(passed_m, way.steps[step - 1].at_m)
        last_step = step
        lines.append(f"{one.code}{f' {one.moment:%Y-%m-%d %H:%M}' if one.moment else ''}: {words}")
    return Understood(lines=tuple(lines), blocks=tuple(blocks), passages=tuple(passages))


def _once(heard: Iterable[Heard]) -> list[Heard]:
    """Each reply once, as it came first; a last day that was told later counts."""
    told: dict[tuple[str, int | None], Heard] = {}
    for one in heard:
        key = (one.reply.kind, one.reply.step)
        before = told.get(key)
        told[key] = one if before is None else dataclasses.replace(before, until=one.until or before.until)
    return list(told.values())


class _Way:
    """The steps of one route, and what replies say of the stretches between them."""

    def __init__(self, itinerary: Itinerary, told: Sequence[Heard]) -> None:
        self.itinerary = itinerary
        self.steps = build_steps(itinerary)
        self.reached_m = [self.steps[(one.reply.step or 1) - 1].at_m for one in told if one.reply.kind == "passed"]
        self.blocked = [self.stretch(one.reply.step or 1) for one in told if one.reply.kind == "blocked"]

    def is_reached(self, number: int) -> bool:
        """Whether they told that they came to where this step begins; a halt and the step after it begin at one place."""
        return any(abs(metre - self.steps[number - 1].at_m) <= NEAR_M for metre in self.reached_m)

    def stretch(self, number: int) -> tuple[float, float]:
        """Metres between which the way is blocked; never nothing, also at a halt or the goal, where nothing is driven."""
        at_m = self.steps[number - 1].at_m
        end = min((step.at_m for step in self.steps if step.at_m > at_m + NEAR_M), default=at_m)
        if end > at_m and self.is_reached(number):
            return at_m, end
        return max((step.at_m for step in self.steps if step.at_m < at_m - NEAR_M), default=0.0), end

    def block(self, one: Heard, number: int) -> tuple[str, list[dict[str, Any]]]:
        """What a block says, and its facts."""
        begin, end = self.stretch(number)
        pieces = self.between(begin, end)
        said: dict[str, Any] = {"fact": "blocked", "value": "yes", "unit": "", "date": self.day(one).isoformat(), "reply": one.code}
        if one.until is not None:
            said["expires"] = _last_day(one.until, self.day(one), one.code)
        features = [_feature(shape, said) for shape in (*_lines(pieces), *_lifts(pieces))]
        where = f"blocked somewhere between {self.at(begin)} and {self.at(end)}, {end - begin:.0f} m"
        if not features:
            return f"{where}. That ground is not on the map, so no file can say it: choose another start or goal.", []
        held = f"until {one.until}" if one.until else "until somebody says that it is open"
        lon, lat = pieces[0].coordinates[0]
        narrower = f" If they came to step {number}, add {one.reply.route} P{number}: then less is shut."
        hint = "" if self.is_reached(number) or number == 1 else narrower
        return f"{where}: shut from {said['date']} {held}. It begins at {lat:.5f},{lon:.5f}.{hint}", features

    def passage(self, one: Heard, number: int, passed_m: float) -> tuple[str, list[dict[str, Any]]]:
        """What a step that was passed says, and the track; ``passed_m``: how far the way was passed before."""
        end = self.steps[number - 1].at_m
        if end <= passed_m + NEAR_M:
            return f"at {self.at(end)}. Nothing new is driven.", []
        if any(low < end - NEAR_M and passed_m + NEAR_M < high for low, high in self.blocked):
            return f"at {self.at(end)}. The way here was told to be blocked: how they came is not known, so nothing counts as driven.", []
        pieces = self.between(passed_m, end)
        said = {"chair": "unknown", **_figures(self.itinerary.chair), "date": self.day(one).isoformat(), "reply": one.code}
        lacking = [figure for figure in FIGURES if figure not in said]
        lack = f" It answers nothing: nobody stated of this chair {', '.join(lacking)}; add them to the passage." if lacking else ""
        words = f"driven from {self.at(passed_m)} to {self.at(end)}, {end - passed_m:.0f} m, on {said['date']}.{lack}"
        return words, [_feature(line, said) for line in _lines(pieces)]  # not the bit from the door, which is on no map

    def between(self, begin: float, end: float) -> list[Piece]:
        """Pieces from metre to metre."""
        return [p for p in self.itinerary.pieces if p.from_m >= begin - NEAR_M and p.to_m <= end + NEAR_M]

    def at(self, metre: float) -> str:
        """A place of the way in words: the last step that begins there."""
        step = max((s for s in self.steps if abs(s.at_m - metre) <= NEAR_M), key=lambda s: s.number)
        street = plain(step.street or step.place or "")
        return f"step {step.number} ({street + ', ' if street else ''}{metre:.0f} m)"

    def day(self, one: Heard) -> dt.date:
        """The day of a reply by the clock of the way; without a time, the day of leaving."""
        leaving = _departure(self.itinerary)
        return (one.moment or leaving).astimezone(leaving.tzinfo).date()


def _lines(pieces: Sequence[Piece]) -> Iterator[dict[str, Any]]:
    """Lines of what is on the map, in the direction of driving."""
    for is_mapped, group in itertools.groupby(pieces, key=lambda p: p.way_kind != "off_map"):
        run = list(group)
        line = line_of(run, 0, len(run) - 1)
        if is_mapped and len(line) > 1:
            yield {"type": "LineString", "coordinates": [list(place) for place in line]}


def _lifts(pieces: Sequence[Piece]) -> Iterator[dict[str, Any]]:
    """Points of lifts, which stand on no line."""
    for piece in pieces:
        if piece.way_kind == "elevator":
            yield {"type": "Point", "coordinates": list(piece.coordinates[0])}


def _figures(chair: ChairFacts) -> dict[str, float | str]:
    """Figures of the chair that drove, as far as somebody stated them."""
    known: dict[str, float | str | None] = {
        "width_m": chair.width_m, "length_m": chair.length_m, "loaded_mass_kg": chair.total_mass_kg, "rated_grade": chair.rated_grade,
        "rated_obstacle_m": chair.rated_obstacle_m, "rated_obstacle_down_m": chair.rated_obstacle_down_m, "wheel": chair.wheel,
    }  # fmt: skip
    return {name: value for name, value in known.items() if value is not None and name not in chair.not_stated}


def _feature(geometry: dict[str, Any], said: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": said}


def _departure(itinerary: Itinerary) -> dt.datetime:
    return dt.datetime.fromisoformat(itinerary.conditions.departure)


def _moment(text: str, itinerary: Itinerary, reply: str) -> dt.datetime:
    """A time of day is the one nearest to the departure: a trip may last past midnight."""
    leaving = _departure(itinerary)
    try:
        if _MOMENT.fullmatch(text):
            moment = dt.datetime.fromisoformat(text)
            return moment if moment.tzinfo else moment.replace(tzinfo=leaving.tzinfo)
        clock = dt.time.fromisoformat(text.zfill(5))
    except ValueError as error:
        raise InputError(f"reply: {reply!r}: {text!r} is no time. Give 19:05 or 2026-03-14T19:05-02:00.") from error
    days = (dt.timedelta(days=n) for n in (-1, 0, 1))
    moments = [dt.datetime.combine(leaving.date() + day, clock, leaving.tzinfo) for day in days]
    return min(moments, key=lambda moment: abs(moment - leaving))


def _last_day(until: dt.date, day: dt.date, code: str) -> str:
    if until < day:
        raise InputError(f"--until {until}: is before {day}, the day of {code}. Give the last day on which the block counts.")
    return until.isoformat()


def _squeezed(code: str) -> str:
    return re.sub(r"[^A-Z0-9]", "", code.upper())
