"""The marks, each drawn by us as a piece of SVG around its own middle (0, 0), in units of one screen pixel.

Colours come from classes (``i`` ink line, ``p`` plate, ``u`` unknown, ``w`` power, ``t`` text), so that a theme can change them.
Every shape differs from every other in black and white: diamond, square with two strokes, house, box with a bar, bar, circle.
"""

from __future__ import annotations

import math
from html import escape

SIZE = 26  # side of the box that any mark but a bar fits in
Room = tuple[float, float, float, float]  # middle right and down of the mark's place, width, height
SQUARE: tuple[Room, ...] = ((0.0, 0.0, 32.0, 32.0),)  # what a mark takes of a page, with a little air
DOT: tuple[Room, ...] = ((0.0, 0.0, 18.0, 18.0),)  # an end of the way


def question(number: int, *, is_weakest: bool) -> str:
    """Open diamond with the number printed on the sheet; thick for the weakest places."""
    outline = '<path class="p" d="M0-16 16 0 0 16-16 0Z"/>'
    inner = f'<path class="u" d="M0-10.6 10.6 0 0 10.6-10.6 0Z"/><path class="{"ii" if is_weakest else "i"}" d="M0-13 13 0 0 13-13 0Z"/>'
    return f'{outline}{inner}<text class="t" y="4" font-size="11">{number}</text>'


def socket() -> str:
    """Square with two upright strokes: a halt at a socket."""
    return (
        '<rect class="p" x="-14" y="-14" width="28" height="28"/><rect class="w" x="-10.5" y="-10.5" width="21" height="21"/>'
        '<path class="i" d="M-4-5V5M4-5V5"/><rect class="h" x="-12" y="-12" width="24" height="24"/>'
    )


def refuge() -> str:
    """Outline of a house: a place to turn back to."""
    return '<path class="p" d="M-13 12V-4L0-15 13-4V12Z"/><path class="i" d="M-10 9V-3L0-11.5 10-3V9ZM-3 9V2H3V9"/>'


def van_spot() -> str:
    """Box with a thick bar on one side: where a lift van may be able to stop."""
    return '<rect class="p" x="-14" y="-10" width="28" height="20"/><path class="i" d="M-11-7H11V7H-11Z"/><path class="ii" d="M11-7V7"/>'


def rest_spot() -> str:
    """Flat line between two feet: possibly level, look first."""
    return '<rect class="p" x="-13" y="-8" width="26" height="16"/><path class="i" d="M-10 3H10M-10-4V6M10-4V6"/>'


def checkpoint() -> str:
    """Flag-shaped box: read the gauge here."""
    return '<path class="p" d="M-9 14V-14H13V2H-5V14Z"/><path class="i" d="M-6 12V-11H10V-1H-6"/>'


def step(number: int) -> str:
    """Small circle with the number of the step."""
    return f'<circle class="p" r="11"/><circle class="i" r="9"/><text class="t" y="3.7" font-size="10">{number}</text>'


def barred(letter: str, heading_deg: float) -> str:
    """Short bar across a way that runs at ``heading_deg`` (clockwise from north), with the letter of the reason upright beside it."""
    turn = f"rotate({heading_deg:.0f})"
    x, y = _beside(heading_deg, 22.0)
    return (
        f'<g transform="{turn}"><path class="p" d="M-15-5H15V5H-15Z"/><path class="b" d="M-13 0H13"/></g>'
        f'<g transform="translate({x:.1f} {y:.1f})"><rect class="p" x="-8" y="-8.5" width="16" height="17" rx="2"/>'
        f'<text class="t" y="4.5" font-size="13">{escape(letter)}</text></g>'
    )


def barred_room(heading_deg: float) -> tuple[Room, ...]:
    """Give the room that a bar and its letter take."""
    turn = math.radians(heading_deg)
    across, along = abs(math.cos(turn)), abs(math.sin(turn))
    return (0.0, 0.0, 30 * across + 10 * along, 30 * along + 10 * across), (*_beside(heading_deg, 22.0), 16.0, 17.0)


def arrowheads(count: int, bearing_deg: float, figure: str = "") -> str:
    """Give one or two arrowheads across the way that point uphill, and the grade beside them where it matters."""
    path = "".join(f"M-8 {y + 4}L0 {y - 4}L8 {y + 4}" for y in ((0,) if count == 1 else (-3.5, 3.5)))
    heads = f'<g transform="rotate({bearing_deg:.0f})"><path class="c" d="{path}"/><path class="a" d="{path}"/></g>'
    if not figure:
        return heads
    x, y, wide = figure_place(bearing_deg, figure)
    plate = f'<rect class="p" x="{-wide / 2:.0f}" y="-9" width="{wide:.0f}" height="18" rx="3"/>'
    return f'{heads}<g transform="translate({x:.1f} {y:.1f})">{plate}<text class="t" y="4.5" font-size="13">{escape(figure)}</text></g>'


def figure_place(bearing_deg: float, figure: str) -> tuple[float, float, float]:
    """Give where the figure beside arrowheads stands, in pixels right and down of them, and how wide it is."""
    wide = 8.0 * len(figure) + 4
    return (*_beside(bearing_deg, 14.0 + wide / 2), wide)


def end_of_way() -> str:
    """Dot at the very place; the word beside it says whether it is the start or the goal."""
    return '<circle class="p" r="8"/><circle class="e" r="5.5"/>'


def _beside(heading_deg: float, away: float) -> tuple[float, float]:
    """Give the place ``away`` pixels to the right of a heading, on a page whose y runs down; the right half of the page is taken first."""
    angle = math.radians(heading_deg % 180)
    return away * math.cos(angle), away * math.sin(angle)


def svg(fragment: str, *, half: int = 18) -> str:
    """Give a mark as a small picture of its own; the words beside it say what it is."""
    box = f"{-half} {-half} {2 * half} {2 * half}"
    return f'<svg class="mark" viewBox="{box}" width="{2 * half}" height="{2 * half}" aria-hidden="true" focusable="false">{fragment}</svg>'


MARK_CSS = """
.p{fill:var(--plate);stroke:none}
.i,.ii,.h,.b,.a,.c,.u,.w{fill:none;stroke-linejoin:miter;stroke-linecap:butt}
.i{stroke:var(--ink);stroke-width:2}
.ii{stroke:var(--ink);stroke-width:4}
.h{stroke:var(--ink);stroke-width:1.5}
.b{stroke:var(--ink);stroke-width:5}
.a{stroke:var(--ink);stroke-width:3}
.c{stroke:var(--plate);stroke-width:6.5}
.e{fill:var(--ink);stroke:none}
.u{stroke:var(--unknown);stroke-width:2}
.w{stroke:var(--power);stroke-width:3}
.t{fill:var(--ink);stroke:none;font-family:"DejaVu Sans",sans-serif;font-weight:bold;text-anchor:middle}
"""
