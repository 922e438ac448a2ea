"""From a move and its travel estimates to the problem in whole minutes.

Every way that each party could take is listed; for ways that are missing, why.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_vehicles import Van
from rollroute.planning.needs import Needs
from rollroute.planning.problem import (
    NEVER,
    Dropoff,
    Party,
    Pickup,
    Problem,
    Roll,
    ShelterRoom,
    down,
    up,
)
from rollroute.planning.rooms import escort_times, powered_until_min, shelter_rooms, van_rooms
from rollroute.planning.travel import LoadingZone, TravelTable
from rollroute.planning.van_fit import fits

DRIVER_REACH_MIN = 3.0  # assumption: up to here the driver walks along; farther a helper is counted
CUT_OFF = "no open road that lets it through leads from its start to where the chair can be loaded"
NO_COMMON_ZONE = "no loading zone for its height, or none that the riders who stay together share"
NO_PLACE_TO_UNLOAD = "no place to unload that chair and van can both use, or no open road to it that lets the van through"
Reasons = dict[str, list[str]]


def build_problem(move: Move, needs: Sequence[Needs], travel: TravelTable) -> Problem:
    """Every option of every party, gates applied (model §5 and §7)."""
    reasons: Reasons = defaultdict(list)
    by_id = {n.id: n for n in needs if n.rider.consent != "declined"}
    groups = parties_of(list(by_id.values()))
    parties = tuple(_party([by_id[i] for i in group], move, travel) for group in groups)
    shelters = shelter_rooms(move, travel, reasons)
    nodes = {name: i for i, name in enumerate(travel.nodes)}
    pickups, dropoffs = _rides(move, parties, by_id, travel, nodes, reasons)
    for shelter in move.shelters:
        reasons[shelter.name] += _shut_doors(shelter.name, by_id, travel)
    return Problem(
        parties=parties,
        shelters=shelters,
        vans=van_rooms(move, travel, nodes),
        escorts=escort_times(move, parties, shelters, travel),
        rolls=tuple(_rolls(move, parties, by_id, shelters, travel, reasons)),
        pickups=pickups,
        dropoffs=dropoffs,
        ride_limit=tuple(min(down(by_id[i].ride_limit_min) for i in p.riders) for p in parties),
        drive=_whole_minutes(travel),
        phase_ends=np.array([down(p.ends_min) for p in travel.phases] or [NEVER], dtype=np.int64),
        horizon=down(move.settings.horizon_min),
        comfort=down(move.settings.margins.comfort_min),
        reasons={k: tuple(dict.fromkeys(v)) for k, v in reasons.items()},
    )


def _shut_doors(shelter: str, riders: Iterable[str], travel: TravelTable) -> list[str]:
    """Why no chair of the move gets in at a shelter's door, where none does."""
    ids = list(riders)
    if any((i, shelter) in travel.rolls or travel.dropoffs.get((i, shelter)) for i in ids):
        return []
    return list(dict.fromkeys(why for i in ids for why in travel.no_dropoff.get((i, shelter), ())))[:2]


def parties_of(needs: Sequence[Needs]) -> list[list[str]]:
    """Riders who must stay together, joined; the order is that of the table."""
    root = {n.id: n.id for n in needs}

    def find(i: str) -> str:
        while root[i] != i:
            i = root[i]
        return i

    for n in needs:
        for other in n.rider.stay_with:
            if other in root:
                a, b = sorted((find(n.id), find(other)))
                root[b] = a
    groups: dict[str, list[str]] = {}
    for n in needs:
        groups.setdefault(find(n.id), []).append(n.id)
    return list(groups.values())


def closing_of(move: Move, place: tuple[float, float] | None) -> tuple[int, int, int]:
    """(close, due, number of the closing area) at a place: the earliest of each kind; a place that is not known is in no known area."""
    close, due, area = NEVER, NEVER, -1
    for number, hazard in enumerate(move.hazards):
        if place is None or hazard.kind == "watch" or hazard.is_road or _is_over(move, hazard) or not hazard.contains(*place):
            continue
        minute = 0 if hazard.starts is None else down(move.settings.minute(hazard.starts))
        if hazard.kind == "closed" and minute < close:
            close, area = minute, number
        elif hazard.kind == "deadline":
            due = min(due, max(0, minute))
    return close, due, area


def _is_over(move: Move, hazard: Hazard) -> bool:
    return hazard.ends is not None and hazard.ends <= move.start


def _party(members: Sequence[Needs], move: Move, travel: TravelTable) -> Party:
    closings = [closing_of(move, travel.places.get(n.id, _given_place(n))) for n in members]
    close, due, area = min(closings)
    due = min([due, *(_leave_shelter_by(move, n) for n in members)])
    return Party(
        riders=tuple(n.id for n in members),
        ready=max(up(n.ready_min) for n in members),
        close=close,
        due=min(due, *(c[1] for c in closings)),
        socket_by=min(down(n.socket_by_min) for n in members),
        arrive_by=min(down(n.arrive_by_min) for n in members),
        n_sockets=sum(n.keeps_socket for n in members),
        refill_h=sum(n.refill_h for n in members),
        area=area,
    )


def _leave_shelter_by(move: Move, needs: Needs) -> int:
    """The minute by which somebody who is at a shelter now should be gone: it closes, or its power ends."""
    here = next((s for s in move.shelters if s.name.casefold() == (needs.rider.place or "").casefold()), None)
    if here is None:
        return NEVER
    closes = math.inf if here.closes is None else move.settings.minute(here.closes)
    return down(min(closes, powered_until_min(move, here)))


def _given_place(needs: Needs) -> tuple[float, float] | None:
    rider = needs.rider
    return None if rider.lon is None or rider.lat is None else (rider.lon, rider.lat)


def weather_gates(move: Move) -> list[str]:
    """Why nobody rolls in this weather; empty where rolling is allowed."""
    weather, gates = move.settings.weather, move.settings.gates
    cold = weather.temperature_c is not None and weather.temperature_c < gates.coldest_c
    heat = weather.temperature_c is not None and weather.temperature_c > gates.hottest_c
    checks = (
        (weather.is_wet and not gates.roll_in_rain, "rain: water stops joysticks and controllers"),
        (weather.is_smoky and not gates.roll_in_smoke, "smoke"),
        (weather.has_lightning and not gates.roll_in_lightning, "lightning"),
        (cold, "too cold for rolling"),
        (heat, "too hot for rolling"),
    )
    return [words for is_on, words in checks if is_on]


def darkness(move: Move) -> tuple[int, int]:
    """(first, last) minute of the dark within the plan; (NEVER, NEVER) where it stays light."""
    weather = move.settings.weather
    if weather.dark_from is None:
        return NEVER, NEVER
    first = down(move.settings.minute(move.settings.moment(weather.dark_from)))
    if weather.light_from is None:
        return max(0, first), NEVER
    last = down(move.settings.minute(move.settings.later_moment(weather.light_from)))
    return max(0, first), last


def _rolls(
    move: Move, parties: Sequence[Party], by_id: Mapping[str, Needs], shelters: Sequence[ShelterRoom], travel: TravelTable, reasons: Reasons
) -> list[Roll]:
    closed_gates = weather_gates(move)
    rolls: list[Roll] = []
    for u, party in enumerate(parties):
        members = [by_id[i] for i in party.riders]
        for words in closed_gates:
            _note(reasons, members, f"rolling: {words}")
        if closed_gates:
            continue
        for j, shelter in enumerate(shelters):
            rolls += _roll_variants(move, u, party, members, j, shelter, travel, reasons)
    return rolls


def _roll_variants(
    move: Move, u: int, party: Party, members: Sequence[Needs], j: int, shelter: ShelterRoom, travel: TravelTable, reasons: Reasons
) -> list[Roll]:
    """A party's rolls to one shelter: by light with fewer escorts, or at any time with more."""
    name, settings = shelter.name, move.settings
    if not _all_go_to(members, name, reasons):
        return []
    for n in members:
        if (n.id, name) not in travel.rolls:
            for why in travel.no_roll.get((n.id, name), ("no way is known",)):
                _note(reasons, [n], f"rolling to {name}: {why}")
    if any((n.id, name) not in travel.rolls for n in members):
        return []
    ways = [travel.rolls[n.id, name] for n in members]
    minutes = max(w.minutes for w in ways)
    for n in members:
        limit = min(n.roll_limit_min, n.outdoors_limit_min)
        if minutes > limit:
            _note(reasons, [n], f"rolling to {name}: {minutes:.0f} min planned, {limit:.0f} min is the limit")
            return []
    rules, (dark_from, light_from) = settings.escorts, darkness(move)
    last = min(down(math.inf if w.latest_departure_min is None else w.latest_departure_min) for w in ways)
    charge_first = max(w.charge_first_min for w in ways)
    leave = max(up(minutes if w.leave_area_min is None else w.leave_area_min) for w in ways)
    comfort = settings.margins.reserve_soc + settings.margins.comfort_soc
    on_road = any(w.on_carriageway for w in ways)
    last = min(last, NEVER if party.close >= NEVER else party.close - leave)

    def variant(first: int, last: int, escorts: int) -> list[Roll]:
        made = Roll(
            party=u,
            shelter=j,
            minutes=up(minutes),
            escorts=escorts * len(members),
            first_departure=first,
            last_departure=min(last, down(settings.horizon_min)),
            leave_area=leave,
            charge_short=sum(max(0, math.ceil(100 * (comfort - w.soc_arrival) - 1e-9)) for w in ways),
            doubt=sum(round(1000 * w.doubt) for w in ways),
        )
        return [made] if made.first_departure <= made.last_departure else []

    first = party.ready + up(charge_first)
    light = rules.per_roll_dark_or_road if on_road else rules.per_roll
    by_light = variant(first, min(last, dark_from - up(minutes)) if dark_from < NEVER else last, light)
    after_dawn = variant(max(first, light_from), last, light) if light_from < NEVER else []
    is_dark_wanted = dark_from < NEVER and settings.gates.roll_in_dark
    in_dark = variant(first, last, max(light, rules.per_roll_dark_or_road)) if is_dark_wanted else []
    made = by_light + after_dawn + in_dark
    if not made:
        _note(reasons, members, f"rolling to {name}: can't be done before the way or the area closes, or before dark")
    return made


def _all_go_to(members: Sequence[Needs], shelter: str, reasons: Reasons) -> bool:
    """Whether nobody of a party has said to go to another shelter only."""
    elsewhere = [n for n in members if not n.rider.goes_to(shelter)]
    for n in elsewhere:
        _note(reasons, [n], f"goes to {n.rider.only_to} only, by the rider's own word")
    return not elsewhere


def _note(reasons: Reasons, members: Sequence[Needs], words: str) -> None:
    for n in members:
        reasons[n.id].append(words)


def _rides(
    move: Move,
    parties: Sequence[Party],
    by_id: Mapping[str, Needs],
    travel: TravelTable,
    nodes: Mapping[str, int],
    reasons: Reasons,
) -> tuple[dict[tuple[int, int], Pickup], dict[tuple[int, int, int], Dropoff]]:
    pickups: dict[tuple[int, int], Pickup] = {}
    dropoffs: dict[tuple[int, int, int], Dropoff] = {}
    reached = [_reached(van, travel, nodes) for van in move.vans]
    for u, party in enumerate(parties):
        members = [by_id[i] for i in party.riders]
        for k, van in enumerate(move.vans):
            pickup = _pickup(move, members, k, travel, reached[k], reasons)
            if pickup is None:
                continue
            for j, shelter in enumerate(move.shelters):
                if not _all_go_to(members, shelter.name, reasons):
                    continue
                zone = _common_zone([travel.dropoffs.get((n.id, shelter.name), ()) for n in members], van, reached[k])
                if zone is None:
                    for n in members:
                        for why in travel.no_dropoff.get((n.id, shelter.name), (NO_PLACE_TO_UNLOAD,)):
                            _note(reasons, [n], f"van {van.id} to {shelter.name}: {why}")
                elif outdoors_min(pickup, zone, len(members)) > min(n.outdoors_limit_min for n in members):
                    _note(reasons, members, f"van {van.id} to {shelter.name}: longer outdoors at the stops than the rider's limit")
                else:
                    doubt = len(members) * round(1000 * zone.doubt)
                    dropoffs[u, k, j] = Dropoff(node=nodes[zone.node], roll=up(zone.roll_min), doubt=doubt, zone=zone.label)
                    pickups[u, k] = pickup
    return pickups, dropoffs


def outdoors_min(pickup: Pickup, zone: LoadingZone, n_riders: int) -> float:
    """Minutes outdoors of each rider of a party: to the zone, own loading and unloading, and in; the others wait indoors or aboard."""
    return pickup.roll + (pickup.load + pickup.unload) / n_riders + up(zone.roll_min)


def _pickup(move: Move, members: Sequence[Needs], k: int, travel: TravelTable, nodes: Mapping[str, int], reasons: Reasons) -> Pickup | None:
    van, settings = move.vans[k], move.settings
    zones = [travel.pickups.get(n.id, ()) for n in members]
    for n, found in zip(members, zones, strict=True):
        if not found:
            for why in travel.no_pickup.get(n.id, ("no loading zone that the chair can reach",)):
                _note(reasons, [n], f"van: {why}")
    zone = _common_zone(zones, van, nodes)
    if zone is None:
        if all(zones):
            is_cut_off = _common_zone(zones, van, dict.fromkeys(travel.nodes, 0)) is not None
            _note(reasons, members, f"van {van.id}: {CUT_OFF if is_cut_off else NO_COMMON_ZONE}")
        return None
    if zone.carried and not all(n.rider.may_transfer for n in members):
        _note(reasons, members, "van: person and chair apart needs a seat transfer that the rider has not agreed to")
        return None
    unfit = [f"van {van.id}: {why}" for n in members for why in fits(n, van, is_apart=zone.carried)]
    for words in unfit:
        _note(reasons, members, words)
    positions = sum((van.large_chair_blocks or 2) if n.is_large else 1 for n in members)
    seats = sum(n.rider.companions + zone.carried for n in members)
    there = 1 if van.positions is None else van.positions, van.companion_seats or 0
    if unfit or positions > there[0] or seats > there[1]:
        if not unfit:
            words = f"positions needed: {positions}, there: {there[0]}; companion seats needed: {seats}, there: {there[1]}"
            _note(reasons, members, f"van {van.id}: {words}")
        return None
    return Pickup(
        node=nodes[zone.node],
        roll=up(zone.roll_min),
        positions=positions,
        seats=seats,
        load=sum(up(settings.loading.load_min if van.load_min is None else van.load_min) for _ in members),
        unload=sum(up(settings.loading.unload_min if van.unload_min is None else van.unload_min) for _ in members),
        exit=up(max(travel.exit_min.get(n.id, _longest_drive(travel, zone.node)) for n in members)),
        escorts=_zone_escorts(move, zone, len(members)),
        needs_stair_crew=zone.carried,
        doubt=len(members) * round(1000 * zone.doubt),
        zone=zone.label,
    )


def _zone_escorts(move: Move, zone: LoadingZone, n_members: int) -> int:
    if zone.carried:
        return 2  # two trained people carry
    if zone.roll_min <= DRIVER_REACH_MIN:
        return 0
    rules = move.settings.escorts
    return n_members * (rules.per_roll if darkness(move)[0] >= NEVER else rules.per_roll_dark_or_road)


def _longest_drive(travel: TravelTable, node: str) -> float:
    """Bad side where nobody knows how soon the closing area is left: the longest drive from there."""
    row = travel.nodes.index(node)
    reached = [float(v) for p in travel.phases for v in p.minutes[row] if math.isfinite(v)]
    return max(reached, default=0.0)


def _reached(van: Van, travel: TravelTable, nodes: Mapping[str, int]) -> Mapping[str, int]:
    """The nodes that a van gets to while any road is open; all of them where nobody knows its start."""
    start = nodes.get(travel.van_nodes.get(van.id, ""))
    if start is None or not travel.phases:
        return nodes
    is_reached = np.isfinite(np.stack([p.minutes[start] for p in travel.phases])).any(axis=0)
    return {name: i for name, i in nodes.items() if is_reached[i]}


def _common_zone(zones: Sequence[Sequence[LoadingZone]], van: Van, nodes: Mapping[str, int]) -> LoadingZone | None:
    """The first zone that all members share and that takes the van; the slowest member's way and the greatest doubt count.

    ``nodes``: those that the van gets to.
    """
    # bad side: as high as the clearance of ADA 503.5 allows
    height, side = 289.0 if van.vehicle_height_cm is None else van.vehicle_height_cm, van.lift_side
    for zone in zones[0] if zones else ():
        shared = [next((z for z in others if z.node == zone.node), None) for others in zones]
        if any(z is None for z in shared) or (zone.clearance_cm is not None and zone.clearance_cm < height):
            continue
        if zone.node not in nodes or (zone.side is not None and side in ("left", "right") and zone.side != side):
            continue
        found = [z for z in shared if z is not None]
        return replace(max(found, key=lambda z: z.roll_min), doubt=max(z.doubt for z in found))
    return None


def _whole_minutes(travel: TravelTable) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    if not travel.phases:
        return np.full((1, max(1, len(travel.nodes)), max(1, len(travel.nodes))), NEVER, dtype=np.int64)
    stacked = np.stack([p.minutes for p in travel.phases])
    finite = np.where(np.isfinite(stacked), stacked, float(NEVER))
    return np.minimum(np.ceil(finite - 1e-9), NEVER).astype(np.int64)
