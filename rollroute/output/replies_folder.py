"""The files of replies: what was heard on one route, and facts and passages that later routes read.

``replies.txt`` in the route's folder keeps every reply, so that what is told later is read together with what was told before.
``found.geojson`` is a file for ``--facts``, ``passed.geojson`` one for ``--passages``; several routes may write to one folder.
"""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.output.folder import make_folder, put_in_place, way_key
from rollroute.output.itinerary import Itinerary
from rollroute.output.replies import Heard, Understood, read_reply
from rollroute.output.steps import build_steps

HEARD, FOUND, PASSED = "replies.txt", "found.geojson", "passed.geojson"


def heard_before(route_dir: Path, itinerary: Itinerary) -> list[Heard]:
    """Replies kept in a route's folder; those of another way that stood in the same folder are left out.

    Raises
    ------
    InputError
        If a line of it can't be read.
    """
    own, n_steps = way_key(itinerary), len(build_steps(itinerary))
    return [_kept(words, itinerary, n_steps, route_dir / HEARD) for key, words in _lines(route_dir / HEARD) if key == own]


def _lines(file: Path) -> list[tuple[str, str]]:
    """Key of the way, and the reply, of each line."""
    if not file.exists():
        return []
    rows = [line.partition(" ") for line in file.read_text(encoding="utf-8").splitlines() if line.strip()]
    return [(key, words) for key, _, words in rows]


def _kept(words: str, itinerary: Itinerary, n_steps: int, file: Path) -> Heard:
    reply, _, until = words.partition(" until ")
    try:
        heard = read_reply(reply, itinerary, n_steps=n_steps)
        return Heard(reply=heard.reply, moment=heard.moment, until=dt.date.fromisoformat(until) if until else None)
    except (InputError, ValueError) as error:
        raise InputError(f"{file}: {words!r} can't be read ({error}). Take the line out and give the reply again.") from error


def write_heard(route_dir: Path, out: Path, itinerary: Itinerary, heard: Sequence[Heard], said: Understood) -> list[Path]:
    """Write what was heard, and put what it says in place of what this way said in ``out`` before; other ways' features stay.

    All files are made before the first is put in place. Returns the files for ``--facts`` and ``--passages`` that hold anything.

    Raises
    ------
    InputError
        If a file of that name stands there that is no GeoJSON.
    """
    key = way_key(itinerary)
    texts = {name: _merged(out / name, key, features) for name, features in ((FOUND, said.blocks), (PASSED, said.passages))}
    others = [f"{other} {words}" for other, words in _lines(route_dir / HEARD) if other != key]
    kept = "\n".join([*others, *(f"{key} {_written(one)}" for one in heard)]) + "\n"
    make_folder(out)
    with tempfile.TemporaryDirectory() as made, tempfile.TemporaryDirectory() as log:
        for name, text in texts.items():
            if text:
                (Path(made) / name).write_text(text, encoding="utf-8")
        (Path(log) / HEARD).write_text(kept, encoding="utf-8")
        placed = put_in_place(Path(made), out)
        put_in_place(Path(log), route_dir)
    for name, text in texts.items():
        if not text:
            (out / name).unlink(missing_ok=True)
    return placed


def _written(one: Heard) -> str:
    moment = f" {one.moment.isoformat(timespec='minutes')}" if one.moment else ""
    return f"{one.code}{moment}{f' until {one.until}' if one.until else ''}"


def _merged(file: Path, key: str, features: Sequence[dict[str, Any]]) -> str:
    """The file's features of other ways and these; nothing where there is none."""
    own = [{**feature, "properties": {**feature["properties"], "way": key}} for feature in features]
    found = [*(f for f in _features(file) if (f.get("properties") or {}).get("way") != key), *own]
    rows = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in found)
    return f'{{"type": "FeatureCollection", "features": [\n{rows}\n]}}\n' if found else ""


def _features(file: Path) -> list[dict[str, Any]]:
    if not file.exists():
        return []
    try:
        found = json.loads(file.read_text(encoding="utf-8-sig"))["features"]
        if all(isinstance(feature, dict) for feature in found):
            return list(found)
    except (OSError, KeyError, TypeError, ValueError):
        pass
    raise InputError(f"{file}: is no GeoJSON with features, so nothing can be added to it. Move it away, or give another --out.")
