"""The auditor on the map: it finds what the planner found by arithmetic of its own, and one broken thing of each kind is caught."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest
from low_roads import limited

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.planning.audit import audit
from rollroute.planning.audit_book import Book
from rollroute.planning.audit_map import AuditMap
from rollroute.planning.audit_roads import Roads, _height_cm
from rollroute.planning.audit_travel import travel_violations
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.travel import TravelTable

SCHOOL, TANNERY = "North Quay School", "Tannery Hall"


@dataclass(frozen=True)
class World:
    """A move, its map, its estimates and its plan."""

    move: Move
    town: Network
    travel: TravelTable
    plan: Plan

    def found(self) -> list[str]:
        return [f"{v.rule}: {v.who}" for v in travel_violations(self.plan, self.move, self.travel, self.town)]


@pytest.fixture(scope="module")
def evening(quillhaven: Network, move: Move) -> World:
    """The bundled evening."""
    town = with_power(quillhaven, move.settings.ways.powered)
    travel = NetworkTravel(town).estimate(move, needs_of(move)[0])
    plan = make_plan(move, travel)
    assert travel_violations(plan, move, travel, town) == []
    return World(move, town, travel, plan)


@pytest.fixture(scope="module")
def halting(evening: World) -> World:
    """R11 at 45 % with the demo's chair, mains on at every shelter: on the way to the school it must charge at Tannery Hall."""
    chair = str(data_dir() / "quillhaven" / "demo-chair.toml")
    own = {
        "chair": chair,
        "charge": "45%",
        "charger": "on board",
        "chair_length_cm": None,
        "longest_roll_min": 90,
        "longest_outdoors_min": 90,
    }
    riders = tuple(r.model_copy(update=own) for r in evening.move.riders if r.id == "R11")
    shelters = tuple(replace(s, has_mains=True) for s in evening.move.shelters)
    move = replace(evening.move, riders=riders, shelters=shelters, vans=())
    travel = NetworkTravel(evening.town).estimate(move, needs_of(move)[0])
    assert [leg.to for leg in travel.rolls["R11", SCHOOL].path] == [TANNERY, SCHOOL]
    return World(move, evening.town, travel, _rolling(move, travel, "R11", SCHOOL))


def _clock(move: Move, minute: float) -> str:
    return (move.start + dt.timedelta(minutes=minute)).isoformat()


def _rolling(move: Move, travel: TravelTable, rider: str, shelter: str, *, sooner_min: float = 0.0) -> Plan:
    """One rider on the way of the estimates, and nobody else."""
    way = travel.rolls[rider, shelter]
    leave, arrive = way.charge_first_min, way.charge_first_min + way.minutes - sooner_min
    line = RiderPlan(
        id=rider, status="planned", way="roll", shelter=shelter, leave=_clock(move, leave), arrive=_clock(move, arrive),
        doubt=1.0 - math.exp(-way.doubt), path=way.path,
    )  # fmt: skip
    return Plan(move={}, riders=(line,), vans=(), escorts=(), shelters=(), tiers=())


def test_every_roll_of_the_estimates_is_driven_again(evening: World, halting: World) -> None:
    """Not only those that a plan uses, a halt for charging among them: minutes and charge are what the search said.

    To within 0.1 min and two points of charge, which the planner's rounding of masses to the next 5 kg may cost; 6 s less are noticed.
    """
    rolls = [(evening, key) for key in evening.travel.rolls] + [(halting, key) for key in halting.travel.rolls]
    assert len(rolls) > 8
    for world, (rider, shelter) in rolls:
        told = replace(world, plan=_rolling(world.move, world.travel, rider, shelter))
        assert told.found() == [], (rider, shelter)
        if world.travel.rolls[rider, shelter].minutes > 1.0:
            hurried = replace(world, plan=_rolling(world.move, world.travel, rider, shelter, sooner_min=0.1))
            assert hurried.found() == [f"rolling: {rider}"], (rider, shelter)
            way = world.travel.rolls[rider, shelter]
            fuller = replace(world.travel, rolls={(rider, shelter): replace(way, soc_arrival=way.soc_arrival + 0.02)})
            assert replace(told, travel=fuller).found() == [f"figures: {rider}"], (rider, shelter)
            unsaid = replace(world.travel, rolls={(rider, shelter): replace(way, on_carriageway=False)})
            assert bool(replace(told, travel=unsaid).found()) == way.on_carriageway


def _line(world: World, rider: str, **changes: Any) -> World:
    riders = tuple(replace(x, **changes) if x.id == rider else x for x in world.plan.riders)
    return replace(world, plan=replace(world.plan, riders=riders))


def _legs(edit: Callable[..., Any]) -> Callable[[World], World]:
    def change(world: World) -> World:
        (line,) = (x for x in world.plan.riders if x.id in ("R09", "R11") and x.way == "roll")
        return _line(world, line.id, path=edit(line.path))

    return change


def _edges(edit: Callable[[tuple[int, ...]], tuple[int, ...]]) -> Callable[[World], World]:
    return _legs(lambda path: (replace(path[0], edges=edit(path[0].edges)), *path[1:]))


def _rider(rider: str, **changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        riders = tuple(r.model_copy(update=changes) if r.id == rider else r for r in world.move.riders)
        return replace(world, move=replace(world.move, riders=riders))

    return change


def _way(**changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        key = next((x.id, SCHOOL) for x in world.plan.riders if x.way == "roll")
        way = replace(world.travel.rolls[key], **changes)
        return replace(world, travel=replace(world.travel, rolls={**world.travel.rolls, key: way}))

    return change


def _zones(name: str, **changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        table = {key: tuple(replace(z, **changes) for z in zones) for key, zones in getattr(world.travel, name).items()}
        return replace(world, travel=replace(world.travel, **{name: table}))

    return change


def _van(number: int, **changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        vans = tuple(v.model_copy(update=changes) if i == number else v for i, v in enumerate(world.move.vans))
        return replace(world, move=replace(world.move, vans=vans))

    return change


def _sooner(van: int, stop: int) -> Callable[[World], World]:
    """A stop is reached as soon as the van is free."""

    def change(world: World) -> World:
        vans = list(world.plan.vans)
        stops = list(vans[van].stops)
        since = stops[stop - 1].end if stop else world.move.vans[van].available_from.isoformat()
        stops[stop] = replace(stops[stop], arrive=since)
        vans[van] = replace(vans[van], stops=tuple(stops))
        return replace(world, plan=replace(world.plan, vans=tuple(vans)))

    return change


def _closed(minute: float, place: tuple[float, float] | None = None) -> Callable[[World], World]:
    """An area of some 60 m closes: round a place, or half way along the roll."""

    def change(world: World) -> World:
        lon, lat = place or _half_way(world)
        ring = tuple((lon + dx * 0.0004, lat + dy * 0.0003) for dx, dy in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)))
        hazard = Hazard(label="news", kind="closed", rings=(ring,), starts=world.move.start + dt.timedelta(minutes=minute))
        return replace(world, move=replace(world.move, hazards=(*world.move.hazards, hazard)))

    return change


def _half_way(world: World) -> tuple[float, float]:
    line = next(x for x in world.plan.riders if x.way == "roll")
    edges = line.path[-1].edges
    return world.town.node_place(int(world.town.edge_head[edges[len(edges) // 2]]))


def _shelters(**changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        shelters = tuple(replace(s, **changes) if s.name == TANNERY else s for s in world.move.shelters)
        return replace(world, move=replace(world.move, shelters=shelters))

    return change


def _halt(**changes: Any) -> Callable[[World], World]:
    return _legs(lambda path: (replace(path[0], **changes), *path[1:]))


def _table(name: str, value: float) -> Callable[[World], World]:
    def change(world: World) -> World:
        return replace(world, travel=replace(world.travel, **{name: dict.fromkeys(getattr(world.travel, name), value)}))

    return change


def _walk(**changes: Any) -> Callable[[World], World]:
    def change(world: World) -> World:
        escorts = world.move.settings.escorts.model_copy(update=changes)
        return replace(world, move=replace(world.move, settings=world.move.settings.model_copy(update={"escorts": escorts})))

    return change


ON_THE_MAP: dict[str, tuple[str, Callable[[World], World]]] = {
    "no path": ("path", _legs(lambda path: ())),
    "a piece left out": ("path", _edges(lambda e: (*e[: len(e) // 2], *e[len(e) // 2 + 1 :]))),
    "a piece driven the wrong way": ("path", _edges(lambda e: (*e[:3], e[3] ^ 1, *e[4:]))),
    "begins elsewhere": ("path", _edges(lambda e: e[4:])),
    "ends too early": ("path", _edges(lambda e: e[:-4])),
    "turned round": ("path", _edges(lambda e: tuple(x ^ 1 for x in reversed(e)))),
    "no piece of the map": ("path", _edges(lambda e: (*e[:3], 10**9, *e[4:]))),
    "another goal": ("path", _legs(lambda path: (*path[:-1], replace(path[-1], to=TANNERY)))),
    "rides there, says the path": ("path", lambda w: _line(w, "R09", shelter="Ropewalk Sports Hall")),
    "less charge": ("charge", _rider("R09", charge="38%")),
    "gauge not read": ("rolling", _rider("R09", charge=None)),
    "a wide chair": ("rolling", _rider("R09", chair_width_cm=130)),
    "a heavy rider": ("figures", _rider("R09", rider_mass_kg=230)),
    "lives elsewhere": ("path", _rider("R09", place="14 Weaver Street")),
    "the estimates have another place": ("place", _rider("R09", place="14 Weaver Street")),
    "closed before the chair is through": ("closed way", _closed(10.0)),
    "closed from the start": ("closed way", _closed(0.0)),
    "less doubt": ("figures", lambda w: _line(w, "R09", doubt=0.1)),
    "more charge on arrival": ("figures", _way(soc_arrival=0.9)),
    "charged at home without mains": ("rolling", _way(charge_first_min=1.0)),
    "first drive": ("driving", _sooner(0, 0)),
    "next drive": ("driving", _sooner(0, 1)),
    "another van's first drive": ("driving", _sooner(1, 0)),
    "van starts across town": ("driving", _van(0, place=None, start_lon=-37.2885, start_lat=45.1973)),
    "nobody knows where the van starts": ("driving", _van(0, place=None, start_lon=None, start_lat=None)),
    "zone nearer than it is": ("loading zone", _zones("pickups", roll_min=0.0)),
    "way in shorter than it is": ("loading zone", _zones("dropoffs", roll_min=0.5)),
    "zone surer than it is": ("loading zone", _zones("pickups", doubt=0.0)),
    "zone off the road": ("loading zone", _zones("pickups", lat=45.2100)),
    "carried too far": ("loading zone", _zones("pickups", lat=45.2000, carried=True)),
    "the chair does not get to the zone": ("loading zone", lambda w: _closed(0.0, w.travel.places["R02"])(w)),
    "helpers at the double": ("escorts", _table("approach_min", 0.0)),
    "and back": ("escorts", _table("back_min", 0.0)),
    "slow walkers": ("escorts", _walk(walk_m_s=0.5)),
    "out of the area at once": ("closed area", lambda w: _closed(500.0, w.travel.places["R02"])(_table("exit_min", 0.0)(w))),
}  # fmt: skip


@pytest.mark.parametrize("name", ON_THE_MAP)
def test_one_broken_thing_is_caught_on_the_map(evening: World, name: str) -> None:
    """The plan, its inputs or its estimates with one thing changed: the auditor names the rule."""
    rule, change = ON_THE_MAP[name]

    assert rule in {said.split(":")[0] for said in change(evening).found()}


HALTS: dict[str, tuple[str, Callable[[World], World]]] = {
    "charges less": ("charge", _halt(charge_min=2.0)),
    "no time to plug in": ("halt", _halt(setup_min=0.0)),
    "negative wait": ("halt", _halt(wait_min=-5.0)),
    "not open yet": ("halt", lambda w: _shelters(opens=w.move.start + dt.timedelta(minutes=60))(w)),
    "closes": ("halt", lambda w: _shelters(closes=w.move.start + dt.timedelta(minutes=20))(w)),
    "fuel runs out": ("halt", _shelters(has_mains=False, generator_fuel_h=0.3)),
    "no outlet": ("halt", _shelters(circuits=())),
    "opening not known": ("halt", _shelters(opens=None)),
    "charger missing": ("halt", _rider("R11", charger="missing")),
    "another shelter": ("path", _halt(to="Ropewalk Sports Hall")),
    "no shelter": ("path", _halt(to="nowhere")),
    "drives past": ("path", _legs(lambda path: path[1:])),
    "longer there than the plan gives": ("rolling", _halt(charge_min=60.0)),
}


@pytest.mark.parametrize("name", HALTS)
def test_a_broken_halt_is_caught(halting: World, name: str) -> None:
    """The same for charging on the way."""
    rule, change = HALTS[name]

    assert halting.found() == []
    assert rule in {said.split(":")[0] for said in change(halting).found()}


def test_the_way_back_is_asked_for_before_what_nobody_has_verified(evening: World) -> None:
    """R09's way to the school has unverified places; behind the rider lies home, a refuge while it stays open, no longer where it closes.

    With no mains and no generator at Tannery Hall, where R09 lives, there is no other.
    """
    way = evening.travel.rolls["R09", SCHOOL]
    assert way.doubt > 0
    lon, lat = evening.travel.places["R09"]
    dark = _shelters(has_mains=False, generator_watts=None)(evening)
    assert dark.found() == []
    assert "way back: R09" in _closed(500.0, (lon, lat))(dark).found()


def test_a_van_higher_than_a_limit_goes_round(evening: World) -> None:
    """North Quay gets a limit of 2.5 m: along its pieces a van of 2.51 m takes longer, or finds no way at all."""
    low_town = limited(evening.town, "North Quay", "2.5")
    map_roads = Roads(AuditMap(low_town, Book(evening.plan, evening.move, evening.travel)))
    low = [i for i, height in enumerate(map_roads.height_cm) if math.isfinite(height)]
    assert len(low) > 10
    for i in low[:10]:
        ends, height = (int(map_roads.tail[i]), int(map_roads.head[i])), float(map_roads.height_cm[i])
        under = map_roads.minutes(*ends, -math.inf, height)
        assert under <= float(map_roads.minutes_each[i]) + 1e-6
        assert map_roads.minutes(*ends, -math.inf, height + 1.0) > under + 0.01


def test_heights_are_read_in_metres_and_in_feet() -> None:
    """OSM wiki, Key:maxheight: metres without a unit, feet and inches as 12'6"; words such as "default" tell no figure."""
    assert _height_cm("3.5") == _height_cm("3,5 m") == 350.0
    assert _height_cm("12'6\"") == pytest.approx(381.0)
    assert _height_cm("12 ft") == pytest.approx(365.76)
    assert _height_cm("default") == _height_cm("") == math.inf


def test_the_audit_without_the_map_says_nothing_of_it(evening: World) -> None:
    """The two audits together are the audit: what one says, the other does not repeat for a plan that holds."""
    assert audit(evening.plan, evening.move, evening.travel) == []
