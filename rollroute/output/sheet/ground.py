"""The quiet ground of a map: buildings, water, green, streets, hazards, and what this chair may not take."""

from __future__ import annotations

import itertools
import math

from rollroute.output.crowd import XY, Box
from rollroute.output.itinerary import Backdrop, Barred, Hazard, Itinerary, LonLat
from rollroute.output.plain_text import plain
from rollroute.output.sheet.canvas import BOLD_WIDER, Canvas, Frame, resample, text_width_pt
from rollroute.output.words import Words
from rollroute.output.words.facts import REASONS

LEAST_BUILDING_PT = 2.0  # smaller ones are noise on paper
ROAD_WIDTH_M = 7.0
ROAD_WIDEST_PT = 62.0
OTHER_LETTER = "X"
LONGEST_LABEL = 28  # letters
WORDS_OFF_PT = (4.0, 9.0, 16.0, 26.0, 38.0)  # how far words stand off their place
LEADER = 'stroke="#000" stroke-width="0.7"'


def draw_ground(canvas: Canvas, itinerary: Itinerary) -> None:
    """Draw what lies there, palest first."""
    frame = canvas.frame
    seen = _seen(itinerary.backdrop, frame)
    canvas.polygons([frame.line(ring) for ring in seen["green"]], 'fill="#eef2ea"')
    canvas.polygons([frame.line(ring) for ring in seen["water"]], 'fill="url(#water)" stroke="#6f8fa5" stroke-width="0.6"')
    canvas.polylines([frame.line(line) for line in seen["waterways"]], 'stroke="#6f8fa5" stroke-width="1.2"')
    road_pt = min(max(ROAD_WIDTH_M / frame.m_per_pt, 2.2), 60.0)
    lines = [frame.line(line) for line in seen["roads"]]
    round_ends = 'stroke-linejoin="round" stroke-linecap="round"'
    canvas.polylines(lines, f'stroke="#8c8c8c" stroke-width="{road_pt + 1.2:.1f}" {round_ends}')
    canvas.polylines(lines, f'stroke="#f4f4f4" stroke-width="{road_pt:.1f}" {round_ends}')
    canvas.polylines([frame.line(path) for path in seen["paths"]], 'stroke="#777" stroke-width="0.9" stroke-dasharray="3 2"')
    houses = [frame.line(ring) for ring in seen["buildings"]]
    canvas.polygons([house for house in houses if _is_seen(house)], 'fill="#d9d9d9" stroke="#b0b0b0" stroke-width="0.4"')


Shapes = list[tuple[list[LonLat], Box]]
_BOXED: list[tuple[Backdrop, dict[str, Shapes]]] = []  # the last ground drawn: one sheet draws it a dozen times


def _seen(back: Backdrop, frame: Frame) -> dict[str, list[list[LonLat]]]:
    """Shapes of the ground whose box meets the window, with room for the widest road."""
    west, north = frame.lon_lat(-ROAD_WIDEST_PT, -ROAD_WIDEST_PT)
    east, south = frame.lon_lat(frame.width_pt + ROAD_WIDEST_PT, frame.height_pt + ROAD_WIDEST_PT)
    return {
        kind: [line for line, box in shapes if box[0] <= east and box[2] >= west and box[1] <= north and box[3] >= south]
        for kind, shapes in _boxed(back).items()
    }


def _boxed(back: Backdrop) -> dict[str, Shapes]:
    """Every shape with its west, south, east and north."""
    if not _BOXED or _BOXED[0][0] is not back:
        lines = {"green": back.green, "water": back.water, "waterways": back.waterways, "buildings": back.buildings}
        named = {"roads": [line for _, line in back.roads], "paths": [line for _, line in back.paths]}
        _BOXED[:] = [(back, {kind: [(line, _box(line)) for line in found if line] for kind, found in (lines | named).items()})]
    return _BOXED[0][1]


def _box(line: list[LonLat]) -> Box:
    lons, lats = [place[0] for place in line], [place[1] for place in line]
    return min(lons), min(lats), max(lons), max(lats)


def draw_rooms(canvas: Canvas, itinerary: Itinerary, level: float | None) -> None:
    """Draw the rooms of one floor, with their names where they fit."""
    for floor, name, ring in itinerary.backdrop.rooms:
        if floor != level:
            continue
        line = canvas.frame.line(ring)
        canvas.polygon(line, 'fill="#fff" stroke="#444" stroke-width="0.8"')
        label = plain(name, longest=LONGEST_LABEL)
        middle = (sum(p[0] for p in line[:-1]) / (len(line) - 1), sum(p[1] for p in line[:-1]) / (len(line) - 1))
        half = text_width_pt(label, 7) / 2
        if label and canvas.crowd.is_free(*middle, 2 * half, 10):
            canvas.text(*middle, label, size=7)


def draw_hazards(canvas: Canvas, itinerary: Itinerary, words: Words) -> None:
    """Hatch the hazards and write name and time along an edge."""
    for hazard in itinerary.hazards:
        for ring in hazard.rings:
            line = canvas.frame.line(ring)
            dash = "" if hazard.kind == "closed" else ' stroke-dasharray="5 3"'
            canvas.polygon(line, f'fill="url(#hazard)" fill-opacity="0.55" stroke="#a34400" stroke-width="1.4"{dash}')
            if len(line) > 2 and canvas.frame.holds(line):
                _hazard_label(canvas, line, _hazard_text(hazard, itinerary.conditions.departure, words))


def draw_barred(canvas: Canvas, itinerary: Itinerary) -> None:
    """A short bar across what this chair may not take, with the letter of the first reason."""
    for barred in itinerary.barred:
        line = canvas.frame.line(barred.coordinates)
        if len(line) < 2 or not canvas.frame.holds(line):
            continue
        x, y, angle = at_share(line, 0.3)
        dx, dy = -math.sin(angle) * 7, math.cos(angle) * 7
        canvas.polyline([(x - dx, y - dy), (x + dx, y + dy)], 'stroke="#000" stroke-width="3"')
        canvas.crowd.take(x, y, 10, 10)
        letter = barred_letter(barred)
        place(canvas, (x, y), letter, size=9)


def barred_letter(barred: Barred) -> str:
    """The letter of the first reason that has one."""
    return next((REASONS[reason][0] for reason in barred.reasons if reason in REASONS), OTHER_LETTER)


def draw_street_names(canvas: Canvas, itinerary: Itinerary, streets: list[str], *, size: float = 9.0) -> None:
    """Write each street that a step names once, along it or just beside it, where it hides neither the way nor a mark."""
    for street in dict.fromkeys(streets):
        label = plain(street, longest=LONGEST_LABEL)
        lines = [canvas.frame.line(line) for name, line in (*itinerary.backdrop.roads, *itinerary.backdrop.paths) if name == street]
        spots = [spot for line in lines for spot in _label_spots(canvas, line, size)]
        for x, y, angle in spots:
            box = _turned_box(x, y, angle, text_width_pt(label, size) / 2, size / 2)
            if canvas.crowd.has_room(box) and not canvas.crowd.hides_way(box):
                canvas.crowd.taken.append(box)
                canvas.text(x, y, label, size=size, turn=math.degrees(angle))
                break


def place(canvas: Canvas, anchor: XY, label: str, *, size: float, bold: bool = True) -> XY | None:
    """Write ``label`` near ``anchor`` where it hides nothing. Returns its middle, ``None`` where there is no room."""
    wide, high = text_width_pt(label, size) * (BOLD_WIDER if bold else 1.0) + 3.0, size * 1.24
    around = [
        (math.cos(angle) * (reach + wide / 2), -math.sin(angle) * (reach + high / 2))
        for reach in WORDS_OFF_PT
        for angle in (math.pi * (k / 6 - 0.25) for k in range(12))
    ]
    spot = canvas.crowd.choose(*anchor, wide, high, around)
    if spot is None:
        return None
    middle = (anchor[0] + spot[0], anchor[1] + spot[1])
    canvas.text(*middle, label, size=size, bold=bold)
    return middle


def stand_aside(canvas: Canvas, anchor: XY, side: float) -> XY | None:
    """Room for a mark ``side`` points wide beside its place ``anchor``, tied to it by a leader; ``None`` where there is none."""
    aside = canvas.crowd.step_aside(*anchor, side, side)
    if aside is None:
        return None
    spot = (anchor[0] + aside[0], anchor[1] + aside[1])
    canvas.polyline([anchor, spot], LEADER)
    return spot


def at_share(line: list[XY], share: float) -> tuple[float, float, float]:
    """Point and direction (radians, down positive) at a share of the length of ``line``."""
    lengths = [math.dist(a, b) for a, b in itertools.pairwise(line)]
    left = share * sum(lengths)
    for (a, b), length in zip(itertools.pairwise(line), lengths, strict=True):
        if left <= length or b == line[-1]:
            t = min(left / length, 1.0) if length else 0.0
            return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, math.atan2(b[1] - a[1], b[0] - a[0]))
        left -= length
    return (*line[-1], 0.0)


def _is_seen(line: list[XY]) -> bool:
    xs, ys = [p[0] for p in line], [p[1] for p in line]
    return bool(line) and max(max(xs) - min(xs), max(ys) - min(ys)) >= LEAST_BUILDING_PT


def _hazard_text(hazard: Hazard, day: str, words: Words) -> str:
    times = [words.moment(t, day=day) if t else "" for t in (hazard.starts, hazard.ends)]
    return f"{plain(hazard.label, longest=LONGEST_LABEL)} {'–'.join(times) if any(times) else ''}".strip()


def _hazard_label(canvas: Canvas, ring: list[XY], label: str) -> None:
    frame: Frame = canvas.frame
    inside = [p for p in resample(ring, 12.0) if 0 <= p[0] <= frame.width_pt and 0 <= p[1] <= frame.height_pt]
    for anchor in inside[:: max(len(inside) // 8, 1)]:
        if place(canvas, anchor, label, size=9) is not None:
            return


def _label_spots(canvas: Canvas, line: list[XY], size: float) -> list[tuple[float, float, float]]:
    """Places in the window for a name along ``line``: on it, then to either side; from its middle outward. Never upside down."""
    points = [p for p in resample(line, 6.0) if 0 <= p[0] <= canvas.frame.width_pt and 0 <= p[1] <= canvas.frame.height_pt]
    pairs = [(a, b) for a, b in itertools.pairwise(points) if a != b]
    middle = len(pairs) / 2
    spots = []
    for aside in (0.0, size, -size, 1.8 * size, -1.8 * size):
        for _, ((x0, y0), (x1, y1)) in sorted(enumerate(pairs), key=lambda item: abs(item[0] - middle)):
            angle = math.atan2(y1 - y0, x1 - x0)
            if abs(angle) > math.pi / 2:
                angle -= math.copysign(math.pi, angle)
            spots.append((x0 - math.sin(angle) * aside, y0 + math.cos(angle) * aside, angle))
    return spots


def _turned_box(x: float, y: float, angle: float, half_w: float, half_h: float) -> Box:
    """The upright box around a turned label."""
    wide = abs(math.cos(angle)) * half_w + abs(math.sin(angle)) * half_h
    high = abs(math.sin(angle)) * half_w + abs(math.cos(angle)) * half_h
    return (x - wide, y - high, x + wide, y + high)
