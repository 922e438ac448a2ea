"""Barriers that stand on a way: what they are, how wide the opening is, whether they stop a chair.

OSM wiki, Key:barrier; Tag:barrier=cycle_barrier (opening, spacing); Physical limits (maxwidth:physical); Key:locked.
Which kinds a chair passes is common practice, not a published rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import read_length_m, split_values, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key, not_understood, worst
from rollroute.network.tags.wheelchair import Wheelchair, read_wheelchair


class BarrierKind(IntEnum):
    """What stands there."""

    UNKNOWN = 0
    GATE = 1
    LIFT_GATE = 2
    SWING_GATE = 3
    SLIDING_GATE = 4
    BOLLARD = 5
    CYCLE_BARRIER = 6
    KISSING_GATE = 7
    TURNSTILE = 8
    STILE = 9
    BLOCK = 10
    CHAIN = 11
    ENTRANCE = 12
    KERB = 13
    CATTLE_GRID = 14
    FLOOD_GATE = 15
    CHECKPOINT = 16
    HEIGHT_BAR = 17
    WALL = 18
    DEBRIS = 19
    STEP = 20
    VEHICLE_TRAP = 21
    OTHER = 22


class Passing(IntEnum):
    """What the kind of barrier means before any width is compared."""

    OPEN = 0
    QUESTION = 1
    STOPS = 2


@dataclass(frozen=True, slots=True)
class BarrierFact:
    """A barrier on a way.

    ``opening`` is the tightest tagged opening.
    ``doubt`` names the row of ``data/doubts.toml`` where ``passing`` is a question.
    ``is_locked`` and ``needs_power`` are ``None`` where the map does not tell; a locked gate stops, and a key opens it.
    """

    kind: Reading[BarrierKind]
    passing: Passing
    opening: Reading[float]
    is_locked: bool | None = None
    needs_power: bool | None = None
    doubt: str | None = None
    problem: str | None = None


_KINDS = {
    BarrierKind.GATE: "gate wicket_gate hampshire_gate bump_gate sally_port door kent_carriage_gap horse_jump",
    BarrierKind.LIFT_GATE: "lift_gate",
    BarrierKind.SWING_GATE: "swing_gate",
    BarrierKind.SLIDING_GATE: "sliding_gate sliding_beam",
    BarrierKind.BOLLARD: "bollard rising_bollard bollards planter flowerpot",
    BarrierKind.CYCLE_BARRIER: "cycle_barrier motorcycle_barrier chicane bicycle_barrier",
    BarrierKind.KISSING_GATE: "kissing_gate",
    BarrierKind.TURNSTILE: "turnstile full-height_turnstile full_height_turnstile",
    BarrierKind.STILE: "stile horse_stile",
    BarrierKind.BLOCK: "block jersey_barrier concrete_block boulder tank_trap tyres barrier_board",
    BarrierKind.CHAIN: "chain rope",
    BarrierKind.ENTRANCE: "entrance gap no opening",
    BarrierKind.KERB: "kerb",
    BarrierKind.CATTLE_GRID: "cattle_grid",
    BarrierKind.FLOOD_GATE: "coupure flood_gate floodgate",
    BarrierKind.CHECKPOINT: "toll_booth border_control checkpoint ticket_barrier security_control",
    BarrierKind.HEIGHT_BAR: "height_restrictor",
    BarrierKind.WALL: "wall fence hedge guard_rail retaining_wall city_wall railing cable_barrier handrail ditch bar",
    BarrierKind.DEBRIS: "debris log fallen_tree wood_stack",
    BarrierKind.STEP: "step",
    BarrierKind.VEHICLE_TRAP: "bus_trap sump_buster spikes",
    BarrierKind.OTHER: "yes",
}  # fmt: skip
WORDS = {word: kind for kind, words in _KINDS.items() for word in words.split()}
STOPPING = frozenset({
    BarrierKind.KISSING_GATE, BarrierKind.TURNSTILE, BarrierKind.STILE, BarrierKind.CATTLE_GRID,
    BarrierKind.WALL, BarrierKind.DEBRIS, BarrierKind.STEP,
})  # fmt: skip
"""Assumed to stop a chair (common practice); a wider figure or ``wheelchair=yes`` makes it a question."""
OPEN = frozenset({BarrierKind.ENTRANCE, BarrierKind.KERB, BarrierKind.HEIGHT_BAR})
"""Nothing to open and nothing to squeeze through; a kerb is read as a kerb, a height bar stops vans."""
GATES = frozenset({BarrierKind.GATE, BarrierKind.LIFT_GATE, BarrierKind.SWING_GATE, BarrierKind.SLIDING_GATE})
GAPS = frozenset({BarrierKind.BOLLARD, BarrierKind.BLOCK, BarrierKind.VEHICLE_TRAP})
_YES_NO = {"yes": True, "no": False, "1": True, "0": False, "true": True, "false": False}
NO_BARRIER = BarrierFact(Reading(None, Rank.UNKNOWN), Passing.OPEN, ABSENT)


def read_barrier(tags: Mapping[str, str]) -> BarrierFact:
    """The barrier on this node or way; without ``barrier=*`` nothing stands there as far as the map says.

    Access rules (``foot``, ``access``) are read apart, by ``read_access``.
    """
    text = tags.get("barrier")
    if text is None:
        return NO_BARRIER
    kind = _kind(text)
    opening = _opening(tags, kind.value or BarrierKind.OTHER)
    locked = _YES_NO.get(tidy(tags.get("locked", "")))
    passing, doubt = _judge(kind.value or BarrierKind.OTHER, opening, locked, read_wheelchair(tags).word.value)
    problem = "; ".join(p for p in (kind.problem, opening.problem) if p) or None
    return BarrierFact(kind, passing, opening, locked, _needs_power(tags), doubt, problem)


def _kind(text: str) -> Reading[BarrierKind]:
    found = [WORDS.get(part) for part in split_values(tidy(text))]
    known = [kind for kind in found if kind is not None]
    if not known or len(known) < len(found):
        return for_key(not_understood(text, "not a known barrier"), "barrier")
    return Reading(max(known, key=_severity), Rank.TAG_WORD, text)


def _severity(kind: BarrierKind) -> int:
    return Passing.STOPS if kind in STOPPING else Passing.OPEN if kind in OPEN else Passing.QUESTION


def _opening(tags: Mapping[str, str], kind: BarrierKind) -> Reading[float]:
    """The tightest opening; ``width`` of a bollard or block is its own, not that of the gap."""
    keys = ["maxwidth:physical", "opening"]
    keys += ["spacing"] if kind is BarrierKind.CYCLE_BARRIER else []
    keys += ["width", "gate:width"] if kind in GATES or kind in {BarrierKind.ENTRANCE, BarrierKind.KISSING_GATE} else []
    found = [for_key(read_length_m(tags[key], "low", 0.1, 50.0), key) for key in keys if key in tags]
    return worst(found, "low") if found else ABSENT


def _judge(kind: BarrierKind, opening: Reading[float], locked: bool | None, wheelchair: Wheelchair | None) -> tuple[Passing, str | None]:
    if locked or wheelchair is Wheelchair.NO:
        return Passing.STOPS, None
    if kind in OPEN:
        return Passing.OPEN, None
    if kind in STOPPING and wheelchair is not Wheelchair.YES:
        return Passing.STOPS, None
    if kind in GATES:
        return Passing.QUESTION, "gate_unlocked" if locked is False else "gate"
    if kind in GAPS:
        return (Passing.OPEN, None) if opening.is_known else (Passing.QUESTION, "bollard")
    if kind is BarrierKind.CYCLE_BARRIER:
        return Passing.QUESTION, "cycle_barrier_width_known" if opening.is_known else "cycle_barrier"
    return Passing.QUESTION, "barrier_other"


def _needs_power(tags: Mapping[str, str]) -> bool | None:
    """Whether a motor opens it; the keys have no settled wiki page (common practice)."""
    for key in ("automated", "automatic", "gate:automatic", "motor"):
        if key in tags:
            return _YES_NO.get(tidy(tags[key]))
    return True if tags.get("barrier") == "rising_bollard" or tags.get("bollard") == "rising" else None
