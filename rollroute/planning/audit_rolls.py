"""The auditor drives every roll again along the path that the plan states: minutes, charge, halts, closings and the way back.

The path is the plan's own word; everything else is added up here, edge by edge, from the network and the weights of the rider's chair.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import RollrouteError
from rollroute.inputs.charge import ChargeReading
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import Shelter
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_map import AuditMap, ChairMap, sparse
from rollroute.planning.plan import RiderPlan
from rollroute.planning.travel import PathLeg
from rollroute.weights.charging import Outlet, charge_table, charging_power_w, why_no_charging
from rollroute.weights.scenario import Scenario

SLACK_MIN, SLACK_WH, SLACK_SOC = 0.02, 0.05, 0.005  # over rounding in the files, under what a clock or a gauge shows
DOUBT_SLACK = 0.002
SETUP_MIN = 3.0  # assumption: find the socket, plug in, unplug
CHARGING_EFFICIENCY, SLOW_CHARGER = 0.70, 1.5  # lead-acid (common practice); before setting off: half as long again, the bad side
OWN_CHARGER = ("on board", "with the rider", "at the stop")


def roll_violations(book: Book, chart: AuditMap) -> Iterator[Violation]:
    """Every rule that a roll of the plan breaks on the map."""
    for line in chart.by_chair(book.plan.riders):
        if line.way == "roll" and line.shelter in book.shelters and book.time(line.arrive) > book.now:
            try:
                yield from _Drive(book, chart, line).violations()
            except _OffPathError as error:
                yield Violation("path", line.id, str(error))
            except RollrouteError as error:
                yield Violation("rolling", line.id, str(error))


class _OffPathError(Exception):
    """The stated path is none on this map."""


@dataclass(slots=True)
class _State:
    """Where the chair is: minutes after setting off, charge, the retreat that is carried along, the sum of surprisals."""

    minutes: float
    charge_wh: float
    retreat_wh: float
    doubt: float = 0.0
    left_area: float = 0.0
    roads: bool = False
    said: set[str] = field(default_factory=set)


class _Drive:
    """One roll, played once."""

    def __init__(self, book: Book, chart: AuditMap, line: RiderPlan) -> None:
        self.book, self.chart, self.line = book, chart, line
        self.rider: Rider = book.riders[line.id]
        self.leave, self.arrive = book.time(line.leave), book.time(line.arrive)
        self.on_map: ChairMap = chart.chair_map(self.rider, is_dark=book.is_dark(self.leave, self.arrive))
        self.halts = list(line.path[:-1])
        self.scenario: Scenario = chart.scenario(self.rider, self._gauge(), charges=bool(self.halts))
        weights = self.on_map.weights
        self.energy_wh = weights.planned_energy_wh * self.scenario.factors.energy
        self.closes = np.minimum(np.repeat(chart.way_closes, 2), weights.closes_s / 60.0) - self.leave  # minutes after setting off
        self.passable, self.unverified = self.on_map.is_passable, weights.is_unverified
        self.clear = self.passable & ~self.unverified & np.isinf(self.closes)
        home = chart.places.get(("rider", line.id))
        self.areas = [] if home is None else [h for h in chart.areas if h.contains(home.lon, home.lat)]
        self.reserve_wh = self.scenario.reserve_soc * self.scenario.planned_full_wh

    def _gauge(self) -> ChargeReading:
        """The gauge at the start, after the minutes at a socket that the estimates tell."""
        reading, way = self.chart.reading(self.rider), self.book.travel.rolls.get((self.line.id, self.line.shelter or ""))
        minutes = 0.0 if way is None else way.charge_first_min
        if minutes <= 0.0:
            return reading
        battery, watts = self.chart.chair(self.rider).battery, self.rider.charger_watts or self.book.settings.assume.charger_watts
        gained = minutes / 60.0 * watts * CHARGING_EFFICIENCY / SLOW_CHARGER / (battery.nominal_v * battery.capacity_ah_20h)
        low, expected, high = (min(1.0, soc + gained) for soc in (reading.low, reading.expected, reading.high))
        return dataclasses.replace(reading, low=low, expected=expected, high=high)

    def violations(self) -> Iterator[Violation]:
        """What does not hold, in the order of the drive."""
        way = self.book.travel.rolls.get((self.line.id, self.line.shelter or ""))
        if way is not None and way.charge_first_min > 0 and not self._charges_at_home():
            yield self._say("charges before leaving without mains or a charger")
        if not self.line.path:
            raise _OffPathError("states no path; make the plan again")
        if self.line.path[-1].to != self.line.shelter:
            raise _OffPathError(f"ends at {self.line.path[-1].to}, not at {self.line.shelter}")
        refuges = self._refuges()
        field_wh = self._way_to(refuges)
        here = self._node("rider", self.line.id)
        state = _State(0.0, self.scenario.planned_soc * self.scenario.planned_full_wh, float(field_wh[here]))
        if state.charge_wh < self.reserve_wh - SLACK_WH:
            yield self._say("sets off with less charge than the reserve")
        for leg in self.line.path:
            there = self._node("shelter", leg.to)
            for edge in self._edges(leg, here, there):
                yield from self._drive(edge, state, field_wh)
            here = there
            if leg is not self.line.path[-1]:
                yield from self._halt(leg, state)
        yield from self._end(state)

    def _charges_at_home(self) -> bool:
        return self.book.settings.weather.has_mains and self.rider.charger in OWN_CHARGER

    def _say(self, words: str, rule: str = "rolling") -> Violation:
        return Violation(rule, self.line.id, words)

    def _node(self, kind: str, name: str) -> int:
        if (kind, name) not in self.chart.node:
            raise _OffPathError(f"{name} is not on the map: {self.chart.wrong.get((kind, name), 'not in the tables')}")
        return self.chart.node[kind, name]

    def _edges(self, leg: PathLeg, start: int, end: int) -> list[int]:
        """The edges of one leg on the map that places are joined to, straight lines from and to the doors included."""
        wrong = [e for e in leg.edges if not 0 <= e < 2 * self.chart.network.n_pieces]
        if wrong:
            raise _OffPathError(f"edge {wrong[0]} is not on this map")
        first, last = self.chart.line_of(start), self.chart.line_of(end)
        foot = start if first is None else int(self.chart.head[first])
        foot_end = end if last is None else int(self.chart.head[last])
        parts = [part for edge in leg.edges for part in self.chart.parts(edge)]
        starts = [i for i, e in enumerate(parts) if int(self.chart.tail[e]) == foot]
        ends = [i for i, e in enumerate(parts) if int(self.chart.head[e]) == foot_end]
        n_first = len(self.chart.parts(leg.edges[0])) if leg.edges else 0
        if foot == foot_end and not parts:
            driven: list[int] = []
        elif not starts or starts[0] >= n_first or not ends or ends[-1] < starts[0]:
            raise _OffPathError(f"the way to {leg.to} does not lead from door to door")
        else:
            driven = parts[starts[0] : ends[-1] + 1]
        gap = next((b for a, b in pairwise(driven) if self.chart.head[a] != self.chart.tail[b]), None)
        if gap is not None:
            raise _OffPathError(f"the way to {leg.to} is broken before {self._where(gap)}")
        return [*([] if first is None else [first]), *driven, *([] if last is None else [last ^ 1])]

    def _where(self, edge: int) -> str:
        joined = self.chart.joined
        lon, lat = joined.node_place(int(self.chart.head[edge]))
        name = joined.ways.name(int(joined.pieces.way[edge // 2])) or WayKind(int(joined.pieces.kind[edge // 2])).name.lower().replace(
            "_", " "
        )
        return f"{name} near {lat:.5f}, {lon:.5f}"

    def _drive(self, edge: int, state: _State, field_wh: npt.NDArray[np.float64]) -> Iterator[Violation]:
        weights = self.on_map.weights
        if not self.passable[edge]:
            yield self._say(f"{self._where(edge)} is no way for this chair")
            return
        back_wh = self._back_wh(edge)
        if self.unverified[edge]:
            spare = state.charge_wh - self.reserve_wh - float(self.energy_wh[edge]) - back_wh - state.retreat_wh
            if spare < -SLACK_WH and "way back" not in state.said:
                state.said.add("way back")
                yield self._say(f"no sure way back before {self._where(edge)}, which nobody has verified", "way back")
        state.charge_wh -= float(self.energy_wh[edge])
        state.minutes += float(weights.planned_time_s[edge]) / 60.0
        state.doubt += float(weights.surprisal[edge])
        state.retreat_wh = min(float(field_wh[self.chart.head[edge]]), state.retreat_wh + back_wh)
        if self._is_inside(int(self.chart.tail[edge])):
            state.left_area = state.minutes
        state.roads |= int(self.chart.joined.pieces.kind[edge // 2]) in _ROADS
        if state.charge_wh < self.reserve_wh - SLACK_WH and "reserve" not in state.said:
            state.said.add("reserve")
            yield self._say(f"the charge is under the reserve at {self._where(edge)}", "charge")
        if state.minutes > self.closes[edge] + SLACK_MIN and "closed" not in state.said:
            state.said.add("closed")
            yield self._say(f"{self._where(edge)} has closed when the chair gets there", "closed way")

    def _is_inside(self, node: int) -> bool:
        """Whether a node lies in an area that closes round the rider's place."""
        place = self.chart.joined.node_place(node)
        return any(h.contains(*place) for h in self.areas)

    def _back_wh(self, edge: int) -> float:
        """Energy to come back over an edge; inf where that is not sure."""
        back = edge ^ 1
        is_sure = self.passable[back] and math.isinf(self.closes[back]) and (self.unverified[edge] or not self.unverified[back])
        told = self.on_map.weights.is_back_sure  # of a kerb that nobody measured, driven down by a chair that climbs less
        is_sure = is_sure and (told is None or bool(told[edge]))
        return float(self.energy_wh[back]) if is_sure else math.inf

    def _refuges(self) -> list[int]:
        """Where the rider can turn to: the own home if it stays open, the goal, shelters with power for this chair through the night."""
        nodes = [self._node("shelter", self.line.shelter or "")]
        if math.isinf(self.book.closes(self.line.id)):
            nodes.append(self._node("rider", self.line.id))
        with_power = [("shelter", s.name) for s in self.book.move.shelters if self._outlet(s) is not None and self._is_open(s)]
        return nodes + [self.chart.node[key] for key in with_power if key in self.chart.node]

    def _is_open(self, shelter: Shelter) -> bool:
        """Whether a shelter is open when the rider sets off, and stays so, with its power, through the night."""
        return self.book.minute(shelter.opens, math.inf) <= self.leave + SLACK_MIN and self._power_ends(shelter) >= self.book.night_end()

    def _outlet(self, shelter: Shelter) -> Outlet | None:
        """The outlet that a shelter promises this chair; ``None`` where nothing can be promised."""
        n_outlets = sum(c.outlets or 0 for c in shelter.circuits)
        mains = self.book.settings.weather.has_mains if shelter.has_mains is None else shelter.has_mains
        has_generator = bool(shelter.generator_watts and shelter.generator_fuel_h)
        if not n_outlets or shelter.opens is None or not (mains or has_generator) or self.rider.charger not in OWN_CHARGER:
            return None
        night = self.book.settings.night
        amps = min((c.amps for c in shelter.circuits if c.outlets and c.amps), default=self.book.settings.assume.circuit_amps)
        outlet = Outlet(volts=night.mains_v, amps=amps, share_w=None if mains else (shelter.generator_watts or 0.0) / n_outlets)
        why = why_no_charging(self.on_map.chair, outlet, temperature_c=self.chart.conditions(False).planned_temperature_c)
        return outlet if why is None else None

    def _way_to(self, refuges: list[int]) -> npt.NDArray[np.float64]:
        """(n_nodes,) Wh from every node to the nearest refuge over edges that are clear and never close."""
        from scipy.sparse.csgraph import dijkstra

        use = np.flatnonzero(self.clear)
        turned: Any = sparse(self.chart.joined.n_nodes, self.chart.head[use], self.chart.tail[use], self.energy_wh[use])
        return np.asarray(dijkstra(turned, indices=sorted(set(refuges)), min_only=True), np.float64)

    def _halt(self, leg: PathLeg, state: _State) -> Iterator[Violation]:
        """Charging on the way: open, an outlet, the time to plug in, and what the charger gives."""
        shelter = self.book.shelters.get(leg.to)
        outlet = None if shelter is None else self._outlet(shelter)
        if shelter is None or outlet is None:
            yield self._say(f"halts at {leg.to}, where no outlet can be promised", "halt")
            return
        spent = (leg.wait_min, leg.setup_min, leg.charge_min)
        if min(spent) < 0 or leg.setup_min < SETUP_MIN - SLACK_MIN:
            yield self._say(f"halts at {leg.to} with too little time to plug in", "halt")
        begins = self.leave + state.minutes + leg.wait_min
        if begins < self.book.minute(shelter.opens, 0.0) - SLACK_MIN:
            yield self._say(f"halts at {leg.to} before it opens", "halt")
        state.minutes += sum(max(0.0, part) for part in spent)
        if self.leave + state.minutes > self._power_ends(shelter) + SLACK_MIN:
            yield self._say(f"halts at {leg.to} after it closes or its power ends", "halt")
        chair, full_wh = self.on_map.chair, self.scenario.planned_full_wh
        power_w = charging_power_w(chair, outlet)
        curve = charge_table(full_wh, power_w, chemistry=chair.battery.chemistry, loads_w=chair.loads_w)
        state.charge_wh = curve.charge_after_wh(state.charge_wh, 60.0 * max(0.0, leg.charge_min))

    def _power_ends(self, shelter: Shelter) -> float:
        closes = self.book.minute(shelter.closes, math.inf)
        mains = self.book.settings.weather.has_mains if shelter.has_mains is None else shelter.has_mains
        return closes if mains else min(closes, self.book.minute(shelter.opens, 0.0) + 60.0 * (shelter.generator_fuel_h or 0.0))

    def _end(self, state: _State) -> Iterator[Violation]:
        """The sums of the whole way against what the plan and the estimates say."""
        given = self.arrive - self.leave
        if state.minutes > given + SLACK_MIN:
            yield self._say(f"the way takes {state.minutes:.1f} planned min, the plan gives it {given:.1f}")
        if self.areas and self.leave + state.left_area > self.book.closes(self.line.id) + SLACK_MIN:
            yield self._say(f"is out of the area {state.left_area:.1f} min after setting off, it has closed by then", "closed area")
        doubt = 1.0 - math.exp(-state.doubt)
        if doubt > self.line.doubt + DOUBT_SLACK:
            yield self._say(f"the plan says a doubt of {self.line.doubt:.3f}, the way has {doubt:.3f}", "figures")
        way = self.book.travel.rolls.get((self.line.id, self.line.shelter or ""))
        if way is None:
            return
        soc = state.charge_wh / self.scenario.planned_full_wh
        if soc < way.soc_arrival - SLACK_SOC:
            yield self._say(f"arrives with {soc:.0%} of the battery, the estimates say {way.soc_arrival:.0%}", "figures")
        if state.roads and not way.on_carriageway:
            yield self._say("drives on a carriageway, which the estimates do not say", "figures")


_ROADS = {int(k) for k in CARRIAGEWAY_KINDS} - {int(WayKind.DRIVEWAY), int(WayKind.PARKING_AISLE)}
