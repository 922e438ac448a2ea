"""Write a move as a folder of plain files that ``read_folder`` reads back to the same move: for a coordinator to edit and to plan."""

from __future__ import annotations

import datetime as dt
import json
import math
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from rollroute.errors import InputError
from rollroute.inputs.csv_cells import write_csv
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import ALIASES as SHELTER_COLUMNS
from rollroute.inputs.move_shelters import Shelter
from rollroute.inputs.move_vehicles import Escort, Van

MAP_FILES = ("map", "heights", "addresses", "field_facts")
DEFAULT_ADDRESSES = "address_points.csv"
Cells = dict[str, str | int | float]


def write_folder(move: Move, folder: Path, *, inputs: Path) -> list[Path]:
    """Write ``move`` into ``folder``. ``inputs``: the folder that its map, heights and addresses are named from.

    Hazards are written as they were decided, with whole dates; alerts and zones are in them and are not written again.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: can't be made ({error.strerror or error}). Give a folder that you may write to.") from error
    tables: dict[str, tuple[list[Cells], Iterable[str]]] = {
        "riders.csv": ([_cells(r) for r in move.riders], Rider.model_fields),
        "shelters.csv": ([row for s in move.shelters for row in _shelter_rows(s)], SHELTER_COLUMNS),
        "vans.csv": ([_cells(v) for v in move.vans], Van.model_fields),
        "escorts.csv": ([_cells(e) for e in move.escorts], Escort.model_fields),
    }
    texts = {
        "move.toml": _settings_text(move, folder, inputs),
        "hazards.geojson": json.dumps({"type": "FeatureCollection", "features": [_feature(h) for h in move.hazards]}, indent=1),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [*(folder / name for name in texts), *(_write_table(folder / name, *table) for name, table in tables.items())]


def _cell(value: Any) -> str | int | float:
    """A value as a coordinator would type it; not known is empty. Numbers stay numbers: a longitude in the west is no formula."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, tuple):
        return " ".join(str(v) for v in value)
    if isinstance(value, float):
        short = value if math.isinf(value) else float(f"{value:.10g}")
        return "none" if math.isinf(value) else int(short) if short.is_integer() else short
    return value if isinstance(value, int) else str(value)


def _cells(row: BaseModel) -> Cells:
    return {name: _cell(getattr(row, name)) for name in type(row).model_fields}


def _shelter_rows(shelter: Shelter) -> Iterable[Cells]:
    """One row per circuit; the first one says the rest."""
    first: Cells = {name: _cell(getattr(shelter, name)) for name in Shelter.__dataclass_fields__ if name != "circuits"}
    if not shelter.circuits:
        yield first
    for number, circuit in enumerate(shelter.circuits):
        own: Cells = {"circuit": circuit.name, "outlets": _cell(circuit.outlets), "outlet_amps": _cell(circuit.amps)}
        yield {**(first if number == 0 else {"name": shelter.name}), **own}


def _write_table(path: Path, rows: list[Cells], columns: Iterable[str]) -> Path:
    """Columns that nobody has filled are left out; two stay, so that the header of an empty table is known again."""
    first, *others = columns
    used = [first, *(c for c in others if c == "place" or any(r.get(c, "") != "" for r in rows))]
    return write_csv(path, used, ([r.get(c, "") for c in used] for r in rows))


def _feature(hazard: Hazard) -> dict[str, Any]:
    times = {"from": hazard.starts, "from_latest": hazard.starts_latest, "to": hazard.ends}
    properties: dict[str, Any] = {"kind": hazard.kind, "label": hazard.label, "zone": hazard.zone, "is_road": hazard.is_road}
    properties |= {name: moment.isoformat() for name, moment in times.items() if moment is not None}
    rings = [[[[x, y] for x, y in ring]] for ring in hazard.rings]
    geometry = {"type": "Polygon", "coordinates": rings[0]} if len(rings) == 1 else {"type": "MultiPolygon", "coordinates": rings}
    return {"type": "Feature", "properties": {k: v for k, v in properties.items() if v not in (None, False)}, "geometry": geometry}


def _settings_text(move: Move, folder: Path, inputs: Path) -> str:
    given = move.settings.model_dump(exclude_defaults=True, exclude={"zones", "alerts", "files"})
    files = {name: getattr(move.settings.files, name) for name in MAP_FILES}
    if files["addresses"] is None and (inputs / DEFAULT_ADDRESSES).exists():
        files["addresses"] = DEFAULT_ADDRESSES
    given["files"] = {name: _from(folder, inputs / path) for name, path in files.items() if path is not None}
    plain = {k: v for k, v in given.items() if not isinstance(v, dict)}
    lines = [f"{name} = {_toml(value)}" for name, value in plain.items()]
    for name, section in given.items():
        if isinstance(section, dict) and section:
            lines += ["", f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in section.items() if value is not None)]
    return "\n".join(lines) + "\n"


def _from(folder: Path, path: Path) -> str:
    return os.path.relpath(path.resolve(), folder.resolve()).replace(os.sep, "/")


def _toml(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return json.dumps(value.isoformat())
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_toml(v) for v in value)}]"
    return json.dumps(value, ensure_ascii=False)  # strings, numbers and truth values are written alike in JSON and TOML
