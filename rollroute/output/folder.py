"""Write the folder of one route: data, map, files for other programs, text; sheet and link on request."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
import tempfile
from pathlib import Path

from rollroute.errors import InputError
from rollroute.output.itinerary import Itinerary, write_itinerary
from rollroute.output.words import Words
from rollroute.whole import put_whole

CODE_LETTERS = "ACDEFHJKLMNPRTUVWXY"  # letters that are hard to mistake on a radio or in handwriting


def route_code(start: str, goal: str, departure: str, way: str = "") -> str:
    """A short code for a route, always the same for the same places, time and way: a letter and two digits.

    Two ways between the same places have other steps: a reply by the code of one must not be read on the other.

    Examples
    --------
    >>> route_code("1 Mill Street", "North Quay School", "2026-03-14T18:40-02:00")
    'U66'
    """
    digest = hashlib.sha256("|".join((start, goal, departure, *([way] if way else []))).encode()).digest()
    return f"{CODE_LETTERS[digest[0] % len(CODE_LETTERS)]}{int.from_bytes(digest[1:3], 'big') % 90 + 10}"


def check_code(code: str) -> str:
    """``code`` as replies can begin with it.

    Raises
    ------
    InputError
        If they can't: a reply by ``K7 B12`` is a code, a letter and a step.
    """
    if not re.fullmatch(r"[A-Z]{1,3}\d{1,4}", code):
        raise InputError(f"--code {code!r}: replies could not be read. Give one to three capital letters and a number, such as K7.")
    return code


def way_key(itinerary: Itinerary) -> str:
    """Eight letters that tell this way and departure from every other (SHA-256, cut)."""
    places = [[round(x, 7) for place in piece.coordinates for x in place] for piece in itinerary.pieces]
    return hashlib.sha256(json.dumps([itinerary.conditions.departure, places]).encode()).hexdigest()[:8]


def write_route_folder(itinerary: Itinerary, folder: Path, words: Words) -> list[Path]:
    """Write ``route.json``, ``.html``, ``.geojson``, ``.gpx``, ``.kml`` and ``.txt`` to ``folder``.

    All are made before the first is put in place, so that a failure leaves earlier files as they were.
    """
    from rollroute.output.geojson import write_geojson
    from rollroute.output.gpx import write_gpx
    from rollroute.output.kml import write_kml
    from rollroute.output.map import write_map
    from rollroute.output.text import write_text

    make_folder(folder)
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        write_itinerary(itinerary, work / "route.json")
        write_map(itinerary, work / "route.html", words)
        write_geojson(itinerary, work / "route.geojson")
        write_gpx(itinerary, work / "route.gpx", words)
        write_kml(itinerary, work / "route.kml", words)
        write_text(itinerary, work / "route.txt", words)
        return put_in_place(work, folder)


def make_folder(folder: Path) -> None:
    """Make ``folder`` if need be.

    Raises
    ------
    InputError
        If it can't be made, or is a file.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: can't be made ({error.strerror or error}). Give a folder that you may write to.") from error


def ready_to_write(path: Path) -> None:
    """Make the folder of the file ``path`` if need be.

    Raises
    ------
    InputError
        If it can't be made, or ``path`` is a folder.
    """
    make_folder(path.parent)
    if path.is_dir():
        raise InputError(f"{path}: is a folder. Give the name of a file.")


def put_in_place(work: Path, folder: Path) -> list[Path]:
    """Move every file of ``work`` to ``folder``, over earlier ones, and return where they are; all of them, or none on a full disk."""
    files = sorted(work.iterdir())
    with contextlib.ExitStack() as together:
        for file in files:
            shutil.copyfile(file, together.enter_context(put_whole(folder / file.name)))
    return [folder / file.name for file in files]
