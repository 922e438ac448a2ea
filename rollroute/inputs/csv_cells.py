"""The one place where CSV files are written: no cell is run as a formula by a spreadsheet, and ``read_cell`` gives the text back.

A text that begins with a formula's sign gets an apostrophe before it, the spreadsheets' own mark for text (common practice). The signs
are those that OWASP lists under "CSV Injection" (from memory), also behind blanks, which some programs take off first.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""A spreadsheet may run a text cell that begins with one of these; the last four are the wide forms of Japanese input."""
MARK = "'"


def cell_text(value: Any) -> str:
    """Give a value as CSV text that no spreadsheet runs as a formula; nothing for ``None``; numbers stay numbers.

    Examples
    --------
    >>> cell_text("=1+1"), cell_text(-37.2), cell_text(None)
    ("'=1+1", '-37.2', '')
    """
    if value is None:
        return ""
    return f"{MARK}{value}" if isinstance(value, str) and _begins_like_a_formula(value) else str(value)


def read_cell(text: str) -> str:
    """Take the mark off again: ``read_cell(cell_text(text)) == text`` for every text.

    Examples
    --------
    >>> read_cell("'=1+1"), read_cell("'t Huis")
    ('=1+1', "'t Huis")
    """
    return text[1:] if text.startswith(MARK) and _begins_like_a_formula(text[1:]) else text


def _begins_like_a_formula(text: str) -> bool:
    """Marks that stand there already count as nothing, so that a text which is typed with one is given back with it."""
    return text.lstrip(MARK).lstrip(" ").startswith(FORMULA_SIGNS)


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """A header and rows as CSV text; text cells guarded by ``cell_text``."""
    out = io.StringIO()
    writer = csv.writer(out)  # lines end as RFC 4180 has it; with a bare line feed Python leaves a carriage return in a cell unquoted
    writer.writerow(columns)
    writer.writerows([cell_text(value) for value in row] for row in rows)
    return out.getvalue()


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> Path:
    """Write ``csv_text`` as UTF-8 with a mark, so that spreadsheets read names in any script."""
    path.write_text(csv_text(columns, rows), encoding="utf-8-sig", newline="")
    return path
