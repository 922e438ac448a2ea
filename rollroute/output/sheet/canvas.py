"""A north-up canvas in points on which the sheet's small maps are drawn as SVG."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from html import escape

from rollroute.output.crowd import XY, Crowd
from rollroute.output.itinerary import LonLat
from rollroute.output.sheet.fonts import FAMILIES, advance_em

M_PER_DEG_LAT = 111_195.0  # sphere of 6 371 km; the scale bar is drawn with the same figure
PT_PER_MM = 72.0 / 25.4
FONT = ", ".join(FAMILIES)
MARKS = 0.5  # our marks are about 16 points wide
BOLD_WIDER = 1.03
GROUND_OFF_PT = 0.4  # the ground needs no finer corners: a line moved by less looks the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A window on the ground: ``width_pt`` x ``height_pt`` points, ``m_per_pt`` metres each, around a centre."""

    lon: float
    lat: float
    m_per_pt: float
    width_pt: float
    height_pt: float

    def xy(self, place: LonLat) -> XY:
        """Place on the paper, points from the upper left."""
        east = (place[0] - self.lon) * math.cos(math.radians(self.lat)) * M_PER_DEG_LAT
        north = (place[1] - self.lat) * M_PER_DEG_LAT
        return (self.width_pt / 2 + east / self.m_per_pt, self.height_pt / 2 - north / self.m_per_pt)

    def lon_lat(self, x: float, y: float) -> LonLat:
        """The inverse of ``xy``."""
        east, north = (x - self.width_pt / 2) * self.m_per_pt, (self.height_pt / 2 - y) * self.m_per_pt
        return (self.lon + east / (M_PER_DEG_LAT * math.cos(math.radians(self.lat))), self.lat + north / M_PER_DEG_LAT)

    def line(self, places: list[LonLat]) -> list[XY]:
        """A line on the paper."""
        return [self.xy(p) for p in places]

    def holds(self, line: list[XY], margin: float = 0.0) -> bool:
        """Whether the box around ``line`` meets the window."""
        xs, ys = [p[0] for p in line], [p[1] for p in line]
        inside_x = min(xs) <= self.width_pt + margin and max(xs) >= -margin
        return inside_x and min(ys) <= self.height_pt + margin and max(ys) >= -margin


def frame_around(places: list[LonLat], *, width_pt: float, height_pt: float, margin_pt: float) -> Frame:
    """The largest scale at which all ``places`` fit into the window with ``margin_pt`` around them."""
    lons, lats = [p[0] for p in places], [p[1] for p in places]
    lon, lat = (min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2
    wide = (max(lons) - min(lons)) * math.cos(math.radians(lat)) * M_PER_DEG_LAT
    high = (max(lats) - min(lats)) * M_PER_DEG_LAT
    scale = max(wide / (width_pt - 2 * margin_pt), high / (height_pt - 2 * margin_pt), 0.05)
    return Frame(lon=lon, lat=lat, m_per_pt=scale, width_pt=width_pt, height_pt=height_pt)


@dataclass(slots=True)
class Canvas:
    """Collects SVG elements, and knows where there is room for more marks and words."""

    frame: Frame
    elements: list[str] = field(default_factory=list)
    crowd: Crowd = field(init=False)  # what is taken, and the way

    def __post_init__(self) -> None:
        """Nothing is taken yet."""
        self.crowd = Crowd(self.frame.width_pt, self.frame.height_pt, scale=MARKS)

    def add(self, element: str) -> None:
        """Add a finished SVG element."""
        self.elements.append(element)

    def polyline(self, line: list[XY], style: str) -> None:
        """Add an open line."""
        if len(line) > 1 and self.frame.holds(line, 10.0):
            self.add(f'<path d="{path_data(line)}" fill="none" {style}/>')

    def polygon(self, ring: list[XY], style: str) -> None:
        """Add a filled ring."""
        if len(ring) > 2 and self.frame.holds(ring):
            self.add(f'<path d="{path_data(ring)}Z" {style}/>')

    def polylines(self, lines: list[list[XY]], style: str) -> None:
        """Add many open lines of one style as one element; parts outside the window are left out."""
        data = "".join(path_data(simplified(part, GROUND_OFF_PT)) for line in lines for part in self._seen_parts(line))
        if data:
            self.add(f'<path d="{data}" fill="none" {style}/>')

    def polygons(self, rings: list[list[XY]], style: str) -> None:
        """Add many rings of one style as one element."""
        data = "".join(path_data(simplified(ring, GROUND_OFF_PT)) + "Z" for ring in rings if len(ring) > 2 and self.frame.holds(ring))
        if data:
            self.add(f'<path d="{data}" {style}/>')

    def _seen_parts(self, line: list[XY]) -> list[list[XY]]:
        """The parts of ``line`` whose pieces meet the window."""
        parts: list[list[XY]] = []
        is_open = False
        for a, b in itertools.pairwise(line):
            if not self.frame.holds([a, b], 12.0):
                is_open = False
                continue
            if not is_open:
                parts.append([a])
            parts[-1].append(b)
            is_open = True
        return parts

    def text(self, x: float, y: float, text: str, *, size: float, bold: bool = False, turn: float = 0.0, plate: bool = True) -> None:
        """Add a line of text around ``x``, ``y``, on a plate of paper so that it reads on anything.

        A rim around the letters would read as well, but in a PDF it is the outline of every letter: half of the file.
        """
        wide, high = text_width_pt(text, size) * (BOLD_WIDER if bold else 1.0) + 1.0, size * 0.95
        box = f'x="{x - wide / 2:.1f}" y="{y - high / 2:.1f}" width="{wide:.1f}" height="{high:.1f}"'
        ground = f'<rect {box} fill="#fff" fill-opacity="0.85"/>' if plate else ""
        weight = ' font-weight="bold"' if bold else ""
        where = f'x="{x:.1f}" y="{y + size * 0.36:.1f}" text-anchor="middle"'
        letters = f'<text {where} font-family="{FONT}" font-size="{size:g}"{weight} fill="#000">{escape(text)}</text>'
        spin = f' transform="rotate({turn:.1f} {x:.1f} {y:.1f})"' if turn else ""
        self.add(f"<g{spin}>{ground}{letters}</g>")

    def svg(self) -> str:
        """The finished document."""
        w, h = self.frame.width_pt, self.frame.height_pt
        body = "".join(self.elements)
        border = f'<rect x="0.5" y="0.5" width="{w - 1:g}" height="{h - 1:g}" fill="none" stroke="#000" stroke-width="0.8"/>'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:g}pt" height="{h:g}pt" viewBox="0 0 {w:g} {h:g}">{PATTERNS}'
            f'<rect width="{w:g}" height="{h:g}" fill="#fff"/>{body}{border}</svg>'
        )


PATTERNS = (
    '<defs><pattern id="water" width="4" height="4" patternUnits="userSpaceOnUse">'
    '<path d="M0 1H4M0 3H4" stroke="#6f8fa5" stroke-width="0.5"/></pattern>'
    '<pattern id="hazard" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<path d="M0 0V7" stroke="#a34400" stroke-width="2.2"/></pattern></defs>'
)


def path_data(line: list[XY], least_pt: float = 0.3) -> str:
    """SVG path commands to a tenth of a point; corners closer than ``least_pt`` to the last drawn are left out, but never the end."""
    parts: list[str] = []
    last: XY | None = None
    for k, (x, y) in enumerate(line):
        if last is None or k == len(line) - 1 or abs(x - last[0]) + abs(y - last[1]) >= least_pt:
            parts.append(f"{'M' if last is None else 'L'}{x:.1f} {y:.1f}")
            last = (x, y)
    return "".join(parts)


def simplified(line: list[XY], off_pt: float) -> list[XY]:
    """``line`` without corners that lie closer than ``off_pt`` to the straight line between those kept (Douglas and Peucker 1973)."""
    if len(line) < 3:
        return line
    kept = {0, len(line) - 1}
    spans = [(0, len(line) - 1)]
    while spans:
        first, last = spans.pop()
        far, off = max(((k, off_segment(line[k], line[first], line[last])) for k in range(first + 1, last)), key=lambda i: i[1])
        if off >= off_pt:
            kept.add(far)
            spans += [(a, b) for a, b in ((first, far), (far, last)) if b - a > 1]
    return [line[k] for k in sorted(kept)]


def off_segment(p: XY, a: XY, b: XY) -> float:
    """Distance of ``p`` from the straight line between ``a`` and ``b``, its ends included."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    squared = dx * dx + dy * dy
    t = min(max(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / squared, 0.0), 1.0) if squared > 0 else 0.0
    return math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def text_width_pt(text: str, size: float) -> float:
    """The width of ``text`` as the regular face draws it, points; the bold face is ``BOLD_WIDER``."""
    return sum(advance_em(letter) for letter in text) * size


def resample(line: list[XY], step_pt: float) -> list[XY]:
    """Points along ``line`` no further apart than ``step_pt``."""
    points: list[XY] = []
    for (x0, y0), (x1, y1) in itertools.pairwise(line):
        n = max(int(math.hypot(x1 - x0, y1 - y0) / step_pt), 1)
        points += [(x0 + (x1 - x0) * k / n, y0 + (y1 - y0) * k / n) for k in range(n)]
    return points + line[-1:]
