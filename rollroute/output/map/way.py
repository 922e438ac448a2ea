"""The way as it is drawn: runs of one look, arrowheads that point uphill, and places at a distance along the line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from rollroute.output.itinerary import Itinerary, LonLat, Piece

MODERATE_GRADE = 1 / 20  # steeper is a ramp: 2010 ADA Standards, 403.3
LIMIT_GRADE = 1 / 12  # 2010 ADA Standards, 405.2
CLOSE_TO_LIMIT = 0.8  # of the limit: our choice, so that the eye finds the pieces where an error of the data counts
ARROW_SPACING_M = 25.0  # our choice: two arrowheads on half a block
FIGURE_AGAIN_M = 200.0  # our choice
FIGURE_FROM_M = 15.0  # runs shorter than this carry arrowheads but no figure of their own: our choice
M_PER_DEGREE = math.pi * 6_371_008.8 / 180.0  # mean radius of the earth, IUGG (from memory); drawing only

# Loose, soft or jolting surfaces (OSM key "surface"); the ratio of each is a matter of the energy model, not of the drawing.
COSTLY_SURFACES = frozenset(
    {"cobblestone", "cobblestone:flattened", "unhewn_cobblestone", "sett", "gravel", "fine_gravel", "pebblestone", "unpaved", "ground"}
    | {"dirt", "earth", "grass", "grass_paver", "sand", "mud", "woodchips", "compacted", "snow", "ice", "rock", "stepping_stones"}
)


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring pieces that look the same. ``steepness``: 0 gentle or unknown, 1 moderate, 2 close to the limit."""

    pieces: tuple[Piece, ...]
    is_unverified: bool
    is_costly: bool
    steepness: int
    climbs: bool  # uphill in the direction of travel

    @property
    def coordinates(self) -> list[LonLat]:
        """The run as one line, shared ends once."""
        places = [place for piece in self.pieces for place in piece.coordinates]
        return [place for n, place in enumerate(places) if n == 0 or place != places[n - 1]]

    @property
    def steepest(self) -> float:
        """The largest grade in the run, as rise over run without a sign."""
        return max((abs(piece.grade) for piece in self.pieces if piece.grade is not None), default=0.0)


@dataclass(frozen=True, slots=True)
class Arrowhead:
    """Arrowheads at one place. ``bearing_deg`` clockwise from north, uphill; ``index`` counts from the middle of the run."""

    lon: float
    lat: float
    bearing_deg: float
    count: int
    index: int
    figure: float | None  # grade to print beside it


def steepness(piece: Piece, limit: float) -> int:
    """0 gentle or unknown, 1 over 1:20, 2 close to ``limit``."""
    if piece.grade is None:
        return 0
    grade = abs(piece.grade)
    if grade >= CLOSE_TO_LIMIT * limit:
        return 2
    return int(grade > MODERATE_GRADE)


def runs(itinerary: Itinerary) -> list[Run]:
    """Group neighbouring pieces that look the same."""
    limit = min(LIMIT_GRADE, itinerary.chair.rated_grade)

    def look(piece: Piece) -> tuple[bool, bool, int, bool, float | None]:
        steep = steepness(piece, limit)
        climbs = steep > 0 and (piece.grade or 0.0) > 0
        return piece.verdict != "clear", piece.surface in COSTLY_SURFACES, steep, climbs, piece.level

    return [Run(tuple(pieces), key[0], key[1], key[2], key[3]) for key, pieces in groupby(itinerary.pieces, key=look)]


def arrowheads(run: Run) -> Iterator[Arrowhead]:
    """Give the arrowheads of one run, the middle one first."""
    line = run.coordinates
    length_m = sum(distance_m(a, b) for a, b in pairwise(line))
    if run.steepness == 0 or length_m == 0:
        return
    half = max(0, math.floor((length_m / 2 - 4.0) / ARROW_SPACING_M))
    for index in sorted(range(-half, half + 1), key=abs):
        place, heading = along(line, length_m / 2 + index * ARROW_SPACING_M)
        figure = run.steepest if index == 0 and (length_m >= FIGURE_FROM_M or run.steepness == 2) else None
        yield Arrowhead(place[0], place[1], (heading + (0 if run.climbs else 180)) % 360, run.steepness, index, figure)


def way_arrowheads(the_runs: Sequence[Run]) -> Iterator[Arrowhead]:
    """Give the arrowheads of the whole way; a figure is printed again only where it changes by two per cent or after ``FIGURE_AGAIN_M``."""
    printed: tuple[float, float] | None = None  # the last figure in per cent, and the metres where it stands
    for run in the_runs:
        middle_m = (run.pieces[0].from_m + run.pieces[-1].to_m) / 2
        for arrow in arrowheads(run):
            figure = arrow.figure
            if figure is not None:
                percent = round(100 * figure)
                if printed is not None and abs(percent - printed[0]) < 2 and middle_m - printed[1] < FIGURE_AGAIN_M:
                    figure = None
                else:
                    printed = (percent, middle_m)
            yield replace(arrow, figure=figure)


def along(line: Sequence[LonLat], distance: float) -> tuple[LonLat, float]:
    """Give the place ``distance`` metres along ``line`` (its ends at most) and the heading there, in degrees clockwise from north."""
    left = max(0.0, distance)
    steps = [(a, b, distance_m(a, b)) for a, b in pairwise(line) if a != b]
    if not steps:
        return line[0], 0.0
    n = 0
    while n < len(steps) - 1 and left > steps[n][2]:
        left -= steps[n][2]
        n += 1
    a, b, length_m = steps[n]
    part = min(1.0, left / length_m)
    place = (a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1]))
    east, north = offset_m(a, b)
    return place, math.degrees(math.atan2(east, north)) % 360


def middle(line: Sequence[LonLat]) -> tuple[LonLat, float]:
    """Give the middle of a line and the heading there."""
    return along(line, sum(distance_m(a, b) for a, b in pairwise(line)) / 2)


def offset_m(a: LonLat, b: LonLat) -> tuple[float, float]:
    """Metres east and north from ``a`` to ``b``, on a flat earth around them: good within one town."""
    return (b[0] - a[0]) * M_PER_DEGREE * math.cos(math.radians((a[1] + b[1]) / 2)), (b[1] - a[1]) * M_PER_DEGREE


def distance_m(a: LonLat, b: LonLat) -> float:
    """Metres from ``a`` to ``b``, flat."""
    return math.hypot(*offset_m(a, b))


def distance_to_line_m(place: LonLat, line: Sequence[LonLat]) -> float:
    """Metres from ``place`` to the nearest point of ``line``, flat."""
    best = min(distance_m(place, vertex) for vertex in line)
    for a, b in pairwise(line):
        east, north = offset_m(a, b)
        x, y = offset_m(a, place)
        size = east * east + north * north
        if size > 0:
            part = min(1.0, max(0.0, (x * east + y * north) / size))
            best = min(best, math.hypot(x - part * east, y - part * north))
    return best


def off_the_way(line: Sequence[LonLat], way: Sequence[LonLat], *, within_m: float) -> tuple[LonLat, float, float]:
    """Give the place on ``line`` furthest from ``way``, its heading there, and its distance from the way.

    Tried are places within ``within_m`` of the branch, and the middle.
    A bar across a closed side street must not lie on the street that is driven.
    """
    length_m = sum(distance_m(a, b) for a, b in pairwise(line))
    ends = (line, line[::-1])
    begin = min(ends, key=lambda one: distance_to_line_m(one[0], way))
    places = [along(begin, part * min(length_m, within_m)) for part in (0.25, 0.5, 0.75, 1.0)] + [middle(line)]
    place, heading = max(places, key=lambda one: distance_to_line_m(one[0], way))
    return place, heading, distance_to_line_m(place, way)
