"""The ground of the map as folium layers: one feature per kind, so that a whole quarter costs a few paths on one canvas."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import folium

from rollroute.output.itinerary import Backdrop, LonLat

DECIMALS = 6  # about 0.1 m
Lines = Iterable[Sequence[LonLat]]


def ground_layers(backdrop: Backdrop) -> dict[str, folium.GeoJson]:
    """Give the ground's layers by name, from the bottom to the top; kinds that are not there are left out."""
    shapes = {
        "green": _areas(backdrop.green),
        "water": _areas(backdrop.water),
        "waterways": _lines(backdrop.waterways),
        "roads": _lines(line for _, line in backdrop.roads),
        "paths": _lines(line for _, line in backdrop.paths),
        "buildings": _areas(backdrop.buildings),
    }
    return {name: _layer(name, shape) for name, shape in shapes.items() if shape["coordinates"]}


def _layer(name: str, shape: dict[str, Any]) -> folium.GeoJson:
    """Wrap a shape; colours come from the page, which knows whether it is dark."""
    return folium.GeoJson(
        {"type": "Feature", "geometry": shape, "properties": {}},
        name=name,
        control=False,
        smooth_factor=0.3,
        interactive=False,
        renderer=folium.JsCode("ground"),
    )


def _areas(rings: Lines) -> dict[str, Any]:
    return {"type": "MultiPolygon", "coordinates": [[_places(ring)] for ring in rings if len(ring) >= 4]}


def _lines(lines: Lines) -> dict[str, Any]:
    return {"type": "MultiLineString", "coordinates": [_places(line) for line in lines if len(line) >= 2]}


def _places(line: Sequence[LonLat]) -> list[list[float]]:
    return [[round(lon, DECIMALS), round(lat, DECIMALS)] for lon, lat in line]
