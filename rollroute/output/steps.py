"""Steps: a route as a volunteer follows it, as facts without words.

A step is one thing to do: set off, go along a street, cross, take a lift, charge, arrive.
Its sentence is made by ``rollroute.output.words``.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

from rollroute.output.itinerary import ChargingHalt, Itinerary, LonLat, Point, Spot, Spread
from rollroute.output.steps_runs import Run, build_runs, leaving_bearing_deg, line_of
from rollroute.output.steps_watch import Watch, watch_points, watch_stretches

NEAR_LANDMARK_M = 60.0  # how far behind a landmark still says where a turn is
AT_LANDMARK_M = 12.0
LANDMARK_OFF_WAY_M = 25.0  # further off the way nobody sees it at night
STRAIGHT_DEG, TURN_DEG, SHARP_DEG, AROUND_DEG = 25.0, 50.0, 130.0, 165.0
STEPS_LEFT_OUT = "steps_left_out="  # a note of an itinerary that begins at a corner: how many come before
TIGHT_M = 30.0  # two things to do closer together than this are easily taken for one


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearby:
    """A landmark that tells where a step begins: ``after_m`` metres after it (0 = at it). ``kind`` ``bridge`` has no label."""

    kind: str
    label: str | None
    after_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, beginning ``at_m`` metres from the start.

    ``kind``: ``start``, ``follow``, ``cross``, ``ramp``, ``inside``, ``lift``, ``off_map``, ``steps``, ``charge`` or ``arrive``.
    ``turn``: ``straight``, ``slight_left``, ``left``, ``sharp_left``, ``around`` and the same to the right; ``None`` at the start.
    ``street`` is ``None`` where the map has no name; ``way_kind`` then says what it is.
    ``crossing_s`` is the time over the carriageway at this chair's planned pace.
    ``then_along`` is the street that a crossing continues on without another turn.
    ``first_piece`` .. ``last_piece`` index ``Itinerary.pieces``; both are ``None`` at a halt or the goal.
    """

    number: int
    kind: str
    at_m: float
    length_m: float
    to_next_m: float
    lon: float
    lat: float
    street: str | None = None
    way_kind: str | None = None
    side: str | None = None
    turn: str | None = None
    bearing_deg: float | None = None
    building: str | None = None
    level: float | None = None  # the floor reached, for lifts and corridors
    place: str | None = None  # start, goal or charging place in words of the map
    then_along: str | None = None
    then_side: str | None = None
    nearby: Nearby | None = None
    points: tuple[Point, ...] = ()
    watch: tuple[Watch, ...] = ()
    landmarks: tuple[Spot, ...] = ()  # passed on the way, not at its beginning
    questions: tuple[int, ...] = ()
    time_s: Spread
    crossing_s: float | None = None
    halt: int | None = None  # index into Itinerary.halts
    first_piece: int | None = None
    last_piece: int | None = None
    is_easy_to_miss: bool = False


def build_steps(itinerary: Itinerary) -> list[Step]:
    """Turn an itinerary into numbered steps from 1, start to goal, with no gap and no overlap of metres.

    Parts that need no decision go together: a crossing that leads straight on along the same street is one step with what follows it.
    """
    spans = _join_crossings(itinerary, build_runs(itinerary))
    shares = _share_points(itinerary, spans)
    begins_m = [itinerary.pieces[span[0].first].from_m for span in spans]
    steps = [_step(itinerary, span, points, since_m) for span, points, since_m in zip(spans, shares, [0.0, *begins_m[:-1]], strict=True)]
    steps += [_charge(halt, n) for n, halt in enumerate(itinerary.halts)] + [_arrive(itinerary)]
    steps.sort(key=lambda s: (s.at_m, s.kind != "charge", s.kind == "arrive"))
    return _numbered(steps)


def numbered_as_sent(itinerary: Itinerary) -> list[Step]:
    """The steps with the numbers of the whole way, also where what is sent begins at a corner: replies name a step by its number."""
    left_out = sum(int(note.removeprefix(STEPS_LEFT_OUT)) for note in itinerary.notes if note.startswith(STEPS_LEFT_OUT))
    return [dataclasses.replace(step, number=step.number + left_out) for step in build_steps(itinerary)]


def turn_word(degrees: float) -> str | None:
    """Name a turn: -180 .. 180 degrees, right positive; ``None`` for NaN.

    Examples
    --------
    >>> turn_word(-90.0), turn_word(10.0), turn_word(40.0)
    ('left', 'straight', 'slight_right')
    """
    if math.isnan(degrees):
        return None
    size, side = abs(degrees), "left" if degrees < 0 else "right"
    if size < STRAIGHT_DEG:
        return "straight"
    if size >= AROUND_DEG:
        return "around"
    return ("slight_" if size < TURN_DEG else "sharp_" if size >= SHARP_DEG else "") + side


def planned_pace_m_s(itinerary: Itinerary) -> float:
    """Speed of the chair in the planned case: its own speed, slowed by the ratio of expected to planned driving time."""
    expected = sum(p.time_s.expected for p in itinerary.pieces)
    planned = sum(p.time_s.planned for p in itinerary.pieces)
    return itinerary.chair.speed_m_s * (expected / planned if planned > expected > 0 else 1.0)


Span = tuple[Run, Run | None]  # a run, and the run that a crossing leads on to


def _join_crossings(itinerary: Itinerary, runs: list[Run]) -> list[Span]:
    """Give a crossing the stretch after it, where that goes straight on along the street of before."""
    spans: list[Span] = []
    halts = {round(h.at_m, 1) for h in itinerary.halts}
    n = 0
    while n < len(runs):
        run = runs[n]
        onward = runs[n + 1] if n + 1 < len(runs) else None
        before = runs[n - 1] if n else None
        is_halt = round(itinerary.pieces[run.last].to_m, 1) in halts
        if onward and before and not is_halt and _leads_on(before, run, onward):
            spans.append((run, onward))
            n += 2
        else:
            spans.append((run, None))
            n += 1
    return spans


def _leads_on(before: Run, crossing: Run, onward: Run) -> bool:
    is_straight = abs(crossing.turn_deg) < TURN_DEG and abs(onward.turn_deg) < TURN_DEG
    return crossing.family == "cross" and before.family == onward.family == "way" and before.street == onward.street and is_straight


def _share_points(itinerary: Itinerary, spans: list[Span]) -> list[list[Point]]:
    """Give every point of the way to exactly one step: kerbs to their crossing, the rest to the stretch that begins or holds them."""
    shares: list[list[Point]] = [[] for _ in spans]
    for point in sorted(itinerary.points, key=lambda p: p.at_m):
        shares[min(range(len(spans)), key=lambda n: _misfit(itinerary, spans[n], point))].append(point)
    return shares


def _misfit(itinerary: Itinerary, span: Span, point: Point) -> tuple[float, int, float]:
    """How badly ``point`` belongs to ``span``: metres outside, then the wrong kind, then the far end."""
    run = span[0]
    begin, end = itinerary.pieces[run.first].from_m, itinerary.pieces[(span[1] or run).last].to_m
    outside = max(begin - point.at_m, point.at_m - end, 0.0)
    wanted = {"kerb": "cross", "crossing": "cross", "lift": "lift", "ramp": "ramp", "door": "inside"}.get(point.kind)
    return (round(outside), int(wanted is not None and run.family != wanted), abs(point.at_m - begin))


def _step(itinerary: Itinerary, span: Span, points: list[Point], since_m: float) -> Step:
    run, onward = span
    pieces = itinerary.pieces
    last = (onward or run).last
    first_piece, own = pieces[run.first], pieces[run.first : last + 1]
    begin, end = first_piece.from_m, pieces[last].to_m
    kind = "start" if run.first == 0 else {"way": "follow"}.get(run.family, run.family)
    watch = watch_points(points) + watch_stretches(itinerary, run.first, last)
    lon, lat = first_piece.coordinates[0]
    return Step(
        number=0,
        kind=kind,
        at_m=begin,
        length_m=end - begin,
        to_next_m=end - begin,
        lon=lon,
        lat=lat,
        street=run.street,
        way_kind=run.way_kind,
        side=first_piece.side,
        turn=turn_word(run.turn_deg),
        bearing_deg=_finite(leaving_bearing_deg(line_of(pieces, run.first, last))),
        building=first_piece.building,
        level=pieces[last].level,
        place=itinerary.start.label if kind == "start" else None,
        then_along=onward.street if onward else None,
        then_side=pieces[onward.first].side if onward else None,
        nearby=_nearby(itinerary, begin, run.first, since_m),
        points=tuple(points),
        watch=tuple(sorted(watch, key=lambda w: w.at_m)),
        landmarks=tuple(s for s in itinerary.landmarks if _is_passed(s, begin + AT_LANDMARK_M, end)),
        questions=_questions(itinerary, begin, end, run.first, last),
        time_s=Spread(expected=sum(p.time_s.expected for p in own), planned=sum(p.time_s.planned for p in own)),
        crossing_s=_crossing_s(itinerary, run),
        first_piece=run.first,
        last_piece=last,
        is_easy_to_miss=_is_easy_to_miss(itinerary, run, points),
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _is_passed(spot: Spot, begin: float, end: float) -> bool:
    return spot.at_m is not None and begin <= spot.at_m < end and spot.off_way_m <= LANDMARK_OFF_WAY_M


def _nearby(itinerary: Itinerary, at_m: float, first: int, since_m: float) -> Nearby | None:
    """The landmark or bridge that best tells where the step begins: the last one passed since the step before began.

    An older one would have to be remembered through a turn.
    """
    begin_m, end_m = max(since_m, at_m - NEAR_LANDMARK_M), at_m + AT_LANDMARK_M
    found = [
        Nearby(kind=s.kind, label=s.label, after_m=max(at_m - s.at_m, 0.0))
        for s in itinerary.landmarks
        if s.at_m is not None and begin_m <= s.at_m < end_m and s.off_way_m <= LANDMARK_OFF_WAY_M
    ]
    bridges = [p for p in itinerary.pieces[:first] if p.is_bridge and p.to_m >= max(since_m, at_m - 2 * NEAR_LANDMARK_M)]
    if bridges:
        found.append(Nearby(kind="bridge", label=None, after_m=at_m - bridges[-1].to_m))
    return min(found, key=lambda near: near.after_m, default=None)


def _questions(itinerary: Itinerary, begin: float, end: float, first: int, last: int) -> tuple[int, ...]:
    """Questions on the step: by the pieces that carry them, else by their metres."""
    carried = {n for p in itinerary.pieces[first : last + 1] for n in p.questions}
    placed = {n for p in itinerary.pieces for n in p.questions}
    here = {q.number for q in itinerary.questions if begin <= q.at_m < end and q.number not in placed}
    return tuple(sorted(carried | here))


def _crossing_s(itinerary: Itinerary, run: Run) -> float | None:
    if run.family != "cross":
        return None
    crossed = itinerary.pieces[run.first : run.last + 1]
    width = sum(p.road_width_m if p.road_width_m is not None else p.to_m - p.from_m for p in crossed)
    return width / planned_pace_m_s(itinerary)


def _is_easy_to_miss(itinerary: Itinerary, run: Run, points: list[Point]) -> bool:
    """Say whether a small map helps: a crossing, a gate, a door, a lift, a turn into something without a name, two turns close together."""
    if run.family in {"cross", "lift", "inside", "off_map", "ramp"} or any(p.kind in {"gate", "door", "lift"} for p in points):
        return True
    is_turn = abs(run.turn_deg) >= TURN_DEG if math.isfinite(run.turn_deg) else False
    if not is_turn:
        return False
    own_m = itinerary.pieces[run.last].to_m - itinerary.pieces[run.first].from_m
    return run.street is None or run.way_kind in {"path", "footway", "track"} or own_m < TIGHT_M


def _charge(halt: ChargingHalt, n: int) -> Step:
    stay = halt.setup_s + halt.charge_s + halt.wait_s
    return Step(
        number=0,
        kind="charge",
        at_m=halt.at_m,
        length_m=0.0,
        to_next_m=0.0,
        lon=halt.lon,
        lat=halt.lat,
        place=halt.label,
        halt=n,
        time_s=Spread(expected=stay, planned=stay),
    )


def _arrive(itinerary: Itinerary) -> Step:
    end: LonLat = itinerary.pieces[-1].coordinates[-1] if itinerary.pieces else (itinerary.goal.lon, itinerary.goal.lat)
    return Step(
        number=0,
        kind="arrive",
        at_m=itinerary.pieces[-1].to_m if itinerary.pieces else 0.0,
        length_m=0.0,
        to_next_m=0.0,
        lon=end[0],
        lat=end[1],
        place=itinerary.goal.label,
        level=itinerary.goal.level,
        time_s=Spread(expected=0.0, planned=0.0),
    )


def _numbered(steps: list[Step]) -> list[Step]:
    return [dataclasses.replace(step, number=n) for n, step in enumerate(steps, start=1)]
