"""What there is besides the best way: the least charge to leave with, what more charge buys, and ways that trade one thing for another."""

from __future__ import annotations

import dataclasses
import math
import operator
from collections.abc import Iterator, Sequence

from rollroute.journey import Journey, pose
from rollroute.search.least import least_charge, what_charge_buys
from rollroute.search.pareto import pareto_set
from rollroute.search.problem import Route, SearchGraph, SearchQuery

MOST_WAYS = 12  # setting: more than fit on a page help nobody choose
MOST_LABELS = 30_000  # setting: some seconds of work


def alternatives(journey: Journey) -> Iterator[str]:
    """Lines of plain text: charges and ways, all in planned figures."""
    posed = [pose(journey.network, journey.place_nodes, journey.trip, charges=charges) for charges in (False, True)]
    same = {"refuges": journey.query.refuges, "retreats_until_s": journey.query.retreats_until_s, "work_limit": MOST_LABELS}
    without, charging = [(p.graph, dataclasses.replace(p.query, **same)) for p in posed]  # type: ignore[arg-type]
    graph, query = charging if charging[1].stops else without
    least = least_charge(*without, tolerance_wh=0.1)
    yield f"Least charge to leave with, planned, charging nowhere: {_charge(least, query)}"
    if query.stops:
        with_stops = least_charge(graph, query, tolerance_wh=0.1)  # planned with a weaker battery, so it may be more
        helps = with_stops < least or math.isnan(least)
        yield f"The same, charging on the way where it helps: {_charge(with_stops, query) if helps else 'no less'}"
    yield from _offers(graph, query)
    yield from _ways(graph, query)


def _offers(graph: SearchGraph, query: SearchQuery) -> Iterator[str]:
    shares = sorted({query.charge_wh / query.capacity_wh, *(0.25, 0.5, 0.75, 1.0)})
    yield "What leaving with more or less charge buys:"
    for offer in what_charge_buys(graph, query, [share * query.capacity_wh for share in shares]):
        open_end = "" if offer.is_proven else " (a better one may exist: the work limit was met)"
        nothing = "no way" if offer.is_proven else "no way found within the work limit"
        yield f"  {_charge(offer.charge_wh, query)}: {nothing if offer.route is None else _sums(offer.route) + open_end}"


def _ways(graph: SearchGraph, query: SearchQuery) -> Iterator[str]:
    found = pareto_set(graph, query, most_routes=MOST_WAYS, most_labels=MOST_LABELS)
    yield "Ways of which none is better in time, energy and doubt at once:"
    yield from (f"  {line}" for line in _undominated(found.routes))
    if not found.is_complete:
        yield "  and more: the list was cut off here; the quickest stand in it."


def _charge(charge_wh: float, query: SearchQuery) -> str:
    if math.isnan(charge_wh):
        return "not known within the work limit"
    return (
        "no charge is enough" if math.isinf(charge_wh) else f"{charge_wh:.0f} Wh, {math.ceil(100 * charge_wh / query.capacity_wh - 1e-9)} %"
    )


def _undominated(routes: Sequence[Route]) -> list[str]:
    """Lines of routes that no other beats in the figures as they are printed, each once."""
    said = {_figures(route): _sums(route) for route in reversed(routes)}
    return [line for own, line in sorted(said.items()) if not any(o != own and all(map(operator.le, o, own)) for o in said)]


def _figures(route: Route) -> tuple[int, int, int]:
    """Minutes, watt-hours and doubt in per cent, whole, as they are printed."""
    return math.ceil(route.time_s / 60), round(route.energy_wh), round(100.0 * (1.0 - math.exp(-route.surprisal)))


def _sums(route: Route) -> str:
    stops = len(route.stop_uses)
    charging = f", {stops} stop{'s' if stops > 1 else ''} to charge" if stops else ""
    return "{} min, {} Wh, doubt {} %".format(*_figures(route)) + charging
