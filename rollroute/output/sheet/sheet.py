"""The rider's sheet: everything that a volunteer needs to go with the rider, on paper."""

from __future__ import annotations

from pathlib import Path

from rollroute.errors import InputError
from rollroute.output.carer_card import CarerCard
from rollroute.output.itinerary import Itinerary
from rollroute.output.plain_text import plain
from rollroute.output.sheet import sections, strip, trouble
from rollroute.output.sheet.blocks import Block, aside, bullets, heading, page_break, paragraph
from rollroute.output.sheet.carer import card_blocks
from rollroute.output.sheet.press import check_paper, print_pdf, text_height_pt, text_width_pt
from rollroute.output.sheet.room import height_pt
from rollroute.output.steps import numbered_as_sent
from rollroute.output.steps_watch import helper_places
from rollroute.output.text import source_lines
from rollroute.output.words import Words, summary
from rollroute.output.words.sentences import helper_sentences

QR_PT = 92.0
LONGEST_REST_MIN = 600.0


def write_sheet(
    itinerary: Itinerary,
    path: Path,
    *,
    words: Words,
    paper: str = "a4",
    link: str | None = None,
    phone: str | None = None,
    rest_minutes: float | None = None,
    carer_card: CarerCard | None = None,
) -> None:
    """Write the sheet as PDF, tagged for PDF/UA-1, the same bytes for the same input.

    Parameters
    ----------
    paper
        ``a4`` or ``letter``.
    link
        Address of the offline page; given, it is printed as a QR code.
    phone
        Number to call, printed as it stands.
    rest_minutes
        How often the rider wants to rest; ``None``: the sheet says to ask.
    carer_card
        Printed as the last page, only on request and with consent. A sheet with it goes to that rider, never into a link.

    Raises
    ------
    InputError
        If the paper is not known, or a carer's card holds no consent.
    """
    check_paper(paper)
    if rest_minutes is not None and not 1.0 <= rest_minutes <= LONGEST_REST_MIN:
        raise InputError(f"rest every {rest_minutes:g} min: must be 1 to {LONGEST_REST_MIN:g} min. Ask the rider, or leave it out.")
    size_pt = (text_width_pt(paper), text_height_pt(paper))
    blocks = sheet_blocks(itinerary, words, size_pt=size_pt, link=link, phone=phone, rest_minutes=rest_minutes)
    if carer_card is not None:
        blocks += [page_break(), *card_blocks(carer_card, words)]
    title = summary.title(itinerary, words)
    print_pdf(blocks, path, title=title, header=title, made_at=itinerary.made_at, paper=paper, words=words)


def sheet_blocks(
    itinerary: Itinerary, words: Words, *, size_pt: tuple[float, float], link: str | None, phone: str | None, rest_minutes: float | None
) -> list[Block]:
    """The sheet's content in reading order."""
    from rollroute.output.sheet.blocks import title

    steps = numbered_as_sent(itinerary)
    charging = sections.charging_section(itinerary, words)  # where nothing is charged on the way, it is not needed while walking
    before = [
        title(summary.title(itinerary, words), summary.from_to(itinerary, words)),
        *sections.rider_section(words),
        *sections.who_section(itinerary, words),
        *sections.caution_section(itinerary, words),
    ]
    room_pt = size_pt[1] - height_pt(before, size_pt[0])
    return [
        *before,
        *sections.map_section(itinerary, steps, words, width_pt=size_pt[0], room_pt=room_pt),
        *strip.steps_section(itinerary, steps, words),
        *(charging if itinerary.halts else []),
        *sections.checkpoint_section(itinerary, words),
        *sections.floor_section(itinerary, words, width_pt=size_pt[0]),
        *sections.rest_section(itinerary, words, rest_minutes),
        *sections.drive_section(itinerary, words),
        *_helper_section(itinerary, words),
        *([] if itinerary.halts else charging),
        *trouble.chair_section(itinerary, words),
        *trouble.other_section(itinerary, words, phone),
        *sections.question_section(itinerary, words),
        *_last_section(itinerary, link, words),
    ]


def _helper_section(itinerary: Itinerary, words: Words) -> list[Block]:
    places = helper_sentences(helper_places(itinerary), words)
    elsewhere = words.say("Elsewhere walk beside the chair, where the rider sees you. Never stand downhill of it.")
    return [heading(words.say("Where the helper walks")), bullets([*places, elsewhere])]


def _last_section(itinerary: Itinerary, link: str | None, words: Words) -> list[Block]:
    """The QR code of the link with, beside it, sources, dates and limits of trust."""
    limits = f"{summary.limits_line(words)} {summary.proof_line(itinerary, words)}"
    sources = paragraph(" · ".join(source_lines(itinerary, words)))
    trust = [heading(words.say("Sources, dates, limits of trust")), paragraph(limits)]
    if not link:
        return [*trust, sources]
    import segno

    try:
        code = segno.make(link, error="m")
    except segno.DataOverflowError as error:
        raise InputError(f"link address of {len(link)} letters: too long for a QR code. Give a shorter address, or none.") from error
    svg = code.svg_inline(scale=4, border=4, dark="#000", light="#fff").replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    alt = words.say("QR code of the link {link}", link=link)
    phone = paragraph(f"{words.say('The same way on a phone; it works without network once it is open.')} {plain(link, longest=400)}")
    return [aside(svg, alt, QR_PT, [heading(words.say("On a phone")), phone, *trust]), sources]
