"""Lines of the US National Grid (UTM on WGS 84) and the scale bar of a map."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from rollroute.output.crowd import XY
from rollroute.output.geo_uri import grid_reference
from rollroute.output.itinerary import LonLat
from rollroute.output.sheet.canvas import Canvas
from rollroute.output.words import Words
from rollroute.units import M_PER_FOOT

SPACINGS_M = (100, 200, 500, 1000, 2000, 5000, 10_000)
MOST_LINES = 7
UTM_LAT = (-80.0, 84.0)


@lru_cache(maxsize=8)
def _utm(zone: int, is_north: bool) -> Any:
    """Transformer from lon, lat to UTM metres; EPSG 326zz north, 327zz south."""
    from pyproj import Transformer

    return Transformer.from_crs("EPSG:4326", f"EPSG:{32600 + zone if is_north else 32700 + zone}", always_xy=True)


def draw_grid(canvas: Canvas) -> str | None:
    """Draw grid lines with their figures at the edges.

    Returns the square they lie in ("24T XR"), ``None`` outside UTM. A line is numbered by its kilometres and, where lines are
    closer, hundreds of metres in the square.
    """
    frame = canvas.frame
    if not UTM_LAT[0] <= frame.lat <= UTM_LAT[1]:
        return None
    utm = _utm(_zone(frame.lon), frame.lat >= 0)
    corners = [frame.lon_lat(x, y) for x in (0, frame.width_pt) for y in (0, frame.height_pt)]
    plane = [utm.transform(*c) for c in corners]
    spacing = spacing_m(max(frame.width_pt, frame.height_pt) * frame.m_per_pt)
    for axis in (0, 1):
        low, high = min(p[axis] for p in plane), max(p[axis] for p in plane)
        for value in range(int(low // spacing + 1) * spacing, int(high) + 1, spacing):
            across = [min(p[1 - axis] for p in plane), max(p[1 - axis] for p in plane)]
            ends = [(value, a) if axis == 0 else (a, value) for a in across]
            _grid_line(canvas, [utm.transform(*e, direction="INVERSE") for e in ends], _figure(value, spacing), axis)
    return " ".join(grid_reference(frame.lon, frame.lat).split()[:2])


def spacing_m(extent_m: float) -> int:
    """The finest spacing that draws no more than ``MOST_LINES`` lines over ``extent_m``."""
    return next((s for s in SPACINGS_M if extent_m / s <= MOST_LINES), SPACINGS_M[-1])


def draw_scale_bar(canvas: Canvas, words: Words, *, size: float = 9.0, north: bool = True) -> None:
    """A bar of a round length in the emptiest lower or upper corner, and an arrow that says north."""
    frame = canvas.frame
    unit_m = M_PER_FOOT if words.units == "us" else 1.0
    longest = frame.width_pt * 0.28 * frame.m_per_pt / unit_m
    rounds = [n * 10**k for k in range(5) for n in (1, 2, 5)]
    length = max((r for r in rounds if r <= longest), default=1)
    width = length * unit_m / frame.m_per_pt
    label = words.distance(length * unit_m)
    left, y = _free_corner(canvas, width, size)
    canvas.add(
        f'<rect x="{left:.1f}" y="{y - size - 5:.1f}" width="{width + 8:.1f}" height="{size + 11:.1f}" fill="#fff" fill-opacity="0.9"/>'
    )
    canvas.add(f'<path d="M{left + 4:.1f} {y - 4:.1f}V{y:.1f}h{width:.1f}V{y - 4:.1f}" fill="none" stroke="#000" stroke-width="1.4"/>')
    canvas.text(left + 4 + width / 2, y - 5 - size / 2, label, size=size)
    canvas.crowd.taken.append((left, y - size - 5, left + 8 + width, y + 6))
    if north:
        x, top = frame.width_pt - 14, 8.0
        canvas.add(f'<path d="M{x:.1f} {top:.1f}l5 14h-10Z" fill="#000" stroke="#fff" stroke-width="0.8"/>')
        canvas.text(x, top + 21, words.say("N"), size=10, bold=True)
        canvas.crowd.taken.append((x - 8, 0, frame.width_pt, top + 28))


def _free_corner(canvas: Canvas, width: float, size: float) -> XY:
    """Left edge and base line of the bar: the first corner, lower ones first, where it hides neither way nor mark."""
    right = canvas.frame.width_pt - width - 11
    corners = [(x, y) for y in (canvas.frame.height_pt - 7, size + 8) for x in (3.0, right)]
    for x, y in corners:
        box = (x, y - size - 5, x + 8 + width, y + 6)
        if not canvas.crowd.hides_way(box) and canvas.crowd.has_room(box):
            return (x, y)
    return corners[0]


def _zone(lon: float) -> int:
    """UTM zone by longitude; the widened zones of Norway and Svalbard are not followed, so lines there belong to the plain zone."""
    return min(int((lon + 180.0) // 6.0) + 1, 60)


def _figure(value: int, spacing: int) -> str:
    """Kilometres in the 100 km square (two digits), with the hundreds of metres where lines need them (three)."""
    return f"{value // 1000 % 100:02d}" if spacing >= 1000 else f"{value // 100 % 1000:03d}"


def _grid_line(canvas: Canvas, ends: list[LonLat], figure: str, axis: int) -> None:
    line: list[XY] = canvas.frame.line(ends)
    canvas.polyline(line, 'stroke="#555" stroke-width="0.35"')
    spot = _at_edge(line, axis)
    box = (spot[0] - 9, spot[1] - 5, spot[0] + 9, spot[1] + 5)
    if canvas.crowd.has_room(box):
        canvas.crowd.taken.append(box)
        canvas.text(*spot, figure, size=7)


def _at_edge(line: list[XY], axis: int) -> XY:
    """Where a line's figure stands: at the top for eastings, at the left for northings."""
    (x0, y0), (x1, y1) = line
    if axis == 0:
        t = (7.0 - y0) / (y1 - y0) if y1 != y0 else 0.0
        return (x0 + (x1 - x0) * t, 7.0)
    t = (11.0 - x0) / (x1 - x0) if x1 != x0 else 0.0
    return (11.0, y0 + (y1 - y0) * t)
