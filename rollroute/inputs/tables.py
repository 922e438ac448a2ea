"""Read the TOML tables of ``data/``: checked fields, each with its source, and the table of surfaces."""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

import rollroute
from rollroute.errors import InputError

__all__ = [
    "STATUSES",
    "FieldSource",
    "Section",
    "SurfaceRows",
    "SurfaceTable",
    "data_dir",
    "load_surfaces",
    "load_table",
    "read_toml",
]

Floats = npt.NDArray[np.float64]

STATUSES = ("published", "memory", "assumption", "given", "unknown")
"""How well a value is founded: read in a source, from memory, ours, stated by the file's owner, or not stated (bad side taken)."""

WHEELS = ("indoor", "standard", "outdoor")
VERDICTS = ("passable", "question", "excluded")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSource:
    """Where the value of one field comes from, for print: ``status`` is one of ``STATUSES``."""

    field: str
    status: str
    text: str


def data_dir() -> Path:
    """Folder of the tables: ``data`` beside the package in a checkout, ``rollroute/data`` in an installed wheel.

    Raises
    ------
    InputError
        If neither exists, for example in a broken installation.
    """
    beside = Path(rollroute.__file__).resolve().parent.parent / "data"
    if (beside / "surfaces.toml").is_file():
        return beside
    inside = Path(str(resources.files("rollroute"))) / "data"
    if (inside / "surfaces.toml").is_file():
        return inside
    raise InputError(f"data folder not found, looked in {beside} and {inside}. Install rollroute again or run it from its checkout.")


def read_toml(path: Path) -> dict[str, Any]:
    """Parse one TOML file; a missing or damaged file is an ``InputError`` that names it."""
    try:
        with path.open("rb") as stream:
            return tomllib.load(stream)
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror}). Give the path of a TOML file.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not TOML ({error}). Correct the line named.") from error


@cache
def load_table(name: str) -> Mapping[str, Any]:
    """``data/<name>.toml`` as a read-only mapping, read once."""
    return MappingProxyType(read_toml(data_dir() / f"{name}.toml"))


@dataclass(slots=True)
class Section:
    """One table of a TOML file while it is being read: every field is taken once, checked, and its source kept.

    A field is either a plain value or ``{ value = …, status = "…", source = "…" }``.
    ``fallback`` holds the bad side of what the file does not state; a value taken from there is marked ``unknown``.
    """

    where: str
    values: Mapping[str, Any]
    fallback: Mapping[str, Any] = field(default_factory=dict)
    prefix: str = ""
    sources: list[FieldSource] = field(default_factory=list)
    _taken: set[str] = field(default_factory=set)

    def take(self, name: str) -> Any:
        """Value of field ``name`` (from the fallback if not stated, else ``None``); notes its source."""
        self._taken.add(name)
        is_stated = name in self.values
        cell = self.values.get(name, self.fallback.get(name))
        if cell is None:
            return None
        value, status, text = self._unpack(name, cell)
        if not is_stated:
            status = "unknown"
        self.sources.append(FieldSource(field=self.prefix + name, status=status, text=text))
        return value

    def _unpack(self, name: str, cell: Any) -> tuple[Any, str, str]:
        if not isinstance(cell, Mapping):
            return cell, "given", ""
        if "value" not in cell:
            raise InputError(f'{self.where}: {self.prefix}{name} is a table without `value`. Write {{ value = …, source = "…" }}.')
        status = cell.get("status", "given")
        if status not in STATUSES:
            raise InputError(f"{self.where}: status of {self.prefix}{name} must be one of {', '.join(STATUSES)}, got {status!r}.")
        return cell["value"], status, str(cell.get("source", ""))

    def number(self, name: str, low: float, high: float, remedy: str = "") -> float | None:
        """A finite number in [low, high], or ``None`` if nobody states it."""
        value = self.take(name)
        if value is None:
            return None
        is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not is_number or not math.isfinite(value) or not low <= value <= high:
            text = f"{self.where}: {self.prefix}{name} must be a number from {low:g} to {high:g}, got {value!r}. {remedy}"
            raise InputError(text.rstrip())
        return float(value)

    def needed(self, name: str, low: float, high: float, remedy: str = "") -> float:
        """Like :meth:`number`, for a value that must be stated."""
        value = self.number(name, low, high, remedy)
        if value is None:
            raise InputError(f"{self.where}: {self.prefix}{name} is missing. {remedy}".rstrip())
        return value

    def text(self, name: str, default: str = "") -> str:
        """A string."""
        value = self.take(name)
        if value is None:
            return default
        if not isinstance(value, str):
            raise InputError(f"{self.where}: {self.prefix}{name} must be text in quotes, got {value!r}.")
        return value

    def choice(self, name: str, allowed: tuple[str, ...]) -> str | None:
        """One of the ``allowed`` words."""
        value = self.take(name)
        if value is not None and value not in allowed:
            raise InputError(f"{self.where}: {self.prefix}{name} must be one of {', '.join(allowed)}, got {value!r}.")
        return value  # type: ignore[no-any-return]

    def flag(self, name: str) -> bool | None:
        """True, false or not stated."""
        value = self.take(name)
        if value is not None and not isinstance(value, bool):
            raise InputError(f"{self.where}: {self.prefix}{name} must be true or false, got {value!r}. Leave it out if unknown.")
        return value

    def finish(self) -> None:
        """Refuse fields that nobody asked for: a misspelt name must not pass as 'not stated'."""
        for name in self.values:
            if name not in self._taken:
                near = difflib.get_close_matches(name, self._taken, n=1)
                hint = f"Did you mean {self.prefix}{near[0]}?" if near else f"Known: {', '.join(sorted(self._taken))}."
                value = "" if isinstance(self.values[name], Mapping) else f" = {self.values[name]!r}"
                raise InputError(f"{self.where}: unknown field {self.prefix}{name}{value}. {hint}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRows:
    """The surface table for one kind of wheel, dry or wet; row ``i`` belongs to ``SurfaceTable.names[i]``.

    crr_ratio    : (n,) float64   rolling resistance over that of the chair's hard floor
    speed_factor : (n,) float64   share of the chair's cruise speed that it can keep, 0 < f <= 1
    verdict      : (n,) int8      0 passable, 1 question, 2 excluded
    """

    crr_ratio: Floats
    speed_factor: Floats
    verdict: npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceTable:
    """What is assumed of each surface; the last row, ``unknown``, is the worst of all rows that are not excluded for that wheel."""

    names: tuple[str, ...]
    rows: Mapping[tuple[str, bool], SurfaceRows]
    notes: Mapping[str, str]
    smoothness: Mapping[str, Mapping[str, str]]
    codes: Mapping[str, int]

    def code(self, surface: str | None) -> int:
        """Row of a surface word; ``None`` and words that the table lacks give the row ``unknown``."""
        return self.codes.get(surface or "unknown", self.codes["unknown"])

    def lookup(self, wheel: str, *, is_wet: bool = False) -> SurfaceRows:
        """Rows for one kind of wheel (``indoor``, ``standard``, ``outdoor``)."""
        if wheel not in WHEELS:
            raise InputError(f"wheel must be one of {', '.join(WHEELS)}, got {wheel!r}.")
        return self.rows[wheel, is_wet]

    def smoothness_verdict(self, smoothness: str, wheel: str) -> str:
        """``passable``, ``question`` or ``excluded`` for a word of the map's ``smoothness`` scale; an unknown word is a question."""
        return self.smoothness.get(smoothness, {}).get(wheel, "question")


@cache
def load_surfaces() -> SurfaceTable:
    """Read ``data/surfaces.toml``."""
    table = load_table("surfaces")
    surfaces: dict[str, Mapping[str, Any]] = dict(table["surface"])
    names = (*surfaces, "unknown")
    rows: dict[tuple[str, bool], SurfaceRows] = {}
    for wheel in WHEELS:
        dry = [_row(name, cells, wheel, False) for name, cells in surfaces.items()]
        wet = [_row(name, cells, wheel, True) for name, cells in surfaces.items()]
        # What is excluded when wet leaves the worst of the rest milder: an unknown wet surface is held against the dry rows too.
        rows[wheel, False], rows[wheel, True] = _with_unknown(dry, dry), _with_unknown(wet, dry)
    codes = {name: i for i, name in enumerate(names)}
    codes |= {alias: codes[name] for alias, name in table["alias"].items()}
    notes = {name: f"{cells['note']} [{cells['status']}]" for name, cells in surfaces.items()}
    return SurfaceTable(names=names, rows=MappingProxyType(rows), notes=notes, smoothness=table["smoothness"], codes=codes)


def _row(name: str, cells: Mapping[str, Any], wheel: str, is_wet: bool) -> tuple[float, float, int]:
    section = Section(where=f"surfaces.toml, {name}", values=cells)
    ratio = section.needed("crr_ratio", 0.5, 50.0)
    speed = section.needed("speed_factor", 0.05, 1.0)
    dry = VERDICTS.index(section.choice(wheel, VERDICTS) or "question")
    if not is_wet:
        return ratio, speed, dry
    wet = VERDICTS.index(section.choice("wet_" + wheel, VERDICTS) or VERDICTS[dry])
    return (
        ratio * section.needed("wet_ratio", 1.0, 10.0),
        speed * section.needed("wet_speed", 0.05, 1.0),
        max(dry, wet),
    )


def _with_unknown(rows: list[tuple[float, float, int]], dry: list[tuple[float, float, int]]) -> SurfaceRows:
    """Add the row of an unknown surface: never better than the worst that this wheel may still drive on, wet or dry."""
    ratio, speed, verdict = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    still_open = [row for row in rows + dry if row[2] < VERDICTS.index("excluded")]
    made = SurfaceRows(
        crr_ratio=np.append(ratio, max(row[0] for row in still_open)),
        speed_factor=np.append(speed, min(row[1] for row in still_open)),
        verdict=np.append(verdict, VERDICTS.index("question")).astype(np.int8),
    )
    for column in (made.crr_ratio, made.speed_factor, made.verdict):
        column.flags.writeable = False
    return made
