"""Lay measured facts and inventories over a network: a higher rank replaces a lower one, and checks move this town's table of doubts."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Iterable
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.field_facts import FieldFact
from rollroute.network.along import LineFinder
from rollroute.network.attach import nearest_joint
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.kinds import WayKind
from rollroute.network.network import Flag, Network
from rollroute.network.ranks import Rank
from rollroute.standards import load_doubts
from rollroute.units import M_PER_DEGREE

PLACE_WITHIN_M = 6.0  # assumption: how far a position in the field may be off a mapped kerb or gate
PIECE_WITHIN_M = 10.0
COVERED_SHARE = 0.8  # setting: a line must run along so much of a piece before it says anything of it
NARROW_WAY_M, NARROW_DOOR_M = 0.915, 0.815  # 2010 ADA Standards 403.5.1 and 404.2.3: found narrower counts as bad for the table of doubts
CHECKED_OBSTACLE_M = 0.05  # EN 12184: a class B chair climbs 50 mm; a kerb found higher counts as bad for the table of doubts


def lay_facts(network: Network, facts: Iterable[FieldFact], day: dt.date) -> tuple[Network, list[str]]:
    """``network`` with the facts that hold on ``day``; a line for each that lies near nothing or is outranked, one for all other days'."""
    layer = _Layer(network)
    told = list(facts)
    current = [fact for fact in told if fact.holds_on(day)]
    others = len(told) - len(current)
    notes = [f"{others} of {len(told)} facts say nothing of {day}: found later, or no longer true"] if others else []
    for fact in sorted(current, key=lambda f: f.date or dt.date.min):
        note = layer.lay(fact)
        if note:
            notes.append(f"{fact.fact} at {fact.lat:.5f},{fact.lon:.5f}: {note}")
    return layer.laid(), notes


AT_KERBS = {"kerb_height": "height_m", "ramp_grade": "ramp_grade", "ramp_width": "width_m", "counter_slope": "counter_slope"}


def told_key(network: Network, place: int, column: str) -> str:
    """Key of ``about["told_at"]``: a place by where it is, since joining others to the map renumbers places."""
    return f"{float(network.places.lon[place]):.7f},{float(network.places.lat[place]):.7f},{column}"


class _Layer:
    """Columns of a network that are being overlaid; the network itself stays as it is."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.places = {f.name: np.array(getattr(network.places, f.name)) for f in dataclasses.fields(network.places)}
        self.pieces: dict[str, npt.NDArray[Any]] = {}
        self.checks: dict[str, list[int]] = {k: list(v) for k, v in network.about.get("doubt_checks", {}).items()}
        self.sources: set[str] = set()
        self.told_at: dict[str, str] = dict(network.about.get("told_at", {}))  # figures of kerb ramps have no column for their rank
        self.surveyed: set[int] = set()  # pieces whose width a survey has told

    def laid(self) -> Network:
        """The overlaid network."""
        about = self.network.about | {"doubt_checks": self.checks, "told_at": self.told_at}
        about["sources"] = [*about.get("sources", []), *sorted(self.sources)]
        places = dataclasses.replace(self.network.places, **self.places)
        return dataclasses.replace(self.network, places=places, pieces=dataclasses.replace(self.network.pieces, **self.pieces), about=about)

    def lay(self, fact: FieldFact) -> str | None:
        """Lay one fact; returns why it could not be, or ``None``."""
        rank = Rank.SURVEY if fact.is_survey else Rank.MEASURED
        self.sources.add(f"facts: {fact.source}" + (f", {fact.date}" if fact.date else ""))
        if fact.fact == "blocked":
            return self._block(fact)
        if fact.fact in AT_KERBS:
            return self._place(fact, (PlaceKind.KERB, PlaceKind.APRON), AT_KERBS[fact.fact], rank)
        if fact.line:
            return self._along(fact, rank)
        if fact.fact == "width" and self._place(fact, (PlaceKind.BARRIER, PlaceKind.DOOR), "width_m", rank) is None:
            return None
        piece = self._nearest_piece(fact)
        return f"no mapped way within {PIECE_WITHIN_M:.0f} m" if piece is None else self._pieces([piece], fact, rank)

    def _nearest_place(self, fact: FieldFact, kinds: tuple[PlaceKind, ...]) -> int | None:
        places = self.network.places
        rows = np.flatnonzero(np.isin(places.kind, [int(k) for k in kinds]))
        scale = math.cos(math.radians(fact.lat))
        away_m = np.hypot((places.lon[rows] - fact.lon) * scale, places.lat[rows] - fact.lat) * M_PER_DEGREE
        return int(rows[away_m.argmin()]) if len(rows) and away_m.min() <= PLACE_WITHIN_M else None

    def _place(self, fact: FieldFact, kinds: tuple[PlaceKind, ...], column: str, rank: Rank) -> str | None:
        row = self._nearest_place(fact, kinds)
        if row is None:
            return f"no mapped {kinds[0].name.lower()} within {PLACE_WITHIN_M:.0f} m"
        ranks = self.places[f"{column.removesuffix('_m')}_rank"] if column.endswith("_m") else None
        told = told_key(self.network, row, column)
        before = Rank[self.told_at.get(told, "unknown").upper()] if ranks is None else ranks[row]
        if before > rank:
            return "a fact of a higher rank is there already"
        if fact.fact in ("kerb_height", "width") and math.isnan(self.places[column][row]):
            is_bad = fact.value > CHECKED_OBSTACLE_M if fact.fact == "kerb_height" else fact.value < NARROW_DOOR_M
            self._check(load_doubts().kinds[int(self.places["doubt"][row])], is_bad=is_bad)
        self.places[column][row] = fact.value
        if ranks is None:
            self.told_at[told] = rank.name.lower()
        else:
            ranks[row] = rank
        return None

    def _check(self, kind: str, *, is_bad: bool) -> None:
        """Count a check of this kind for the town's table of doubts."""
        self.checks.setdefault(kind, [0, 0])[int(is_bad)] += 1

    def _block(self, fact: FieldFact) -> str | None:
        if fact.line:
            return self._block_along(fact)
        row = self._nearest_place(fact, (PlaceKind.BARRIER, PlaceKind.DOOR, PlaceKind.LIFT))
        if row is not None:
            flag = np.uint16(PlaceFlag.BLOCKED)
            self.places["flags"][row] = (self.places["flags"][row] & ~flag) | (flag if fact.value else np.uint16(0))
            return None
        piece = self._nearest_piece(fact)
        if piece is None:
            return f"no mapped way within {PIECE_WITHIN_M:.0f} m"
        self._shut([piece], is_shut=bool(fact.value))
        return None

    def _block_along(self, fact: FieldFact) -> str | None:
        """Shut every piece that a stretch runs along, however little of it; open again is only what it covers."""
        is_shut = bool(fact.value)
        runs, _ = self._lines.runs(fact.line, nearest_if_tied=is_shut)
        pieces = [run.piece for run in runs if is_shut or run.share >= COVERED_SHARE]
        self._shut(pieces, is_shut=is_shut)
        return None if pieces else "no mapped way runs along it"

    def _shut(self, pieces: list[int], *, is_shut: bool) -> None:
        flags, bit = self._column("flags"), np.uint32(Flag.BLOCKED)
        flags[pieces] = (flags[pieces] & ~bit) | (bit if is_shut else np.uint32(0))

    def _along(self, fact: FieldFact, rank: Rank) -> str | None:
        """Lay a fact on every piece that its line runs along; a piece of which it covers less keeps its questions."""
        runs, tied_m = self._lines.runs(fact.line)
        shares: dict[int, float] = {}
        for run in runs:  # out and back again along one piece
            shares[run.piece] = min(1.0, shares.get(run.piece, 0.0) + run.share)
        covered = [piece for piece, share in shares.items() if share >= COVERED_SHARE]
        tied = f" ({tied_m:.0f} m of it fit two ways side by side)" if tied_m else ""
        return self._pieces(covered, fact, rank) if covered else f"no mapped way runs along it{tied}"

    def _pieces(self, pieces: list[int], fact: FieldFact, rank: Rank) -> str | None:
        """Lay one fact on pieces: one check for the table of doubts, however many pieces the map cuts the way into."""
        if fact.fact == "width":
            unknown = [p for p in pieces if math.isnan(self._column("width_m")[p])]
            kinds = {load_doubts().kind_for_way("width", WayKind(int(self.network.pieces.kind[p])).name.lower()) for p in unknown}
            for kind in sorted(kinds):
                self._check(kind, is_bad=fact.value < NARROW_WAY_M)
        return next((note for note in [self._piece(piece, fact, rank) for piece in pieces] if note), None)

    @cached_property
    def _lines(self) -> LineFinder:
        return LineFinder(self.network)

    def _piece(self, piece: int, fact: FieldFact, rank: Rank) -> str | None:
        ranks = self._column(f"{fact.fact}_rank")
        if ranks[piece] > rank:
            return "a fact of a higher rank is there already"
        if fact.fact == "width":
            widths = self._column("width_m")
            is_other_side = fact.is_survey and ranks[piece] == rank and piece in self.surveyed
            widths[piece] = min(widths[piece], fact.value) if is_other_side else fact.value
            self.surveyed.add(piece)
        else:
            self._grade(piece, fact)
        ranks[piece] = rank
        return None

    def _grade(self, piece: int, fact: FieldFact) -> None:
        """A line of an inventory does not say which end is higher: the sign stays as the heights have it."""
        known = float(self._column("grade")[piece])
        value = fact.value if not fact.line else math.nan if math.isnan(known) else math.copysign(fact.value, known)
        steepest = fact.value if math.isnan(value) else value
        for name, figure in (("grade", value), ("grade_steepest", steepest), ("grade_sd", 0.0)):
            self._column(name)[piece] = figure

    def _column(self, name: str) -> npt.NDArray[Any]:
        return self.pieces.setdefault(name, np.array(getattr(self.network.pieces, name)))

    def _nearest_piece(self, fact: FieldFact) -> int | None:
        everything = np.ones(self.network.n_pieces, bool)
        try:
            return nearest_joint(self.network, fact.lon, fact.lat, limit_m=PIECE_WITHIN_M, usable=everything).piece
        except InputError:
            return None
