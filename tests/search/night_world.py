"""Random small towns by night: shelters, gates and ways with hours over midnight, areas that close, doubtful ways; trips played in them.

The player shares no arithmetic with rollroute: of a journey it takes edges, halts and the planned figures of each edge, and asks of every
moment by the clock what is open then. Hours are kept as they were meant when the town was drawn, not as rollroute read them.
"""

from __future__ import annotations

import datetime as dt
import heapq
import math
import random
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, a_chair, network_of

from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_shelters import ALIASES, read_shelters
from rollroute.inputs.tabular import Table
from rollroute.journey import Journey, Trip
from rollroute.network.gazetteer import FoundPlace
from rollroute.network.network import Network
from rollroute.sockets import place_of, sockets_of

ALWAYS_OPEN = (-math.inf, math.inf)
EPS = 1e-6
GOOD = "highway=footway footway=sidewalk surface=asphalt incline=0%"


@dataclass
class Night:
    """A trip to ask for, and what is true of the town: hours as POSIX times, or as clock times of every day."""

    network: Network
    trip: Trip
    doors: dict[str, tuple[float, float]]  # shelter -> open from, until
    power: dict[str, tuple[float, float]]  # shelter -> sockets live from, until
    way_hours: dict[int, str] = field(default_factory=dict)
    gate_hours: dict[int, str] = field(default_factory=dict)


def night_of(seed: int) -> Night:
    """One town and one trip in it."""
    rng = random.Random(seed)
    text, way_hours, gate_hours, side = _streets(rng)
    network = network_of(text)
    departure = _departure(rng)
    rows, doors, power = _shelters(rng, departure, side)
    shelters, problems = read_shelters(Table("shelters.csv", rows, tuple(ALIASES), ()), departure)
    assert problems == []
    has_mains = rng.random() < 0.7
    conditions = Conditions(departure=departure, temperature_c=15.0, has_mains=has_mains)
    places = [p for s in shelters if (p := place_of(s, [])) is not None]
    start = _corner(rng, side) if rng.random() < 0.7 else rng.choice(places)
    goal = rng.choice(places) if rng.random() < 0.7 else _corner(rng, side)
    chair = a_chair(rated_grade=0.12, loads_w=rng.choice([0.0, 0.0, 40.0]))
    chair = replace(chair, charger=replace(chair.charger, place="on board"))
    trip = Trip(
        start=start, goal=goal, chair=chair, reading=parse_charge(f"{rng.randint(24, 60)}%", chair.gauge), conditions=conditions,
        sockets=sockets_of(shelters, conditions, []), hazards=_hazards(rng, departure, side), start_is_refuge=rng.random() < 0.6,
        preference=rng.choice(["quickest", "surest"]),
    )  # fmt: skip
    return Night(network, trip, doors, power, way_hours, gate_hours)


def _streets(rng: random.Random) -> tuple[str, dict[int, str], dict[int, str], int]:
    """A grid with doubtful stretches, and hours on some ways and gates."""
    side, ways = rng.randint(3, 5), []
    way_hours: dict[int, str] = {}
    gate_hours: dict[int, str] = {}
    lines = [f"n{i + 1} {_metres(i % side)},{_metres(i // side)}" for i in range(side * side)]
    streets = [(i, i + 1) for i in range(side * side) if (i + 1) % side] + [(i, i + side) for i in range(side * (side - 1))]
    for number, (a, b) in enumerate(streets, start=1):
        if rng.random() < 0.1:
            continue
        tags, ids = GOOD + ("" if rng.random() < 0.35 else " width=2"), [a + 1, b + 1]
        if rng.random() < 0.3:
            way_hours[number] = _clock_hours(rng)
            tags += rng.choice([f" opening_hours={way_hours[number]}", f" access:conditional=no_@_({_turned(way_hours[number])})"])
        if rng.random() < 0.15:
            gate = 1000 + number
            gate_hours[gate] = _clock_hours(rng)
            middle = [(_metres(k % side), _metres(k // side)) for k in (a, b)]
            x, y = (sum(c) / 2 for c in zip(*middle, strict=True))
            lines.append(f"n{gate} {x},{y} barrier=gate locked=no width=1.5 opening_hours={gate_hours[gate]}")
            ids.insert(1, gate)
        ways.append(f"w{number} {','.join(map(str, ids))} {tags}")
    return "\n".join(lines + ways), way_hours, gate_hours, side


def _metres(step: int) -> float:
    return 400.0 * step


def _clock_hours(rng: random.Random) -> str:
    """From morning to some time of the evening or of the night."""
    begin, end = rng.choice([5, 6, 7]) * 60, (rng.randint(18 * 4, 27 * 4) * 15) % 1440
    return f"{begin // 60:02d}:{begin % 60:02d}-{end // 60:02d}:{end % 60:02d}"


def _turned(hours: str) -> str:
    begin, end = hours.split("-")
    return f"{end}-{begin}"


def _departure(rng: random.Random) -> dt.datetime:
    """An evening or a night, some with a change of the clocks before morning (Europe, last Sundays of March and October)."""
    zone: dt.tzinfo = dt.timezone(dt.timedelta(hours=rng.randint(-8, 8)))
    day = dt.date(2026, 3, 14)
    if rng.random() < 0.3:
        zone, day = ZoneInfo("Europe/Paris"), rng.choice([dt.date(2026, 3, 28), dt.date(2026, 10, 24)])
    minute = rng.randint(17 * 60, 25 * 60 + 30)
    return dt.datetime.combine(day, dt.time(), zone) + dt.timedelta(minutes=minute)


def _shelters(
    rng: random.Random, departure: dt.datetime, side: int
) -> tuple[list[tuple[int, dict[str, str]]], dict[str, tuple[float, float]], dict[str, tuple[float, float]]]:
    """Rows of a table, and what they mean: most shelters open in the hours around the departure, for some hours."""
    rows, doors, power = [], {}, {}
    for number in range(1, rng.randint(3, 6)):
        name, place = f"Hall {number}", _corner(rng, side)
        opens = departure + dt.timedelta(minutes=15 * rng.randint(-30, 12))
        closes = opens + dt.timedelta(minutes=15 * rng.randint(8, 44)) if rng.random() < 0.7 else None
        row = {"name": name, "lat": str(place.lat), "lon": str(place.lon), "outlets": "3", "opens": f"{opens:%H:%M}"}
        doors[name] = (opens.replace(second=0).timestamp(), math.inf if closes is None else closes.timestamp())
        power[name] = doors[name]
        row |= {} if closes is None else {"closes": f"{closes:%H:%M}"}
        if rng.random() < 0.4:
            fuel_h = rng.randint(1, 12)
            row |= {"has_mains": "no", "generator_watts": "3000", "generator_fuel_h": str(fuel_h)}
            power[name] = (doors[name][0], min(doors[name][1], doors[name][0] + 3600.0 * fuel_h))
        else:
            row["has_mains"] = "yes"
        rows.append((number, row))
    return rows, doors, power


def _corner(rng: random.Random, side: int) -> FoundPlace:
    x, y = (_metres(rng.randrange(side)) for _ in range(2))
    lon, lat = LON + x / M_PER_DEGREE_LON, LAT + y / M_PER_DEGREE_LAT
    return FoundPlace(f"{lat:.5f}, {lon:.5f}", lon, lat, "position")


def _hazards(rng: random.Random, departure: dt.datetime, side: int) -> list[Hazard]:
    found = []
    for number in range(rng.choice([0, 1, 2])):
        corner = _corner(rng, side)
        w, h = 300.0 / M_PER_DEGREE_LON, 300.0 / M_PER_DEGREE_LAT
        ring = ((-w, -h), (w, -h), (w, h), (-w, h), (-w, -h))
        starts = departure.astimezone(dt.UTC) + dt.timedelta(minutes=rng.randint(5, 300))
        found.append(
            Hazard(label=f"area {number}", kind="closed", rings=(tuple((corner.lon + x, corner.lat + y) for x, y in ring),), starts=starts)
        )
    return found


@dataclass
class Outcome:
    """What went wrong, and how much was played: pieces found bad, halts, pieces with hours that were driven."""

    wrong: list[str] = field(default_factory=list)
    n_bad: int = 0
    n_halts: int = 0
    n_timed: int = 0


class Player:
    """One journey, driven by the clock at the planned pace and draw."""

    def __init__(self, night: Night, journey: Journey) -> None:
        self.night, self.journey, self.outcome = night, journey, Outcome()
        network, weights = journey.network, journey.weights
        self.tail, self.head = network.edge_tail.tolist(), network.edge_head.tolist()
        self.seconds, self.wh = weights.planned_time_s.tolist(), weights.planned_energy_wh.tolist()
        self.passable, self.asked = weights.is_passable.tolist(), weights.is_unverified.tolist()
        self.begins = journey.trip.conditions.departure.timestamp()
        self.zone = journey.trip.conditions.departure.tzinfo
        self.node_ids = network.nodes.osm_id.tolist()
        self.closing = self._closings()
        self.hours = self._hours()
        sure = weights.is_back_sure
        self.back_sure = None if sure is None else sure.tolist()
        self.known = {e for e in range(len(self.tail)) if self.passable[e] and not self.asked[e]}
        full, planned = journey.scenario.planned_full_wh, journey.query
        self.charge, self.reserve, self.full = planned.charge_wh, planned.reserve_wh, full

    def _closings(self) -> list[float]:
        from shapely import LineString, Polygon

        network, found = self.journey.network, []
        for piece in range(network.n_pieces):
            ends = [network.node_place(int(n)) for n in (network.edge_tail[2 * piece], network.edge_head[2 * piece])]
            line = LineString(ends)
            times = [h.starts.timestamp() for h in self.night.trip.hazards if h.starts and line.intersects(Polygon(h.rings[0]))]
            found.append(min(times, default=math.inf))
        return found

    def _hours(self) -> list[str | None]:
        """Of each piece the hours of its way."""
        network = self.journey.network
        return [self.night.way_hours.get(int(network.ways.osm_id[way])) for way in network.pieces.way.tolist()]

    def is_open(self, edge: int, at: float) -> bool:
        """Whether the piece is open when its far end is reached at ``at``, and the gate where it begins when it is left."""
        gate = self.night.gate_hours.get(self.node_ids[self.tail[edge]])
        way = self.hours[edge // 2]
        return at <= self.closing[edge // 2] + EPS and self._holds(way, at) and self._holds(gate, at - self.seconds[edge])

    def _holds(self, hours: str | None, at: float) -> bool:
        local = dt.datetime.fromtimestamp(at - EPS, self.zone)
        minute = local.hour * 60 + local.minute + local.second / 60
        begin, end = (0, 1440) if hours is None else (int(t[:2]) * 60 + int(t[3:]) for t in hours.split("-"))
        return begin <= minute < end if begin < end else minute >= begin or minute < end

    def play(self) -> Outcome:
        """Drive to the goal; before each doubtful piece find it bad at its far end, and go back."""
        journey, at = self.journey, self.begins
        for position, edge in enumerate([*journey.route.edges.tolist(), None]):
            for use in (u for u in journey.route.stop_uses if u.before_edge == position):
                at = self._halt(use, at)
            if edge is None:
                break
            self.outcome.n_timed += self.hours[edge // 2] is not None or self.node_ids[self.tail[edge]] in self.night.gate_hours
            arrive, left = at + self.seconds[edge], self.charge - self.wh[edge]
            if not self.is_open(edge, arrive):
                self.outcome.wrong.append(f"piece {edge // 2} is shut when it is driven")
            if self.asked[edge]:
                self._turn_back(edge, arrive, left)
            at, self.charge = arrive, left
            if self.charge < self.reserve - EPS:
                self.outcome.wrong.append("under the reserve")
            if self._back_is_sure(edge):
                self.known.add(edge ^ 1)
        closes = self.night.doors.get(journey.trip.goal.label, ALWAYS_OPEN)[1]
        if at > closes + EPS:
            self.outcome.wrong.append(f"the goal has closed {at - closes:.0f} s before")
        return self.outcome

    def _back_is_sure(self, edge: int) -> bool:
        """As the contract has it: the other way is passable, and what driving answers are the questions of the edge itself."""
        if self.back_sure is not None:
            return bool(self.back_sure[edge]) and self.passable[edge ^ 1]
        return self.passable[edge ^ 1] and (not self.asked[edge ^ 1] or self.asked[edge])

    def _halt(self, use: object, at: float) -> float:
        name = self.journey.stop_sockets[use.stop].place.label  # type: ignore[attr-defined]
        opens, ends = self.night.power[name]
        self.outcome.n_halts += 1
        waits = max(0.0, opens - at)
        self.charge -= waits * self.journey.trip.chair.loads_w / 3600.0
        if self.charge < self.reserve - EPS:
            self.outcome.wrong.append(f"runs down while waiting at {name}")
        leaves = max(at, opens) + use.setup_s + use.charge_s  # type: ignore[attr-defined]
        if leaves > ends + EPS:
            self.outcome.wrong.append(f"charges at {name} until {leaves - ends:.0f} s after its power ends")
        gained = use.leave_wh - use.arrive_wh  # type: ignore[attr-defined]
        self.charge = min(self.full, self.charge + gained)
        return leaves

    def _turn_back(self, edge: int, at: float, charge: float) -> None:
        """Back over the piece, then the thriftiest known way to a refuge that is open on arrival."""
        self.outcome.n_bad += 1
        back = edge ^ 1
        if not self._back_is_sure(edge) or not self.is_open(back, at + self.seconds[back]):
            self.outcome.wrong.append(f"no way back over piece {edge // 2}")
            return
        spent, refuge = self._nearest(self.tail[edge], at + self.seconds[back])
        if refuge is None or charge - self.wh[back] - spent < self.reserve - EPS:
            self.outcome.wrong.append(f"piece {edge // 2} bad: no open refuge in reach")

    def _takes_in(self, label: str, at: float) -> bool:
        opens, closes = self.night.doors.get(label, ALWAYS_OPEN)
        return opens <= at + 60.0 and at <= closes + EPS  # hours are told in whole minutes

    def _nearest(self, start: int, at: float) -> tuple[float, str | None]:
        """The open refuge that the least energy reaches over what is known to be good and open when it is driven."""
        heap, done = [(0.0, at, start)], set()
        ahead: dict[int, list[int]] = {}
        for e in self.known:
            ahead.setdefault(self.tail[e], []).append(e)
        while heap:
            spent, now, node = heapq.heappop(heap)
            open_now = [
                place.label for at_node, place in self.journey.refuge_places if at_node == node and self._takes_in(place.label, now)
            ]
            if open_now:
                return spent, open_now[0]
            if node in done:
                continue
            done.add(node)
            for e in ahead.get(node, ()):
                if self.is_open(e, now + self.seconds[e]):
                    heapq.heappush(heap, (spent + self.wh[e], now + self.seconds[e], self.head[e]))
        return math.inf, None
