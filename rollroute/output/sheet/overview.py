"""The overview map of a sheet: the whole way, north up, with scale and grid."""

from __future__ import annotations

import math

from rollroute.output.crowd import XY
from rollroute.output.itinerary import Itinerary, LonLat
from rollroute.output.plain_text import plain
from rollroute.output.sheet import marks
from rollroute.output.sheet.canvas import Canvas, frame_around
from rollroute.output.sheet.grid import draw_grid, draw_scale_bar
from rollroute.output.sheet.ground import barred_letter, draw_barred, draw_ground, draw_hazards, draw_street_names
from rollroute.output.sheet.trouble import van_places
from rollroute.output.sheet.way import draw_grades, draw_questions, draw_way, step_circle
from rollroute.output.steps import Step
from rollroute.output.words import Words, mark
from rollroute.output.words.facts import REASONS

MARGIN_PT = 26.0
SAME_SPOT_PT = 9.0  # a circle is 16 points wide: closer ones would only hide the way
END_PT = 14.0  # a refuge that is start or goal is said by the word there


def wanted_height_pt(itinerary: Itinerary, width_pt: float) -> float:
    """The height at which the way, drawn as wide as ``width_pt`` allows, has its margins above and below."""
    places = _places(itinerary)
    ys = [y for _, y in frame_around(places, width_pt=width_pt, height_pt=1e6, margin_pt=MARGIN_PT).line(places)]
    return max(ys) - min(ys) + 2 * MARGIN_PT


def draw_overview(itinerary: Itinerary, steps: list[Step], words: Words, *, size_pt: tuple[float, float]) -> tuple[str, str, str | None]:
    """Draw the overview and say in words what it shows.

    Returns
    -------
    svg, alt, square
        The picture, its text alternative, and the grid square in its middle (``None`` outside the grid).
    """
    places = _places(itinerary)
    width_pt, height_pt = size_pt
    canvas = Canvas(frame_around(places, width_pt=width_pt, height_pt=height_pt, margin_pt=MARGIN_PT))
    draw_ground(canvas, itinerary)
    draw_hazards(canvas, itinerary, words)
    square = draw_grid(canvas)
    draw_way(canvas, itinerary, width=4.5)
    draw_scale_bar(canvas, words)
    ends = canvas.frame.line([places[0], places[-1]])
    marks.end_word(canvas, ends[0], words.say("START"))
    marks.end_word(canvas, ends[1], words.say("GOAL"))
    draw_street_names(canvas, itinerary, [s.street for s in steps if s.street], size=8.5)
    for halt in itinerary.halts:
        label = f"{words.percent(halt.arrive_soc.planned)} → {words.percent(halt.leave_soc.planned)}, {words.minutes(halt.charge_s)}"
        marks.socket(canvas, canvas.frame.xy((halt.lon, halt.lat)), label)
    _draw_steps(canvas, steps)
    draw_questions(canvas, itinerary.questions)
    draw_grades(canvas, itinerary, words)
    for refuge in {plain(r.label): r for r in itinerary.refuges}.values():
        if all(math.dist(end, canvas.frame.xy((refuge.lon, refuge.lat))) > END_PT for end in ends):
            marks.house(canvas, refuge)
    for spot in van_places(itinerary):
        marks.van(canvas, spot)
    draw_barred(canvas, itinerary)
    return canvas.svg(), _alt(itinerary, steps, words, square), square


def _places(itinerary: Itinerary) -> list[LonLat]:
    return [c for p in itinerary.pieces for c in p.coordinates] or [(itinerary.start.lon, itinerary.start.lat)]


def _draw_steps(canvas: Canvas, steps: list[Step]) -> None:
    """Number the steps where they begin, those that begin at the same spot of the paper once: the strip says the rest."""
    last: XY | None = None
    for step in steps:
        anchor = canvas.frame.xy((step.lon, step.lat))
        if step.kind in {"arrive", "charge"} or (last is not None and math.dist(last, anchor) < SAME_SPOT_PT):
            continue
        step_circle(canvas, anchor, step.number)
        last = anchor


def legend_line(itinerary: Itinerary, square: str | None, words: Words) -> str:
    """One line that explains those marks of the overview that are on it."""
    letters = {barred_letter(b): b.reasons for b in itinerary.barred}
    reasons = {letter: next((REASONS[r][1] for r in found if r in REASONS), mark("another reason")) for letter, found in letters.items()}
    barred = ", ".join(f"{letter} {words.say(reason)}" for letter, reason in sorted(reasons.items()))
    say = words.say
    marks_there = [
        (True, say("Circle: step.")),
        (bool(itinerary.questions), say("Diamond: not verified, thick: the weakest.")),
        (True, say("Arrowheads point uphill.")),
        (bool(itinerary.halts), say("Square with two strokes: charging.")),
        (bool(itinerary.refuges), say("House: refuge.")),
        (bool(itinerary.van_spots), say("Box with a bar: a lift van may stop.")),
        (bool(barred), say("Bar with a letter: not for this chair ({reasons}).", reasons=barred)),
        (True, say("Grid: US National Grid, {square}.", square=square) if square else say("No grid here.")),
    ]
    return " ".join(text for is_there, text in marks_there if is_there)


def _alt(itinerary: Itinerary, steps: list[Step], words: Words, square: str | None) -> str:
    streets = list(dict.fromkeys(s.street for s in steps if s.street))
    text = words.say(
        "Overview map, north up: the way of {length} from start to goal along {streets}. The steps say the same in words.",
        length=words.distance(itinerary.length_m),
        streets=words.listing(streets),
    )
    return f"{text} {words.say('Grid: US National Grid, {square}.', square=square)}" if square else text
