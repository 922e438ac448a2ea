"""What to watch for on a stretch of the way: kerbs, gates, slopes, surfaces, and where the helper walks."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from rollroute.output.itinerary import Itinerary, Piece, Point
from rollroute.output.steps_runs import ON_ROAD

MODERATE_GRADE = 0.05  # PROWAG R302.4.1: running slope of a pedestrian access route 1:20
CAMBER = 1.0 / 48.0  # PROWAG R302.5.1: cross slope 1:48
GAP_M = 30.0  # stretches of one kind closer than this are told as one: nobody counts metres between slopes
SLOW_CARS = frozenset({"living_street", "service", "driveway", "parking_aisle", "track"})  # cars come, but it is no through road
PASSING_WIDTH_M = 1.5  # below it a helper can't walk beside the chair (R302.3 asks 1525 mm for passing)
SMOOTH = frozenset(
    {
        "asphalt", "concrete", "paved", "concrete:plates", "paving_stones", "tiles", "linoleum", "plastic", "hard_floor", "wood", "metal",
        "rubber",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One thing to watch for, at ``at_m`` or from ``at_m`` over ``length_m``.

    ``kind``: a kind of ``Point``, or ``grade_up``, ``grade_down``, ``camber``, ``surface``, ``road``, ``cars``, ``dark``, ``tunnel``.
    ``value`` is metres for points, rise over run for grades and camber. ``word`` is the map's own word.
    """

    kind: str
    at_m: float
    length_m: float = 0.0
    value: float | None = None
    word: str | None = None
    direction: str | None = None
    rank: str = "unknown"
    question: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HelperPlace:
    """Where the helper walks. ``place``: ``behind``, ``ahead``, ``beside`` or ``higher_side``; ``why``: its reasons.

    ``grade`` is the steepest of the stretch, rise over run without its sign, where one of the reasons is a slope.
    """

    place: str
    why: tuple[str, ...]  # "narrow", "ascent", "descent", "camber"
    from_m: float
    to_m: float
    grade: float | None = None


def watch_points(points: list[Point]) -> list[Watch]:
    """Turn points passed into things to watch for."""
    return [
        Watch(kind=p.kind, at_m=p.at_m, value=p.value, word=p.word, direction=p.direction, rank=p.rank, question=p.question) for p in points
    ]


def watch_stretches(itinerary: Itinerary, first: int, last: int) -> list[Watch]:
    """Find slopes, surfaces, camber, road and darkness on pieces ``first`` .. ``last``; neighbours of one kind are joined."""
    found: list[Watch] = []
    for piece in itinerary.pieces[first : last + 1]:
        for item in _stretches(piece, is_dark=itinerary.conditions.is_dark):
            _join(found, item)
    return sorted(found, key=lambda w: (w.at_m, w.kind))


def helper_places(itinerary: Itinerary) -> list[HelperPlace]:
    """Say where the helper walks along the whole way, where it is not simply beside the chair.

    Never downhill of the chair; never beside it where the path is under 1.5 m; on a camber on the higher side.
    An unknown width is taken as narrow only on paths and footways, where there is no road to step into.
    """
    places: list[HelperPlace] = []
    for piece in itinerary.pieces:
        why = _reasons(piece)
        is_sloping = bool({"ascent", "descent"} & set(why))
        if not why or piece.way_kind == "elevator" or (piece.way_kind == "crossing" and not is_sloping):
            continue
        item = HelperPlace(
            place=_place(why), why=why, from_m=piece.from_m, to_m=piece.to_m, grade=abs(piece.grade or 0.0) if is_sloping else None
        )
        if places and places[-1].why == why and piece.from_m - places[-1].to_m <= GAP_M:
            before = places.pop()
            steeper = max(before.grade or 0.0, item.grade or 0.0) if is_sloping else None
            item = dataclasses.replace(item, from_m=before.from_m, grade=steeper)
        places.append(item)
    return places


def _reasons(piece: Piece) -> tuple[str, ...]:
    why = []
    if piece.width_m is not None and piece.width_m < PASSING_WIDTH_M and piece.way_kind not in ON_ROAD:
        why.append("narrow")
    if piece.grade is not None and abs(piece.grade) >= MODERATE_GRADE:
        why.append("ascent" if piece.grade > 0 else "descent")
    if piece.cross_slope is not None and abs(piece.cross_slope) > CAMBER:
        why.append("camber")
    return tuple(why)


def _place(why: tuple[str, ...]) -> str:
    """Downhill of the chair is never an answer: up a slope the helper goes ahead or beside, down it behind."""
    if "descent" in why:
        return "behind"
    if "ascent" in why:
        return "ahead" if "narrow" in why else "higher_side" if "camber" in why else "beside"
    return "behind" if "narrow" in why else "higher_side"


def _stretches(piece: Piece, *, is_dark: bool) -> list[Watch]:
    length = piece.to_m - piece.from_m

    def item(kind: str, *, value: float | None = None, word: str | None = None, rank: str = "unknown") -> Watch:
        return Watch(kind=kind, at_m=piece.from_m, length_m=length, value=value, word=word, rank=rank)

    items = []
    if piece.grade is not None and abs(piece.grade) >= MODERATE_GRADE and piece.way_kind != "elevator":
        items.append(item("grade_up" if piece.grade > 0 else "grade_down", value=abs(piece.grade), rank=piece.grade_rank))
    if piece.cross_slope is not None and abs(piece.cross_slope) > CAMBER:
        items.append(item("camber", value=abs(piece.cross_slope)))
    if piece.surface is not None and piece.surface not in SMOOTH:
        items.append(item("surface", word=piece.surface, rank=piece.surface_rank))
    if piece.way_kind in ON_ROAD:
        items.append(item("cars" if piece.way_kind in SLOW_CARS else "road"))
    if is_dark and piece.is_lit is False:
        items.append(item("dark"))
    if piece.is_tunnel:
        items.append(item("tunnel"))
    return items


def _join(found: list[Watch], item: Watch) -> None:
    """Append ``item``, or lengthen the last of its kind if that lies near; the steeper value and its rank stay."""
    for n in range(len(found) - 1, -1, -1):
        old = found[n]
        if old.kind == item.kind and old.word == item.word and item.at_m - (old.at_m + old.length_m) <= GAP_M:
            steeper = item if (item.value or 0.0) > (old.value or 0.0) else old
            length_m = item.at_m + item.length_m - old.at_m
            found[n] = dataclasses.replace(old, length_m=length_m, value=steeper.value, rank=steeper.rank)
            return
    found.append(item)
