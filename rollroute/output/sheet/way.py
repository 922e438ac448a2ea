"""The way on a map: a thick line with a casing, arrowheads uphill, a dotted core on rough ground, diamonds where it is not known."""

from __future__ import annotations

import itertools
import math

from rollroute.output.crowd import XY
from rollroute.output.itinerary import Itinerary, Question
from rollroute.output.sheet.canvas import FONT, Canvas
from rollroute.output.sheet.ground import at_share, place, stand_aside
from rollroute.output.steps_watch import SMOOTH, watch_stretches
from rollroute.output.words import Words

WAY_COLOUR = "#00496f"  # the blue of the look, darker, so that a grey copy keeps it
LIMIT_GRADE = 1.0 / 12.0  # ADA 405.2
ARROW_GAP_PT = 7.0  # between two arrowheads of one slope
NEAR_LIMIT = 0.8  # of the lower of limit and rated slope: two arrowheads


def draw_way(canvas: Canvas, itinerary: Itinerary, *, width: float, first: int = 0, last: int | None = None) -> None:
    """Draw pieces ``first`` .. ``last``: casing, line, dotted core where the surface costs range."""
    pieces = itinerary.pieces[first : None if last is None else last + 1]
    line = [xy for p in pieces for xy in canvas.frame.line(p.coordinates)]
    round_ends = 'stroke-linejoin="round" stroke-linecap="round"'
    canvas.polyline(line, f'stroke="#fff" stroke-width="{width + 3:g}" {round_ends}')
    canvas.polyline(line, f'stroke="{WAY_COLOUR}" stroke-width="{width:g}" {round_ends}')
    for piece in pieces:
        if piece.surface is not None and piece.surface not in SMOOTH:
            core = f'stroke="#fff" stroke-width="{width * 0.36:.1f}" stroke-dasharray="0.1 {width:g}" stroke-linecap="round"'
            canvas.polyline(canvas.frame.line(piece.coordinates), core)
    canvas.crowd.draw_way(line)


def draw_grades(canvas: Canvas, itinerary: Itinerary, words: Words) -> None:
    """Arrowheads across the way pointing uphill, with the figure beside them: one for moderate, two close to the limit."""
    limit = min(LIMIT_GRADE, itinerary.chair.rated_grade)
    for slope in watch_stretches(itinerary, 0, len(itinerary.pieces) - 1):
        if slope.kind not in {"grade_up", "grade_down"} or slope.value is None:
            continue
        end_m = slope.at_m + slope.length_m
        pieces = [p for p in itinerary.pieces if p.from_m < end_m and p.to_m > slope.at_m]
        line = [xy for p in pieces for xy in canvas.frame.line(p.coordinates)]
        if len(line) < 2 or not canvas.frame.holds(line):
            continue
        length_pt = sum(math.dist(a, b) for a, b in itertools.pairwise(line))
        half = ARROW_GAP_PT / max(length_pt, 2 * ARROW_GAP_PT)
        for share in (0.5,) if slope.value < NEAR_LIMIT * limit else (0.5 - half / 2, 0.5 + half / 2):
            _arrowhead(canvas, line, share, is_down=slope.kind == "grade_down")
        x, y, _ = at_share(line, 0.5)
        place(canvas, (x, y), words.percent(slope.value), size=9, bold=False)


def draw_questions(canvas: Canvas, questions: list[Question], *, size: float = 9.0) -> None:
    """Open diamonds with the numbers of the sheet; the weakest places are thick. Those that fall together stand in a row."""
    for question in questions:
        anchor = canvas.frame.xy((question.lon, question.lat))
        half = size * 0.62 + 3.0
        if not canvas.frame.holds([anchor], -half):
            continue
        spot = stand_aside(canvas, anchor, 2 * half) or anchor
        thick = 2.6 if question.is_weakest else 1.0
        diamond = f"M{spot[0] - half:.1f} {spot[1]:.1f}l{half:.1f} {-half:.1f} {half:.1f} {half:.1f} {-half:.1f} {half:.1f}Z"
        canvas.add(f'<path d="{diamond}" fill="#fff" stroke="#000" stroke-width="{thick:g}" stroke-linejoin="miter"/>')
        canvas.text(*spot, str(question.number), size=size, bold=question.is_weakest, plate=False)


def step_circle(canvas: Canvas, anchor: XY, number: int, *, size: float = 10.0) -> None:
    """A step's number in a filled circle near its beginning, tied by a leader."""
    half = size * 0.8
    spot = stand_aside(canvas, anchor, 2 * half) or anchor
    canvas.add(f'<circle cx="{spot[0]:.1f}" cy="{spot[1]:.1f}" r="{half:.1f}" fill="#000" stroke="#fff" stroke-width="0.8"/>')
    small = size if number < 10 else size * 0.86
    weight = f'font-family="{FONT}" font-size="{small:.1f}" font-weight="bold"'
    canvas.add(f'<text x="{spot[0]:.1f}" y="{spot[1] + small * 0.36:.1f}" text-anchor="middle" {weight} fill="#fff">{number}</text>')


def _arrowhead(canvas: Canvas, line: list[XY], share: float, *, is_down: bool) -> None:
    x, y, angle = at_share(line, share)
    if is_down:
        angle += math.pi
    wing = 6.5
    left, right = angle + math.pi * 0.78, angle - math.pi * 0.78
    tip = (x + math.cos(angle) * 3, y + math.sin(angle) * 3)
    ends = [(tip[0] + math.cos(a) * wing, tip[1] + math.sin(a) * wing) for a in (left, right)]
    canvas.polyline([ends[0], tip, ends[1]], 'stroke="#fff" stroke-width="4" stroke-linecap="round"')
    canvas.polyline([ends[0], tip, ends[1]], 'stroke="#000" stroke-width="2" stroke-linecap="round"')
