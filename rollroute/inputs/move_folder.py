"""A move is a folder of plain files: read it whole, and report everything that is wrong with it at once."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from rollroute.errors import InputError
from rollroute.inputs import move_riders, move_shelters, move_vehicles
from rollroute.inputs.move_alerts import Alert, alerts_in_force, read_alert
from rollroute.inputs.move_hazards import Hazard, apply_zones, hazard_from_alert, read_hazards
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_settings import MoveSettings, read_settings
from rollroute.inputs.move_shelters import Shelter, geojson_table, read_shelters
from rollroute.inputs.move_vehicles import Escort, Van
from rollroute.inputs.tabular import RowProblem, Table, parse_rows, read_table
from rollroute.inputs.tracks import Track, read_tracks

Row = TypeVar("Row", bound=BaseModel)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move, as its folder says it. Order is that of the files."""

    folder: Path
    settings: MoveSettings
    riders: tuple[Rider, ...]
    shelters: tuple[Shelter, ...]
    vans: tuple[Van, ...]
    escorts: tuple[Escort, ...]
    hazards: tuple[Hazard, ...]
    undecided_alerts: tuple[Alert, ...] = ()
    tracks: tuple[Track, ...] = ()  # where chairs are known to have passed

    @property
    def start(self) -> dt.datetime:
        """The start of the move, with its zone."""
        return self.settings.start


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderReading:
    """A move and what is wrong with its files; rows with a problem are not in the move.

    ``called_by_row``: files whose rows have no id of their own, with how many such rows.
    """

    move: Move
    problems: tuple[RowProblem, ...]
    ignored_columns: dict[str, tuple[str, ...]]
    called_by_row: dict[str, int] = field(default_factory=dict)


def read_folder(folder: Path) -> FolderReading:
    """Read a move's folder; bad rows and cells are all listed, none is guessed.

    Raises
    ------
    InputError
        If ``move.toml`` or its start can't be read.
    """
    settings, problems = read_settings(folder / "move.toml")
    ignored: dict[str, tuple[str, ...]] = {}
    called_by_row: dict[str, int] = {}
    context = {"start": settings.start}
    files = settings.files

    def rows(name: str, aliases: Mapping[str, Sequence[str]], model: type[Row], *, is_needed: bool = True) -> list[Row]:
        table = _table(folder, name, aliases, problems, ignored, is_needed=is_needed)
        if table is None:
            return []
        if nameless := sum(not values.get("id") for _, values in table.rows):
            called_by_row[table.file] = nameless
        numbered = _with_ids(table)
        good, bad = parse_rows(numbered, model, context)
        problems.extend(bad)
        problems.extend(_repeated(numbered, good))
        return _first_of_each(good)

    riders = rows(files.riders, move_riders.ALIASES, Rider)
    vans = rows(files.vans, move_vehicles.VAN_ALIASES, Van, is_needed=False)
    escorts = rows(files.escorts, move_vehicles.ESCORT_ALIASES, Escort, is_needed=False)
    shelters = _shelters(folder, settings, problems, ignored)
    hazards, undecided = _hazards(folder, settings, problems)
    problems.extend(_loose_ends(riders, files.riders))
    move = Move(
        folder=folder,
        settings=settings,
        riders=tuple(riders),
        shelters=tuple(shelters),
        vans=tuple(vans),
        escorts=tuple(escorts),
        hazards=tuple(hazards),
        undecided_alerts=tuple(undecided),
        tracks=_tracks(folder, settings, problems),
    )
    return FolderReading(move=move, problems=tuple(problems), ignored_columns=ignored, called_by_row=called_by_row)


def _tracks(folder: Path, settings: MoveSettings, problems: list[RowProblem]) -> tuple[Track, ...]:
    name = settings.files.passages
    if name is None:
        return ()
    try:
        return tuple(read_tracks(folder / name))
    except InputError as error:
        problems.append(RowProblem(file=name, row=0, column="", value="", message=str(error)))
        return ()


def read_move(folder: Path) -> Move:
    """Read a move whose files are in order.

    Raises
    ------
    InputError
        With every bad row at once, if there is one.
    """
    reading = read_folder(folder)
    if reading.problems:
        lines = "\n".join(str(p) for p in reading.problems)
        raise InputError(f"{folder}: {len(reading.problems)} rows or cells can't be used.\n{lines}")
    return reading.move


def _table(
    folder: Path,
    name: str,
    aliases: Mapping[str, Sequence[str]],
    problems: list[RowProblem],
    ignored: dict[str, tuple[str, ...]],
    *,
    is_needed: bool = True,
) -> Table | None:
    """The table called ``name``, or with the same stem and another ending."""
    path = folder / name
    if not path.exists():
        path = next((p for p in sorted(folder.glob(f"{path.stem}.*")) if p.suffix.lower() in (".csv", ".xlsx", ".ods", ".geojson")), path)
    if not path.exists() and not is_needed:
        return None
    try:
        table = geojson_table(path) if path.suffix.lower() in (".geojson", ".json") else read_table(path, aliases)
    except InputError as error:
        problems.append(RowProblem(file=name, row=0, column="", value="", message=str(error)))
        return None
    if table.ignored:
        ignored[path.name] = table.ignored
    return table


def _with_ids(table: Table) -> Table:
    """A row without an id is called by its row, so that it can be talked about."""
    return Table(table.file, [(n, {**v, "id": v.get("id") or f"row{n}"}) for n, v in table.rows], table.columns, table.ignored)


def _repeated(table: Table, good: Sequence[tuple[int, Any]]) -> list[RowProblem]:
    counts = Counter(row.id for _, row in good)
    return [
        RowProblem(file=table.file, row=n, column="id", value=row.id, message="is used by more than one row. Give each its own.")
        for n, row in good
        if counts[row.id] > 1
    ]


def _first_of_each(good: Sequence[tuple[int, Row]]) -> list[Row]:
    result: dict[str, Row] = {}
    for _, row in good:
        result.setdefault(str(getattr(row, "id", "")), row)
    return list(result.values())


def _shelters(folder: Path, settings: MoveSettings, problems: list[RowProblem], ignored: dict[str, tuple[str, ...]]) -> list[Shelter]:
    table = _table(folder, settings.files.shelters, move_shelters.ALIASES, problems, ignored)
    if table is None:
        return []
    shelters, bad = read_shelters(table, settings.start)
    problems.extend(bad)
    return shelters


def _hazards(folder: Path, settings: MoveSettings, problems: list[RowProblem]) -> tuple[list[Hazard], list[Alert]]:
    hazards: list[Hazard] = []
    path = folder / settings.files.hazards
    if path.exists():
        hazards, bad = read_hazards(path, settings.start)
        problems.extend(bad)
    zones = {letter.upper(): settings.decision(given) for letter, given in settings.zones.items()}
    hazards = apply_zones(hazards, zones)
    alerts: list[Alert] = []
    for name in settings.files.alerts or tuple(p.name for p in sorted(folder.glob("*.cap.xml"))):
        try:
            alerts.append(read_alert(folder / name))
        except InputError as error:
            problems.append(RowProblem(file=name, row=0, column="", value="", message=str(error)))
    undecided = []
    for alert in alerts_in_force(alerts):
        given = settings.alerts.get(alert.identifier)
        if given is None:
            undecided.append(alert)
        elif (hazard := hazard_from_alert(alert, settings.decision(given))) is not None:
            hazards.append(hazard)
    return hazards, undecided


def _loose_ends(riders: Sequence[Rider], file: str) -> list[RowProblem]:
    known = {r.id for r in riders}
    return [
        RowProblem(file=file, row=0, column="stay_with", value=other, message=f"rider {r.id} stays with somebody who is not in the table.")
        for r in riders
        for other in r.stay_with
        if other not in known
    ]
