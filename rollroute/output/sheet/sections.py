"""Sections of the rider's sheet, from the rider's yes to the last charging stop."""

from __future__ import annotations

from rollroute.output.itinerary import ChargingHalt, Itinerary, Spot
from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import (
    Block,
    bullets,
    charges,
    facts,
    figure,
    heading,
    paragraph,
    question_lines,
    ticks,
    write_in,
)
from rollroute.output.sheet.charge_bar import charge_row
from rollroute.output.sheet.overview import draw_overview, legend_line
from rollroute.output.sheet.reference import home_square, short_reference
from rollroute.output.sheet.strip import QUESTION_MARK
from rollroute.output.steps import Step
from rollroute.output.steps_watch import GAP_M, helper_places
from rollroute.output.words import Words, summary
from rollroute.output.words.cautions import always_cautions, charging_cautions, drive_cautions, trip_cautions
from rollroute.output.words.checkpoints import checkpoint_groups
from rollroute.output.words.facts import CHARGERS, QUESTIONS
from rollroute.output.words.sentences import helper_sentences

MOST_FLOOR_HEIGHT_PT = 200.0


def rider_section(words: Words) -> list[Block]:
    """The rider's yes, before anything else."""
    say = words.say
    return [
        heading(say("The rider decides")),
        paragraph(summary.decide_line(words)),
        ticks([say("asked"), say("agreed"), say("agreed with changes"), say("said no: stop here")]),
        write_in([say("Rider's name"), say("Helper's name and phone"), say("Rider's own limits (slopes, kerbs, time, cold, pain)")]),
    ]


def who_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Who goes where, when, with what charge."""
    say, chair = words.say, itinerary.chair
    mass = words.mass(chair.total_mass_kg)
    start, goal = (short_reference(itinerary, s.lon, s.lat) for s in (itinerary.start, itinerary.goal))
    rows = [
        (f"{say('Grid')} {home_square(itinerary)}".rstrip(), say("start {start}, goal {goal}", start=start, goal=goal)),
        (say("When"), " ".join(filter(None, [summary.when_line(itinerary, words), summary.validity(itinerary, words)]))),
        (say("Way"), f"{summary.way_line(itinerary, words)} {summary.time_line(itinerary, words)}"),
        (
            say("Chair"),
            say("{chair}, {width} wide, {mass} with rider and bags", chair=plain(chair.label), width=words.size(chair.width_m), mass=mass),
        ),
        (say("Not verified"), _doubt(itinerary, words)),
    ]
    reserve = say("Dashed: the reserve, {reserve}.", reserve=words.percent(itinerary.reserve_soc))
    return [
        heading(say("Who goes where, and when")),
        facts(rows),
        charges(
            [
                charge_row(say("Charge"), itinerary.soc_start, itinerary.reserve_soc, chair, words),
                charge_row(say("At goal"), itinerary.soc_goal, itinerary.reserve_soc, chair, words),
            ]
        ),
        paragraph(f"{summary.planned_line(words)} {reserve}"),
    ]


def caution_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Cautions for this trip, then those that always hold."""
    return [heading(words.say("Cautions for this trip")), bullets([*trip_cautions(itinerary, words), *always_cautions(itinerary, words)])]


def map_section(itinerary: Itinerary, steps: list[Step], words: Words, *, size_pt: tuple[float, float]) -> tuple[list[Block], Block]:
    """What the marks of the overview map mean, and the map itself, ``size_pt`` wide and high."""
    width_pt = size_pt[0]
    svg, alt, square = draw_overview(itinerary, steps, words, size_pt=size_pt)
    return [heading(words.say("Overview")), paragraph(legend_line(itinerary, square, words))], figure(svg, alt, width_pt)


def blank_map_section(itinerary: Itinerary, _: list[Step], words: Words, *, size_pt: tuple[float, float]) -> tuple[list[Block], Block]:
    """The same without the map's drawing, which takes time: to see how many pages there will be."""
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size_pt[0]:g}pt" height="{size_pt[1]:g}pt"/>'
    marks = [heading(words.say("Overview")), paragraph(legend_line(itinerary, home_square(itinerary), words))]
    return marks, figure(svg, words.say("Overview"), size_pt[0])


def charging_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Charging stops with charge, minutes, outlet and charger, and the charging cautions."""
    say = words.say
    blocks = [heading(say("Charging") if itinerary.halts else say("Charging: none planned; if you must"))]
    for halt in itinerary.halts:
        blocks += _halt_blocks(halt, itinerary, words)
    return [*blocks, bullets(charging_cautions(itinerary, words))]


def checkpoint_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Checkpoints in the gauge's own words; those that ask the same go together."""
    if not itinerary.checkpoints:
        return []
    say = words.say
    return [
        heading(say("Checkpoints: read the gauge on the move")),
        bullets(checkpoint_groups(itinerary, words)),
    ]


def floor_section(itinerary: Itinerary, words: Words, *, width_pt: float) -> list[Block]:
    """A plan of every floor of a building that the way uses."""
    if not itinerary.plans:
        return []
    from rollroute.output.level_plan import draw_level_plan, legend_words  # it draws on this package's canvas

    drawn = [draw_level_plan(plan, words, width_pt=width_pt, most_height_pt=MOST_FLOOR_HEIGHT_PT) for plan in itinerary.plans]
    floors = [figure(svg, alt, width_pt, alt) for svg, alt in drawn]
    return [heading(words.say("Inside buildings")), *floors, paragraph(legend_words(words))]


def rest_section(itinerary: Itinerary, words: Words, rest_minutes: float | None) -> list[Block]:
    """Places to rest and tilt, at the interval the rider asked for."""
    say = words.say
    asked = say("Ask the rider how often to stop and tilt.")
    if rest_minutes is not None:
        asked = say("The rider asked for a rest every {minutes}.", minutes=words.minutes(rest_minutes * 60.0))
    spots = [_rest_line(s, itinerary, words) for s in rest_places(itinerary, rest_minutes)]
    if spots:
        found = f"{say('Possibly level: look before touching the levers.')} {'; '.join(spots)}."
    else:
        found = say("No flat place is known here: choose by eye.")
    return [heading(say("Rest and tilt")), paragraph(f"{asked} {found}")]


def drive_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Where the drive must not be disengaged, and where the helper walks: both are told of every slope, so they are told together."""
    say = words.say
    unknown = [words.stretch(*ends) for ends in _unknown_slopes(itinerary)]
    places = helper_sentences(helper_places(itinerary), words)
    if unknown:
        places.append(say("Slope not known: {list}.", list=", ".join(unknown)))
    places.append(say("Elsewhere walk beside the chair, where the rider sees you. Never stand downhill of it."))
    return [
        heading(say("Keep the drive engaged")),
        bullets(drive_cautions(words)),
        heading(say("Slopes, and where the helper walks")),
        bullets(places),
    ]


def question_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Unverified places, kind by kind, each with a line to write on what was found."""
    say = words.say
    if not itinerary.questions:
        return []
    groups: dict[str, list[str]] = {}
    for q in itinerary.questions:
        what = words.say(QUESTIONS.get(q.kind, QUESTIONS["other"]))
        where = words.distance(q.at_m) if q.length_m < 1.0 else words.stretch(q.at_m, q.at_m + q.length_m)
        groups.setdefault(what, []).append(f"{QUESTION_MARK}{q.number} {where}")
    return [
        heading(say("Not verified: what did you find?")),
        paragraph(say("Write what you found, and when. Hand it in.")),
        question_lines(list(groups.items())),
    ]


def _doubt(itinerary: Itinerary, words: Words) -> str:
    names = [str(q.number) for q in summary.weakest(itinerary)]
    line = summary.doubt_line(itinerary, words)
    return f"{line} {words.say('Weakest: {list}.', list=', '.join(names))}" if names else line


def _rest_line(spot: Spot, itinerary: Itinerary, words: Words) -> str:
    """Metre and street of a resting place; the street is that of the way there."""
    at_m = spot.at_m or 0.0
    street = next((p.name for p in itinerary.pieces if p.from_m <= at_m <= p.to_m and p.name), None)
    return f"{words.distance(at_m)}: {plain(street)}" if street else words.distance(at_m)


def _unknown_slopes(itinerary: Itinerary) -> list[tuple[float, float]]:
    """Stretches without a grade, those that nearly touch joined."""
    found: list[tuple[float, float]] = []
    for p in itinerary.pieces:
        if p.grade is None and p.way_kind != "elevator":
            begin = found.pop()[0] if found and p.from_m - found[-1][1] <= GAP_M else p.from_m
            found.append((begin, p.to_m))
    return found


def rest_places(itinerary: Itinerary, rest_minutes: float | None) -> list[Spot]:
    """Rest places at the interval asked for: the last one that is reached before each interval of planned driving ends."""
    spots = sorted((s for s in itinerary.rest_spots if s.at_m is not None), key=lambda s: s.at_m or 0.0)
    if rest_minutes is None or not spots:
        return spots
    chosen: list[Spot] = []
    since_s = 0.0
    for here, following in zip(spots, [*spots[1:], None], strict=True):
        next_s = _drive_s(itinerary, (following.at_m if following else itinerary.length_m) or 0.0)
        if next_s - since_s > rest_minutes * 60.0:
            chosen.append(here)
            since_s = _drive_s(itinerary, here.at_m or 0.0)
    return chosen or spots[:1]


def _drive_s(itinerary: Itinerary, at_m: float) -> float:
    """Planned driving time from the start to ``at_m``."""
    total = 0.0
    for p in itinerary.pieces:
        share = min(max((at_m - p.from_m) / (p.to_m - p.from_m), 0.0), 1.0) if p.to_m > p.from_m else float(at_m >= p.to_m)
        total += share * p.time_s.planned
    return total


def _halt_blocks(halt: ChargingHalt, itinerary: Itinerary, words: Words) -> list[Block]:
    say, chair, day = words.say, itinerary.chair, itinerary.conditions.departure
    asked = say("not known: ask before you leave")
    charger = say(CHARGERS[halt.charger]) if halt.charger in CHARGERS else plain(halt.charger) or asked
    arrive = say("Arrive {time}", time=words.moment(halt.arrive_time, day=day))
    leave = say("Leave {time}", time=words.moment(halt.leave_time, day=day))
    stay = say("{charge} charging, {setup} to set up", charge=words.minutes(halt.charge_s), setup=words.minutes(halt.setup_s))
    if halt.wait_s > 0:
        stay = say("{stay}, {wait} waiting", stay=stay, wait=words.minutes(halt.wait_s))
    return [
        facts([(say("Where"), f"{plain(halt.label)}, {words.distance(halt.at_m)}; {stay}")]),
        charges(
            [
                charge_row(arrive, halt.arrive_soc, itinerary.reserve_soc, chair, words),
                charge_row(leave, halt.leave_soc, itinerary.reserve_soc, chair, words),
            ]
        ),
        facts([(say("Outlet"), f"{plain(halt.outlet) or asked}. {say('Charger: {where}.', where=charger)}")]),
    ]
