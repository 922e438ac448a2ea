"""Facts about a piece of way as rows: what, value, and who says so."""

from __future__ import annotations

from rollroute.output.plain_text import plain
from rollroute.output.words.catalogue import mark
from rollroute.output.words.facts import QUESTIONS, RANKS, REASONS, surface_words
from rollroute.output.words.words import Words
from rollroute.weights.fact import Fact

LABELS = {
    "map": mark("The map says"),
    "width": mark("Width"),
    "surface": mark("Surface"),
    "smoothness": mark("Smoothness"),
    "grade": mark("Grade"),
    "cross_slope": mark("Cross slope"),
    "mass_limit": mark("Carries"),
    "level": mark("Level"),
    "posted_speed": mark("Speed of cars"),
    "access": mark("Access"),
    "wheelchair": mark("Word for wheelchairs"),
    "marks": mark("Marks"),
    "this_way": mark("This way"),
    "other_way": mark("The other way"),
    "kerb": mark("Kerb"),
    "apron": mark("Driveway apron"),
    "barrier": mark("Barrier"),
    "door": mark("Door"),
    "lift": mark("Lift"),
    "crossing": mark("Crossing"),
    "bend": mark("Bend"),
    "height": mark("Height"),
    "threshold": mark("Threshold"),
    "opening": mark("Opening"),
    "ramp_grade": mark("Slope of its ramp"),
    "counter_slope": mark("Slope of the gutter against it"),
    "passed_forward": mark("A chair that asks no less has passed along the line"),
    "passed_backward": mark("A chair that asks no less has passed against the line"),
    "passed_forward_by_another_kind": mark("A chair that asks less has passed along the line"),
    "passed_backward_by_another_kind": mark("A chair that asks less has passed against the line"),
    "often_bad": mark("Where nobody knows, such a place stops a chair in"),
}
MARKS = {
    "bridge": mark("bridge"),
    "below": mark("under a roof or below ground"),
    "indoors": mark("indoors"),
    "sidewalk": mark("a sidewalk goes with the line"),
    "no_sidewalk": mark("no sidewalk on the line"),
    "lit": mark("street lamps"),
    "unlit": mark("no street lamps"),
    "works": mark("road works"),
    "over_area": mark("drawn by us across an area"),
    "link": mark("drawn by us across a gap"),
    "off_map": mark("not on the map"),
    "steps_ramp": mark("a ramp over the steps"),
    "portable_ramp": mark("a portable ramp is promised"),
    "at_times": mark("open at times only"),
    "blocked": mark("found blocked"),
}
LONGEST = 200  # characters of what strangers wrote


def fact_row(fact: Fact, words: Words) -> tuple[str, str, str]:
    """A fact as label, value and source; a label that the table does not know stands as it is."""
    label = words.say(LABELS[fact.what]) if fact.what in LABELS else plain(fact.what.replace("_", " "), longest=40)
    if fact.at:
        label = f"{label} ({plain(fact.at, longest=30)})"
    return label, _value(fact, words), _source(fact, words)


def _value(fact: Fact, words: Words) -> str:
    unknown = words.say("not known")
    if fact.kind == "clear":
        return words.say("clear by what is known")
    if fact.kind == "reasons":
        return ", ".join(words.say(REASONS[r][1]) if r in REASONS else plain(r, longest=40) for r in fact.text.split(","))
    if fact.kind == "questions":
        asked = ", ".join(words.say(QUESTIONS.get(q, QUESTIONS["other"])) for q in fact.text.split(","))
        return f"{words.say('not verified')}: {asked}. {words.say('Chance that it stops the chair')}: {_chance(fact.figure or 0.0, words)}"
    if fact.kind == "codes":
        return ", ".join(words.say(MARKS[code]) if code in MARKS else plain(code, longest=40) for code in fact.text.split(","))
    if fact.kind == "text":
        told = surface_words(fact.text, words) if fact.what == "surface" and fact.text else plain(fact.text, longest=LONGEST)
        return told or (unknown if fact.what in ("width", "surface", "smoothness", "grade") else "")
    return unknown if fact.figure is None else _figure(fact, fact.figure, words)


def _figure(fact: Fact, figure: float, words: Words) -> str:
    if fact.kind == "mass":
        return words.mass(figure)
    if fact.kind == "share":
        return words.say("{percent} of cases", percent=words.percent(figure))
    if fact.kind == "grade":
        spread = "" if fact.spread is None else f" ± {words.number(100.0 * fact.spread, 1)}"
        return f"{words.number(100.0 * figure, 1)}{spread} %"
    if fact.kind in ("length", "small_length"):
        return words.size(figure)
    return words.number(figure, 0 if figure == round(figure) else 1) + (" km/h" if fact.kind == "speed" else "")


def _chance(share: float, words: Words) -> str:
    return words.say("under {percent}", percent="1 %") if share < 0.01 else words.percent(share)


def _source(fact: Fact, words: Words) -> str:
    if fact.source in RANKS:
        return words.say(RANKS[fact.source])
    return words.say("map") if fact.source == "map" else words.say("assumption") if fact.source.startswith("assumption") else ""
