"""A route in a few lines: way, time, charge, doubt and its weakest places, expected beside planned."""

from __future__ import annotations

from datetime import datetime

from rollroute.output.itinerary import Itinerary, Question
from rollroute.output.plain_text import plain
from rollroute.output.words.facts import question_words
from rollroute.output.words.words import Words, read_moment

VALID_UNTIL = "valid_until="  # a note of an itinerary that is sent: the moment follows


def title(itinerary: Itinerary, words: Words) -> str:
    """The route by its code alone: fit for a title or a file's metadata, which must not hold an address."""
    return words.say("Route {code}", code=plain(itinerary.code))


def from_to(itinerary: Itinerary, words: Words) -> str:
    """Start and goal in one line."""
    return words.say("{start} to {goal}", start=plain(itinerary.start.label), goal=plain(itinerary.goal.label))


def way_line(itinerary: Itinerary, words: Words) -> str:
    """Length, climb and descent."""
    return words.say(
        "{length}; up {climb}, down {descent} in all.",
        length=words.distance(itinerary.length_m),
        climb=words.distance(itinerary.climb_m),
        descent=words.distance(itinerary.descent_m),
    )


def time_line(itinerary: Itinerary, words: Words) -> str:
    """Door to door, halts included."""
    time = itinerary.time_s
    return words.say(
        "Time: {expected} expected, {planned} planned.", expected=words.minutes(time.expected), planned=words.minutes(time.planned)
    )


def arrive_moments(itinerary: Itinerary) -> tuple[datetime, datetime] | None:
    """Expected and planned arrival, in the zone of the departure."""
    if itinerary.arrive_time is None:
        return None
    zone = read_moment(itinerary.conditions.departure).tzinfo
    arrive = itinerary.arrive_time
    return datetime.fromtimestamp(arrive.expected, zone), datetime.fromtimestamp(arrive.planned, zone)


def when_line(itinerary: Itinerary, words: Words) -> str:
    """Leave and arrive."""
    leave = itinerary.conditions.departure
    moments = arrive_moments(itinerary)
    date, time = words.date(leave), words.time_of_day(leave)
    if moments is None:
        return words.say("Leave {date} at {time}.", date=date, time=time)
    expected, planned = (words.moment(m.isoformat(), day=leave) for m in moments)
    return words.say(
        "Leave {date} at {time}; arrive {expected} expected, {planned} planned.", date=date, time=time, expected=expected, planned=planned
    )


def valid_line(moment: str | datetime, words: Words) -> str:
    """Until when what was sent may be followed."""
    return words.say("Valid until {time} on {date}. After that ask for a new one.", time=words.time_of_day(moment), date=words.date(moment))


def validity(itinerary: Itinerary, words: Words) -> str | None:
    """The same for what is sent with a link, which carries its end as a note; ``None`` for what is not sent."""
    ends = [note.removeprefix(VALID_UNTIL) for note in itinerary.notes if note.startswith(VALID_UNTIL)]
    return valid_line(ends[0], words) if ends else None


def charge_line(itinerary: Itinerary, words: Words) -> str:
    """Charge at start and goal, both cases of each, in the gauge's own units first, and the reserve."""
    chair = itinerary.chair
    return words.say(
        "Charge at the start: {start} expected, {low} planned. At the goal: {expected} expected, {planned} planned. Reserve: {reserve}.",
        start=words.gauge(itinerary.soc_start.expected, chair),
        low=words.gauge(itinerary.soc_start.planned, chair),
        expected=words.gauge(itinerary.soc_goal.expected, chair),
        planned=words.gauge(itinerary.soc_goal.planned, chair),
        reserve=words.percent(itinerary.reserve_soc),
    )


def doubt_line(itinerary: Itinerary, words: Words) -> str:
    """How much of the way rests on facts that are missing."""
    if not itinerary.questions:
        return words.say("No question is open on the mapped way; the map can still be wrong.")
    return words.say_n(
        "{n} place is not verified; {length} of the way.",
        "{n} places are not verified; {length} of the way.",
        len(itinerary.questions),
        length=words.distance(itinerary.unverified_m),
    )


def planned_line(words: Words) -> str:
    """What "planned" means."""
    return words.say("Planned: about 95 of 100 such trips should need less.")


def proof_line(itinerary: Itinerary, words: Words) -> str:
    """Whether the route is proven best under the model."""
    if itinerary.is_proven:
        return words.say("No better route exists under the planner's model and map.")
    if itinerary.gap is None:
        return words.say("This route keeps every rule; whether a better one exists was not proven.")
    return words.say("This route keeps every rule; a better one could save at most {percent}.", percent=words.percent(itinerary.gap))


def weakest(itinerary: Itinerary) -> list[Question]:
    """The weakest places, the most doubtful first."""
    return sorted((q for q in itinerary.questions if q.is_weakest), key=lambda q: (-q.probability, q.number))


def weakest_lines(itinerary: Itinerary, words: Words) -> list[str]:
    """The weakest places as numbered lines, the most doubtful first."""
    return [f"{q.number}. {question_words(q, words)}" for q in weakest(itinerary)]


def decide_line(words: Words) -> str:
    """Who decides."""
    return words.say("The rider decides: stop, turn back or choose another way at any moment.")


def limits_line(words: Words) -> str:
    """What the figures are worth."""
    return words.say("This is a plan made from a map, not a promise: look before every step.")
