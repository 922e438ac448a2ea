"""The least charge to leave with, and what more charge would buy."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from rollroute.search.fields import distance_to
from rollroute.search.find import finish, solve
from rollroute.search.halving import least_amount
from rollroute.search.problem import Route, SearchGraph, SearchQuery

MUCH_WH = 1e9  # stands for "any charge": no battery of a chair comes near


def least_charge(graph: SearchGraph, query: SearchQuery, *, with_stops: bool = True, tolerance_wh: float = 0.01) -> float:
    """The least ``charge_wh`` at departure with which a route keeps every rule.

    inf where none is enough: a battery that holds ``query.capacity_wh`` can't leave with more. NaN where the work limit hides it.
    Found by halving, since more charge never hurts (whatever a chair does with less, it can do with more);
    the true value lies less than ``tolerance_wh`` under the answer.
    Where only the reserve and the energy count, it is the energy of the thriftiest way plus the reserve, exactly.
    """
    asked = query if with_stops else replace(query, stops=())
    if query.reserve_wh > query.capacity_wh:
        return math.inf
    usable = graph.is_passable
    has_times = bool((graph.closes_s[usable] < math.inf).any()) or query.latest_arrival_s < math.inf
    if not (asked.stops or query.needs_way_back or has_times):
        exact = float(distance_to(graph, graph.energy_wh, query.goals)[query.start]) + query.reserve_wh
        return exact if exact <= query.capacity_wh + 1e-9 else math.inf
    most = min(query.capacity_wh, MUCH_WH)

    def is_enough(charge_wh: float) -> bool | None:
        verdict = solve(graph, replace(asked, charge_wh=charge_wh))
        return True if verdict.steps is not None else (False if verdict.is_proven else None)

    return least_amount(is_enough, most, at_least=query.reserve_wh, tolerance=tolerance_wh)


@dataclass(frozen=True, slots=True)
class Offer:
    """What leaving with a charge buys: the best route, ``None`` where there is none (or, not proven, none was found)."""

    charge_wh: float
    route: Route | None
    is_proven: bool


def what_charge_buys(graph: SearchGraph, query: SearchQuery, charges_wh: Sequence[float]) -> tuple[Offer, ...]:
    """The best route for each charge at departure, audited; cost never rises with charge.

    A battery that holds less than a charge asked for is taken to hold that much.
    """
    offers = []
    for charge_wh in charges_wh:
        asked = replace(query, charge_wh=charge_wh, capacity_wh=max(query.capacity_wh, charge_wh))
        verdict = solve(graph, asked)
        route = finish(graph, asked, verdict) if verdict.steps is not None else None
        offers.append(Offer(charge_wh, route, verdict.is_proven))
    return tuple(offers)
