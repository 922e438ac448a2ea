"""The auditor's own map: places found from the inputs and joined to the network, closings, and the weights of a rider's chair.

Nothing here comes from the modules that plan: only the inputs, the network and the weights of its edges are used.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.charge import ChargeReading, parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import Shelter
from rollroute.network.attach import attach, joint_at, nearest_joint
from rollroute.network.gazetteer import FoundPlace, find_place
from rollroute.network.kinds import JOINABLE_KINDS
from rollroute.network.network import Flag, Network
from rollroute.network.rooms import RoomFinder
from rollroute.network.tags import Access
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.plan import RiderPlan
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors, Scenario, default_reserve_soc, plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
JOINED_WITHIN_M = 150.0  # a place further from any way than this is on no map
SAME_PLACE_M = 1.0
KEPT_CHAIRS = 8  # on a city each one holds some 25 MB: ask for riders with the same chair one after another (``by_chair``)


@dataclass(frozen=True, slots=True)
class _Known:
    """A shelter as ``find_place`` reads it."""

    name: str
    lon: float
    lat: float
    level: float | None
    node: int | None


@dataclass(frozen=True, slots=True)
class ChairMap:
    """The edges of ``AuditMap.joined`` for one chair; energies are planned by a factor of 1."""

    chair: Chair
    weights: EdgeWeights
    is_passable: Bools


class AuditMap:
    """``joined``: the network with every place of the move; ``node``: of (kind, name); ``foot``: where its straight line meets a way."""

    def __init__(self, network: Network, book: Book) -> None:
        self.network, self.book, self.move = network, book, book.move
        self.wrong: dict[tuple[str, str], str] = {}
        self.places = dict(self._find_all())
        usable = np.isin(network.pieces.kind, [int(k) for k in JOINABLE_KINDS])
        joints = {}
        for key, place in self.places.items():
            try:
                near = None if place.node is None else joint_at(network, place.node)
                joints[key] = near or nearest_joint(network, place.lon, place.lat, limit_m=JOINED_WITHIN_M, usable=usable)
            except InputError as error:
                self.wrong[key] = str(error)
        self.joined, numbers = attach(network, [(self.places[k].lon, self.places[k].lat, j) for k, j in joints.items()])
        self.node = dict(zip(joints, numbers, strict=True))
        self.tail, self.head = self.joined.edge_tail, self.joined.edge_head
        self.areas = [h for h in self.move.hazards if h.kind == "closed" and not h.is_road and not self._is_over(h)]
        self.is_line = (self.joined.pieces.flags & Flag.OFF_MAP) != 0
        self.road_closes = self._closings("closed")
        self.way_closes = self._closings("closed", "deadline")
        self._chairs: dict[tuple[Chair, bool], ChairMap] = {}
        self._sat: dict[str, Chair] = {}

    def _find_all(self) -> Iterator[tuple[tuple[str, str], FoundPlace]]:
        addresses, rooms = [tuple(a) for a in self.network.about.get("addresses", [])], RoomFinder(self.network)
        known: list[_Known] = []

        def find(kind: str, name: str, at: tuple[float | None, float | None], text: str | None) -> FoundPlace | None:
            try:
                if at[0] is not None and at[1] is not None:
                    return FoundPlace(name, at[0], at[1], "position")
                return find_place(text or "", addresses=addresses, shelters=known, rooms=rooms)
            except InputError as error:
                self.wrong[kind, name] = str(error)
                return None

        for shelter in self.move.shelters:
            place = find("shelter", shelter.name, self._door(shelter), shelter.place)
            if place is not None:
                known.append(_Known(shelter.name, place.lon, place.lat, place.level, place.node))
                yield ("shelter", shelter.name), place
        others = [("rider", r.id, (r.lon, r.lat), r.place) for r in self.move.riders]
        others += [("van", v.id, (v.start_lon, v.start_lat), v.place) for v in self.move.vans]
        others += [("escort", e.id, (e.lon, e.lat), e.place) for e in self.move.escorts]
        for kind, name, at, text in others:
            place = find(kind, name, at, text)
            if place is not None:
                yield (kind, name), place

    def _door(self, shelter: Shelter) -> tuple[float | None, float | None]:
        """A shelter's position: the node that it calls its entrance, else its point; none where its place names a room."""
        if ":" in (shelter.place or ""):
            return None, None
        kind, _, number = (shelter.entrance or "").partition("/")
        if kind == "node" and number.isdigit() and len(rows := np.flatnonzero(self.network.nodes.osm_id == int(number))):
            return self.network.node_place(int(rows[0]))
        return shelter.lon, shelter.lat

    def place_violations(self) -> Iterator[Violation]:
        """Places of the travel estimates that are not where the inputs say."""
        for (kind, name), place in self.places.items():
            told = self.book.travel.places.get(name) if kind in ("rider", "shelter") else None
            if told is not None and metres(told, (place.lon, place.lat)) > SAME_PLACE_M:
                yield Violation(
                    "place", name, f"the estimates have it {metres(told, (place.lon, place.lat)):.0f} m from where the inputs say"
                )

    def _closings(self, *kinds: str) -> Floats:
        """(n_pieces,) minute at which a piece closes: it touches an area, which then stays closed; inf never."""
        import shapely

        network, closes = self.joined, np.full(self.joined.n_pieces, math.inf)
        active = [h for h in self.move.hazards if h.kind in kinds and not self._is_over(h)]
        if active:
            lon, lat = network.nodes.lon, network.nodes.lat
            ends = np.stack([np.stack([lon[n], lat[n]], -1) for n in (network.pieces.tail, network.pieces.head)], 1)
            lines = shapely.linestrings(ends)
            for hazard in active:
                for ring in hazard.rings:
                    touched = shapely.intersects(lines, shapely.Polygon(ring))
                    closes[touched] = np.minimum(closes[touched], self.book.minute(hazard.starts, 0.0))
        return closes

    def _is_over(self, hazard: Hazard) -> bool:
        return hazard.ends is not None and hazard.ends <= self.move.start

    def by_chair(self, lines: Iterable[RiderPlan]) -> list[RiderPlan]:
        """Lines of known riders, those with the same chair one after another, else in their order."""
        known = [line for line in lines if line.id in self.book.riders]
        chairs = [self._chair_or_none(self.book.riders[line.id]) for line in known]
        return [known[i] for i in sorted(range(len(known)), key=lambda i: chairs.index(chairs[i]))]

    def _chair_or_none(self, rider: Rider) -> Chair | None:
        try:
            return self.chair(rider)
        except InputError:  # said where the rider is looked at
            return None

    def chair_map(self, rider: Rider, *, is_dark: bool) -> ChairMap:
        """The map weighed for one rider's chair as the rider sits in it."""
        chair, settings = self.chair(rider), self.move.settings
        key = (chair, is_dark)
        if key not in self._chairs:
            if len(self._chairs) >= KEPT_CHAIRS:
                self._chairs.clear()
            drive = calibrate(chair)
            preset = settings.ways.standard
            rules = Weighing(
                keys=frozenset(settings.ways.keys),
                granted=frozenset(Access[word.upper()] for word in settings.ways.granted),
                standard=None if preset is None else load_standard(preset),
                tracks=self.move.tracks,
                doors=self._doors(True),
                shut_doors=self._doors(False),
            )
            time = plan_scenario(
                chair, drive, self.reading(rider), temperature_c=self.conditions(is_dark).planned_temperature_c
            ).factors.time
            factors = PlannedFactors(energy=1.0, time=time, usable=1.0)
            weights = weigh(self.joined, chair, drive, factors, self.conditions(is_dark), rules=rules)
            self._chairs[key] = ChairMap(chair, weights, weights.is_passable)
        return self._chairs[key]

    def _doors(self, is_driven: bool) -> frozenset[tuple[float, float]]:
        """Doors from which everybody who starts there drives to the street; or from which somebody has said that they can't."""
        told = [(self.places["rider", r.id], r.drives_to_street) for r in self.move.riders if ("rider", r.id) in self.places]
        said = {(p.lon, p.lat) for p, word in told if word is is_driven}
        others = {(p.lon, p.lat) for p, word in told if word is not is_driven}
        return frozenset(said - others if is_driven else said)

    def conditions(self, is_dark: bool) -> Conditions:
        """The evening as the coordinator wrote it down."""
        weather = self.move.settings.weather
        return Conditions(
            departure=self.move.start,
            temperature_c=weather.temperature_c,
            is_wet=weather.is_wet,
            is_dark=is_dark,
            has_mains=weather.has_mains,
        )

    def chair(self, rider: Rider) -> Chair:
        """The rider's chair with rider and bags in it; unknown masses on the bad side."""
        if rider.id not in self._sat:
            self._sat[rider.id] = self._seated(rider)
        return self._sat[rider.id]

    def _seated(self, rider: Rider) -> Chair:
        chair = find_chair(rider.chair or "unknown")
        width_cm, _, _, own_kg, occupied_kg = self.book.chair_size(rider)
        length_m = chair.length_m if rider.chair_length_cm is None else rider.chair_length_cm / 100.0
        charger = chair.charger if rider.charger is None else dataclasses.replace(chair.charger, place=rider.charger)
        body = {"rider_mass_kg": occupied_kg - own_kg, "load_mass_kg": 0.0}
        size = {"width_m": width_cm / 100.0, "length_m": length_m, "mass_kg": own_kg}
        return dataclasses.replace(chair, charger=charger, **body, **size)  # type: ignore[arg-type]

    def reading(self, rider: Rider) -> ChargeReading:
        """The gauge as the rider told it."""
        chair = find_chair(rider.chair or "unknown")
        return parse_charge(rider.charge or "unknown", chair.gauge, battery_age_years=chair.battery.age_years)

    def scenario(self, rider: Rider, reading: ChargeReading, *, charges: bool) -> Scenario:
        """What is planned with: factors, battery, reserve."""
        chair = self.chair(rider)
        temperature_c = self.conditions(False).planned_temperature_c
        reserve = max(self.move.settings.margins.reserve_soc, default_reserve_soc(chair.battery.chemistry))
        return plan_scenario(chair, calibrate(chair), reading, temperature_c=temperature_c, reserve_soc=reserve, may_charge=charges)

    def parts(self, edge: int) -> list[int]:
        """The edges of ``joined`` that a whole edge of the network has become, in the order in which they are driven."""
        pieces, row = self.joined.pieces, edge // 2
        chain, end = [row], int(self.network.pieces.head[row])
        while int(pieces.head[chain[-1]]) != end:
            after = np.flatnonzero((pieces.tail == pieces.head[chain[-1]]) & ~self.is_line)
            chain.append(int(after[0]))
        return [2 * p for p in chain] if edge % 2 == 0 else [2 * p + 1 for p in reversed(chain)]

    def line_of(self, node: int) -> int | None:
        """The edge of the straight line from a place to its way; ``None`` where the place is on the way."""
        rows = np.flatnonzero(self.is_line & (self.joined.pieces.tail == node))
        return 2 * int(rows[0]) if len(rows) else None


def metres(a: Sequence[float], b: Sequence[float]) -> float:
    """Metres between two positions that lie near each other."""
    east = (a[0] - b[0]) * math.cos(math.radians(b[1]))
    return math.hypot(east, a[1] - b[1]) * 111_320.0


def sparse(n_nodes: int, tail: npt.NDArray[Any], head: npt.NDArray[Any], weight: Floats) -> Any:
    """Weights between nodes for scipy's searches; of parallel edges the least."""
    from scipy.sparse import csr_array

    order = np.lexsort((weight, head, tail))
    tail, head, weight = tail[order], head[order], weight[order]
    first = np.ones(len(order), np.bool_)
    first[1:] = (tail[1:] != tail[:-1]) | (head[1:] != head[:-1])
    return csr_array((np.maximum(weight[first], 1e-9), (tail[first], head[first])), shape=(n_nodes, n_nodes))
