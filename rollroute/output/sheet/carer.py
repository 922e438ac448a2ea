"""The page of the carer's card."""

from __future__ import annotations

from pathlib import Path

from rollroute.output.carer_card import FIELDS, CarerCard
from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import Block, facts, paragraph, title
from rollroute.output.sheet.press import Press
from rollroute.output.words import Words

LONGEST_ENTRY = 400  # letters


def card_blocks(card: CarerCard, words: Words) -> list[Block]:
    """The card as blocks of a page."""
    rows = [(words.say(label), plain(getattr(card, name), longest=LONGEST_ENTRY) or "_" * 30) for name, label in FIELDS.items()]
    consent = words.say(
        "Printed with consent of {who} on {date}. Give it back to the rider after the trip.",
        who=plain(card.consent_by),
        date=card.consent_on,
    )
    ask = words.say("Ask the rider first; the rider's word counts more than this card.")
    return [title(words.say("Carer's card")), paragraph(ask, strong=True), facts(rows), paragraph(consent)]


def write_carer_card(card: CarerCard, path: Path, *, words: Words, paper: str = "a4") -> None:
    """Write the card alone as one page of PDF."""
    name = words.say("Carer's card")
    made_at = f"{card.consent_on}T00:00:00+00:00"
    Press(title=name, header=name, made_at=made_at, paper=paper, words=words).print(card_blocks(card, words), path)
