"""Why there is no route: which rule fails, and by how much.

Rules are dropped one after the other. A rule is named when the rules before it can be kept and adding this one can't.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

from rollroute.search.fields import distance_to
from rollroute.search.halving import least_amount
from rollroute.search.problem import Failure, FailureKind, SearchGraph, SearchQuery, Verdict
from rollroute.search.simple import search

Solver = Callable[[SearchGraph, SearchQuery], Verdict]
MUCH_WH = 1e9  # stands for "any charge": no battery of a chair comes near
MUCH_S = 1e9
_TOGETHER = "charge, closings and way back can each be kept, but not all of them together"
_CLOSED = "every way closes before the chair is through, or the latest arrival passes"
EXPLAIN_LIMIT = 50_000  # labels for each question asked here; past it the amount is left out rather than guessed


def explain(graph: SearchGraph, query: SearchQuery, solver: Solver = search) -> tuple[Failure, ...]:
    """The rules that fail, each with its amount; never empty for a query without a route."""
    if not math.isfinite(distance_to(graph, graph.time_s, query.goals)[query.start]):
        return (Failure(FailureKind.UNREACHABLE, math.inf, "", "no passable way leads to a goal"),)
    ask = _Asker(graph, query, solver)
    found = [failure for failure in (ask.closing(), ask.charge(), ask.way_back()) if failure is not None]
    if not found:
        found = [Failure(FailureKind.TOGETHER, math.nan, "", _TOGETHER)]
    return tuple(found)


@dataclasses.dataclass(frozen=True, slots=True)
class _Asker:
    graph: SearchGraph
    query: SearchQuery
    solver: Solver

    def has_route(self, graph: SearchGraph, **changes: object) -> bool | None:
        """Whether the changed query has a route; ``None`` where the limit leaves it open."""
        changed = dataclasses.replace(self.query, work_limit=EXPLAIN_LIMIT, **changes)  # type: ignore[arg-type]
        verdict = self.solver(graph, changed)
        return True if verdict.steps is not None else (False if verdict.is_proven else None)

    def closing(self) -> Failure | None:
        """Closings and the latest arrival, with a full battery and no way back asked for."""
        query = self.query
        free = {"charge_wh": MUCH_WH, "capacity_wh": MUCH_WH, "needs_way_back": False, "stops": ()}
        if self.has_route(self.graph, **free) is not False:
            return None

        def holds(delay_s: float) -> bool | None:
            later = dataclasses.replace(self.graph, closes_s=self.graph.closes_s + delay_s)
            return self.has_route(later, latest_arrival_s=query.latest_arrival_s + delay_s, **free)

        late_s = least_amount(holds, MUCH_S, tolerance=0.5)
        return Failure(FailureKind.CLOSING, late_s, "s", f"{_CLOSED}: {_amount(late_s, 's')} late")

    def charge(self) -> Failure | None:
        """The charge with every stop used, with closings, no way back asked for."""
        return self._short_of(FailureKind.CHARGE, "the charge does not last", needs_way_back=False)

    def way_back(self) -> Failure | None:
        """The way back, with the charge as a second question: how much more charge would allow it."""
        query = self.query
        if not query.needs_way_back or self.has_route(self.graph, needs_way_back=False) is not True:
            return None
        return self._short_of(
            FailureKind.WAY_BACK, "a piece nobody has verified would be driven without the charge to come back from it", needs_way_back=True
        )

    def _short_of(self, kind: FailureKind, what: str, *, needs_way_back: bool) -> Failure | None:
        query = self.query
        if self.has_route(self.graph, needs_way_back=needs_way_back) is not False:
            return None

        def holds(more_wh: float) -> bool | None:
            charge = query.charge_wh + more_wh
            return self.has_route(self.graph, charge_wh=charge, capacity_wh=max(query.capacity_wh, charge), needs_way_back=needs_way_back)

        short_wh = least_amount(holds, MUCH_WH, tolerance=0.01)
        if math.isinf(short_wh):
            if kind is FailureKind.CHARGE:
                return None  # not the charge: no charge helps, so another rule is to blame
            return Failure(kind, short_wh, "Wh", f"{what}: no charge is enough, since no sure way leads back to a refuge")
        return Failure(kind, short_wh, "Wh", f"{what}: {_amount(short_wh, 'Wh')} short at departure")


def _amount(amount: float, unit: str) -> str:
    return f"an unknown number of {unit}" if math.isnan(amount) else ("any time" if math.isinf(amount) else f"{amount:.2f} {unit}")
