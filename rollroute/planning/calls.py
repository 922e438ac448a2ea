"""The call list: which unanswered question would change the plan most; and, for whoever is left, the cheapest fix.

The quick model is the assignment in sums (``assignment``): it counts who could be served and how soon each could be inside if alone,
without order or clock. A question's worth is what the good answer would change there, against the bad side that is planned with.
Where several unknown fields of one rider stand in the way together, each that is needed gets the worth of all of them.
In a large move a rider's answer is weighed as if the rider's party were alone, so that a list of hundreds is there in time.
Charge, chair and place change the travel estimates themselves: their worth is read off the reasons why ways are missing.
Whether somebody drives from the own door to the street is worth the chance that they don't: so many people would wait in vain.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import BAD_SIDE, Rider
from rollroute.inputs.move_shelters import BAD_SIDE as SHELTER_BAD_SIDE
from rollroute.inputs.move_shelters import Circuit, Shelter
from rollroute.inputs.move_vehicles import VAN_BAD_SIDE, Van
from rollroute.planning.assignment import WHOLE_UP_TO_PARTIES, assignment_ways, few_ways, solve_assignment
from rollroute.planning.needs import Needs, read_needs
from rollroute.planning.options import build_problem, parties_of
from rollroute.planning.travel import TravelTable

# The good answer that each unknown field could have (assumptions: what would be good, not what is likely).
GOOD_RIDER: Mapping[str, Any] = {
    "chair_length_cm": 108.0,
    "seated_height_cm": 125.0,
    "rider_mass_kg": 65.0,
    "life_support_min": math.inf,
    "longest_ride_min": 120.0,
    "longest_outdoors_min": 120.0,
    "longest_roll_min": 120.0,
    "may_transfer": True,
    "charger": "with the rider",
}
UNDECIDED = 0.9  # of a person: after those whose answer lets one more person go, before everything else
NEEDS_POWER = "needs power"
TRAVEL_FIELDS = ("place", "chair", "charge")
GOOD_VAN: Mapping[str, Any] = {
    "lift_rating_kg": 400.0,
    "platform_width_cm": 90.0,
    "platform_length_cm": 145.0,
    "door_height_cm": 160.0,
    "positions": 3,
    "large_chair_blocks": 1,
    "companion_seats": 3,
    "vehicle_height_cm": 220.0,
}
QUESTIONS = {
    "place": "Where is the rider now?",
    "chair": "Which chair is it? Look for the maker's plate.",
    "charge": "What does the gauge show, after the chair has stood for a while?",
    "chair_length_cm": "How long is the chair, footrests included?",
    "seated_height_cm": "How high is the top of the head above the floor?",
    "rider_mass_kg": "How heavy is the rider, about?",
    "life_support_min": "Does anything have to reach a socket, and by when?",
    "longest_ride_min": "How long may a ride take?",
    "longest_outdoors_min": "How long can the rider be outdoors?",
    "longest_roll_min": "How long can the rider drive in one go?",
    "may_transfer": "Would the rider move to a seat, if offered? It is never required.",
    "charger": "Where is the charger?",
    "drives_to_street": "Does the rider drive from the door to the street in this chair, as a rule?",
    "consent": "Does the rider want to go?",
    "powered": "Do its doors and lifts work without mains, or does somebody open them by hand?",
    "securable": "Can the chair be tied down?",
    "lift_rating_kg": "What is the lift or ramp rated for? It stands on a plate.",
    "platform_width_cm": "How wide is the platform?",
    "platform_length_cm": "How long is the platform?",
    "door_height_cm": "How high is the door?",
    "positions": "How many chairs can be tied down?",
    "large_chair_blocks": "How many positions does a large chair take?",
    "companion_seats": "How many seats for companions?",
    "vehicle_height_cm": "How high is the van?",
    "available_from": "From when is the van free?",
    "available_to": "Until when is the van free?",
    "accessible_places": "How many places for people in chairs?",
    "outlets": "How many outlets, on which circuits?",
    "generator_fuel_h": "How many hours does the fuel last?",
    "opens": "When does it open for certain?",
    "intake_per_hour": "How many people can be taken in in an hour?",
}
Worth = tuple[float, float]  # people more, minutes sooner
Look = tuple[Worth, frozenset[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One question. ``people``: how many more could be served with the good answer; ``minutes``: how much sooner people could be inside.

    ``opens``: of a question about a van or shelter, the riders who have a way with all its good answers and have none without.
    """

    whom: str  # "rider R03", "shelter North", "van V3"
    field: str
    question: str
    people: float
    minutes: float
    meanwhile: str  # what is planned with until then
    opens: frozenset[str] = frozenset()


def call_list(move: Move, needs: Sequence[Needs], travel: TravelTable) -> list[Call]:
    """Every unanswered question, the one that would change the plan most first."""
    base, reached = _look(move, needs, travel)
    calls: list[Call] = []
    if len(needs) <= WHOLE_UP_TO_PARTIES:
        for n in needs:
            calls += _rider_calls(move, needs, travel, n, base)
    else:
        by_id = {n.id: n for n in needs}
        for group in parties_of(needs):
            party = [by_id[i] for i in group]
            alone = _quick(move, party, travel) if any(unknown_fields(n.rider) for n in party) else (0.0, 0.0)
            for n in party:
                calls += _rider_calls(move, party, travel, n, alone)
    for van in move.vans:
        calls += _van_calls(move, needs, travel, van, (base, reached))
    for shelter in move.shelters:
        calls += _shelter_calls(move, needs, travel, shelter, (base, reached))
    return sorted(calls, key=lambda c: (-c.people, -c.minutes, c.whom, c.field))


def _quick(move: Move, needs: Sequence[Needs], travel: TravelTable) -> Worth:
    """(people served, minus their earliest arrivals) of the assignment in sums."""
    return _look(move, needs, travel)[0]


def _look(move: Move, needs: Sequence[Needs], travel: TravelTable) -> Look:
    """The same, and every rider who has a way at all."""
    problem = build_problem(move, needs, travel)
    ways = few_ways(problem, assignment_ways(problem))
    _, chosen = solve_assignment(problem, ways)
    served = [ways[number] for number in chosen if number is not None]
    people = float(sum(problem.parties[w.party].size for w in served))
    soonest = {u: min(w.earliest_in for w in ways if w.party == u) for u in {w.party for w in served}}
    reached = frozenset(i for w in ways for i in problem.parties[w.party].riders)
    return (people, -float(sum(soonest.values()))), reached


def _gain(base: Worth, now: Worth) -> Worth:
    people = now[0] - base[0]
    return (people, now[1] - base[1]) if people == 0 else (people, 0.0)


def _with_rider(move: Move, needs: Sequence[Needs], rider_id: str, changes: Mapping[str, Any]) -> tuple[Move, list[Needs]]:
    changed = [r.model_copy(update=dict(changes)) if r.id == rider_id else r for r in move.riders]
    answered = dataclasses.replace(move, riders=tuple(changed))
    fresh = {r.id: r for r in changed}
    return answered, [read_needs(fresh[n.id], move.settings) if n.id == rider_id else n for n in needs]


def unknown_fields(rider: Rider) -> list[str]:
    """Fields of a rider that nobody has filled in and that matter to a plan."""
    fields = (*GOOD_RIDER, *TRAVEL_FIELDS, "drives_to_street", "consent", "securable")
    return [f for f in fields if getattr(rider, f) is None and not _has_place(rider, f)]


def _has_place(rider: Rider, field: str) -> bool:
    return field == "place" and rider.lat is not None and rider.lon is not None


def _rider_calls(move: Move, needs: Sequence[Needs], travel: TravelTable, n: Needs, base: Worth) -> list[Call]:
    unknown = [f for f in unknown_fields(n.rider) if f != "consent"]
    tried = {f: GOOD_RIDER[f] for f in unknown if f in GOOD_RIDER}
    all_good = _gain(base, _quick(*_with_rider(move, needs, n.id, tried), travel)) if tried else (0.0, 0.0)
    calls = [] if n.rider.consent == "agreed" else [_call(f"rider {n.id}", "consent", (UNDECIDED, 0.0), "planned for, shown as undecided")]
    for field in unknown:
        worth: Worth = (0.0, 0.0)
        if field in tried:
            worth = _gain(base, _quick(*_with_rider(move, needs, n.id, {field: tried[field]}), travel))
            if worth[0] < all_good[0]:
                others = {f: v for f, v in tried.items() if f != field}
                without = _gain(base, _quick(*_with_rider(move, needs, n.id, others), travel))
                worth = all_good if without[0] < all_good[0] else worth
        elif field in TRAVEL_FIELDS and _is_cut_off(travel, n.id, field):
            worth = (1.0 if n.id not in travel.pickups or not travel.pickups[n.id] else 0.5, 0.0)
        elif field == "drives_to_street":
            worth = (_door_doubt(travel, n.id), 0.0)
            if worth[0] <= 0.0:
                continue  # every metre from the door is known
        calls.append(_call(f"rider {n.id}", field, worth, BAD_SIDE.get(field, "")))
    return calls


def _door_doubt(travel: TravelTable, rider_id: str) -> float:
    """The least chance that the rider does not get to a van: what the answer is worth, in people."""
    zones = travel.pickups.get(rider_id, ())
    return min((1.0 - math.exp(-z.doubt) for z in zones if not z.carried), default=0.0)


def _is_cut_off(travel: TravelTable, rider_id: str, field: str) -> bool:
    """Whether an unknown place or charge is what keeps the rider from every roll."""
    if any(key[0] == rider_id for key in travel.rolls):
        return False
    words = " ".join(why for key, reasons in travel.no_roll.items() if key[0] == rider_id for why in reasons)
    return {"place": "place not on the map", "charge": "charge", "chair": "no way for this chair"}[field] in words


def _call(whom: str, field: str, worth: Worth, meanwhile: str, opens: frozenset[str] = frozenset()) -> Call:
    question, (people, minutes) = QUESTIONS.get(field, f"{field.replace('_', ' ')}?"), (max(0.0, part) for part in worth)
    return Call(whom=whom, field=field, question=question, people=people, minutes=minutes, meanwhile=meanwhile, opens=opens)


def _van_calls(move: Move, needs: Sequence[Needs], travel: TravelTable, van: Van, base: Look) -> list[Call]:
    good = {**GOOD_VAN, "available_from": move.start, "available_to": move.settings.later_moment(move.settings.night.charged_by)}
    unknown = [f for f in good if getattr(van, f) is None]

    def answered(fields: Sequence[str]) -> Look:
        vans = [v.model_copy(update={f: good[f] for f in fields}) if v.id == van.id else v for v in move.vans]
        now, reached = _look(dataclasses.replace(move, vans=tuple(vans)), needs, travel)
        return _gain(base[0], now), reached - base[1]

    all_good, opens = answered(unknown) if unknown else ((0.0, 0.0), frozenset[str]())
    calls = []
    for field in unknown:
        worth, _ = answered([field])
        if worth[0] < all_good[0] and answered([f for f in unknown if f != field])[0][0] < all_good[0]:
            worth = all_good
        calls.append(_call(f"van {van.id}", field, worth, VAN_BAD_SIDE.get(field, ""), opens))
    return calls


def _shelter_calls(move: Move, needs: Sequence[Needs], travel: TravelTable, shelter: Shelter, base: Look) -> list[Call]:
    good: dict[str, Any] = {"accessible_places": 10, "intake_per_hour": 12.0, "opens": move.start}
    if shelter.generator_watts:
        good["generator_fuel_h"] = 24.0
    changes = [(f, {f: v}) for f, v in good.items() if getattr(shelter, f) is None]
    if not shelter.circuits or any(c.outlets is None for c in shelter.circuits):
        changes.append(("outlets", {"circuits": (Circuit(name="A", outlets=4, amps=15.0),)}))
    together = {k: v for _, change in changes for k, v in change.items()}
    shut = any(NEEDS_POWER in why for (_, name), reasons in travel.no_dropoff.items() if name == shelter.name for why in reasons)
    power = [_call(f"shelter {shelter.name}", "powered", (0.5, 0.0), "nobody gets in at this door")] if shut else []

    def answered(change: Mapping[str, Any]) -> Look:
        shelters = [dataclasses.replace(s, **change) if s.name == shelter.name else s for s in move.shelters]
        now, reached = _look(dataclasses.replace(move, shelters=tuple(shelters)), needs, travel)
        return _gain(base[0], now), reached - base[1]

    all_good, opens = answered(together) if together else ((0.0, 0.0), frozenset[str]())
    calls = power
    for field, change in changes:
        worth, _ = answered(change)
        others = {k: v for k, v in together.items() if k not in change}
        if worth[0] < all_good[0] and answered(others)[0][0] < all_good[0]:
            worth = all_good
        calls.append(_call(f"shelter {shelter.name}", field, worth, SHELTER_BAD_SIDE.get(field, ""), opens))
    return calls
