"""What shelters, vans and escorts have to give, in whole minutes and counts, unknown fields on the bad side."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_shelters import Shelter
from rollroute.planning.problem import NEVER, EscortTime, Party, ShelterRoom, VanRoom, down, up
from rollroute.planning.travel import TravelTable

Reasons = dict[str, list[str]]


def night_end_min(move: Move) -> float:
    """Minute by which chairs are to be charged."""
    return move.settings.minute(move.settings.later_moment(move.settings.night.charged_by))


def powered_until_min(move: Move, shelter: Shelter) -> float:
    """Minute until which a shelter's outlets have power: mains, or generator and its fuel; 0 where neither is known."""
    has_mains = move.settings.weather.has_mains if shelter.has_mains is None else shelter.has_mains
    if has_mains:
        return math.inf
    if not shelter.generator_watts:
        return 0.0
    running_since = 0.0 if shelter.opens is None else min(0.0, move.settings.minute(shelter.opens))  # bad side: it runs since then
    return max(0.0, running_since + (shelter.generator_fuel_h or 0.0) * 60.0)


def outlet_watts(move: Move, shelter: Shelter) -> list[tuple[str, int, float]]:
    """(circuit, outlets, continuous watts) of each circuit; a generator's watts are shared by all of them (see ``shared_watts``)."""
    night = move.settings.night
    return [
        (c.name, c.outlets or 0, (c.amps or move.settings.assume.circuit_amps) * night.mains_v * night.continuous_share)
        for c in shelter.circuits
    ]


def shared_watts(move: Move, shelter: Shelter) -> float:
    """Watts that all circuits share: the generator's, where it carries them; infinity on mains."""
    has_mains = move.settings.weather.has_mains if shelter.has_mains is None else shelter.has_mains
    return math.inf if has_mains else (shelter.generator_watts or 0.0)


def usable_outlets(move: Move, shelter: Shelter) -> int:
    """Outlets that can run a charger at the same time: by number, by circuit and by generator."""
    load = move.settings.assume.charger_watts
    by_circuit = sum(min(n, int(watts // load)) for _, n, watts in outlet_watts(move, shelter))
    shared = shared_watts(move, shelter)
    return by_circuit if math.isinf(shared) else min(by_circuit, int(shared // load))


def shelter_rooms(move: Move, travel: TravelTable, reasons: Reasons) -> tuple[ShelterRoom, ...]:
    """Every shelter; one that can't be used has no place, and its reason stands under its name."""
    return tuple(_room(move, shelter, travel, reasons) for shelter in move.shelters)


def _room(move: Move, shelter: Shelter, travel: TravelTable, reasons: Reasons) -> ShelterRoom:
    settings = move.settings
    closes_for = shelter_closing(move, shelter, travel)
    if closes_for:
        reasons[shelter.name].append(closes_for)
    if shelter.opens is None:
        reasons[shelter.name].append("nobody has confirmed when it opens")
    closes_early = shelter.closes is not None and settings.minute(shelter.closes) < night_end_min(move)
    if closes_early and shelter.closes is not None:
        reasons[shelter.name].append(f"it closes at {shelter.closes:%H:%M}, before morning")
    if not shelter.accessible_places:
        reasons[shelter.name].append("no accessible place is known")
    is_open = not closes_for and shelter.opens is not None and not closes_early
    end, powered = night_end_min(move), powered_until_min(move, shelter)
    outlets = usable_outlets(move, shelter)
    intake = settings.assume.intake_per_hour if shelter.intake_per_hour is None else shelter.intake_per_hour
    return ShelterRoom(
        name=shelter.name,
        places=(shelter.accessible_places or 0) if is_open else 0,
        per_hour=int(intake),
        opens=NEVER if shelter.opens is None else up(max(0.0, settings.minute(shelter.opens))),
        closes=NEVER if shelter.closes is None else down(settings.minute(shelter.closes)),
        sockets=outlets if powered >= end else 0,
        outlet_h=outlets * min(end, powered) / 60.0,
    )


def shelter_closing(move: Move, shelter: Shelter, travel: TravelTable) -> str | None:
    """Why a shelter is no goal: it lies in an area that closes or is to be left within the plan."""
    place = travel.places.get(shelter.name, (shelter.lon, shelter.lat) if shelter.lon is not None and shelter.lat is not None else None)
    end = night_end_min(move)
    for hazard in move.hazards:
        if hazard.kind == "watch" or place is None or hazard.is_road or not hazard.contains(*place):
            continue
        starts = 0.0 if hazard.starts is None else move.settings.minute(hazard.starts)
        if starts < end and (hazard.ends is None or hazard.ends > move.start):
            return f"it lies in an area that closes or is to be left: {hazard.label}"
    return None


def van_rooms(move: Move, travel: TravelTable, nodes: Mapping[str, int]) -> tuple[VanRoom, ...]:
    """Every van; one whose start is not on the map is never available."""
    rooms = []
    for van in move.vans:
        assume, settings = move.settings.assume, move.settings
        first = assume.van_first_min if van.available_from is None else settings.minute(van.available_from)
        last = assume.van_last_min if van.available_to is None else settings.minute(van.available_to)
        if van.fuel_min is not None:
            last = min(last, first + van.fuel_min)
        node = travel.van_nodes.get(van.id)
        known = node is not None and node in nodes
        rooms.append(
            VanRoom(
                id=van.id,
                node=nodes[node] if known and node is not None else 0,
                starts=up(max(0.0, first)) if known else NEVER,
                ends=down(min(last, settings.horizon_min)) if known else 0,
                positions=1 if van.positions is None else van.positions,
                seats=van.companion_seats or 0,
            )
        )
    return tuple(rooms)


def escort_times(move: Move, parties: Sequence[Party], shelters: Sequence[ShelterRoom], travel: TravelTable) -> tuple[EscortTime, ...]:
    """Every escort, with the way to each party and back from each shelter; a way that is not known takes the assumed minutes."""
    unknown = move.settings.escorts.unknown_approach_min
    result = []
    for escort in move.escorts:
        first = 0.0 if escort.available_from is None else max(0.0, move.settings.minute(escort.available_from))
        last = move.settings.horizon_min if escort.available_to is None else move.settings.minute(escort.available_to)
        result.append(
            EscortTime(
                id=escort.id,
                starts=up(first),
                ends=down(last),
                approach=tuple(max(up(travel.approach_min.get((escort.id, i), unknown)) for i in p.riders) for p in parties),
                back=tuple(up(travel.back_min.get((escort.id, s.name), unknown)) for s in shelters),
                is_stair_trained=bool(escort.stairs_trained),
            )
        )
    return tuple(result)
