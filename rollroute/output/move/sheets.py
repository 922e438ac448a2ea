"""Sheets of a move: one for each van's driver, one for each shelter with its arrivals and outlets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from rollroute.output.move.facts import Halt, MoveFacts, file_stems, mass_on_lift_kg, positions_by_stop
from rollroute.output.move.planner_words import tell
from rollroute.output.plain_text import plain
from rollroute.output.sheet.move import StopSheet, VanSheet, VanStop, write_stop_sheet, write_van_sheet
from rollroute.output.words import Words
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import Plug, RiderPlan, ShelterPlan, Stop, VanPlan
from rollroute.planning.travel import LoadingZone
from rollroute.units import M_PER_INCH, S_PER_MIN

CM = 0.01


def write_van_sheets(facts: MoveFacts, folder: Path, paper: str) -> list[Path]:
    """Write ``<van>.pdf`` for every van that drives."""
    files = _files([v.id for v in facts.plan.vans], folder)
    for van in facts.used_vans:
        write_van_sheet(van_sheet(facts, van), files[van.id], words=facts.words, paper=paper)
    return [files[van.id] for van in facts.used_vans]


def write_shelter_sheets(facts: MoveFacts, folder: Path, paper: str) -> list[Path]:
    """Write ``<shelter>.pdf`` for every shelter that somebody goes to."""
    files = _files([s.name for s in facts.plan.shelters], folder)
    for shelter in facts.used_shelters:
        write_stop_sheet(shelter_sheet(facts, shelter), files[shelter.name], words=facts.words, paper=paper)
    return [files[shelter.name] for shelter in facts.used_shelters]


def _files(names: Sequence[str], folder: Path) -> dict[str, Path]:
    """The file of each sheet in its folder, which is made."""
    folder.mkdir(parents=True, exist_ok=True)
    return {name: folder / f"{stem}.pdf" for name, stem in file_stems(names).items()}


def van_sheet(facts: MoveFacts, van: VanPlan) -> VanSheet:
    """What a driver needs: stops, riders by id, positions, mass against the lift, the zone. No need and no reason of a rider."""
    table, say = facts.van(van.id), facts.words.say
    positions = positions_by_stop(facts, van)
    return VanSheet(
        code=van.id,
        vehicle=_vehicle(facts, van),
        lift_rating_kg=table.lift_rating_kg if table else None,
        made_at=facts.made_at,
        stops=[_van_stop(facts, van, stop, taken) for stop, taken in zip(van.stops, positions, strict=True)],
        starts=_drive_off(van),
        warnings=closings(facts),
        notes=[
            *_still_aboard(facts, van),
            *_things(facts, van),
            *_rider_notes(facts, van),
            say("A code stands for a rider; ask for it at the door, and give it to the shelter."),
            *((say("Note of the coordinator: {note}", note=plain(table.note)),) if table and table.note else ()),
        ],
    )


def _drive_off(van: VanPlan) -> str:
    first = van.stops[0]
    return (read_moment(first.arrive) - dt.timedelta(minutes=first.drive_min)).isoformat(timespec="minutes")


def _vehicle(facts: MoveFacts, van: VanPlan) -> str:
    table, words = facts.van(van.id), facts.words
    if table is None:
        return ""
    unknown = words.say("not known")
    size = [table.platform_width_cm, table.platform_length_cm]
    platform = " × ".join(unknown if v is None else small_size(v, words) for v in size)
    door = unknown if table.door_height_cm is None else small_size(table.door_height_cm, words)
    side = {"left": words.say("left"), "right": words.say("right"), "rear": words.say("rear")}.get(table.lift_side or "", unknown)
    return words.say("Platform {platform}, door {door}, lift side: {side}", platform=platform, door=door, side=side)


def small_size(size_cm: float, words: Words) -> str:
    """Say a size as a tape measure shows it: whole centimetres or inches."""
    return f"{round(size_cm * CM / M_PER_INCH)} in" if words.units == "us" else f"{round(size_cm)} cm"


def closings(facts: MoveFacts) -> list[str]:
    """What closes when, in words: the first thing that whoever goes out must know."""
    words = facts.words
    lines = []
    for hazard in facts.move.hazards:
        start = facts.move.start if hazard.starts is None else hazard.starts
        sentence = {
            "closed": words.say(
                "{what}: closed from {time}. Be out of it before.", what=plain(hazard.label), time=words.time_of_day(start)
            ),
            "deadline": words.say("{what}: out by {time}.", what=plain(hazard.label), time=words.time_of_day(start)),
            "watch": words.say("{what}: watch, from {time}.", what=plain(hazard.label), time=words.time_of_day(start)),
        }
        lines.append(sentence[hazard.kind])
    return lines


def _van_stop(facts: MoveFacts, van: VanPlan, stop: Stop, positions: list[tuple[int, ...]]) -> VanStop:
    place = facts.node_place(stop.node) or (float("nan"), float("nan"))
    riders = [facts.plan.rider(i) for i in stop.riders]
    return VanStop(
        place=_where(facts, stop, riders),
        lon=place[0],
        lat=place[1],
        arrive=stop.arrive,
        leave=stop.end,
        action=stop.kind,
        riders=list(stop.riders),
        positions=[_positions(taken, facts.words) for taken in positions],
        chair_mass_kg=[mass_on_lift_kg(facts, r) for r in riders],
        zone_note="\n".join([*_doors(facts, stop), " ".join(_zone_lines(facts, van, stop, riders))]),
    )


def _where(facts: MoveFacts, stop: Stop, riders: list[RiderPlan]) -> str:
    if stop.kind == "unload" and riders and riders[0].shelter:
        return facts.words.say("{shelter}, at {street}", shelter=riders[0].shelter, street=facts.stop_name(stop))
    return facts.stop_name(stop)


def _doors(facts: MoveFacts, stop: Stop) -> list[str]:
    """Where each rider is fetched."""
    if stop.kind != "load":
        return []
    say = facts.words.say
    return [say("Fetch {rider}: {place}", rider=plain(i), place=facts.address(i)) for i in stop.riders]


def _positions(taken: tuple[int, ...], words: Words) -> str:
    return words.listing([str(n) for n in taken]) if taken else words.say("not known")


def _zone_lines(facts: MoveFacts, van: VanPlan, stop: Stop, riders: list[RiderPlan]) -> list[str]:
    words, table = facts.words, facts.van(van.id)
    lines = [words.say("Drive {minutes} to here.", minutes=words.minutes(stop.drive_min * S_PER_MIN))]
    if stop.start != stop.arrive:
        lines.append(words.say("Begin at {time}, not before.", time=words.time_of_day(stop.start)))
    zones = [z for r in riders if (z := facts.zone(r, stop.kind)) is not None]
    for zone in zones[:1]:
        lines += zone_sentences(zone, words, height_cm=table.vehicle_height_cm if table else None)
    slowest = max((z.roll_min for z in zones), default=0.0)
    if slowest > 1.0:
        lines.append(_way_to_zone(facts, stop, riders, slowest))
    return lines


def _way_to_zone(facts: MoveFacts, stop: Stop, riders: list[RiderPlan], slowest_min: float) -> str:
    words = facts.words
    minutes = words.minutes(slowest_min * S_PER_MIN)
    if any(r.way == "apart" for r in riders) and stop.kind == "load":
        return words.say("A trained crew brings the rider down ({minutes}); the chair goes on the lift without the rider.", minutes=minutes)
    if stop.kind == "unload":
        return words.say("From here {minutes} to the entrance in the chair.", minutes=minutes)
    escorts = list(dict.fromkeys(e for r in riders for e in r.escorts))
    if escorts:
        return words.say("The rider comes {minutes} to here with {escorts}.", minutes=minutes, escorts=words.listing(escorts))
    return words.say("The rider comes {minutes} to here: meet at the door.", minutes=minutes)


def zone_sentences(zone: LoadingZone, words: Words, *, height_cm: float | None) -> list[str]:
    """What is known of a loading zone and what the driver has to look at; 1:48 is that of ADA 503.4."""
    slope = {
        True: words.say("Flatter than 1:48 as far as estimated: look before the lift goes down."),
        False: words.say("Steeper than 1:48 on the map: look for a flatter place next to it."),
        None: words.say("Slope not known: look for less than 1:48 before the lift goes down."),
    }[zone.is_level]
    lines = [slope]
    if zone.clearance_cm is not None:
        own = words.say("not known") if height_cm is None else small_size(height_cm, words)
        lines.append(words.say("Height limit {limit}, this van {height}.", limit=small_size(zone.clearance_cm, words), height=own))
    if zone.side is not None:
        side = words.say("left") if zone.side == "left" else words.say("right")
        lines.append(words.say("The kerb is on the {side}.", side=side))
    return lines


def _still_aboard(facts: MoveFacts, van: VanPlan) -> list[str]:
    """Whoever was loaded and can be taken nowhere as things are: the driver is not to set them down on a guess."""
    loaded = dict.fromkeys(i for s in van.stops if s.kind == "load" for i in s.riders)
    gone = {i for s in van.stops if s.kind == "unload" for i in s.riders}
    say = facts.words.say
    return [
        say("{rider} stays aboard with the chair: call the coordinator, who says where to.", rider=plain(i))
        for i in loaded
        if i not in gone
    ]


def _things(facts: MoveFacts, van: VanPlan) -> list[str]:
    """What to ask for at every door, and what at one door beside that, since whatever is left behind is missing tonight."""
    words = facts.words
    things = {i: facts.plan.rider(i).things for stop in van.stops for i in stop.riders}
    everybody = [t for t in next(iter(things.values()), ()) if all(t in theirs for theirs in things.values())]

    def listed(found: Sequence[str]) -> str:
        return "; ".join(plain(tell(words, t)) for t in found)

    lines = [words.say("Ask at the door for: {things}.", things=listed(everybody))] if everybody else []
    own = {i: [t for t in theirs if t not in everybody] for i, theirs in things.items()}
    return lines + [
        words.say("{rider}, ask also for: {things}.", rider=plain(i), things=listed(found)) for i, found in own.items() if found
    ]


def _rider_notes(facts: MoveFacts, van: VanPlan) -> list[str]:
    """What of each rider's chair the driver has to know before it comes."""
    words, notes = facts.words, []
    for rider_id in dict.fromkeys(i for stop in van.stops for i in stop.riders):
        needs, plan = facts.needs.get(rider_id), facts.plan.rider(rider_id)
        if needs is None:
            continue
        known = [] if needs.rider.securable else [_securable(needs.rider.securable, words)]
        if needs.rider.companions:
            known.append(words.say_n("{n} companion comes along.", "{n} companions come along.", needs.rider.companions))
        if plan.status == "undecided":
            known.append(words.say("Has not agreed yet: call the coordinator before driving there."))
        if plan.latest is not None:
            known.append(words.say("Must be there by {time}.", time=words.time_of_day(plan.latest)))
        notes += [f"{plain(rider_id)}: {' '.join(known)}"] if known else []
    return notes


def _securable(securable: bool | None, words: Words) -> str:
    if securable is None:
        return words.say("Nobody knows whether the chair can be tied down: try all four points, offer a seat; it is no reason to refuse.")
    return words.say("The chair has no tie-down points: offer a seat, never require it; it is no reason to refuse.")


def shelter_sheet(facts: MoveFacts, shelter: ShelterPlan) -> StopSheet:
    """What a shelter needs: who comes when and how, and who is plugged in where; never why."""
    words, table = facts.words, facts.shelter(shelter.name)
    lon, lat = facts.shelter_place(shelter.name) or (float("nan"), float("nan"))
    has_mains = None if table is None else facts.move.settings.weather.has_mains if table.has_mains is None else table.has_mains
    plugs = sorted(shelter.plugs, key=lambda p: (p.start, p.circuit, p.outlet))
    plugged = {p.rider for p in plugs}
    halts = [h for h in facts.halts if h.shelter == shelter.name]
    notes = [words.say("{rider} has no outlet in this plan: ask when the gauge was last read.", rider=plain(i)) for i in
             shelter.arrivals if i not in plugged]  # fmt: skip
    if shelter.missing_h > 0:
        missing = words.minutes(shelter.missing_h * 3600.0)
        notes.append(words.say("Outlets are short by {hours} in all tonight.", hours=missing))
    if table is not None and table.note:
        notes.append(words.say("Note of the coordinator: {note}", note=plain(table.note)))
    return StopSheet(
        code=shelter.name,
        place=shelter.name,
        lon=lon,
        lat=lat,
        made_at=facts.made_at,
        outlets=_outlets(facts, shelter),
        has_mains=has_mains,
        rows=sorted((*(_plug_row(facts, p) for p in plugs), *(_halt_row(facts, h) for h in halts)), key=lambda row: (row[1], row[0])),
        arrivals=[_arrival_row(facts, facts.plan.rider(i)) for i in shelter.arrivals],
        notes=notes,
    )


def _outlets(facts: MoveFacts, shelter: ShelterPlan) -> str | None:
    table, words = facts.shelter(shelter.name), facts.words
    if table is None or not table.circuits:
        return None
    unknown = words.say("not known")
    return "; ".join(
        words.say(
            "circuit {name}: {outlets} outlets, {amps}",
            name=plain(c.name),
            outlets=unknown if c.outlets is None else c.outlets,
            amps=unknown if c.amps is None else f"{c.amps:g} A",
        )
        for c in table.circuits
    )


def _plug_row(facts: MoveFacts, plug: Plug) -> tuple[str, str, str, str, str, str]:
    words, needs = facts.words, facts.needs.get(plug.rider)
    charger = charger_words(needs.rider.charger if needs else None, words)
    note = words.say("keep in all night, never unplug for another") if plug.is_held else ""
    return plug.rider, plug.start, plug.end, f"{plug.circuit} {plug.outlet}", charger, note


def _halt_row(facts: MoveFacts, halt: Halt) -> tuple[str, str, str, str, str, str]:
    words, needs = facts.words, facts.needs.get(halt.rider)
    note = words.say("charges on the way, then goes on: keep an outlet free")
    outlet = plain(halt.outlet) if halt.outlet and halt.is_given else words.say("any")
    return halt.rider, halt.arrive, halt.leave, outlet, charger_words(needs.rider.charger if needs else None, words), note


def charger_words(charger: str | None, words: Words) -> str:
    """Say where the charger is."""
    known = {
        "on board": words.say("on board"),
        "with the rider": words.say("with the rider"),
        "at the stop": words.say("at the stop"),
        "missing": words.say("missing: find one that fits"),
    }
    return known.get(charger or "", words.say("not known: ask"))


def _arrival_row(facts: MoveFacts, rider: RiderPlan) -> tuple[str, str, str, str]:
    words = facts.words
    place = plain(tell(words, rider.dropoff))
    way = words.say("van {van}, {place}", van=plain(rider.van), place=place) if rider.van else words.say("rolls")
    return rider.id, rider.arrive or "", way, words.listing([plain(i) for i in rider.together])
