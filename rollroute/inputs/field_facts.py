"""Facts that somebody measured on the ground, and a city's own inventories, read into one list. Nobody's name is kept.

A field file is a CSV or GeoJSON with the columns (properties) ``fact``, ``value``, ``unit``, ``date``, ``expires``;
a CSV has ``lat`` and ``lon`` too. A GeoJSON has points, and LineStrings for what holds along a stretch.
An inventory is any vector file that GDAL reads, with a mapping file (TOML) beside it::

    source = "curb ramp inventory 2025"
    date = "2025-06-01"
    expires = "2030-06-01"
    [[fact]]
    fact = "kerb_height"
    column = "LIP_IN"
    unit = "in"
"""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import difflib
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.tables import read_toml
from rollroute.units import M_PER_FOOT, M_PER_INCH

UNITS: dict[str, dict[str, float]] = {
    "kerb_height": {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": M_PER_INCH, "ft": M_PER_FOOT},
    "width": {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": M_PER_INCH, "ft": M_PER_FOOT},
    "grade": {"ratio": 1.0, "percent": 0.01},
    "ramp_grade": {"ratio": 1.0, "percent": 0.01},
    "ramp_width": {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": M_PER_INCH, "ft": M_PER_FOOT},
    "counter_slope": {"ratio": 1.0, "percent": 0.01},
    "blocked": {"": 1.0},
}
"""Known facts, and the units that each may be given in; there is no default unit for a length."""
SPAN = {
    "kerb_height": (0.0, 0.6), "width": (0.2, 30.0), "grade": (-1.0, 1.0), "ramp_grade": (0.0, 1.0), "ramp_width": (0.2, 30.0),
    "counter_slope": (0.0, 1.0), "blocked": (0.0, 1.0),
}  # fmt: skip
_YES = {"1", "yes", "true", "y", "blocked"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFact:
    """One fact at one place. ``value``: metres, rise over run along the mapped way, or 1 for blocked. ``is_survey``: from an inventory.

    line : (lon, lat) of the line that it holds along; empty where it holds at a point. ``lon``, ``lat`` are then its middle
    """

    fact: str
    value: float
    lon: float
    lat: float
    date: dt.date | None = None
    expires: dt.date | None = None
    is_survey: bool = False
    source: str = "field"
    line: tuple[tuple[float, float], ...] = ()

    def holds_on(self, day: dt.date) -> bool:
        """Whether it was found by then and has not expired."""
        return (self.date is None or self.date <= day) and (self.expires is None or day <= self.expires)


def read_field_facts(path: Path) -> list[FieldFact]:
    """Facts of a field file.

    Raises
    ------
    InputError
        Naming the file, the row, the value, and what to give instead.
    """
    found = []
    for row, (cells, places) in enumerate(_rows(path), start=1):
        lon, lat = places[len(places) // 2]
        fact = _fact(cells, lon, lat, f"{path}, row {row}")
        found.append(fact if len(places) < 2 else dataclasses.replace(fact, line=tuple(places)))
    return found


def _rows(path: Path) -> Iterator[tuple[Mapping[str, Any], list[tuple[float, float]]]]:
    """What stands in each row, and its place; the places of a line in their order."""
    try:
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.lower() in (".geojson", ".json"):
            for number, feature in enumerate(json.loads(text)["features"], start=1):
                yield feature["properties"] or {}, _places(feature["geometry"], f"{path}, feature {number}")
        else:
            for row, cells in enumerate(csv.DictReader(text.splitlines()), start=1):
                yield cells, [read_degrees(cells, f"{path}, row {row}")]
    except (OSError, UnicodeDecodeError, KeyError, TypeError, ValueError) as error:
        advice = "Give a CSV with lat, lon, fact, value, unit, or a GeoJSON of points and lines."
        raise InputError(f"{path}: not readable as field facts ({error!r}). {advice}") from error


def _places(geometry: Mapping[str, Any], where: str) -> list[tuple[float, float]]:
    kind, coordinates = geometry["type"], geometry["coordinates"]
    if kind not in ("Point", "LineString"):
        raise InputError(f"{where}: is a {kind}. Give a Point, or a LineString for what holds along a stretch.")
    places = [coordinates] if kind == "Point" else coordinates
    if not places:
        raise InputError(f"{where}: has no coordinates. Give [lon, lat].")
    return [read_degrees({"lon": place[0], "lat": place[1]}, where) for place in places]


def read_inventory(path: Path, mapping: Path) -> list[FieldFact]:
    """Facts of a city's inventory, ranked as survey; lines count along their length, areas at a point inside; empty cells say nothing."""
    import geopandas as gpd

    rules = _read_mapping(mapping)
    try:
        table = gpd.read_file(path).to_crs(4326)
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError(f"{path}: not readable as a vector file with a known projection ({error}).") from error
    shapes = [None if g is None or g.is_empty else g for g in table.geometry]
    found: list[FieldFact] = []
    for rule in rules["fact"]:
        column = rule["column"]
        if column not in table.columns:
            raise InputError(f"{mapping}: column {column!r} is not in {path.name}. It has {', '.join(map(str, table.columns[:20]))}.")
        found += _of_column(rules, rule, zip(table[column], shapes, strict=True), f"{path}, {column}")
    return found


def _read_mapping(mapping: Path) -> dict[str, Any]:
    """The rules of a mapping; a misspelt key must not pass as not given."""
    rules = read_toml(mapping)
    _check_keys(rules, ("source", "date", "expires", "fact"), f"{mapping}")
    for key in ("date", "expires"):
        read_day(rules.get(key), f"{mapping}, {key}")
    told = rules.get("fact")
    if not isinstance(told, list) or not told or not all(isinstance(rule, dict) for rule in told):
        raise InputError(f"{mapping}: no [[fact]] in it. Write [[fact]] for each column, with fact, column and unit under it.")
    for number, rule in enumerate(told, start=1):
        where = f"{mapping}, [[fact]] {number}"
        _check_keys(rule, ("fact", "column", "unit", "values"), where)
        lacking = [key for key in ("fact", "column") if key not in rule]
        if lacking:
            raise InputError(f"{where}: {' and '.join(lacking)} missing. Give the fact and the name of its column.")
        if not isinstance(rule.get("values", {}), dict):
            raise InputError(f'{where}: values must be a table of words, such as {{ "Y" = 0.0 }}, got {rule["values"]!r}.')
    return rules


def _check_keys(table: Mapping[str, Any], known: Sequence[str], where: str) -> None:
    for name in table:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"Known: {', '.join(known)}."
            raise InputError(f"{where}: unknown key {name!r}. {hint}")


def _of_column(rules: Mapping[str, Any], rule: Mapping[str, Any], cells: Iterable[tuple[Any, Any]], where: str) -> list[FieldFact]:
    words = rule.get("values", {})
    common = {"unit": "", "source": "inventory"} | {key: rules[key] for key in ("source", "date", "expires") if key in rules}
    common |= {key: rule[key] for key in ("fact", "unit") if key in rule}
    found = []
    for row, (value, shape) in enumerate(cells, start=1):
        value = words.get(str(value), value)
        if shape is None or value is None or (isinstance(value, float) and math.isnan(value)) or str(value).strip() == "":
            continue
        for place, line in _places_of(shape):
            fact = _fact({**common, "value": value}, place.x, place.y, f"{where}, row {row}", is_survey=True)
            found.append(dataclasses.replace(fact, line=line))
    return found


def _places_of(shape: Any) -> Iterator[tuple[Any, tuple[tuple[float, float], ...]]]:
    """A point for every part of a shape, and the line that it is the middle of."""
    for part in getattr(shape, "geoms", [shape]):
        is_line = part.geom_type in ("LineString", "LinearRing")
        line = tuple((float(x), float(y)) for x, y, *_ in part.coords) if is_line else ()
        yield (part.interpolate(0.5, normalized=True) if is_line else part.representative_point()), line


def _fact(cells: Mapping[str, Any], lon: float, lat: float, where: str, *, is_survey: bool = False) -> FieldFact:
    fact = str(cells.get("fact", "")).strip()
    if fact not in UNITS:
        raise InputError(f"{where}: unknown fact {fact!r}. Known: {', '.join(UNITS)}.")
    unit = str(cells.get("unit") or "").strip()
    if unit not in UNITS[fact]:
        raise InputError(f"{where}: unit of {fact} is {unit!r}. Give one of {', '.join(UNITS[fact]) or 'none'}.")
    text = str(cells.get("value", "")).strip().lower()
    try:
        value = (1.0 if text in _YES else 0.0) if fact == "blocked" else float(text) * UNITS[fact][unit]
    except ValueError as error:
        raise InputError(f"{where}: value of {fact} is {text!r}, must be a number.") from error
    low, high = SPAN[fact]
    if not low <= value <= high or not (abs(lon) <= 180 and abs(lat) <= 90):
        span = f"must lie in {low:g} … {high:g}"
        raise InputError(f"{where}: {fact} of {value:g} at {lat:g},{lon:g} is not believable; {span}. Check the unit.")
    date, expires = (read_day(cells.get(key), where) for key in ("date", "expires"))
    source = str(cells.get("source") or "field") if is_survey else "field"
    return FieldFact(fact=fact, value=value, lon=lon, lat=lat, date=date, expires=expires, is_survey=is_survey, source=source)


def read_degrees(cells: Mapping[str, Any], where: str) -> tuple[float, float]:
    """(lon, lat) of a row; KeyError where a column is missing."""
    found = []
    for column, most in (("lon", 180.0), ("lat", 90.0)):
        try:
            value = float(cells[column])
        except (TypeError, ValueError):
            value = math.nan
        if not abs(value) <= most:
            raise InputError(f"{where}: {column} is {cells[column]!r}, must be a number of degrees within {most:g}, such as 45.2014.")
        found.append(value)
    return found[0], found[1]


def read_day(text: object, where: str) -> dt.date | None:
    """A day as 2026-03-14; ``None`` where the cell is empty."""
    if text in (None, ""):
        return None
    try:
        return dt.date.fromisoformat(str(text)[:10])
    except ValueError as error:
        raise InputError(f"{where}: {text!r} is not a date. Give 2026-03-14.") from error
