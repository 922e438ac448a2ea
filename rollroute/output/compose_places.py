"""Questions, points, landmarks, rest and van places along a route, for its ``Itinerary``."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import numpy.typing as npt

from rollroute.journey import Journey
from rollroute.network.facts.points import BarrierKind, KerbWord, PlaceFlag, PlaceKind
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.network.network import Flag
from rollroute.network.ranks import Rank
from rollroute.output.itinerary import Point, Question, Spot
from rollroute.output.words.facts import LANDMARKS
from rollroute.units import M_PER_DEGREE
from rollroute.weights.case import Case, Tally, case_of
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import PlaceVerdicts, judge_places
from rollroute.weights.reasons import Question as Bit

Floats = npt.NDArray[np.float64]

N_WEAKEST = 5
SAME_QUESTION_GAP_M = 60.0  # setting: one kind of question about one street is asked once, unless this much of the way lies between
LANDMARK_WITHIN_M = 25.0
VAN_EVERY_M = 250.0
LEVEL_GRADE = 1 / 48  # ADA 2010, 403.3 and 502.4: level enough for a standing place
REST_CELL_MOST_M = 5.0  # a coarser raster says nothing about a standing place
_BARRIER_WORDS = {
    BarrierKind.BOLLARD: "bollard", BarrierKind.CYCLE_BARRIER: "cycle_barrier", BarrierKind.GATE: "gate", BarrierKind.LIFT_GATE: "gate",
    BarrierKind.BLOCK: "block",
}  # fmt: skip


@dataclasses.dataclass(slots=True)
class _Asked:
    """One question as it is gathered along the way."""

    kind: str
    from_m: float
    to_m: float
    surprisal: float
    lon: float
    lat: float
    street: str | None
    detail: dict[str, str | float | None]
    scout_first: bool = False


def questions_of(journey: Journey, ends_m: Floats) -> list[Question]:
    """Every question on the way, numbered along it; questions of one stretch of one way are one question."""
    asked = _stretch_questions(journey, ends_m) + _place_questions(journey, ends_m)
    asked.sort(key=lambda q: (q.from_m, q.kind))
    order = sorted(range(len(asked)), key=lambda i: (-asked[i].surprisal, i))
    weakest = set(order[:N_WEAKEST])
    return [
        Question(
            number=number,
            kind=q.kind,
            at_m=q.from_m,
            length_m=q.to_m - q.from_m,
            lon=q.lon,
            lat=q.lat,
            probability=1.0 - math.exp(-q.surprisal),
            is_weakest=number - 1 in weakest,
            scout_first=q.scout_first,
            street=q.street,
            detail=q.detail,
        )
        for number, q in enumerate(asked, start=1)
    ]


_STRETCH_BITS = (
    Bit.OTHER,
    Bit.WIDTH, Bit.SURFACE, Bit.GRADE, Bit.ACCESS, Bit.CARRIAGEWAY, Bit.OFF_MAP, Bit.STEPS_RAMP, Bit.CROSS_SLOPE, Bit.LANDING,
    Bit.LIFT, Bit.ISLAND,
)  # fmt: skip


def _stretch_questions(journey: Journey, ends_m: Floats) -> list[_Asked]:
    """Questions about pieces: each kind judged alone, so that every question carries its own surprisal."""
    found: list[_Asked] = []
    edges = journey.route.edges
    for bit, surprisal, questions in _by_bit(journey):
        current: _Asked | None = None
        known: dict[int, _Asked] = {}  # pieces that the way has driven already: their question is asked, not asked again
        for position in np.flatnonzero(questions[edges] & journey.weights.questions[edges] & bit):
            piece = int(edges[position]) // 2
            if piece in known:
                known[piece].surprisal += float(surprisal[edges[position]])
                current = None
                continue
            asked = _ask_piece(journey, int(position), bit, ends_m)
            if current is None or asked.street != current.street or asked.from_m - current.to_m > SAME_QUESTION_GAP_M:
                current = asked
                found.append(current)
            known[piece] = current
            current.to_m = float(ends_m[position + 1])
            current.surprisal += float(surprisal[edges[position]])
            current.detail = _worse(current.detail, asked.detail)
    return found


def _by_bit(journey: Journey) -> list[tuple[Bit, Floats, npt.NDArray[np.uint32]]]:
    """For every kind of stretch question, the surprisal that this kind alone puts on each edge."""
    case = case_of(journey.network, journey.trip.chair, journey.trip.conditions, journey.trip.rules)
    parts = []
    for bit in _STRETCH_BITS:
        tally = Tally.empty(case.network.n_pieces, bit)
        judge_pieces(case, tally)
        if tally.questions[journey.route.edges].any():
            parts.append((bit, tally.surprisal, tally.questions))
    return parts


def _ask_piece(journey: Journey, position: int, bit: Bit, ends_m: Floats) -> _Asked:
    network = journey.network
    edge = int(journey.route.edges[position])
    piece = edge // 2
    lon, lat = network.node_place(int(network.edge_tail[edge]))
    grade = float(network.pieces.grade_steepest[piece])
    detail: dict[str, str | float | None] = {}
    if bit == Bit.GRADE and not math.isnan(grade):
        detail = {"grade": grade, "grade_sd": float(network.pieces.grade_sd[piece])}
    return _Asked(
        kind=str(bit.name).lower() if bit != Bit.STEPS_RAMP else "other",
        from_m=float(ends_m[position]),
        to_m=float(ends_m[position]),
        surprisal=0.0,
        lon=lon,
        lat=lat,
        street=network.ways.name(int(network.pieces.way[piece])),
        detail=detail | ({"what": "steps_ramp"} if bit == Bit.STEPS_RAMP else {}),
    )


def _worse(one: dict[str, str | float | None], other: dict[str, str | float | None]) -> dict[str, str | float | None]:
    """Of two details the one with the steeper grade."""
    return max(one, other, key=lambda d: abs(float(d.get("grade") or 0.0)))


_PLACE_BITS = (
    Bit.KERB,
    Bit.APRON,
    Bit.GATE,
    Bit.BOLLARD,
    Bit.CYCLE_BARRIER,
    Bit.DOOR,
    Bit.THRESHOLD,
    Bit.LIFT,
    Bit.CROSSING,
    Bit.TURN,
    Bit.ACCESS,
)


@dataclasses.dataclass(slots=True)
class _Passed:
    """One passage of a place: ``goes`` +1 up, −1 down, 0 unknown; ``entries``: (goes, share) of every piece of it that meets the place.

    ``position`` and ``last`` number the first and the last of those pieces along the way; ``asked`` are the questions of them all.
    """

    place: int
    at_m: float
    goes: int
    position: int
    last: int
    entries: list[tuple[int, float]]
    asked: int = 0
    scout_first: bool = False


def _passed_places(journey: Journey, ends_m: Floats) -> list[_Passed]:
    """Places met on the way, once for every time that the way comes by: there and back is twice, and up a kerb is then down it."""
    network = journey.network
    offsets, entries = network.incidence_of_piece
    touch = network.incidence
    found: list[_Passed] = []
    latest: dict[int, _Passed] = {}
    places, to_scout = network.places, set(journey.weights.to_scout.tolist())
    for position, edge in enumerate(journey.route.edges):
        piece, sign = int(edge) // 2, 1 if edge % 2 == 0 else -1
        for entry in entries[offsets[piece] : offsets[piece + 1]]:
            place = int(touch.place[entry])
            is_at_end = bool(touch.at_head[entry]) == (sign > 0)
            at_m = float(ends_m[position + 1] if is_at_end else ends_m[position])
            goes = int(touch.rises[entry]) * sign
            passage = latest.get(place)
            if passage is None or position > passage.last + 1:
                passage = latest[place] = _Passed(place, at_m, goes, position, position, [])
                found.append(passage)
            passage.last = position
            passage.asked |= int(journey.weights.questions[edge])
            passage.scout_first |= int(edge) in to_scout and bool(places.flags[place] & PlaceFlag.FAR_SIDE)
            passage.entries.append((goes, float(touch.share[entry])))
    return sorted(found, key=lambda p: (p.at_m, p.place))


def _places_asked(journey: Journey, ends_m: Floats) -> list[_Passed]:
    """Every place once, where it is passed first, with the entries of all its passages: a question is asked once."""
    first: dict[int, _Passed] = {}
    for passage in _passed_places(journey, ends_m):
        if passage.place in first:
            first[passage.place].entries.extend(passage.entries)
            first[passage.place].asked |= passage.asked
            first[passage.place].scout_first |= passage.scout_first
        else:
            first[passage.place] = passage
    return list(first.values())


def _place_questions(journey: Journey, ends_m: Floats) -> list[_Asked]:
    verdicts = _place_verdicts(journey)
    found = []
    for passed in _places_asked(journey, ends_m):
        both = [_columns(goes) for goes, _ in passed.entries]
        bits = int(np.bitwise_or.reduce([verdicts.questions[passed.place, c].max() for columns in both for c in columns]))
        bits &= passed.asked  # what the passage of another chair answered is no longer asked
        if not bits:
            continue
        parts = [share * float(verdicts.surprisal[passed.place, _columns(goes)].max()) for goes, share in passed.entries]
        surprisal = sum(parts)
        bit = next(bit for bit in _PLACE_BITS if bits & bit)
        kind = "width" if bit is Bit.TURN else str(bit.name).lower()
        places = journey.network.places
        way = int(journey.network.pieces.way[journey.route.edges[passed.position] // 2])
        detail: dict[str, str | float | None] = {"direction": "up" if passed.goes > 0 else "down" if passed.goes < 0 else None}
        if places.kind[passed.place] == PlaceKind.KERB and places.word[passed.place]:
            detail["kerb"] = KerbWord(int(places.word[passed.place])).name.lower()
        found.append(
            _Asked(
                kind, passed.at_m, passed.at_m, surprisal, float(places.lon[passed.place]), float(places.lat[passed.place]),
                journey.network.ways.name(way), detail, scout_first=passed.scout_first,
            )
        )  # fmt: skip
    return found


def _columns(goes: int) -> list[int]:
    """Columns of a place's verdicts: going up, going down, or both where nobody knows."""
    return [0] if goes > 0 else [1] if goes < 0 else [0, 1]


def _place_verdicts(journey: Journey) -> PlaceVerdicts:
    case: Case = case_of(journey.network, journey.trip.chair, journey.trip.conditions, journey.trip.rules)
    return judge_places(case, Tally.empty(journey.network.n_pieces))


def points_of(journey: Journey, ends_m: Floats, questions: list[Question]) -> list[Point]:
    """Kerbs, doors, barriers, lifts on the way."""
    places = journey.network.places
    numbers = {(q.at_m, q.lon, q.lat): q.number for q in questions if q.length_m == 0}
    points = []
    asked_m = {passed.place: passed.at_m for passed in _places_asked(journey, ends_m)}
    for passed in _passed_places(journey, ends_m):
        row = passed.place
        if places.kind[row] in (PlaceKind.CROSSING, PlaceKind.BEND):
            continue  # nothing stands there to look at
        lon, lat = float(places.lon[row]), float(places.lat[row])
        kind, word = _point_words(int(places.kind[row]), int(places.word[row]))
        is_height = places.kind[row] in (PlaceKind.KERB, PlaceKind.APRON)
        value = float(places.height_m[row] if is_height else places.width_m[row])
        rank = int(places.height_rank[row] if is_height else places.width_rank[row])
        points.append(
            Point(
                kind=kind,
                at_m=passed.at_m,
                lon=lon,
                lat=lat,
                value=None if math.isnan(value) else value,
                word=word,
                rank=Rank(rank).name.lower(),
                direction="up" if passed.goes > 0 else "down" if passed.goes < 0 else None,
                question=numbers.get((asked_m[row], lon, lat)),
            )
        )
    return points


def _point_words(kind: int, word: int) -> tuple[str, str | None]:
    if kind == PlaceKind.KERB:
        return "kerb", None if not word else KerbWord(word).name.lower()
    if kind == PlaceKind.APRON:
        return "kerb", "apron"
    if kind == PlaceKind.BARRIER:
        return _BARRIER_WORDS.get(BarrierKind(word), "gate"), None
    return ("door", None) if kind == PlaceKind.DOOR else ("lift", None)


def landmarks_near(journey: Journey, ends_m: Floats) -> list[Spot]:
    """Named or plain things within sight of the way."""
    network, nodes = journey.network, journey.route.nodes
    rows = network.about.get("landmarks", [])
    if not rows:
        return []
    scale = np.array([math.cos(math.radians(float(network.nodes.lat[nodes[0]]))), 1.0]) * M_PER_DEGREE
    way = np.column_stack([network.nodes.lon[nodes], network.nodes.lat[nodes]]) * scale
    marks = np.array([(row[2], row[3]) for row in rows], np.float64) * scale
    spots = []
    for row, mark in zip(rows, marks, strict=True):
        if not row[1] and row[0] not in LANDMARKS:
            continue  # a tree, say: nobody tells one from the next
        for at_m, off_m in _passes(way, ends_m, mark):
            spots.append(Spot(label=row[1] or row[0], lon=row[2], lat=row[3], kind=row[0], at_m=at_m, off_way_m=off_m))
    return sorted(spots, key=lambda s: (s.at_m or 0.0, s.label))


def _passes(way: Floats, ends_m: Floats, mark: Floats) -> list[tuple[float, float]]:
    """Where the way passes ``mark`` within sight: metres along the way, metres beside it; once for every time that it comes by.

    A way may be straight for a hundred metres between two nodes, so the nearest place of each piece counts, not its ends.
    """
    if len(way) < 2:
        return []
    steps = np.diff(way, axis=0)
    squared = (steps**2).sum(1)
    along = ((mark - way[:-1]) * steps).sum(1)
    share = np.clip(np.divide(along, squared, out=np.zeros_like(along), where=squared > 0), 0.0, 1.0)
    off_m = np.hypot(*(way[:-1] + steps * share[:, None] - mark).T)
    at_m = ends_m[:-1] + share * np.diff(ends_m)
    passes: list[tuple[float, float]] = []
    for k in np.flatnonzero(off_m <= LANDMARK_WITHIN_M):
        here = (float(at_m[k]), float(off_m[k]))
        if passes and here[0] - passes[-1][0] <= 2 * LANDMARK_WITHIN_M:
            passes[-1] = min(passes[-1], here, key=lambda p: p[1])
        else:
            passes.append(here)
    return passes


def van_spots(journey: Journey, ends_m: Floats) -> list[Spot]:
    """Places on or beside the way where a lift van may be able to stop: a road that cars use touches the way there. Not checked."""
    network, nodes = journey.network, journey.route.nodes
    is_road = np.isin(network.pieces.kind, [int(k) for k in CARRIAGEWAY_KINDS - {WayKind.FAST_ROAD}])
    is_road &= (network.pieces.flags & (Flag.OFF_MAP | Flag.BRIDGE | Flag.TUNNEL)) == 0
    on_road = np.zeros(network.n_nodes, bool)
    on_road[network.pieces.tail[is_road]] = on_road[network.pieces.head[is_road]] = True
    spots: list[Spot] = []
    for node, at_m in zip(nodes, ends_m, strict=True):
        if on_road[node] and (not spots or at_m - (spots[-1].at_m or 0.0) >= VAN_EVERY_M):
            lon, lat = network.node_place(int(node))
            street = _road_name(journey, int(node), is_road)
            spots.append(Spot(label=street or "road", lon=lon, lat=lat, kind="van", at_m=float(at_m)))
    return spots


def _road_name(journey: Journey, node: int, is_road: npt.NDArray[np.bool_]) -> str | None:
    pieces = journey.network.pieces
    rows = np.flatnonzero(is_road & ((pieces.tail == node) | (pieces.head == node)))
    names = [name for row in rows if (name := journey.network.ways.name(int(pieces.way[row])))]
    return names[0] if names else None


def rest_spots(journey: Journey, ends_m: Floats) -> list[Spot]:
    """Where estimate plus two standard errors stays under 1:48, never from a coarse raster: possibly level, to be looked at first."""
    network, pieces = journey.network, journey.network.pieces
    if "coarse" in network.about.get("terrain_warnings", []) or "surface" in network.about.get("terrain_warnings", []):
        return []
    spots: list[Spot] = []
    for position, edge in enumerate(journey.route.edges):
        piece = int(edge) // 2
        steepest = abs(float(pieces.grade_steepest[piece])) + 2 * float(pieces.grade_sd[piece])
        window = float(pieces.grade_window_m[piece])
        walk = pieces.kind[piece] not in CARRIAGEWAY_KINDS and pieces.kind[piece] != WayKind.CROSSING
        if walk and steepest < LEVEL_GRADE and not math.isnan(window) and window <= 3 * REST_CELL_MOST_M:
            lon, lat = network.node_place(int(network.edge_tail[edge]))
            spots.append(Spot(label="possibly level", lon=lon, lat=lat, kind="rest", at_m=float(ends_m[position])))
    return spots
