"""Facts that somebody measured on the ground, and a city's own inventories, read into one list. Nobody's name is kept.

A field file is a table (CSV or spreadsheet) or GeoJSON with the columns (properties) ``fact``, ``value``, ``unit``, ``date``, ``expires``;
a table has ``lat`` and ``lon`` too. A GeoJSON has points, and LineStrings for what holds along a stretch.
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

import dataclasses
import datetime as dt
import difflib
import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.move_fields import parse_degrees
from rollroute.inputs.tables import read_toml
from rollroute.inputs.tabular import read_named
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
_BLOCKED = {"1", "1.0", "yes", "true", "y", "blocked", "closed"}
_OPEN = {"0", "0.0", "no", "false", "n", "open"}
COLUMNS: dict[str, tuple[str, ...]] = {
    "lat": ("latitude",), "lon": ("longitude", "lng", "long"), "fact": (), "value": (), "unit": ("units",), "date": ("found",),
    "expires": ("until",),
}  # fmt: skip
NOT_THESE = {".gpx": "GPX", ".kml": "KML", ".kmz": "KMZ", ".shp": "a shapefile", ".gpkg": "a GeoPackage"}


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
    for where, cells, places in _rows(path):
        lon, lat = places[len(places) // 2]
        fact = _fact(cells, lon, lat, where)
        found.append(fact if len(places) < 2 else dataclasses.replace(fact, line=tuple(places)))
    return found


ADVICE = "Give a table with lat, lon, fact, value, unit, or a GeoJSON of points and lines."


def _rows(path: Path) -> Iterator[tuple[str, Mapping[str, Any], list[tuple[float, float]]]]:
    """Where each row stands, what is in it, and its place; the places of a line in their order."""
    if is_geojson(path, ADVICE):
        for number, (cells, geometry) in enumerate(read_features(path, ADVICE), start=1):
            where = f"{path}, feature {number}"
            yield where, cells, _places(geometry, where)
    else:
        for row, cells in read_named(path, COLUMNS, needed=("lat", "lon", "fact", "value")).rows:
            where = f"{path}, row {row}"
            yield where, cells, [read_degrees(cells, where)]


def is_geojson(path: Path, advice: str) -> bool:
    """Whether a file is GeoJSON by its name, or a table; other formats of maps are refused."""
    ending = path.suffix.lower()
    if ending in NOT_THESE:
        raise InputError(f"{path}: is {NOT_THESE[ending]}, which is not read here. Convert it to GeoJSON. {advice}")
    return ending in (".geojson", ".json")


def read_features(path: Path, advice: str) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Properties and geometry of each feature of a GeoJSON file."""
    try:
        features = json.loads(path.read_text(encoding="utf-8-sig"))["features"]
        return [(dict(feature["properties"] or {}), dict(feature["geometry"])) for feature in features]
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror or error}). Check the name of the file.") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not UTF-8. Save it again as GeoJSON. {advice}") from error
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"{path}: no GeoJSON with features, each with properties and a geometry ({error}). {advice}") from error


def _places(geometry: Mapping[str, Any], where: str) -> list[tuple[float, float]]:
    kind, coordinates = geometry.get("type"), geometry.get("coordinates") or []
    if kind not in ("Point", "LineString"):
        raise InputError(f"{where}: is a {kind}. Give a Point, or a LineString for what holds along a stretch.")
    places = [coordinates] if kind == "Point" else coordinates
    if not places:
        raise InputError(f"{where}: has no coordinates. Give [lon, lat].")
    return read_line(places, where)


def read_line(places: Sequence[Any], where: str) -> list[tuple[float, float]]:
    """(lon, lat) of the positions of a GeoJSON geometry."""
    pairs = [place[:2] if isinstance(place, list) and len(place) > 1 else [None, None] for place in places]
    return [read_degrees({"lon": lon, "lat": lat}, where) for lon, lat in pairs]


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
    fact = _text(cells, "fact").lower()
    if fact not in UNITS:
        raise InputError(f"{where}: unknown fact {fact!r}. Known: {', '.join(UNITS)}.")
    value = _blocked(_text(cells, "value").lower(), where) if fact == "blocked" else _measure(cells, fact, where)
    low, high = SPAN[fact]
    if not low <= value <= high or not (abs(lon) <= 180 and abs(lat) <= 90):
        span = f"must lie in {low:g} … {high:g}"
        raise InputError(f"{where}: {fact} of {value:g} at {lat:g},{lon:g} is not believable; {span}. Check the unit.")
    date, expires = (read_day(cells.get(key), where) for key in ("date", "expires"))
    source = str(cells.get("source") or "field") if is_survey else "field"
    return FieldFact(fact=fact, value=value, lon=lon, lat=lat, date=date, expires=expires, is_survey=is_survey, source=source)


def _text(cells: Mapping[str, Any], key: str) -> str:
    return "" if cells.get(key) is None else str(cells[key]).strip()


def _blocked(text: str, where: str) -> float:
    """1 for blocked, 0 for open again; what is neither must not pass as open."""
    if text not in _BLOCKED | _OPEN:
        raise InputError(f"{where}: value of blocked is {text!r}. Give yes, or no where it is open again.")
    return 1.0 if text in _BLOCKED else 0.0


def _measure(cells: Mapping[str, Any], fact: str, where: str) -> float:
    """A number in the unit of its own column, or in that of the header of its column."""
    text, unit = _text(cells, "value"), _text(cells, "unit").lower()
    match = re.fullmatch(r"([-+]?\d*[.,]?\d+(?:e[-+]?\d+)?)\s*([a-z]*)", text.lower())
    if match is None:
        raise InputError(f"{where}: value of {fact} is {text!r}, must be a number.")
    if match[2] and unit and match[2] != unit:
        raise InputError(f"{where}: value of {fact} is {text!r}, and its unit {unit!r}. Give one unit.")
    unit = unit or match[2]
    if unit not in UNITS[fact]:
        raise InputError(f"{where}: unit of {fact} is {unit!r}. Give one of {', '.join(UNITS[fact])}.")
    return float(match[1].replace(",", ".")) * UNITS[fact][unit]


def read_degrees(cells: Mapping[str, Any], where: str) -> tuple[float, float]:
    """(lon, lat) of a row."""
    found = []
    for column, most in (("lon", 180.0), ("lat", 90.0)):
        try:
            value = parse_degrees(cells.get(column))
        except ValueError:
            value = None
        if value is None or not abs(value) <= most:
            told = "empty" if cells.get(column) in (None, "") else repr(cells[column])
            raise InputError(f"{where}: {column} is {told}, must be a number of degrees within {most:g}, such as 45.2014.")
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
