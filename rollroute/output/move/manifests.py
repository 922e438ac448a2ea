"""CSV files for spreadsheets and scripts: one for each van and each shelter, one for riders, escorts and outlets."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollroute.output.move import rows
from rollroute.output.move.facts import MoveFacts, file_stems
from rollroute.output.move.rows import Row

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet runs a text cell that begins with one of these


def write_manifests(facts: MoveFacts, folder: Path) -> list[Path]:
    """Write ``riders.csv``, ``escorts.csv``, ``outlets.csv``, ``van-*.csv`` and ``shelter-*.csv`` to ``folder``.

    UTF-8 with a mark, so that spreadsheets read names in any script.
    """
    folder.mkdir(parents=True, exist_ok=True)
    plan = facts.plan
    made = [
        _write(folder / "riders.csv", rows.RIDER_COLUMNS, rows.rider_rows(facts)),
        _write(folder / "escorts.csv", rows.ESCORT_COLUMNS, rows.escort_rows(facts)),
        _write(folder / "outlets.csv", rows.OUTLET_COLUMNS, [row for s in plan.shelters for row in rows.outlet_rows(s)]),
    ]
    stems = file_stems([v.id for v in plan.vans])
    made += [_write(folder / f"van-{stems[v.id]}.csv", rows.VAN_COLUMNS, rows.van_rows(facts, v)) for v in facts.used_vans]
    stems = file_stems([s.name for s in plan.shelters])
    for s in facts.used_shelters:
        made.append(_write(folder / f"shelter-{stems[s.name]}.csv", rows.SHELTER_COLUMNS, rows.shelter_rows(facts, s)))
    return made


def cell_text(value: Any) -> str:
    """Give a value as CSV text that no spreadsheet runs as a formula; nothing for ``None``.

    A text that begins with a formula's sign gets an apostrophe before it, the spreadsheets' own mark for text (common practice).

    Examples
    --------
    >>> cell_text("=1+1"), cell_text(-37.2), cell_text(None)
    ("'=1+1", '-37.2', '')
    """
    if value is None:
        return ""
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(FORMULA_SIGNS) else text


def _write(path: Path, columns: Sequence[str], found: Sequence[Row]) -> Path:
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows([cell_text(row[c]) for c in columns] for row in found)
    return path
