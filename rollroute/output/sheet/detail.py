"""Small maps of the places where a step is easy to miss."""

from __future__ import annotations

import itertools
import math

from rollroute.output.itinerary import Itinerary, Piece
from rollroute.output.sheet import marks
from rollroute.output.sheet.canvas import Canvas, Frame
from rollroute.output.sheet.grid import draw_scale_bar
from rollroute.output.sheet.ground import at_share, draw_barred, draw_ground, draw_rooms, draw_street_names
from rollroute.output.sheet.way import WAY_COLOUR, draw_questions, draw_way, step_circle
from rollroute.output.steps import Step
from rollroute.output.steps_runs import distance_m
from rollroute.output.words import Words
from rollroute.output.words.sentences import step_sentence

WIDTH_M = 60.0
INDOOR_WIDTH_M = 36.0
MARK_PT = 6.0
AHEAD_M = 40.0  # a short step, such as a crossing, also shows where it leads


def draw_detail(itinerary: Itinerary, steps: list[Step], words: Words, *, width_pt: float, height_pt: float) -> tuple[str, str]:
    """Draw the surroundings of the beginnings of ``steps``, which lie close together, and say in words what they show.

    The window slides toward where the first step leads.
    """
    step, first, last = steps[0], steps[0].first_piece or 0, steps[-1].last_piece or 0
    is_indoors = any(s.kind in {"lift", "inside"} for s in steps)
    wide = INDOOR_WIDTH_M if is_indoors else WIDTH_M
    lon, lat = _middle(itinerary, step, wide * 0.2)
    canvas = Canvas(Frame(lon=lon, lat=lat, m_per_pt=wide / width_pt, width_pt=width_pt, height_pt=height_pt))
    draw_ground(canvas, itinerary)
    if is_indoors:
        draw_rooms(canvas, itinerary, step.level)
    if first > 0:
        _coming(canvas, itinerary, first)
    ahead = max(last, *(n for n, piece in enumerate(itinerary.pieces) if piece.from_m <= steps[-1].at_m + AHEAD_M), 0)
    draw_way(canvas, itinerary, width=4.5, first=first, last=ahead)
    draw_scale_bar(canvas, words, size=7, north=False)
    _leaving(canvas, itinerary.pieces[steps[-1].first_piece or 0 : ahead + 1])
    points = [p for p in itinerary.points if canvas.frame.holds([canvas.frame.xy((p.lon, p.lat))], -6)]
    for point in points:  # the numbers and words keep off the marks
        x, y = canvas.frame.xy((point.lon, point.lat))
        canvas.crowd.take(x, y, 2 * MARK_PT, 2 * MARK_PT)
    for one in steps:
        step_circle(canvas, canvas.frame.xy((one.lon, one.lat)), one.number, size=9)
    for point in points:
        marks.point_mark(canvas, point, _angle_at(canvas, itinerary, point.at_m), words)
    asked = {n for one in steps for n in one.questions}
    draw_questions(canvas, [q for q in itinerary.questions if q.number in asked and q.length_m == 0], size=8)
    draw_barred(canvas, itinerary)
    streets = [name for one in steps for name in (one.street, one.then_along) if name]
    draw_street_names(canvas, itinerary, streets, size=7.5)
    told = [
        words.say("Detail map for step {n}, north up. {sentence}", n=one.number, sentence=step_sentence(one, words))
        if one is step
        else words.say("Step {n}: {sentence}", n=one.number, sentence=step_sentence(one, words))
        for one in steps
    ]
    return canvas.svg(), " ".join(told)


def _middle(itinerary: Itinerary, step: Step, ahead_m: float) -> tuple[float, float]:
    """The place ``ahead_m`` beyond the step's beginning, or its end."""
    left, here = ahead_m, (step.lon, step.lat)
    for piece in itinerary.pieces[step.first_piece or 0 : (step.last_piece or 0) + 1]:
        for corner in piece.coordinates:
            far = distance_m(here, corner)
            if far > left:
                t = left / far
                return (here[0] + (corner[0] - here[0]) * t, here[1] + (corner[1] - here[1]) * t)
            left, here = left - far, corner
    return here


def _coming(canvas: Canvas, itinerary: Itinerary, first: int) -> None:
    """The way behind: thin and dashed, so that it can't be taken for the way ahead."""
    line = [xy for p in itinerary.pieces[max(first - 4, 0) : first] for xy in canvas.frame.line(p.coordinates)]
    canvas.polyline(line, 'stroke="#fff" stroke-width="5"')
    canvas.polyline(line, f'stroke="{WAY_COLOUR}" stroke-width="2.2" stroke-dasharray="5 3"')
    canvas.crowd.draw_way(line)


def _leaving(canvas: Canvas, pieces: list[Piece]) -> None:
    """An arrow on the way ahead, where it is last seen in the window."""
    line = [xy for p in pieces for xy in canvas.frame.line(p.coordinates)]
    total = sum(math.dist(a, b) for a, b in itertools.pairwise(line))
    reach = min(total, 26.0)
    if total <= 0:
        return
    x, y, angle = at_share(line, max(reach / total, 0.0))
    turn = math.degrees(angle)
    arrow = f'<path d="M6 0L-4 -5.5V5.5Z" fill="{WAY_COLOUR}" stroke="#fff" stroke-width="1"/>'
    canvas.add(f'<g transform="translate({x:.1f} {y:.1f}) rotate({turn:.1f})">{arrow}</g>')


def _angle_at(canvas: Canvas, itinerary: Itinerary, at_m: float) -> float:
    """Direction of the way at ``at_m``, radians on the paper."""
    piece = next((p for p in itinerary.pieces if p.from_m <= at_m < p.to_m), itinerary.pieces[-1])
    length = piece.to_m - piece.from_m
    return at_share(canvas.frame.line(piece.coordinates), (at_m - piece.from_m) / length if length > 0 else 0.0)[2]
