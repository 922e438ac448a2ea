"""``home.csv``: what has been found out about each rider's home before anybody goes back. One row per rider; every field may be empty.

``mains``, ``lift``, ``ramp``, ``street``: yes, no, unknown, or *not needed* for a lift or ramp that the home does not have.
``home``: the address, where the riders' table names a shelter or another place that was not home. ``charge``: the gauge on that day.
``agreed``: whether the rider wants to go back that day.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict

from rollroute.errors import InputError
from rollroute.inputs.move_fields import NONE_WORDS, UNKNOWN_WORDS, Moment, Words, YesNo, parse_yes_no
from rollroute.inputs.tabular import parse_rows, read_table

FILE = "home.csv"
ALIASES = {
    "id": ("rider", "rider_id", "code", "no", "nr"),
    "home": ("address", "home_address"),
    "mains": ("power", "mains_back", "electricity", "grid"),
    "lift": ("elevator", "lift_works", "lift_working"),
    "ramp": ("ramp_there", "step", "ramp_in_place"),
    "street": ("street_cleared", "cleared", "way_in", "road"),
    "charge": ("battery", "gauge", "charge_now"),
    "ready_from": ("ready", "ready_at", "earliest"),
    "agreed": ("consent", "wants_to", "asked"),
}
Answer = Literal["yes", "no", "not needed"]


def _answer(value: Any) -> str | None:
    text = " ".join(str(value or "").split()).lower()
    if text in UNKNOWN_WORDS:
        return None
    if text in NONE_WORDS - {"no"}:
        return "not needed"
    return "yes" if parse_yes_no(text) else "no"


ThreeWay = Annotated[Answer | None, BeforeValidator(_answer)]


class HomeAnswers(BaseModel):
    """What is known of one rider's home. ``None`` is *not known*: not yet."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    home: Words = None
    mains: ThreeWay = None
    lift: ThreeWay = None
    ramp: ThreeWay = None
    street: ThreeWay = None
    charge: Words = None
    ready_from: Moment = None
    agreed: YesNo = None


def read_home_answers(path: Path, start: Any) -> dict[str, HomeAnswers]:
    """Answers by rider; a file that is not there is no answer to anything.

    Raises
    ------
    InputError
        With every cell that can't be read, at once.
    """
    if not path.exists():
        return {}
    rows, problems = parse_rows(read_table(path, ALIASES), HomeAnswers, {"start": start})
    if problems:
        raise InputError("\n".join(str(p) for p in problems))
    found: dict[str, HomeAnswers] = {}
    for number, row in rows:
        if row.id in found:
            raise InputError(f"{path.name}, row {number}, id: {row.id!r} stands in two rows. Keep one.")
        found[row.id] = row
    return found
