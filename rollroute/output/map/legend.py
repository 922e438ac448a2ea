"""The legend: only what this route shows, each mark with its words."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from rollroute.output.map import marks
from rollroute.output.map.scene import Scene
from rollroute.output.map.way import CLOSE_TO_LIMIT, LIMIT_GRADE, MODERATE_GRADE
from rollroute.output.words import Words


def legend_rows(scene: Scene, words: Words) -> Iterator[tuple[str, str]]:
    """Give the legend's rows as a drawing and its words."""
    say, runs = words.say, scene.runs
    limit = min(LIMIT_GRADE, scene.itinerary.chair.rated_grade)
    steepness = {run.steepness for run in runs}
    yield _line(""), say("The way, clear by what is known")
    if any(run.is_unverified for run in runs):
        yield (
            _line('<path class="way-core" stroke-width="4" stroke-dasharray="7 7" d="M-24 0H24"/>'),
            say("The way, not verified: look first"),
        )
    if any(run.is_costly and not run.is_unverified for run in runs):
        dots = '<path class="way-core" stroke-width="3" stroke-linecap="round" stroke-dasharray="0.1 8" d="M-22 0H24"/>'
        yield _line(dots), say("Surface that takes more charge")
    if 1 in steepness:
        text = say("One arrowhead, pointing uphill: steeper than {grade}", grade=_percent(words, MODERATE_GRADE))
        yield _line(marks.arrowheads(1, 90.0)), text
    if 2 in steepness:
        text = say("Two arrowheads: {grade} or steeper, close to this route's limit", grade=_percent(words, CLOSE_TO_LIMIT * limit))
        yield _line(marks.arrowheads(2, 90.0)), text
    yield from _mark_rows(scene, words)
    if scene.hazards:
        yield _box('<path class="hazard" stroke-width="3" d="M-20-12H20V12H-20Z"/>'), say("Hazard, with its time")


def _mark_rows(scene: Scene, words: Words) -> Iterator[tuple[str, str]]:
    say = words.say
    kinds = {mark.kind for mark in scene.marks}
    if "question" in kinds:
        yield _box(marks.question(4, is_weakest=False)), say("Not known here; numbered as in the list")
    if any(question.is_weakest for question in scene.itinerary.questions):
        yield _box(marks.question(2, is_weakest=True)), say("Not known: one of the weakest places")
    rows = {
        "halt": (marks.socket(), say("Charging stop: charge on arrival → on leaving, minutes")),
        "refuge": (marks.refuge(), say("Refuge: a place to turn back to")),
        "checkpoint": (marks.checkpoint(), say("Checkpoint: read the gauge")),
        "van_spot": (marks.van_spot(), say("A lift van may be able to stop here")),
        "rest_spot": (marks.rest_spot(), say("Possibly level: look before touching the levers")),
    }
    for kind, (fragment, text) in rows.items():
        if kind in kinds:
            yield _box(fragment), text
    for letter, reason in scene.letters.items():
        yield _box(marks.barred(letter, 0.0)), say("Not this way: {reasons}", reasons=reason)


def legend(scene: Scene, words: Words) -> Markup:
    """Give the legend as a part of a page that opens by mouse and by keyboard."""
    rows = Markup("").join(
        Markup("<li>{}<span>{}</span></li>").format(Markup(drawing), text) for drawing, text in legend_rows(scene, words)
    )
    return Markup('<details class="legend"><summary>{}</summary><ul>{}</ul></details>').format(words.say("Legend"), rows)


def _line(more: str) -> str:
    return _box(f'<path class="way-casing" stroke-width="13" d="M-24 0H24"/><path class="way-line" stroke-width="8" d="M-24 0H24"/>{more}')


def _box(fragment: str) -> str:
    return f'<svg viewBox="-26 -19 52 38" width="52" height="38" aria-hidden="true" focusable="false">{fragment}</svg>'


def _percent(words: Words, grade: float) -> str:
    return f"{words.number(100.0 * grade, 1)} %"
