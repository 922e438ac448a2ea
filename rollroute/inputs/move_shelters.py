"""Shelters of a move: places, intake, outlets by circuit, generator, hours. One row per circuit, or GeoJSON points."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo

from rollroute.errors import InputError
from rollroute.inputs.move_fields import Amps, Count, Degrees, Hours, Moment, Number, Watts, Words, YesNo, parse_moment
from rollroute.inputs.tabular import RowProblem, Table, parse_rows

ALIASES = {
    "name": ("shelter", "site", "id", "shelter_name"),
    "place": ("address", "where", "location"),
    "lat": ("latitude",),
    "lon": ("lng", "long", "longitude"),
    "entrance": ("accessible_entrance", "door", "way_in"),
    "accessible_places": ("places", "accessible_beds", "cots", "accessible_cots", "spaces", "capacity"),
    "intake_per_hour": ("intake", "per_hour", "intake_h", "registration_per_hour"),
    "outlets": ("sockets", "n_outlets", "plugs", "power_outlets"),
    "outlet_amps": ("amps", "circuit_amps", "breaker"),
    "circuit": ("circuit_id", "fuse", "circuit_name"),
    "generator_watts": ("generator", "generator_w", "genset_watts"),
    "generator_fuel_h": ("fuel_h", "fuel", "fuel_hours", "generator_hours"),
    "has_mains": ("mains", "grid", "mains_power"),
    "opens": ("open", "from", "open_from"),
    "closes": ("close", "until", "open_until", "to"),
    "toilet": ("accessible_toilet", "wc"),
    "hoist": ("lift_hoist", "patient_lift"),
    "note": ("notes", "remarks", "comment"),
}

BAD_SIDE = {
    "accessible_places": "no place: nobody is sent until the shelter says how many",
    "intake_per_hour": "the assumed intake in move.toml",
    "outlets": "no outlet",
    "outlet_amps": "15 A for each circuit",
    "generator_watts": "no generator",
    "generator_fuel_h": "no fuel: a generator that is not counted on",
    "has_mains": "the mains as in move.toml",
    "opens": "open only once somebody confirms: not used",
    "closes": "no closing time is known: open to the end of the plan",
    "entrance": "the point on the map, doors to be checked",
    "toilet": "not promised",
    "hoist": "not promised",
}
ALWAYS = ("always", "24/7", "24h", "now", "open")


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Outlets behind one breaker; ``None`` is not known."""

    name: str
    outlets: int | None
    amps: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelter:
    """A shelter as the coordinator knows it. ``None`` is *not known*; ``BAD_SIDE`` says what is then planned with.

    ``opens`` is the start of the move where the table says *always*.
    """

    name: str
    place: str | None
    lat: float | None
    lon: float | None
    entrance: str | None
    accessible_places: int | None
    intake_per_hour: float | None
    circuits: tuple[Circuit, ...]
    generator_watts: float | None
    generator_fuel_h: float | None
    has_mains: bool | None
    opens: dt.datetime | None
    closes: dt.datetime | None
    toilet: bool | None
    hoist: bool | None
    note: str | None


def _opening(value: Any, info: ValidationInfo) -> dt.datetime | None:
    start = (info.context or {}).get("start")
    if isinstance(value, str) and value.strip().lower() in ALWAYS:
        return start if isinstance(start, dt.datetime) else None
    return parse_moment(value, start)


class ShelterRow(BaseModel):
    """One row: a shelter, or one more circuit of it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    place: Words = None
    lat: Degrees = None
    lon: Degrees = None
    entrance: Words = None
    accessible_places: Count = None
    intake_per_hour: Number = None
    outlets: Count = None
    outlet_amps: Amps = None
    circuit: Words = None
    generator_watts: Watts = None
    generator_fuel_h: Hours = None
    has_mains: YesNo = None
    opens: Annotated[dt.datetime | None, BeforeValidator(_opening)] = None
    closes: Moment = None
    toilet: YesNo = None
    hoist: YesNo = None
    note: Words = None


def read_shelters(table: Table, start: dt.datetime) -> tuple[list[Shelter], list[RowProblem]]:
    """Shelters in the order of the table; rows with the same name are circuits of one shelter."""
    rows, problems = parse_rows(table, ShelterRow, {"start": start})
    by_name: dict[str, list[ShelterRow]] = {}
    for _, row in rows:
        by_name.setdefault(row.name, []).append(row)
    return [_shelter(group, start) for group in by_name.values()], problems


def _shelter(rows: Sequence[ShelterRow], start: dt.datetime) -> Shelter:
    def first(name: str) -> Any:
        return next((v for row in rows if (v := getattr(row, name)) is not None), None)

    circuits = tuple(
        Circuit(name=row.circuit or f"circuit {n}", outlets=row.outlets, amps=row.outlet_amps)
        for n, row in enumerate(rows, start=1)
        if row.outlets is not None or row.outlet_amps is not None
    )
    fields = {f: first(f) for f in Shelter.__dataclass_fields__ if f not in ("name", "circuits")}
    return Shelter(name=rows[0].name, circuits=circuits, **fields | {"closes": _after_opening(fields["opens"], fields["closes"], start)})


def _after_opening(opens: dt.datetime | None, closes: dt.datetime | None, start: dt.datetime) -> dt.datetime | None:
    """Hours over midnight: a closing time read before the opening is that of the next day.

    Of a shelter that is open at ``start`` anyway it stays as it was read: it may be over, and that is the bad side.
    """
    if opens is None or closes is None or opens == start or not opens - dt.timedelta(days=1) < closes <= opens:
        return closes
    return closes + dt.timedelta(days=1)


def geojson_table(path: Path) -> Table:
    """A table from GeoJSON points: the properties are the columns, the coordinates the place.

    Raises
    ------
    InputError
        If the file is not a GeoJSON collection.
    """
    try:
        features = json.loads(path.read_text(encoding="utf-8-sig"))["features"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(f"{path}: not a GeoJSON FeatureCollection ({error}).") from error
    rows = []
    for number, feature in enumerate(features, start=1):
        values = {str(k): str(v) for k, v in (feature.get("properties") or {}).items() if v is not None and k in ALIASES}
        if (feature.get("geometry") or {}).get("type") == "Point":
            lon, lat = feature["geometry"]["coordinates"][:2]
            values |= {"lon": str(lon), "lat": str(lat)}
        rows.append((number, values))
    return Table(path.name, rows, tuple(ALIASES), ())
