"""A route as plain text: the lines for a terminal and the file ``route.txt``."""

from __future__ import annotations

from pathlib import Path

from rollroute.output.itinerary import Itinerary
from rollroute.output.plain_text import plain
from rollroute.output.steps import Step, build_steps
from rollroute.output.steps_watch import helper_places
from rollroute.output.words import Words, summary
from rollroute.output.words.cautions import always_cautions, charging_cautions, drive_cautions, transfer_cautions, trip_cautions
from rollroute.output.words.checkpoints import checkpoint_sentence
from rollroute.output.words.facts import question_words
from rollroute.output.words.sentences import helper_sentence, step_sentence, watch_lines

INDENT = "    "


def summary_lines(itinerary: Itinerary, words: Words) -> list[str]:
    """The route in about ten lines: way, time, charge, doubt, the weakest places, who decides."""
    lines = [
        f"{summary.title(itinerary, words)}: {summary.from_to(itinerary, words)}",
        summary.way_line(itinerary, words),
        summary.when_line(itinerary, words),
        summary.time_line(itinerary, words),
        summary.charge_line(itinerary, words),
        summary.planned_line(words),
        summary.doubt_line(itinerary, words),
    ]
    weakest = summary.weakest_lines(itinerary, words)
    if weakest:
        lines += [words.say("The weakest places:"), *(INDENT + line for line in weakest)]
    return [*lines, summary.proof_line(itinerary, words), summary.limits_line(words), summary.decide_line(words)]


def route_text(itinerary: Itinerary, words: Words) -> str:
    """The whole of ``route.txt``."""
    say = words.say
    steps = build_steps(itinerary)
    cautions = [*trip_cautions(itinerary, words), *always_cautions(itinerary, words), *drive_cautions(words), *transfer_cautions(words)]
    if itinerary.halts:
        cautions += charging_cautions(itinerary, words)
    blocks = [
        summary_lines(itinerary, words),
        [say("Cautions"), *(f"- {line}" for line in cautions)],
        [say("Steps"), *(line for step in steps for line in _step_lines(step, itinerary, words))],
        [say("Checkpoints"), *checkpoint_lines(itinerary, words)] if itinerary.checkpoints else [],
        [say("Where the helper walks"), *(helper_sentence(p, words) for p in helper_places(itinerary))],
        [say("Not verified"), *(f"{q.number}. {question_words(q, words)}" for q in itinerary.questions)] if itinerary.questions else [],
        source_lines(itinerary, words),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def write_text(itinerary: Itinerary, path: Path, words: Words) -> None:
    """Write ``route.txt`` (UTF-8): summary, weakest places, cautions, steps, checkpoints, open questions, sources."""
    path.write_text(route_text(itinerary, words), encoding="utf-8")


def checkpoint_lines(itinerary: Itinerary, words: Words) -> list[str]:
    """Checkpoints in the gauge's own words: "At 250 m: still at 3 of 5? If not, turn back to X now (210 m)."."""
    return [checkpoint_sentence(check, itinerary, words) for check in itinerary.checkpoints]


def source_lines(itinerary: Itinerary, words: Words) -> list[str]:
    """Sources and dates."""
    unknown = words.say("not known")
    return [
        words.say("Map data of {date}; made {made}.", date=itinerary.map_date or unknown, made=words.date(itinerary.made_at)),
        *(plain(source) for source in itinerary.sources),
    ]


def _step_lines(step: Step, itinerary: Itinerary, words: Words) -> list[str]:
    ahead = words.say("next in {distance}", distance=words.distance(step.to_next_m)) if step.to_next_m > 0 else ""
    lines = [f"{step.number}. {words.distance(step.at_m)}: {step_sentence(step, words)}" + (f" [{ahead}]" if ahead else "")]
    lines += [INDENT + line for line in watch_lines(step, words)]
    if step.crossing_s is not None:
        lines.append(INDENT + words.say("Crossing takes {seconds} at this chair's pace.", seconds=words.seconds(step.crossing_s)))
    asked = [q for q in itinerary.questions if q.number in step.questions]
    lines += [INDENT + words.say("Question {number}: {what}", number=q.number, what=question_words(q, words)) for q in asked]
    if step.halt is not None:
        halt = itinerary.halts[step.halt]
        arrive, leave = words.gauge(halt.arrive_soc.planned, itinerary.chair), words.gauge(halt.leave_soc.planned, itinerary.chair)
        lines.append(INDENT + words.say("Arrive with {arrive}; leave with {leave}.", arrive=arrive, leave=leave))
    return lines
