"""The scene: everything that map, link and picture draw of one route, with its words, as plain values.

Places stand as ``[lon, lat]``. Names from strangers have gone through ``plain``; the pages put them in as text, never as markup.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from rollroute.output.itinerary import Checkpoint, Hazard, Itinerary, LonLat, Piece, Question, Spot
from rollroute.output.map import marks
from rollroute.output.map.phrases import both_cases, charge, grade_figure, way_label
from rollroute.output.map.way import Arrowhead, Run, along, distance_m, middle, off_the_way, runs, way_arrowheads
from rollroute.output.plain_text import plain
from rollroute.output.words import Words, mark
from rollroute.output.words.checkpoints import otherwise
from rollroute.output.words.facts import QUESTIONS, REASONS, floor_words, hazard_words, kerb_words, rank_words, surface_words
from rollroute.output.words.known import fact_row
from rollroute.weights.fact import Fact

OTHER_LETTER, OTHER_REASON = "X", mark("another reason")
BAR_WITHIN_M = 40.0  # of the branch: our choice; a bar further off says nothing about the turn
STRETCH_M = 15.0  # a question at least this long stands in its middle
SAME_PLACE_M = 15.0  # a refuge so near to an end of the way is said by the word there
LABEL_PLACES = 4  # places tried for each street name
SHOWN_ABOVE = ("width", "surface", "grade", "cross_slope", "level")  # facts that a piece has columns of its own for
Row = tuple[str, str, str]  # what, value, where the value comes from


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: its drawing, what stands beside it, and what it says when opened."""

    kind: str
    lon: float
    lat: float
    at_m: float
    fragment: str  # SVG of our own, or nothing where words are the mark
    beside: str  # words printed next to it
    title: str
    rows: tuple[Row, ...] = ()
    level: float | None = None
    off_way_m: float | None = None  # for a bar: it shows only where it can be told from the way
    room: tuple[marks.Room, ...] = marks.SQUARE  # what it takes of a page, pixels


@dataclass(frozen=True, slots=True)
class Label:
    """A street name and the places along the way where it may stand, the best first: longitude, latitude, heading in degrees."""

    text: str
    places: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """What is drawn, from the bottom to the top."""

    itinerary: Itinerary
    hazards: list[tuple[Hazard, str]]
    barred: list[tuple[list[LonLat], str]]  # line, letter
    runs: list[Run]
    arrowheads: list[Arrowhead]
    labels: list[Label]
    marks: list[Mark]
    piece_rows: list[tuple[str, tuple[Row, ...]]]  # title and rows of each piece
    letters: dict[str, str] = field(default_factory=dict)  # letter -> reason in words, as used here


def set_scene(itinerary: Itinerary, words: Words) -> Scene:
    """Decide what is drawn of ``itinerary`` and what each thing says."""
    the_runs = runs(itinerary)
    marks_ = [*_spots(itinerary, words), *_halts(itinerary, words), *_questions(itinerary, words), *_checkpoints(itinerary, words)]
    marks_ += _barred_marks(itinerary, words)
    return Scene(
        itinerary=itinerary,
        hazards=[(hazard, hazard_words(hazard, words)) for hazard in itinerary.hazards],
        barred=[(barred.coordinates, _letter(barred.reasons)) for barred in itinerary.barred],
        runs=the_runs,
        arrowheads=list(way_arrowheads(the_runs)),
        labels=list(_labels(itinerary)),
        marks=sorted(marks_, key=lambda mark: mark.at_m),
        piece_rows=[(piece_title(piece, words), tuple(piece_rows(piece, itinerary, words))) for piece in itinerary.pieces],
        letters=_letters(itinerary, words),
    )


def piece_title(piece: Piece, words: Words) -> str:
    """Name a piece by its kind and its street."""
    kind = way_label(words, piece.way_kind)
    return f"{plain(piece.name)} ({kind})" if piece.name else kind


def piece_rows(piece: Piece, itinerary: Itinerary, words: Words) -> Iterator[Row]:
    """Give all that is known of a piece, each value with its rank; what is missing is said to be missing."""
    say, unknown = words.say, words.say("not known")
    yield say("Verdict"), say("clear by what is known") if piece.verdict == "clear" else say("not verified"), ""
    yield say("From, to"), f"{words.distance(piece.from_m)} – {words.distance(piece.to_m)}", ""
    grade = unknown if piece.grade is None else _grade_words(piece, words)
    yield say("Grade"), grade, rank_words(piece.grade_rank, words)
    yield say("Width"), unknown if piece.width_m is None else words.size(piece.width_m), rank_words(piece.width_rank, words)
    yield say("Surface"), unknown if piece.surface is None else surface_words(piece.surface, words), rank_words(piece.surface_rank, words)
    cross = unknown if piece.cross_slope is None else grade_figure(words, piece.cross_slope)
    yield say("Cross slope"), cross, ""
    if piece.building or piece.level is not None:
        level = "" if piece.level is None else floor_words(piece.level, words)
        yield say("Inside"), ", ".join(part for part in (plain(piece.building), level) if part), ""
    yield say("Time"), both_cases(words, words.minutes(piece.time_s.planned), words.minutes(piece.time_s.expected)), ""
    yield say("Charge after"), charge(words, piece.soc_after, itinerary.chair), ""
    if piece.questions:
        yield say("Open questions"), ", ".join(str(number) for number in piece.questions), ""
    yield from (fact_row(fact, words) for fact in piece.facts if fact.what not in SHOWN_ABOVE)


def _grade_words(piece: Piece, words: Words) -> str:
    grade = piece.grade or 0.0
    way = words.say("up") if grade > 0 else words.say("down") if grade < 0 else ""
    error = "" if piece.grade_sd is None else f" ± {words.number(100 * piece.grade_sd, 1)}"
    return f"{words.number(abs(100 * grade), 1)}{error} % {way}".strip()


def _spots(itinerary: Itinerary, words: Words) -> Iterator[Mark]:
    say = words.say
    dot = marks.end_of_way()
    turn_back = say("A place to turn back to: open, with power, outside every closed area.")
    lonely = [r for r in itinerary.refuges if not (_is_at(r, itinerary.start) or _is_at(r, itinerary.goal))]
    for kind, end, title, at_m in (
        ("start", itinerary.start, say("Start"), -1.0),
        ("goal", itinerary.goal, say("Goal"), itinerary.length_m),
    ):
        rows = ((say("Refuge"), turn_back, ""),) if any(_is_at(refuge, end) for refuge in itinerary.refuges) else ()
        yield _spot_mark(kind, end, dot, title, title, rows, at_m=at_m)
    groups = (
        ("refuge", lonely, marks.refuge(), say("Refuge"), turn_back),
        (
            "van_spot",
            itinerary.van_spots,
            marks.van_spot(),
            say("Lift van"),
            say("A lift van may be able to stop here. Not checked for level ground."),
        ),
        ("rest_spot", itinerary.rest_spots, marks.rest_spot(), say("Rest"), say("Possibly level: look before touching the levers.")),
    )
    for kind, spots, fragment, title, note in groups:
        for spot in spots:
            is_named = kind == "refuge" and all(spot.label != halt.label for halt in itinerary.halts)  # a halt says it already
            beside = plain(spot.label, longest=40) if is_named else ""
            yield _spot_mark(kind, spot, fragment, beside, title, ((say("Note"), note, ""),), at_m=spot.at_m or 0.0)


def _is_at(one: Spot, other: Spot) -> bool:
    """Whether a mark for each would only crowd the place."""
    return distance_m((one.lon, one.lat), (other.lon, other.lat)) < SAME_PLACE_M


def _spot_mark(kind: str, spot: Spot, fragment: str, beside: str, title: str, rows: tuple[Row, ...], *, at_m: float) -> Mark:
    label = plain(spot.label)
    room = marks.DOT if kind in ("start", "goal") else marks.SQUARE
    return Mark(kind, spot.lon, spot.lat, at_m, fragment, beside, f"{title}: {label}" if label else title, rows, spot.level, room=room)


def _halts(itinerary: Itinerary, words: Words) -> Iterator[Mark]:
    say = words.say
    for halt in itinerary.halts:
        minutes = words.minutes(halt.setup_s + halt.charge_s + halt.wait_s)
        gain = f"{words.percent(halt.arrive_soc.planned)} → {words.percent(halt.leave_soc.planned)}"
        rows = (
            (say("Arrive with"), charge(words, halt.arrive_soc, itinerary.chair), ""),
            (say("Leave with"), charge(words, halt.leave_soc, itinerary.chair), ""),
            (say("Arrive"), words.time_of_day(halt.arrive_time), ""),
            (say("Leave"), words.time_of_day(halt.leave_time), ""),
            (say("Charging"), words.minutes(halt.charge_s), ""),
            (say("Outlet"), plain(halt.outlet) or say("not known"), ""),
            (say("Charger"), plain(halt.charger) or say("not known"), ""),
        )
        title = say("Charging stop: {place}", place=plain(halt.label))
        yield Mark("halt", halt.lon, halt.lat, halt.at_m, marks.socket(), f"{gain}, {minutes}", title, rows)


def _questions(itinerary: Itinerary, words: Words) -> Iterator[Mark]:
    say = words.say
    for question in itinerary.questions:
        rows = [
            (say("At"), words.distance(question.at_m), ""),
            (say("Chance that it stops the chair"), words.percent(question.probability), say("assumption")),
        ]
        if question.length_m:
            rows.append((say("Over"), words.distance(question.length_m), ""))
        if question.street:
            rows.append((say("Street"), plain(question.street), ""))
        rows += _detail_rows(question, words)
        title = f"{question.number}: {say(QUESTIONS.get(question.kind, QUESTIONS['other']))}"
        fragment = marks.question(question.number, is_weakest=question.is_weakest)
        lon, lat = _question_place(question, itinerary)
        yield Mark("question", lon, lat, question.at_m, fragment, "", title, tuple(rows))


def _detail_rows(question: Question, words: Words) -> Iterator[Row]:
    """Give what is known of a doubtful place."""
    detail, say = question.detail, words.say
    grade, sd, direction = detail.get("grade"), detail.get("grade_sd"), detail.get("direction")
    if isinstance(grade, float):
        error = sd if isinstance(sd, float) else None
        yield fact_row(Fact(what="grade", kind="grade", figure=grade, spread=error, source="estimated"), words)
    if isinstance(direction, str):
        yield say("Goes"), say("up") if direction == "up" else say("down"), ""
    if isinstance(detail.get("kerb"), str):
        yield say("Kerb"), kerb_words(str(detail["kerb"]), words), say("map")
    if detail.get("what") == "steps_ramp":
        yield say("Marks"), say("a ramp over the steps"), say("map")


def _question_place(question: Question, itinerary: Itinerary) -> LonLat:
    """Give the place of a question: that of a stretch is its middle, so that it does not crowd the corner where it begins."""
    at_m = question.at_m + question.length_m / 2
    piece = next((piece for piece in itinerary.pieces if piece.from_m <= at_m < piece.to_m), None)
    if question.length_m < STRETCH_M or piece is None or piece.to_m <= piece.from_m:
        return question.lon, question.lat
    drawn_m = sum(distance_m(a, b) for a, b in pairwise(piece.coordinates))
    return along(piece.coordinates, drawn_m * (at_m - piece.from_m) / (piece.to_m - piece.from_m))[0]


def _checkpoints(itinerary: Itinerary, words: Words) -> Iterator[Mark]:
    for check in itinerary.checkpoints:
        least, back = words.gauge_at_least(check.least_soc, itinerary.chair), _turn_back_words(check, itinerary, words)
        title = words.say("Checkpoint at {place}", place=words.distance(check.at_m))
        ask = f"{words.say('Still at {gauge}?', gauge=least)} {otherwise(check, back, '', words)}"
        row = (words.say("Read the gauge"), ask, "")
        yield Mark("checkpoint", check.lon, check.lat, check.at_m, marks.checkpoint(), "", title, (row,))


def _turn_back_words(check: Checkpoint, itinerary: Itinerary, words: Words) -> str:
    """Name the place to turn back to; somebody's front door is "the start"."""
    is_front_door = check.turn_back_to == itinerary.start.label and itinerary.start.kind != "shelter"
    return words.say("the start") if is_front_door else plain(check.turn_back_to)


def _barred_marks(itinerary: Itinerary, words: Words) -> Iterator[Mark]:
    way = [place for piece in itinerary.pieces for place in piece.coordinates]
    for barred in itinerary.barred:
        (lon, lat), heading, off_way_m = off_the_way(barred.coordinates, way, within_m=BAR_WITHIN_M)
        reasons = ", ".join(_reason_words(reason, words) for reason in barred.reasons)
        title = words.say("Not this way: {reasons}", reasons=reasons)
        rows = [(words.say("Street"), plain(barred.name), "")] if barred.name else []
        rows += [fact_row(fact, words) for fact in barred.facts]
        fragment = marks.barred(_letter(barred.reasons), heading)
        room = marks.barred_room(heading)
        yield Mark("barred", lon, lat, itinerary.length_m + 1, fragment, "", title, tuple(rows), off_way_m=off_way_m, room=room)


def _reason_words(reason: str, words: Words) -> str:
    return words.say(REASONS[reason][1]) if reason in REASONS else plain(reason.replace("_", " "), longest=40)


def _letter(reasons: list[str]) -> str:
    """Give the letter of the first reason that has one, as on the sheet."""
    return next((REASONS[reason][0] for reason in reasons if reason in REASONS), OTHER_LETTER)


def _letters(itinerary: Itinerary, words: Words) -> dict[str, str]:
    """Give the letters used on this map with their reasons."""
    known = {letter: words.say(text) for letter, text in REASONS.values()} | {OTHER_LETTER: words.say(OTHER_REASON)}
    used = {_letter(barred.reasons) for barred in itinerary.barred}
    return {letter: text for letter, text in known.items() if letter in used}


def _labels(itinerary: Itinerary) -> Iterator[Label]:
    """Name each street of the way once, at the middle of one of its longest pieces."""
    streets: dict[str, list[Piece]] = {}
    for piece in itinerary.pieces:
        if piece.name:
            streets.setdefault(piece.name, []).append(piece)
    for name, pieces in streets.items():
        longest = sorted(pieces, key=lambda piece: piece.from_m - piece.to_m)[:LABEL_PLACES]
        middles = [middle(piece.coordinates) for piece in longest]
        yield Label(plain(name, longest=40), tuple((lon, lat, heading) for (lon, lat), heading in middles))
