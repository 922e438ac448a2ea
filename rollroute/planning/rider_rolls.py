"""One rider's rolls to several shelters: the map weighed once, one search for each shelter, and a short reason where there is no way."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import cached_property

import numpy as np
from scipy.sparse.csgraph import dijkstra

from rollroute.errors import DataGapError, NoRouteError
from rollroute.journey import PREFERENCES, Journey, Trip, search_graph, search_query
from rollroute.planning.claims import UNDECIDED
from rollroute.planning.cut_out import WHOLE_UP_TO_NODES, between, cut_out
from rollroute.planning.needs import Needs
from rollroute.planning.roll_ways import CHARGE_STEPS, RollFinder, charging_min, reading_after
from rollroute.planning.town import ChairView, Town, shared_chair
from rollroute.planning.travel import RollWay
from rollroute.search.find import finish, solve
from rollroute.search.problem import Floats, Route, SearchGraph, SearchQuery, Verdict
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import Scenario, plan_scenario
from rollroute.weights.weigh import EdgeWeights


@dataclasses.dataclass(frozen=True)
class _Outlook:
    """A reading of the gauge as the search sees it: the scenario, and the map with energies planned by its factor."""

    scenario: Scenario
    weights: EdgeWeights
    graph: SearchGraph


class RiderRolls:
    """Searches for one rider. Joined to the town's network with everybody else, which changes no way: cutting a piece changes nothing."""

    def __init__(self, town: Town, finder: RollFinder, needs: Needs, view: ChairView, ahead_min: Floats) -> None:
        self.town, self.finder, self.needs, self.view, self.ahead_min = town, finder, needs, view, ahead_min
        self.limit_min = min(needs.roll_limit_min, needs.outdoors_limit_min)
        self._outlooks: dict[tuple[float, float, bool], _Outlook] = {}

    def find(self, shelter: str) -> RollWay:
        """The roll with the charge as it is.

        Raises
        ------
        NoRouteError, DataGapError
            If no route keeps every rule; the message is the reason in a few words.
        """
        return self.finder.roll_way(self._journey(self.finder.trip(self.needs, shelter), shelter, 0.0))

    def find_charged(self, shelter: str) -> RollWay | None:
        """The roll after charging at the start, where mains and a charger allow it, with the least of the steps that is enough."""
        if not (self.town.move.settings.weather.has_mains and self.needs.has_charger):
            return None
        low, high, found = -1, len(CHARGE_STEPS) - 1, self._after(shelter, CHARGE_STEPS[-1])
        while found is not None and high - low > 1:  # the step at ``high`` is enough, the one at ``low`` is not
            middle = (low + high) // 2
            sooner = self._after(shelter, CHARGE_STEPS[middle])
            low, high, found = (middle, high, found) if sooner is None else (low, middle, sooner)
        if found is not None:
            self.finder.charged_first[self.needs.id, shelter] = found.charge_first_min
        return found

    def _after(self, shelter: str, step: float) -> RollWay | None:
        """The roll after charging a share of the battery, if that is enough."""
        minutes = charging_min(self.needs, step)
        trip = self.finder.trip(self.needs, shelter, depart_min=minutes, reading=reading_after(self.needs, minutes))
        try:
            return self.finder.roll_way(self._journey(trip, shelter, minutes), charge_first_min=minutes)
        except (NoRouteError, DataGapError):
            return None

    def _journey(self, trip: Trip, shelter: str, depart_min: float) -> Journey:
        """The cheaper of the best way without charging on the way and the best way with it, as for one trip alone."""
        town = self.town
        sockets = tuple(s for s in trip.sockets if ("shelter", s.place.label) in town.node)
        trip = dataclasses.replace(trip, sockets=sockets)
        journeys, reason = [], None
        for charges in (False, True) if any(s.outlet is not None for s in sockets) else (False,):
            try:
                journeys.append(self._posed(trip, shelter, depart_min, charges=charges))
            except (NoRouteError, DataGapError) as error:
                reason = error
        if not journeys and reason is not None:
            raise reason
        return min(journeys, key=lambda journey: journey.route.cost_s)

    def _posed(self, trip: Trip, shelter: str, depart_min: float, *, charges: bool) -> Journey:
        town, outlook = self.town, self._outlook(trip, depart_min, charges)
        scenario = outlook.scenario
        if scenario.planned_usable_wh <= 0:
            raise DataGapError(
                f"charge {trip.reading.words!r} may be as low as {trip.reading.low:.0%}, the reserve is {scenario.reserve_soc:.0%}: "
                "charge before leaving, or read the gauge again after the chair has rested"
            )
        shelters = (shelter, *(s.place.label for s in trip.sockets))
        nodes = (town.node["rider", self.needs.id], *(town.node["shelter", name] for name in shelters))
        query, stop_sockets, refuges = search_query(trip, scenario, nodes, charges=charges)
        return Journey(
            trip=trip,
            network=town.network,
            weights=outlook.weights,
            drive=calibrate(trip.chair),
            scenario=scenario,
            query=query,
            route=self._route(outlook, query, shelter),
            place_nodes=nodes,
            stop_sockets=stop_sockets,
            refuge_places=refuges,
        )

    def _route(self, outlook: _Outlook, query: SearchQuery, shelter: str) -> Route:
        """The best route, on a large map in the part of it that the limit leaves."""
        full_wh, factor = outlook.scenario.planned_full_wh, outlook.scenario.factors.energy
        least_wh, spare_wh = factor * float(self._least_wh[query.goals[0]]), query.charge_wh - query.reserve_wh
        if least_wh > spare_wh and not query.stops:
            raise NoRouteError(f"the thriftiest way takes {least_wh / full_wh:.0%} of the battery, {spare_wh / full_wh:.0%} can be spent")
        if outlook.graph.n_nodes <= WHOLE_UP_TO_NODES:
            return _best(outlook.graph, query, solve)
        from rollroute.search.compiled.engine import search

        behind_min = self.town.minutes_to(self.view, self.town.node["shelter", shelter])
        part = cut_out(outlook.graph, between(self.ahead_min, behind_min, self.limit_min))
        return part.route(_best(part.graph, part.query(query), search), query)

    def _outlook(self, trip: Trip, depart_min: float, charges: bool) -> _Outlook:
        key = (trip.reading.low, depart_min, charges)
        if key not in self._outlooks:
            chair = shared_chair(self.needs)
            temperature = trip.conditions.planned_temperature_c
            scenario = plan_scenario(
                chair, calibrate(chair), trip.reading, temperature_c=temperature, reserve_soc=trip.reserve_soc, may_charge=charges
            )
            base = self.view.weights
            weights = dataclasses.replace(
                base, planned_energy_wh=base.planned_energy_wh * scenario.factors.energy, closes_s=base.closes_s - 60.0 * depart_min
            )
            graph = search_graph(self.town.network, weights, PREFERENCES[trip.preference])
            self._outlooks[key] = _Outlook(scenario, weights, graph)
        return self._outlooks[key]

    @cached_property
    def _least_wh(self) -> Floats:
        """Least energy from the start to every node, planned by a factor of 1."""
        return np.asarray(dijkstra(self.view.energy, indices=self.town.node["rider", self.needs.id]), np.float64)


def _best(graph: SearchGraph, query: SearchQuery, solver: Callable[[SearchGraph, SearchQuery], Verdict]) -> Route:
    """The best route that keeps every rule.

    Raises
    ------
    NoRouteError
        With the rule that fails, found with at most one more search.
    """
    verdict = solver(graph, query)
    if verdict.steps is not None:
        return finish(graph, query, verdict)
    if not verdict.is_proven:
        raise NoRouteError(UNDECIDED.format(labels=query.work_limit))
    if query.needs_way_back and solver(graph, dataclasses.replace(query, needs_way_back=False)).steps is not None:
        raise NoRouteError("a place that nobody has verified would be driven without the charge, or a sure way, to come back from it")
    raise NoRouteError("the charge does not last, or every way closes before the chair is through")
