"""How likely a missing fact turns out bad: a table of assumptions by kind of place, which checks in a town update.

Each kind is a Beta distribution with pseudo-counts ``bad`` and ``good``; the chance is its mean, and each check adds one to either
(the conjugate update of a Beta-binomial model).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from rollroute.errors import InputError
from rollroute.standards.limit import read_table, table_path

_WAY_FAMILIES = {
    "width": {
        "pedestrian": "street", "living_street": "street", "residential": "street", "service": "street", "driveway": "street",
        "parking_aisle": "street", "busy_road": "street", "fast_road": "street",
    },
    "surface": {
        "crossing": "sidewalk", "ramp": "footway", "living_street": "street", "residential": "street", "busy_road": "street",
        "fast_road": "street", "driveway": "service", "parking_aisle": "service", "corridor": "indoor", "elevator": "indoor",
    },
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtKind:
    """One row: which ``fact`` is missing at what ``place``, the pseudo-counts, and the checks counted so far."""

    name: str
    fact: str
    place: str
    bad: float
    good: float
    note: str
    n_checks: int = 0

    @property
    def probability(self) -> float:
        """The chance that the missing fact turns out bad."""
        return self.bad / (self.bad + self.good)

    @property
    def standard_deviation(self) -> float:
        """Of the Beta distribution: how firmly the chance is believed."""
        n = self.bad + self.good
        return math.sqrt(self.bad * self.good / (n * n * (n + 1.0)))


@dataclass(frozen=True, slots=True)
class Doubts:
    """All rows in the order of their codes."""

    rows: Mapping[str, DoubtKind]

    @property
    def kinds(self) -> tuple[str, ...]:
        """Names in the order of their codes: what a network stores is the position here."""
        return tuple(self.rows)

    def probability(self, kind: str) -> float:
        """The chance that a missing fact of this kind turns out bad, strictly between 0 and 1."""
        return self._row(kind).probability

    def surprisal(self, kind: str) -> float:
        """``−ln(1 − d)``: what adds up along a route."""
        return -math.log1p(-self.probability(kind))

    def kind_for_way(self, fact: str, way_kind: str) -> str:
        """The row for a missing ``width`` or ``surface`` of a way of this kind (a ``WayKind`` name in lower case)."""
        name = f"{fact}_{_WAY_FAMILIES.get(fact, {}).get(way_kind, way_kind)}"
        return name if name in self.rows else f"{fact}_other"

    def updated(self, kind: str, *, good: int = 0, bad: int = 0) -> Doubts:
        """The table after checks of this kind: ``good`` turned out well, ``bad`` did not."""
        if good < 0 or bad < 0:
            raise InputError(f"doubts: checks of {kind!r} must be >= 0, got good={good}, bad={bad}.")
        row = self._row(kind)
        after = dataclasses.replace(row, bad=row.bad + bad, good=row.good + good, n_checks=row.n_checks + good + bad)
        return Doubts(MappingProxyType({**self.rows, kind: after}))

    def _row(self, kind: str) -> DoubtKind:
        if kind not in self.rows:
            raise InputError(f"doubts: no kind {kind!r}. Known: {', '.join(self.rows)}.")
        return self.rows[kind]


def load_doubts(path: Path | None = None) -> Doubts:
    """The bundled table ``data/doubts.toml``, or one of a town's own in the same form.

    Raises
    ------
    InputError
        If a count is not above 0 (a chance of 0 or 1 could never be moved by a check), or a note is missing.
    """
    return _load(path or table_path("doubts.toml"))


def doubts_of(about: Mapping[str, Any]) -> Doubts:
    """The bundled table, updated by the checks that were laid over a network; ``about`` is what the network says of itself."""
    doubts = load_doubts()
    for kind, (good, bad) in about.get("doubt_checks", {}).items():
        doubts = doubts.updated(kind, good=int(good), bad=int(bad))
    return doubts


@cache
def _load(path: Path) -> Doubts:
    rows = {name: _row(name, cells, path.name) for name, cells in read_table(path).get("kind", {}).items()}
    if not rows:
        raise InputError(f"{path}: there is no [kind.…] in it. Take the bundled doubts.toml as an example.")
    return Doubts(MappingProxyType(rows))


def _row(name: str, cells: Mapping[str, Any], where: str) -> DoubtKind:
    for field in ("bad", "good"):
        count = cells.get(field)
        if not isinstance(count, (int, float)) or isinstance(count, bool) or not (math.isfinite(count) and count > 0.0):
            raise InputError(f"{where}: {name}: {field} must be a number > 0, got {count!r}. It is a count of imagined checks.")
    unknown = cells.keys() - {"bad", "good", "fact", "place", "note"}
    missing = {"fact", "place", "note"} - cells.keys()
    if unknown or missing:
        raise InputError(f"{where}: {name}: unknown fields {sorted(unknown)}, missing fields {sorted(missing)}.")
    fact, place, note = (str(cells[field]) for field in ("fact", "place", "note"))
    return DoubtKind(name=name, fact=fact, place=place, bad=float(cells["bad"]), good=float(cells["good"]), note=note)
