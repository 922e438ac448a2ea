"""One rider, one chair, one way: join the places to the network, weigh it, search it.

The stages in their order; what each one computes stands in its own package.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollroute.errors import DataGapError
from rollroute.inputs.chair import Chair
from rollroute.inputs.charge import ChargeReading
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_hazards import Hazard
from rollroute.network.attach import attach, joint_at, nearest_joint
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.network import Network
from rollroute.search.find import find_route, finish, solve
from rollroute.search.problem import ChargeCurve, ChargingStop, ProvenNoRouteError, Route, SearchGraph, SearchQuery
from rollroute.search.retreat import retreat_ends
from rollroute.sockets import Socket
from rollroute.weights.case import Weighing
from rollroute.weights.charging import charge_table, charging_power_w, why_no_charging
from rollroute.weights.closures import closing_times_s
from rollroute.weights.energy import Drive, calibrate
from rollroute.weights.scenario import Scenario, plan_scenario
from rollroute.weights.scouting import SCOUT_S
from rollroute.weights.weigh import EdgeWeights, weigh

OFF_MAP_LIMIT_M = 150.0  # setting: a place further from any mapped way is refused rather than guessed at
SETUP_S = 180.0  # assumption: find the socket, plug in, unplug; three minutes
FIRST_LOOK_S = 2 * 3600.0  # setting: ways back stay open so long after departure; where that is not enough, longer
MORE_TIME = 1.2  # setting: and then by so much more than the last retreat took, for the way may change


@dataclass(frozen=True, slots=True, kw_only=True)
class Preference:
    """What a second of driving is weighed against: ``discomfort`` per second of discomfort, ``doubt_s`` seconds per unit of surprisal.

    ``scout_s``: seconds of detour not to need a place that somebody should look at first (``rollroute.weights.scouting``).
    """

    discomfort: float
    doubt_s: float
    scout_s: float = SCOUT_S


# Assumptions: how long a detour a person takes for comfort, and to be surer. One unverified place with d = 0.1 has surprisal 0.105.
PREFERENCES = {
    "quickest": Preference(discomfort=0.1, doubt_s=300.0),
    "gentlest": Preference(discomfort=2.0, doubt_s=900.0),
    "surest": Preference(discomfort=0.5, doubt_s=7200.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """What is asked: who goes where, with what charge, when.

    ``start_is_refuge``: the start stays open and powered, so that coming back to it is a retreat.
    ``refuges_until``: refuges are open from departure until then; if not given, when a retreat of this trip gets there.
    """

    start: FoundPlace
    goal: FoundPlace
    chair: Chair
    reading: ChargeReading
    conditions: Conditions
    sockets: Sequence[Socket] = ()
    hazards: Sequence[Hazard] = ()
    preference: str = "surest"
    start_is_refuge: bool = True
    refuges_until: dt.datetime | None = None
    needs_way_back: bool = True
    reserve_soc: float | None = None
    rules: Weighing | None = None
    work_limit: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Journey:
    """The answer to a ``Trip``, with everything that explains it.

    ``network`` holds the places as nodes; ``stop_sockets[i]`` is the socket of ``query.stops[i]``.
    """

    trip: Trip
    network: Network
    weights: EdgeWeights
    drive: Drive
    scenario: Scenario
    query: SearchQuery
    route: Route
    place_nodes: tuple[int, ...]  # of the start, the goal, and each of the trip's sockets
    stop_sockets: tuple[Socket, ...]
    refuge_places: tuple[tuple[int, FoundPlace], ...]

    @property
    def start_node(self) -> int:
        """The node of the start."""
        return self.place_nodes[0]

    @property
    def goal_node(self) -> int:
        """The node of the goal."""
        return self.place_nodes[1]

    @property
    def arrives(self) -> dt.datetime:
        """The planned arrival."""
        return self.trip.conditions.departure + dt.timedelta(seconds=self.route.time_s)

    @property
    def goal_is_shut(self) -> bool:
        """Whether the goal opens only after the planned arrival."""
        return self.trip.goal.opens is not None and self.trip.goal.opens > self.arrives

    @property
    def goal_areas(self) -> list[Hazard]:
        """Areas round the goal that are closed on arrival or close later: nobody can stay there."""
        goal = self.trip.goal
        stay_shut = [h for h in self.trip.hazards if h.kind in ("closed", "deadline") and (h.ends is None or h.ends > self.arrives)]
        return [hazard for hazard in stay_shut if hazard.contains(goal.lon, goal.lat)]


def plan_journey(network: Network, trip: Trip) -> Journey:
    """Find the best route for ``trip`` that keeps every rule.

    Raises
    ------
    InputError
        A place is too far from any way.
    NoRouteError
        Proven: no route keeps every rule; the reasons say which one failed.
    DataGapError
        The charge of the chair is so little known that nothing can be promised.
    """
    joined, nodes = _join_places(network, trip)
    asked = [pose(joined, nodes, trip, charges=False)]
    if any(socket.outlet is not None for socket in trip.sockets):
        asked.append(pose(joined, nodes, trip, charges=True))
    posed, route = _best(asked, trip) if trip.refuges_until is not None else _best_by_the_clock(asked, trip)
    return journey_of(trip, joined, nodes, posed, route)


def _best(asked: Sequence[Posed], trip: Trip) -> tuple[Posed, Route]:
    """The cheapest of the best ways of ``asked``."""
    verdicts = [(posed, solve(posed.graph, posed.query)) for posed in asked if posed.scenario.planned_usable_wh > 0]
    routes = [(posed, finish(posed.graph, posed.query, verdict)) for posed, verdict in verdicts if verdict.steps is not None]
    if not routes:
        routes = [(asked[-1], _route_or_reason(asked[-1], trip))]
    return min(routes, key=lambda pair: pair[1].cost_s)


def _best_by_the_clock(asked: Sequence[Posed], trip: Trip) -> tuple[Posed, Route]:
    """The best way whose every retreat ends at a refuge that is open by then, over ways that are.

    Hours of refuges are no rule of the search: a refuge that is shut when a retreat gets there is left out, and the search asked again.
    """
    open_s, shut = FIRST_LOOK_S, frozenset[int]()
    while True:
        posed, route = _best([_by_the_clock(p, open_s, shut) for p in asked], trip)
        ends = retreat_ends(posed.graph, posed.query, route)
        last_s = max((arrives_s for _, arrives_s in ends), default=0.0)
        found_shut = {node for node, arrives_s in ends if not _takes_in(posed, trip, node, arrives_s)}
        if last_s <= open_s and not found_shut:
            return posed, route
        open_s, shut = MORE_TIME * last_s if last_s > open_s else open_s, shut | found_shut


def _by_the_clock(posed: Posed, open_s: float, shut: frozenset[int]) -> Posed:
    """The same question with ways back that stay open for ``open_s``, and without the refuges at nodes ``shut``."""
    refuges = tuple((node, place) for node, place in posed.refuges if node not in shut)
    query = dataclasses.replace(posed.query, retreats_until_s=open_s, refuges=tuple(node for node, _ in refuges))
    return dataclasses.replace(posed, query=query, refuges=refuges)


def _takes_in(posed: Posed, trip: Trip, node: int, arrives_s: float) -> bool:
    """Whether a refuge at ``node`` is open ``arrives_s`` after departure, as far as hours are known."""
    here = [place for where, place in posed.refuges if where == node]
    hours = [(place.opens or trip.conditions.departure, place.closes) for place in here]
    return any(_seconds_after(trip, opens) <= arrives_s <= _seconds_after(trip, closes) for opens, closes in hours)


def journey_of(trip: Trip, joined: Network, nodes: Sequence[int], posed: Posed, route: Route) -> Journey:
    """A route with everything that explains it; ``nodes`` are those of the trip's places on ``joined``."""
    return Journey(
        trip=trip,
        network=joined,
        weights=posed.weights,
        drive=calibrate(trip.chair),
        scenario=posed.scenario,
        query=posed.query,
        route=route,
        place_nodes=tuple(nodes),
        stop_sockets=posed.stop_sockets,
        refuge_places=posed.refuges,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """A trip as the search sees it: the scenario that is planned with, the weighed network, the question and its stops and refuges."""

    scenario: Scenario
    weights: EdgeWeights
    graph: SearchGraph
    query: SearchQuery
    stop_sockets: tuple[Socket, ...]
    refuges: tuple[tuple[int, FoundPlace], ...]


def pose(network: Network, nodes: Sequence[int], trip: Trip, *, charges: bool) -> Posed:
    """``trip`` on a network that its places are joined to, with charging on the way or without.

    Who may charge is planned with a battery and a use of energy that are both bad, since energy from a socket does not shrink with a
    weak battery. Who does not charge needs less: so each trip is posed both ways, and nobody waits at a socket without need.

    nodes : of the start, the goal, and each of ``trip.sockets``
    """
    drive = calibrate(trip.chair)
    temperature_c = trip.conditions.planned_temperature_c
    scenario = plan_scenario(trip.chair, drive, trip.reading, temperature_c=temperature_c, reserve_soc=trip.reserve_soc, may_charge=charges)
    closes_s = closing_times_s(network, trip.hazards, trip.conditions.departure)
    weights = weigh(network, trip.chair, drive, scenario.factors, trip.conditions, rules=trip.rules, closes_s=closes_s)
    query, stop_sockets, refuges = search_query(trip, scenario, nodes, charges=charges)
    graph = search_graph(network, weights, PREFERENCES[trip.preference])
    return Posed(scenario=scenario, weights=weights, graph=graph, query=query, stop_sockets=stop_sockets, refuges=refuges)


def _route_or_reason(posed: Posed, trip: Trip) -> Route:
    """Ask once more, for the reason why there is no route."""
    if posed.scenario.planned_usable_wh <= 0:
        raise DataGapError(
            f"charge {trip.reading.words!r}: may be as low as {trip.reading.low:.0%}, the reserve is {posed.scenario.reserve_soc:.0%}. "
            "Charge before leaving, or read the gauge again after the chair has rested."
        )
    try:
        return find_route(posed.graph, posed.query)
    except ProvenNoRouteError as error:
        where = f"{trip.start.label} to {trip.goal.label}"
        where += "" if trip.goal.closes is None else f", which closes at {trip.goal.closes:%Y-%m-%d %H:%M}"
        raise ProvenNoRouteError(f"{where}: proven, no route keeps every rule", failures=error.failures) from error


def _join_places(network: Network, trip: Trip) -> tuple[Network, list[int]]:
    """Start, goal and sockets as nodes, in this order; a socket too far from any way is refused like any place."""
    usable = weigh_joinable(network)
    found = [trip.start, trip.goal, *(s.place for s in trip.sockets)]
    joints = [
        nearest_joint(network, p.lon, p.lat, limit_m=OFF_MAP_LIMIT_M, usable=usable) if p.node is None else joint_at(network, p.node)
        for p in found
    ]
    return attach(network, [(p.lon, p.lat, joint) for p, joint in zip(found, joints, strict=True)])


def weigh_joinable(network: Network) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Pieces that a place may be joined to: anything but steps, lifts and roads where nobody walks."""
    from rollroute.network.kinds import JOINABLE_KINDS

    return np.isin(network.pieces.kind, [int(k) for k in JOINABLE_KINDS])


def search_graph(network: Network, weights: EdgeWeights, preference: Preference) -> SearchGraph:
    """The search's view of weighed edges: planned figures, and the cost that the preference makes of them."""
    cost_s = weights.planned_time_s + preference.discomfort * weights.discomfort_s + preference.doubt_s * weights.surprisal
    cost_s[weights.to_scout] += preference.scout_s
    n_edges = len(cost_s)
    return SearchGraph(
        n_nodes=network.n_nodes,
        tail=network.edge_tail,
        head=network.edge_head,
        time_s=weights.planned_time_s,
        cost_s=cost_s,
        energy_wh=weights.planned_energy_wh,
        surprisal=weights.surprisal,
        is_passable=weights.is_passable,
        is_unverified=weights.is_unverified,
        closes_s=weights.closes_s,
        reverse=np.arange(n_edges, dtype=np.int32) ^ 1,
        is_back_sure=weights.is_back_sure,
    )


def search_query(
    trip: Trip, scenario: Scenario, nodes: Sequence[int], *, charges: bool
) -> tuple[SearchQuery, tuple[Socket, ...], tuple[tuple[int, FoundPlace], ...]]:
    """The search's question about ``trip``, the socket of each of its stops, and the refuges with their nodes.

    nodes : of the start, the goal, and each of ``trip.sockets``; a place with a stop is a refuge whether or not the trip ``charges`` there
    """
    departure = trip.conditions.departure
    full_wh = scenario.planned_full_wh
    stops, stop_sockets = [], []
    refuges: list[tuple[int, FoundPlace]] = []
    if trip.start_is_refuge:
        refuges.append((nodes[0], trip.start))
    for node, socket in zip(nodes[2:], trip.sockets, strict=True):
        stop = charging_stop(trip, socket, node, full_wh)
        if stop is not None:
            stops.append(stop)
            stop_sockets.append(socket)
            refuges.append((node, dataclasses.replace(socket.place, opens=socket.opens, closes=socket.closes)))
    goal_has_power = any(node == nodes[1] or s.place.label == trip.goal.label for node, s in zip(nodes[2:], trip.sockets, strict=True))
    if goal_has_power or trip.goal.is_shelter:
        refuges.append((nodes[1], trip.goal))
    refuges = [(node, place) for node, place in refuges if _stays_open(place, departure, trip.refuges_until)]
    query = SearchQuery(
        start=nodes[0],
        goals=(nodes[1],),
        charge_wh=full_wh * scenario.planned_soc,
        reserve_wh=full_wh * scenario.reserve_soc,
        capacity_wh=full_wh,
        stops=tuple(stops) if charges else (),
        refuges=tuple(node for node, _ in refuges),
        needs_way_back=trip.needs_way_back,
        latest_arrival_s=_seconds_after(trip, trip.goal.closes),
        work_limit=trip.work_limit,
    )
    return query, tuple(stop_sockets) if charges else (), tuple(refuges)


def _stays_open(place: FoundPlace, departure: dt.datetime, until: dt.datetime | None) -> bool:
    """Whether a place is open at departure, as far as its hours are known, and stays so ``until``; ``None`` asks for nothing."""
    is_open = place.opens is None or place.opens <= departure
    return until is None or (is_open and (place.closes is None or place.closes >= until))


def _seconds_after(trip: Trip, moment: dt.datetime | None) -> float:
    """Seconds from departure to a moment, negative where it is over, inf where there is none; a change of the clocks counts as it is."""
    return math.inf if moment is None else moment.timestamp() - trip.conditions.departure.timestamp()


def charging_stop(trip: Trip, socket: Socket, node: int, full_wh: float) -> ChargingStop | None:
    """The stop that ``socket`` makes for this chair, or ``None`` where nothing can be promised.

    Devices on the chair's battery run down while it waits outside: with them no stop counts that opens only after departure.
    """
    outlet = socket.outlet
    opens_s = 0.0 if socket.opens is None else max(0.0, _seconds_after(trip, socket.opens))
    closes_s = _seconds_after(trip, socket.closes)
    if outlet is None or closes_s < opens_s or (opens_s > 0.0 and trip.chair.loads_w > 0.0):
        return None
    if why_no_charging(trip.chair, outlet, temperature_c=trip.conditions.planned_temperature_c) is not None:
        return None
    table = charge_table(full_wh, charging_power_w(trip.chair, outlet), chemistry=trip.chair.battery.chemistry, loads_w=trip.chair.loads_w)
    return ChargingStop(
        node=node,
        curve=ChargeCurve(tuple(table.breakpoints_s.tolist()), tuple(table.breakpoints_wh.tolist())),
        setup_s=SETUP_S,
        opens_s=opens_s,
        closes_s=closes_s,
        label=socket.place.label,
    )
