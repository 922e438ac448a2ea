"""Fonts for paper, all from installed packages: FiraGO first, DejaVu Sans for what it lacks; fonts of the machine only for other scripts.

FiraGO sets 12 points as large as DejaVu Sans does (height of a small x 0.527 and 0.547 em) on seven eighths of the width.
"""

from __future__ import annotations

import contextlib
import importlib.util
import shutil
import tempfile
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Any

from rollroute.errors import InputError

FAMILIES = ("FiraGO", "DejaVu Sans")
FIRA = {"FiraGO-Regular.ttf": "figo", "FiraGO-Bold.ttf": "figbo"}  # names under which pymupdf-fonts gives them
DEJAVU = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
MISSING = "\u25af"  # a white upright rectangle stands for a letter that no font here has


@lru_cache(maxsize=1)
def _folder() -> tempfile.TemporaryDirectory[str]:
    """A folder that holds our two families alone, for the life of the process.

    matplotlib's own folder can't be given: a font of last resort lies there too, which would draw boxes and hide missing letters.
    """
    folder = tempfile.TemporaryDirectory(prefix="rollroute-fonts-")
    for name, key in FIRA.items():
        (Path(folder.name) / name).write_bytes(_fira(key))
    for name in DEJAVU:
        source = dejavu_folder() / name
        target = Path(folder.name) / name
        try:
            target.symlink_to(source)
        except OSError:  # no right to link, as on some Windows machines
            shutil.copyfile(source, target)
    return folder


def _fira(key: str) -> bytes:
    try:
        from pymupdf_fonts import myfont
    except ImportError as error:
        raise InputError("fonts: pymupdf-fonts is not installed, and with it FiraGO is missing. Install rollroute again.") from error
    return bytes(myfont(key))


@lru_cache(maxsize=2)
def fonts(*, include_system: bool = False) -> Any:
    """The fonts as typst takes them."""
    import typst

    return typst.Fonts(include_system_fonts=include_system, include_embedded_fonts=False, font_paths=[_folder().name])


@lru_cache(maxsize=1)
def letters() -> frozenset[int]:
    """Code points that our two families can draw."""
    return frozenset(code for face, _ in _faces() for code in face.get_charmap())


@lru_cache(maxsize=4096)
def advance_em(letter: str) -> float:
    """How far one letter of the regular face moves the pen, in em; a full em for letters that both families lack."""
    from matplotlib.ft2font import LoadFlags

    for face, codes in _faces():
        if ord(letter) in codes:
            return float(face.load_char(ord(letter), flags=LoadFlags.NO_SCALE).horiAdvance) / float(face.units_per_EM)
    return 1.0


@lru_cache(maxsize=1)
def _faces() -> list[tuple[Any, frozenset[int]]]:
    """The regular faces in the order in which they are asked, each with its code points."""
    from matplotlib.ft2font import FT2Font

    faces = [FT2Font(str(Path(_folder().name) / name)) for name in (next(iter(FIRA)), DEJAVU[0])]
    return [(face, frozenset(face.get_charmap())) for face in faces]


def missing_letters(text: str) -> set[str]:
    """Letters of ``text`` that both families lack; controls and joiners do not count."""
    return {c for c in set(text) if ord(c) not in letters() and unicodedata.category(c) not in {"Cc", "Cf"}}


def without_missing(text: str, missing: set[str]) -> str:
    """``text`` with a rectangle for every letter of ``missing``; marks that only change the letter before are dropped."""
    return text.translate({ord(c): None if unicodedata.category(c) == "Mn" else MISSING for c in missing})


def in_the_system(wanted: set[str]) -> set[str]:
    """Those letters of ``wanted`` that some font of this machine can draw."""
    return {c for c in wanted if ord(c) in _system_letters()}


@lru_cache(maxsize=1)
def _system_letters() -> frozenset[int]:
    """Code points of all fonts of this machine: read once, and only where a name needs them, since it takes a second."""
    from matplotlib.font_manager import findSystemFonts
    from matplotlib.ft2font import FT2Font

    found: set[int] = set()
    for path in findSystemFonts():
        with contextlib.suppress(RuntimeError, OSError):  # pictures of letters only, or no font at all
            found.update(FT2Font(path).get_charmap())
    return frozenset(found)


def dejavu_folder() -> Path:
    """Where matplotlib keeps its fonts; matplotlib itself is not imported, which would take a second."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or not spec.submodule_search_locations:
        raise InputError("fonts: matplotlib is not installed, and with it DejaVu Sans is missing. Install rollroute again.")
    return Path(next(iter(spec.submodule_search_locations))) / "mpl-data" / "fonts" / "ttf"
