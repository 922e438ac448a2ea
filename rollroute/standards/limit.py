"""One published limit: a figure, which side of it is allowed, and where it is printed."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import rollroute
from rollroute.errors import InputError
from rollroute.units import KG_PER_LB, M_PER_FOOT, M_PER_INCH, STANDARD_GRAVITY_M_S2

Status = Literal["confirmed", "weak", "memory"]
STATUSES: dict[str, str] = {
    "confirmed": "",
    "weak": "(seen in a copy only)",
    "memory": "(from memory)",
}
"""How well a figure is known, and the words that stand beside it in print."""
_N_PER_LBF = KG_PER_LB * STANDARD_GRAVITY_M_S2  # exact by definition
_UNITS = {
    "in": M_PER_INCH, "ft": M_PER_FOOT, "in/s": M_PER_INCH, "lb": KG_PER_LB, "lbf": _N_PER_LBF,
}  # fmt: skip
_ORIGINAL = re.compile(r"^(?:(\d+(?:\.\d+)?) )?(?:(\d+)/(\d+) )?(in/s|in|ft|lbf|lb)$")
ROUNDING = 1e-9  # of a comparison: 1:12 read back from a file is 1:12


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A published figure in SI units; the name ends in its unit, grades have none.

    ``sense`` is ``most`` or ``least``.
    ``original`` is the figure as printed in other units, if it is.
    ``bound`` is what is compared: a measure meets the limit if it meets it in either system of units, since both are printed.
    """

    name: str
    value: float
    sense: Literal["most", "least"]
    section: str
    status: Status
    condition: str
    original: str | None = None

    @property
    def bound(self) -> float:
        """The more lenient of the two printed figures (36 in is 0.6 mm less than 915 mm)."""
        if self.original is None:
            return self.value
        printed = original_si(self.original) / (1000.0 if self.name.endswith("_kn") else 1.0)
        return max(self.value, printed) if self.sense == "most" else min(self.value, printed)

    def is_met_by(self, measure: float | None) -> bool | None:
        """Whether a measure (SI) keeps the limit; ``None`` where the measure is unknown (``None`` or NaN)."""
        if measure is None or math.isnan(measure):
            return None
        slack = ROUNDING * max(1.0, abs(self.bound))
        return measure <= self.bound + slack if self.sense == "most" else measure >= self.bound - slack

    def cite(self) -> str:
        """The section, with the words that its status asks for: ``405.6 (seen in a copy only)``."""
        return f"{self.section} {STATUSES[self.status]}".rstrip()


def original_si(text: str) -> float:
    """``1 1/4 in``, ``600 lb``, ``6 in/s`` in SI units (metres, kilograms, newtons, metres per second)."""
    match = _ORIGINAL.match(text)
    if match is None or not (match.group(1) or match.group(2)):
        raise InputError(f"standards: {text!r} is not a figure with in, ft, lb, lbf or in/s. Write for example '1 1/4 in'.")
    whole, top, bottom, unit = match.groups()
    return (float(whole or 0.0) + (float(Fraction(int(top), int(bottom))) if top else 0.0)) * _UNITS[unit]


def read_figure(cell: Any, where: str) -> float:
    """A number, or a ratio such as ``"1:12"``."""
    if isinstance(cell, str):
        rise, _, run = cell.partition(":")
        if rise.isdecimal() and run.isdecimal() and int(run) > 0:
            return int(rise) / int(run)
    elif isinstance(cell, (int, float)) and not isinstance(cell, bool) and math.isfinite(cell):
        return float(cell)
    raise InputError(f'{where}: must be a number or a ratio such as "1:12", got {cell!r}.')


def read_status(cells: Mapping[str, Any], where: str) -> Status:
    """The status of a figure; every figure has one."""
    status = cells.get("status")
    if status not in STATUSES or not cells.get("section"):
        raise InputError(f"{where}: needs a section and a status ({', '.join(STATUSES)}), got {dict(cells)!r}.")
    return status  # type: ignore[no-any-return]


def read_limits(table: Mapping[str, Mapping[str, Any]], where: str) -> dict[str, Limit]:
    """The ``[limits]`` of a file."""
    return {name: _read_limit(name, cells, f"{where}: {name}") for name, cells in table.items()}


def _read_limit(name: str, cells: Mapping[str, Any], where: str) -> Limit:
    senses = [sense for sense in ("most", "least") if sense in cells]
    if len(senses) != 1:
        raise InputError(f"{where}: give either `most` or `least`, got {dict(cells)!r}.")
    original = cells.get("original")
    if original is not None:
        original_si(original)
    return Limit(
        name=name,
        value=read_figure(cells[senses[0]], where),
        sense="most" if senses[0] == "most" else "least",
        section=str(cells.get("section", "")),
        status=read_status(cells, where),
        condition=str(cells.get("condition", "")),
        original=original,
    )


def table_path(name: str) -> Path:
    """A file of ``data``: beside the package in a checkout, inside it in an installed wheel."""
    package = Path(rollroute.__file__).resolve().parent
    beside = package.parent / "data" / name
    return beside if beside.exists() else package / "data" / name


def read_table(path: Path) -> dict[str, Any]:
    """Parse one TOML file; a missing or damaged file is an ``InputError`` that names it."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror}). Give the path of a TOML file.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not TOML ({error}). Correct the line named.") from error
