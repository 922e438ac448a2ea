"""The auditor's look at the shelters: places, intake, hours, hazards, outlets, circuits, generator, quiet hours."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from rollroute.inputs.move_shelters import Shelter
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.plan import Plug, ShelterPlan

WINDOW_MIN = 60.0


def shelter_violations(book: Book) -> list[Violation]:
    """Every rule that is broken at a shelter."""
    found: list[Violation] = []
    for shelter in book.move.shelters:
        guests = sorted(
            (book.time(line.arrive), line.id) for line in book.plan.riders if line.way is not None and line.shelter == shelter.name
        )
        if guests:
            found += _intake(book, shelter, guests)
        for plan in (p for p in book.plan.shelters if p.name == shelter.name):
            found += _plugs(book, shelter, plan, {i: t for t, i in guests})
            found += _held(book, shelter, plan, guests)
            found += _halts(book, plan)
    return found


def _intake(book: Book, shelter: Shelter, guests: list[tuple[float, str]]) -> Iterator[Violation]:
    places = shelter.accessible_places or 0
    if len(guests) > places:
        yield Violation("places", shelter.name, f"{len(guests)} riders, {places} accessible places")
    rate = book.settings.assume.intake_per_hour if shelter.intake_per_hour is None else shelter.intake_per_hour
    for arrive, rider_id in guests:
        window = [i for t, i in guests if arrive - WINDOW_MIN + book.SLACK < t <= arrive]
        if len(window) > rate:
            yield Violation("intake", shelter.name, f"{len(window)} arrivals in the hour up to {rider_id}, {rate:.0f} is the intake")
        if shelter.opens is None or arrive < book.minute(shelter.opens, 0.0) - book.SLACK:
            yield Violation("hours", shelter.name, f"{rider_id} arrives before it is known to be open")
        if arrive > book.minute(shelter.closes, math.inf) + book.SLACK:
            yield Violation("hours", shelter.name, f"{rider_id} arrives after it closes")
    if book.minute(shelter.closes, math.inf) < book.night_end():
        yield Violation("hours", shelter.name, "closes before morning, nobody can stay")
    place = book.place(shelter.name)
    for hazard in book.move.hazards:
        in_it = place is not None and hazard.kind != "watch" and not hazard.is_road and hazard.contains(*place)
        over = hazard.ends is not None and hazard.ends <= book.move.start
        if in_it and not over and book.minute(hazard.starts, 0.0) < book.night_end():
            yield Violation("closed area", shelter.name, f"lies in {hazard.label}")


def _power(book: Book, shelter: Shelter) -> tuple[float, float]:
    """(minute until which there is power, watts that all circuits share)."""
    has_mains = book.settings.weather.has_mains if shelter.has_mains is None else shelter.has_mains
    if has_mains:
        return math.inf, math.inf
    watts = shelter.generator_watts or 0.0
    since = min(0.0, book.minute(shelter.opens, 0.0))  # a generator that was running before the move has burnt fuel since
    return (max(0.0, since + 60.0 * (shelter.generator_fuel_h or 0.0)) if watts else 0.0), watts


def _plugs(book: Book, shelter: Shelter, plan: ShelterPlan, arrivals: dict[str, float]) -> Iterator[Violation]:
    powered_until, shared = _power(book, shelter)
    night = book.settings.night
    circuits = {c.name: c for c in shelter.circuits}
    times = [(book.time(p.start), book.time(p.end), p) for p in (*plan.plugs, *plan.halts)]
    for start, end, plug in times:
        circuit = circuits.get(plug.circuit)
        if circuit is None or not 1 <= plug.outlet <= (circuit.outlets or 0):
            yield Violation("outlets", shelter.name, f"outlet {plug.circuit} {plug.outlet} is not known")
            continue
        is_guest = not any(plug is halt for halt in plan.halts)
        if is_guest and (plug.rider not in arrivals or start < arrivals[plug.rider] - 1.0):
            yield Violation("outlets", shelter.name, f"{plug.rider} is plugged in before arriving")
        if end > powered_until + 1.0:
            yield Violation("power", shelter.name, f"{plug.rider} is plugged in after the power ends")
        if any(
            s < end and start < e
            for s, e, other in times
            if other is not plug and (other.circuit, other.outlet) == (plug.circuit, plug.outlet)
        ):
            yield Violation("outlets", shelter.name, f"outlet {plug.circuit} {plug.outlet} is used twice at a time")
        now = [other for s, e, other in times if s <= start < e]
        rated = (book.settings.assume.circuit_amps if circuit.amps is None else circuit.amps) * night.mains_v * night.continuous_share
        if sum(o.watts for o in now if o.circuit == plug.circuit) > rated + 1e-3:
            yield Violation("circuit", shelter.name, f"circuit {plug.circuit} carries more than {rated:.0f} W")
        if sum(o.watts for o in now) > shared + 1e-3:
            yield Violation("generator", shelter.name, f"more than the generator's {shared:.0f} W")
    yield from _night_swaps(book, shelter, times)


def _night_swaps(book: Book, shelter: Shelter, times: list[tuple[float, float, Plug]]) -> Iterator[Violation]:
    night = book.settings.night
    if night.staff.strip():
        return
    for start, _, plug in times:
        earlier = [e for _, e, o in times if (o.circuit, o.outlet) == (plug.circuit, plug.outlet) and e <= start]
        if earlier and _in_quiet(book, start):
            yield Violation(
                "quiet hours", shelter.name, f"outlet {plug.circuit} {plug.outlet} is swapped to {plug.rider} with nobody named"
            )


def _in_quiet(book: Book, minute: float) -> bool:
    first, last = (dt.time.fromisoformat(t) for t in (book.settings.night.quiet_from, book.settings.night.quiet_to))
    clock = (book.move.start + dt.timedelta(minutes=minute)).time()
    return first < clock or clock < last if first > last else first < clock < last


def _halts(book: Book, plan: ShelterPlan) -> Iterator[Violation]:
    """Whoever charges here on the way has an outlet all that time, and nobody else is told to."""
    due: list[tuple[str, float, float]] = []
    for line in book.plan.riders:
        for leg in line.path[:-1] if line.way == "roll" else ():
            start = book.time(line.leave) + leg.arrive_min + leg.wait_min
            if leg.to == plan.name:
                due.append((line.id, start, start + leg.setup_min + leg.charge_min))
    kept = [(p.rider, book.time(p.start), book.time(p.end)) for p in plan.halts]
    for rider_id, start, end in due:
        is_past = end <= book.now
        if not is_past and not any(i == rider_id and a <= start + book.SLACK and end <= b + book.SLACK for i, a, b in kept):
            yield Violation("halt", rider_id, f"charges at {plan.name} on the way, no outlet is kept for all of that time")
    for rider_id, a, b in kept:
        if not any(i == rider_id and start < b and a < end for i, start, end in due):
            yield Violation("halt", rider_id, f"an outlet at {plan.name} is kept for a halt that the way does not make")


def _held(book: Book, shelter: Shelter, plan: ShelterPlan, guests: list[tuple[float, str]]) -> Iterator[Violation]:
    """Whoever needs an outlet all night has one from arrival to morning."""
    end = book.night_end()
    for arrive, rider_id in guests:
        if not book.has_socket_limit(rider_id):
            continue
        own = [(book.time(p.start), book.time(p.end)) for p in plan.plugs if p.rider == rider_id and p.is_held]
        if not any(s <= arrive + 1.0 and e >= end - 1.0 for s, e in own):
            yield Violation("priority outlet", shelter.name, f"{rider_id} has no outlet from arrival to morning")
