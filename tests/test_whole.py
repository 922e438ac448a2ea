"""Files that are whole or not there."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from rollroute.output.folder import put_in_place
from rollroute.whole import put_whole, write_whole


def _write_half(path: Path, stop: BaseException) -> None:
    with put_whole(path) as near:
        near.write_text("half", encoding="utf-8")
        raise stop


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), ValueError("half way")])
def test_what_was_there_stays_and_nothing_half_done_is_left(tmp_path: Path, stop: BaseException):
    """Ctrl-C or a mistake in the middle of writing."""
    path = tmp_path / "a.json"
    path.write_text("earlier", encoding="utf-8")
    with pytest.raises(type(stop)):
        _write_half(path, stop)
    assert path.read_text(encoding="utf-8") == "earlier"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


def test_a_full_disk_is_told_with_the_file_and_leaves_nothing(tmp_path: Path):
    """The system gives ENOSPC without a name: write(2)."""
    path = tmp_path / "a.json"
    with pytest.raises(OSError, match="No space left") as told:
        _write_half(path, OSError(errno.ENOSPC, "No space left on device"))
    assert told.value.filename == str(path)
    assert not list(tmp_path.iterdir())


def test_text_is_utf_8_and_takes_the_place_of_what_was_there(tmp_path: Path):
    path = tmp_path / "a.txt"
    write_whole(path, "old")
    write_whole(path, "4 °C\n")
    assert path.read_bytes() == b"4 \xc2\xb0C\n"


def test_a_folder_is_put_in_place_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The disk fills up at the second of three files: yesterday's route stays, all of it, and the message names the second."""
    work, folder = tmp_path / "work", tmp_path / "route"
    for made, text in ((work, "new"), (folder, "old")):
        made.mkdir()
        for name in ("a", "b", "c"):
            (made / name).write_text(text, encoding="utf-8")

    def copy(source: Path, goal: Path) -> None:
        if source.name == "b":
            raise OSError(errno.ENOSPC, "No space left on device")
        goal.write_bytes(source.read_bytes())

    with monkeypatch.context() as patch:
        patch.setattr("shutil.copyfile", copy)
        with pytest.raises(OSError, match="No space left") as told:
            put_in_place(work, folder)
    assert told.value.filename == str(folder / "b")
    assert {p.name: p.read_text(encoding="utf-8") for p in folder.iterdir()} == dict.fromkeys("abc", "old")
    assert put_in_place(work, folder) == [folder / name for name in "abc"]
    assert {p.name: p.read_text(encoding="utf-8") for p in folder.iterdir()} == dict.fromkeys("abc", "new")
