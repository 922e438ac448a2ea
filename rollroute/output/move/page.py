"""The coordinator's page: works without a network and without a program, on paper, in the dark, on a phone, by keyboard."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from markupsafe import Markup

from rollroute.output.move import first, later
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.risk import risk_section
from rollroute.output.move.rolls import Rolls
from rollroute.output.move.timeline import TIMELINE_CSS
from rollroute.output.plain_text import plain

FOLDER = "rollroute.output.move"


def write_page(facts: MoveFacts, rolls: Rolls, path: Path, *, drawing: Markup | None = None, drawing_css: str = "") -> None:
    """Write the page; ``drawing`` is a still map of the move with its own sheet of styles."""
    path.write_text(move_page(facts, rolls, drawing=drawing, drawing_css=drawing_css), encoding="utf-8")


def move_page(facts: MoveFacts, rolls: Rolls, *, drawing: Markup | None = None, drawing_css: str = "") -> str:
    """Give the page as HTML. The same plan gives the same text."""
    from jinja2 import Environment

    from rollroute.output.link import content_hash
    from rollroute.output.map.assets import guard
    from rollroute.output.map.style import css_variables

    say = facts.words.say
    own = files(FOLDER).joinpath("page.css").read_text(encoding="utf-8")
    style = guard(css_variables() + TIMELINE_CSS + drawing_css + own)
    name = plain(str(facts.plan.move.get("name") or "")) or say("Move")
    template = Environment(autoescape=True).from_string(files(FOLDER).joinpath("page.html").read_text(encoding="utf-8"))
    return template.render(
        language=facts.words.language,
        title=say("Plan of the move"),
        name=name,
        start=later.start_words(facts),
        summary=first.summary(facts),
        nav_label=say("On this page"),
        nav=_nav(facts),
        content=Markup("\n").join(_sections(facts, rolls, drawing or Markup(""))),
        caution=_caution(facts),
        credit=_credit(rolls, is_drawn=drawing is not None),
        style=Markup(style),
        style_hash=content_hash(style),
    )


def _sections(facts: MoveFacts, rolls: Rolls, drawing: Markup) -> list[Markup]:
    from rollroute.output.move.html import section

    made = [
        first.left_section(facts),
        first.changes_section(facts),
        first.alerts_section(facts),
        first.calls_section(facts),
        first.undecided_section(facts),
        risk_section(facts),
        first.closings_section(facts),
        later.timeline_section(facts),
        later.events_section(facts),
        section("map", facts.words.say("Map"), drawing),
        later.riders_section(facts, rolls),
        later.vans_section(facts),
        later.escorts_section(facts),
        later.shelters_section(facts),
        later.papers_section(facts, rolls.routes),
        later.proof_section(facts),
    ]
    return [part for part in made if part]


def _nav(facts: MoveFacts) -> list[tuple[str, str]]:
    say = facts.words.say
    return [
        ("timeline", say("Time line")),
        ("events", say("In order of time")),
        ("riders", say("Riders")),
        ("vans", say("Vans")),
        ("escorts", say("Escorts")),
        ("shelters", say("Shelters")),
        ("papers", say("Papers to hand out")),
        ("proof", say("How good this plan is")),
    ]


def _caution(facts: MoveFacts) -> str:
    say = facts.words.say
    return " ".join(
        [
            say("Times are planned times, made from map data and from what people said; both can be wrong or old."),
            say("Look before anybody drives, and call before anybody waits."),
            say("The rider decides."),
        ]
    )


def _credit(rolls: Rolls, *, is_drawn: bool) -> str:
    sources = sorted({plain(s) for route in rolls.routes.values() for s in route.sources})
    return " · ".join(sources or (["© OpenStreetMap contributors"] if is_drawn else []))
