"""The link: one small self-contained page to send through a dying network, with its twins as picture and paper."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from rollroute.errors import InputError
from rollroute.output.folder import put_in_place, ready_to_write
from rollroute.output.itinerary import Itinerary
from rollroute.output.words import Words
from rollroute.output.words.summary import VALID_UNTIL

LARGEST_BYTES = 600_000  # a link of this project: bigger ones do not get through
WIDTH_PX = 640.0  # words keep their size on a page without a program
MARGIN_PX = 56.0


def write_link(
    itinerary: Itinerary,
    path: Path,
    *,
    words: Words | None = None,
    hide_start: bool = False,
    valid_until: datetime | str | None = None,
    sheet: Callable[[Itinerary, Path], None] | None = None,
) -> list[Path]:
    """Write the link as ``path`` (HTML), its picture strip beside it (``.png``), and with ``sheet`` its paper twin (``.pdf``).

    ``hide_start`` begins all of them at the first corner instead of the door; ``valid_until`` is a moment with its zone.
    ``sheet`` is called with the itinerary that the link shows and the file to write.
    Returns the files written.

    Raises
    ------
    InputError
        If the start can't be hidden or ``valid_until`` is no moment with a zone.
    """
    from rollroute.output.link.corner import from_the_corner
    from rollroute.output.picture import write_picture

    words = words or Words()
    until = _moment(valid_until)
    ready_to_write(path)
    shown, offset = from_the_corner(itinerary, words) if hide_start else (itinerary, 0)
    if until is not None:  # the twins travel alone
        shown = dataclasses.replace(shown, notes=[*shown.notes, f"{VALID_UNTIL}{until.isoformat()}"])
    with tempfile.TemporaryDirectory() as made:  # a page and twins of two different ways would be worse than none
        page = Path(made) / path.name
        page.write_text(link_page(shown, words, offset=offset, valid_until=until), encoding="utf-8")
        twins = [page.with_suffix(".png")]
        write_picture(shown, twins[0], words=words, step_offset=offset)
        if sheet is not None:
            twins.append(page.with_suffix(".pdf"))
            sheet(shown, twins[1])
        put_in_place(Path(made), path.parent)
    return [path.with_name(file.name) for file in (page, *twins)]


def link_page(itinerary: Itinerary, words: Words, *, offset: int = 0, valid_until: datetime | None = None) -> str:
    """Give the page of the link as HTML; ``offset`` is added to the numbers of its steps."""
    from importlib.resources import files

    from jinja2 import Environment
    from markupsafe import Markup

    from rollroute.output.link import page
    from rollroute.output.link.paper import paper_sections
    from rollroute.output.map.assets import guard
    from rollroute.output.map.drawing import DRAWING_CSS, draw_scene, road_widths, scale_bar
    from rollroute.output.map.legend import legend
    from rollroute.output.map.marks import MARK_CSS
    from rollroute.output.map.page import cautions, sources
    from rollroute.output.map.plane import Plane
    from rollroute.output.map.scene import set_scene
    from rollroute.output.map.script_json import script_json
    from rollroute.output.map.style import css_variables
    from rollroute.output.steps import build_steps

    scene, steps = set_scene(itinerary, words), build_steps(itinerary)
    plane = Plane.around([place for piece in itinerary.pieces for place in piece.coordinates], width=WIDTH_PX, margin=MARGIN_PX)
    folder = files("rollroute.output.link")
    bar = f":root{{--share:{scale_bar(plane, words)[0] / plane.width:.4f};--ratio:{plane.width / plane.height:.4f}}}"
    style = guard(
        css_variables() + road_widths(plane) + bar + DRAWING_CSS + MARK_CSS + folder.joinpath("link.css").read_text(encoding="utf-8")
    )
    programs = (files("rollroute.output.map").joinpath("placing.js"), folder.joinpath("link.js"))
    script = guard("".join(program.read_text(encoding="utf-8") for program in programs))
    template = Environment(autoescape=True).from_string(folder.joinpath("link.html").read_text(encoding="utf-8"))
    return template.render(
        title=words.say("Route {code}", code=itinerary.code),
        language=words.language,
        say=page.template_texts(itinerary, plane, words),
        plane=plane,
        style=Markup(style),
        style_hash=content_hash(style),
        script=Markup(script),
        script_hash=content_hash(script),
        valid=page.valid_note(valid_until, words),
        figures=page.figures(itinerary, words),
        caution=cautions(words),
        drawing=Markup(draw_scene(scene, words, plane)),
        legend=legend(scene, words),
        steps=page.step_list(steps, offset, words),
        floors=page.floor_plans(itinerary, words),
        lists=page.lists(scene, words) + paper_sections(itinerary, words),
        sources=sources(itinerary, words),
        data=script_json(page.page_data(scene, steps, offset, plane, words)),
    )


def content_hash(text: str) -> str:
    """Give the hash by which a content policy knows an inline script or style (CSP Level 3, section 2.3.1)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def _moment(value: datetime | str | None) -> datetime | None:
    if value is None:
        return None
    try:
        moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    except ValueError as error:
        raise InputError(f"valid until: {value!r} is no ISO 8601 moment. Give, for example, 2026-03-14T20:45:00-03:00.") from error
    if moment.tzinfo is None:
        raise InputError(
            f"valid until: {value!r} has no zone, and a phone may be in another. Give, for example, 2026-03-14T20:45:00-03:00."
        )
    return moment
