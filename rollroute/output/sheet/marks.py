"""Marks drawn by us: socket, house, van spot, gate, door, lift, kerb. Shape carries the meaning, a word stands beside it."""

from __future__ import annotations

import math

from rollroute.output.crowd import XY
from rollroute.output.itinerary import Point, Spot
from rollroute.output.plain_text import plain
from rollroute.output.sheet.canvas import Canvas
from rollroute.output.sheet.ground import place, stand_aside
from rollroute.output.words import Words
from rollroute.output.words.catalogue import mark

INK = 'stroke="#000" stroke-width="1.5" fill="#fff" stroke-linejoin="round"'
POINT_WORDS = {
    "gate": mark("gate"),
    "door": mark("door"),
    "lift": mark("lift"),
    "bollard": mark("bollards"),
    "narrow": mark("narrow"),
    "ramp": mark("ramp"),
}


def socket(canvas: Canvas, anchor: XY, label: str) -> None:
    """Charging: a square with two strokes, and words."""
    spot = stand_aside(canvas, anchor, 14.0) or anchor
    x, y = spot
    canvas.add(f'<path d="M{x - 6:.1f} {y - 6:.1f}h12v12h-12ZM{x - 2:.1f} {y - 3:.1f}v6M{x + 2:.1f} {y - 3:.1f}v6" {INK}/>')
    place(canvas, spot, label, size=9, bold=False)


def house(canvas: Canvas, spot_data: Spot) -> None:
    """Refuge: the outline of a house, and its name."""
    anchor = canvas.frame.xy((spot_data.lon, spot_data.lat))
    x, y = stand_aside(canvas, anchor, 16.0) or anchor
    canvas.add(f'<path d="M{x - 7:.1f} {y:.1f}l7 -7 7 7M{x - 5:.1f} {y - 1.5:.1f}v8h10v-8" {INK}/>')
    place(canvas, (x, y), plain(spot_data.label, longest=24), size=9, bold=False)


def van(canvas: Canvas, spot_data: Spot) -> None:
    """Place for a lift van: a rectangle with a bar on the lift side."""
    anchor = canvas.frame.xy((spot_data.lon, spot_data.lat))
    spot = stand_aside(canvas, anchor, 16.0)
    if spot is None:  # the text names it; to hide the way for it would be worse
        return
    x, y = spot
    canvas.add(
        f'<path d="M{x - 8:.1f} {y - 4:.1f}h13v8h-13Z" {INK}/><path d="M{x + 7.4:.1f} {y - 5:.1f}v10" stroke="#000" stroke-width="2.4"/>'
    )


def end_word(canvas: Canvas, anchor: XY, word: str) -> None:
    """Start and goal are words on a plate, tied to the place."""
    canvas.add(f'<circle cx="{anchor[0]:.1f}" cy="{anchor[1]:.1f}" r="4" fill="#fff" stroke="#000" stroke-width="2"/>')
    place(canvas, anchor, word, size=11)


def point_mark(canvas: Canvas, point: Point, angle: float, words: Words) -> None:
    """A kerb, gate, door, lift or bollard on a detail map: its shape across the way, its word beside."""
    x, y = canvas.frame.xy((point.lon, point.lat))
    shape = {"kerb": _kerb, "gate": _gate, "door": _gate, "lift": _lift}.get(point.kind, _post)
    turn = math.degrees(angle) + 90.0
    canvas.add(f'<g transform="translate({x:.1f} {y:.1f}) rotate({turn:.1f})">{shape(point)}</g>')
    word = words.say(POINT_WORDS[point.kind]) if point.kind in POINT_WORDS else ""
    if point.kind == "kerb":
        word = words.size(point.value) if point.value is not None and point.value > 0 else "?" if point.value is None else ""
    if word:
        place(canvas, (x, y), word, size=8, bold=False)


def _kerb(_: Point) -> str:
    return '<path d="M-8 -1.6H8M-8 1.6H8" stroke="#fff" stroke-width="4"/><path d="M-8 -1.6H8M-8 1.6H8" stroke="#000" stroke-width="1.6"/>'


def _gate(_: Point) -> str:
    return f'<path d="M-8 -3v6M8 -3v6M-8 0L6 -7" {INK}/>'


def _lift(_: Point) -> str:
    return f'<path d="M-6 -6h12v12h-12Z" {INK}/><path d="M0 -4.5l3 3.5h-6ZM0 4.5l3 -3.5h-6Z" fill="#000"/>'


def _post(_: Point) -> str:
    return '<circle cx="-4" cy="0" r="2" fill="#000"/><circle cx="4" cy="0" r="2" fill="#000"/>'
