"""Everything known about the pieces at a place: fact, value, rank, source, and what it means for this chair."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.network.attach import nearest_joint
from rollroute.network.facts.points import BarrierKind, KerbWord, PlaceKind
from rollroute.network.gazetteer import POSITION
from rollroute.network.kinds import WayKind
from rollroute.network.network import Flag, Network
from rollroute.network.ranks import Rank
from rollroute.network.tags import Access, Smoothness, Wheelchair, surface_word
from rollroute.standards import Doubts
from rollroute.weights.case import Case, Tally, Weighing, case_of
from rollroute.weights.passages import clear_passed
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import judge_places
from rollroute.weights.reasons import Question, Reason, names

WITHIN_M = 100.0
MOST_PIECES = 40


def explain_lines(network: Network, place: str, chair: Chair, conditions: Conditions, rules: Weighing) -> Iterator[str]:
    """Lines about the piece nearest to ``lat,lon``, or about every piece of ``way/ID``.

    Raises
    ------
    InputError
        If the place is neither, or nothing is there.
    """
    rows = _pieces_at(network, place)
    case = case_of(network, chair, conditions, rules)
    tally = Tally.empty(network.n_pieces)
    judge_pieces(case, tally)
    judge_places(case, tally)
    clear_passed(case, tally)
    yield f"{chair.label}: needs {chair.clear_width_m:.2f} m, climbs {chair.rated_obstacle_m * 100:.0f} cm, limit {case.max_grade:.1%}"
    for row in rows[:MOST_PIECES]:
        yield from _piece_lines(case, tally, int(row))
    if len(rows) > MOST_PIECES:
        yield f"… and {len(rows) - MOST_PIECES} more pieces"


def _pieces_at(network: Network, place: str) -> npt.NDArray[np.intp]:
    if place.startswith("way/"):
        number = place.removeprefix("way/")
        if not number.isdigit():
            raise InputError(f"place {place!r}: write way/ and the number of an OSM way, for example way/3022.")
        rows = np.flatnonzero(network.ways.osm_id[network.pieces.way] == int(number))
        if not len(rows):
            raise InputError(f"place {place!r}: the network has no piece of that way. Check the number; some ways carry nobody on foot.")
        return rows
    match = POSITION.fullmatch(place)
    if not match:
        raise InputError(f"place {place!r}: give lat,lon or way/ID.")
    everything = np.ones(network.n_pieces, bool)
    joint = nearest_joint(network, float(match[2]), float(match[1]), limit_m=WITHIN_M, usable=everything)
    return np.array([joint.piece])


def _piece_lines(case: Case, tally: Tally, piece: int) -> Iterator[str]:
    network, p = case.network, case.network.pieces
    way = int(p.way[piece])
    tags = " ".join(f"{k}={v}" for k, v in sorted(network.ways.tags(way).items()))
    name = network.ways.name(way) or "no name"
    yield f"way/{network.ways.osm_id[way]} {WayKind(int(p.kind[piece])).name.lower()} ({name}), {p.length_m[piece]:.1f} m"
    yield f"  map: {tags}"
    yield f"  width: {_quantity(p.width_m[piece], '{:.2f} m')} ({_rank(p.width_rank[piece])})"
    yield f"  surface: {surface_word(int(p.surface[piece])) or 'not known'} ({_rank(p.surface_rank[piece])})"
    yield f"  smoothness: {_smoothness(p.smoothness[piece])}"
    spread = "" if math.isnan(p.grade_sd[piece]) else f" ± {p.grade_sd[piece]:.1%}"
    yield f"  grade: {_quantity(p.grade[piece], '{:+.1%}')}{spread} ({_rank(p.grade_rank[piece])})"
    yield from _other_facts(network, piece)
    offsets, entries = network.incidence_of_piece
    for entry in entries[offsets[piece] : offsets[piece + 1]]:
        yield f"  {_place_words(network, int(network.incidence.place[entry]), case.doubts)}"
    for edge, heading in ((2 * piece, "forward"), (2 * piece + 1, "backward")):
        yield f"  {heading}: {_verdict(tally, edge)}"


_MARKS = {
    "bridge": Flag.BRIDGE, "under a roof or below ground": Flag.TUNNEL, "indoors": Flag.INDOOR,
    "a sidewalk goes with the line": Flag.STREET_SIDEWALK,
    "no sidewalk on the line": Flag.NO_SIDEWALK, "street lamps": Flag.LIT, "no street lamps": Flag.UNLIT, "works": Flag.CONSTRUCTION,
    "drawn by us across an area": Flag.OVER_AREA, "drawn by us across a gap": Flag.LINK, "not mapped": Flag.OFF_MAP,
    "a ramp over the steps": Flag.STEPS_RAMP, "a portable ramp is promised": Flag.PORTABLE_RAMP, "open at times only": Flag.CONDITIONAL,
    "found blocked": Flag.BLOCKED,
}  # fmt: skip


def _other_facts(network: Network, piece: int) -> Iterator[str]:
    """What is known besides width, surface and grade; lines only for what somebody said."""
    p = network.pieces
    figures = (("tilt to the side", p.cross_slope, "{:.1%}"), ("carries", p.mass_limit_kg, "{:.0f} kg"), ("level", p.level, "{:g}"),
               ("posted speed", p.speed_kmh, "{:.0f} km/h"))  # fmt: skip
    for label, column, form in figures:
        if not math.isnan(float(column[piece])):
            yield f"  {label}: {form.format(float(column[piece]))} (map)"
    if p.access[piece]:
        yield f"  access: {Access(int(p.access[piece])).name.lower()} (map)"
    if p.wheelchair[piece]:
        yield f"  wheelchair: {Wheelchair(int(p.wheelchair[piece])).name.lower()} (map)"
    marks = [label for label, flag in _MARKS.items() if int(p.flags[piece]) & flag]
    if marks:
        yield f"  marks: {', '.join(marks)}"


def _verdict(tally: Tally, edge: int) -> str:
    reasons, questions = int(tally.reasons[edge]), int(tally.questions[edge])
    if reasons:
        return "excluded: " + ", ".join(names(reasons, Reason))
    if questions:
        chance = 1 - math.exp(-float(tally.surprisal[edge]))
        return f"unverified: {', '.join(names(questions, Question))}; chance that something stops this chair here {chance:.1%} (assumption)"
    return "clear, by what the map says"


def _place_words(network: Network, place: int, doubts: Doubts) -> str:
    places = network.places
    kind, word = PlaceKind(int(places.kind[place])), int(places.word[place])
    what = kind.name.lower()
    if kind is PlaceKind.KERB and word:
        what += f" {KerbWord(word).name.lower()}"
    if kind is PlaceKind.BARRIER and word:
        what += f" {BarrierKind(word).name.lower()}"
    source = f"node/{places.osm_id[place]}" if places.osm_id[place] else "ours"
    height = f"height {_quantity(places.height_m[place], '{:.3f} m')} ({_rank(places.height_rank[place])})"
    width = f"opening {_quantity(places.width_m[place], '{:.2f} m')} ({_rank(places.width_rank[place])})"
    figure = height if kind in (PlaceKind.KERB, PlaceKind.APRON) else width
    if kind is PlaceKind.DOOR:
        figure += f", threshold {_quantity(places.height_m[place], '{:.3f} m')} ({_rank(places.height_rank[place])})"
    row = doubts.rows[doubts.kinds[int(places.doubt[place])]]
    checks = f", {row.n_checks} checks in this town" if row.n_checks else ""
    return f"{what} at {source}: {figure}; if nobody knows: bad with {row.probability:.0%} (assumption: {row.place}{checks})"


def _quantity(value: float, form: str) -> str:
    return "not known" if math.isnan(float(value)) else form.format(float(value))


def _smoothness(code: int) -> str:
    return "not known" if code == 0 else Smoothness(int(code)).name.lower()


def _rank(code: int) -> str:
    return Rank(int(code)).name.lower().replace("_", " ")
