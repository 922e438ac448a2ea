"""One rider's rolls to shelters, by the route search with all its gates."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from rollroute.inputs.charge import ChargeReading
from rollroute.inputs.move_folder import Move
from rollroute.journey import Journey, Trip, plan_journey
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.network.network import Network
from rollroute.planning.needs import REFILL_EFFICIENCY, Needs
from rollroute.planning.places import Located
from rollroute.planning.rooms import night_end_min
from rollroute.planning.stated_path import journey_along, stated_path
from rollroute.planning.town import chair_for, conditions_for, reading_for, reserve_for, rules_for
from rollroute.planning.travel import PathLeg, RollWay
from rollroute.sockets import Socket

CHARGE_STEPS = (0.15, 0.3, 0.5, 0.75)  # tried in turn where a socket at the start could make the way possible
MOST_LABELS = 400_000
LABELS_KEPT = 5
STRETCH_DEG = 0.001  # about 100 m: what lies nearer together on one street is looked at in one go


class RollFinder:
    """Finds rolls; keeps no network copies, so that a journey can be made again when its papers are written."""

    def __init__(self, network: Network, move: Move, located: Located, sockets: Sequence[Socket]) -> None:
        self.network, self.move, self.located, self.sockets = network, move, located, sockets
        effort, goals = move.settings.effort, min(len(move.shelters), move.settings.effort.rolls_per_rider)
        share = effort.roll_labels // max(1, goals * len(move.riders))
        self.work_limit = min(MOST_LABELS, max(effort.least_roll_labels, share))
        self.onward: dict[tuple[str, str], Trip] = {}  # (rider, shelter) -> the trip from the place where somebody under way is turned
        self.charged_first: dict[tuple[str, str], float] = {}  # (rider, shelter) -> minutes at a socket before setting off

    def trip(self, needs: Needs, shelter: str, *, depart_min: float = 0.0, reading: ChargeReading | None = None) -> Trip:
        """The trip of a rider to a shelter, leaving at a minute of the move."""
        departure = self.move.start + dt.timedelta(minutes=depart_min)
        return Trip(
            start=self.located.found["rider", needs.id],
            goal=self.located.found["shelter", shelter],
            chair=chair_for(needs),
            reading=reading or reading_for(needs),
            conditions=conditions_for(self.move, departure),
            sockets=self.sockets if needs.has_charger else (),
            hazards=self.move.hazards,
            start_is_refuge=not math.isfinite(self._closes(needs)),
            refuges_until=self.move.start + dt.timedelta(minutes=night_end_min(self.move)),
            rules=rules_for(self.move, self.located.found),
            work_limit=self.work_limit,
            reserve_soc=reserve_for(self.move, needs.chair),
        )

    def journey(
        self, needs: Needs, shelter: str, depart_min: float, *, charge_first_min: float | None = None, path: Sequence[PathLeg] = ()
    ) -> Journey:
        """The journey at its planned departure, for map and sheet: along ``path``, where one is given.

        ``charge_first_min``: minutes at a socket before it; as it was found, if not given.
        Of somebody who is turned on the way, the journey begins where and when they are turned.
        """
        if (needs.id, shelter) in self.onward:
            return plan_journey(self.network, self.onward[needs.id, shelter])
        charged = self.charged_first.get((needs.id, shelter), 0.0) if charge_first_min is None else charge_first_min
        reading = reading_after(needs, charged) if charged > 0 else None
        trip = self.trip(needs, shelter, depart_min=depart_min, reading=reading)
        found = plan_journey(self.network, trip)
        if not path or _edges(stated_path(found, self.network)) == _edges(path):
            return found
        return journey_along(self.network, trip, path, found=found.route)

    def roll_way(self, journey: Journey, *, charge_first_min: float = 0.0) -> RollWay:
        """What the plan needs of a journey."""
        route, weights = journey.route, journey.weights
        edges = np.asarray(route.edges)
        halts_s = sum(u.wait_s + u.setup_s + u.charge_s for u in route.stop_uses)
        kinds = journey.network.pieces.kind[edges // 2]
        roads = [int(k) for k in CARRIAGEWAY_KINDS if k not in (WayKind.DRIVEWAY, WayKind.PARKING_AISLE)]
        slack_s = (weights.closes_s[edges] - np.asarray(route.time_after_s)).min(initial=math.inf)
        slack_s = min([float(slack_s), *(journey.query.stops[u.stop].closes_s - u.leave_s for u in route.stop_uses)])
        return RollWay(
            minutes=route.time_s / 60.0,
            minutes_expected=(float(weights.time_s[edges].sum()) + halts_s) / 60.0,
            soc_arrival=route.charge_end_wh / journey.scenario.planned_full_wh,
            doubt=float(route.surprisal),
            on_carriageway=bool(np.isin(kinds, roads).any()),
            latest_departure_min=charge_first_min + slack_s / 60.0 if math.isfinite(slack_s) else None,
            leave_area_min=self._leave_area_min(journey),
            charge_first_min=charge_first_min,
            unverified=self._unverified(journey),
            retreat=journey.refuge_places[0][1].label if journey.refuge_places else None,
            path=stated_path(journey, self.network),
        )

    def _closing(self, lon: float, lat: float) -> list[int]:
        return [i for i, h in enumerate(self.move.hazards) if h.kind == "closed" and not h.is_road and h.contains(lon, lat)]

    def _closes(self, needs: Needs) -> float:
        place = self.located.found["rider", needs.id]
        moments = [self.move.hazards[i].starts for i in self._closing(place.lon, place.lat)]
        return min((0.0 if m is None else self.move.settings.minute(m) for m in moments), default=math.inf)

    def _leave_area_min(self, journey: Journey) -> float | None:
        """Minutes until the last piece inside the closing area round the start is behind."""
        start = journey.trip.start
        areas = self._closing(start.lon, start.lat)
        if not areas:
            return 0.0
        last = 0.0
        for node, after_s in zip(journey.route.nodes[1:], journey.route.time_after_s, strict=True):
            lon, lat = journey.network.node_place(int(node))
            if any(self.move.hazards[i].contains(lon, lat) for i in areas):
                last = float(after_s)
        following = [float(t) for t in journey.route.time_after_s if t > last]
        return (following[0] if following else last) / 60.0

    def _unverified(self, journey: Journey) -> tuple[str, ...]:
        """The weakest places in words: street and kind, most doubtful first; one for each stretch of a street."""
        edges = np.asarray(journey.route.edges)
        open_edges = edges[journey.weights.is_unverified[edges]]
        order = np.argsort(-journey.weights.surprisal[open_edges], kind="stable")
        labels, said = [], set()
        for e in open_edges[order]:
            piece = int(e) // 2
            name = journey.network.ways.name(int(journey.network.pieces.way[piece]))
            lon, lat = journey.network.node_place(int(journey.network.edge_head[e]))
            kind = WayKind(int(journey.network.pieces.kind[piece])).name.lower().replace("_", " ")
            stretch = (name or kind, round(lat / STRETCH_DEG), round(lon / STRETCH_DEG))
            if stretch not in said:
                said.add(stretch)
                labels.append(f"{name or kind} near {lat:.5f}, {lon:.5f}")
        return tuple(labels[:LABELS_KEPT])


def _edges(path: Sequence[PathLeg]) -> list[tuple[str, tuple[int, ...]]]:
    return [(leg.to, leg.edges) for leg in path]


def charging_min(needs: Needs, step: float) -> float:
    """Minutes at a socket for a part of the battery, with a slow charger (bad side: half as long again)."""
    return step * needs.battery_wh / REFILL_EFFICIENCY / needs.charger_w * 60.0 * 1.5


def reading_after(needs: Needs, minutes: float) -> ChargeReading:
    """The gauge after minutes at a socket."""
    base, step = reading_for(needs), minutes / charging_min(needs, 1.0)
    low, expected, high = (min(1.0, soc + step) for soc in (base.low, base.expected, base.high))
    return ChargeReading(low=low, expected=expected, high=high, words=f"after charging, {base.words}")
