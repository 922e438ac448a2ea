"""Sheets for a planned move: one for a van's driver, one for a charging stop."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import Block, bullets, facts, heading, paragraph, table, title
from rollroute.output.sheet.press import Press
from rollroute.output.sms import place_reference
from rollroute.output.words import Words
from rollroute.output.words.cautions import battery_cautions, standing_charging_cautions

LONGEST_NOTE = 1000  # letters: a sentence of ours whose names are cut already; cut itself, it would lose what must come along


@dataclass(frozen=True, slots=True, kw_only=True)
class VanStop:
    """One stop of a van. ``riders`` are codes, never needs; ``position`` where each chair is tied down."""

    place: str
    lon: float
    lat: float
    arrive: str  # ISO 8601
    leave: str
    action: str  # "load" or "unload"
    riders: list[str]
    positions: list[str] = field(default_factory=list)
    chair_mass_kg: list[float | None] = field(default_factory=list)  # chair, rider and bags; None = not known
    zone_note: str | None = None  # kerb side, height limit, slope, in words of the plan; each line a paragraph


@dataclass(frozen=True, slots=True, kw_only=True)
class VanSheet:
    """What a van's driver needs. ``lift_rating_kg`` is the rated load of lift or ramp, ``None`` if not known."""

    code: str
    vehicle: str
    lift_rating_kg: float | None
    made_at: str
    stops: list[VanStop]
    notes: list[str] = field(default_factory=list)
    starts: str | None = None  # ISO 8601: when the van has to drive off
    warnings: list[str] = field(default_factory=list)  # what closes and when, in words, said before the first stop


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSheet:
    """What a charging stop needs. A row: rider's code, arrive and leave (ISO 8601), outlet, charger, note."""

    code: str
    place: str
    lon: float
    lat: float
    made_at: str
    outlets: str | None
    has_mains: bool | None
    rows: list[tuple[str, str, str, str, str, str]]
    notes: list[str] = field(default_factory=list)
    arrivals: list[tuple[str, str, str, str]] = field(default_factory=list)  # rider's code, time, how, with whom


def write_van_sheet(sheet: VanSheet, path: Path, *, words: Words, paper: str = "a4") -> None:
    """Write a driver's sheet: stops in order, riders by code, tie-down positions, mass against the lift's rating."""
    name = words.say("Van {code}", code=plain(sheet.code))
    known = [(words.say("Lift rated for"), _mass(sheet.lift_rating_kg, words))]
    if sheet.starts is not None:
        known.insert(0, (words.say("Drive off at"), words.time_of_day(sheet.starts)))
    blocks = [title(name, plain(sheet.vehicle)), facts(known), *(paragraph(plain(w), strong=True) for w in sheet.warnings)]
    for n, stop in enumerate(sheet.stops, start=1):
        blocks += _stop_blocks(n, stop, sheet.lift_rating_kg, words)
    blocks += [
        heading(words.say("Cautions")),
        bullets([*_van_cautions(words), *(plain(note, longest=LONGEST_NOTE) for note in sheet.notes)]),
    ]
    Press(title=name, header=name, made_at=sheet.made_at, paper=paper, words=words).print(blocks, path)


def write_stop_sheet(sheet: StopSheet, path: Path, *, words: Words, paper: str = "a4") -> None:
    """Write the sheet of a charging stop: who comes when, at which outlet, with which charger."""
    say = words.say
    name = say("Shelter {place}", place=plain(sheet.place)) if sheet.arrivals else say("Charging stop {code}", code=plain(sheet.code))
    power = (
        say("not known")
        if sheet.has_mains is None
        else say("mains is on")
        if sheet.has_mains
        else say("no mains: generator or battery only")
    )
    grid = place_reference(sheet.lon, sheet.lat) if math.isfinite(sheet.lon + sheet.lat) else say("position not known")
    where = f"{plain(sheet.place)} ({grid})"
    rows = [[plain(r[0]), words.time_of_day(r[1]), words.time_of_day(r[2]), *(plain(c) for c in r[3:])] for r in sheet.rows]
    begin, end = (say("Plug in"), say("Until")) if sheet.arrivals else (say("Arrive"), say("Leave"))
    head = [say("Rider"), begin, end, say("Outlet"), say("Charger"), say("Note")]
    blocks = [
        title(name, say("Arrivals and outlets") if sheet.arrivals else plain(sheet.place)),
        facts([(say("Where"), where), (say("Power"), power), (say("Outlets"), plain(sheet.outlets) or say("not known"))]),
        *_arrival_blocks(sheet, words),
        heading(say("Outlets, by time")),
        table(head, rows) if rows else paragraph(say("Nobody is plugged in here in this plan.")),
        heading(say("Cautions")),
        bullets(
            [
                *standing_charging_cautions(words),
                *battery_cautions(None, words),
                *(plain(note, longest=LONGEST_NOTE) for note in sheet.notes),
            ]
        ),
    ]
    Press(title=name, header=name, made_at=sheet.made_at, paper=paper, words=words).print(blocks, path)


def _arrival_blocks(sheet: StopSheet, words: Words) -> list[Block]:
    """Who comes when, with a box to tick on arrival."""
    say = words.say
    if not sheet.arrivals:
        return []
    head = ["☐", say("Arrives"), say("Rider"), say("How"), say("Stays with")]
    rows = [["☐", words.time_of_day(time), plain(rider), plain(how), plain(others)] for rider, time, how, others in sheet.arrivals]
    return [heading(say("Arrivals")), table(head, rows, widths=["auto", "auto", "auto", "2fr", "1fr"])]


def _stop_blocks(n: int, stop: VanStop, rating_kg: float | None, words: Words) -> list[Block]:
    say = words.say
    action = say("load") if stop.action == "load" else say("unload")
    when = f"{words.time_of_day(stop.arrive)}–{words.time_of_day(stop.leave)}"
    place = _place_blocks(n, stop, f"{when}: {plain(stop.place)}, {action}", words)
    if stop.action != "load":
        return [*place, paragraph(_out(stop, words), strong=True)]
    head = [say("Rider"), say("Position"), say("Chair with rider"), say("Against the lift")]
    rows = []
    for k, rider in enumerate(stop.riders):
        mass = stop.chair_mass_kg[k] if k < len(stop.chair_mass_kg) else None
        position = plain(stop.positions[k]) if k < len(stop.positions) else say("not known")
        rows.append([plain(rider), position, _mass(mass, words), _against(mass, rating_kg, words)])
    return [*place, table(head, rows)]


def _place_blocks(n: int, stop: VanStop, name: str, words: Words) -> list[Block]:
    """Where a stop is, and what is known of the place."""
    where = place_reference(stop.lon, stop.lat) if math.isfinite(stop.lon + stop.lat) else words.say("not known")
    lines = [plain(line, longest=LONGEST_NOTE) for line in (stop.zone_note or "").splitlines() if line.strip()]
    return [heading(f"{n}. {name}"), paragraph(" · ".join([where, *lines[:1]])), *(paragraph(line) for line in lines[1:])]


def _out(stop: VanStop, words: Words) -> str:
    """Who gets out, from which position; mass and lift stood at the stop where they came aboard."""
    positions = [plain(p) for p in stop.positions] + [words.say("not known")] * len(stop.riders)
    named = [
        words.say("{rider} from position {position}", rider=plain(r), position=p) for r, p in zip(stop.riders, positions, strict=False)
    ]
    return words.say("Out: {riders}.", riders="; ".join(named))


def _mass(mass_kg: float | None, words: Words) -> str:
    return words.say("not known") if mass_kg is None else words.mass(mass_kg)


def _against(mass_kg: float | None, rating_kg: float | None, words: Words) -> str:
    """Mass against rating: an unknown one never counts as within."""
    if mass_kg is None or rating_kg is None:
        return words.say("not known: weigh or ask before lifting")
    return words.say("within the rating") if mass_kg <= rating_kg else words.say("OVER THE RATING: do not lift")


def _van_cautions(words: Words) -> list[str]:
    say = words.say
    return [
        say("Tie down the chair at four points and belt the rider apart from it: a chair's own belt does not hold in a crash."),
        say("Switch the chair's power off once it is tied down: a touched joystick moves it."),
        say("Put the lift down only where the ground carries it and traffic cannot reach it."),
        say("Ask the rider whether a seat is wanted; offer it, never require it."),
    ]
