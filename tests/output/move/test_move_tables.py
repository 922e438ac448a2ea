"""CSV files and workbook of a move: the rows by hand, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from move_papers import HOSTILE, Papers, small_move

from rollroute.inputs.csv_cells import FORMULA_SIGNS, cell_text
from rollroute.output.move.book import _sheet_name, write_book
from rollroute.output.move.facts import file_stems, gather
from rollroute.output.move.manifests import write_manifests
from rollroute.output.words import Words


def csv_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def book_rows(path: Path, sheet: str) -> list[dict[str, Any]]:
    rows = list(openpyxl.load_workbook(path)[sheet].iter_rows(values_only=True))
    return [dict(zip((str(h).replace(" ", "_") for h in rows[0]), row, strict=True)) for row in rows[1:]]


def test_a_vans_manifest_is_its_tour(small: Papers):
    """By hand: the van starts at A, 0 min away, loads 10 min; 1 km to B is 2 min; 4 km on to the hall are 8 min; 5 min to unload each.

    A takes the first position and B the second; A's 1 is free again after the first unloading.
    """
    rows = csv_rows(small.folder / "manifests" / "van-v1.csv")
    found = [(r["kind"], r["rider"], r["drive_min"], r["start"][11:16], r["end"][11:16], r["positions"], r["aboard"]) for r in rows]

    assert found == [
        ("load", "A", "0", "18:40", "18:50", "1", "1"),
        ("load", "B", "2", "18:52", "19:02", "2", "2"),
        ("unload", "A", "8", "19:10", "19:15", "1", "1"),
        ("unload", "B", "0", "19:15", "19:20", "2", "0"),
    ]


def test_a_mass_on_the_lift_is_chair_rider_and_bags(small: Papers):
    """Rider 80 kg, bags 15 kg (the assumption of a move), and the class B chair; set against the lift's 400 kg."""
    from rollroute.inputs.chair import find_chair

    row = csv_rows(small.folder / "manifests" / "van-v1.csv")[0]
    assert float(row["mass_kg"]) == pytest.approx(80 + 15 + find_chair("en12184-b").mass_kg)
    assert float(row["lift_rating_kg"]) == 400


def test_a_shelters_manifest_lists_guests_by_arrival(small: Papers):
    """A is in at 19:15, B at 19:20, C rolls 40 min from 19:04."""
    rows = csv_rows(small.folder / "manifests" / "shelter-east-hall.csv")
    assert [(r["order"], r["rider"], r["arrive"][11:16], r["way"], r["van"]) for r in rows] == [
        ("1", "A", "19:15", "van", "V1"),
        ("2", "B", "19:20", "van", "V1"),
        ("3", "C", "19:44", "roll", ""),
    ]


def test_whoever_is_not_served_is_in_the_table_of_riders(small: Papers):
    """Nobody is lost between plan and paper: D has a row without a way."""
    rows = {r["rider"]: r for r in csv_rows(small.folder / "manifests" / "riders.csv")}
    assert list(rows) == ["A", "B", "C", "D"]
    assert (rows["D"]["status"], rows["D"]["way"], rows["D"]["van"]) == ("not served", "", "")


def test_the_workbook_holds_the_rows_of_the_csv_files(small: Papers):
    """One table, two formats: the cells agree, times as clock times."""
    csvs = {"Riders": "riders", "Outlets": "outlets", "Escorts": "escorts", "Van V1": "van-v1", "At East Hall": "shelter-east-hall"}
    for sheet, name in csvs.items():
        own, other = book_rows(small.folder / "plan.xlsx", sheet), csv_rows(small.folder / "manifests" / f"{name}.csv")
        assert len(own) == len(other) > 0
        for a, b in zip(own, other, strict=True):
            assert {k: _as_text(v) for k, v in a.items()} == {k: v[:16] if v[10:11] == "T" else _number(v) for k, v in b.items()}


def _as_text(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="minutes")
    return "" if value is None else _number(str(value))


def _number(text: str) -> str:
    try:
        return f"{float(text):g}"
    except ValueError:
        return text


def test_no_cell_of_the_workbook_is_a_formula(hostile: Papers):
    """Names that begin with = + - @ stay text, also when somebody edits the cell (quote prefix)."""
    book = openpyxl.load_workbook(hostile.folder / "plan.xlsx")
    texts = [cell for sheet in book for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
    assert any(str(cell.value).startswith(FORMULA_SIGNS) for cell in texts)
    assert all(cell.data_type == "s" for cell in texts)
    assert all(cell.quotePrefix for cell in texts if str(cell.value).startswith(FORMULA_SIGNS))
    with zipfile.ZipFile(hostile.folder / "plan.xlsx") as archive:
        sheets = [archive.read(n) for n in archive.namelist() if n.startswith("xl/worksheets/sheet")]
    assert sheets
    assert not any(b"<f>" in sheet or b"<f " in sheet for sheet in sheets)


def test_no_cell_of_a_csv_file_is_a_formula(hostile: Papers):
    """The hostile names are there, each behind an apostrophe."""
    cells = []
    for path in (hostile.folder / "manifests").glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as file:
            cells += [c for row in csv.reader(file) for c in row]
    assert any(c.startswith("'=") for c in cells)
    assert not any(c.startswith(FORMULA_SIGNS) for c in cells)
    assert any(HOSTILE in c for c in cells)


@given(st.one_of(st.integers(-(2**53), 2**53), st.floats(allow_nan=False, allow_infinity=False)))
def test_numbers_stay_numbers(number: float):
    """A longitude west of Greenwich is no formula."""
    assert float(cell_text(number)) == number


@given(st.lists(st.text(max_size=60), max_size=8, unique=True))
def test_every_name_gets_a_file_of_its_own_inside_the_folder(names: list[str]):
    """No name climbs out of its folder, hides, collides where case does not count, or is a device's."""
    stems = list(file_stems(names).values())
    assert len({s.lower() for s in stems}) == len(names)
    for stem in stems:
        assert stem
        assert set(stem) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
        assert stem not in {"con", "nul", "aux", "prn", "com1", "lpt1"}


@given(st.lists(st.text(max_size=60), max_size=8))
def test_every_sheet_has_a_name_that_spreadsheets_take(titles: list[str]):
    r"""At most 31 letters, none of []:*?/\, no two alike without case (Excel's rules, from memory)."""
    taken: set[str] = set()
    names = [_sheet_name(t, taken) for t in titles]
    assert len({n.lower() for n in names}) == len(names)
    assert all(0 < len(n) <= 31 and not set(n) & set("[]:*?/\\") for n in names)


def test_a_workbook_of_any_names_opens(hostile: Papers):
    """A file that a spreadsheet refuses helps nobody at night."""
    book = openpyxl.load_workbook(io.BytesIO((hostile.folder / "plan.xlsx").read_bytes()))
    made, _ = small_move()
    assert len(book.sheetnames) == 4 + len(made.vans) + 1


def test_the_workbook_speaks_the_readers_language_and_the_csv_keys_stay(small: Papers, tmp_path: Path):
    """Sheets, headings, words and sentences in Spanish; scripts read the CSV files, whose bytes are the same in every language."""
    facts = gather(small.plan, small.move, small.travel, words=Words(language="es"))
    write_book(facts, tmp_path / "plan.xlsx")
    write_manifests(facts, tmp_path / "manifests")

    book = openpyxl.load_workbook(tmp_path / "plan.xlsx")
    assert book.sheetnames == ["Plan", "Personas", "Enchufes", "Acompañantes", "Furgoneta V1", "En East Hall"]
    rows = book_rows(tmp_path / "plan.xlsx", "Personas")
    by_id = {row["persona"]: row for row in rows}
    assert (by_id["A"]["estado"], by_id["A"]["modo"], by_id["C"]["modo"]) == ("previsto", "furgoneta", "en su silla")
    assert str(by_id["D"]["mientras_tanto"]).startswith("otro servicio con vehículo")
    assert "llaves" in by_id["A"]["cosas"]
    same = [p.name for p in (tmp_path / "manifests").iterdir()]
    assert same
    for name in same:
        assert (tmp_path / "manifests" / name).read_bytes() == (small.folder / "manifests" / name).read_bytes()
