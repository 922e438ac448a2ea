"""The rider's sheet: everything that a volunteer needs to go with the rider, on paper."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rollroute.errors import InputError
from rollroute.output.carer_card import CarerCard
from rollroute.output.itinerary import Itinerary
from rollroute.output.plain_text import plain
from rollroute.output.sheet import sections, strip, trouble
from rollroute.output.sheet.blocks import Block, aside, column_break, columns, halves, heading, page_break, paragraph, small_print, title
from rollroute.output.sheet.carer import card_blocks
from rollroute.output.sheet.overview import wanted_height_pt
from rollroute.output.sheet.press import Press, check_paper, column_pt, n_pages, text_width_pt
from rollroute.output.steps import Step, numbered_as_sent
from rollroute.output.text import source_lines
from rollroute.output.words import Words, summary

QR_PT = 92.0
LONGEST_REST_MIN = 600.0
LEAF_PAGES = 2  # one leaf, printed on both sides
LEAF_MAP = 0.8  # of the height that the way wants: the scale that a leaf costs
OVERVIEW_PT = (150.0, 420.0)  # least and most height of the overview map
SPARE_PT = 2.0


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
    name = summary.title(itinerary, words)
    press = Press(title=name, header=name, made_at=itinerary.made_at, paper=paper, words=words)
    last = [page_break(), *card_blocks(carer_card, words)] if carer_card is not None else []
    parts = _Parts(itinerary, numbered_as_sent(itinerary), words, text_width_pt(paper), rest_minutes, link, phone)
    press.place(_laid_out(parts, press, last), path)


def _laid_out(parts: _Parts, press: Press, last: list[Block]) -> bytes:
    """One leaf, if everything fits on it with a smaller map and closer lines; else the map takes what room page 1 has.

    Then the steps begin on page 2, help on a page and findings in a column of their own, where that costs no page.
    The first tries leave the map blank: drawing it takes as long as all the setting of words.
    """
    least_pt, most_pt = OVERVIEW_PT
    map_pt = min(max(LEAF_MAP * wanted_height_pt(parts.itinerary, parts.width_pt), least_pt), most_pt)
    blank = parts.front(map_pt, is_drawn=False)
    walking, if_trouble, back = parts.walking(), parts.if_trouble(), parts.back()
    flow = [columns([*walking, *if_trouble, *back]), *last]
    if n_pages(press.pdf([*blank, *flow], is_tight=True)) <= LEAF_PAGES + bool(last):
        return press.pdf([*parts.front(map_pt), *flow], is_tight=True)
    room_pt = map_pt + press.room_pt(blank) - SPARE_PT
    front = [*parts.front(min(max(room_pt, least_pt), most_pt)), page_break()]
    flowing = press.fewest_pages([*front, *flow])
    apart = press.fewest_pages([*front, columns(walking), page_break(), columns([*if_trouble, column_break(), *back]), *last])
    return apart if n_pages(apart) <= n_pages(flowing) else flowing


@dataclass(frozen=True, slots=True)
class _Parts:
    """The sheet's content in reading order: what comes before leaving, what is needed on the way, what helps if something happens."""

    itinerary: Itinerary
    steps: list[Step]
    words: Words
    width_pt: float
    rest_minutes: float | None
    link: str | None
    phone: str | None

    def front(self, map_pt: float, *, is_drawn: bool = True) -> list[Block]:
        """The rider's yes, who goes where, cautions, and the overview map, ``map_pt`` high; not drawn, its room is left blank."""
        itinerary, words = self.itinerary, self.words
        draw = sections.map_section if is_drawn else sections.blank_map_section
        marks, overview = draw(itinerary, self.steps, words, size_pt=(self.width_pt, map_pt))
        return [
            title(summary.title(itinerary, words), summary.from_to(itinerary, words)),
            halves(
                [*sections.rider_section(words), *sections.who_section(itinerary, words)],
                [*sections.caution_section(itinerary, words), *marks],
            ),
            overview,
        ]

    def walking(self) -> list[Block]:
        """The strip of steps, charging, checkpoints, rest, the drive."""
        itinerary, words = self.itinerary, self.words
        charging = sections.charging_section(itinerary, words)  # where nothing is charged on the way, it is not needed while walking
        return [
            *strip.steps_section(itinerary, self.steps, words),
            *(charging if itinerary.halts else []),
            *sections.checkpoint_section(itinerary, words),
            *sections.floor_section(itinerary, words, width_pt=column_pt(self.width_pt)),
            *sections.rest_section(itinerary, words, self.rest_minutes),
            *sections.drive_section(itinerary, words),
            *([] if itinerary.halts else charging),
        ]

    def if_trouble(self) -> list[Block]:
        """What to do if something happens."""
        return [*trouble.chair_section(self.itinerary, self.words), *trouble.other_section(self.itinerary, self.words, self.phone)]

    def back(self) -> list[Block]:
        """What comes back to the coordinator, the way to the link, and sources."""
        return [*sections.question_section(self.itinerary, self.words), *_last_section(self.itinerary, self.link, self.words)]


def _last_section(itinerary: Itinerary, link: str | None, words: Words) -> list[Block]:
    """The QR code of the link with, beside it, sources, dates and limits of trust."""
    limits = f"{summary.limits_line(words)} {summary.proof_line(itinerary, words)}"
    sources = small_print(" · ".join(source_lines(itinerary, words)))
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
    phone = f"{words.say('The same way on a phone; it works without network once it is open.')} {plain(link, longest=400)}"
    return [heading(words.say("On a phone")), aside(svg, alt, QR_PT, phone), *trust, sources]
