"""Cautions: what to do, then why. Those of this trip, and those that always hold."""

from __future__ import annotations

from rollroute.output.itinerary import Itinerary
from rollroute.output.steps_runs import ON_ROAD
from rollroute.output.steps_watch import SMOOTH
from rollroute.output.words.facts import hazard_words
from rollroute.output.words.words import Words

FREEZING_C = 0.0  # below it lithium cells must not be charged: metal plates out on the electrode
COLD_C = 5.0
HOT_C = 32.0
INDOORS = frozenset({"elevator", "corridor", "platform"})


def trip_cautions(itinerary: Itinerary, words: Words) -> list[str]:
    """Cautions that this trip calls for: hazards, weather, dark, road, helpers, lifts, coarse heights."""
    conditions, say = itinerary.conditions, words.say
    lines = [*_scout(itinerary, words), *(hazard_words(h, words, day=conditions.departure) for h in itinerary.hazards)]
    if conditions.is_wet:
        lines.append(say("Cover the joystick and controls before leaving: water stops or moves the chair."))
        lines.append(say("Brake early on wet ramps, metal and leaves: wheels slip."))
    else:
        lines.append(say("Cover the joystick and controls if rain starts: water stops or moves the chair."))
    if conditions.is_dark:
        lines.append(say("Light the chair front and back, wear something bright: drivers miss low chairs."))
    elif any(p.way_kind in ON_ROAD for p in itinerary.pieces):
        lines.append(say("Keep a light toward traffic where the way is on the road: drivers see you late."))
    if any(p.surface is not None and p.surface not in SMOOTH for p in itinerary.pieces):
        lines.append(say("Go slowly and straight on gravel, setts and soft ground: small wheels dig in."))
    lines += _temperature(itinerary, words)
    if any(p.way_kind == "elevator" for p in itinerary.pieces):
        lines.append(say("Ask whether a lift's power will last before entering: without it you are held."))
    return [*lines, *_noted(itinerary, words)]


def _noted(itinerary: Itinerary, words: Words) -> list[str]:
    """Cautions that the itinerary's notes call for."""
    say, lines = words.say, []
    if "escort_needed" in itinerary.notes:
        lines.append(say("Stay with the chair: the rider is not to be alone on this way."))
    if "grades_unknown" in itinerary.notes:
        lines.append(say("Not all slopes are measured: judge by eye."))
    if "start_no_refuge" in itinerary.notes:
        lines.append(say("Do not plan to come back to the start: it is no refuge."))
    if "goal_opens_later" in itinerary.notes:
        lines.append(say("Ask at the goal before leaving: it opens only after the planned arrival."))
    if "goal_area_closes" in itinerary.notes:
        lines.append(say("Do not plan to stay at the goal: it lies in an area that closes."))
    if {"coarse_heights", "heights_coarse", "heights_surface"} & set(itinerary.notes):
        lines.append(say("Judge every slope by eye: the heights used are coarse and hide short ramps."))
    return lines


def _scout(itinerary: Itinerary, words: Words) -> list[str]:
    """What somebody should look at before anybody sets out."""
    numbers = ", ".join(str(q.number) for q in itinerary.questions if q.scout_first)
    text = words.say(
        "Before leaving, have somebody look at the far kerb of {numbers}: a high one leaves the chair in traffic.", numbers=numbers
    )
    return [text] if numbers else []


def always_cautions(itinerary: Itinerary, words: Words) -> list[str]:
    """Cautions that hold on every trip; that of lifts where the way goes indoors."""
    say = words.say
    lines = [
        say("Look first, then go: the map cannot see cross slope, damage or parked cars."),
        say("Cross only when the road is free for long enough: the chair cannot hurry."),
        say("Turn back at any water on the way: its depth and its ground cannot be seen."),
    ]
    if any(p.way_kind in INDOORS for p in itinerary.pieces) or itinerary.goal.kind == "room":
        lines.append(say("Never use a lift in fire or smoke, unless the fire service runs it."))
    return lines


def drive_cautions(words: Words) -> list[str]:
    """Where the drive must not be disengaged."""
    say = words.say
    return [
        say("Never disengage the drive on a slope, nor one side alone: the drive is the brake."),
        say("Disengage both only on flat ground, looked at, two people holding, nobody below."),
        say("Engage both levers and try to push before letting go: a lever half home does not hold."),
    ]


def standing_charging_cautions(words: Words) -> list[str]:
    """Charging, whatever the battery: water, chargers, cables, generators."""
    say = words.say
    return [
        say("Dry place, dry hands: wet mains can kill."),
        say("Chair off, and stay with it while it charges."),
        say("Its own charger only: others can start a fire."),
        say("Cable dry, and where nobody can pull it out."),
        say("Generator outdoors, away from windows: its fumes kill."),
    ]


def charging_cautions(itinerary: Itinerary, words: Words) -> list[str]:
    """Charging this chair: the standing cautions, and those of its battery."""
    return [*standing_charging_cautions(words), *battery_cautions(itinerary.chair.chemistry, words)]


def battery_cautions(chemistry: str | None, words: Words) -> list[str]:
    """Charging a battery of this chemistry; where it is not known, those of lithium and of lead."""
    say, kind = words.say, (chemistry or "").lower()
    is_lead = any(word in kind for word in ("lead", "agm", "gel", "flooded", "sla", "vrla"))
    lines = []
    if not is_lead:
        lines.append(say("Lithium battery below 0 °C, wet, swollen, hot or damaged: do not charge, move away, call the fire service."))
    if is_lead or "li" not in kind:
        lines.append(say("Lead battery: air it, no flames; its gas burns."))
    return lines


def transfer_cautions(words: Words) -> list[str]:
    """Lifting and moving the person."""
    say = words.say
    return [
        say("Ask the rider how to be moved, and wait."),
        say("Do not lift alone: transfers need training."),
        say("Do not carry the chair with the rider in it."),
    ]


def _temperature(itinerary: Itinerary, words: Words) -> list[str]:
    temperature_c = itinerary.conditions.temperature_c
    if temperature_c is None:
        return [words.say("Temperature not known: dress the rider for the coldest hour, and expect less range in the cold.")]
    shown = words.temperature(temperature_c)
    if temperature_c <= FREEZING_C:
        return [
            words.say(
                "{temperature}: ice is possible, range is shorter, and a lithium battery must not be charged below 0 °C.", temperature=shown
            )
        ]
    if temperature_c <= COLD_C:
        return [words.say("{temperature}: keep the rider warm, and expect less range in the cold.", temperature=shown)]
    if temperature_c >= HOT_C:
        return [words.say("{temperature}: carry water and look for shade: not every rider can sweat.", temperature=shown)]
    return []
