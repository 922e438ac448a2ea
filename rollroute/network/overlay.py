"""Lay measured facts and inventories over a network: a higher rank replaces a lower one, and checks move this town's table of doubts."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.field_facts import FieldFact
from rollroute.network.attach import nearest_joint
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.network import Flag, Network
from rollroute.network.ranks import Rank
from rollroute.standards import load_doubts

PLACE_WITHIN_M = 6.0  # assumption: how far a position in the field may be off a mapped kerb or gate
PIECE_WITHIN_M = 10.0
CHECKED_OBSTACLE_M = 0.05  # EN 12184: a class B chair climbs 50 mm; a kerb found higher counts as bad for the table of doubts
M_PER_DEGREE = 111_319.49  # WGS 84 equator; used to compare nearby distances only


def lay_facts(network: Network, facts: Iterable[FieldFact], day: dt.date) -> tuple[Network, list[str]]:
    """``network`` with the facts that hold on ``day``; and one line for each that lies near nothing, or is outranked."""
    layer = _Layer(network)
    notes = []
    for fact in sorted((f for f in facts if f.holds_on(day)), key=lambda f: f.date or dt.date.min):
        note = layer.lay(fact)
        if note:
            notes.append(f"{fact.fact} at {fact.lat:.5f},{fact.lon:.5f}: {note}")
    return layer.laid(), notes


class _Layer:
    """Columns of a network that are being overlaid; the network itself stays as it is."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.places = {f.name: np.array(getattr(network.places, f.name)) for f in dataclasses.fields(network.places)}
        self.pieces: dict[str, npt.NDArray[Any]] = {}
        self.checks: dict[str, list[int]] = {k: list(v) for k, v in network.about.get("doubt_checks", {}).items()}
        self.sources: set[str] = set()

    def laid(self) -> Network:
        """The overlaid network."""
        about = self.network.about | {"doubt_checks": self.checks}
        about["sources"] = [*about.get("sources", []), *sorted(self.sources)]
        places = dataclasses.replace(self.network.places, **self.places)
        return dataclasses.replace(
            self.network, places=places, pieces=dataclasses.replace(self.network.pieces, **self.pieces), about=about
        )

    def lay(self, fact: FieldFact) -> str | None:
        """Lay one fact; returns why it could not be, or ``None``."""
        rank = Rank.SURVEY if fact.is_survey else Rank.MEASURED
        self.sources.add(f"facts: {fact.source}" + (f", {fact.date}" if fact.date else ""))
        if fact.fact == "kerb_height":
            return self._place(fact, (PlaceKind.KERB, PlaceKind.APRON), "height", rank) or None
        if fact.fact == "blocked":
            return self._block(fact)
        if fact.fact == "width" and self._place(fact, (PlaceKind.BARRIER, PlaceKind.DOOR), "width", rank) is None:
            return None
        return self._piece(fact, rank)

    def _nearest_place(self, fact: FieldFact, kinds: tuple[PlaceKind, ...]) -> int | None:
        places = self.network.places
        rows = np.flatnonzero(np.isin(places.kind, [int(k) for k in kinds]))
        scale = math.cos(math.radians(fact.lat))
        away_m = np.hypot((places.lon[rows] - fact.lon) * scale, places.lat[rows] - fact.lat) * M_PER_DEGREE
        return int(rows[away_m.argmin()]) if len(rows) and away_m.min() <= PLACE_WITHIN_M else None

    def _place(self, fact: FieldFact, kinds: tuple[PlaceKind, ...], what: str, rank: Rank) -> str | None:
        row = self._nearest_place(fact, kinds)
        if row is None:
            return f"no mapped {kinds[0].name.lower()} within {PLACE_WITHIN_M:.0f} m"
        if self.places[f"{what}_rank"][row] > rank:
            return "a fact of a higher rank is there already"
        if what == "height" and math.isnan(self.places["height_m"][row]):
            kind = load_doubts().kinds[int(self.places["doubt"][row])]
            self.checks.setdefault(kind, [0, 0])[int(fact.value > CHECKED_OBSTACLE_M)] += 1
        self.places[f"{what}_m"][row], self.places[f"{what}_rank"][row] = fact.value, rank
        return None

    def _block(self, fact: FieldFact) -> str | None:
        row = self._nearest_place(fact, (PlaceKind.BARRIER, PlaceKind.DOOR, PlaceKind.LIFT))
        if row is not None:
            flag = np.uint16(PlaceFlag.BLOCKED)
            self.places["flags"][row] = (self.places["flags"][row] & ~flag) | (flag if fact.value else np.uint16(0))
            return None
        piece = self._nearest_piece(fact)
        if piece is None:
            return f"no mapped way within {PIECE_WITHIN_M:.0f} m"
        flags, bit = self._column("flags"), np.uint32(Flag.BLOCKED)
        flags[piece] = (flags[piece] & ~bit) | (bit if fact.value else np.uint32(0))
        return None

    def _piece(self, fact: FieldFact, rank: Rank) -> str | None:
        piece = self._nearest_piece(fact)
        if piece is None:
            return f"no mapped way within {PIECE_WITHIN_M:.0f} m"
        if self._column(f"{fact.fact}_rank")[piece] > rank:
            return "a fact of a higher rank is there already"
        self._column(f"{fact.fact}_rank")[piece] = rank
        if fact.fact == "width":
            self._column("width_m")[piece] = fact.value
            return None
        for name, value in (("grade", fact.value), ("grade_steepest", fact.value), ("grade_sd", 0.0)):
            self._column(name)[piece] = value
        return None

    def _column(self, name: str) -> npt.NDArray[Any]:
        return self.pieces.setdefault(name, np.array(getattr(self.network.pieces, name)))

    def _nearest_piece(self, fact: FieldFact) -> int | None:
        everything = np.ones(self.network.n_pieces, bool)
        try:
            return nearest_joint(self.network, fact.lon, fact.lat, limit_m=PIECE_WITHIN_M, usable=everything).piece
        except InputError:
            return None
