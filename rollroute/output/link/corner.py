"""Begin a shared route at the first corner instead of the front door."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import Any, TypeVar

from rollroute.errors import InputError
from rollroute.output.itinerary import Backdrop, Checkpoint, Itinerary, LonLat, Piece, Question, Spot, Spread
from rollroute.output.map.way import M_PER_DEGREE
from rollroute.output.plain_text import plain
from rollroute.output.steps import STEPS_LEFT_OUT, Step, build_steps
from rollroute.output.words import Words

LEAST_HIDDEN_M = 40.0  # our choice: several front doors along an ordinary street
AROUND_M = 150.0  # of the ground that is kept round what is left of the way
Placed = TypeVar("Placed", bound="object")


def start_at_corner(itinerary: Itinerary, words: Words) -> tuple[Itinerary, int]:
    """Give the route from its first corner on, and how many steps were left out.

    Nothing of the way before the corner stays: no line, no place, no metre count, no ground that only the door would explain.

    Raises
    ------
    InputError
        If the way has no corner far enough from the door.
    """
    steps = build_steps(itinerary)
    corner = next((n for n, step in enumerate(steps) if n and _is_corner(steps, n)), None)
    if corner is None:
        what = f"route {itinerary.code}: no corner at least {LEAST_HIDDEN_M:.0f} m from the start to begin the link at"
        raise InputError(f"{what}. Hand the route over on paper, or share it without hiding the start.")
    first = steps[corner].first_piece or 0
    label = _corner_label(steps[corner - 1], steps[corner], words)
    return _from_piece(itinerary, first, label), corner


def from_the_corner(itinerary: Itinerary, words: Words) -> tuple[Itinerary, int]:
    """The same with a note of how many steps were left out, so that the others keep the numbers of the whole way."""
    shown, offset = start_at_corner(itinerary, words)
    return dataclasses.replace(shown, notes=[*shown.notes, f"{STEPS_LEFT_OUT}{offset}"]), offset


def _is_corner(steps: Sequence[Step], n: int) -> bool:
    step = steps[n]
    follows_on = steps[n + 1].kind != "arrive" if n + 1 < len(steps) else False
    return step.first_piece is not None and step.at_m >= LEAST_HIDDEN_M and follows_on and step.kind in ("follow", "cross")


def _corner_label(before: Step, after: Step, words: Words) -> str:
    names = [plain(name) for name in (before.street, after.street) if name]
    if len(set(names)) == 2:
        return words.say("the corner of {one} and {other}", one=names[0], other=names[1])
    return words.say("the corner on {street}", street=names[0]) if names else words.say("the corner")


def _from_piece(itinerary: Itinerary, first: int, label: str) -> Itinerary:
    cut = itinerary.pieces[first].from_m
    pieces = [dataclasses.replace(p, from_m=p.from_m - cut, to_m=p.to_m - cut) for p in itinerary.pieces[first:]]
    lon, lat = pieces[0].coordinates[0]
    box = _box(pieces)
    questions = _later(itinerary.questions, cut)
    return dataclasses.replace(
        itinerary,
        start=Spot(label=label, lon=lon, lat=lat, kind="corner", at_m=0.0),
        pieces=pieces,
        questions=questions,
        points=_later(itinerary.points, cut),
        halts=_later(itinerary.halts, cut),
        checkpoints=[_without_door(c, itinerary.start.label, label, cut) for c in _later(itinerary.checkpoints, cut)],
        refuges=_later_spots([spot for spot in itinerary.refuges if spot.label != itinerary.start.label], cut),
        van_spots=_later_spots(itinerary.van_spots, cut),
        rest_spots=_later_spots(itinerary.rest_spots, cut),
        landmarks=_later_spots(itinerary.landmarks, cut),
        barred=[barred for barred in itinerary.barred if all(_is_inside(place, box) for place in barred.coordinates)],
        backdrop=_clipped(itinerary.backdrop, box),
        command="",
        **_totals(itinerary, first, questions),
    )


def _totals(itinerary: Itinerary, first: int, questions: list[Question]) -> dict[str, Any]:
    """Take what was left out off the sums of the trip."""
    left_out, kept = itinerary.pieces[:first], itinerary.pieces[first:]
    return {
        "length_m": itinerary.length_m - kept[0].from_m,
        "climb_m": itinerary.climb_m - sum(max(p.grade or 0.0, 0.0) * (p.to_m - p.from_m) for p in left_out),
        "descent_m": itinerary.descent_m - sum(max(-(p.grade or 0.0), 0.0) * (p.to_m - p.from_m) for p in left_out),
        "unverified_m": sum(p.to_m - p.from_m for p in kept if p.verdict != "clear"),
        "time_s": _less(itinerary.time_s, [p.time_s for p in left_out]),
        "energy_wh": _less(itinerary.energy_wh, [p.energy_wh for p in left_out]),
        "soc_start": left_out[-1].soc_after if left_out else itinerary.soc_start,
        "doubt": 1.0 - math.prod(1.0 - question.probability for question in questions),
    }


def _less(total: Spread, parts: list[Spread]) -> Spread:
    return Spread(expected=total.expected - sum(p.expected for p in parts), planned=total.planned - sum(p.planned for p in parts))


def _later(things: list[Placed], cut: float) -> list[Placed]:
    """Keep what lies at or after ``cut`` and count its metres from there."""
    return [dataclasses.replace(t, at_m=t.at_m - cut) for t in things if t.at_m >= cut]  # type: ignore[attr-defined,type-var]


def _later_spots(spots: list[Spot], cut: float) -> list[Spot]:
    return [dataclasses.replace(s, at_m=s.at_m - cut) for s in spots if s.at_m is not None and s.at_m >= cut]


def _without_door(checkpoint: Checkpoint, door: str, corner: str, cut: float) -> Checkpoint:
    """Turn back to the corner, not to the door; the distance there would give the door away."""
    leave_m = checkpoint.leave_way_m
    if checkpoint.turn_back_to == door or (leave_m is not None and leave_m < cut):
        place = corner if checkpoint.turn_back_to == door else checkpoint.turn_back_to
        return dataclasses.replace(checkpoint, turn_back_to=place, turn_back_m=None, leave_way_m=None)
    return checkpoint if leave_m is None else dataclasses.replace(checkpoint, leave_way_m=leave_m - cut)


Box = tuple[float, float, float, float]


def _box(pieces: list[Piece]) -> Box:
    lons = [lon for p in pieces for lon, _ in p.coordinates]
    lats = [lat for p in pieces for _, lat in p.coordinates]
    north = AROUND_M / M_PER_DEGREE
    east = north / math.cos(math.radians(lats[0]))
    return min(lons) - east, min(lats) - north, max(lons) + east, max(lats) + north


def _is_inside(place: LonLat, box: Box) -> bool:
    return box[0] <= place[0] <= box[2] and box[1] <= place[1] <= box[3]


def _clipped(ground: Backdrop, box: Box) -> Backdrop:
    """Keep the shapes that reach into the box."""

    def near(line: list[LonLat]) -> bool:
        return any(_is_inside(place, box) for place in line)

    return Backdrop(
        buildings=[ring for ring in ground.buildings if near(ring)],
        water=[ring for ring in ground.water if near(ring)],
        green=[ring for ring in ground.green if near(ring)],
        waterways=[line for line in ground.waterways if near(line)],
        roads=[(name, line) for name, line in ground.roads if near(line)],
        paths=[(name, line) for name, line in ground.paths if near(line)],
        rooms=[room for room in ground.rooms if near(room[2])],
    )
