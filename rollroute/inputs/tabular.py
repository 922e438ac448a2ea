"""Read spreadsheets as people keep them: CSV with any delimiter, XLSX, titles above the header, merged headers, units in headers.

Cells stay text until a row model (pydantic) reads them, so that ids and postcodes keep their leading zeros.
Every bad cell of every row is reported at once: nobody should have to repair one row to be told about the next.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from rollroute.errors import InputError
from rollroute.inputs.csv_cells import read_cell

UNITS = ("kg", "lb", "lbs", "cm", "mm", "in", "inch", "inches", "m", "ft", "min", "mins", "minutes", "h", "hours", "w", "kw", "a")
DELIMITERS = (";", "\t", "|", ",")
HEADER_SEARCH_ROWS = 12  # titles, dates and notes above the header
SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
NEEDED = "is needed in every row; of merged cells only the first row has it. Write it in each."
Row = TypeVar("Row", bound=BaseModel)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowProblem:
    """One thing in one cell that can't be used as it stands."""

    file: str
    row: int  # as a spreadsheet counts: the first line is 1
    column: str
    value: str
    message: str  # what is wrong and what to do

    def __str__(self) -> str:
        where = f"{self.file}, row {self.row}" if self.row else self.file
        return f"{where}, {self.column}: {self.value!r}: {self.message}" if self.column else f"{where}: {self.message}"


@dataclass(frozen=True, slots=True)
class Table:
    """Cells as text under the columns that were recognised.

    ``rows``: (row number, canonical column name -> text); a unit that stood in the header is appended to a bare number.
    ``ignored``: header cells that no column answers to.
    """

    file: str
    rows: list[tuple[int, dict[str, str]]]
    columns: tuple[str, ...]
    ignored: tuple[str, ...]


def read_table(path: Path, aliases: Mapping[str, Sequence[str]]) -> Table:
    """Read ``path`` and find its header by the spellings in ``aliases`` (canonical name -> other spellings).

    Raises
    ------
    InputError
        If the file can't be read or no row looks like a header.
    """
    grid = _read_grid(path)
    lookup = {_plain(s): name for name, others in aliases.items() for s in (name, *others)}
    first_row, names, units, ignored = _find_header(grid, lookup, path)
    rows = []
    for number, cells in enumerate(grid[first_row:], start=first_row + 1):
        values = {n: _with_unit(read_cell(c.strip()), u) for n, u, c in zip(names, units, cells, strict=False) if n and c.strip()}
        if values and not _repeats_header(values, lookup):
            rows.append((number, values))
    return Table(path.name, rows, tuple(n for n in names if n), tuple(ignored))


def read_named(path: Path, aliases: Mapping[str, Sequence[str]], *, needed: Sequence[str]) -> Table:
    """``read_table`` with all columns that are ``needed``; a misspelt one must not pass as not given.

    Raises
    ------
    InputError
        As ``read_table``, or naming the column that is lacking, or is nearly one that is not there, and what it may have meant.
    """
    table = read_table(path, aliases)
    for name in table.ignored:
        near = difflib.get_close_matches(_plain(name), [n for n in aliases if n not in table.columns], n=1, cutoff=0.8)
        if near:
            raise InputError(f"{path}: unknown column {name!r}. Did you mean {near[0]}?")
    lacking = [name for name in needed if name not in table.columns]
    if lacking:
        raise InputError(f"{path}: no column {', '.join(lacking)}. It has {', '.join((*table.columns, *table.ignored))}.")
    return table


def parse_rows(table: Table, model: type[Row], context: Mapping[str, Any] | None = None) -> tuple[list[tuple[int, Row]], list[RowProblem]]:
    """Turn each row into ``model``; rows that fail are left out and every failing cell is reported."""
    good: list[tuple[int, Row]] = []
    bad: list[RowProblem] = []
    for number, values in table.rows:
        try:
            good.append((number, model.model_validate(values, context=dict(context or {}))))
        except ValidationError as error:
            for item in error.errors(include_url=False):
                column = str(item["loc"][0]) if item["loc"] else ""
                message = NEEDED if item["type"] == "missing" else str(item["msg"]).removeprefix("Value error, ")
                bad.append(RowProblem(file=table.file, row=number, column=column, value=str(values.get(column, "")), message=message))
    return good, bad


def _read_grid(path: Path) -> list[list[str]]:
    try:
        return _read_spreadsheet(path) if path.suffix.lower() in SPREADSHEETS else _read_delimited(path)
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror or error}). Check the name of the file.") from error
    except (csv.Error, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not a readable table ({error}). Save it again as .xlsx, or as .csv in UTF-8.") from error


def _read_delimited(path: Path) -> list[list[str]]:
    raw = path.read_bytes()
    text = raw.decode("utf-16") if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else _bytes_text(raw)
    lines = text.splitlines()[:HEADER_SEARCH_ROWS]
    delimiter = max(DELIMITERS, key=lambda d: sorted(line.count(d) for line in lines)[-2:] if lines else [0])
    return [list(row) for row in csv.reader(io.StringIO(text), delimiter=delimiter)]


def _bytes_text(raw: bytes) -> str:
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1")  # every byte means something here


def _read_spreadsheet(path: Path) -> list[list[str]]:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_path(str(path))
        return [[_cell_text(c) for c in row] for row in book.get_sheet_by_index(0).to_python(skip_empty_area=False)]
    except CalamineError as error:
        raise InputError(f"{path}: not a readable spreadsheet ({error}). Save it again as .xlsx or .csv.") from error


def _cell_text(cell: object) -> str:
    """Text of a spreadsheet cell: whole numbers without ``.0``, times as clock times."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.timedelta):
        minutes = round(cell.total_seconds() / 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"
    if isinstance(cell, dt.datetime | dt.time):
        return cell.isoformat()
    return str(cell)


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


def _match(text: str, lookup: Mapping[str, str]) -> tuple[str, str]:
    """Canonical column and header unit of one header cell, or empty strings."""
    plain = _plain(text)
    if plain in lookup:
        name = lookup[plain]
        tail = plain.rsplit("_", 1)[-1]
        return name, tail if tail in UNITS else ""
    stem, _, tail = plain.rpartition("_")
    if tail in UNITS:
        for name in (stem, *(f"{stem}_{u}" for u in UNITS)):
            if name in lookup:
                return lookup[name], tail
    return "", ""


def _header_candidates(grid: list[list[str]]) -> Iterator[tuple[int, list[str]]]:
    """(number of rows up to the header's end, header cells): each single row, and each pair read as a merged two-row header."""
    for i, row in enumerate(grid[:HEADER_SEARCH_ROWS]):
        yield i + 1, row
        if i + 1 < len(grid):
            yield i + 2, _merge_header(row, grid[i + 1])


def _merge_header(upper: list[str], lower: list[str]) -> list[str]:
    width = max(len(upper), len(lower))
    upper, lower = upper + [""] * (width - len(upper)), lower + [""] * (width - len(lower))
    merged, group = [], ""
    for top, bottom in zip(upper, lower, strict=True):
        group = top.strip() or group
        merged.append(f"{group} {bottom}".strip() if bottom.strip() else top)
    return merged


def _find_header(grid: list[list[str]], lookup: Mapping[str, str], path: Path) -> tuple[int, list[str], list[str], list[str]]:
    best: tuple[int, int, list[tuple[str, str]], list[str]] | None = None
    for n_rows, cells in _header_candidates(grid):
        matches = [_match(c, lookup) for c in cells]
        n_known = len({m[0] for m in matches} - {""})
        if n_known and (best is None or n_known > best[0]):
            best = (n_known, n_rows, matches, cells)
    if best is None or best[0] < 2:
        known = ", ".join(sorted(set(lookup.values())))
        raise InputError(f"{path}: no row looks like a header. Name the columns, for example: {known}.")
    _, n_rows, matches, cells = best
    seen: set[str] = set()
    names = [m[0] if m[0] and m[0] not in seen and not seen.add(m[0]) else "" for m in matches]  # type: ignore[func-returns-value]
    ignored = [c.strip() for n, c in zip(names, cells, strict=True) if not n and c.strip()]
    return n_rows, names, [m[1] for m in matches], ignored


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit and re.fullmatch(r"[-+]?\d+([.,]\d+)?", text) else text


def _repeats_header(values: Mapping[str, str], lookup: Mapping[str, str]) -> bool:
    return all(_match(text, lookup)[0] == name for name, text in values.items())
