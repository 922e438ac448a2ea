"""The strip of steps: what to do at which metre, what to watch for, and a small map where a turn is easy to miss."""

from __future__ import annotations

from typing import Any

from rollroute.output.itinerary import Itinerary, Spot
from rollroute.output.sheet.blocks import Block, heading, step_strip
from rollroute.output.sheet.detail import draw_detail
from rollroute.output.steps import Step
from rollroute.output.words import Words
from rollroute.output.words.facts import QUESTIONS, landmark_words
from rollroute.output.words.sentences import step_sentence, watch_notes

DETAIL_PT = (104.0, 50.0)
QUESTION_MARK = "◇"  # as on the map; the numbers are those of the list of what is not verified
SAME_MAP_M = 18.0  # closer beginnings lie well inside one small map
PASSED_EVERY_M = 60.0  # nearer to the last thing told nobody needs to be told that the way is still right
MOST_PASSED = 2


def steps_section(itinerary: Itinerary, steps: list[Step], words: Words) -> list[Block]:
    """The strip: distance so far and to the next, sentence, what to watch for, small map, tick box."""
    say = words.say
    drawn = {group[0].number: group for group in detail_groups(steps)}
    rows = [step_row(itinerary, step, words) | _picture(itinerary, drawn.get(step.number, []), words) for step in steps]
    return [heading(say("Steps")), step_strip(say("{sign} not verified · ↓ to the next · tick when passed", sign=QUESTION_MARK), rows)]


def detail_groups(steps: list[Step]) -> list[list[Step]]:
    """The steps that need a small map, those that begin within ``SAME_MAP_M`` of each other on one."""
    groups: list[list[Step]] = []
    for step in steps:
        if not step.is_easy_to_miss:
            continue
        is_near = bool(groups) and groups[-1][-1].number == step.number - 1 and step.at_m - groups[-1][0].at_m <= SAME_MAP_M
        if is_near and step.level == groups[-1][0].level:
            groups[-1].append(step)
        else:
            groups.append([step])
    return groups


def step_row(itinerary: Itinerary, step: Step, words: Words) -> dict[str, Any]:
    """The words of one row of the strip."""
    return {
        "n": str(step.number),
        "at": words.distance(step.at_m),
        "next": words.distance(step.to_next_m) if step.to_next_m > 0 else "",
        "sentence": step_sentence(step, words),
        "notes": [{"where": where, "what": what} for where, what in _notes(itinerary, step, words)],
    }


def _picture(itinerary: Itinerary, group: list[Step], words: Words) -> dict[str, Any]:
    if not group:
        return {}
    svg, alt = draw_detail(itinerary, group, words, width_pt=DETAIL_PT[0], height_pt=DETAIL_PT[1])
    return {"svg": svg, "alt": alt, "width": DETAIL_PT[0]}


def _notes(itinerary: Itinerary, step: Step, words: Words) -> list[tuple[str, str]]:
    notes = watch_notes(step, words, sign=QUESTION_MARK)
    if step.crossing_s is not None:
        notes.append(("", words.say("crossing takes {seconds} at this chair's pace", seconds=words.seconds(step.crossing_s))))
    notes += _passed(step, words) + [(marks, what) for what, marks in _asked(itinerary, step, words).items()]
    if step.halt is not None:
        halt = itinerary.halts[step.halt]
        arrive, leave = words.gauge(halt.arrive_soc.planned, itinerary.chair), words.gauge(halt.leave_soc.planned, itinerary.chair)
        notes.append(("", words.say("Arrive with {arrive}; leave with {leave}.", arrive=arrive, leave=leave)))
    return notes


def _passed(step: Step, words: Words) -> list[tuple[str, str]]:
    """A few landmarks along a long step, well apart: they say that the way is still right."""
    chosen: list[Spot] = []
    for spot in step.landmarks:
        last_m = (chosen[-1].at_m or 0.0) if chosen else step.at_m
        if len(chosen) < MOST_PASSED and (spot.at_m or 0.0) - last_m >= PASSED_EVERY_M:
            chosen.append(spot)
    passed = [(words.distance(s.at_m or 0.0), landmark_words(s.kind, s.label, words)) for s in chosen]
    return [(where, words.say("you pass {landmark}", landmark=name)) for where, name in passed]


def _asked(itinerary: Itinerary, step: Step, words: Words) -> dict[str, str]:
    """Questions of the step that no watch line carries, those of one kind together: what is not known, and its marks."""
    told = {w.question for w in step.watch}
    asked: dict[str, str] = {}
    for q in itinerary.questions:
        if q.number in step.questions and q.number not in told:
            what = words.say(QUESTIONS.get(q.kind, QUESTIONS["other"]))
            asked[what] = f"{asked[what]} {QUESTION_MARK}{q.number}" if what in asked else f"{QUESTION_MARK}{q.number}"
    return asked
