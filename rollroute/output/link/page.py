"""The words of the link: figures, steps that tick off, stops, open questions, and what the program on the page says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from html import escape
from itertools import pairwise
from typing import Any

from markupsafe import Markup

from rollroute.output.itinerary import Itinerary
from rollroute.output.level_plan import draw_level_plan, legend_words, plan_title
from rollroute.output.map.data import BAR_PX, MOVES, RAISED, rooms, way_end_direction
from rollroute.output.map.drawing import scale_bar
from rollroute.output.map.page import credit
from rollroute.output.map.phrases import both_cases, charge
from rollroute.output.map.plane import Plane
from rollroute.output.map.scene import Mark, Scene
from rollroute.output.map.way import ARROW_SPACING_M, distance_m
from rollroute.output.plain_text import plain
from rollroute.output.steps import Step
from rollroute.output.steps_watch import helper_places
from rollroute.output.words import Words, summary
from rollroute.output.words.facts import question_words
from rollroute.output.words.sentences import helper_sentence, step_sentence, watch_lines

FLOOR_WIDTH_PT, FLOOR_HEIGHT_PT = 480.0, 420.0  # of a floor's plan, before the page fits it to its width


def figures(itinerary: Itinerary, words: Words) -> Markup:
    """Give the trip in figures."""
    say = words.say
    time = both_cases(words, words.minutes(itinerary.time_s.planned), words.minutes(itinerary.time_s.expected))
    rows = [
        Markup('<span class="big">{}</span>').format(words.distance(itinerary.length_m)),
        f"{say('Time')}: {time}",
        f"{say('Leaving at {time}', time=words.time_of_day(itinerary.conditions.departure))}",
        f"{say('Charge at the goal')}: {charge(words, itinerary.soc_goal, itinerary.chair)}",
    ]
    if itinerary.unverified_m > 0:
        rows.append(say("Not verified: {distance}", distance=words.distance(itinerary.unverified_m)))
    return _list(rows, "figures")


def template_texts(itinerary: Itinerary, plane: Plane, words: Words) -> dict[str, str]:
    """Give the sentences that stand in the page's frame."""
    say = words.say
    return {
        "map_heading": say("Map"),
        "map": say("Map of the route"),
        "drawing": say("Drawing of the way. The steps below say the same in words."),
        "north": say("North is up"),
        "n": say("N"),
        "scale": scale_bar(plane, words)[1],
        "credit": credit(itinerary, words),
        "closer": say("Zoom in"),
        "further": say("Zoom out"),
        "whole": say("Whole route"),
        "where": say("Where am I?"),
        "card": say("What the mark says"),
        "steps": say("Steps"),
    }


def valid_note(valid_until: datetime | None, words: Words) -> Markup:
    """Say until when the link may be followed."""
    if valid_until is None:
        return Markup("")
    text = summary.valid_line(valid_until, words)
    return Markup('<p class="valid" data-until="{}">{}</p>').format(valid_until.isoformat(), text)


def step_list(steps: Iterable[Step], offset: int, words: Words) -> Markup:
    """List the steps, each with a box to tick; ``offset`` is added to their numbers, so that they are those of the sheet."""
    return Markup("").join(_step(step, step.number + offset, words) for step in steps)


def _step(step: Step, number: int, words: Words) -> Markup:
    watch = watch_lines(step, words)
    if step.crossing_s is not None:
        watch.append(words.say("Crossing takes {seconds} at this chair's pace.", seconds=words.seconds(step.crossing_s)))
    if step.to_next_m > 0:
        watch.append(words.say("next in {distance}", distance=words.distance(step.to_next_m)))
    return Markup(
        '<li id="step-{}"><label><input type="checkbox" value="{}"><span class="number">{}</span>'
        '<span><span class="metres">{}</span> <span class="sentence"><bdi>{}</bdi></span></span></label>{}</li>'
    ).format(number, number, number, words.distance(step.at_m), step_sentence(step, words), _list(watch, "watch") if watch else "")


def lists(scene: Scene, words: Words) -> Markup:
    """Give what the drawing shows in words: stops, checkpoints, hazards, what is not known, refuges."""
    itinerary, say = scene.itinerary, words.say
    groups: list[tuple[str, Iterable[str]]] = [
        (say("Charging stops"), (_mark_line(mark) for mark in scene.marks if mark.kind == "halt")),
        (say("Checkpoints"), (_mark_line(mark) for mark in scene.marks if mark.kind == "checkpoint")),
        (say("Where you walk"), (helper_sentence(place, words) for place in helper_places(itinerary))),
        (say("Not known: look first"), (f"{q.number}: {question_words(q, words)}" for q in itinerary.questions)),
        (say("Refuges: places to turn back to"), (plain(spot.label) for spot in itinerary.refuges)),
        (say("A lift van may be able to stop here"), (plain(spot.label) for spot in itinerary.van_spots)),
    ]
    return Markup("").join(
        Markup("<section><h2>{}</h2>{}</section>").format(title, _list(rows, "")) for title, lines in groups if (rows := list(lines))
    )


def floor_plans(itinerary: Itinerary, words: Words) -> Markup:
    """Draw every floor of a building that the way uses, with what it shows in words; drawn in its own colours, as on paper."""
    if not itinerary.plans:
        return Markup("")
    drawn = Markup("")
    for plan in itinerary.plans:
        svg, alt = draw_level_plan(plan, words, width_pt=FLOOR_WIDTH_PT, most_height_pt=FLOOR_HEIGHT_PT)
        named = svg.replace("<svg ", f'<svg class="floor" role="img" aria-label="{escape(plan_title(plan, words))}" ', 1)
        drawn += Markup("<figure>{}<figcaption>{}</figcaption></figure>").format(Markup(named), alt)
    return Markup("<section><h2>{}</h2>{}<p>{}</p></section>").format(words.say("Inside buildings"), drawn, legend_words(words))


def _mark_line(mark: Mark) -> str:
    return f"{mark.title}. " + "; ".join(f"{what}: {value}" for what, value, _ in mark.rows)


def _list(rows: Iterable[str], name: str) -> Markup:
    items = Markup("").join(Markup("<li><bdi>{}</bdi></li>").format(row) for row in rows)
    return Markup('<ul class="{}">{}</ul>').format(name, items)


def page_data(scene: Scene, steps: list[Step], offset: int, plane: Plane, words: Words) -> dict[str, Any]:
    """Give what the program on the page needs: the marks' words, the way in pixels with its metres, and its sentences."""
    per_lon, per_lat = plane.pixels_per_degree()
    return {
        "code": scene.itinerary.code,
        "made": scene.itinerary.made_at,
        "width": plane.width,
        "height": plane.height,
        "west": plane.west,
        "north": plane.north,
        "perLon": per_lon,
        "perLat": per_lat,
        "scale": plane.scale,
        "barPx": BAR_PX,
        "arrow": ARROW_SPACING_M * plane.scale,
        "feet": words.units == "us",
        "marks": [_mark(mark, scene.itinerary, plane) for mark in scene.marks],
        "way": list(_way(scene.itinerary, plane)),
        "steps": [{"n": step.number + offset, "at": round(step.at_m, 1)} for step in steps],
        "words": _program_words(words),
    }


def _mark(mark: Mark, itinerary: Itinerary, plane: Plane) -> dict[str, Any]:
    x, y = plane.at((mark.lon, mark.lat))
    is_end = mark.kind in ("start", "goal")
    return {
        "t": mark.title,
        "r": mark.rows,
        "x": x,
        "y": y,
        "z": RAISED[mark.kind],
        "moves": mark.kind in MOVES,
        "halt": mark.kind == "halt",
        "room": rooms(mark.room),
        "away": way_end_direction(itinerary, at_start=mark.kind == "start") if is_end else None,
        "off": None if mark.off_way_m is None else round(mark.off_way_m * plane.scale, 1),
    }


def _way(itinerary: Itinerary, plane: Plane) -> Iterator[tuple[float, float, float]]:
    """Give the way's places in pixels, each with its metres from the start."""
    for piece in itinerary.pieces:
        line = piece.coordinates
        drawn = [0.0]
        for a, b in pairwise(line):
            drawn.append(drawn[-1] + distance_m(a, b))
        stretch = (piece.to_m - piece.from_m) / drawn[-1] if drawn[-1] else 0.0
        for place, metres in zip(line, drawn, strict=True):
            yield (*plane.at(place), round(piece.from_m + metres * stretch, 1))


def _program_words(words: Words) -> dict[str, str]:
    """Give the sentences that the page fills in itself; the braces stay for it."""
    keep = {name: "{" + name + "}" for name in ("distance", "accuracy", "number", "ahead")}
    say = words.say
    return {
        "close": say("Close"),
        "over": say("This link is no longer valid. Ask for a new one."),
        "looking": say("Looking for your position …"),
        "lost": say("Your position can't be found here."),
        "away": say("About {distance} away from the way. Position good to {accuracy}.", **keep),
        "here": say("About {distance} along the way. Step {number} begins in {ahead}. Position good to {accuracy}.", **keep),
    }
