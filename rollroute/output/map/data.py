"""The scene as the JSON that the map's program draws: places as ``[lat, lon]``, drawings from our own table, names as plain strings."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from rollroute.output.itinerary import Itinerary, LevelPlan, LonLat
from rollroute.output.level_plan import mark_words
from rollroute.output.map import marks
from rollroute.output.map.phrases import grade_figure
from rollroute.output.map.scene import Mark, Scene
from rollroute.output.map.style import THEMES
from rollroute.output.map.way import ARROW_SPACING_M, along, offset_m
from rollroute.output.plain_text import plain
from rollroute.output.words import Words

DECIMALS = 6
REACH_M = 60.0  # the way's direction near its ends is judged over this length
# Weights: who asks for a place first. Those in MOVES step aside for want of room, the others wait for a closer look.
RAISED = {"start": 1000, "goal": 1000, "halt": 900, "question": 600, "refuge": 500}
RAISED |= {"checkpoint": 400, "van_spot": 300, "rest_spot": 200, "barred": 100}
BAR_PX = 22.0  # a bar nearer to the way than this on the page would look like one across it
MOVES = ("start", "goal", "halt", "question", "refuge")


def scene_data(scene: Scene, words: Words) -> dict[str, Any]:
    """Give everything the page needs to draw ``scene``."""
    itinerary = scene.itinerary
    return {
        "themes": THEMES,
        "bounds": way_bounds(itinerary),
        "spacing": ARROW_SPACING_M,
        "barPx": BAR_PX,
        "words": {
            "map": words.say("Map of the route"),
            "close": words.say("Close"),
            "before": words.say("The piece before"),
            "after": words.say("The piece after"),
            "zoomIn": words.say("Zoom in"),
            "zoomOut": words.say("Zoom out"),
        },
        "runs": [
            {"c": _places(run.coordinates), "u": run.is_unverified, "s": run.is_costly, "l": run.pieces[0].level} for run in scene.runs
        ],
        "pieces": [
            {"c": _places(piece.coordinates), "t": title, "r": rows}
            for piece, (title, rows) in zip(itinerary.pieces, scene.piece_rows, strict=True)
        ],
        "arrows": [
            {
                "p": _place(arrow.lon, arrow.lat),
                "i": arrow.index,
                "f": rooms([(*marks.figure_place(arrow.bearing_deg, figure), 18.0)])[0] if figure else None,
                "svg": marks.svg(marks.arrowheads(arrow.count, arrow.bearing_deg, figure)),
            }
            for arrow in scene.arrowheads
            for figure in [grade_figure(words, arrow.figure) if arrow.figure else ""]
        ],
        "hazards": [
            {"c": [_places(ring) for ring in hazard.rings], "t": text, "at": _word_places(hazard.rings)}
            for hazard, text in scene.hazards
            if hazard.rings
        ],
        "labels": [
            {"t": label.text, "at": [[*_place(lon, lat), upright(heading)] for lon, lat, heading in label.places]} for label in scene.labels
        ],
        "marks": [_mark(mark) for mark in scene.marks],
        "away": {"start": way_end_direction(itinerary, at_start=True), "goal": way_end_direction(itinerary, at_start=False)},
        "rooms": [
            {"level": level, "t": plain(name, longest=30), "c": _places(ring), "p": _place(*_centre(ring))}
            for level, name, ring in itinerary.backdrop.rooms
        ],
        "plans": [_plan(plan, words) for plan in itinerary.plans],
    }


def _plan(plan: LevelPlan, words: Words) -> dict[str, Any]:
    """Give one level of a building: its outline, rooms, stairs, doors and lifts."""
    return {
        "level": plan.level,
        "outline": _places(plan.outline),
        "rooms": [{"t": plain(name, longest=30), "c": _places(ring), "p": _place(*_centre(ring[:-1]))} for _, name, ring in plan.rooms],
        "stairs": [_places(line) for line in plan.stairs],
        "doors": [{"p": _place(mark.lon, mark.lat), "t": mark_words(mark, words), "on": mark.is_on_way} for mark in plan.marks],
    }


def way_bounds(itinerary: Itinerary) -> list[list[float]]:
    """Give the box round the whole way as ``[[south, west], [north, east]]``."""
    places = [place for piece in itinerary.pieces for place in piece.coordinates]
    places += [(itinerary.start.lon, itinerary.start.lat), (itinerary.goal.lon, itinerary.goal.lat)]
    lons, lats = [lon for lon, _ in places], [lat for _, lat in places]
    return [_place(min(lons), min(lats)), _place(max(lons), max(lats))]


def upright(heading_deg: float) -> float:
    """Turn a heading into the angle of a text that never stands on its head: -90 up to 90 degrees, clockwise."""
    angle = (heading_deg - 90.0) % 180.0
    return round(angle - 180.0 if angle > 90.0 else angle, 1)


def _mark(mark: Mark) -> dict[str, Any]:
    drawing = marks.svg(mark.fragment) if mark.fragment else ""
    place = _place(mark.lon, mark.lat)
    return {
        "k": mark.kind,
        "p": place,
        "svg": drawing,
        "b": mark.beside,
        "t": mark.title,
        "r": mark.rows,
        "z": RAISED[mark.kind],
        "moves": mark.kind in MOVES,
        "room": rooms(mark.room),
        "off": mark.off_way_m,
    }


def rooms(found: Iterable[marks.Room]) -> list[list[float]]:
    """Give what a mark takes of a page, to a tenth of a pixel."""
    return [[round(value, 1) for value in room] for room in found]


def _place(lon: float, lat: float) -> list[float]:
    return [round(lat, DECIMALS), round(lon, DECIMALS)]


def _places(line: Iterable[LonLat]) -> list[list[float]]:
    return [_place(lon, lat) for lon, lat in line]


def _centre(ring: list[LonLat]) -> LonLat:
    return (sum(lon for lon, _ in ring) / len(ring), sum(lat for _, lat in ring) / len(ring))


def _word_places(rings: list[list[LonLat]]) -> list[list[float]]:
    """Give the places where a hazard's words may stand: edges, middle, and the northern corners."""
    places = [place for ring in rings for place in ring]
    lats = [lat for _, lat in places]
    lons = [lon for lon, _ in places]
    west, lon, east = min(lons), (min(lons) + max(lons)) / 2, max(lons)
    middle_lat = (min(lats) + max(lats)) / 2
    dots = [(lon, max(lats)), (lon, min(lats)), (lon, middle_lat), (west, max(lats)), (west, middle_lat), (east, middle_lat)]
    return [_place(*dot) for dot in dots]


def way_end_direction(itinerary: Itinerary, *, at_start: bool) -> tuple[float, float]:
    """Give the direction away from the way at one of its ends, as pixels right and down of length 1."""
    line = [place for piece in itinerary.pieces for place in piece.coordinates]
    end, total = (line[0], 0.0) if at_start else (line[-1], itinerary.length_m)
    near, _ = along(line, total + (REACH_M if at_start else -REACH_M))
    east, north = offset_m(near, end)
    size = math.hypot(east, north) or 1.0
    return round(east / size, 2), round(-north / size, 2)
