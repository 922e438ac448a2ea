"""Keep many arrays in one file that opens by memory map.

The file is an uncompressed ``.npz``: a ZIP archive of ``.npy`` members, which ``numpy.load`` reads too.
Stored members lie in one piece in the file, so each can be mapped where it lies; a filler field in each member's header
puts the numbers on 64-byte boundaries, as compiled code likes them.
"""

from __future__ import annotations

import io
import json
import mmap
import struct
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.whole import put_whole

LOCAL_HEADER_BYTES = 30  # PKWARE APPNOTE 4.3.7: the fixed part of a member's header
EXTRA_HEADER_BYTES = 4  # APPNOTE 4.5.1: id and size of an extra field
FILLER_ID = 0xA220  # an id for padding that readers pass over, as APPNOTE 4.5.1 asks of unknown ids
ALIGNMENT = 64

Arrays = dict[str, npt.NDArray[Any]]


def write_arrays(path: Path, arrays: Arrays) -> None:
    """Write ``arrays`` to ``path``: complete or not at all."""
    try:
        with put_whole(path) as near, zipfile.ZipFile(near, "w", zipfile.ZIP_STORED) as archive:
            for name, array in arrays.items():
                _write_member(archive, f"{name}.npy", array)
    except OSError as error:
        raise InputError(f"{path}: can't be written ({error.strerror}). Give a place with room that you may write to.") from error


def _write_member(archive: zipfile.ZipFile, name: str, array: npt.NDArray[Any]) -> None:
    member = io.BytesIO()
    np.save(member, np.asarray(array, order="C"), allow_pickle=False)
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))  # the same input gives the same bytes
    position = archive.fp.tell() if archive.fp else 0
    filler = -(position + LOCAL_HEADER_BYTES + len(name.encode()) + EXTRA_HEADER_BYTES) % ALIGNMENT
    info.extra = struct.pack("<HH", FILLER_ID, filler) + bytes(filler)
    archive.writestr(info, member.getvalue())


def read_arrays(path: Path, *, version: int) -> tuple[Arrays, dict[str, Any]]:
    """Map the arrays of ``path`` and read its ``about`` record.

    Raises
    ------
    InputError
        If the file is missing, damaged, or of another version.
    """
    advice = "Make it again with `rollroute build`."
    try:
        with path.open("rb") as file:
            whole = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
            with zipfile.ZipFile(file) as archive:
                arrays = {info.filename.removesuffix(".npy"): _map_member(whole, info) for info in archive.infolist()}
        about = json.loads(bytes(arrays.pop("about")))
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such network. Make it with `rollroute build MAP --out {path.name}`.") from error
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise InputError(f"{path}: not a rollroute network ({error}). {advice}") from error
    if about.pop("version", None) != version:
        raise InputError(f"{path}: a network of another format version. {advice}")
    return arrays, about


def _map_member(whole: mmap.mmap, info: zipfile.ZipInfo) -> npt.NDArray[Any]:
    """One stored ``.npy`` member as a read-only array over the mapped file."""
    if info.compress_type != zipfile.ZIP_STORED:
        raise ValueError(f"member {info.filename} is compressed")
    name_length, extra_length = struct.unpack_from("<HH", whole, info.header_offset + 26)  # PKWARE APPNOTE 4.3.7
    start = info.header_offset + LOCAL_HEADER_BYTES + name_length + extra_length
    view = memoryview(whole)[start : start + info.file_size]
    header = _MemberHeader(view)
    version = np.lib.format.read_magic(header)  # type: ignore[arg-type]
    read = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
    shape, is_fortran, dtype = read(header)  # type: ignore[arg-type]
    count = int(np.prod(shape, dtype=np.int64))
    array = np.frombuffer(view, dtype, count, header.position) if count else np.empty(0, dtype)
    return array.reshape(shape, order="F" if is_fortran else "C")


class _MemberHeader:
    """The little of a file that numpy's header reader needs."""

    def __init__(self, view: memoryview) -> None:
        self.view = view
        self.position = 0

    def read(self, size: int) -> bytes:
        data = bytes(self.view[self.position : self.position + size])
        self.position += len(data)
        return data
