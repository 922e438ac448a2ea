"""Levels of buildings that the way uses, as plans: rooms, doors, lifts, stairs and the stretches driven on each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.journey import Journey
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.kinds import STAIR_KINDS, WayKind
from rollroute.network.network import Flag, Lines, Network
from rollroute.network.rooms import building_of_pieces, buildings_of, rooms_of
from rollroute.network.tags import DoorKind, read_levels
from rollroute.output.itinerary import LevelPlan, LonLat, PlanMark

DIGITS = 7  # about 1 cm: a door is a metre wide


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Neighbouring pieces of the way inside one building, on the levels that they touch."""

    line: list[LonLat]
    from_m: float
    to_m: float


def plans_of(journey: Journey, ends_m: npt.NDArray[np.float64]) -> list[LevelPlan]:
    """One plan for every level of every building on the way, in the order of the way."""
    network = journey.network
    owners = building_of_pieces(network)
    used: dict[tuple[int, float], list[_Stretch]] = {}
    last: dict[tuple[int, float], int] = {}
    for position, edge in enumerate(journey.route.edges):
        way = int(network.pieces.way[edge // 2])
        if way not in owners:
            continue
        ends = [_place(network.node_place(int(network.edge_tail[edge]))), _place(network.node_place(int(network.edge_head[edge])))]
        for level in levels_of(network, way):
            key = (owners[way], level)
            stretches = used.setdefault(key, [])
            begin, end = float(ends_m[position]), float(ends_m[position + 1])
            if last.get(key) == position - 1:
                before = stretches.pop()
                stretches.append(_Stretch([*before.line, ends[1]], before.from_m, end))
            else:
                stretches.append(_Stretch(ends, begin, end))
            last[key] = position
    return [_plan(journey, building, level, stretches) for (building, level), stretches in used.items()]


def levels_of(network: Network, way: int) -> tuple[float, ...]:
    """All levels that a way touches; the ground where an indoor way names none."""
    return read_levels(network.ways.tags(way)).value or (0.0,)


def _plan(journey: Journey, building: int, level: float, stretches: list[_Stretch]) -> LevelPlan:
    network = journey.network
    house = buildings_of(network)[building]
    owners = building_of_pieces(network)
    ways = [way for way, owner in owners.items() if owner == building and level in levels_of(network, way)]
    pieces = np.flatnonzero(np.isin(network.pieces.way, ways))
    return LevelPlan(
        building=house.name,
        level=level,
        outline=_ring(network.backdrop["building"], house.row),
        rooms=[
            (room.kind, room.name or None, _ring(network.backdrop["room"], room.row))
            for room in rooms_of(network)
            if room.building == building and room.level == level
        ],
        marks=_marks(journey, pieces),
        stairs=_lines(network, pieces[np.isin(network.pieces.kind[pieces], [int(k) for k in STAIR_KINDS])]),
        ramps=_lines(network, pieces[_is_ramp(network, pieces)]),
        way=[stretch.line for stretch in stretches],
        way_m=[(stretch.from_m, stretch.to_m) for stretch in stretches],
    )


def _is_ramp(network: Network, pieces: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    """A way that is no stairs and no lift and touches more than one level."""
    kind = network.pieces.kind[pieces]
    moves = np.isin(kind, [int(k) for k in STAIR_KINDS | {WayKind.ELEVATOR}]) | ((network.pieces.flags[pieces] & Flag.OVER_AREA) != 0)
    between = np.array([len(levels_of(network, int(way))) > 1 for way in network.pieces.way[pieces]], bool)
    return np.asarray(between & ~moves, np.bool_)


def _marks(journey: Journey, pieces: npt.NDArray[np.intp]) -> list[PlanMark]:
    """Doors and lifts met on ``pieces``, each once; on the way are those that a driven piece meets."""
    network = journey.network
    touch, places = network.incidence, network.places
    met = np.unique(touch.place[np.isin(touch.piece, pieces)])
    driven = set(touch.place[np.isin(touch.piece, journey.route.edges // 2)].tolist())
    marks = []
    for place in met:
        kind = PlaceKind(int(places.kind[place]))
        if kind not in (PlaceKind.DOOR, PlaceKind.LIFT):
            continue
        lon, lat = _place((float(places.lon[place]), float(places.lat[place])))
        width, word = float(places.width_m[place]), int(places.word[place])
        marks.append(
            PlanMark(
                kind=kind.name.lower(),
                lon=lon,
                lat=lat,
                width_m=None if math.isnan(width) else round(width, 3),
                word=DoorKind(word).name.lower() if kind is PlaceKind.DOOR and word else None,
                needs_power=bool(int(places.flags[place]) & PlaceFlag.NEEDS_POWER),
                is_on_way=int(place) in driven,
            )
        )
    return marks


def _lines(network: Network, pieces: npt.NDArray[np.intp]) -> list[list[LonLat]]:
    return [[_place(network.node_place(int(end))) for end in (network.pieces.tail[p], network.pieces.head[p])] for p in pieces]


def _ring(lines: Lines, row: int) -> list[LonLat]:
    return [_place((float(x), float(y))) for x, y in lines.points[lines.offsets[row] : lines.offsets[row + 1]]]


def _place(place: LonLat) -> LonLat:
    return round(place[0], DIGITS), round(place[1], DIGITS)
