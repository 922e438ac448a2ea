"""Everything known about the pieces at a place: fact, value, rank, source, and what it means for this chair."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.network.attach import nearest_joint
from rollroute.network.facts.points import PlaceKind
from rollroute.network.gazetteer import POSITION
from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.weights.case import Case, Tally, Weighing, case_of
from rollroute.weights.fact import Fact
from rollroute.weights.known import facts_of, verdict_of
from rollroute.weights.passages import clear_passed
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import judge_places

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
    name = network.ways.name(way) or "no name"
    yield f"way/{network.ways.osm_id[way]} {WayKind(int(p.kind[piece])).name.lower()} ({name}), {p.length_m[piece]:.1f} m"
    for fact in (*facts_of(case, piece), verdict_of(tally, 2 * piece, "forward"), verdict_of(tally, 2 * piece + 1, "backward")):
        indent = "    " if fact.what in PLACE_FIGURES else "  "
        yield f"{indent}{LABELS.get(fact.what, fact.what).replace('_', ' ')}{_where(fact)}{_said(fact)}"


PLACE_FIGURES = ("height", "threshold", "opening", "ramp_grade", "counter_slope", "often_bad")
LABELS = {
    "cross_slope": "tilt to the side", "mass_limit": "carries", "ramp_grade": "slope of its ramp",
    "counter_slope": "slope of the gutter against it", "often_bad": "if nobody knows, bad with",
    "passed_forward": "a chair that asks no less has passed forward", "passed_backward": "a chair that asks no less has passed backward",
    "passed_forward_by_another_kind": "a chair that asks less has passed forward, which says nothing for this one",
    "passed_backward_by_another_kind": "a chair that asks less has passed backward, which says nothing for this one",
}  # fmt: skip
MARK_WORDS = {
    "below": "under a roof or below ground", "sidewalk": "a sidewalk goes with the line", "no_sidewalk": "no sidewalk on the line",
    "lit": "street lamps", "unlit": "no street lamps", "over_area": "drawn by us across an area", "link": "drawn by us across a gap",
    "off_map": "not mapped", "steps_ramp": "a ramp over the steps", "portable_ramp": "a portable ramp is promised",
    "at_times": "open at times only", "blocked": "found blocked",
}  # fmt: skip
FORMS = {
    "length": "{:.2f} m", "small_length": "{:.3f} m", "grade": "{:+.1%}", "share": "{:.0%}", "mass": "{:.0f} kg",
    "speed": "{:.0f} km/h", "number": "{:g}",
}  # fmt: skip


def _where(fact: Fact) -> str:
    """A kerb or a door stands at a node of the map, or we found it."""
    if not fact.at and fact.what.upper() not in PlaceKind.__members__:
        return ": "
    place = f" {fact.text.replace('_', ' ')}" if fact.text else ""
    return ": " if fact.what in PLACE_FIGURES else f"{place} at {fact.at or 'a place found by us'}"


def _said(fact: Fact) -> str:
    """The value in words, and who says so."""
    if fact.what.upper() in PlaceKind.__members__:
        return ""
    source = f" ({fact.source.replace('_', ' ')})" if fact.source else ""
    if fact.kind == "reasons":
        return "excluded: " + ", ".join(fact.text.split(","))
    if fact.kind == "questions":
        asked = ", ".join(fact.text.split(","))
        chance = "under 0.1%" if (fact.figure or 0.0) < 0.001 else f"{fact.figure:.1%}"
        return f"unverified: {asked}; chance that something stops this chair here {chance}{source}"
    if fact.kind == "clear":
        return "clear, by what the map says"
    if fact.kind == "codes":
        return ", ".join(MARK_WORDS.get(code, code) for code in fact.text.split(","))
    if fact.kind == "text":
        return f"{fact.text.replace('_', ' ') if fact.what != 'map' else fact.text}{source}" if fact.text else f"not known{source}"
    spread = "" if fact.spread is None else f" ± {fact.spread:.1%}"
    return f"not known{source}" if fact.figure is None else FORMS[fact.kind].format(fact.figure) + spread + source
