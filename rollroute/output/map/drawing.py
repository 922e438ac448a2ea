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
from rollroute.output.map.way import Arrowhead
from rollroute.output.words import Words
from rollroute.units import M_PER_FOOT

ROAD_M, LEAST_ROAD_PX = 7.0, 2.5  # drawn width of a street: our choice
BOX, ARROW = 32.0, 22.0  # pixels that a mark and arrowheads take
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
.leader,.leader-dot{fill:none;stroke:var(--ink);stroke-width:calc(2px*var(--k))}
.leader-dot{stroke-width:calc(7px*var(--k));stroke-linecap:round}
"""
DEFS = (
    '<defs><pattern id="water-hatch" width="8" height="8" patternUnits="userSpaceOnUse">'
    '<path class="d-wave" d="M0 2.5H8M0 6.5H8"/></pattern>'
    '<pattern id="hazard-hatch" width="11" height="11" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<path class="hatch-plate" d="M5 0V11"/><path class="hatch-ink" d="M5 0V11"/></pattern></defs>'
)


def draw_scene(scene: Scene, words: Words, plane: Plane, *, has_defs: bool = True) -> str:
    """Draw what ``plane`` shows of ``scene`` as the inside of an SVG of the plane's size.

    Everything asks for room in the order of its weight: ends and halts with their words, the slope of each run, questions and refuges,
    hazards, further arrowheads, marks that wait for a closer look, street names.
    """
    crowd = Crowd(plane.width, plane.height)
    for run in scene.runs:
        crowd.draw_way([plane.at(place) for place in run.coordinates])
    parts = [DEFS if has_defs else "", '<rect class="d-paper" x="-9999" y="-9999" width="29999" height="29999"/>']
    parts += _ground(scene, plane)
    parts += _hazards(scene, plane)
    parts += _way(scene, plane)
    first = [*_fixed(scene, plane, crowd, ("start", "goal"))]
    first += _moved(scene, _move(scene, plane, crowd, ("halt",)), crowd)
    arrows = _arrowheads(scene, plane, crowd, first=True)
    places = _move(scene, plane, crowd, ("question", "refuge"))
    slopes = [*_slopes(arrows, words, plane, crowd)]
    moved = [*_moved(scene, places, crowd)]
    hazards = [*_hazard_words(scene, plane, crowd)]
    slopes += _slopes(_arrowheads(scene, plane, crowd, first=False), words, plane, crowd)
    waiting = [*_fixed(scene, plane, crowd, [kind for kind in RAISED if kind not in MOVES])]
    parts += [*hazards, *slopes, *_leaders(crowd), *reversed([*first, *moved, *waiting])]
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
        place = crowd.choose(x, 0.0, wide, high, [(0.0, y) for y in ys])
        if place is not None:
            yield _plate("hp", x, place[1], wide, high, lines)


def _way(scene: Scene, plane: Plane) -> Iterator[str]:
    lines = [(run, plane.path(run.coordinates)) for run in scene.runs if plane.shows(run.coordinates)]
    everything = "".join(line for _, line in lines)
    yield f'<path class="way-casing" d="{everything}"/><path class="way-line" d="{everything}"/>'
    for name, chosen in (("core-dash", [line for run, line in lines if run.is_unverified]), ("core-dot", _costly(lines))):
        if chosen:
            yield f'<path class="way-core {name}" d="{"".join(chosen)}"/>'


def _costly(lines: Iterable[tuple[object, str]]) -> list[str]:
    return [line for run, line in lines if getattr(run, "is_costly", False) and not getattr(run, "is_unverified", False)]


def _arrowheads(scene: Scene, plane: Plane, crowd: Crowd, *, first: bool) -> list[Arrowhead]:
    """Give the ``first`` arrowheads of each run for which there is room, or the others."""
    arrows = [arrow for arrow in scene.arrowheads if (arrow.index == 0) == first]
    return [arrow for arrow in arrows if crowd.claim(*plane.at((arrow.lon, arrow.lat)), ARROW, ARROW)]


def _slopes(arrows: Sequence[Arrowhead], words: Words, plane: Plane, crowd: Crowd) -> Iterator[str]:
    """Draw arrowheads, and their figures where there is room."""
    for arrow in arrows:
        x, y = plane.at((arrow.lon, arrow.lat))
        figure = grade_figure(words, arrow.figure) if arrow.figure else ""
        room = (*marks.figure_place(arrow.bearing_deg, figure), 18.0)
        if figure and not crowd.claim(x + room[0], y + room[1], room[2], room[3]):
            figure = ""
        more = ' data-f="{:.1f} {:.1f} {:.1f} {:.1f}"'.format(*room) if figure else ""
        yield _k(x, y, marks.arrowheads(arrow.count, arrow.bearing_deg, figure), f' data-i="{arrow.index}"{more}')


def _shown(scene: Scene, plane: Plane, kinds: Sequence[str]) -> list[tuple[int, Mark, float, float]]:
    """Give the marks of these kinds in the window, the weightiest first: number, mark, place in pixels."""
    found = [(n, mark, *plane.at((mark.lon, mark.lat))) for n, mark in enumerate(scene.marks) if mark.kind in kinds]
    inside = [row for row in found if 0 <= row[2] <= plane.width and 0 <= row[3] <= plane.height]
    return sorted(inside, key=lambda row: -RAISED[row[1].kind])


def _fixed(scene: Scene, plane: Plane, crowd: Crowd, kinds: Sequence[str]) -> Iterator[str]:
    """Draw marks that stand at their very place or nowhere: the ends of the way always, others where there is room."""
    shown = _shown(scene, plane, kinds)
    drawn = []
    for row in shown:
        _, mark, x, y = row
        boxes = [(x + right, y + down, wide, high) for right, down, wide, high in mark.room]
        is_like_way = mark.off_way_m is not None and mark.off_way_m * plane.scale < BAR_PX
        if mark.kind not in MOVES and (is_like_way or not all(crowd.is_free(*box) for box in boxes)):
            continue
        for box in boxes:
            crowd.take(*box)
        drawn.append(row)
    for n, mark, x, y in drawn:  # the words of an end know where the other end is
        yield _k(x, y, mark.fragment + _beside(scene, mark, x, y, crowd), f' data-m="{n}"')


def _move(scene: Scene, plane: Plane, crowd: Crowd, kinds: Sequence[str]) -> dict[int, tuple[float, float]]:
    """Give the places of marks that step aside where their own is taken: first of all that need not."""
    shown = _shown(scene, plane, kinds)
    stay = {n: (x, y) for n, _, x, y in shown if crowd.claim(x, y, BOX, BOX)}
    places = {}
    for n, _, x, y in shown:
        dx, dy = (0.0, 0.0) if n in stay else crowd.step_aside(x, y, BOX, BOX) or (0.0, 0.0)
        places[n] = (x + dx, y + dy)
    return places


def _moved(scene: Scene, places: dict[int, tuple[float, float]], crowd: Crowd) -> Iterator[str]:
    """Draw them with their words, the weightiest first."""
    for n, (x, y) in places.items():
        yield _k(x, y, scene.marks[n].fragment + _beside(scene, scene.marks[n], x, y, crowd), f' data-m="{n}"')


def _leaders(crowd: Crowd) -> Iterator[str]:
    """Draw leaders, each with a dot at the place that its mark speaks of."""
    lines = "".join(f"M{x:g} {y:g}L{to_x:.0f} {to_y:.0f}" for (x, y), (to_x, to_y) in crowd.leaders)
    dots = "".join(f"M{x:g} {y:g}h0" for (x, y), _ in crowd.leaders)
    yield f'<path class="leader" d="{lines}"/><path class="leader-dot" d="{dots}"/>'


def _beside(scene: Scene, mark: Mark, x: float, y: float, crowd: Crowd) -> str:
    """Give the words beside a mark, in its own coordinates."""
    if not mark.beside:
        return ""
    is_end = mark.kind in ("start", "goal")
    size = 16 if is_end else 13
    wide, high = text_width(mark.beside, size) + 10, size + 9
    away = way_end_direction(scene.itinerary, at_start=mark.kind == "start") if is_end else None
    place = crowd.choose(x, y, wide, high, _places_beside(wide, high, away))
    if place is None:
        return ""
    rect = _rect("ends" if is_end else "p", *place, wide, high)
    words = f'<text class="t" x="{place[0]:.1f}" y="{place[1] + size * 0.36:.1f}" font-size="{size}">{escape(mark.beside)}</text>'
    return f'<g class="beside">{rect}{words}</g>'


def _places_beside(wide: float, high: float, away: tuple[float, float] | None) -> list[tuple[float, float]]:
    """Give places for words beside a mark, the best first; those of start and goal lead ``away`` from the way."""
    reach, over = wide / 2 + BOX / 2 + 2, high / 2 + BOX / 2 + 1
    corners = [(right * reach, down * over) for down in (-1, 1) for right in (1, -1)]
    if away is None:
        return [(reach, 0.0), (-reach, 0.0), (0.0, -over), (0.0, over), *corners]
    ends = [(0.0, over), (0.0, -over)] if away[1] > 0 else [(0.0, -over), (0.0, over)]
    return [*ends, (away[0] * reach, away[1] * 30), (reach, 0.0), (-reach, 0.0), *corners]


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
