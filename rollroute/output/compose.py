"""From a ``Journey`` to its ``Itinerary``: every fact along the way, gathered for map, sheet and message."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.tracks import figures_not_stated
from rollroute.journey import Journey
from rollroute.network.network import Flag, Network
from rollroute.network.ranks import Rank
from rollroute.network.rooms import building_of_pieces, buildings_of
from rollroute.output.compose_facts import checked_of, known_of, prior_checks
from rollroute.output.compose_levels import plans_of
from rollroute.output.compose_places import landmarks_near, points_of, questions_of, rest_spots, van_spots
from rollroute.output.compose_retreat import checkpoints_of, refuges_of
from rollroute.output.compose_scene import backdrop_near, barred_near, hazards_of
from rollroute.output.itinerary import (
    ChairFacts,
    ChargingHalt,
    Conditions,
    Itinerary,
    Piece,
    Question,
    Spot,
    Spread,
)
from rollroute.sockets import Socket

BACKDROP_MARGIN_M = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What the papers say of their making."""

    made_at: dt.datetime
    command: str
    code: str


def compose_itinerary(journey: Journey, stamp: Stamp) -> Itinerary:
    """Gather everything that paper, map and message need of ``journey``.

    Raises
    ------
    InputError
        If start and goal join the map at one spot, so that there is no way to draw.
    """
    network, route, weights = journey.network, journey.route, journey.weights
    edges = route.edges
    if len(edges) == 0:
        where = f"{journey.trip.start.label} to {journey.trip.goal.label}"
        raise InputError(f"{where}: both lie at one spot of the map, so there is no way to go. Give another start or goal.")
    ends_m = np.concatenate([[0.0], np.cumsum(network.pieces.length_m[edges // 2])])
    questions = questions_of(journey, ends_m)
    pieces = _pieces(journey, ends_m, questions)
    expected_end_soc = pieces[-1].soc_after.expected if pieces else journey.scenario.expected_soc
    time_s = _time_spread(journey)
    departure_s = journey.trip.conditions.departure.timestamp()
    rise_m = network.pieces.grade[edges // 2] * network.pieces.length_m[edges // 2] * np.where(edges % 2 == 0, 1.0, -1.0)
    return Itinerary(
        code=stamp.code,
        start=_spot(journey, journey.trip.start, 0.0),
        goal=_spot(journey, journey.trip.goal, float(ends_m[-1])),
        chair=_chair(journey),
        conditions=_conditions(journey),
        length_m=float(ends_m[-1]),
        climb_m=float(np.nansum(np.maximum(rise_m, 0.0))),
        descent_m=float(np.nansum(np.maximum(-rise_m, 0.0))),
        unverified_m=float(network.pieces.length_m[edges // 2][weights.is_unverified[edges]].sum()),
        time_s=time_s,
        energy_wh=Spread(expected=float(weights.energy_wh[edges].sum()), planned=route.energy_wh),
        soc_start=Spread(expected=journey.scenario.expected_soc, planned=journey.scenario.planned_soc),
        soc_goal=Spread(expected=expected_end_soc, planned=route.charge_end_wh / journey.scenario.planned_full_wh),
        reserve_soc=journey.scenario.reserve_soc,
        usable_wh=Spread(expected=journey.scenario.expected_usable_wh, planned=journey.scenario.planned_usable_wh),
        arrive_time=Spread(expected=departure_s + time_s.expected, planned=departure_s + time_s.planned),
        doubt=1.0 - math.exp(-route.surprisal),
        is_proven=route.is_proven,
        gap=None if route.is_proven else route.gap,
        pieces=pieces,
        questions=questions,
        points=points_of(journey, ends_m, questions),
        halts=_halts(journey, ends_m),
        checkpoints=checkpoints_of(journey, ends_m),
        refuges=refuges_of(journey, ends_m),
        van_spots=van_spots(journey, ends_m),
        rest_spots=rest_spots(journey, ends_m),
        landmarks=landmarks_near(journey, ends_m),
        barred=barred_near(journey),
        hazards=hazards_of(journey),
        backdrop=backdrop_near(journey, BACKDROP_MARGIN_M),
        map_date=network.about.get("map_date"),
        made_at=stamp.made_at.isoformat(timespec="minutes"),
        command=stamp.command,
        sources=list(network.about.get("sources", [])),
        notes=_notes(journey),
        plans=plans_of(journey, ends_m),
        prior_checks=prior_checks(journey),
        checked=checked_of(journey),
    )


def _spot(journey: Journey, place: object, at_m: float) -> Spot:
    from rollroute.network.gazetteer import FoundPlace

    assert isinstance(place, FoundPlace)
    node = journey.start_node if at_m == 0.0 else journey.goal_node
    flags = journey.network.pieces.flags
    edges = journey.route.edges
    off_m = 0.0
    if len(edges):
        piece = int(edges[0 if node == journey.start_node else -1]) // 2
        off_m = float(journey.network.pieces.length_m[piece]) if flags[piece] & Flag.OFF_MAP else 0.0
    return Spot(label=place.label, lon=place.lon, lat=place.lat, kind=place.kind, level=place.level, at_m=at_m, off_way_m=off_m)


def _chair(journey: Journey) -> ChairFacts:
    chair = journey.trip.chair
    return ChairFacts(
        label=chair.label,
        width_m=chair.width_m,
        length_m=chair.length_m,
        total_mass_kg=chair.total_mass_kg,
        speed_m_s=chair.speed_m_s,
        rated_grade=chair.rated_grade,
        rated_obstacle_m=chair.rated_obstacle_m,
        gauge_kind=chair.gauge.kind,
        gauge_bars=chair.gauge.n_bars,
        battery_age_years=chair.battery.age_years,
        chemistry=chair.battery.chemistry,
        crr_hard_floor=journey.drive.crr_hard_floor,
        rated_obstacle_down_m=chair.rated_obstacle_down_m,
        wheel=chair.wheel,
        not_stated=list(figures_not_stated(chair)),
    )


def _conditions(journey: Journey) -> Conditions:
    now = journey.trip.conditions
    return Conditions(
        departure=now.departure.isoformat(timespec="minutes"),
        temperature_c=now.temperature_c,
        is_wet=now.is_wet,
        is_dark=now.is_dark,
        has_mains=now.has_mains,
    )


def _time_spread(journey: Journey) -> Spread:
    standing_s = sum(use.wait_s + use.setup_s + use.charge_s for use in journey.route.stop_uses)
    expected = float(journey.weights.time_s[journey.route.edges].sum()) + standing_s
    return Spread(expected=expected, planned=journey.route.time_s)


def _pieces(journey: Journey, ends_m: np.ndarray, questions: list[Question]) -> list[Piece]:
    network = journey.network
    soc = _soc_after(journey)
    numbers = _question_numbers(journey, questions, ends_m)
    houses, owners = buildings_of(network), building_of_pieces(network)
    found = []
    for position, edge in enumerate(journey.route.edges):
        piece = _piece(journey, position, (float(ends_m[position]), float(ends_m[position + 1])), soc[position], numbers[position])
        owner = owners.get(int(network.pieces.way[edge // 2]))
        found.append(piece if owner is None else dataclasses.replace(piece, building=houses[owner].name))
    return found


def _soc_after(journey: Journey) -> list[Spread]:
    """State of charge at the end of every piece; charging halts lift both cases by the same energy share."""
    scenario, route = journey.scenario, journey.route
    gained_wh = np.zeros(len(route.edges))
    for use in route.stop_uses:
        gained_wh[use.before_edge :] += use.leave_wh - use.arrive_wh
    used_wh = np.cumsum(journey.weights.energy_wh[route.edges])
    expected = scenario.expected_soc - (used_wh - gained_wh) / scenario.expected_full_wh
    planned = route.charge_after_wh / scenario.planned_full_wh
    return [Spread(expected=float(min(1.0, e)), planned=float(p)) for e, p in zip(expected, planned, strict=True)]


def _question_numbers(journey: Journey, questions: list[Question], ends_m: np.ndarray) -> list[list[int]]:
    numbers: list[list[int]] = [[] for _ in journey.route.edges]
    for question in questions:
        first = int(np.searchsorted(ends_m, question.at_m + 1e-6, side="left")) - 1
        last = int(np.searchsorted(ends_m, question.at_m + question.length_m - 1e-6, side="left")) - 1
        for position in range(max(0, first), min(len(numbers) - 1, max(first, last)) + 1):
            if journey.weights.questions[journey.route.edges[position]]:
                numbers[position].append(question.number)
    driven: dict[int, set[int]] = {}  # a piece that is driven twice carries its questions both times
    for edge, found in zip(journey.route.edges, numbers, strict=True):
        driven.setdefault(int(edge) // 2, set()).update(found)
    return [sorted(driven[int(edge) // 2]) if journey.weights.questions[edge] else [] for edge in journey.route.edges]


def _way_word(network: Network, piece: int) -> str:
    """The kind of way as a person on it sees it: a street whose sidewalk is a tag is driven on its sidewalk."""
    from rollroute.network.kinds import WayKind

    flags = int(network.pieces.flags[piece])
    if flags & Flag.OFF_MAP:
        return "off_map"
    if flags & Flag.OVER_AREA:
        return "area"
    return "sidewalk" if flags & Flag.STREET_SIDEWALK else WayKind(int(network.pieces.kind[piece])).name.lower()


def _piece(journey: Journey, position: int, span_m: tuple[float, float], soc: Spread, numbers: list[int]) -> Piece:
    from rollroute.network.tags import surface_word

    network, weights = journey.network, journey.weights
    edge = int(journey.route.edges[position])
    p = network.pieces
    piece, sign = edge // 2, 1.0 if edge % 2 == 0 else -1.0
    flags = int(p.flags[piece])
    is_off_map = bool(flags & Flag.OFF_MAP)
    way = int(p.way[piece])
    return Piece(
        coordinates=[network.node_place(int(network.edge_tail[edge])), network.node_place(int(network.edge_head[edge]))],
        from_m=span_m[0],
        to_m=span_m[1],
        way_id=int(network.ways.osm_id[way]),
        way_kind=_way_word(network, piece),
        name=None if is_off_map else street_name(network, way),
        verdict="unverified" if weights.is_unverified[edge] else "clear",
        grade=_number(sign * p.grade[piece]),
        grade_sd=_number(p.grade_sd[piece]),
        grade_rank="estimated" if p.grade_rank[piece] == Rank.INFERRED and p.grade_sd[piece] > 0 else rank_word(p.grade_rank[piece]),
        cross_slope=_number(p.cross_slope[piece]),
        width_m=_number(p.width_m[piece]),
        width_rank=rank_word(p.width_rank[piece]),
        surface=surface_word(int(p.surface[piece])),
        surface_rank=rank_word(p.surface_rank[piece]),
        level=_number(p.level[piece]),
        building=None,
        is_bridge=bool(flags & Flag.BRIDGE),
        is_tunnel=bool(flags & Flag.TUNNEL),
        is_lit=True if flags & Flag.LIT else False if flags & Flag.UNLIT else None,
        time_s=Spread(expected=float(weights.time_s[edge]), planned=float(weights.planned_time_s[edge])),
        energy_wh=Spread(expected=float(weights.energy_wh[edge]), planned=float(weights.planned_energy_wh[edge])),
        soc_after=soc,
        questions=numbers,
        facts=known_of(journey, edge),
    )


def street_name(network: Network, way: int) -> str | None:
    """The name of the way, or of the street that a sidewalk or crossing belongs to where the network found one."""
    return network.ways.name(way)


def rank_word(rank: int) -> str:
    """The word of a rank: such as ``measured`` or ``tag_number``."""
    return Rank(int(rank)).name.lower()


def _number(value: float) -> float | None:
    return None if math.isnan(float(value)) else float(value)


def _halts(journey: Journey, ends_m: np.ndarray) -> list[ChargingHalt]:
    return [_halt(journey, i, float(ends_m[use.before_edge])) for i, use in enumerate(journey.route.stop_uses)]


def _halt(journey: Journey, index: int, at_m: float) -> ChargingHalt:
    use = journey.route.stop_uses[index]
    socket: Socket = journey.stop_sockets[use.stop]
    full = journey.scenario.planned_full_wh
    before = _expected_soc_before(journey, index)
    gain = (use.leave_wh - use.arrive_wh) / journey.scenario.expected_full_wh
    departure = journey.trip.conditions.departure
    return ChargingHalt(
        label=socket.place.label,
        lon=socket.place.lon,
        lat=socket.place.lat,
        at_m=at_m,
        arrive_soc=Spread(expected=before, planned=use.arrive_wh / full),
        leave_soc=Spread(expected=min(1.0, before + gain), planned=use.leave_wh / full),
        setup_s=use.setup_s,
        charge_s=use.charge_s,
        wait_s=use.wait_s,
        arrive_time=(departure + dt.timedelta(seconds=use.arrive_s)).isoformat(timespec="minutes"),
        leave_time=(departure + dt.timedelta(seconds=use.leave_s)).isoformat(timespec="minutes"),
        outlet=socket.words,
        charger=journey.trip.chair.charger.place,
    )


def _expected_soc_before(journey: Journey, index: int) -> float:
    use = journey.route.stop_uses[index]
    used = float(journey.weights.energy_wh[journey.route.edges[: use.before_edge]].sum())
    gained = sum(u.leave_wh - u.arrive_wh for u in journey.route.stop_uses[:index])
    return journey.scenario.expected_soc - (used - gained) / journey.scenario.expected_full_wh


def _notes(journey: Journey) -> list[str]:
    from rollroute.network.kinds import CARRIAGEWAY_KINDS

    network, edges = journey.network, journey.route.edges
    pieces = edges // 2
    notes = []
    on_road = np.isin(network.pieces.kind[pieces], [int(k) for k in CARRIAGEWAY_KINDS])
    on_road &= (network.pieces.flags[pieces] & (Flag.STREET_SIDEWALK | Flag.OFF_MAP)) == 0
    if on_road.any():
        notes += ["on_carriageway", "escort_needed"]
    if journey.trip.conditions.temperature_c is None:
        notes.append("temperature_assumed")
    if np.isnan(network.pieces.grade[pieces]).any():
        notes.append("grades_unknown")
    notes += [f"heights_{kind}" for kind in network.about.get("terrain_warnings", [])]
    if not journey.trip.start_is_refuge:
        notes.append("start_no_refuge")
    if journey.goal_is_shut:
        notes.append("goal_opens_later")
    if journey.goal_areas:
        notes.append("goal_area_closes")
    return notes
