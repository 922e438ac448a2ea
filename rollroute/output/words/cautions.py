"""Cautions: what to do, then why. Those of this trip, and those that always hold."""

from __future__ import annotations

from rollroute.output.itinerary import Itinerary
from rollroute.output.steps_runs import ON_ROAD
from rollroute.output.words.facts import hazard_words
from rollroute.output.words.words import Words

FREEZING_C = 0.0  # below it lithium cells must not be charged: metal plates out on the electrode
COLD_C = 5.0
HOT_C = 32.0


def trip_cautions(itinerary: Itinerary, words: Words) -> list[str]:
    """Cautions that this trip calls for: hazards, weather, dark, road, helpers, lifts, coarse heights."""
    conditions, say = itinerary.conditions, words.say
    lines = [hazard_words(h, words) for h in itinerary.hazards]
    if conditions.is_wet:
        lines.append(say("Cover the joystick and the controls before you leave: water can stop the chair or make it move."))
        lines.append(say("Brake early on wet ramps, metal and leaves: wheels slip."))
    if conditions.is_dark:
        lines.append(say("Put lights on the chair, front and back, and wear something bright: drivers look over a low chair."))
    if any(p.way_kind in ON_ROAD for p in itinerary.pieces):
        lines.append(say("Walk where drivers see you first on the road stretches, and keep a light toward traffic."))
    lines += _temperature(itinerary, words)
    if any(p.way_kind == "elevator" for p in itinerary.pieces):
        lines.append(say("Ask before entering a lift whether its power will last: a lift without power holds the rider inside."))
    if "escort_needed" in itinerary.notes:
        lines.append(say("Do not let the rider go alone on this way: one person walks with the chair all the time."))
    if "coarse_heights" in itinerary.notes:
        lines.append(say("Judge every slope by eye: the heights behind this route are coarse and hide short ramps."))
    return lines


def always_cautions(words: Words) -> list[str]:
    """Cautions that hold on every trip."""
    say = words.say
    return [
        say("Look first at every place, then go: the map cannot see cross slope, new damage or parked cars."),
        say("Cross only when the road is free for the whole crossing time: the chair cannot hurry."),
        say("Turn back before any water on the way: its depth and the ground under it cannot be seen."),
        say("Never use a lift during fire or where smoke is smelled, unless the fire service runs it."),
    ]


def drive_cautions(words: Words) -> list[str]:
    """Where the drive must not be disengaged."""
    say = words.say
    return [
        say(
            "Never disengage the drive on a slope, and never only one side of it: without the drive the chair has no brakes and rolls away."
        ),
        say("Disengage both sides only on ground that you have looked at, with two people holding the chair and nobody below it."),
        say("Engage both levers again and try the brakes before the rider lets go: a lever that is half home does not hold."),
    ]


def charging_cautions(itinerary: Itinerary, words: Words) -> list[str]:
    """Charging: water, lithium, cables, generators."""
    say = words.say
    lines = [
        say("Charge only in a dry place with dry hands: water and mains can kill."),
        say("Switch the chair off and stay still while it charges: most chairs lock the drive when plugged in."),
        say("Use the charger made for this battery: a wrong one can start a fire."),
        say("Keep the cable out of the way and away from water: a pulled plug ends the charge unseen."),
        say("Keep a running generator outdoors and away from windows: its exhaust kills without smell."),
    ]
    chemistry = (itinerary.chair.chemistry or "").lower()
    if not chemistry or "li" in chemistry.replace("sla", ""):
        lines.append(
            say(
                "Do not charge a lithium battery that is below 0 °C, wet inside, swollen, hot or damaged: "
                "move away and call the fire service."
            )
        )
    if not chemistry or "lead" in chemistry or "agm" in chemistry or "gel" in chemistry:
        lines.append(say("Let air move around a lead battery on charge and keep flames away: it gives off gas that burns."))
    return lines


def transfer_cautions(words: Words) -> list[str]:
    """Lifting and moving the person."""
    say = words.say
    return [
        say("Ask the rider how to be moved, and wait for the answer: only the rider knows what hurts."),
        say("Do not lift the rider or the chair by yourself: transfers need trained people and the rider's own method."),
        say("Do not carry an occupied power chair: it is too heavy, and its parts come off in the hand."),
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
