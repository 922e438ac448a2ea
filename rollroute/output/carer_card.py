"""The carer's card: how this rider is moved and spoken with. Paper for that rider only, on request, with consent recorded.

Nothing of it belongs in a route's file, a link, a text message, a log or a file name.
"""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.output.words.catalogue import mark

FIELDS = {
    "transfer_method": mark("Transfer, how"),
    "side_preferred": mark("Side preferred"),
    "helpers_needed": mark("Helpers needed"),
    "cushion": mark("Cushion: with the person or not"),
    "rests": mark("Arm, foot and head rests"),
    "straps_and_supports": mark("Straps and supports"),
    "lines_and_bags": mark("Lines and bags"),
    "braces": mark("Braces"),
    "loads": mark("Ventilator or other loads"),
    "attendant_control": mark("Attendant control"),
    "communication": mark("How we speak with each other"),
    "what_hurts": mark("What hurts"),
    "free_text": mark("Also"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CarerCard:
    """What the rider wants a helper to know. Every entry is the rider's own words; an empty one is printed as a line to write on.

    ``consent_by`` says who agreed to printing it (``rider``, or who speaks for them), ``consent_on`` the ISO date.
    """

    consent_by: str = dataclasses.field(repr=False)
    consent_on: str = dataclasses.field(repr=False)
    transfer_method: str = dataclasses.field(default="", repr=False)
    side_preferred: str = dataclasses.field(default="", repr=False)
    helpers_needed: str = dataclasses.field(default="", repr=False)
    cushion: str = dataclasses.field(default="", repr=False)
    rests: str = dataclasses.field(default="", repr=False)
    straps_and_supports: str = dataclasses.field(default="", repr=False)
    lines_and_bags: str = dataclasses.field(default="", repr=False)
    braces: str = dataclasses.field(default="", repr=False)
    loads: str = dataclasses.field(default="", repr=False)
    attendant_control: str = dataclasses.field(default="", repr=False)
    communication: str = dataclasses.field(default="", repr=False)
    what_hurts: str = dataclasses.field(default="", repr=False)
    free_text: str = dataclasses.field(default="", repr=False)

    def __post_init__(self) -> None:
        if not self.consent_by.strip():
            raise InputError("carer's card: consent_by is empty. Ask the rider, and record who agreed; without consent it is not printed.")
        try:
            date.fromisoformat(self.consent_on)
        except ValueError as error:
            raise InputError("carer's card: consent_on is no date. Record the day of consent, for example 2026-03-01.") from error


def read_carer_card(path: Path) -> CarerCard:
    """Read a card from TOML: a table ``[consent]`` with ``given = true``, ``by`` and ``on``, and a table ``[card]`` with the entries.

    Messages name fields, never what stands in them.

    Raises
    ------
    InputError
        If the file can't be read, consent is not given, or a field is unknown.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(f"{path.name}: the card can't be read as TOML. Check the file.") from error
    consent, card = document.get("consent"), document.get("card", {})
    if not isinstance(consent, dict) or consent.get("given") is not True:
        raise InputError(
            f'{path.name}: no consent is recorded. Ask the rider; then write [consent] given = true, by = "rider", on = a date.'
        )
    if not isinstance(card, dict):
        raise InputError(f"{path.name}: [card] must be a table of entries.")
    for name in card:
        if name not in FIELDS:
            near = difflib.get_close_matches(name, FIELDS, n=1)
            raise InputError(
                f"{path.name}: no entry is called {name!r}. {f'Did you mean {near[0]}?' if near else 'Use ' + ', '.join(FIELDS) + '.'}"
            )
    entries = {name: _entry(value) for name, value in card.items()}
    return CarerCard(consent_by=str(consent.get("by", "")), consent_on=str(consent.get("on", "")), **entries)


def _entry(value: Any) -> str:
    return ", ".join(str(v) for v in value) if isinstance(value, list) else str(value)
