"""The folder of papers: all or nothing, no paper of an earlier plan, the same bytes for the same plan."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest
from move_papers import Papers

from rollroute.errors import InputError
from rollroute.output.move import PaperOptions, write_move_folder
from rollroute.output.move import page as page_module


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_same_plan_gives_the_same_bytes(small: Papers, tmp_path: Path):
    """Page, map, workbook, layers and PDF: two people who write the plan can compare their papers by hash."""
    for name in ("a", "b"):
        write_move_folder(small.plan, small.move, small.travel, tmp_path / name)
    first, second = contents(tmp_path / "a"), contents(tmp_path / "b")
    assert [n for n in first if first[n] != second.get(n)] == []
    assert len(first) == len(second) > 10


def test_the_bytes_do_not_depend_on_the_clock(small: Papers, tmp_path: Path):
    """A workbook and a GeoPackage carry dates to the second: those of the plan, not of the clock."""
    import time

    write_move_folder(small.plan, small.move, small.travel, tmp_path / "a")
    time.sleep(1.1)
    write_move_folder(small.plan, small.move, small.travel, tmp_path / "b")
    first, second = contents(tmp_path / "a"), contents(tmp_path / "b")
    assert [n for n in first if first[n] != second[n]] == []


def test_papers_of_an_earlier_plan_are_taken_away(small: Papers, tmp_path: Path):
    """A driver must not find yesterday's sheet: the van that no longer drives has none, and its manifest is gone."""
    write_move_folder(small.plan, small.move, small.travel, tmp_path)
    assert (tmp_path / "vans" / "v1.pdf").is_file()
    idle = dataclasses.replace(small.plan, vans=tuple(dataclasses.replace(v, stops=()) for v in small.plan.vans))
    write_move_folder(idle, small.move, small.travel, tmp_path)
    assert not (tmp_path / "vans").exists()
    assert not (tmp_path / "manifests" / "van-v1.csv").exists()
    assert (tmp_path / "manifests" / "riders.csv").is_file()


def test_an_earlier_paper_that_somebody_changed_is_kept_under_another_name(small: Papers, tmp_path: Path):
    """Somebody's notes are not thrown away, and not taken for a paper of this plan either."""
    write_move_folder(small.plan, small.move, small.travel, tmp_path)
    manifest = tmp_path / "manifests" / "van-v1.csv"
    manifest.write_text("my notes", encoding="utf-8")
    idle = dataclasses.replace(small.plan, vans=())
    write_move_folder(idle, small.move, small.travel, tmp_path)
    assert not manifest.exists()
    assert (tmp_path / "manifests" / "van-v1.csv.outdated").read_text(encoding="utf-8") == "my notes"


def test_files_of_others_are_left_alone(small: Papers, tmp_path: Path):
    """A photo in the folder, and the planner's own plan.json, are not ours."""
    (tmp_path / "vans").mkdir()
    (tmp_path / "vans" / "photo.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "plan.json").write_text("{}", encoding="utf-8")
    write_move_folder(small.plan, small.move, small.travel, tmp_path)
    write_move_folder(dataclasses.replace(small.plan, vans=()), small.move, small.travel, tmp_path)
    assert (tmp_path / "vans" / "photo.txt").read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "plan.json").read_text(encoding="utf-8") == "{}"


def test_a_list_that_names_files_elsewhere_removes_nothing(small: Papers, tmp_path: Path):
    """The list of papers is a file that anybody can edit: no name in it leads out of the folder."""
    out, outside = tmp_path / "out", tmp_path / "precious.txt"
    outside.write_text("keep", encoding="utf-8")
    write_move_folder(small.plan, small.move, small.travel, out)
    listed = json.loads((out / "papers.json").read_text(encoding="utf-8"))
    import hashlib

    listed["files"]["../precious.txt"] = hashlib.sha256(b"keep").hexdigest()
    (out / "papers.json").write_text(json.dumps(listed), encoding="utf-8")
    write_move_folder(small.plan, small.move, small.travel, out)
    assert outside.read_text(encoding="utf-8") == "keep"


def test_a_failure_leaves_the_earlier_papers_whole(small: Papers, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Everything is made before the first file is put in place."""
    write_move_folder(small.plan, small.move, small.travel, tmp_path)
    before = contents(tmp_path)

    def fail(*_: object, **__: object) -> str:
        raise InputError("no page")

    monkeypatch.setattr(page_module, "move_page", fail)
    other = dataclasses.replace(small.plan, vans=())
    with pytest.raises(InputError, match="no page"):
        write_move_folder(other, small.move, small.travel, tmp_path)
    assert contents(tmp_path) == before


def test_a_paper_that_is_not_known_is_refused_before_any_work(small: Papers, tmp_path: Path):
    """The message names what may be given; nothing is written."""
    with pytest.raises(InputError, match="a4, letter"):
        write_move_folder(small.plan, small.move, small.travel, tmp_path / "out", options=PaperOptions(paper="a0"))
    assert not (tmp_path / "out").exists()


def test_progress_is_told_in_words(small: Papers, tmp_path: Path):
    """A coordinator who waits sees what is being written."""
    said: list[str] = []
    write_move_folder(small.plan, small.move, small.travel, tmp_path, progress=said.append)
    assert said[-1] == "page and map"


def test_a_roll_without_a_map_is_named_and_not_left_out(small: Papers):
    """C rolls by typed estimates: no way can be drawn, and the page says so beside the name."""
    page = (small.folder / "index.html").read_text(encoding="utf-8")
    assert "no sheet of the way: the plan was made from typed estimates, without a map" in page
    assert not (small.folder / "riders").exists()


def test_a_plan_whose_parts_do_not_fit_is_refused(small: Papers, tmp_path: Path):
    """Edited by hand: a van with a rider whom nobody lists. Every wrong id is named, and nothing is written."""
    riders = tuple(r for r in small.plan.riders if r.id not in ("A", "C"))
    with pytest.raises(InputError, match="do not fit together") as caught:
        write_move_folder(dataclasses.replace(small.plan, riders=riders), small.move, small.travel, tmp_path / "out")
    assert "van V1: rider A is not in the plan's list" in str(caught.value)
    assert "escort E1: rider C is not in the plan's list" in str(caught.value)
    assert "shelter East Hall: rider A is not in the plan's list" in str(caught.value)
    assert not (tmp_path / "out").exists()


def test_when_papers_were_made_is_said_only_if_somebody_says_it(small: Papers, tmp_path: Path):
    """The same plan gives the same bytes, so the clock is not asked; a stamp that is given is printed."""
    write_move_folder(small.plan, small.move, small.travel, tmp_path, options=PaperOptions(made_at="2026-03-01T18:35+01:00"))
    assert "Made on 2026-03-01 at 18:35" in (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "Made on" not in (small.folder / "index.html").read_text(encoding="utf-8")
