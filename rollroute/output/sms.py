"""A route as numbered text messages, fit to be read aloud on a radio, and the reading of replies."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from rollroute.errors import InputError
from rollroute.output.geo_uri import grid_reference
from rollroute.output.gsm import SEPTETS_PER_MESSAGE, is_lossy, septets, to_gsm
from rollroute.output.itinerary import Hazard, Itinerary, LonLat
from rollroute.output.plain_text import plain
from rollroute.output.steps import Step, numbered_as_sent
from rollroute.output.steps_runs import M_PER_DEG
from rollroute.output.words import Words, mark
from rollroute.output.words.facts import WAYS, compass_words, floor_words, hazard_words
from rollroute.output.words.sentences import turn_words

LONGEST_NAME = 48  # septets of one name in a message
USNG_LAT = (-80.0, 84.0)  # UTM, and with it the grid, ends there
OFF_MAP = mark("ground not on the map")
TIMED = ("closed", "deadline")  # hazards with a time that whoever has nothing but the messages has to know
NEAR_M = 200.0  # our choice: a hazard further from the way costs messages and tells nothing of it
REPLIES = {"B": "blocked", "P": "passed", "H": "help"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """A reply by code: ``kind`` is ``blocked``, ``passed`` or ``help``; ``step`` may be ``None`` for help only."""

    route: str
    kind: str
    step: int | None


def messages(itinerary: Itinerary, words: Words) -> list[str]:
    """Write the route as messages of at most 160 places of the GSM 7-bit alphabet, each headed "K7 1/4".

    Every step stands with its number, turn, street and metres, every halt with its minutes, the goal with its grid reference, and every
    hazard that closes with its time.
    A street whose script the alphabet lacks is named by its step, as it stands on the sheet.
    """
    return numbered(itinerary.code, _parts(itinerary, words))


def numbered(code: str, parts: list[str]) -> list[str]:
    """Fill messages of at most 160 places of the GSM 7-bit alphabet with ``parts`` in order, each headed by ``code`` and its number."""
    code = to_gsm(plain(code))
    total = 1
    while True:
        bodies = _pack(parts, SEPTETS_PER_MESSAGE - septets(f"{code} {total}/{total} "))
        if len(str(len(bodies))) <= len(str(total)):
            return [f"{code} {n}/{len(bodies)} {body}" for n, body in enumerate(bodies, start=1)]
        total = int("9" * len(str(len(bodies))))


def place_reference(lon: float, lat: float) -> str:
    """The US National Grid reference to 10 m, or latitude and longitude where the grid does not reach."""
    if USNG_LAT[0] <= lat <= USNG_LAT[1]:
        return grid_reference(lon, lat)
    return f"{lat:.5f} {lon:.5f}"


def parse_reply(text: str, *, n_steps: int | None = None) -> Reply:
    """Read a reply such as ``K7 B12`` (blocked at step 12), ``K7 P12`` (passed) or ``K7 H`` (help).

    Spaces, case, dots and dashes do not matter, and letters O, I and L in a number count as 0 and 1.

    Raises
    ------
    InputError
        If it is no such code, or the step is not one of 1 .. ``n_steps``.

    Examples
    --------
    >>> parse_reply(" k7 - b 12. ")
    Reply(route='K7', kind='blocked', step=12)
    """
    letters = re.sub(r"[\s.,;:/_-]+", "", text).upper()
    match = re.fullmatch(r"([A-Z]{1,3}\d{1,4})([BPH])([\dOIL]{0,3})", letters)
    if match is None or (match[2] != "H" and not match[3]):
        raise InputError(f"reply: {text!r} is no code of a sheet. Send, for example, K7 B12 (blocked at step 12), K7 P12 or K7 H.")
    digits = match[3].translate(str.maketrans("OIL", "011"))
    step = int(digits) if digits else None
    if step is not None and (step < 1 or (n_steps is not None and step > n_steps)):
        raise InputError(
            f"reply: {text!r} names step {step}, but the route has steps 1 to {n_steps or 'n'}. Look at the sheet and send it again."
        )
    return Reply(route=match[1], kind=REPLIES[match[2]], step=step)


def _parts(itinerary: Itinerary, words: Words) -> list[str]:
    steps = numbered_as_sent(itinerary)
    parts = [_part(step, itinerary, words) for step in steps]
    parts += [_hazard(hazard, itinerary, words) for hazard in itinerary.hazards if hazard.kind in TIMED and _is_near(hazard, itinerary)]
    parts.append(words.say("Reply {code} B and step if blocked, P and step when passed, H for help", code=plain(itinerary.code)))
    return [to_gsm(p) + ";" for p in parts[:-1]] + [to_gsm(parts[-1]) + "."]


def _part(step: Step, itinerary: Itinerary, words: Words) -> str:
    say, n, ahead = words.say, step.number, words.distance(step.to_next_m)
    if step.kind == "charge":
        return say(
            "{n} charge at {place}, {minutes}", n=n, place=_name(step.place, step, words), minutes=words.minutes(step.time_s.planned)
        )
    if step.kind == "arrive":
        place = place_reference(itinerary.goal.lon, itinerary.goal.lat)
        return say("{n} goal {place}, grid {grid}", n=n, place=_name(step.place, step, words), grid=place)
    if step.kind == "lift":
        return say("{n} lift to {floor}", n=n, floor=floor_words(step.level, words)) if step.level is not None else say("{n} lift", n=n)
    way = _way(step, words)
    if step.kind == "start":
        time, place = words.time_of_day(itinerary.conditions.departure), _name(step.place, step, words)
        if step.bearing_deg is None:
            return say("{n} at {time} from {place}, {way}, {distance}", n=n, time=time, place=place, way=way, distance=ahead)
        compass = compass_words(step.bearing_deg, words)
        return say(
            "{n} at {time} from {place} go {compass}, {way}, {distance}",
            n=n,
            time=time,
            place=place,
            compass=compass,
            way=way,
            distance=ahead,
        )
    turn = turn_words(step.turn, words)
    if step.kind == "cross" and step.then_along is not None:
        on = _name(step.then_along, step, words)
        return say("{n} {turn}, cross {street}, on along {way}, {distance}", n=n, turn=turn, street=way, way=on, distance=ahead)
    if step.kind == "cross":
        return say("{n} {turn}, cross {street}, {distance}", n=n, turn=turn, street=way, distance=ahead)
    return say("{n} {turn}, {way}, {distance}", n=n, turn=turn, way=way, distance=ahead)


def _way(step: Step, words: Words) -> str:
    if step.street is None:
        return words.say(OFF_MAP if step.way_kind == "off_map" else WAYS.get(step.way_kind or "", WAYS["footway"]))
    return _name(step.street, step, words)


def _is_near(hazard: Hazard, itinerary: Itinerary) -> bool:
    """Whether the way comes within ``NEAR_M`` of the hazard, on a local plane; one whose place nobody knows counts as near."""
    from shapely import LineString, Polygon

    per_lon = M_PER_DEG * math.cos(math.radians(itinerary.start.lat))

    def on_plane(line: Iterable[LonLat]) -> list[tuple[float, float]]:
        return [(lon * per_lon, lat * M_PER_DEG) for lon, lat in line]

    way = LineString(on_plane(place for piece in itinerary.pieces for place in piece.coordinates))
    areas = [Polygon(on_plane(ring)) for ring in hazard.rings if len(ring) >= 4]
    return not areas or any(way.distance(area) <= NEAR_M for area in areas)


def _hazard(hazard: Hazard, itinerary: Itinerary, words: Words) -> str:
    named = dataclasses.replace(hazard, label=_spelt(hazard.label) or words.say("(name on sheet)"))
    return hazard_words(named, words, day=itinerary.conditions.departure).rstrip(".")


def _name(name: str | None, step: Step, words: Words) -> str:
    """A name in the alphabet, or the step on the sheet that spells it."""
    return _spelt(name) or words.say("(name on sheet, step {n})", n=step.number)


def _spelt(name: str | None) -> str:
    """A name in the alphabet, where nothing of it can be read as the end of a part; nothing if letters would be lost."""
    text = plain(name)
    if is_lossy(text) or not any(c.isalnum() for c in to_gsm(text)):
        return ""
    return _cut(to_gsm(text).replace(";", ","), LONGEST_NAME)


def _cut(text: str, longest: int) -> str:
    while septets(text) > longest:
        text = text[:-1]
    return text


def _pack(parts: list[str], room: int) -> list[str]:
    """Fill messages with whole parts; a part longer than a message breaks at a space."""
    bodies = [""]
    for part in parts:
        if bodies[-1] and septets(f"{bodies[-1]} {part}") > room:
            bodies.append("")
        for word in part.split(" ") if septets(part) > room else [part]:
            longer = f"{bodies[-1]} {word}".strip()
            if septets(longer) > room:
                bodies.append(word)
            else:
                bodies[-1] = longer
    return bodies
