"""What map and link say of their own: short labels for kinds, ranks and facts, in the reader's words."""

from __future__ import annotations

from rollroute.output.itinerary import ChairFacts, Spread
from rollroute.output.plain_text import plain
from rollroute.output.words import Words, mark

# Kinds of way as a heading says them; sentences have their own in ``rollroute.output.words.facts``.
WAYS = {
    "footway": mark("footway"),
    "sidewalk": mark("sidewalk"),
    "crossing": mark("crossing"),
    "path": mark("path"),
    "pedestrian": mark("pedestrian street"),
    "cycleway": mark("cycleway"),
    "steps": mark("steps"),
    "ramp": mark("ramp"),
    "elevator": mark("lift"),
    "corridor": mark("corridor"),
    "platform": mark("platform"),
    "living_street": mark("shared street"),
    "residential": mark("street"),
    "service": mark("service road"),
    "driveway": mark("driveway"),
    "parking_aisle": mark("parking aisle"),
    "track": mark("track"),
    "busy_road": mark("busy road"),
    "off_map": mark("not on the map"),
    "area": mark("open area"),
}


def way_label(words: Words, kind: str) -> str:
    """Give a kind of way as a heading; a kind that the table does not know is printed as it is."""
    return words.say(WAYS[kind]) if kind in WAYS else plain(kind.replace("_", " "), longest=40)


def grade_figure(words: Words, grade: float, decimals: int = 0) -> str:
    """Give a grade (rise over run) as a percentage without a sign."""
    return f"{words.number(abs(100.0 * grade), decimals)} %"


def both_cases(words: Words, planned: str, expected: str) -> str:
    """Give a quantity in both cases, the one that promises rest on first."""
    return words.say("{planned} planned, {expected} expected", planned=planned, expected=expected)


def charge(words: Words, soc: Spread, chair: ChairFacts) -> str:
    """Give a charge in the gauge's own words, in both cases."""
    return both_cases(words, words.gauge(soc.planned, chair), words.gauge(soc.expected, chair))
