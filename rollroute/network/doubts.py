"""How likely a missing fact turns out bad: a table of assumptions, by kind of place, that checks in a town update.

Each kind holds Beta pseudo-counts; the chance of being bad is ``bad / (bad + good)``, and a check adds one to either
(Beta-binomial, for example Gelman et al., Bayesian Data Analysis, section 2.1).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from rollroute.errors import InputError
from rollroute.inputs.tables import load_table


@dataclass(frozen=True, slots=True)
class Doubts:
    """Pseudo-counts ``(bad, good)`` by kind of place."""

    counts: Mapping[str, tuple[float, float]]

    def chance(self, kind: str) -> float:
        """The chance that a missing fact of this kind turns out bad."""
        bad, good = self.counts[kind]
        return bad / (bad + good)

    def updated(self, kind: str, *, bad: int = 0, good: int = 0) -> Doubts:
        """The table after checks of this kind."""
        if kind not in self.counts:
            raise InputError(f"doubts: no kind {kind!r}. Known: {', '.join(self.counts)}.")
        before = self.counts[kind]
        return Doubts({**self.counts, kind: (before[0] + bad, before[1] + good)})


@cache
def load_doubts() -> Doubts:
    """The bundled table, ``data/doubt_kinds.toml``."""
    rows = load_table("doubt_kinds")["kind"]
    return Doubts({kind: (float(row["bad"]), float(row["good"])) for kind, row in rows.items()})


DOUBT_KINDS: tuple[str, ...] = tuple(load_doubts().counts)
"""Codes of ``Places.doubt``: positions in this tuple."""
