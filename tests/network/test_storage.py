"""Arrays in one file: numpy reads the same, whatever is damaged is refused, a write that fails leaves what was there."""

from __future__ import annotations

import dataclasses
import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from towns.hand_drawn import network_of

import rollroute.network.storage as storage
from rollroute.errors import InputError
from rollroute.network.network import Network
from rollroute.network.storage import ALIGNMENT, read_arrays, write_arrays

ABOUT = np.frombuffer(b'{"version": 7, "town": "here"}', np.uint8)
ARRAYS = {
    "one_byte": np.arange(3, dtype=np.uint8), "columns": np.asfortranarray(np.arange(6.0).reshape(2, 3)),
    "empty": np.zeros((0, 2), np.int64), "number": np.array(2.5), "holes": np.array([np.nan, 1.0], np.float32),
}  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_arrays(tmp_path / "town.net", {**ARRAYS, "about": ABOUT})
    return tmp_path / "town.net"


def test_what_is_read_is_what_was_written(path: Path):
    """Values, types, shapes, also of an empty array, a single number and one kept by columns."""
    arrays, about = read_arrays(path, version=7)

    assert about == {"town": "here"}
    assert arrays.keys() == ARRAYS.keys()
    for name, array in ARRAYS.items():
        assert arrays[name].dtype == array.dtype
        np.testing.assert_array_equal(arrays[name], array, strict=True)


def test_numpy_reads_the_same_file(path: Path):
    """An independent reader: the file is a plain ``.npz`` (NumPy's format; ZIP by PKWARE's APPNOTE), and each member's sum is right."""
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
    with path.open("rb") as file, np.load(file) as theirs:
        for name, array in ARRAYS.items():
            np.testing.assert_array_equal(theirs[name], array, strict=True)


def test_arrays_are_mapped_and_can_not_be_written_to(path: Path):
    """A slip of the program must not change the file; and numbers begin on 64-byte boundaries, as the module promises."""
    arrays, _ = read_arrays(path, version=7)

    assert not any(array.flags.writeable for array in arrays.values() if array.size)
    blob = path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        for info in archive.infolist():
            name_length, extra_length = (
                int.from_bytes(blob[info.header_offset + k : info.header_offset + k + 2], "little") for k in (26, 28)
            )
            start = info.header_offset + 30 + name_length + extra_length
            assert start % ALIGNMENT == 0, info.filename


def test_the_same_arrays_give_the_same_bytes(path: Path, tmp_path: Path):
    write_arrays(tmp_path / "again.net", {**ARRAYS, "about": ABOUT})

    assert (tmp_path / "again.net").read_bytes() == path.read_bytes()


def test_a_write_that_breaks_off_leaves_the_earlier_file_and_no_scrap(path: Path, monkeypatch: pytest.MonkeyPatch):
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(storage, "_write_member", full)
    with pytest.raises(InputError, match="no space left"):
        write_arrays(path, ARRAYS)

    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir()] == ["town.net"]


@pytest.mark.parametrize("keep", [0.0, 0.3, 0.7, 0.99])
def test_a_file_cut_short_is_refused(path: Path, keep: float):
    """A copy that broke off: message, not a traceback and not half a town."""
    blob = path.read_bytes()
    path.write_bytes(blob[: int(len(blob) * keep)])

    with pytest.raises(InputError, match="not a rollroute network"):
        read_arrays(path, version=7)


def test_a_compressed_archive_another_version_and_no_file_are_refused(path: Path, tmp_path: Path):
    np.savez_compressed(tmp_path / "packed.npz", **ARRAYS, about=ABOUT)

    with pytest.raises(InputError, match="compressed"):
        read_arrays(tmp_path / "packed.npz", version=7)
    with pytest.raises(InputError, match="another format version"):
        read_arrays(path, version=8)
    with pytest.raises(InputError, match="no such network"):
        read_arrays(tmp_path / "nowhere.net", version=7)


def test_a_network_comes_back_as_it_was(tmp_path: Path):
    """Every column of every part, what is said about it, and names with letters beyond ASCII."""
    network = network_of("n1 0,0\nn2 9,0 kerb=lowered\nn3 20,0\nw10 1,2,3 highway=residential name=Šíp_Lane@ surface=asphalt")
    network.save(tmp_path / "a.net")
    again = Network.load(tmp_path / "a.net")

    for part in ("nodes", "pieces", "places", "incidence", "ways"):
        for field in dataclasses.fields(getattr(network, part)):
            one, other = (getattr(getattr(n, part), field.name) for n in (network, again))
            np.testing.assert_array_equal(one, other, err_msg=f"{part}.{field.name}", strict=True)
    assert again.ways.name(0) == "Šíp Lane@"
    assert again.about == json.loads(json.dumps(network.about))
    assert again.backdrop.keys() == network.backdrop.keys()
