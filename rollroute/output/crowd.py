"""Room on a drawing: where a mark or a word can stand so that it hides nothing. One rule for every drawing of a route.

Whoever draws asks in the order of weight, so that what matters least is left out first. A mark whose own place is taken steps aside
to a free place, tied to its own by a leader: to the nearest, where each mark or leader that the leader crosses counts as ``CROSSING``
further away, and a place on the way as ``ON_WAY``: there the mark would say something false.

Words do without leaders: the first free place off the way, else the first free one. ``map/placing.js`` is the same rule for pages
that zoom.
Lengths are those of the drawing, pixels or points; x runs right, y down.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

XY = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom
REACHES = (34.0, 46.0, 58.0, 70.0, 82.0, 96.0, 112.0, 130.0, 150.0)  # how far a mark steps aside: our choice, for marks 32 wide
ANGLES = (0, 180, 90, 270, 45, 135, 225, 315, 22.5, 67.5, 112.5, 157.5, 202.5, 247.5, 292.5, 337.5)  # degrees from the right, clockwise
STEPS_ASIDE = tuple((r * math.cos(math.radians(a)), r * math.sin(math.radians(a))) for r in REACHES for a in ANGLES)
CROSSING, ON_WAY = 80.0, 50.0  # our choice, from looking at a dozen routes at three sizes
WAY_EVERY = 4.0  # the way is known by points this far apart


def box_around(x: float, y: float, wide: float, high: float) -> Box:
    """The box around the middle (x, y)."""
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2


@dataclass(slots=True)
class Crowd:
    """What is taken on a drawing of ``width`` × ``height``: boxes, leaders, and the way, which no word should hide."""

    width: float
    height: float
    taken: list[Box] = field(default_factory=list)
    leaders: list[tuple[XY, XY]] = field(default_factory=list)
    way: list[XY] = field(default_factory=list)  # from left to right
    scale: float = 1.0  # how large marks are drawn, of 32 wide: steps aside are as much shorter

    def draw_way(self, line: Sequence[XY]) -> None:
        """Keep marks that move and words off ``line``, where there is a choice."""
        self.way = sorted([*self.way, *(dot for a, b in pairwise(line) for dot in _dots(a, b, WAY_EVERY))])

    def take(self, x: float, y: float, wide: float, high: float) -> None:
        """Take the box around the middle (x, y)."""
        self.taken.append(box_around(x, y, wide, high))

    def is_free(self, x: float, y: float, wide: float, high: float) -> bool:
        """Say whether the box around the middle (x, y) is inside the drawing and meets no other."""
        return self.has_room(box_around(x, y, wide, high))

    def claim(self, x: float, y: float, wide: float, high: float) -> bool:
        """Take the box if it is free."""
        free = self.is_free(x, y, wide, high)
        if free:
            self.take(x, y, wide, high)
        return free

    def has_room(self, box: Box) -> bool:
        """Say whether ``box`` is inside the drawing and meets no other."""
        left, top, right, bottom = box
        if left < 0 or top < 0 or right > self.width or bottom > self.height:
            return False
        return not any(left < r and right > a and top < b and bottom > t for a, t, r, b in self.taken)

    def hides_way(self, box: Box) -> bool:
        """Say whether the way runs under ``box``."""
        first, after = bisect_right(self.way, (box[0], math.inf)), bisect_left(self.way, (box[2], -math.inf))
        return any(box[1] < y < box[3] for _, y in self.way[first:after])

    def step_aside(self, x: float, y: float, wide: float, high: float) -> XY | None:
        """Give and take the best place of a mark whose own place (x, y) is taken, as (right, down) of it; ``None``: all are taken."""
        best, least = None, math.inf
        for step in ((right * self.scale, down * self.scale) for right, down in STEPS_ASIDE):  # the nearest first
            if math.hypot(*step) >= least:
                break
            box = box_around(x + step[0], y + step[1], wide, high)
            if not self.has_room(box):
                continue
            price = math.hypot(*step) + self.scale * (CROSSING * self._crossings((x, y), box) + ON_WAY * self.hides_way(box))
            if price < least:
                best, least = step, price
        if best is not None:
            self.take(x + best[0], y + best[1], wide, high)
            self.leaders.append(((x, y), (x + best[0], y + best[1])))
        return best

    def choose(self, x: float, y: float, wide: float, high: float, places: Sequence[XY]) -> XY | None:
        """Give and take the best of ``places`` (right, down of (x, y)) for words of that size; ``None``: all are taken."""
        free = [(dx, dy) for dx, dy in places if self.is_free(x + dx, y + dy, wide, high)]
        boxes = ((place, box_around(x + place[0], y + place[1], wide, high)) for place in free)
        off = (place for place, box in boxes if not self.hides_way(box) and not self._is_under_leader(box))
        place = next((place for kind in (off, free) for place in kind), None)
        if place is not None:
            self.take(x + place[0], y + place[1], wide, high)
        return place

    def _crossings(self, from_: XY, box: Box) -> int:
        """How many marks and leaders a leader to the middle of ``box`` crosses, and how many leaders run under the box."""
        to = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        marks = (
            _cuts(from_, to, other) for other in self.taken if not (other[0] <= from_[0] <= other[2] and other[1] <= from_[1] <= other[3])
        )
        leaders = (_cuts(*leader, box) or (leader[0] != from_ and _cross(from_, to, *leader)) for leader in self.leaders)
        return sum(marks) + sum(leaders)

    def _is_under_leader(self, box: Box) -> bool:
        return any(_cuts(*leader, box) for leader in self.leaders)


def _dots(a: XY, b: XY, apart: float) -> Iterator[XY]:
    n = max(1, math.ceil(math.dist(a, b) / apart))
    return ((a[0] + (b[0] - a[0]) * k / n, a[1] + (b[1] - a[1]) * k / n) for k in range(n + 1))


def _cuts(a: XY, b: XY, box: Box) -> bool:
    """Whether the line from ``a`` to ``b`` runs through ``box`` (Liang and Barsky 1984)."""
    begin, end = 0.0, 1.0
    for from_, to, low, high in ((a[0], b[0], box[0], box[2]), (a[1], b[1], box[1], box[3])):
        if from_ == to:
            if not low < from_ < high:
                return False
            continue
        one, other = (low - from_) / (to - from_), (high - from_) / (to - from_)
        begin, end = max(begin, min(one, other)), min(end, max(one, other))
    return begin < end


def _cross(a: XY, b: XY, c: XY, d: XY) -> bool:
    """Whether the line from ``a`` to ``b`` crosses the line from ``c`` to ``d``."""
    return _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0


def _side(a: XY, b: XY, p: XY) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
