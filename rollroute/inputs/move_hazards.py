"""Hazards: areas and roads that close, deadlines and watches, each with a range of time, as the coordinator decided."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from rollroute.errors import InputError
from rollroute.inputs.move_alerts import Alert
from rollroute.inputs.move_fields import parse_moment
from rollroute.inputs.tabular import RowProblem

HazardKind = Literal["closed", "deadline", "watch"]
LonLat = tuple[float, float]
ROAD_HALF_WIDTH_M = 8.0  # assumption: a closed line stands for the road and both its sidewalks
M_PER_DEG_LAT = 111_320.0
CIRCLE_CORNERS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """An area with a time. A range, not a moment: plans take ``starts`` as its earliest and ``ends`` as its latest.

    kind
        ``closed``: nobody is inside after ``starts``; ``deadline``: people should be out by ``starts``; ``watch``: drawn and said.
    ends
        ``None``: it does not reopen within the plan.
    """

    label: str
    kind: HazardKind
    rings: tuple[tuple[LonLat, ...], ...]  # outer rings, lon, lat
    starts: dt.datetime | None  # earliest; None = from the start of the move
    starts_latest: dt.datetime | None = None
    ends: dt.datetime | None = None
    zone: str | None = None
    is_road: bool = False

    def contains(self, lon: float, lat: float) -> bool:
        """Whether a point lies inside or on the rim of the area."""
        from shapely import Point, Polygon

        return any(Polygon(ring).covers(Point(lon, lat)) for ring in self.rings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What the coordinator made of an alert or a zone."""

    kind: HazardKind | Literal["ignore"]
    starts: dt.datetime | None = None
    ends: dt.datetime | None = None


def read_hazards(path: Path, start: dt.datetime) -> tuple[list[Hazard], list[RowProblem]]:
    """Read hazards from GeoJSON: ``kind`` (closed, deadline, watch), ``label``, ``from``, ``from_latest``, ``to``, ``zone``.

    Areas are polygons; a line is a closed road and gets a small width. A ``kind`` left out is ``closed``: the bad side.

    Raises
    ------
    InputError
        If the file is not GeoJSON.
    """
    try:
        features = list(json.loads(path.read_text(encoding="utf-8-sig"))["features"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(f"{path}: not a GeoJSON FeatureCollection ({error}). Draw the areas anew, or export them as GeoJSON.") from error
    hazards, problems = [], []
    for number, feature in enumerate(features, start=1):
        try:
            hazards.append(_hazard(feature, number, start))
        except (ValueError, KeyError, TypeError) as error:
            problems.append(RowProblem(file=path.name, row=number, column="feature", value="", message=str(error)))
    return hazards, problems


def _first(properties: dict[str, Any], *names: str) -> Any:
    return next((properties[n] for n in names if properties.get(n) not in (None, "")), None)


def _hazard(feature: dict[str, Any], number: int, start: dt.datetime) -> Hazard:
    if not isinstance(feature, dict) or not isinstance(feature.get("geometry"), dict):
        raise ValueError("there is no outline (geometry). Draw the area, or take the feature out.")
    properties = feature.get("properties") or {}
    kind = str(_first(properties, "kind", "type") or "closed").lower()
    if kind not in ("closed", "deadline", "watch"):
        raise ValueError(f"kind {kind!r}: write closed, deadline or watch.")
    geometry = feature["geometry"]
    zone = _first(properties, "zone")
    return Hazard(
        label=str(_first(properties, "label", "name", "title") or f"hazard {number}"),
        kind=kind,  # type: ignore[arg-type]
        rings=_rings(geometry),
        starts=parse_moment(_first(properties, "from", "starts", "closes", "at"), start),
        starts_latest=parse_moment(_first(properties, "from_latest", "starts_latest"), start),
        ends=parse_moment(_first(properties, "to", "ends", "until", "reopens"), start),
        zone=None if zone is None else str(zone).upper(),
        is_road="Line" in geometry["type"] or properties.get("is_road") is True,
    )


def _rings(geometry: dict[str, Any]) -> tuple[tuple[LonLat, ...], ...]:
    from shapely.affinity import scale
    from shapely.geometry import MultiPolygon, shape

    form = shape(geometry)
    west, south, east, north = form.bounds if not form.is_empty else (0.0, 0.0, 0.0, 0.0)
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        raise ValueError("the outline is not in degrees, longitude before latitude (RFC 7946, section 4). Export it as WGS 84.")
    if form.is_empty or not form.is_valid:
        raise ValueError("the outline crosses itself or is empty. Draw it again.")
    if "Line" in geometry["type"]:
        squeeze = math.cos(math.radians(form.centroid.y))
        flat = scale(form, xfact=squeeze, yfact=1.0, origin=(0, 0)).buffer(ROAD_HALF_WIDTH_M / M_PER_DEG_LAT)
        form = scale(flat, xfact=1 / squeeze, yfact=1.0, origin=(0, 0))
    parts = form.geoms if isinstance(form, MultiPolygon) else [form]
    if any(p.geom_type != "Polygon" for p in parts):
        raise ValueError(f"geometry {geometry['type']}: give a polygon or a line.")
    return tuple(tuple((float(x), float(y)) for x, y, *_ in p.exterior.coords) for p in parts)


def hazard_from_alert(alert: Alert, decision: Decision) -> Hazard | None:
    """The hazard that the coordinator's ``decision`` makes of ``alert``; ``None`` where it is to be ignored or has no outline."""
    circles = tuple(_circle_ring(*c) for c in alert.circles)
    rings = tuple(alert.rings) + circles
    if decision.kind == "ignore" or not rings:
        return None
    return Hazard(label=alert.headline or alert.identifier, kind=decision.kind, rings=rings, starts=decision.starts, ends=decision.ends)


def _circle_ring(lon: float, lat: float, radius_km: float) -> tuple[LonLat, ...]:
    """A polygon round the circle (never inside it): corners at radius / cos(π/n)."""
    from pyproj import Geod

    radius_m = radius_km * 1000 / math.cos(math.pi / CIRCLE_CORNERS)
    azimuths = [360.0 * i / CIRCLE_CORNERS for i in range(CIRCLE_CORNERS)]
    lons, lats, _ = Geod(ellps="WGS84").fwd([lon] * CIRCLE_CORNERS, [lat] * CIRCLE_CORNERS, azimuths, [radius_m] * CIRCLE_CORNERS)
    ring = [(float(x), float(y)) for x, y in zip(lons, lats, strict=True)]
    return (*ring, ring[0])


def apply_zones(hazards: Sequence[Hazard], zones: dict[str, Decision]) -> list[Hazard]:
    """Give evacuation zones their letter's times; a zone without a decision stays as drawn."""
    from dataclasses import replace

    result = []
    for hazard in hazards:
        decision = zones.get(hazard.zone or "")
        if decision is None:
            result.append(hazard)
        elif decision.kind != "ignore":
            result.append(replace(hazard, kind=decision.kind, starts=decision.starts, ends=decision.ends))
    return result
