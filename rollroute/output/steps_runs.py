"""Runs: pieces of way that a volunteer would call one thing, and the turns between them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from rollroute.output.itinerary import Itinerary, LonLat, Piece

M_PER_DEG = 111_195.0  # a degree of a great circle on a sphere of 6 371 km; good enough for bearings over tens of metres
BEARING_REACH_M = 12.0  # a turn is judged over this length, so that a kink in a footway is none
CORNER_DEG = 60.0  # a bend of one street that is called a turn
STUB_M = 8.0  # a link this short between footway and crossing is no step of its own
T = TypeVar("T")
ON_ROAD = frozenset({"living_street", "residential", "service", "driveway", "parking_aisle", "track", "busy_road"})
FAMILY = {"crossing": "cross", "elevator": "lift", "corridor": "inside", "ramp": "ramp", "off_map": "off_map", "steps": "steps"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Pieces ``first`` to ``last`` (both included): one street, one kind. ``turn_deg`` > 0 turns right into it, NaN at the start."""

    first: int
    last: int
    family: str  # "way", "cross", "lift", "inside", "ramp", "off_map", "steps"
    way_kind: str
    street: str | None
    turn_deg: float


def family(piece: Piece) -> str:
    """Say what a piece is for somebody who walks beside the chair."""
    return FAMILY.get(piece.way_kind, "way")


def build_runs(itinerary: Itinerary) -> list[Run]:
    """Merge pieces into runs: a new one at a new street or kind, a corner, a floor, or a charging halt.

    Links of a few metres, which maps draw between footway and crossing, are no runs of their own: they go with what follows.
    """
    pieces = itinerary.pieces
    halts = _halt_cuts(itinerary)
    cuts = [n for n in range(len(pieces)) if n == 0 or n in halts or _starts_anew(pieces, n)]
    cuts = _without_needless_turns(pieces, _without_stubs(pieces, cuts, halts), halts)
    ends = _ends(pieces, cuts)
    runs = []
    for k, (first, last) in enumerate(zip(cuts, ends, strict=True)):
        runs.append(_run(pieces, first, last, before=cuts[k - 1] if k else None))
    return runs


def bearing_deg(a: LonLat, b: LonLat) -> float:
    """Direction from ``a`` to ``b``, clockwise from north, 0 .. 360, on a local plane."""
    east = (b[0] - a[0]) * math.cos(math.radians((a[1] + b[1]) / 2))
    return math.degrees(math.atan2(east, b[1] - a[1])) % 360.0


def leaving_bearing_deg(line: list[LonLat]) -> float:
    """Bearing of the first metres of ``line``; NaN if it has no length."""
    return _bearing_over(line)


def arriving_bearing_deg(line: list[LonLat]) -> float:
    """Bearing of the last metres of ``line``; NaN if it has no length."""
    back = _bearing_over(line[::-1])
    return (back + 180.0) % 360.0


def line_of(pieces: list[Piece], first: int, last: int) -> list[LonLat]:
    """The drawn line of pieces ``first`` .. ``last``, without doubled corners."""
    line: list[LonLat] = []
    for piece in pieces[first : last + 1]:
        line.extend(c for c in piece.coordinates if not line or c != line[-1])
    return line


def turn_deg(before: list[LonLat], after: list[LonLat]) -> float:
    """Turn from the end of one line into the beginning of another, -180 .. 180, right positive; NaN where either has no length."""
    return (leaving_bearing_deg(after) - arriving_bearing_deg(before) + 180.0) % 360.0 - 180.0


def distance_m(a: LonLat, b: LonLat) -> float:
    """Ground distance of two near points, metres."""
    east = (b[0] - a[0]) * math.cos(math.radians((a[1] + b[1]) / 2))
    return math.hypot(east, b[1] - a[1]) * M_PER_DEG


def _bearing_over(line: list[LonLat]) -> float:
    """Bearing from the first corner to the first one at least ``BEARING_REACH_M`` away (else the last)."""
    target = next((c for c in line[1:] if distance_m(line[0], c) >= BEARING_REACH_M), line[-1])
    return math.nan if target == line[0] else bearing_deg(line[0], target)


def _alike(a: Piece, b: Piece) -> bool:
    return family(a) == family(b) and a.name == b.name and (a.way_kind in ON_ROAD) == (b.way_kind in ON_ROAD)


def _corner_deg(pieces: list[Piece], n: int) -> float:
    """Size of the bend between like pieces ``n - 1`` and ``n``, over the like pieces around it."""
    first, last = n - 1, n
    while first > max(n - 8, 0) and _alike(pieces[first - 1], pieces[n]):
        first -= 1
    while last < min(n + 7, len(pieces) - 1) and _alike(pieces[n], pieces[last + 1]):
        last += 1
    return abs(turn_deg(line_of(pieces, first, n - 1), line_of(pieces, n, last)))


def _starts_anew(pieces: list[Piece], n: int) -> bool:
    before, here = pieces[n - 1], pieces[n]
    if not _alike(before, here) or before.building != here.building or before.level != here.level:
        return True
    return _corner_deg(pieces, n) >= CORNER_DEG


def _halt_cuts(itinerary: Itinerary) -> set[int]:
    """Numbers of the pieces that begin where a charging halt stands."""
    cuts = set()
    for halt in itinerary.halts:
        nearest = min(range(len(itinerary.pieces)), key=lambda n: abs(itinerary.pieces[n].to_m - halt.at_m))
        cuts.add(nearest + 1)
    return cuts


def _ends(pieces: list[Piece], cuts: list[int]) -> list[int]:
    return [*(c - 1 for c in cuts[1:]), len(pieces) - 1]


def _without_stubs(pieces: list[Piece], cuts: list[int], halts: set[int]) -> list[int]:
    """Let a link of a few metres go with the way after it, else with the way before it."""
    kept = list(cuts)
    k = 0
    while k < len(kept):
        first, last = kept[k], _ends(pieces, kept)[k]
        is_stub = all(family(p) == "way" for p in pieces[first : last + 1]) and pieces[last].to_m - pieces[first].from_m < STUB_M
        with_next = k + 1 < len(kept) and kept[k + 1] not in halts and family(pieces[kept[k + 1]]) == "way"
        with_last = k > 0 and first not in halts and family(pieces[first - 1]) == "way"
        if is_stub and with_next:
            del kept[k + 1]
        elif is_stub and with_last:
            del kept[k]
        else:
            k += 1
    return kept


def _without_needless_turns(pieces: list[Piece], cuts: list[int], halts: set[int]) -> list[int]:
    """Join runs of one street that, links aside, go on in the same direction."""
    kept = cuts[:1]
    for cut, following in zip(cuts[1:], [*cuts[2:], len(pieces)], strict=True):
        here, there = _street(pieces[kept[-1] : cut]), _street(pieces[cut:following])
        is_way = all(family(p) == "way" for p in pieces[kept[-1] : following])
        bend = abs(turn_deg(line_of(pieces, kept[-1], cut - 1), line_of(pieces, cut, following - 1)))
        if cut in halts or not is_way or here != there or bend >= CORNER_DEG:
            kept.append(cut)
    return kept


def _street(pieces: list[Piece]) -> tuple[str | None, bool]:
    """The name that most metres bear, and whether they lie on the carriageway."""
    name = _most_metres(pieces, lambda p: p.name)
    return (name, _most_metres(pieces, lambda p: p.way_kind in ON_ROAD))


def _most_metres(pieces: list[Piece], key: Callable[[Piece], T]) -> T:
    length_m: dict[T, float] = {}
    for piece in pieces:
        length_m[key(piece)] = length_m.get(key(piece), 0.0) + piece.to_m - piece.from_m
    return max(length_m, key=lambda k: length_m[k])


def _run(pieces: list[Piece], first: int, last: int, *, before: int | None) -> Run:
    own = pieces[first : last + 1]
    return Run(
        first=first,
        last=last,
        family=family(pieces[first]),
        way_kind=_most_metres(own, lambda p: p.way_kind),
        street=_most_metres(own, lambda p: p.name),
        turn_deg=math.nan if before is None else turn_deg(line_of(pieces, before, first - 1), line_of(pieces, first, last)),
    )
