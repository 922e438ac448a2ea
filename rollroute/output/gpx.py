"""The route as GPX 1.1: a track to follow, a route of steps, and waypoints for stops and open questions.

A GPX file holds no energy and no verdict; the waypoints carry what a driver of a chair must see.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rollroute.output.itinerary import Itinerary
from rollroute.output.places import Place, places, step_places, way_line
from rollroute.output.plain_text import plain
from rollroute.output.words import Words
from rollroute.whole import write_whole

DECIMALS = 7


def write_gpx(itinerary: Itinerary, path: Path, words: Words | None = None) -> None:
    """Write the route as GPX 1.1: complete or not at all. Elevations are left out: the itinerary carries grades, not heights."""
    write_whole(path, gpx_text(itinerary, words or Words()))


def gpx_text(itinerary: Itinerary, words: Words) -> str:
    """Give the route as the text of a GPX 1.1 document."""
    import gpxpy.gpx as gpx

    document = gpx.GPX()
    document.creator = "rollroute"
    document.name = itinerary.code
    document.time = datetime.fromisoformat(itinerary.made_at).astimezone(UTC)  # GPX 1.1: time in Coordinated Universal Time
    document.copyright_author = "OpenStreetMap contributors"
    document.copyright_license = "https://opendatacommons.org/licenses/odbl/1-0/"
    segment = gpx.GPXTrackSegment([gpx.GPXTrackPoint(round(lat, DECIMALS), round(lon, DECIMALS)) for lon, lat in way_line(itinerary)])
    document.tracks.append(gpx.GPXTrack(name=itinerary.code))
    document.tracks[0].segments.append(segment)
    document.routes.append(_route(itinerary, words))
    document.waypoints.extend(_waypoint(place) for place in places(itinerary, words))
    return str(document.to_xml(version="1.1"))


def _route(itinerary: Itinerary, words: Words) -> Any:
    import gpxpy.gpx as gpx

    route = gpx.GPXRoute(name=itinerary.code)
    for place in step_places(itinerary, words):
        point = gpx.GPXRoutePoint(round(place.lat, DECIMALS), round(place.lon, DECIMALS), name=plain(place.name))
        point.description = plain(place.text, longest=1000) or None
        route.points.append(point)
    return route


def _waypoint(place: Place) -> Any:
    import gpxpy.gpx as gpx

    point = gpx.GPXWaypoint(round(place.lat, DECIMALS), round(place.lon, DECIMALS), name=plain(place.name), type=place.kind)
    point.description = plain(place.text, longest=1000) or None
    return point
