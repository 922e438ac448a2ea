"""Refuges of a route and its checkpoints: where to read the gauge, and which place to turn to while the charge still covers it."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.inputs.charge import display_for
from rollroute.journey import PREFERENCES, Journey, search_graph
from rollroute.network.gazetteer import FoundPlace
from rollroute.output.itinerary import Checkpoint, Spot
from rollroute.search.retreat import Retreats, retreats

CHECKPOINT_EVERY_M = 400.0  # setting: how often the sheet asks for the gauge
FURTHEST_REFUGE_M = 1000.0  # setting: a refuge further off the way than this is only named, not led to
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Retreat:
    """The retreat from one node of the way: its energy, the refuge's node, its length, and where it leaves the way (metres)."""

    energy_wh: float
    refuge: int
    length_m: float
    leave_m: float


def retreats_along(journey: Journey, ends_m: Floats) -> list[Retreat]:
    """The retreat ``b`` from every node of the way, as the search carries it: the nearest refuge, or back to where one was nearer.

    The energies are those of ``Route.retreat_wh``; this adds which refuge it is, how far, and where one leaves the way for it.
    """
    graph = search_graph(journey.network, journey.weights, PREFERENCES[journey.trip.preference])
    field = retreats(graph, journey.query.refuges, journey.query.retreats_until_s)
    back_wh = graph.back_wh(journey.query.retreats_until_s)
    latest = {int(node): float(m) for node, m in zip(journey.route.nodes, ends_m, strict=True)}
    found: list[Retreat] = []
    for position, node in enumerate(journey.route.nodes):
        here = _from_node(journey, field, int(node), float(ends_m[position]), latest)
        if position:
            before, edge = found[-1], int(journey.route.edges[position - 1])
            carried = before.energy_wh + float(back_wh[edge])
            if carried < here.energy_wh:
                length_m = before.length_m + float(ends_m[position] - ends_m[position - 1])
                here = dataclasses.replace(before, energy_wh=carried, length_m=length_m)
        found.append(here)
    return found


def _from_node(journey: Journey, field: Retreats, node: int, at_m: float, way_m: dict[int, float]) -> Retreat:
    """Follow the retreat from a node: its length, and the metre of the last node that it shares with the way."""
    length_m, leave_m, here = 0.0, at_m, node
    while field.onward[here] >= 0:
        following = int(field.onward[here])
        length_m += _step_m(journey, here, following)
        here = following
        leave_m = way_m.get(here, leave_m)
    return Retreat(float(field.energy_wh[node]), int(field.source[node]), length_m, leave_m)


def _step_m(journey: Journey, a: int, b: int) -> float:
    """Length of a piece between two neighbours: pieces run straight."""
    (lon_a, lat_a), (lon_b, lat_b) = journey.network.node_place(a), journey.network.node_place(b)
    east = math.radians(lon_b - lon_a) * math.cos(math.radians((lat_a + lat_b) / 2))
    return 6_371_000.0 * math.hypot(east, math.radians(lat_b - lat_a))


def checkpoints_of(journey: Journey, ends_m: Floats) -> list[Checkpoint]:
    """Where to read the gauge: the least charge with which going on still leaves the rest of the way and the retreat.

    With less the rider turns to the refuge of the retreat while the charge still covers it.
    Late on a way the next halt or the goal is nearer than any refuge behind: then it is said to lie ahead.
    """
    if not journey.query.refuges:
        return []
    route, full = journey.route, journey.scenario.planned_full_wh
    names = dict(reversed(journey.refuge_places))
    backs = retreats_along(journey, ends_m)
    points = []
    for at_m in np.arange(CHECKPOINT_EVERY_M, float(ends_m[-1]) - CHECKPOINT_EVERY_M / 2, CHECKPOINT_EVERY_M):
        position = int(np.searchsorted(ends_m, at_m))
        if position >= len(route.nodes) - 1 or not math.isfinite(route.retreat_wh[position]) or backs[position].refuge not in names:
            continue
        next_halt = min((u.before_edge for u in route.stop_uses if u.before_edge > position), default=len(route.edges))
        onward_wh = float(journey.weights.planned_energy_wh[route.edges[position:next_halt]].sum())
        least = min(1.0, journey.scenario.reserve_soc + max(onward_wh, float(route.retreat_wh[position])) / full)
        if display_for(least, journey.trip.chair.gauge).is_reachable:
            is_ahead = onward_wh < backs[position].energy_wh
            place = _place_ahead(journey, next_halt) if is_ahead else names[backs[position].refuge]
            points.append(_checkpoint(journey, ends_m, position, least, place, None if is_ahead else backs[position]))
    return points


def _place_ahead(journey: Journey, next_halt: int) -> FoundPlace:
    """The halt that begins before edge ``next_halt``, or the goal."""
    uses = [use for use in journey.route.stop_uses if use.before_edge == next_halt]
    return journey.stop_sockets[uses[0].stop].place if uses else journey.trip.goal


def _checkpoint(journey: Journey, ends_m: Floats, position: int, least: float, place: FoundPlace, back: Retreat | None) -> Checkpoint:
    lon, lat = journey.network.node_place(int(journey.route.nodes[position]))
    return Checkpoint(
        at_m=float(ends_m[position]),
        lon=lon,
        lat=lat,
        least_soc=least,
        turn_back_to=place.label,
        turn_back_m=None if back is None else back.length_m,
        leave_way_m=None if back is None else back.leave_m,
        is_ahead=back is None,
    )


def refuges_of(journey: Journey, ends_m: Floats) -> list[Spot]:
    """Every refuge once; where clear ways lead to one off this way, where to leave the way for it and how far it is then."""
    at = {int(node): float(m) for node, m in zip(journey.route.nodes[::-1], ends_m[::-1], strict=True)}
    spots: dict[tuple[str, float, float], Spot] = {}
    for node, place in journey.refuge_places:  # a shelter that is the goal and has sockets is one refuge
        known = spots.get((place.label, place.lon, place.lat))
        if known is None or known.at_m is None:
            at_m, off_m = (at[node], 0.0) if node in at else _branch(journey, node, at)
            spots[place.label, place.lon, place.lat] = Spot(
                label=place.label, lon=place.lon, lat=place.lat, kind=place.kind, at_m=at_m, off_way_m=off_m
            )
    return list(spots.values())


def _branch(journey: Journey, refuge: int, at: dict[int, float]) -> tuple[float | None, float]:
    """Where the shortest clear way to a refuge leaves the way, and its length from there; ``(None, 0)`` where there is none."""
    graph = search_graph(journey.network, journey.weights, PREFERENCES[journey.trip.preference])
    length_m: Floats = np.repeat(journey.network.pieces.length_m, 2).astype(np.float64)
    field = retreats(graph, [refuge], journey.query.retreats_until_s, length_m)
    node = min(at, key=lambda n: field.energy_wh[n])
    off_m = float(field.energy_wh[node])
    return (at[node], off_m) if off_m <= FURTHEST_REFUGE_M else (None, 0.0)
