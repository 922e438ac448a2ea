"""What the maps of a move show: the ways of whoever rolls, van tours, loading zones, shelters, who is not served, what closes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rollroute.output.itinerary import Backdrop, Itinerary, LonLat
from rollroute.output.map import marks
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.layers import way_line
from rollroute.output.move.planner_words import tell
from rollroute.output.move.sheets import closings, zone_sentences
from rollroute.output.move.town import Bounds, Leg
from rollroute.output.plain_text import plain
from rollroute.planning.plan import RiderPlan

Rows = list[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A way on the map. ``kind``: ``roll``, ``tour``, ``beeline`` (a tour that no road is known for) or ``tie`` (to a loading zone)."""

    kind: str
    line: tuple[LonLat, ...]
    title: str
    rows: Rows
    group: str  # what a reader can switch on and off: a van, or "rolls"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A place on the map. ``kind``: ``left`` (not served), ``rider``, ``shelter``, ``zone``, ``van``. Ids only, no needs."""

    kind: str
    place: LonLat
    label: str
    title: str
    rows: Rows
    group: str
    fragment: str  # our own drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveScene:
    """Everything drawn, in the reader's language."""

    ground: Backdrop
    bounds: Bounds
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]
    hazards: tuple[tuple[str, tuple[tuple[LonLat, ...], ...]], ...]


# A person's outline is no letter and no promise: a disc on a base for whoever goes, crossed out by two strokes for whoever is left.
RIDER = '<path class="p" d="M-12-13H12V13H-12Z"/><circle class="i" cy="-5" r="4.5"/><path class="i" d="M-8 10V6Q0-1 8 6V10Z"/>'
LEFT = RIDER + '<path class="ii" d="M-13-14H13V14H-13Z"/><path class="i" d="M-13 14L13-14"/>'
VAN = '<path class="p" d="M-14-9H14V11H-14Z"/><path class="i" d="M-12-7H5V6H-12ZM5-2H9L12 2V6H5Z"/><circle class="e" cx="-7" cy="7" r="2.6"/><circle class="e" cx="7" cy="7" r="2.6"/>'  # noqa: E501  (one drawing)


def set_move_scene(facts: MoveFacts, routes: Mapping[str, Itinerary], legs: Sequence[Leg], ground: Backdrop, bounds: Bounds) -> MoveScene:
    """Gather what is drawn."""
    return MoveScene(
        ground=ground,
        bounds=bounds,
        lines=(*_tours(facts, legs), *_ties(facts), *_rolls(facts, routes)),
        marks=(*_riders(facts), *_shelters(facts), *_zones(facts), *_starts(facts)),
        hazards=tuple((text, h.rings) for text, h in zip(closings(facts), facts.move.hazards, strict=True)),
    )


def _tours(facts: MoveFacts, legs: Sequence[Leg]) -> list[Line]:
    words, say = facts.words, facts.words.say
    found = []
    for leg in legs:
        if len(leg.line) < 2:
            continue
        rows = [
            (say("To"), facts.stop_name(leg.stop)),
            (say("Leaves"), words.time_of_day(leg.leave)),
            (say("Arrives"), words.time_of_day(leg.stop.arrive)),
            (say("Riders"), words.listing([plain(i) for i in leg.stop.riders])),
        ]
        if not leg.is_along_roads:
            rows.append((say("Drawn"), say("as a straight line: the road is not known")))
        title = say("Van {van}, stop {number}", van=plain(leg.van), number=leg.number)
        kind = "tour" if leg.is_along_roads else "beeline"
        found.append(Line(kind=kind, line=leg.line, title=title, rows=rows, group=plain(leg.van)))
    return found


def _ties(facts: MoveFacts) -> list[Line]:
    """From a door to its loading zone, straight: the map of the evening, not of the way."""
    found = []
    for r in facts.plan.riders:
        zone, door = facts.zone(r, "load"), facts.rider_place(r.id)
        if zone is not None and door is not None and door != (zone.lon, zone.lat):
            found.append(Line(kind="tie", line=(door, (zone.lon, zone.lat)), title=plain(r.id), rows=[], group=plain(r.van)))
    return found


def _rolls(facts: MoveFacts, routes: Mapping[str, Itinerary]) -> list[Line]:
    words, say = facts.words, facts.words.say
    found = []
    for rider, route in routes.items():
        r = facts.plan.rider(rider)
        rows = [
            (say("To"), plain(r.shelter)),
            (say("Leaves"), words.time_of_day(r.leave or "")),
            (say("Inside"), words.time_of_day(r.arrive or "")),
            (say("Distance"), words.distance(route.length_m)),
            (say("With"), words.listing([plain(e) for e in r.escorts])),
        ]
        title = say("{rider} rolls, route {code}", rider=plain(rider), code=plain(route.code))
        found.append(Line(kind="roll", line=tuple(way_line(route)), title=title, rows=rows, group=ROLLS))
    return found


ROLLS = "rolls"


def _riders(facts: MoveFacts) -> list[Mark]:
    found = []
    for r in facts.plan.riders:
        place = facts.rider_place(r.id)
        if place is None or r.status == "declined":
            continue
        group = plain(r.van) if r.van else ROLLS if r.way == "roll" else ""
        kind, fragment = ("left", LEFT) if r.way is None else ("rider", RIDER)
        title, rows = _rider_title(facts, r), _rider_rows(facts, r)
        found.append(Mark(kind=kind, place=place, label=plain(r.id), title=title, rows=rows, group=group, fragment=fragment))
    return found


def _rider_title(facts: MoveFacts, r: RiderPlan) -> str:
    say = facts.words.say
    if r.way is None:
        return say("{rider}: not served", rider=plain(r.id))
    return say("{rider}: to {shelter}", rider=plain(r.id), shelter=plain(r.shelter))


def _rider_rows(facts: MoveFacts, r: RiderPlan) -> Rows:
    words, say = facts.words, facts.words.say
    rows = [(say("From"), facts.address(r.id))]
    if r.way is None:
        rows.append((say("Why"), say("see the plan: a reason can tell a need, so it is not on this map")))
    if r.van:
        rows.append((say("Van"), plain(r.van)))
    times = ((say("Leaves"), r.leave), (say("Inside"), r.arrive), (say("Latest"), r.latest))
    rows += [(name, words.time_of_day(moment)) for name, moment in times if moment]
    if r.escorts:
        rows.append((say("With"), words.listing([plain(e) for e in r.escorts])))
    return [(name, value) for name, value in rows if value]


def _shelters(facts: MoveFacts) -> list[Mark]:
    words, say = facts.words, facts.words.say
    found = []
    for s in facts.plan.shelters:
        place = facts.shelter_place(s.name)
        if place is None:
            continue
        rows = [
            (say("Arrivals"), words.listing([plain(i) for i in s.arrivals]) or say("nobody")),
            (say("Outlets given"), str(len(s.plugs))),
        ]
        rows += [(say("Note"), plain(tell(words, reason))) for reason in s.reasons]
        title = say("Shelter {place}", place=plain(s.name))
        found.append(Mark(kind="shelter", place=place, label=plain(s.name), title=title, rows=rows, group="", fragment=marks.refuge()))
    return found


def _zones(facts: MoveFacts) -> list[Mark]:
    words, say = facts.words, facts.words.say
    stops: dict[tuple[str, str], list[str]] = {}
    for van in facts.used_vans:
        for n, stop in enumerate(van.stops, start=1):
            action = say("load") if stop.kind == "load" else say("unload")
            riders = words.listing([plain(i) for i in stop.riders])
            line = f"{plain(van.id)} {n}: {words.time_of_day(stop.start)} {action} {riders}"
            stops.setdefault((stop.node, facts.stop_name(stop)), []).append(line)
    found = []
    for (node, name), lines in stops.items():
        place = facts.node_place(node)
        zone = next((z for r in facts.plan.riders for k in ("load", "unload") if (z := facts.zone(r, k)) and z.node == node), None)
        if place is None or zone is None:
            continue
        rows = [(say("Stops"), "; ".join(lines)), (say("Look"), " ".join(zone_sentences(zone, words, height_cm=None)))]
        title = say("Loading zone {place}", place=name)
        found.append(Mark(kind="zone", place=place, label="", title=title, rows=rows, group="", fragment=marks.van_spot()))
    return found


def _starts(facts: MoveFacts) -> list[Mark]:
    say = facts.words.say
    found = []
    for v in facts.used_vans:
        table = facts.van(v.id)
        if table is not None and table.start_lon is not None and table.start_lat is not None:
            title = say("Van {code} starts here", code=plain(v.id))
            place = (table.start_lon, table.start_lat)
            found.append(Mark(kind="van", place=place, label=plain(v.id), title=title, rows=[], group=plain(v.id), fragment=VAN))
    return found
