"""A window of the earth on a flat page: places to pixels."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rollroute.output.crowd import Crowd as Crowd
from rollroute.output.itinerary import LonLat
from rollroute.output.map.way import M_PER_DEGREE

Pixels = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Plane:
    """Pixels right and down from the north-west corner of a window; ``scale`` in pixels per metre."""

    west: float
    north: float
    scale: float
    width: float
    height: float

    @classmethod
    def around(cls, places: Sequence[LonLat], *, width: float, margin: float, least_m: float = 120.0, tallest: float = 1.6) -> Plane:
        """Show all ``places`` with ``margin`` pixels around them, ``width`` pixels wide and at most ``tallest`` times as high.

        A window never shows less than ``least_m`` metres, so that a short way is not blown up beyond the precision of the map.
        """
        lons, lats = [lon for lon, _ in places], [lat for _, lat in places]
        middle = ((min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2)
        shrink = math.cos(math.radians(middle[1]))
        wide_m = max((max(lons) - min(lons)) * M_PER_DEGREE * shrink, least_m)
        high_m = max((max(lats) - min(lats)) * M_PER_DEGREE, least_m / 2)
        scale = min((width - 2 * margin) / wide_m, (width * tallest - 2 * margin) / high_m)
        height = round(high_m * scale + 2 * margin)
        west = middle[0] - width / 2 / scale / M_PER_DEGREE / shrink
        north = middle[1] + height / 2 / scale / M_PER_DEGREE
        return cls(west, north, scale, width, height)

    def at(self, place: LonLat) -> Pixels:
        """Give the pixels of a place."""
        per_lon, per_lat = self.pixels_per_degree()
        return round((place[0] - self.west) * per_lon, 1), round((self.north - place[1]) * per_lat, 1)

    def pixels_per_degree(self) -> Pixels:
        """Give pixels per degree of longitude and of latitude, for programs that put a position on the drawing."""
        middle = self.north - self.height / 2 / self.scale / M_PER_DEGREE
        return M_PER_DEGREE * math.cos(math.radians(middle)) * self.scale, M_PER_DEGREE * self.scale

    def shows(self, line: Iterable[LonLat], *, slack: float = 60.0) -> bool:
        """Say whether the box round ``line`` meets the window, ``slack`` pixels wider."""
        dots = [self.at(place) for place in line]
        if not dots:
            return False
        xs, ys = [x for x, _ in dots], [y for _, y in dots]
        return min(xs) < self.width + slack and max(xs) > -slack and min(ys) < self.height + slack and max(ys) > -slack

    def path(self, line: Iterable[LonLat], *, is_closed: bool = False) -> str:
        """Give a line as SVG path data, each step from the one before; steps under half a pixel are left out."""
        dots = [(round(10 * x), round(10 * y)) for x, y in map(self.at, line)]
        kept = dots[:1]
        for n, dot in enumerate(dots[1:], start=1):
            if n == len(dots) - 1 or math.dist(dot, kept[-1]) >= 5:
                kept.append(dot)
        steps = "".join(f"l{_tenths(x - x0)} {_tenths(y - y0)}" for (x0, y0), (x, y) in pairwise(kept))
        return f"M{_tenths(kept[0][0])} {_tenths(kept[0][1])}{steps}" + ("Z" if is_closed else "")


def _tenths(value: int) -> str:
    return f"{value / 10:g}"


def text_width(text: str, size: float) -> float:
    """Guess the width of bold words in pixels: wide scripts count a full square, others less than two thirds of it."""
    return size * sum(1.0 if unicodedata.east_asian_width(c) in "WF" else 0.0 if unicodedata.combining(c) else 0.63 for c in text)
