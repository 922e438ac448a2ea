"""The route as one still drawing (SVG): for the link, for pages without a program, and for pictures.

Lengths are pixels of the page. Whatever has the size of a mark stands in a ``<g class="k">`` whose place is given by its ``transform``,
and widths hang on the custom property ``--k``, so that a program can zoom without blowing up lines and words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from rollroute.output.itinerary import LonLat
from rollroute.output.map import marks
from rollroute.output.map.data import BAR_PX, MOVES, RAISED, upright, way_end_direction
from rollroute.output.map.marks import MARK_CSS
from rollroute.output.map.phrases import grade_figure
from rollroute.output.map.plane import Crowd, Plane, text_width
from rollroute.output.map.scene import Mark, Scene
from rollroute.output.map.style import THEMES
from rollroute.output.words import Words
from rollroute.units import M_PER_FOOT

ORDER = tuple(RAISED)  # the first is placed first and drawn last, on top
ROAD_M, LEAST_ROAD_PX = 7.0, 2.5  # drawn width of a street: our choice
BOX = 32.0  # pixels that a mark takes
PHONE = 1.6  # on a phone words take this many times their share of the drawing
LINE = 14  # height of a line of words, pixels
DRAWING_CSS = """
.d-paper{fill:var(--paper)}
.d-green{fill:var(--green)}
.d-water{fill:var(--water);stroke:var(--water-hatch);stroke-width:calc(1px*var(--k))}
.d-ripple{fill:url(#water-hatch)}
.d-wave{stroke:var(--water-hatch);stroke-width:1}
.d-stream,.d-casing,.d-road,.d-path,.way-casing,.way-line,.way-core{fill:none;stroke-linejoin:round;stroke-linecap:round}
.d-stream{stroke:var(--water-hatch);stroke-width:calc(2px*var(--k))}
.d-casing{stroke:var(--road-edge);stroke-width:var(--casing-width)}
.d-road{stroke:var(--road);stroke-width:var(--road-width)}
.d-path{stroke:var(--path);stroke-width:calc(1.2px*var(--k));stroke-dasharray:calc(4px*var(--k)) calc(3px*var(--k))}
.d-house{fill:var(--building);stroke:var(--building-edge);stroke-width:calc(1px*var(--k))}
.d-room{fill:var(--room);stroke:var(--ink);stroke-width:calc(1px*var(--k))}
.way-casing{stroke:var(--plate);stroke-width:calc(13px*var(--k))}
.way-line{stroke:var(--way);stroke-width:calc(8px*var(--k))}
.way-core{stroke:var(--core)}
.core-dash{stroke-width:calc(4px*var(--k));stroke-linecap:butt;stroke-dasharray:calc(7px*var(--k)) calc(7px*var(--k))}
.core-dot{stroke-width:calc(3px*var(--k));stroke-dasharray:calc(0.1px*var(--k)) calc(8px*var(--k))}
.hazard-plate{fill:none;stroke:var(--plate);stroke-width:calc(7px*var(--k))}
.hazard{fill:url(#hazard-hatch);stroke:var(--hazard);stroke-width:calc(3px*var(--k))}
.hatch-plate{stroke:var(--plate);stroke-width:7}
.hatch-ink{stroke:var(--hazard);stroke-width:2.5}
.name,.say{fill:var(--ink);font-size:13px;font-family:"DejaVu Sans",sans-serif;text-anchor:middle}
.name{stroke:var(--plate);stroke-width:3px;paint-order:stroke}
.say{font-weight:bold}
.hp{fill:var(--plate);stroke:var(--hazard);stroke-width:2}
.ends{fill:var(--plate);stroke:var(--ink);stroke-width:2}
.leader{fill:none;stroke:var(--ink);stroke-width:calc(2px*var(--k))}
"""
DEFS = (
    '<defs><pattern id="water-hatch" width="8" height="8" patternUnits="userSpaceOnUse">'
    '<path class="d-wave" d="M0 2.5H8M0 6.5H8"/></pattern>'
    '<pattern id="hazard-hatch" width="11" height="11" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<path class="hatch-plate" d="M5 0V11"/><path class="hatch-ink" d="M5 0V11"/></pattern></defs>'
)


def draw_scene(scene: Scene, words: Words, plane: Plane, *, has_defs: bool = True) -> str:
    """Draw what ``plane`` shows of ``scene`` as the inside of an SVG of the plane's size."""
    crowd = Crowd(plane.width, plane.height)
    parts = [DEFS if has_defs else "", '<rect class="d-paper" x="-9999" y="-9999" width="29999" height="29999"/>']
    parts += _ground(scene, plane)
    parts += _hazards(scene, plane)
    parts += _way(scene, plane)
    top = [*_arrowheads(scene, words, plane, crowd), *_marks(scene, plane, crowd)]
    parts += _hazard_words(scene, plane, crowd)
    parts += top
    parts += _names(scene, plane, crowd)
    return "".join(parts)


def standalone(inside: str, plane: Plane, theme: str) -> str:
    """Give a drawing as an SVG file with the colours of ``theme`` filled in, for programs that know no custom properties."""
    road = max(ROAD_M * plane.scale, LEAST_ROAD_PX)
    css = (DRAWING_CSS + MARK_CSS).replace("var(--casing-width)", f"{road + 1.5:.1f}px").replace("var(--road-width)", f"{road:.1f}px")
    css = re.sub(r"calc\(([0-9.]+px)\*var\(--k\)\)", r"\1", css)
    css = re.sub(r"var\(--([a-z-]+)\)", lambda match: THEMES[theme][match.group(1)], css)
    size = f'width="{plane.width:g}" height="{plane.height:g}" viewBox="0 0 {plane.width:g} {plane.height:g}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><style>{css}</style>{inside}</svg>'


def road_widths(plane: Plane) -> str:
    """Give the widths of roads on a page that zooms: as wide as on the ground, but never a hair."""
    road = f"max({LEAST_ROAD_PX}px*var(--k),{ROAD_M * plane.scale:.1f}px)"
    return f"svg.route,svg.picture{{--road-width:{road};--casing-width:calc({road} + 1.5px*var(--k))}}"


def scale_bar(plane: Plane, words: Words) -> tuple[float, str]:
    """Give a round length that fits a quarter of the window: in pixels and in words."""
    unit_m = M_PER_FOOT if words.units == "us" else 1.0
    most = plane.width / 4 / plane.scale / unit_m
    power = 10.0 ** math.floor(math.log10(most))
    length = next(step * power for step in (5.0, 2.0, 1.0) if step * power <= most)
    return length * unit_m * plane.scale, words.distance(length * unit_m)


def _ground(scene: Scene, plane: Plane) -> Iterator[str]:
    ground = scene.itinerary.backdrop
    yield _shape("d-green", plane, ground.green, is_closed=True)
    water = _shape("d-water", plane, ground.water, is_closed=True)
    yield water + water.replace("d-water", "d-ripple")
    yield _shape("d-stream", plane, ground.waterways)
    roads = _shape("d-casing", plane, (line for _, line in ground.roads))
    yield roads + roads.replace("d-casing", "d-road")
    yield _shape("d-path", plane, (line for _, line in ground.paths))
    yield _shape("d-house", plane, ground.buildings, is_closed=True)
    inside = {piece.level for piece in scene.itinerary.pieces if piece.level is not None}
    yield _shape("d-room", plane, (ring for level, _, ring in ground.rooms if level in inside), is_closed=True)


def _shape(name: str, plane: Plane, lines: Iterable[Sequence[LonLat]], *, is_closed: bool = False) -> str:
    data = "".join(plane.path(line, is_closed=is_closed) for line in lines if len(line) >= 2 and plane.shows(line))
    return f'<path class="{name}" d="{data}"/>' if data else ""


def _hazards(scene: Scene, plane: Plane) -> Iterator[str]:
    for hazard, _ in scene.hazards:
        yield _shape("hazard-plate", plane, hazard.rings, is_closed=True) + _shape("hazard", plane, hazard.rings, is_closed=True)


def _hazard_words(scene: Scene, plane: Plane, crowd: Crowd) -> Iterator[str]:
    for hazard, text in scene.hazards:
        dots = [plane.at(place) for ring in hazard.rings for place in ring]
        if not dots or not plane.shows([place for ring in hazard.rings for place in ring], slack=0):
            continue
        lines = _wrapped(text, 26)
        wide, high = max(text_width(line, 12.5) for line in lines) + 12, LINE * len(lines) + 8
        x = min(max(sum(x for x, _ in dots) / len(dots), wide / 2 + 2), plane.width - wide / 2 - 2)
        ys = (min(y for _, y in dots) - high / 2, max(y for _, y in dots) + high / 2, sum(y for _, y in dots) / len(dots))
        y = next((y for y in ys if crowd.claim(x, y, wide, high)), None)
        if y is not None:
            yield _plate("hp", x, y, wide, high, lines)


def _way(scene: Scene, plane: Plane) -> Iterator[str]:
    lines = [(run, plane.path(run.coordinates)) for run in scene.runs if plane.shows(run.coordinates)]
    everything = "".join(line for _, line in lines)
    yield f'<path class="way-casing" d="{everything}"/><path class="way-line" d="{everything}"/>'
    for name, chosen in (("core-dash", [line for run, line in lines if run.is_unverified]), ("core-dot", _costly(lines))):
        if chosen:
            yield f'<path class="way-core {name}" d="{"".join(chosen)}"/>'


def _costly(lines: Iterable[tuple[object, str]]) -> list[str]:
    return [line for run, line in lines if getattr(run, "is_costly", False) and not getattr(run, "is_unverified", False)]


def _arrowheads(scene: Scene, words: Words, plane: Plane, crowd: Crowd) -> Iterator[str]:
    for arrow in scene.arrowheads:
        x, y = plane.at((arrow.lon, arrow.lat))
        if 0 <= x <= plane.width and 0 <= y <= plane.height and crowd.is_free(x, y, 20, 20):
            figure = grade_figure(words, arrow.figure) if arrow.figure else ""
            crowd.take(x, y, 22, 22)
            if figure:
                right, down, wide = marks.figure_place(arrow.bearing_deg, figure)
                crowd.take(x + right, y + down, wide, 18)
            yield _k(x, y, marks.arrowheads(arrow.count, arrow.bearing_deg, figure), f' data-i="{arrow.index}"')


def _marks(scene: Scene, plane: Plane, crowd: Crowd) -> Iterator[str]:
    """Draw marks, the weightiest on top: one whose place is taken moves aside on a leader line, small ones are left out."""
    shown = [(n, mark) for n, mark in enumerate(scene.marks) if plane.shows([(mark.lon, mark.lat)], slack=0)]
    drawn: list[str] = []
    leaders: list[str] = []
    for n, mark in sorted(shown, key=lambda item: ORDER.index(item[1].kind) if item[1].kind in ORDER else len(ORDER)):
        x, y = plane.at((mark.lon, mark.lat))
        if mark.off_way_m is not None and mark.off_way_m * plane.scale < BAR_PX:
            continue
        if mark.kind in MOVES:
            dx, dy = (0.0, 0.0) if mark.kind in ("start", "goal") else _aside(x, y, crowd)
            leaders += [f"M{x:g} {y:g}L{x + dx:.0f} {y + dy:.0f}"] if dx or dy else []
            x, y = x + dx, y + dy
            crowd.take(x, y, BOX, BOX)
        elif not crowd.claim(x, y, BOX, BOX):
            continue
        drawn.append(_k(x, y, mark.fragment + _beside(scene, mark, x, y, crowd), f' data-m="{n}"'))
    yield f'<path class="leader" d="{"".join(leaders)}"/>'
    yield from reversed(drawn)


def _aside(x: float, y: float, crowd: Crowd) -> tuple[float, float]:
    """Give the nearest step aside to a free place, none if there is none."""
    steps = [(0.0, 0.0)] + [
        (reach * math.cos(math.radians(angle)), reach * math.sin(math.radians(angle)))
        for reach in (34.0, 58.0, 82.0, 108.0)
        for angle in (0, 180, 90, 270, 45, 135, 225, 315)
    ]
    return next(((dx, dy) for dx, dy in steps if crowd.is_free(x + dx, y + dy, BOX, BOX)), (0.0, 0.0))


def _beside(scene: Scene, mark: Mark, x: float, y: float, crowd: Crowd) -> str:
    """Give the words beside a mark, in its own coordinates."""
    if not mark.beside:
        return ""
    is_end = mark.kind in ("start", "goal")
    size = 16 if is_end else 13
    wide, high = text_width(mark.beside, size) + 10, size + 9
    right, down = way_end_direction(scene.itinerary, at_start=mark.kind == "start") if is_end else (1.0, 0.0)
    reach = wide / 2 + 14
    places = [(0.0, -30.0), (0.0, 32.0), (right * reach, down * 30), (reach + 4, 0.0), (-reach - 4, 0.0)]
    if down > 0:
        places[:2] = places[1::-1]
    if not is_end:
        places = [(reach + 4, 0.0), (-reach - 4, 0.0), (0.0, -28.0), (0.0, 28.0)]
    fits = [(dx, dy) for dx, dy in places if is_end or 0 < x + PHONE * 2 * dx < crowd.width]
    place = next(((dx, dy) for dx, dy in fits if crowd.claim(x + dx, y + dy, wide, high)), None)
    if place is None:
        return ""
    rect = _rect("ends" if is_end else "p", *place, wide, high)
    words = f'<text class="t" x="{place[0]:.1f}" y="{place[1] + size * 0.36:.1f}" font-size="{size}">{escape(mark.beside)}</text>'
    return f'<g class="beside">{rect}{words}</g>'


def _names(scene: Scene, plane: Plane, crowd: Crowd) -> Iterator[str]:
    for label in scene.labels:
        wide = text_width(label.text, 12)
        for lon, lat, heading in label.places:
            angle = upright(heading)
            x, y = plane.at((lon, lat))
            turn = math.radians(angle)
            high = abs(wide * math.sin(turn)) + 14 * abs(math.cos(turn))
            across = abs(wide * math.cos(turn)) + 14 * abs(math.sin(turn))
            side = next((s for s in (-17, 17) if crowd.claim(x - s * math.sin(turn), y + s * math.cos(turn), across, high)), None)
            if side is not None:
                text = f'<text class="name" y="{side + 4.5}" transform="rotate({angle})">{escape(label.text)}</text>'
                yield _k(x, y, text, ' data-name=""')
                break


def _plate(name: str, x: float, y: float, wide: float, high: float, lines: Sequence[str]) -> str:
    rows = "".join(
        f'<text class="say" y="{LINE * (n - (len(lines) - 1) / 2) + 4.5:.1f}">{escape(line)}</text>' for n, line in enumerate(lines)
    )
    return _k(x, y, _rect(name, 0.0, 0.0, wide, high) + rows, ' data-name=""')


def _rect(name: str, x: float, y: float, wide: float, high: float) -> str:
    return f'<rect class="{name}" x="{x - wide / 2:.1f}" y="{y - high / 2:.1f}" width="{wide:.1f}" height="{high:.1f}" rx="3"/>'


def _k(x: float, y: float, inside: str, more: str = "") -> str:
    return f'<g class="k" transform="translate({x:g} {y:g})"{more}>{inside}</g>'


def _wrapped(text: str, longest: int) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        if lines[-1] and len(lines[-1]) + len(word) >= longest:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines[:4]
