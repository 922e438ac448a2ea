"""What riders have told stays with the coordinator: no paper, link, table, layer or file name holds a word of it."""

from __future__ import annotations

import dataclasses
import re
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pdfplumber
import pytest
from move_papers import Papers

from rollroute.output.move import write_move_folder
from rollroute.planning.plan import write_plan
from rollroute.planning.travel import write_travel

TOLD = re.compile(r"qzname|qzfamily|ventilator|555.?0199", re.IGNORECASE)  # words that stand in the riders' notes only
ILLNESS = re.compile(r"\b(life.support|ventilat|oxygen|suction|diagnos|disease|patient|medic|device.power)", re.IGNORECASE)
SHARED = (
    "link.html",
    "link.pdf",
    "link.png",
    "messages.txt",
    "route.html",
    "route.json",
    "route.txt",
    "route.gpx",
    "route.kml",
    "route.geojson",
)


@pytest.fixture(scope="module")
def noted(town: Papers, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All papers of the bundled town's move, with a name, a phone number and an illness in every rider's note."""
    notes = {r.id: f"Qzname{i} Qzfamily, ventilator at night, call 555 0199" for i, r in enumerate(town.move.riders)}
    move = dataclasses.replace(town.move, riders=tuple(r.model_copy(update={"note": notes[r.id]}) for r in town.move.riders))
    folder = tmp_path_factory.mktemp("noted")
    write_move_folder(town.plan, move, town.travel, folder, finder=town.finder)
    write_plan(town.plan, folder / "plan.json")
    write_travel(town.travel, folder / "travel.json")
    return folder


def _texts(path: Path) -> Iterator[str]:
    """All text of a file: its name, parts of an archive, cells of a database, pages and facts about a PDF, and the bytes themselves."""
    yield path.name
    raw = path.read_bytes()
    yield raw.decode("utf-8", "replace")
    yield raw.decode("utf-16-le", "replace")
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            yield from (archive.read(name).decode("utf-8", "replace") for name in archive.namelist())
    elif path.suffix == ".gpkg":
        base = sqlite3.connect(path)
        names = [row[0] for row in base.execute("select name from sqlite_master where type = 'table' and name not like 'rtree%'")]
        yield from (str(row) for name in names for row in base.execute(f'select * from "{name}"'))
        base.close()
    elif path.suffix == ".pdf":
        with pdfplumber.open(path) as document:
            yield str(document.metadata)
            yield from (page.extract_text() or "" for page in document.pages)


def test_no_file_holds_a_word_of_what_riders_told(noted: Path) -> None:
    """Every file of the folder, inside archives, layers and pages too. The grep itself finds such words where they are."""
    found = {p.relative_to(noted).as_posix(): hit[0] for p in noted.rglob("*") if p.is_file() for t in _texts(p) if (hit := TOLD.search(t))}
    assert found == {}
    kinds = {p.suffix for p in noted.rglob("*") if p.is_file()}
    assert {".pdf", ".html", ".xlsx", ".gpkg", ".csv", ".json", ".txt"} <= kinds
    planted = noted.parent / f"{noted.name}-planted.zip"
    with zipfile.ZipFile(planted, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("sheet.xml", "Qzname1")
    assert any(TOLD.search(t) for t in _texts(planted))


def test_what_is_shared_speaks_of_no_illness_and_of_no_rider(noted: Path, town: Papers) -> None:
    """A link is sent on: neither an id of the tables nor a word about health."""
    shared = [p for p in noted.rglob("*") if p.name in SHARED]
    assert {p.name for p in shared} >= {"link.html", "link.pdf", "messages.txt", "route.html"}
    ids = re.compile(rf"\b({'|'.join(re.escape(r.id) for r in town.move.riders)})\b")
    for path in shared:
        for text in (t for t in _texts(path) if path.suffix != ".png" and (path.suffix != ".pdf" or "%PDF" not in t[:8])):
            assert not ILLNESS.search(text), path
            assert not ids.search(text), path


def test_drivers_and_escorts_are_told_what_to_do_and_not_why(noted: Path) -> None:
    """A time that has to be kept stands there without its reason."""
    papers = [p for name in ("vans", "escorts") for p in (noted / name).iterdir()]
    assert len(papers) >= 4
    for path in papers:
        for text in _texts(path):
            assert not ILLNESS.search(text), path
