"""Where chairs are known to have passed: tracks with the chair that drove them and the day. Nobody's name is kept.

A GeoJSON of LineStrings with the properties ``chair``, ``date``, ``expires``; or a CSV with the columns ``track``, ``lat``, ``lon``,
``chair``, ``date``, ``expires``, the rows of a track in the order of driving.
``chair`` is a bundled class, or a chair file beside the table.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.field_facts import read_day

ADVICE = "Give a GeoJSON of LineStrings with chair and date, or a CSV with track, lat, lon, chair, date."


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One chair's way, in the direction in which it drove: (lon, lat), and the days on which it counts."""

    line: tuple[tuple[float, float], ...]
    chair: Chair
    name: str
    date: dt.date | None = None
    expires: dt.date | None = None

    def holds_on(self, day: dt.date) -> bool:
        """Whether it was driven by then and still counts."""
        return (self.date is None or self.date <= day) and (self.expires is None or day <= self.expires)


def read_tracks(path: Path) -> list[Track]:
    """Tracks of a file.

    Raises
    ------
    InputError
        Naming the file, the track, the value, and what to give instead.
    """
    found = []
    for name, cells, line in _tracks(path):
        where = f"{path}, track {name}"
        if len(line) < 2 or not all(abs(lon) <= 180.0 and abs(lat) <= 90.0 for lon, lat in line):
            raise InputError(
                f"{where}: must be two or more places with lat within 90 and lon within 180 degrees, got {len(line)}. {ADVICE}"
            )
        chair = str(cells.get("chair") or "").strip()
        if not chair:
            raise InputError(f"{where}: chair is missing. Name a bundled class such as en12184-b, or a chair file.")
        beside = path.parent / chair
        found.append(
            Track(
                line=tuple(line), chair=find_chair(str(beside) if beside.is_file() else chair), name=name,
                date=read_day(cells.get("date"), where), expires=read_day(cells.get("expires"), where),
            )
        )  # fmt: skip
    if not found:
        raise InputError(f"{path}: no track in it. {ADVICE}")
    return found


def _tracks(path: Path) -> Iterator[tuple[str, Mapping[str, Any], list[tuple[float, float]]]]:
    """Name, properties and places of each track."""
    try:
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.lower() in (".geojson", ".json"):
            for number, feature in enumerate(json.loads(text)["features"], start=1):
                if feature["geometry"]["type"] != "LineString":
                    raise ValueError(f"feature {number} is a {feature['geometry']['type']}, must be a LineString")
                yield f"{number}", feature["properties"] or {}, [(float(c[0]), float(c[1])) for c in feature["geometry"]["coordinates"]]
            return
        rows: dict[str, list[dict[str, str]]] = {}
        for cells in csv.DictReader(text.splitlines()):
            rows.setdefault(cells["track"], []).append(cells)
        for name, track in rows.items():
            yield name, track[0], [(float(cells["lon"]), float(cells["lat"])) for cells in track]
    except (OSError, UnicodeDecodeError, AttributeError, KeyError, IndexError, TypeError, ValueError) as error:
        raise InputError(f"{path}: not readable as tracks ({error!r}). {ADVICE}") from error
