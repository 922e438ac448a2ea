"""The carer's card: only with consent, only on paper."""

from __future__ import annotations

from pathlib import Path

import pytest
from sample_itinerary import sample

from rollroute.errors import InputError
from rollroute.output.carer_card import FIELDS, CarerCard, read_carer_card
from rollroute.output.sheet import write_carer_card, write_sheet
from rollroute.output.words import Words

SECRET = "two people, sliding board, wordless-marker-71"
CARD = f"""
[consent]
given = true
by = "rider"
on = 2026-03-01

[card]
transfer_method = "{SECRET}"
what_hurts = "left shoulder"
lines_and_bags = ["bag on the left", "line under the shirt"]
"""


def write(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "card.toml"
    file.write_text(text, encoding="utf-8")
    return file


def text_of(pdf: Path) -> str:
    import pdfplumber

    with pdfplumber.open(pdf) as document:
        return " ".join(page.extract_text() for page in document.pages)


def test_a_card_with_consent_is_read_and_printed(tmp_path: Path):
    """What the rider wants helpers to know stands on the page in their words, with the consent."""
    card = read_carer_card(write(tmp_path, CARD))
    write_carer_card(card, tmp_path / "card.pdf", words=Words())
    text = text_of(tmp_path / "card.pdf")

    assert "sliding board" in text
    assert "bag on the left, line under the shirt" in text
    assert "consent of rider on 2026-03-01" in text


@pytest.mark.parametrize(
    "broken",
    [
        CARD.replace("given = true", "given = false"),
        CARD.replace("given = true", 'given = "yes"'),
        CARD.replace('by = "rider"', 'by = " "'),
        CARD.replace("on = 2026-03-01", 'on = "lately"'),
        CARD.replace("[consent]", "[other]"),
    ],
)
def test_without_recorded_consent_there_is_no_card(tmp_path: Path, broken: str):
    """Paper for that rider only, consent recorded."""
    with pytest.raises(InputError, match="consent"):
        read_carer_card(write(tmp_path, broken))


def test_a_misspelt_entry_is_named_with_its_neighbour(tmp_path: Path):
    """A lost entry could hurt somebody; the message names the field, never what stands in it."""
    with pytest.raises(InputError, match="transfer_method") as caught:
        read_carer_card(write(tmp_path, CARD.replace("transfer_method", "transfer_methods")))

    assert SECRET not in str(caught.value)


def test_a_broken_file_shows_nothing_of_itself(tmp_path: Path):
    """Error messages land in logs."""
    with pytest.raises(InputError) as caught:
        read_carer_card(write(tmp_path, f'what_hurts = "{SECRET}'))

    assert SECRET not in str(caught.value)


def test_nothing_of_the_card_shows_in_its_repr():
    """Logs print objects."""
    card = CarerCard(consent_by="rider", consent_on="2026-03-01", free_text=SECRET)

    assert SECRET not in repr(card)
    assert "rider" not in repr(card).replace("CarerCard", "")


def test_all_entries_of_the_trade_are_there():
    """Transfer, side, helpers, cushion, rests, straps, lines, braces, loads, attendant control, speech, what hurts, free text."""
    assert len(FIELDS) == 13
    assert set(FIELDS) == {name for name in CarerCard.__dataclass_fields__ if not name.startswith("consent")}


def test_a_sheet_holds_the_card_only_when_asked(tmp_path: Path):
    """The shared sheet and the rider's own are two files."""
    card = read_carer_card(write(tmp_path, CARD))
    write_sheet(sample(), tmp_path / "shared.pdf", words=Words())
    write_sheet(sample(), tmp_path / "own.pdf", words=Words(), carer_card=card)

    assert "sliding board" not in text_of(tmp_path / "shared.pdf")
    assert "sliding board" in text_of(tmp_path / "own.pdf")


def test_no_module_of_link_map_or_message_knows_the_card():
    """By the source: only the sheet may import it, so nothing of it can reach a file that is shared."""
    import rollroute

    package = Path(rollroute.__file__).parent
    users = [f.relative_to(package).as_posix() for f in package.rglob("*.py") if "carer_card" in f.read_text(encoding="utf-8")]

    assert all(user.startswith(("output/carer_card.py", "output/sheet/", "cli")) for user in users)
