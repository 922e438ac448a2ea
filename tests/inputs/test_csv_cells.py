"""Text that is written to a CSV file is never run as a formula, and is read back as it was."""

from __future__ import annotations

import ast
import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import rollroute
from rollroute.inputs.csv_cells import FORMULA_SIGNS, cell_text, csv_text, read_cell
from rollroute.inputs.move_folder import read_folder, read_move
from rollroute.inputs.tables import data_dir
from rollroute.inputs.write_folder import write_folder

TOWN = data_dir() / "quillhaven"
ODD = st.text(st.sampled_from("=+-@'\t\r\n ＝1a,;\""), max_size=8)


@given(st.one_of(st.text(), ODD))
def test_no_text_begins_with_a_formulas_sign_and_none_is_changed_by_the_way_back(text: str) -> None:
    """Also text that has an apostrophe of its own before the sign, and signs behind blanks."""
    shown = cell_text(text)
    assert not shown.lstrip(" ").startswith(FORMULA_SIGNS)
    assert read_cell(shown) == text


@given(st.lists(st.lists(ODD, min_size=3, max_size=3), max_size=5))
def test_a_whole_table_comes_back(rows: list[list[str]]) -> None:
    """Through the quoting of the CSV format too: commas, quotes and line ends inside cells."""
    text = csv_text(["a", "b", "c"], rows)
    assert [[read_cell(c) for c in row] for row in csv.reader(io.StringIO(text, newline=""))][1:] == rows


@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_a_folder_with_formulas_for_names_is_read_back_the_same(tmp_path: Path, sign: str) -> None:
    """Ids, addresses, notes, names of shelters and lists of companions; numbers are not touched: the town lies in the west."""
    move = read_move(TOWN)
    name, other = f"{sign}1+1|'x'!A0", f"{sign}R2"
    rider, second, *rest = move.riders
    rider = rider.model_copy(update={"id": name, "place": f"{sign}cmd", "note": f"'{sign}2+5", "lon": -37.25, "lat": 45.2})
    second = second.model_copy(update={"id": other, "stay_with": (f"{sign}R3",)})
    shelter = replace(move.shelters[0], name=f"{sign}HALL()")
    hostile = replace(move, riders=(rider, second, *rest), shelters=(shelter, *move.shelters[1:]))

    write_folder(hostile, tmp_path / "copy", inputs=TOWN)
    again = read_folder(tmp_path / "copy").move

    for path in (tmp_path / "copy").glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as file:
            texts = [c for row in csv.reader(file) for c in row if not _is_number(c)]
        assert not any(c.startswith(FORMULA_SIGNS) for c in texts), path
    assert ",-37.25," in (tmp_path / "copy" / "riders.csv").read_text(encoding="utf-8-sig")
    assert [(r.id, r.place, r.note, r.lon) for r in again.riders] == [(r.id, r.place, r.note, r.lon) for r in hostile.riders]
    assert again.shelters == hostile.shelters
    if sign != "+":  # a plus stands between two ids in a list of companions, so it can't begin one
        assert again.riders[1].stay_with == (f"{sign}R3",)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_every_csv_file_is_written_in_one_place() -> None:
    """A second writer would have to remember the guard; this is how two of them came to lack it."""
    package = Path(rollroute.__file__).parent
    writers = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Attribute) and node.attr in {"writer", "DictWriter", "to_csv"})
        or (isinstance(node, ast.ImportFrom) and node.module == "csv" and {a.name for a in node.names} & {"writer", "DictWriter"})
    }
    assert writers == {"inputs/csv_cells.py"}
