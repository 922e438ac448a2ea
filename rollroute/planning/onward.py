"""Ways on for whoever is rolling when the news comes: from the next place on their path, with the charge that is left there.

A place is a node of the map, so that it can be told by phone; the chair goes on to it first. The way that they were sent stays as it is
where it still holds, and is taken away where it does not. Whoever charges on the way keeps that way: they are called instead.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.errors import RollrouteError
from rollroute.inputs.charge import ChargeReading
from rollroute.journey import Journey, Posed, Trip, plan_journey, pose
from rollroute.network.gazetteer import FoundPlace
from rollroute.planning.needs import Needs
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.roll_ways import RollFinder
from rollroute.planning.stated_path import edges_along, joined_places, whole_pieces
from rollroute.planning.travel import RollWay, TravelTable

NOTICE_MIN = 1.0  # assumption: a call takes so long to be heard; until then the chair rolls on


def with_onward(travel: TravelTable, finder: RollFinder, earlier: Plan, needs: Sequence[Needs], now: int | None) -> TravelTable:
    """``travel`` with ways on for every rider of ``earlier`` who is rolling at minute ``now``."""
    rolls, known = dict(travel.rolls), {n.id: n for n in needs}
    for line in earlier.riders:
        if now is None or line.way != "roll" or line.id not in known or len(line.path) != 1:
            continue
        leave, arrive = (_minute(finder, text) for text in (line.leave, line.arrive))
        if leave <= now < arrive:
            try:
                _put_ways(rolls, _Ahead(finder, known[line.id], line, leave, now), arrive - leave)
            except RollrouteError:
                continue  # the place or the path is no longer on the map: they are called
    return dataclasses.replace(travel, rolls=rolls)


def _minute(finder: RollFinder, text: str | None) -> float:
    return math.nan if text is None else finder.move.settings.minute(dt.datetime.fromisoformat(text))


def _put_ways(rolls: dict[tuple[str, str], RollWay], ahead: _Ahead, minutes: float) -> None:
    own = (ahead.line.id, ahead.line.shelter or "")
    known = rolls.get(own)
    if not ahead.holds():
        rolls.pop(own, None)
    elif known is None or known.path != ahead.line.path:
        rolls[own] = ahead.as_sent(minutes)
    for shelter in ahead.shelters():
        if shelter != own[1] or own not in rolls:
            try:
                rolls[own[0], shelter] = ahead.way_to(shelter)
            except RollrouteError:
                rolls.pop((own[0], shelter), None)  # a way from home is none for whoever has left


@dataclass(frozen=True, slots=True)
class _Place:
    """The next place: position in the path, base edges up to it, minute of the move, Wh and surprisal used until then."""

    after: int
    edges: tuple[int, ...]
    node: int
    minute: float


class _Ahead:
    """The path that somebody is on, weighed with the news, and the next place on it."""

    def __init__(self, finder: RollFinder, needs: Needs, line: RiderPlan, leave: float, now: int) -> None:
        self.finder, self.needs, self.line, self.leave = finder, needs, line, leave
        way = finder.trip(needs, line.shelter or "", depart_min=leave)
        self.trip = dataclasses.replace(way, sockets=())
        self.joined, nodes = joined_places(finder.network, (self.trip.start, self.trip.goal))
        self.posed: Posed = pose(self.joined, nodes, self.trip, charges=False)
        self.whole = whole_pieces(self.joined, finder.network)
        self.edges = np.array(list(edges_along(self.joined, self.whole, (nodes[0], nodes[1]), line.path[0].edges)), np.int64)
        if not len(self.edges):
            raise RollrouteError("the path is not on this map")
        self.time_after_s = np.cumsum(self.posed.weights.planned_time_s[self.edges])
        self.place = self._next_place(now)

    def _next_place(self, now: int) -> _Place | None:
        """The first node of the map that the chair reaches once it can have heard; ``None`` where only the goal is left."""
        for i, edge in enumerate(self.edges[:-1]):
            node, minute = int(self.joined.edge_head[edge]), self.leave + float(self.time_after_s[i]) / 60.0
            if node < self.finder.network.n_nodes and minute >= now + NOTICE_MIN:
                bases = [2 * int(self.whole[e // 2]) + int(e) % 2 for e in self.edges[: i + 1] if self.whole[e // 2] >= 0]
                once = [b for n, b in enumerate(bases) if n == 0 or bases[n - 1] != b]
                return _Place(i + 1, tuple(once), node, minute)
        return None

    def holds(self) -> bool:
        """Whether what is left of the path can still be driven in time, with what is known now."""
        weights, left = self.posed.weights, slice(self.place.after if self.place else len(self.edges) - 1, None)
        edges = self.edges[left]
        return bool(weights.is_passable[edges].all() and (self.time_after_s[left] <= weights.closes_s[edges]).all())

    def as_sent(self, minutes: float) -> RollWay:
        """The way as the earlier plan has it."""
        scenario, line = self.posed.scenario, self.line
        left_wh = scenario.planned_soc * scenario.planned_full_wh - float(self.posed.weights.planned_energy_wh[self.edges].sum())
        return RollWay(
            minutes=minutes, minutes_expected=minutes, soc_arrival=left_wh / scenario.planned_full_wh, doubt=-math.log1p(-line.doubt),
            unverified=line.unverified, retreat=line.retreat, path=line.path,
        )  # fmt: skip

    def shelters(self) -> list[str]:
        """Shelters on the map that the rider goes to; none where only the goal is left."""
        found = self.finder.located.found
        names = [s.name for s in self.finder.move.shelters if ("shelter", s.name) in found and self.needs.rider.goes_to(s.name)]
        return [] if self.place is None else names

    def way_to(self, shelter: str) -> RollWay:
        """The whole way to a shelter: as far as the next place as before, and on from there."""
        assert self.place is not None
        place, weights = self.place, self.posed.weights
        try:
            trip, kept = self._trip_from(place, shelter, 0.0), 0.0
            journey = plan_journey(self.finder.network, trip)
        except RollrouteError:
            kept = self._way_home()
            if not math.isfinite(kept):
                raise
            trip = self._trip_from(place, shelter, kept)
            journey = plan_journey(self.finder.network, trip)
        onward = self.finder.roll_way(journey)
        self.finder.onward[self.needs.id, shelter] = trip
        driven, before = self.edges[: place.after], place.minute - self.leave
        legs = [dataclasses.replace(leg, arrive_min=round(leg.arrive_min + before, 4)) for leg in onward.path]
        legs[0] = dataclasses.replace(legs[0], edges=(*place.edges, *legs[0].edges))
        return dataclasses.replace(
            onward,
            minutes=before + onward.minutes,
            minutes_expected=float(weights.time_s[driven].sum()) / 60.0 + onward.minutes_expected,
            soc_arrival=min(onward.soc_arrival + kept, self._soc_after(journey, kept)),
            doubt=float(weights.surprisal[driven].sum()) + onward.doubt,
            on_carriageway=True,  # whoever walks along is there already: the stricter count
            latest_departure_min=None,
            leave_area_min=0.0 if self.trip.start_is_refuge else before + (onward.leave_area_min or 0.0),
            retreat=self.trip.start.label if kept else onward.retreat,
            path=tuple(legs),
            from_min=place.minute,
        )

    def _trip_from(self, place: _Place, shelter: str, kept: float) -> Trip:
        """The trip from the next place. With ``kept``, the share of the battery that the way home takes: the place is a refuge then."""
        lon, lat = self.joined.node_place(place.node)
        start = FoundPlace(f"{lat:.5f}, {lon:.5f}", lon, lat, "position", node=place.node)
        trip = self.finder.trip(self.needs, shelter, depart_min=place.minute, reading=self._gauge(self.edges[: place.after], kept))
        return dataclasses.replace(trip, start=start, start_is_refuge=kept > 0.0)

    def _soc_after(self, journey: Journey, kept: float) -> float:
        """Planned share of the battery at the end, in the scenario of the whole way; what is charged on the way is left to the journey."""
        if journey.route.stop_uses:
            return math.inf
        assert self.place is not None
        scenario = self.posed.scenario
        factor = scenario.factors.energy / journey.scenario.factors.energy
        left = self._gauge(self.edges[: self.place.after], kept).low + kept
        return left - journey.route.energy_wh * factor / scenario.planned_full_wh

    def _way_home(self) -> float:
        """Share of the battery that the driven way takes backwards, to a home that stays open; inf where that is not sure.

        What has been driven answers what it asked, not what the way back asks beside that: a kerb that nobody measured may let a chair down
        and never up. Set aside, this charge makes the next place as good as a refuge: every rule that holds then holds with the charge that
        is there and the way home behind it.
        """
        assert self.place is not None
        if not self.trip.start_is_refuge:
            return math.inf
        return float(self.posed.graph.back_wh()[self.edges[: self.place.after]].sum()) / self.posed.scenario.planned_full_wh

    def _gauge(self, driven: npt.NDArray[np.int64], kept: float) -> ChargeReading:
        """The gauge at the next place: what it showed at the start, less what the way takes and what is kept for the way home."""
        weights, scenario, reading = self.posed.weights, self.posed.scenario, self.trip.reading
        spent = float(weights.energy_wh[driven].sum()) / scenario.expected_full_wh
        low = scenario.planned_soc - kept - float(weights.planned_energy_wh[driven].sum()) / scenario.planned_full_wh
        expected, high = (max(0.0, soc - spent) for soc in (reading.expected, reading.high))
        low = max(0.0, min(low, expected))
        return ChargeReading(low=low, expected=expected, high=max(high, expected), words=f"on the way, {reading.words}")
