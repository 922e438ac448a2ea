"""The plain text of a route."""

from __future__ import annotations

from pathlib import Path

from sample_itinerary import hostile, sample

from rollroute.output.steps import build_steps
from rollroute.output.text import route_text, summary_lines, write_text
from rollroute.output.words import Words
from rollroute.output.words.sentences import step_sentence
from rollroute.output.words.summary import charge_line


def test_summary_shows_expected_and_planned():
    """Both stand side by side, for energy and for time."""
    lines = "\n".join(summary_lines(sample(), Words()))

    assert "2 h 5 min expected, 2 h 11 min planned" in lines
    assert "about 69 % expected" in lines
    assert "about 59 % planned" in lines


def test_charge_at_the_start_is_told_in_both_cases_like_that_at_the_goal():
    """The low reading at the start beside the expected charge at the goal looked as if the battery had filled on the way."""
    route, words = sample(), Words()
    start, goal, chair = route.soc_start, route.soc_goal, route.chair
    line = charge_line(route, words)

    assert start.planned < start.expected
    assert f"start: {words.gauge(start.expected, chair)} expected, {words.gauge(start.planned, chair)} planned." in line
    assert f"goal: {words.gauge(goal.expected, chair)} expected, {words.gauge(goal.planned, chair)} planned." in line


def test_summary_names_the_weakest_places_worst_first():
    """People get the weakest places, not one number."""
    lines = summary_lines(sample(), Words())
    begin = lines.index("The weakest places:")

    assert [line.split(".")[0].strip() for line in lines[begin + 1 : begin + 5]] == ["9", "6", "2", "4"]  # 35, 30, 22, 15 %


def test_text_holds_every_step_in_order_with_its_metre(tmp_path: Path):
    """route.txt is the form that survives every network."""
    words, route = Words(), sample()
    write_text(route, tmp_path / "route.txt", words)
    text = (tmp_path / "route.txt").read_text(encoding="utf-8")

    at = 0
    for step in build_steps(route):
        line = f"{step.number}. {words.distance(step.at_m)}: {step_sentence(step, words)}"
        at = text.index(line, at) + 1


def test_text_never_calls_a_route_safe():
    """Nobody can promise that from a map; the rider decides."""
    text = route_text(sample(), Words())

    assert " safe" not in text.lower()
    assert "The rider decides" in text


def test_hostile_names_stay_on_one_line():
    """A line break in a name must not fake a step."""
    text = route_text(hostile(), Words())

    assert "\n second line" not in text
    assert "<img src=x onerror=alert(1)>" in text  # text is text: shown as it is


def test_text_speaks_spanish_in_feet():
    """Language and units are independent."""
    text = route_text(sample(), Words(language="es", units="us"))

    assert "La persona decide" in text
    assert " ft" in text
