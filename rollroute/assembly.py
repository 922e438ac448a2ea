"""From the words of a command line to the nouns of the stages, and through them: no stage knows of this."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import itertools
import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions, parse_departure
from rollroute.inputs.field_facts import FieldFact, read_field_facts, read_inventory
from rollroute.inputs.move_hazards import Hazard, read_hazards
from rollroute.journey import Journey, Trip, plan_journey
from rollroute.network.build import build_network
from rollroute.network.gazetteer import find_place, read_address_points
from rollroute.network.network import Network
from rollroute.network.overlay import lay_facts
from rollroute.network.power import with_power
from rollroute.network.report import check_lines
from rollroute.network.rooms import RoomFinder
from rollroute.output.compose import Stamp, compose_itinerary
from rollroute.output.folder import check_code, route_code, way_key
from rollroute.output.itinerary import Itinerary
from rollroute.output.plain_text import plain
from rollroute.sockets import load_shelters, place_of, sockets_of
from rollroute.standards import CEILING_GRADE, load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.closures import closing_times_s
from rollroute.weights.weigh import ADA_RAMP_GRADE

log = logging.getLogger(__name__)

BOUNDS_MARGIN_DEG = 0.002  # about 200 m of heights around the map


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One request for a route, as typed."""

    start: str
    goal: str
    chair_name: str
    charge: str
    at_text: str | None = None
    temperature_c: float | None = None
    is_wet: bool = False
    is_dark: bool = False
    no_mains: bool = False
    alone: bool = False
    rider_mass_kg: float | None = None
    max_grade: float | None = None
    after_storm: bool = False
    standard: str | None = None
    keys: tuple[str, ...] = ()
    powered: tuple[str, ...] = ()
    facts: Path | None = None
    inventories: tuple[tuple[Path, Path], ...] = ()
    passages: Path | None = None
    granted: tuple[str, ...] = ()
    shelters: Path | None = None
    hazards: Path | None = None
    prefer: str = "surest"
    start_is_no_refuge: bool = False
    code: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightLabels:
    """What the user says of height rasters that do not say it themselves; ``shows_roofs`` overrides what a raster says."""

    unit: str | None = None
    datum: str | None = None
    shows_roofs: bool | None = None


NO_LABELS = HeightLabels()


def build_from_files(
    map_file: Path,
    heights: Sequence[Path] = (),
    *,
    labels: HeightLabels = NO_LABELS,
    addresses: Path | None = None,
    inventories: Sequence[tuple[Path, Path]] = (),
    day: dt.date | None = None,
) -> Network:
    """Read the files and build the network; ``inventories`` that hold on ``day`` are laid over it, for good.

    Raises
    ------
    InputError
        If a file can't be read, or an inventory has a last day: a network has none.
    """
    from rollroute.inputs.osm import read_map
    from rollroute.inputs.terrain import read_terrain

    surveys = _read_inventories(inventories)
    last_day = min((fact.expires for fact in surveys if fact.expires), default=None)
    if last_day is not None:
        raise InputError(f"--inventory: holds until {last_day}, a network has no last day. Give it to route instead, or take expires out.")
    extract = read_map(map_file)
    terrain = None
    if heights:
        lons = [x for way in extract.ways for x in (min(way.lons), max(way.lons))]
        lats = [y for way in extract.ways for y in (min(way.lats), max(way.lats))]
        margin = BOUNDS_MARGIN_DEG
        bounds = (min(lons) - margin, min(lats) - margin, max(lons) + margin, max(lats) + margin)
        terrain = read_terrain(list(heights), unit=labels.unit, datum=labels.datum, is_surface=labels.shows_roofs, bounds=bounds)
    points = [] if addresses is None else read_address_points(addresses)
    network = build_network(extract, terrain, address_points=points)
    return _laid(network, surveys, day or dt.date.today())


def chair_of(name: str, rider_mass_kg: float | None) -> Chair:
    """A chair file or class, with this rider's mass."""
    chair = find_chair(name)
    if rider_mass_kg is None:
        return chair
    known = tuple(s for s in chair.sources if s.field != "rider_mass_kg")
    return dataclasses.replace(chair, rider_mass_kg=rider_mass_kg, sources=known)


def conditions_of(asked: Mapping[str, Any], now: dt.datetime) -> Conditions:
    """Conditions from the options of a command."""
    return Conditions(
        departure=parse_departure(asked["at_text"], now),
        temperature_c=asked["temperature_c"],
        is_wet=asked["is_wet"],
        is_dark=asked["is_dark"],
        has_mains=not asked["no_mains"],
        has_escort=not asked["alone"],
        after_storm=asked["after_storm"],
    )


def rules_of(network: Network, asked: Mapping[str, Any], day: dt.date) -> Weighing:
    """The limits of a request; a steeper limit than the standard's is refused."""
    from rollroute.inputs.tracks import read_tracks
    from rollroute.network.tags import Access
    from rollroute.weights.passages import passages_of

    max_grade = asked["max_grade"]
    if max_grade is not None and not 0.0 < max_grade <= ADA_RAMP_GRADE:
        raise InputError(
            f"--max-grade {max_grade:g}: must be above 0 and no more than {ADA_RAMP_GRADE:.4f} (1:12, ADA 405.2). "
            "The limit can be lowered, not raised; give rise over run."
        )
    tracks = () if asked["passages"] is None else tuple(read_tracks(asked["passages"]))
    for note in passages_of(network, tracks, day)[1] if tracks else ():
        log.warning(note)
    return Weighing(
        max_grade=CEILING_GRADE if max_grade is None else max_grade,
        standard=None if asked["standard"] is None else load_standard(asked["standard"]),
        keys=frozenset(asked["keys"]),
        granted=frozenset(Access[word.upper()] for word in asked["granted"]),
        tracks=tracks,
    )


def with_field_facts(network: Network, facts: Path | None, inventories: Sequence[tuple[Path, Path]], day: dt.date) -> Network:
    """The network with inventories and facts from the field laid over it; what fits nowhere is told in the log.

    inventories : (file, mapping) of each
    """
    return _laid(network, [*_read_inventories(inventories), *([] if facts is None else read_field_facts(facts))], day)


def _read_inventories(inventories: Sequence[tuple[Path, Path]]) -> list[FieldFact]:
    return [fact for file, mapping in inventories for fact in read_inventory(file, mapping)]


def _laid(network: Network, known: Sequence[FieldFact], day: dt.date) -> Network:
    if not known:
        return network
    found, notes = lay_facts(network, known, day)
    for note in notes:
        log.warning(note)
    return found


def trip_of(network: Network, asked: Asked, *, now: dt.datetime) -> Trip:
    """The trip that was asked for."""
    chair = chair_of(asked.chair_name, asked.rider_mass_kg)
    conditions = conditions_of(dataclasses.asdict(asked), now)
    addresses = [tuple(a) for a in network.about.get("addresses", [])]
    shelters = [] if asked.shelters is None else load_shelters(asked.shelters, conditions.departure)
    rooms = RoomFinder(network)
    named = [place for s in shelters if (place := place_of(s, addresses, rooms)) is not None]
    _check_keys(network, asked.keys)
    known = [_Named(p.label, p.lon, p.lat, p.level, p.node, p.opens, p.closes) for p in named]
    start, goal = (find_place(text, addresses=addresses, shelters=known, rooms=rooms) for text in (asked.start, asked.goal))
    if (start.lon, start.lat, start.level) == (goal.lon, goal.lat, goal.level):
        raise InputError(
            f"{start.label} to {goal.label}: both lie at one spot of the map, so there is no way to go. Give another start or goal."
        )
    return Trip(
        start=start,
        goal=goal,
        chair=chair,
        reading=parse_charge(asked.charge, chair.gauge, battery_age_years=chair.battery.age_years),
        conditions=conditions,
        sockets=sockets_of(shelters, conditions, addresses, rooms=rooms),
        hazards=[] if asked.hazards is None else load_hazards(asked.hazards, conditions.departure),
        preference=asked.prefer,
        start_is_refuge=not asked.start_is_no_refuge,
        rules=rules_of(network, dataclasses.asdict(asked), conditions.departure.date()),
    )


def _check_keys(network: Network, keys: Sequence[str]) -> None:
    """Refuse a key that fits nothing: its gate would count as locked without a word."""
    names = set(network.about.get("place_names", {}).values())
    for key in keys:
        if key not in names and not (key.startswith("node/") and key[5:].isdigit() and int(key[5:]) in network.places.osm_id):
            near = difflib.get_close_matches(key, names, n=3, cutoff=0.6)
            hint = f" Did you mean {', '.join(near)}?" if near else ""
            raise InputError(f"--key {key!r}: the map has no gate or door of that name or number.{hint} Give its name, or node/ID.")


@dataclass(frozen=True, slots=True)
class _Named:
    name: str
    lon: float
    lat: float
    level: float | None
    node: int | None
    opens: dt.datetime | None
    closes: dt.datetime | None


def load_hazards(path: Path, start: dt.datetime) -> list[Hazard]:
    """Read hazards; any feature that can't be read is refused, all of them at once."""
    hazards, problems = read_hazards(path, start)
    if problems:
        raise InputError("\n".join(f"{p.file}, feature {p.row}: {p.message}" for p in problems))
    return hazards


def find_journey(network: Network, asked: Asked, *, now: dt.datetime) -> Journey:
    """Find the way."""
    day = parse_departure(asked.at_text, now).date()
    network = with_field_facts(with_power(network, asked.powered), asked.facts, asked.inventories, day)
    for line in check_lines(network):
        log.warning(line)
    trip = trip_of(network, asked, now=now)
    for hazard in trip.hazards:
        if closes_nothing(network, hazard, trip.conditions.departure):
            name = plain(hazard.label) or "without a label"
            log.warning("hazard %s: touches no way of this map, so it closes nothing. Check its place.", name)
    journey = plan_journey(network, trip)
    for warning in goal_warnings(journey):
        log.warning(warning)
    return journey


def goal_warnings(journey: Journey) -> Iterator[str]:
    """Why nobody may be able to stay at the goal, though the way there keeps every rule."""
    goal = journey.trip.goal
    if journey.goal_is_shut:
        yield f"{goal.label} opens at {goal.opens:%Y-%m-%d %H:%M}, the planned arrival is {journey.arrives:%H:%M}. Leave later, or ask."
    for hazard in journey.goal_areas:
        closes = "is closed" if hazard.starts is None else f"closes at {hazard.starts:%Y-%m-%d %H:%M}"
        yield f"{goal.label} lies in an area that {closes}: {plain(hazard.label) or 'without a label'}. Choose a goal outside it."


def closes_nothing(network: Network, hazard: Hazard, departure: dt.datetime) -> bool:
    """Whether an area that should close ways, and is not over, lies where there are none: degrees swapped, or another town's file."""
    if hazard.kind not in ("closed", "deadline") or (hazard.ends is not None and hazard.ends <= departure):
        return False
    return not bool(np.isfinite(closing_times_s(network, [hazard], departure)).any())


def find_itinerary(network: Network, asked: Asked, *, now: dt.datetime) -> Itinerary:
    """Find the way and gather its itinerary."""
    code = None if asked.code is None else check_code(asked.code)
    journey = find_journey(network, asked, now=now)
    trip = journey.trip
    departure = trip.conditions.departure.isoformat(timespec="minutes")
    itinerary = compose_itinerary(journey, Stamp(made_at=now, command=f"rollroute route ({asked.prefer})", code=code or ""))
    return dataclasses.replace(itinerary, code=code or route_code(trip.start.label, trip.goal.label, departure, way_key(itinerary)))


def explain_place(network: Network, place: str, asked: Mapping[str, Any], *, now: dt.datetime) -> Iterator[str]:
    """Lines that say everything known about the pieces at a place."""
    from rollroute.explain import explain_lines

    chair = chair_of(asked["chair_name"], asked["rider_mass_kg"])
    conditions = conditions_of(asked, now)
    network = with_field_facts(with_power(network, asked["powered"]), asked["facts"], asked["inventories"], conditions.departure.date())
    rules = rules_of(network, asked, conditions.departure.date())
    return itertools.chain(explain_lines(network, place, chair, conditions, rules), check_lines(network))
