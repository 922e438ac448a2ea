"""The route as KML 2.2 for programs that show placemarks on a globe."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rollroute.output.itinerary import Itinerary
from rollroute.output.map.scene import set_scene
from rollroute.output.map.style import THEMES
from rollroute.output.places import places
from rollroute.output.plain_text import plain
from rollroute.output.words import Words
from rollroute.whole import write_whole

DECIMALS = 7
LIGHT = THEMES["light"]


def write_kml(itinerary: Itinerary, path: Path, words: Words | None = None) -> None:
    """Write the route as KML: complete or not at all. Nothing in it points to a picture elsewhere."""
    write_whole(path, kml_text(itinerary, words or Words()))


def kml_text(itinerary: Itinerary, words: Words) -> str:
    """Give the route as the text of a KML 2.2 document."""
    import simplekml

    simplekml.Kml.resetidcounter()  # its ids count through a whole process; the same route shall give the same bytes
    document = simplekml.Kml(name=words.say("Route {code}", code=plain(itinerary.code)), description="© OpenStreetMap contributors (ODbL)")
    _add_way(document.newfolder(name=words.say("Way")), itinerary, words)
    _add_places(document.newfolder(name=words.say("Places")), itinerary, words)
    _add_hazards(document.newfolder(name=words.say("Hazards")), itinerary, words)
    return str(document.kml())


def _add_way(folder: Any, itinerary: Itinerary, words: Words) -> None:
    scene = set_scene(itinerary, words)
    for piece, (title, rows) in zip(itinerary.pieces, scene.piece_rows, strict=True):
        line = folder.newlinestring(name=title, description="; ".join(f"{what}: {value}" for what, value, _ in rows))
        line.coords = [(round(lon, DECIMALS), round(lat, DECIMALS)) for lon, lat in piece.coordinates]
        line.style.linestyle.width = 6 if piece.verdict == "clear" else 3
        line.style.linestyle.color = _colour(LIGHT["way"])


def _add_places(folder: Any, itinerary: Itinerary, words: Words) -> None:
    for place in places(itinerary, words):
        coordinates = [(round(place.lon, DECIMALS), round(place.lat, DECIMALS))]
        folder.newpoint(name=plain(place.name), description=plain(place.text, longest=1000), coords=coordinates)


def _add_hazards(folder: Any, itinerary: Itinerary, words: Words) -> None:
    for hazard, text in set_scene(itinerary, words).hazards:
        for ring in hazard.rings:
            area = folder.newpolygon(name=text)
            area.outerboundaryis = [(round(lon, DECIMALS), round(lat, DECIMALS)) for lon, lat in ring]
            area.style.polystyle.color = _colour(LIGHT["hazard"], opacity=0.4)


def _colour(css: str, *, opacity: float = 1.0) -> str:
    """Turn ``#rrggbb`` into KML's order ``aabbggrr`` (OGC KML 2.2, kml:color)."""
    return f"{round(255 * opacity):02x}{css[5:7]}{css[3:5]}{css[1:3]}".lower()
