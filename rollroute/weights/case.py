"""What is judged (one network, chair, moment and set of limits), and the tally in which verdicts are collected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.tracks import Track
from rollroute.network.kinds import WayKind
from rollroute.network.network import Flag, Network
from rollroute.network.tags import Access
from rollroute.standards import CEILING_GRADE, Doubts, Standard, doubts_of
from rollroute.weights.reasons import Question, Reason
from rollroute.weights.surface_rows import surface_rows

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

PINCH_GRANTED_M = 0.10  # 2010 ADA Standards 403.5.1: 815 mm at a pinch point of at most 610 mm, 915 mm elsewhere
PINCH_LENGTH_M = 0.61
EVERY_QUESTION = ~Question(0)
SAME_DEG = 1e-6  # about 0.1 m
FEW = 8  # where fewer than one piece in so many is meant, picking them out is quicker than going through all


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """Limits and tables that a coordinator may set; ``max_grade`` can be lowered but not raised above the standard cited.

    standard : a published preset; of its limits and the chair's own the stricter counts
    keys : names or ``node/ID`` of gates and doors to which the coordinator holds a key
    granted : kinds of access that this rider has (a customer, a permit, the owner's word)
    doors, shut_doors : (lon, lat) of places whose straight line to the street this rider drives, or can't, by the rider's own word
    tracks : where chairs are known to have passed, as they were told; passages : the same on the edges of one network
    """

    max_grade: float = CEILING_GRADE
    doubts: Doubts | None = None
    standard: Standard | None = None
    keys: frozenset[str] = frozenset()
    granted: frozenset[Access] = frozenset()
    doors: frozenset[tuple[float, float]] = frozenset()
    shut_doors: frozenset[tuple[float, float]] = frozenset()
    tracks: tuple[Track, ...] = ()
    passages: tuple[Any, ...] = ()


@dataclass(slots=True)
class Tally:
    """Verdicts of directed edges as they are collected: ``reasons`` and ``questions`` (2 n_pieces,), surprisal by piece and by edge.

    ``heard``: the questions that are written down; all, unless somebody wants to know what a few of them come to alone.
    """

    reasons: npt.NDArray[np.uint32]
    questions: npt.NDArray[np.uint32]
    piece_surprisal: Floats
    edge_surprisal: Floats
    heard: Question = EVERY_QUESTION

    @classmethod
    def empty(cls, n_pieces: int, heard: Question = EVERY_QUESTION) -> Tally:
        """Nothing said yet."""
        n = 2 * n_pieces
        return cls(np.zeros(n, np.uint32), np.zeros(n, np.uint32), np.zeros(n_pieces), np.zeros(n), heard)

    @property
    def surprisal(self) -> Floats:
        """(2 n_pieces,) ``−ln(1 − d)`` of all questions so far."""
        return np.asarray(np.repeat(self.piece_surprisal, 2) + self.edge_surprisal, np.float64)

    def exclude(self, pieces: Mask, reason: Reason) -> None:
        """Exclude whole pieces, both ways."""
        _mark(self.reasons, pieces, int(reason))

    def ask(self, pieces: Mask, question: Question, chance: float | Floats, share: float | Floats = 1.0) -> None:
        """Ask about pieces, both ways; ``chance`` of being bad of the whole question, ``share`` of it on each piece."""
        count = int(np.count_nonzero(pieces))
        if not question & self.heard or not count:
            return
        _mark(self.questions, pieces, int(question))
        if count * FEW < len(pieces):
            rows = np.flatnonzero(pieces)
            chance, share = (v if isinstance(v, float) else v[rows] for v in (chance, share))
            self.piece_surprisal[rows] += -share * np.log1p(-np.asarray(chance, np.float64))
        else:
            np.add(self.piece_surprisal, -share * np.log1p(-np.asarray(chance, np.float64)), out=self.piece_surprisal, where=pieces)


def _mark(bits: npt.NDArray[np.uint32], pieces: Mask, bit: int) -> None:
    """Set ``bit`` on both edges of ``pieces``: the two lie side by side, so one 64-bit word holds both."""
    count = int(np.count_nonzero(pieces))
    if not count:
        return
    pairs = bits.view(np.uint64)
    if count * FEW < len(pieces):
        pairs[np.flatnonzero(pieces)] |= np.uint64(bit | bit << 32)
    else:
        np.bitwise_or(pairs, np.uint64(bit | bit << 32), out=pairs, where=pieces)


@dataclass(frozen=True)
class Case:
    """One network, chair, set of conditions and limits under judgement."""

    network: Network
    chair: Chair
    conditions: Conditions
    rules: Weighing

    @cached_property
    def doubts(self) -> Doubts:
        """The table in force: the coordinator's, else the bundled one moved by this town's own checks."""
        return self.rules.doubts or doubts_of(self.network.about)

    @cached_property
    def max_grade(self) -> float:
        """Of the limit set, the standard's and the chair's rated slope the lowest."""
        standard = CEILING_GRADE if self.rules.standard is None else self.rules.standard.max_grade
        return min(self.rules.max_grade, CEILING_GRADE, standard, self.chair.rated_grade)

    @cached_property
    def passages(self) -> tuple[Any, ...]:
        """Where chairs are known to have passed by the day of departure, on the edges of this network."""
        from rollroute.weights.passages import passages_of

        if not self.rules.tracks:
            return self.rules.passages
        day, known = self.conditions.departure.date(), self.network.passages_known
        key = (self.rules.tracks, day)
        if key not in known:
            known[key] = passages_of(self.network, self.rules.tracks, day)[0]
        return (*self.rules.passages, *known[key])

    def preset(self, name: str) -> float | None:
        """One figure of the preset, a property of ``Standard`` or a limit by its name; ``None`` without a preset, or where it has none."""
        standard = self.rules.standard
        if standard is None:
            return None
        figure: float | None = getattr(standard, name) if hasattr(standard, name) else standard.bound(name)
        return figure

    def at_least(self, own: float, name: str) -> float:
        """The chair's own need, or what the preset states where that is more."""
        stated = self.preset(name)
        return own if stated is None else max(own, stated)

    def at_most(self, own: float, name: str) -> float:
        """What the chair can do, or what the preset states where that is less."""
        stated = self.preset(name)
        return own if stated is None else min(own, stated)

    @cached_property
    def max_crossing_grade(self) -> float:
        """Along a crossing: as elsewhere, or the preset's where that is less (PROWAG R302.4.3)."""
        return self.at_most(self.max_grade, "crosswalk_grade")

    @cached_property
    def width_needed_m(self) -> float:
        """Clear width of a way: the chair's with room at both sides, or the preset's where that is more."""
        return self.at_least(self.chair.clear_width_m, "min_clear_width_m")

    @cached_property
    def pinch_needed_m(self) -> float:
        """Clear width of a short narrow spot: what 403.5.1 grants there, never less than the chair itself."""
        own = max(self.chair.width_m, self.chair.clear_width_m - PINCH_GRANTED_M)
        return self.at_least(own, "min_pinch_width_m")

    @cached_property
    def door_needed_m(self) -> float:
        """Clear width of a door; its depth is nowhere tagged and is taken as a wall's, under 610 mm (2010 ADA Standards 404.2.3)."""
        own = max(self.chair.width_m, self.chair.clear_width_m - PINCH_GRANTED_M)
        return self.at_least(own, "door_width_m")

    @cached_property
    def surface_rows(self) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
        """(crr ratio, speed factor, verdict) of every piece for this chair and weather."""
        return surface_rows(self.network, self.chair, self.conditions)

    @cached_property
    def share(self) -> Floats:
        """The share of its stretch's question that falls to each piece."""
        pieces = self.network.pieces
        return np.asarray(np.minimum(1.0, pieces.length_m / pieces.stretch_m), np.float64)

    def by_kind(self, kinds: frozenset[WayKind] | set[WayKind] | tuple[WayKind, ...]) -> npt.NDArray[np.bool_]:
        """(256,) whether each code of kind is one of ``kinds``."""
        table = np.zeros(256, bool)
        table[[int(k) for k in kinds]] = True
        return table

    def is_kind(self, *kinds: WayKind) -> Mask:
        """Pieces of any of ``kinds``."""
        return np.asarray(self.by_kind(kinds)[self.network.pieces.kind], np.bool_)

    def has(self, *flags: int) -> Mask:
        """Pieces with any of ``flags``."""
        return np.asarray((self.network.pieces.flags & np.uint32(sum(flags))) != 0, np.bool_)

    def chance_by_kind(self, fact: str) -> Floats:
        """The chance that a missing ``width`` or ``surface`` is bad, for every piece by its kind of way."""
        table = np.zeros(256)
        for kind in WayKind:
            table[int(kind)] = self.doubts.probability(self.doubts.kind_for_way(fact, kind.name.lower()))
        return np.asarray(table[self.network.pieces.kind], np.float64)

    @cached_property
    def keys_held(self) -> Mask:
        """(n_places,) gates and doors that a key of the coordinator's opens, by name or ``node/ID``."""
        places = self.network.places
        held = np.zeros(len(places.kind), np.bool_)
        if self.rules.keys:
            names = self.network.about.get("place_names", {})
            for row in np.flatnonzero(places.osm_id > 0):
                node_id = str(int(places.osm_id[row]))
                held[row] = f"node/{node_id}" in self.rules.keys or names.get(node_id) in self.rules.keys
        return held

    @cached_property
    def is_off_map(self) -> Mask:
        """Pieces that are our own straight lines from a place to the mapped ways."""
        return self.has(Flag.OFF_MAP)

    def lines_from(self, places: Iterable[tuple[float, float]]) -> Mask:
        """Straight lines that begin at one of ``places`` (lon, lat)."""
        found, nodes = np.zeros(self.network.n_pieces, np.bool_), self.network.nodes
        rows = np.flatnonzero(self.is_off_map)
        tail = self.network.pieces.tail[rows]
        for lon, lat in places if len(rows) else ():
            found[rows[(np.abs(nodes.lon[tail] - lon) < SAME_DEG) & (np.abs(nodes.lat[tail] - lat) < SAME_DEG)]] = True
        return found


def case_of(network: Network, chair: Chair, conditions: Conditions, rules: Weighing | None) -> Case:
    """The case under judgement."""
    return Case(network, chair, conditions, rules or Weighing())
