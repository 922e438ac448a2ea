"""Sections of the rider's sheet, from the rider's yes to the last charging stop."""

from __future__ import annotations

from typing import Any

from rollroute.output.itinerary import ChargingHalt, Itinerary, Question, Spot
from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import Block, bullets, facts, figure, heading, paragraph, step_strip, table, ticks, write_in
from rollroute.output.sheet.detail import draw_detail
from rollroute.output.sheet.overview import draw_overview, legend_line
from rollroute.output.sms import place_reference
from rollroute.output.steps import Step
from rollroute.output.steps_watch import GAP_M, watch_stretches
from rollroute.output.text import checkpoint_lines
from rollroute.output.words import Words, summary
from rollroute.output.words.cautions import always_cautions, charging_cautions, drive_cautions, trip_cautions
from rollroute.output.words.facts import CHARGERS, QUESTIONS, question_words
from rollroute.output.words.sentences import step_sentence, watch_lines

DETAIL_PT = (104.0, 68.0)
OVERVIEW_HEIGHT_PT = (210.0, 320.0)  # least, most; between them the way decides


def rider_section(words: Words) -> list[Block]:
    """The rider's yes, before anything else."""
    say = words.say
    return [
        heading(say("The rider decides")),
        paragraph(summary.decide_line(words)),
        ticks([say("asked"), say("agreed"), say("agreed with changes"), say("said no: stop here")]),
        write_in([say("Rider's name"), say("Rider's own limits for today (slopes, kerbs, time, cold, pain)")]),
    ]


def who_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Who goes where, when, with what charge."""
    say, chair = words.say, itinerary.chair
    mass = words.mass(chair.total_mass_kg)
    goal_grid = place_reference(itinerary.goal.lon, itinerary.goal.lat)
    start_grid = place_reference(itinerary.start.lon, itinerary.start.lat)
    rows = [
        (say("From"), f"{plain(itinerary.start.label)} ({start_grid})"),
        (say("To"), f"{plain(itinerary.goal.label)} ({goal_grid})"),
        (say("When"), summary.when_line(itinerary, words)),
        (say("Way"), f"{summary.way_line(itinerary, words)} {summary.time_line(itinerary, words)}"),
        (say("Charge"), f"{summary.charge_line(itinerary, words)} {summary.planned_line(words)}"),
        (
            say("Chair"),
            say("{chair}, {width} wide, {mass} with rider and bags", chair=plain(chair.label), width=words.size(chair.width_m), mass=mass),
        ),
        (say("Not verified"), _doubt(itinerary, words)),
    ]
    return [heading(say("Who goes where, and when")), facts(rows), write_in([say("Helper's name and phone")])]


def caution_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Cautions for this trip, then those that always hold."""
    return [heading(words.say("Cautions for this trip")), bullets([*trip_cautions(itinerary, words), *always_cautions(words)])]


def map_section(itinerary: Itinerary, steps: list[Step], words: Words, width_pt: float) -> list[Block]:
    """The overview map and its legend."""
    svg, alt, square = draw_overview(itinerary, steps, words, width_pt=width_pt, heights_pt=OVERVIEW_HEIGHT_PT)
    return [heading(words.say("Overview")), figure(svg, alt, width_pt, legend_line(itinerary, square, words))]


def steps_section(itinerary: Itinerary, steps: list[Step], words: Words) -> list[Block]:
    """The strip of steps: distance so far and to the next, sentence, what to watch for, small map, tick box."""
    say = words.say
    head = [say("At, next"), say("Do this, watch for"), say("Map")]
    return [heading(say("Steps")), step_strip(head, [_step_row(itinerary, step, words) for step in steps])]


def charging_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Charging stops with charge, minutes, outlet and charger, and the charging cautions."""
    say = words.say
    blocks = [heading(say("Charging"))]
    blocks += [facts(_halt_rows(halt, itinerary, words)) for halt in itinerary.halts]
    if not itinerary.halts:
        blocks.append(paragraph(say("No charging stop is planned on this way. At the goal, and if you charge anyway:")))
    return [*blocks, bullets(charging_cautions(itinerary, words))]


def checkpoint_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Checkpoints in the gauge's own words."""
    if not itinerary.checkpoints:
        return []
    say = words.say
    return [
        heading(say("Checkpoints: read the gauge")),
        bullets(checkpoint_lines(itinerary, words)),
        paragraph(say("Read the gauge while the chair is driving: at rest it shows too much.")),
    ]


def rest_section(itinerary: Itinerary, words: Words, rest_minutes: float | None) -> list[Block]:
    """Places to rest and tilt, at the interval the rider asked for."""
    say = words.say
    blocks = [heading(say("Rest and tilt"))]
    if rest_minutes is not None:
        blocks.append(paragraph(say("The rider asked for a rest every {minutes}.", minutes=words.minutes(rest_minutes * 60.0))))
    else:
        blocks.append(paragraph(say("Ask the rider how often to stop and tilt.")))
    spots = [_rest_line(s, itinerary, words) for s in rest_places(itinerary, rest_minutes)]
    if not spots:
        return [*blocks, paragraph(say("No place on this way is known to be flat enough: choose by eye and with the rider."))]
    return [*blocks, paragraph(say("Possibly level: look before touching the levers.")), bullets(spots)]


def drive_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Where the drive must not be disengaged."""
    say = words.say
    found = watch_stretches(itinerary, 0, len(itinerary.pieces) - 1)
    steep = [w for w in found if w.kind in {"grade_up", "grade_down"}]
    slopes = [f"{words.stretch(w.at_m, w.at_m + w.length_m)} ({words.percent(w.value or 0.0)})" for w in steep]
    unknown = [words.stretch(*ends) for ends in _unknown_slopes(itinerary)]
    lines = drive_cautions(words)
    if slopes:
        lines.append(say("The slopes of this way: {list}.", list=", ".join(slopes)))
    if unknown:
        lines.append(say("Slope not known: {list}.", list=", ".join(unknown)))
    return [heading(say("Keep the drive engaged")), bullets(lines)]


def question_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """Unverified places with room to write what was found."""
    say = words.say
    if not itinerary.questions:
        return []
    weakest = say("weakest")
    rows = []
    for q in itinerary.questions:
        mark = f" ({weakest})" if q.is_weakest else ""
        rows.append([f"{q.number}{mark}. {question_words(q, words)}", ""])
    head = [say("Not known"), say("Found, and when")]
    intro = paragraph(say("Write what you found; it helps the next chair. Hand this page in."))
    return [
        heading(say("Not verified: what did you find?")),
        intro,
        table(head, rows, widths=["1.7fr", "1fr"], write=True),
    ]


def _same_questions(asked: list[Question], words: Words) -> list[str]:
    """Questions of one kind together: "Width not known (12, 14)"."""
    numbers: dict[str, list[str]] = {}
    for q in asked:
        numbers.setdefault(words.say(QUESTIONS.get(q.kind, QUESTIONS["other"])), []).append(str(q.number))
    return [f"{what} ({', '.join(found)})" for what, found in numbers.items()]


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


def _step_row(itinerary: Itinerary, step: Step, words: Words) -> dict[str, Any]:
    notes = watch_lines(step.watch, words)
    if step.crossing_s is not None:
        notes.append(words.say("Crossing takes {seconds} at this chair's pace.", seconds=words.seconds(step.crossing_s)))
    told = {w.question for w in step.watch}
    asked = [q for q in itinerary.questions if q.number in step.questions and q.number not in told]
    if asked:
        listed = "; ".join(_same_questions(asked, words))
        notes.append(words.say("Not verified: {list}.", list=listed))
    if step.halt is not None:
        notes.append(words.say("See the section on charging."))
    row: dict[str, Any] = {
        "n": str(step.number),
        "at": words.distance(step.at_m),
        "next": words.distance(step.to_next_m) if step.to_next_m > 0 else "",
        "sentence": step_sentence(step, words),
        "notes": notes,
    }
    if step.is_easy_to_miss:
        svg, alt = draw_detail(itinerary, step, words, width_pt=DETAIL_PT[0], height_pt=DETAIL_PT[1])
        row |= {"svg": svg, "alt": alt, "width": DETAIL_PT[0]}
    return row


def _halt_rows(halt: ChargingHalt, itinerary: Itinerary, words: Words) -> list[tuple[str, str]]:
    say, chair, day = words.say, itinerary.chair, itinerary.conditions.departure
    asked = say("not known: ask before you leave")
    charger = say(CHARGERS[halt.charger]) if halt.charger in CHARGERS else plain(halt.charger) or asked
    arrive = say(
        "{time}, with {gauge} planned", time=words.moment(halt.arrive_time, day=day), gauge=words.gauge(halt.arrive_soc.planned, chair)
    )
    leave = say(
        "{time}, with {gauge} planned", time=words.moment(halt.leave_time, day=day), gauge=words.gauge(halt.leave_soc.planned, chair)
    )
    stay = say("{charge} charging, {setup} to set up", charge=words.minutes(halt.charge_s), setup=words.minutes(halt.setup_s))
    if halt.wait_s > 0:
        stay = say("{stay}, {wait} waiting", stay=stay, wait=words.minutes(halt.wait_s))
    return [
        (say("Where"), f"{plain(halt.label)}, {words.distance(halt.at_m)}"),
        (say("Arrive"), arrive),
        (say("Stay"), stay),
        (say("Leave"), leave),
        (say("Outlet"), plain(halt.outlet) or asked),
        (say("Charger"), charger),
    ]
