"""Many starts × many goals for one chair: time, planned energy and feasibility, as a filter; the constrained optimum on request."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rollroute.search.drive import drive
from rollroute.search.fields import distance_to
from rollroute.search.find import SIMPLE_UP_TO_NODES, solve
from rollroute.search.problem import Bools, Floats, SearchGraph, SearchQuery


@dataclass(frozen=True, eq=False)
class TravelMatrix:
    """Bounds of travel between starts (rows) and goals (columns); inf where there is no way.

    cost_s    : of the cheapest way, whatever energy it takes: no route that keeps the rules costs less
    time_s    : of the quickest way, likewise
    energy_wh : of the thriftiest way: no route takes less
    """

    cost_s: Floats
    time_s: Floats
    energy_wh: Floats

    def may_reach(self, spare_wh: Floats) -> Bools:
        """Whether a charge over reserve, one per start, could be enough without charging. ``False`` is proven, ``True`` a filter."""
        found: Bools = self.energy_wh <= np.asarray(spare_wh, float)[:, None] + 1e-9
        return found


def travel_matrix(
    graph: SearchGraph, starts: Sequence[int], goals: Sequence[int], *, weights: Sequence[str] = ("cost", "time", "energy")
) -> TravelMatrix:
    """The matrix of bounds, for the weights that are asked for; the others are NaN.

    On large maps one backward search for each goal and weight, on the part of the contracted graph that they need (``compiled.core``).
    """
    columns = {"cost": graph.cost_s, "time": graph.time_s, "energy": graph.energy_wh}
    found = {name: np.full((len(starts), len(goals)), math.nan) for name in columns}
    if graph.n_nodes > SIMPLE_UP_TO_NODES:
        from rollroute.search.compiled.engine import engine_of

        found |= dict(zip(weights, engine_of(graph).distances(starts, goals, weights), strict=True))
    else:
        for name in weights:
            for column, goal in enumerate(goals):
                found[name][:, column] = distance_to(graph, columns[name], [goal])[np.asarray(starts, int)]
    return TravelMatrix(found["cost"], found["time"], found["energy"])


def constrained_matrix(graph: SearchGraph, query: SearchQuery, starts: Sequence[int], goals: Sequence[int]) -> tuple[Floats, Bools]:
    """``(cost_s, is_proven)``: the cost of the best route that keeps every rule, for every start and goal; inf where there is none.

    ``query`` gives everything but start and goals.
    Where ``query.work_limit`` ends a search, the cost is that of the best route found and ``is_proven`` is ``False``.
    """
    cost = np.full((len(starts), len(goals)), math.inf)
    is_proven = np.ones((len(starts), len(goals)), np.bool_)
    for column, goal in enumerate(goals):
        for row, start in enumerate(starts):
            asked = replace(query, start=start, goals=(goal,))
            verdict = solve(graph, asked)
            is_proven[row, column] = verdict.is_proven
            if verdict.steps is not None:
                cost[row, column] = drive(graph, asked, verdict).cost_s
    return cost, is_proven
