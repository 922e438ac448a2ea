"""The map of a move as one still drawing (SVG): for paper, and for readers whose browser runs no programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from markupsafe import Markup

from rollroute.output.itinerary import LonLat
from rollroute.output.map.drawing import DRAWING_CSS, ROAD_M, scale_bar
from rollroute.output.map.marks import MARK_CSS
from rollroute.output.map.page import HATCH
from rollroute.output.map.plane import Crowd, Plane, text_width
from rollroute.output.move.scene import Mark, MoveScene
from rollroute.output.plain_text import plain
from rollroute.output.words import Words

WIDTH, MARGIN = 1000.0, 12.0
BOX, FONT = 30.0, 15.0
ORDER = ("left", "shelter", "rider", "van", "zone")  # the first is placed first and drawn on top
STEPS = ((0, 0), (36, 0), (-36, 0), (0, 36), (0, -36), (36, 36), (-36, 36), (36, -36), (-36, -36), (72, 0), (-72, 0), (0, 72), (0, -72))
DASHES = ("", "14 5", "3 5", "14 4 3 4", "22 6", "8 8")  # one for each van in turn; the words at the marks say which
LEAST_ROAD_PX = 1.5
ASIDE = 4.5  # pixels right and down between vans, so that those who share a road lie beside each other


def still_map(scene: MoveScene, words: Words) -> Markup:
    """Draw the whole move."""
    west, south, east, north = scene.bounds
    plane = Plane.around([(west, south), (east, north)], width=WIDTH, margin=MARGIN)
    crowd = Crowd(plane.width, plane.height)
    groups = list(dict.fromkeys(line.group for line in scene.lines if line.kind in ("tour", "beeline")))
    parts = [*_ground(scene, plane), *_hazards(scene, plane), *_lines(scene, plane, groups)]
    parts += [*_marks(scene, plane, crowd), *_hazard_words(scene, plane, crowd), _scale(plane, words)]
    label = words.say("Map of the move, north up. Everything on it stands in the tables too.")
    frame = Markup('<svg class="townmap picture" viewBox="0 0 {:g} {:g}" role="img" aria-label="{}">{}</svg>')
    return HATCH + frame.format(plane.width, plane.height, label, Markup("").join(parts))


def still_css(scene: MoveScene) -> str:
    """The drawing's sheet of styles."""
    west, south, east, north = scene.bounds
    plane = Plane.around([(west, south), (east, north)], width=WIDTH, margin=MARGIN)
    road = max(ROAD_M * plane.scale, LEAST_ROAD_PX)
    widths = f".townmap{{--k:1;--road-width:{road:.1f}px;--casing-width:{road + 1.5:.1f}px}}"
    return DRAWING_CSS + MARK_CSS + widths + STILL_CSS


STILL_CSS = """
.m-tour{fill:none;stroke:var(--ink);stroke-width:3.5}
.m-under{fill:none;stroke:var(--plate);stroke-width:7}
.m-tie{fill:none;stroke:var(--ink);stroke-width:1.5;stroke-dasharray:2 3}
.m-leader{fill:none;stroke:var(--ink);stroke-width:1}
.m-label{fill:var(--ink);font-family:"DejaVu Sans",sans-serif;font-size:15px;font-weight:bold}
.m-label{stroke:var(--plate);stroke-width:4px;paint-order:stroke}
.m-rule{fill:none;stroke:var(--ink);stroke-width:2.5}
"""


def _shape(name: str, plane: Plane, lines: Iterable[Sequence[LonLat]], *, is_closed: bool = False) -> Markup:
    data = "".join(plane.path(line, is_closed=is_closed) for line in lines if len(line) >= 2 and plane.shows(line))
    return Markup('<path class="{}" d="{}"/>').format(name, data) if data else Markup("")


def _ground(scene: MoveScene, plane: Plane) -> Iterator[Markup]:
    ground = scene.ground
    yield Markup('<rect class="d-paper" width="{:g}" height="{:g}"/>').format(plane.width, plane.height)
    yield _shape("d-green", plane, ground.green, is_closed=True)
    yield _shape("d-water", plane, ground.water, is_closed=True)
    yield _shape("d-stream", plane, ground.waterways)
    yield _shape("d-casing", plane, (line for _, line in ground.roads))
    yield _shape("d-road", plane, (line for _, line in ground.roads))
    yield _shape("d-house", plane, ground.buildings, is_closed=True)


def _hazards(scene: MoveScene, plane: Plane) -> Iterator[Markup]:
    for _, rings in scene.hazards:
        yield _shape("hazard-plate", plane, rings, is_closed=True)
        yield _shape("hazard", plane, rings, is_closed=True)


def _lines(scene: MoveScene, plane: Plane, groups: Sequence[str]) -> Iterator[Markup]:
    tours = [line for line in scene.lines if line.kind in ("tour", "beeline")]
    for n, group in enumerate(groups):
        dash, aside = DASHES[n % len(DASHES)] or "none", ASIDE * (n - (len(groups) - 1) / 2)
        data = "".join(plane.path(line.line) for line in tours if line.group == group)
        lines = Markup('<path class="m-under" d="{0}"/><path class="m-tour" stroke-dasharray="{1}" d="{0}"/>').format(data, dash)
        yield Markup('<g transform="translate({0:g} {0:g})">{1}</g>').format(aside, lines)
    yield _shape("m-tie", plane, (line.line for line in scene.lines if line.kind == "tie"))
    rolls = [line.line for line in scene.lines if line.kind == "roll"]
    yield _shape("way-casing", plane, rolls)
    yield _shape("way-line", plane, rolls)


def _marks(scene: MoveScene, plane: Plane, crowd: Crowd) -> Iterator[Markup]:
    """Marks, the weightiest first; one whose place is taken moves aside on a leader line."""
    drawn: list[Markup] = []
    for mark in sorted(scene.marks, key=lambda m: ORDER.index(m.kind)):
        x, y = plane.at(mark.place)
        wide = BOX + (text_width(mark.label, FONT) + 8 if mark.label else 0)
        sides = (1, -1) if mark.label else (1,)
        tries = ((dx, dy, side) for dx, dy in STEPS for side in sides)
        fits = (t for t in tries if crowd.claim(x + t[0] + t[2] * (wide - BOX) / 2, y + t[1], wide, BOX))
        drawn.append(_mark(mark, x, y, next(fits, (0, 0, 1))))
    yield from reversed(drawn)


def _mark(mark: Mark, x: float, y: float, aside: tuple[float, float, int]) -> Markup:
    dx, dy, side = aside
    leader = Markup('<path class="m-leader" d="M{:g} {:g}l{:g} {:g}"/>').format(x, y, dx, dy) if dx or dy else Markup("")
    anchor = "start" if side > 0 else "end"
    label = Markup("")
    if mark.label:
        label = Markup('<text class="m-label" text-anchor="{}" x="{}" y="5">{}</text>').format(anchor, 19 * side, mark.label)
    return leader + Markup('<g transform="translate({:g} {:g})">{}{}</g>').format(x + dx, y + dy, Markup(mark.fragment), label)


def _hazard_words(scene: MoveScene, plane: Plane, crowd: Crowd) -> Iterator[Markup]:
    for text, rings in scene.hazards:
        dots = [plane.at(place) for ring in rings for place in ring]
        if not dots:
            continue
        shown = plain(text, longest=70)
        wide = text_width(shown, FONT) + 8
        x = min(max(sum(x for x, _ in dots) / len(dots), wide / 2 + 4), plane.width - wide / 2 - 4)
        middle = sum(y for _, y in dots) / len(dots)
        ys = (middle, *(middle + step * side for step in (24, 48, 72, 110) for side in (-1, 1)))
        y = next((y for y in ys if crowd.claim(x, y, wide, 20)), None)
        if y is not None:
            yield Markup('<text class="m-label" text-anchor="middle" x="{:.1f}" y="{:.1f}">{}</text>').format(x, y + 5, shown)


def _scale(plane: Plane, words: Words) -> Markup:
    pixels, text = scale_bar(plane, words)
    y = plane.height - 14
    bar = Markup('<path class="m-rule" d="M12 {0:g}v8h{1:.1f}v-8"/><text class="m-label" x="{2:.1f}" y="{3:g}">{4}</text>')
    return bar.format(y - 8, pixels, pixels + 20, y, text)
