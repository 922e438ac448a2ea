"""Tags that hold only at times: conditional access, opening hours, seasons, at the moment of departure and until they shut a way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.network import Flag
from rollroute.network.tags import Access, Moment, access_of, changes_after, possible_values, read_in_season, read_open
from rollroute.weights.case import Case

OPEN, UNSURE, SHUT = 0, 1, 2
LOOK_AHEAD = dt.timedelta(hours=24)  # setting: no trip with its ways back takes longer


@dataclass(frozen=True, slots=True)
class AtThatTime:
    """``access`` as it stands at the moment, and whether the thing is open at all, for each row asked about."""

    access: npt.NDArray[np.uint8]
    state: npt.NDArray[np.uint8]


def pieces_at(case: Case) -> AtThatTime:
    """For every piece; what carries no rule with a time in it stays as it is."""
    pieces = case.network.pieces
    access, state = pieces.access.astype(np.uint8), np.zeros(case.network.n_pieces, np.uint8)
    rows = np.flatnonzero(case.has(Flag.CONDITIONAL))
    ways, first = np.unique(pieces.way[rows], return_inverse=True)
    for i, way in enumerate(ways):
        here = rows[first == i]
        node = int(pieces.tail[here[0]])
        moment = _moment(case, *case.network.node_place(node))
        access[here], state[here] = read_at(case.network.ways.tags(int(way)), moment)
    return AtThatTime(access, state)


def places_at(case: Case) -> AtThatTime:
    """For every place."""
    places = case.network.places
    access, state = places.access.astype(np.uint8), np.zeros(len(places.kind), np.uint8)
    tags_of = case.network.about.get("conditional_nodes", {})
    for row in np.flatnonzero((places.flags & PlaceFlag.CONDITIONAL) != 0):
        tags = tags_of.get(str(int(places.osm_id[row])))
        if tags is not None:
            access[row], state[row] = read_at(tags, _moment(case, float(places.lon[row]), float(places.lat[row])))
    return AtThatTime(access, state)


def hours_close_s(case: Case) -> npt.NDArray[np.float64]:
    """(n_pieces,) seconds after departure at which a piece, or a gate or door on it, is no longer as open as it was; inf never.

    What is shut or doubtful at departure is judged as it is then. A key that is held opens its gate at any hour.
    """
    network, closes_s = case.network, np.full(case.network.n_pieces, np.inf)
    rows = np.flatnonzero(case.has(Flag.CONDITIONAL))
    ways, first = np.unique(network.pieces.way[rows], return_inverse=True)
    for i, way in enumerate(ways):
        here = rows[first == i]
        moment = _moment(case, *network.node_place(int(network.pieces.tail[here[0]])))
        closes_s[here] = worse_after_s(network.ways.tags(int(way)), moment, case.rules.granted)
    places, tags_of = network.places, network.about.get("conditional_nodes", {})
    at_place_s = np.full(len(places.kind), np.inf)
    shuts = np.isin(places.kind, (PlaceKind.BARRIER, PlaceKind.DOOR)) & ~case.keys_held
    for row in np.flatnonzero(shuts & ((places.flags & PlaceFlag.CONDITIONAL) != 0)):
        tags = tags_of.get(str(int(places.osm_id[row])))
        if tags is not None:
            at_place_s[row] = worse_after_s(tags, _moment(case, float(places.lon[row]), float(places.lat[row])), case.rules.granted)
    met = np.flatnonzero(np.isfinite(at_place_s[network.incidence.place]))
    np.minimum.at(closes_s, network.incidence.piece[met], at_place_s[network.incidence.place[met]])
    return closes_s


def worse_after_s(tags: Mapping[str, str], moment: Moment, granted: frozenset[Access]) -> float:
    """Seconds from ``moment`` until an element is first less open than then; inf if not within ``LOOK_AHEAD``."""
    now = _shutness(tags, moment, granted)
    for when in changes_after(tags, moment, moment.when + LOOK_AHEAD) if now < SHUT else ():
        if _shutness(tags, replace(moment, when=when), granted) > now:
            first = min(when.replace(fold=fold).timestamp() for fold in (0, 1))  # a clock time that a change of the clocks skips or repeats
            return max(0.0, first - moment.when.timestamp())
    return float("inf")


def _shutness(tags: Mapping[str, str], moment: Moment, granted: frozenset[Access]) -> int:
    access, state = read_at(tags, moment)
    if access in granted:
        return state
    return max(state, SHUT if access >= Access.DELIVERY else UNSURE if access >= Access.UNCLEAR else OPEN)


def _moment(case: Case, lon: float, lat: float) -> Moment:
    snowy = True if case.conditions.after_storm else None
    return Moment(case.conditions.departure, is_wet=case.conditions.is_wet, is_snowy=snowy, lon=lon, lat=lat)


def read_at(tags: Mapping[str, str], moment: Moment) -> tuple[int, int]:
    """``(Access, OPEN | UNSURE | SHUT)`` of one element. What can't be decided is never taken as open."""
    access = int(access_of(tags, moment))
    state = OPEN
    for key in ("foot", "access"):
        if len(possible_values(tags, key, moment)[0]) > 1 or possible_values(tags, key, moment)[1]:
            state = UNSURE
    state = max(state, _wheelchair_state(tags, moment))
    for key, reading in (("opening_hours", read_open(tags, moment)), ("seasonal", read_in_season(tags, moment))):
        if key in tags:
            state = max(state, UNSURE if reading.value is None else OPEN if reading.value else SHUT)
    return access, state


def _wheelchair_state(tags: Mapping[str, str], moment: Moment) -> int:
    if "wheelchair:conditional" not in tags:
        return OPEN
    values, problem = possible_values(tags, "wheelchair", moment)
    if problem or len(values) > 1:
        return UNSURE
    return SHUT if "no" in values else OPEN
