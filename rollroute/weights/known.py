"""Everything known about one piece of way, fact by fact, and what it means for one chair, both ways."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Protocol

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import BarrierKind, KerbWord, PlaceKind
from rollroute.network.network import Flag
from rollroute.network.overlay import told_key
from rollroute.network.ranks import Rank
from rollroute.network.tags import Access, Smoothness, Wheelchair, surface_word
from rollroute.weights.case import Case
from rollroute.weights.fact import Fact
from rollroute.weights.reasons import Question, Reason, names

MARKS = {
    "bridge": Flag.BRIDGE, "below": Flag.TUNNEL, "indoors": Flag.INDOOR, "sidewalk": Flag.STREET_SIDEWALK,
    "no_sidewalk": Flag.NO_SIDEWALK, "lit": Flag.LIT, "unlit": Flag.UNLIT, "works": Flag.CONSTRUCTION,
    "over_area": Flag.OVER_AREA, "link": Flag.LINK, "off_map": Flag.OFF_MAP, "steps_ramp": Flag.STEPS_RAMP,
    "portable_ramp": Flag.PORTABLE_RAMP, "at_times": Flag.CONDITIONAL, "blocked": Flag.BLOCKED,
}  # fmt: skip


def tags_of(case: Case, piece: int) -> str:
    """The map's own tags of the way that a piece belongs to."""
    network = case.network
    return " ".join(f"{key}={value}" for key, value in sorted(network.ways.tags(int(network.pieces.way[piece])).items()))


class Verdicts(Protocol):
    """Directed edges with their reasons, questions and surprisal: an ``EdgeWeights`` or a ``Tally``."""

    @property
    def reasons(self) -> npt.NDArray[np.uint32]: ...  # noqa: D102
    @property
    def questions(self) -> npt.NDArray[np.uint32]: ...  # noqa: D102
    @property
    def surprisal(self) -> npt.NDArray[np.float64]: ...  # noqa: D102


def facts_of(case: Case, piece: int) -> Iterator[Fact]:
    """What is known of a piece and of the places on it.

    What nobody knows is a fact too where every chair asks for it: its figure is ``None``.
    """
    yield Fact(what="map", kind="text", text=tags_of(case, piece))
    yield from _main_facts(case, piece)
    yield from _said_facts(case, piece)
    network = case.network
    offsets, entries = network.incidence_of_piece
    for entry in entries[offsets[piece] : offsets[piece + 1]]:
        yield from _place_facts(case, int(network.incidence.place[entry]))
    yield from _passed_facts(case, piece)


def _main_facts(case: Case, piece: int) -> Iterator[Fact]:
    """What every chair asks for, known or not."""
    p = case.network.pieces
    yield Fact(what="width", kind="length", figure=_figure(p.width_m[piece]), source=_rank(p.width_rank[piece]))
    yield Fact(what="surface", kind="text", text=surface_word(int(p.surface[piece])) or "", source=_rank(p.surface_rank[piece]))
    smooth = int(p.smoothness[piece])
    yield Fact(what="smoothness", kind="text", text=Smoothness(smooth).name.lower() if smooth else "")
    sd = _figure(p.grade_sd[piece])
    yield Fact(what="grade", kind="grade", figure=_figure(p.grade[piece]), spread=sd, source=_rank(p.grade_rank[piece]))


def _said_facts(case: Case, piece: int) -> Iterator[Fact]:
    """What somebody said besides; nothing where nobody did."""
    p = case.network.pieces
    for what, kind, column in (
        ("cross_slope", "grade", p.cross_slope), ("mass_limit", "mass", p.mass_limit_kg), ("level", "number", p.level),
        ("posted_speed", "speed", p.speed_kmh),
    ):  # fmt: skip
        if not math.isnan(float(column[piece])):
            yield Fact(what=what, kind=kind, figure=float(column[piece]), source="map")
    if p.access[piece]:
        yield Fact(what="access", kind="text", text=Access(int(p.access[piece])).name.lower(), source="map")
    if p.wheelchair[piece]:
        yield Fact(what="wheelchair", kind="text", text=Wheelchair(int(p.wheelchair[piece])).name.lower(), source="map")
    marks = [code for code, flag in MARKS.items() if int(p.flags[piece]) & flag]
    if marks:
        yield Fact(what="marks", kind="codes", text=",".join(marks))


def _place_facts(case: Case, place: int) -> Iterator[Fact]:
    """A kerb, door, gate, lift, crossing or bend on the piece, with what is asked of it and how often such a place is bad."""
    places = case.network.places
    kind = PlaceKind(int(places.kind[place]))
    at = f"node/{places.osm_id[place]}" if places.osm_id[place] else ""
    height, width = _figure(places.height_m[place]), _figure(places.width_m[place])
    height_rank, width_rank = _rank(places.height_rank[place]), _rank(places.width_rank[place])
    yield Fact(what=kind.name.lower(), kind="text", text=_word(kind, int(places.word[place])), at=at)
    if kind in (PlaceKind.KERB, PlaceKind.APRON, PlaceKind.DOOR):
        what = "threshold" if kind is PlaceKind.DOOR else "height"
        yield Fact(what=what, kind="small_length", figure=height, source=height_rank, at=at)
    if kind not in (PlaceKind.KERB, PlaceKind.APRON) or width is not None:
        yield Fact(what="opening", kind="length", figure=width, source=width_rank, at=at)
    for what, value in (("ramp_grade", places.ramp_grade[place]), ("counter_slope", places.counter_slope[place])):
        if not math.isnan(float(value)):
            source = case.network.about.get("told_at", {}).get(told_key(case.network, place, what), "map")
            yield Fact(what=what, kind="grade", figure=float(value), source=source, at=at)
    row = case.doubts.rows[case.doubts.kinds[int(places.doubt[place])]]
    checks = f", {row.n_checks} checks in this town" if row.n_checks else ""
    yield Fact(what="often_bad", kind="share", figure=row.probability, source=f"assumption: {row.place}{checks}", at=at)


def _passed_facts(case: Case, piece: int) -> Iterator[Fact]:
    """Which chairs are known to have passed here, in which direction; only those that speak for this chair answer its questions."""
    for passage in case.passages:
        for edge, code in ((2 * piece, "passed_forward"), (2 * piece + 1, "passed_backward")):
            if edge in passage.edges:
                code += "" if passage.speaks_for(case.chair) else "_by_another_kind"
                yield Fact(what=code, kind="text", text="" if passage.date is None else passage.date.isoformat(), source="measured")


def _word(kind: PlaceKind, word: int) -> str:
    if kind is PlaceKind.KERB and word:
        return KerbWord(word).name.lower()
    return BarrierKind(word).name.lower() if kind is PlaceKind.BARRIER and word else ""


def verdict_of(verdicts: Verdicts, edge: int, what: str) -> Fact:
    """What all that means in one direction: excluded with its reasons, unverified with its questions and their chance, or clear."""
    reasons, questions = int(verdicts.reasons[edge]), int(verdicts.questions[edge])
    if reasons:
        return Fact(what=what, kind="reasons", text=",".join(names(reasons, Reason)))
    if questions:
        chance = 1.0 - math.exp(-float(verdicts.surprisal[edge]))
        return Fact(what=what, kind="questions", text=",".join(names(questions, Question)), figure=chance, source="assumption")
    return Fact(what=what, kind="clear")


def _figure(value: float) -> float | None:
    return None if math.isnan(float(value)) else float(value)


def _rank(code: int) -> str:
    return Rank(int(code)).name.lower()
