"""The plan as a GeoPackage: layers ``riders``, ``shelters``, ``routes``, ``zones``, ``tours``; longitude before latitude, WGS 84."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from rollroute.output.itinerary import Itinerary, LonLat
from rollroute.output.move import rows
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.town import Leg
from rollroute.output.plain_text import plain
from rollroute.output.words.words import read_moment

LAYERS = ("riders", "shelters", "routes", "zones", "tours")
RIDER_FIELDS = ("rider", "status", "way", "shelter", "van", "leave", "load", "unload", "arrive", "latest")
ROUTE_FIELDS = ("rider", "code", "shelter", "length_m", "planned_min", "expected_min", "doubt")
TOUR_FIELDS = ("van", "leg", "to", "kind", "riders", "leave", "arrive", "drive_min", "drawn")


def write_layers(facts: MoveFacts, rolls: Mapping[str, Itinerary], legs: Sequence[Leg], path: Path) -> None:
    """Write all layers; a layer without features is there and empty. The same plan gives the same bytes."""
    import pyogrio  # type: ignore[import-untyped]

    now = read_moment(facts.made_at).astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": now})
    try:
        for name, features, fields, kind in _layers(facts, rolls, legs):
            frame = _frame(features, fields)
            pyogrio.write_dataframe(frame, path, layer=name, driver="GPKG", geometry_type=kind, append=path.exists())
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


Feature = tuple[Mapping[str, Any], Any]


def _layers(facts: MoveFacts, rolls: Mapping[str, Itinerary], legs: Sequence[Leg]) -> list[tuple[str, list[Feature], tuple[str, ...], str]]:
    from shapely import LineString, Point

    def point(place: LonLat | None) -> Any:
        return None if place is None else Point(place)

    riders: list[Feature] = [({n: row[n] for n in RIDER_FIELDS}, point(facts.rider_place(r.id))) for r, row in _pairs(facts)]
    shelters: list[Feature] = [
        ({"shelter": plain(s.name), "arrivals": len(s.arrivals), "plugs": len(s.plugs)}, point(facts.shelter_place(s.name)))
        for s in facts.plan.shelters
    ]
    routes: list[Feature] = [(_route(facts, rider, route), LineString(way_line(route))) for rider, route in rolls.items()]
    zones: list[Feature] = [(row, Point(row["lon"], row["lat"])) for row in rows.zone_rows(facts)]
    tours: list[Feature] = [(_tour(leg), LineString(leg.line)) for leg in legs if len(leg.line) >= 2]
    return [
        ("riders", riders, RIDER_FIELDS, "Point"),
        ("shelters", shelters, ("shelter", "arrivals", "plugs"), "Point"),
        ("routes", routes, ROUTE_FIELDS, "LineString"),
        ("zones", zones, rows.ZONE_COLUMNS, "Point"),
        ("tours", tours, TOUR_FIELDS, "LineString"),
    ]


def _pairs(facts: MoveFacts) -> list[tuple[Any, rows.Row]]:
    return list(zip(facts.plan.riders, rows.rider_rows(facts), strict=True))


def way_line(route: Itinerary) -> list[LonLat]:
    """The way of a roll as one line."""
    line = [place for piece in route.pieces for place in piece.coordinates]
    kept = line[:1] + [b for a, b in pairwise(line) if a != b]
    return kept if len(kept) >= 2 else [(route.start.lon, route.start.lat), (route.goal.lon, route.goal.lat)]


def _route(facts: MoveFacts, rider: str, route: Itinerary) -> Mapping[str, Any]:
    line = facts.plan.rider(rider)
    planned, expected = route.time_s.planned / 60.0, route.time_s.expected / 60.0
    return {
        "rider": plain(rider), "code": route.code, "shelter": plain(line.shelter), "length_m": round(route.length_m, 1),
        "planned_min": round(planned, 1), "expected_min": round(expected, 1), "doubt": round(route.doubt, 4),
    }  # fmt: skip


def _tour(leg: Leg) -> Mapping[str, Any]:
    return {
        "van": plain(leg.van), "leg": leg.number, "to": plain(leg.stop.place), "kind": leg.stop.kind,
        "riders": rows.joined(leg.stop.riders),
        "leave": leg.leave, "arrive": leg.stop.arrive, "drive_min": leg.stop.drive_min,
        "drawn": "along roads" if leg.is_along_roads else "straight line",
    }  # fmt: skip


def _frame(features: Sequence[Feature], fields: Sequence[str]) -> Any:
    import geopandas
    import pandas

    values = {name: pandas.Series([row[name] for row, _ in features], dtype=_dtype(name)) for name in fields}
    return geopandas.GeoDataFrame(values, geometry=[form for _, form in features], crs="EPSG:4326")


_WHOLE = {"arrivals", "plugs", "leg", "drive_min"}
_REAL = {"length_m", "planned_min", "expected_min", "doubt", "lon", "lat", "roll_min", "clearance_cm"}


def _dtype(name: str) -> str:
    return "int64" if name in _WHOLE else "float64" if name in _REAL else "object"
