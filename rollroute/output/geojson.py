"""The route as GeoJSON (RFC 7946): one feature per piece of way, and one per place that matters.

Every number carries its unit in its key; a value that nobody knows is ``null``, never 0.
The start's own words are left out unless it is a shelter: a file travels further than its maker thinks.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from rollroute.output.itinerary import Itinerary, LonLat, Piece, Spot, Spread
from rollroute.whole import write_whole

DECIMALS = 7  # RFC 7946, section 11.2, finds 6 (about 0.1 m) reasonable; 7 keeps a kerb on its side of the line
Feature = dict[str, Any]


def write_geojson(itinerary: Itinerary, path: Path) -> None:
    """Write the route as one FeatureCollection: complete or not at all."""
    text = json.dumps(feature_collection(itinerary), ensure_ascii=False, allow_nan=False, indent=1)
    write_whole(path, text + "\n")


def feature_collection(itinerary: Itinerary) -> dict[str, Any]:
    """Give the route as a GeoJSON document of plain Python values."""
    features = [
        *(_piece(piece) for piece in itinerary.pieces),
        *_questions(itinerary),
        *_points(itinerary),
        *_halts(itinerary),
        *_checkpoints(itinerary),
        *_spots(itinerary),
        *_barred(itinerary),
        *_hazards(itinerary),
    ]
    for number, feature in enumerate(features, start=1):
        feature["id"] = f"{feature['properties']['feature']}-{number}"
    return {"type": "FeatureCollection", "bbox": _bbox(features), "rollroute": _trip(itinerary), "features": features}


def _trip(itinerary: Itinerary) -> dict[str, Any]:
    return {
        "route": itinerary.code,
        "made_at": itinerary.made_at,
        "map_date": itinerary.map_date,
        "sources": itinerary.sources,
        "length_m": round(itinerary.length_m, 1),
        "climb_m": round(itinerary.climb_m, 1),
        "descent_m": round(itinerary.descent_m, 1),
        "unverified_m": round(itinerary.unverified_m, 1),
        **_both("time", itinerary.time_s, "s", 0),
        **_both("energy", itinerary.energy_wh, "wh", 1),
        **_both("charge_at_goal", itinerary.soc_goal, "percent", 1, scale=100.0),
        "doubt_percent": _rounded(itinerary.doubt, 1, 100.0),
    }


def _piece(piece: Piece) -> Feature:
    return _line(
        piece.coordinates,
        {
            "feature": "piece",
            "from_m": round(piece.from_m, 1),
            "to_m": round(piece.to_m, 1),
            "length_m": round(piece.to_m - piece.from_m, 1),
            "name": piece.name,
            "way_kind": piece.way_kind,
            "osm_way_id": str(piece.way_id),
            "verdict": piece.verdict,
            "questions": [str(number) for number in piece.questions],
            "grade_percent": _rounded(piece.grade, 2, 100.0),
            "grade_error_percent": _rounded(piece.grade_sd, 2, 100.0),
            "grade_rank": piece.grade_rank,
            "cross_slope_percent": _rounded(piece.cross_slope, 2, 100.0),
            "width_m": _rounded(piece.width_m, 2),
            "width_rank": piece.width_rank,
            "surface": piece.surface,
            "surface_rank": piece.surface_rank,
            "level_number": piece.level,
            "building": piece.building,
            "is_bridge": piece.is_bridge,
            "is_tunnel": piece.is_tunnel,
            "is_lit": piece.is_lit,
            "road_width_m": _rounded(piece.road_width_m, 2),
            "side": piece.side,
            **_both("time", piece.time_s, "s", 1),
            **_both("energy", piece.energy_wh, "wh", 2),
            **_both("charge_after", piece.soc_after, "percent", 1, scale=100.0),
        },
    )


def _questions(itinerary: Itinerary) -> Iterator[Feature]:
    for question in itinerary.questions:
        yield _point(
            question.lon,
            question.lat,
            {
                "feature": "question",
                "number": str(question.number),
                "kind": question.kind,
                "at_m": round(question.at_m, 1),
                "length_m": round(question.length_m, 1),
                "bad_probability_percent": _rounded(question.probability, 1, 100.0),
                "is_weakest": question.is_weakest,
                "street": question.street,
                "known": {
                    key: value if isinstance(value, str) or value is None else f"{value:g}" for key, value in question.detail.items()
                },
            },
        )


def _points(itinerary: Itinerary) -> Iterator[Feature]:
    for point in itinerary.points:
        properties = {"feature": "point", "kind": point.kind, "at_m": round(point.at_m, 1), "size_m": _rounded(point.value, 3)}
        properties |= {"word": point.word, "rank": point.rank, "direction": point.direction}
        yield _point(point.lon, point.lat, properties)


def _halts(itinerary: Itinerary) -> Iterator[Feature]:
    for halt in itinerary.halts:
        yield _point(
            halt.lon,
            halt.lat,
            {
                "feature": "charging_halt",
                "name": halt.label,
                "at_m": round(halt.at_m, 1),
                **_both("charge_on_arrival", halt.arrive_soc, "percent", 1, scale=100.0),
                **_both("charge_on_leaving", halt.leave_soc, "percent", 1, scale=100.0),
                "setup_s": round(halt.setup_s),
                "charging_s": round(halt.charge_s),
                "waiting_s": round(halt.wait_s),
                "arrive_time": halt.arrive_time,
                "leave_time": halt.leave_time,
                "outlet": halt.outlet,
                "charger": halt.charger,
            },
        )


def _checkpoints(itinerary: Itinerary) -> Iterator[Feature]:
    for place in itinerary.checkpoints:
        properties: dict[str, Any] = {"feature": "checkpoint", "at_m": round(place.at_m, 1)}
        properties |= {"least_charge_percent": _rounded(place.least_soc, 1, 100.0), "turn_back_to": place.turn_back_to}
        yield _point(place.lon, place.lat, properties | {"turn_back_m": _rounded(place.turn_back_m, 1)})


def _spots(itinerary: Itinerary) -> Iterator[Feature]:
    yield _spot(itinerary.start, "start", with_label=itinerary.start.kind == "shelter")
    yield _spot(itinerary.goal, "goal", with_label=itinerary.goal.kind == "shelter")
    groups = {
        "refuge": itinerary.refuges,
        "van_spot": itinerary.van_spots,
        "rest_spot": itinerary.rest_spots,
        "landmark": itinerary.landmarks,
    }
    for name, spots in groups.items():
        for spot in spots:
            yield _spot(spot, name, with_label=True)


def _spot(spot: Spot, feature: str, *, with_label: bool) -> Feature:
    properties = {"feature": feature, "kind": spot.kind, "at_m": _rounded(spot.at_m, 1), "off_way_m": round(spot.off_way_m, 1)}
    properties["level_number"] = spot.level
    return _point(spot.lon, spot.lat, properties | ({"name": spot.label} if with_label else {}))


def _barred(itinerary: Itinerary) -> Iterator[Feature]:
    for barred in itinerary.barred:
        yield _line(barred.coordinates, {"feature": "barred", "name": barred.name, "reasons": barred.reasons})


def _hazards(itinerary: Itinerary) -> Iterator[Feature]:
    for hazard in itinerary.hazards:
        properties = {"feature": "hazard", "kind": hazard.kind, "label": hazard.label, "starts": hazard.starts, "ends": hazard.ends}
        polygons = [[_ring(ring)] for ring in hazard.rings if len(set(ring)) >= 3]
        geometry = {"type": "MultiPolygon", "coordinates": polygons} if polygons else None  # unlocated: RFC 7946, section 3.2
        yield {"type": "Feature", "geometry": geometry, "properties": properties}


def _line(coordinates: Sequence[LonLat], properties: dict[str, Any]) -> Feature:
    """Give a line, or for a piece of no length (a lift) the point where it stands: a line needs two positions (RFC 7946, 3.1.4)."""
    places = [_position(place) for place in coordinates]
    if len(places) < 2:
        return _point(*coordinates[0], properties)
    return {"type": "Feature", "geometry": {"type": "LineString", "coordinates": places}, "properties": properties}


def _point(lon: float, lat: float, properties: dict[str, Any]) -> Feature:
    return {"type": "Feature", "geometry": {"type": "Point", "coordinates": _position((lon, lat))}, "properties": properties}


def _ring(ring: Sequence[LonLat]) -> list[list[float]]:
    """Close ``ring`` and turn it counter-clockwise, as RFC 7946, section 3.1.6, asks of an outer ring."""
    places = [_position(place) for place in ring]
    if places[0] != places[-1]:
        places.append(places[0])
    lon, lat = places[0]  # areas are summed from a corner: small differences of large products would lose their sign
    corners = [(a - lon, b - lat) for a, b in places]
    twice_area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(corners))
    return places if twice_area >= 0 else places[::-1]


def _position(place: LonLat) -> list[float]:
    return [round(place[0], DECIMALS), round(place[1], DECIMALS)]


def _both(name: str, spread: Spread, unit: str, decimals: int, *, scale: float = 1.0) -> dict[str, float | None]:
    cases = {"expected": spread.expected, "planned": spread.planned}
    return {f"{name}_{case}_{unit}": _rounded(value, decimals, scale) for case, value in cases.items()}


def _rounded(value: float | None, decimals: int, scale: float = 1.0) -> float | None:
    return None if value is None else round(value * scale, decimals)


def _bbox(features: Iterable[Feature]) -> list[float]:
    places = [place for feature in features if feature["geometry"] for place in _flat(feature["geometry"]["coordinates"])]
    lons, lats = [p[0] for p in places], [p[1] for p in places]
    return [min(lons), min(lats), max(lons), max(lats)]


def _flat(coordinates: Any) -> Iterator[list[float]]:
    if isinstance(coordinates[0], (int, float)):
        yield coordinates
    else:
        for part in coordinates:
            yield from _flat(part)
