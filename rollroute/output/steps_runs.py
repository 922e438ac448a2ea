"""Runs: pieces of way that a volunteer would call one thing, and the turns between them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollroute.output.itinerary import Itinerary, LonLat, Piece

M_PER_DEG = 111_195.0  # a degree of a great circle on a sphere of 6 371 km; good enough for bearings over tens of metres
BEARING_REACH_M = 12.0  # a turn is judged over this length, so that a kink in a footway is none
CORNER_DEG = 60.0  # a bend of one street that is called a turn
STUB_M = 6.0  # an unnamed link this short between footway and crossing is no step of its own
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
    """Merge pieces into runs: a new one at a new street or kind, a corner, a floor, or a charging halt."""
    pieces = itinerary.pieces
    halts = _halt_cuts(itinerary)
    cuts = [n for n in range(len(pieces)) if n == 0 or n in halts or _starts_anew(pieces, n)]
    cuts = _without_stubs(pieces, cuts, halts=halts)
    ends = [*(c - 1 for c in cuts[1:]), len(pieces) - 1]
    return [_run(pieces, first, last) for first, last in zip(cuts, ends, strict=True)]


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


def turn_between(pieces: list[Piece], first: int) -> float:
    """Turn at the start of piece ``first``, degrees in -180 .. 180, right positive; NaN where there is nothing before."""
    if first == 0:
        return math.nan
    before, after = line_of(pieces, _back(pieces, first - 1), first - 1), line_of(pieces, first, _on(pieces, first))
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
    return family(a) == family(b) and a.name == b.name and family(a) != "cross"


def _back(pieces: list[Piece], last: int) -> int:
    """First of the like pieces that lead to ``last``; a crossing is never mixed with the footway beside it."""
    first = last
    while first > max(last - 4, 0) and _alike(pieces[first - 1], pieces[last]):
        first -= 1
    return first


def _on(pieces: list[Piece], first: int) -> int:
    last = first
    while last < min(first + 4, len(pieces) - 1) and _alike(pieces[first], pieces[last + 1]):
        last += 1
    return last


def _starts_anew(pieces: list[Piece], n: int) -> bool:
    before, here = pieces[n - 1], pieces[n]
    if family(before) != family(here) or before.building != here.building:
        return True
    if family(here) == "cross" or before.level != here.level:
        return True
    if before.name != here.name or (before.way_kind in ON_ROAD) != (here.way_kind in ON_ROAD):
        return True
    return abs(turn_between(pieces, n)) >= CORNER_DEG


def _halt_cuts(itinerary: Itinerary) -> set[int]:
    """Numbers of the pieces that begin where a charging halt stands."""
    cuts = set()
    for halt in itinerary.halts:
        nearest = min(range(len(itinerary.pieces)), key=lambda n: abs(itinerary.pieces[n].to_m - halt.at_m))
        cuts.add(nearest + 1)
    return cuts


def _without_stubs(pieces: list[Piece], cuts: list[int], *, halts: set[int]) -> list[int]:
    """Let an unnamed link of a few metres run on with the footway before it, so that it is no step of its own."""
    kept = cuts[:1]
    for cut, following in zip(cuts[1:], [*cuts[2:], len(pieces)], strict=True):
        stub = pieces[cut:following]
        is_stub = all(family(p) == "way" and p.name is None and not p.questions for p in stub)
        is_short = stub[-1].to_m - stub[0].from_m < STUB_M
        after_way = family(pieces[cut - 1]) == "way"
        if not (is_stub and is_short and after_way) or cut in halts:
            kept.append(cut)
    return kept


def _run(pieces: list[Piece], first: int, last: int) -> Run:
    length_m: dict[str, float] = {}
    for piece in pieces[first : last + 1]:
        length_m[piece.way_kind] = length_m.get(piece.way_kind, 0.0) + piece.to_m - piece.from_m
    named = next((p.name for p in pieces[first : last + 1] if p.name), None)
    return Run(
        first=first,
        last=last,
        family=family(pieces[first]),
        way_kind=max(length_m, key=lambda kind: length_m[kind]),
        street=named,
        turn_deg=turn_between(pieces, first),
    )
