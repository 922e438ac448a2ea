"""Where chairs are known to have passed: tracks with the chair that drove them and the day. Nobody's name is kept.

A GeoJSON of LineStrings with the properties ``chair``, ``date``, ``expires``; or a table (CSV or spreadsheet) with the columns ``track``,
``lat``, ``lon``, ``chair``, ``date``, ``expires``, the rows of a track in the order of driving.
``chair`` is a bundled class, or a chair file beside the table. A class says how large and how weak a chair may be, not how this one was:
its own figures go into the columns ``width_m``, ``length_m``, ``loaded_mass_kg``, ``rated_obstacle_m``, ``rated_obstacle_down_m``,
``rated_grade``, ``wheel``.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.field_facts import COLUMNS as FACT_COLUMNS
from rollroute.inputs.field_facts import is_geojson, read_day, read_degrees, read_features, read_line
from rollroute.inputs.move_fields import parse_length_cm, parse_mass_kg, parse_number
from rollroute.inputs.tabular import NEEDED, read_named

FIGURES = ("width_m", "length_m", "loaded_mass_kg", "rated_obstacle_m", "rated_obstacle_down_m", "rated_grade", "wheel")
"""What a passage rests on: what is not known of the chair that passed can't be shown by its passing."""
ADVICE = "Give a GeoJSON of LineStrings with chair and date, or a table with track, lat, lon, chair, date."
COLUMNS: dict[str, tuple[str, ...]] = {
    **{name: others for name, others in FACT_COLUMNS.items() if name in ("lat", "lon", "date", "expires")},
    "track": (), "chair": (), **dict.fromkeys(FIGURES, ()),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One chair's way, in the direction in which it drove: (lon, lat), and the days on which it counts."""

    line: tuple[tuple[float, float], ...]
    chair: Chair
    name: str
    date: dt.date | None = None
    expires: dt.date | None = None
    not_stated: tuple[str, ...] = ()  # of FIGURES

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
        drove, not_stated = _chair_that_drove(path.parent / chair, chair, cells, where)
        days = {key: read_day(cells.get(key), where) for key in ("date", "expires")}
        found.append(Track(line=tuple(line), chair=drove, name=name, not_stated=not_stated, **days))
    if not found:
        raise InputError(f"{path}: no track in it. {ADVICE}")
    return found


def figures_not_stated(chair: Chair) -> tuple[str, ...]:
    """Those of ``FIGURES`` that nobody stated of this very chair: what stands there is a bad side, or the limit of a class.

    A bad side for driving is none for having driven: a chair said to be heavy, or to go down no more than it goes up, may have been
    lighter, or have come down a higher step.
    """
    unknown = set(chair.unknown_fields)
    if unknown & {"mass_kg", "rider_mass_kg", "load_mass_kg"}:
        unknown.add("loaded_mass_kg")
    return tuple(figure for figure in FIGURES if chair.is_class or figure in unknown)


def _chair_that_drove(beside: Path, name: str, cells: Mapping[str, Any], where: str) -> tuple[Chair, tuple[str, ...]]:
    """The chair with its own figures from the columns, and the figures that nobody stated: those of a class are its limits."""
    chair = find_chair(str(beside) if beside.is_file() else name)
    changes: dict[str, Any] = {}
    for column, text in ((column, str(cells.get(column) or "").strip()) for column in FIGURES):
        try:
            figure = _figure(column, text) if text else None
        except ValueError as error:
            raise InputError(f"{where}: {column} is {text!r}, {error}") from error
        if figure is not None:
            changes[column] = figure
    not_stated = tuple(column for column in figures_not_stated(chair) if column not in changes)
    if "loaded_mass_kg" in changes:
        changes |= {"rider_mass_kg": 10.0, "load_mass_kg": 0.0}  # only the sum counts for a passage
        changes["mass_kg"] = changes.pop("loaded_mass_kg") - 10.0
    if "rated_obstacle_m" in changes and "rated_obstacle_down_m" not in changes:
        changes["rated_obstacle_down_m"] = max(changes["rated_obstacle_m"], chair.rated_obstacle_down_m)
    try:
        return dataclasses.replace(chair, **changes), not_stated
    except InputError as error:
        raise InputError(f"{where}: {error}") from error


def _tracks(path: Path) -> Iterator[tuple[str, Mapping[str, Any], list[tuple[float, float]]]]:
    """Name, properties and places of each track."""
    if is_geojson(path, ADVICE):
        for number, (cells, geometry) in enumerate(read_features(path, ADVICE), start=1):
            kind, lines = geometry.get("type"), geometry.get("coordinates") or []
            if kind not in ("LineString", "MultiLineString"):
                raise InputError(f"{path}, feature {number}: is a {kind}, must be a LineString. {ADVICE}")
            for line in [lines] if kind == "LineString" else lines:
                yield f"{number}", cells, read_line(line, f"{path}, feature {number}")
        return
    table = read_named(path, COLUMNS, needed=("track", "lat", "lon", "chair"))
    tracks: dict[str, tuple[dict[str, str], list[tuple[float, float]]]] = {}
    for row, cells in table.rows:
        if "track" not in cells:
            raise InputError(f"{path}, row {row}: track {NEEDED}")
        tracks.setdefault(cells["track"], (cells, []))[1].append(read_degrees(cells, f"{path}, row {row}"))
    yield from ((name, *track) for name, track in tracks.items())


def _figure(column: str, text: str) -> float | str | None:
    """One figure of the chair in its column's unit; ``None`` where the cell says that it is not known."""
    if column == "wheel":
        return text
    if column.endswith("_m"):
        length_cm = parse_length_cm(text if text[-1:].isalpha() else f"{text} m")
        return None if length_cm is None else length_cm / 100.0
    return parse_mass_kg(text) if column.endswith("_kg") else parse_number(text)
