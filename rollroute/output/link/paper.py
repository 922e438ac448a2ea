"""The sections of the sheet as HTML: what to do beside the steps, for whoever prints the link or reads it to its end."""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup

from rollroute.output.itinerary import Itinerary
from rollroute.output.sheet import sections, trouble
from rollroute.output.sheet.blocks import Block
from rollroute.output.words import Words


def paper_sections(itinerary: Itinerary, words: Words) -> Markup:
    """Cautions, the drive, charging, a chair that stops, and what else goes wrong: the sheet's own words, without its pictures.

    The number to call is not in a link: it is written by hand on the sheet.
    """
    blocks = [
        *sections.caution_section(itinerary, words),
        *sections.drive_section(itinerary, words),
        *sections.charging_section(itinerary, words),
        *trouble.chair_section(itinerary, words),
        *trouble.other_section(itinerary, words, None),
    ]
    return Markup("").join(_sections(blocks))


def _sections(blocks: list[Block]) -> Iterable[Markup]:
    """A section for every heading with what follows it."""
    inside: list[Markup] = []
    for block in blocks:
        if block["kind"] == "heading" and inside:
            yield Markup("<section>{}</section>").format(Markup("").join(inside))
            inside = []
        inside.append(block_html(block))
    if inside:
        yield Markup("<section>{}</section>").format(Markup("").join(inside))


def block_html(block: Block) -> Markup:
    """One block of the sheet; every text of it is escaped."""
    kind = block["kind"]
    if kind == "heading":
        return Markup("<h2>{}</h2>").format(block["text"])
    if kind == "para":
        return Markup("<p><bdi>{}</bdi></p>").format(block["text"])
    if kind in {"list", "enum"}:
        items = Markup("").join(Markup("<li><bdi>{}</bdi></li>").format(item) for item in block["items"])
        return Markup("<{0}>{1}</{0}>").format(Markup("ol" if kind == "enum" else "ul"), items)
    rows = [(row["label"], row["text"]) if kind == "charges" else tuple(row) for row in block["rows"]]
    return Markup("").join(Markup("<p><b>{}</b>: <bdi>{}</bdi></p>").format(label, text) for label, text in rows)
