"""Checkpoints in the gauge's own words: which reading, and what to do if it is less."""

from __future__ import annotations

from rollroute.output.itinerary import Checkpoint, Itinerary
from rollroute.output.plain_text import plain
from rollroute.output.words.words import Words

AT_PLACE_M = 1.0


def checkpoint_sentence(check: Checkpoint, itinerary: Itinerary, words: Words) -> str:
    """One checkpoint: "At 250 m: still at 3 of 5 bars? If not, turn back to X now (210 m)."."""
    gauge = words.gauge_at_least(check.least_soc, itinerary.chair)
    far = "" if check.turn_back_m is None else f" ({words.distance(check.turn_back_m)})"
    ask = words.say("At {distance}: still at {gauge}?", distance=words.distance(check.at_m), gauge=gauge)
    return f"{ask} {otherwise(check, plain(check.turn_back_to), far, words)}"


def checkpoint_groups(itinerary: Itinerary, words: Words) -> list[str]:
    """All checkpoints, those together that ask for the same reading and the same way out."""
    groups: dict[tuple[str, str], list[str]] = {}
    for check in itinerary.checkpoints:
        gauge = words.gauge_at_least(check.least_soc, itinerary.chair)
        key = (gauge, otherwise(check, plain(check.turn_back_to), _where(check, itinerary, words), words))
        groups.setdefault(key, []).append(words.distance(check.at_m))
    return [
        f"{words.say('At {distance}: still at {gauge}?', distance=words.listing(places), gauge=gauge)} {rest}"
        for (gauge, rest), places in groups.items()
    ]


def otherwise(check: Checkpoint, place: str, where: str, words: Words) -> str:
    """What to do with less on the gauge. ``where`` follows the place, with a space before it."""
    say = words.say
    if check.is_ahead:
        return say("If not, call before you go on: {place} ahead is nearer than coming back.", place=place)
    if check.leave_way_m is not None and check.leave_way_m > check.at_m:
        return say("If not, go on to {place}{where} without a stop; call.", place=place, where=where)
    return say("If not, turn back to {place} now{back}.", place=place, back=where)


def _where(check: Checkpoint, itinerary: Itinerary, words: Words) -> str:
    """Where on this way the place lies, or where to leave the way for it: the same for every checkpoint before it."""
    if check.leave_way_m is None:
        return "" if check.turn_back_m is None else f" ({words.distance(check.turn_back_m)})"
    metre, leave_m = words.distance(check.leave_way_m), check.leave_way_m
    named = [s for s in itinerary.refuges if plain(s.label) == plain(check.turn_back_to) and s.off_way_m < AT_PLACE_M]
    on_way = any(s.at_m is not None and abs(s.at_m - leave_m) < AT_PLACE_M for s in named)
    return f" ({metre})" if on_way else f" ({words.say('leave this way at {metre}', metre=metre)})"
