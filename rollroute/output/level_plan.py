"""One level of a building as a small plan, for paper, link and map: rooms, doors with their width, lifts, stairs, and the way."""

from __future__ import annotations

from itertools import pairwise

from rollroute.output.crowd import XY
from rollroute.output.itinerary import LevelPlan, LonLat, PlanMark
from rollroute.output.plain_text import plain
from rollroute.output.sheet.canvas import Canvas, frame_around, path_data, text_width_pt
from rollroute.output.sheet.grid import draw_scale_bar
from rollroute.output.words import Words
from rollroute.output.words.facts import floor_words

MARGIN_PT = 22.0
LEAST_HEIGHT_PT = 110.0
WAY_PT = 3.6
END_DOT_OFF_PT = 4.0  # an end of the way nearer than this to a door or lift is that door or lift
ROOM_NAME_PT = (8.5, 7.2)  # the larger one where it fits
FIGURE_PT = 8.5
LONGEST_NAME = 22  # letters
SHIFTS = ((0.0, 0.0), (0.0, -1.5), (0.0, 1.5), (-2.5, 0.0), (2.5, 0.0), (0.0, -3.0), (0.0, 3.0), (-4.0, 0.0), (4.0, 0.0))
"""Places tried for a name around the middle of its room, in heights of its letters."""


def draw_level_plan(plan: LevelPlan, words: Words, *, width_pt: float, most_height_pt: float) -> tuple[str, str]:
    """Draw a level north up; gives the SVG, ``width_pt`` wide, and its text alternative.

    Everything carries its own colours, so that it reads the same on paper and on a dark page, and in grey.
    """
    places = [*plan.outline, *(c for _, _, ring in plan.rooms for c in ring), *(c for line in plan.way for c in line)]
    tall = frame_around(places, width_pt=width_pt, height_pt=1e6, margin_pt=MARGIN_PT)
    ys = [y for _, y in tall.line(places)]
    height_pt = min(max(max(ys) - min(ys) + 2 * MARGIN_PT, LEAST_HEIGHT_PT), most_height_pt)
    canvas = Canvas(frame_around(places, width_pt=width_pt, height_pt=height_pt, margin_pt=MARGIN_PT))
    _ground(canvas, plan)
    for line in plan.way:
        canvas.crowd.draw_way(canvas.frame.line(line))
    for line in plan.way:
        points = canvas.frame.line(line)
        canvas.polyline(points, f'stroke="#fff" stroke-width="{WAY_PT + 2.8}" stroke-linecap="round" stroke-linejoin="round"')
        canvas.polyline(points, f'stroke="#000" stroke-width="{WAY_PT}" stroke-linecap="round" stroke-linejoin="round"')
    draw_scale_bar(canvas, words, size=8.5)
    _marks(canvas, plan, words)
    _ends(canvas, plan, words)
    for _, name, ring in plan.rooms:
        if name:
            _room_name(canvas, plain(name, longest=LONGEST_NAME), ring)
    return _svg(canvas), plan_words(plan, words)


def plan_title(plan: LevelPlan, words: Words) -> str:
    """Building and level."""
    level = floor_words(plan.level, words)
    return f"{plain(plan.building)}, {level}" if plan.building else level


def plan_words(plan: LevelPlan, words: Words) -> str:
    """What a plan shows, in words."""
    say = words.say
    rooms = [plain(name) for _, name, _ in plan.rooms if name]
    passed = [mark_words(mark, words) for mark in plan.marks if mark.is_on_way]
    parts = [
        say("Plan, north up: {floor}.", floor=plan_title(plan, words)),
        say("Rooms: {list}.", list=", ".join(rooms)) if rooms else "",
        say("The way here: {list}.", list=", ".join(words.stretch(a, b) for a, b in plan.way_m)),
        say("On the way: {list}.", list=", ".join(passed)) if passed else "",
    ]
    return " ".join(part for part in parts if part)


def mark_words(mark: PlanMark, words: Words) -> str:
    """A door or lift with its width; whether a motor opens it."""
    say = words.say
    if mark.kind == "lift":
        return say("lift") if mark.width_m is None else say("lift, {width}", width=words.size(mark.width_m))
    if mark.width_m is None:
        return say("automatic door, width not known") if mark.needs_power else say("door, width not known")
    width = words.size(mark.width_m)
    return say("automatic door, {width}", width=width) if mark.needs_power else say("door, {width}", width=width)


def legend_words(words: Words) -> str:
    """One line that explains the marks of all plans."""
    return words.say(
        "Thick line: the way, with metres where it enters and leaves the floor. White box: door with its width; M: moved by a motor, "
        "needs power. Box with arrows: lift, needs power. Ladder: stairs. The plan is only as good as the map: look first."
    )


def _ground(canvas: Canvas, plan: LevelPlan) -> None:
    frame = canvas.frame
    canvas.polygon(frame.line(plan.outline), 'fill="#eee" stroke="#000" stroke-width="1.6"')
    for kind, _, ring in plan.rooms:
        fill = "#e2e2e2" if kind == "room" else "#fff"
        canvas.polygon(frame.line(ring), f'fill="{fill}" stroke="#555" stroke-width="0.8"')
    for line in plan.stairs:
        points = frame.line(line)
        canvas.polyline(points, 'stroke="#000" stroke-width="6"')
        canvas.polyline(points, 'stroke="#fff" stroke-width="4.6"')
        canvas.polyline(points, 'stroke="#000" stroke-width="4.6" stroke-dasharray="0.8 2"')
    for line in plan.ramps:
        canvas.polyline(frame.line(line), 'stroke="#555" stroke-width="6"')
        canvas.polyline(frame.line(line), 'stroke="#fff" stroke-width="4.8"')


def _marks(canvas: Canvas, plan: LevelPlan, words: Words) -> None:
    """Doors and lifts; figures stand only beside those on the way, for want of room."""
    for mark in sorted(plan.marks, key=lambda one: not one.is_on_way):
        x, y = canvas.frame.xy((mark.lon, mark.lat))
        size = 4.5 if mark.kind == "lift" else 2.4
        width = 1.4 if mark.is_on_way else 0.8
        canvas.add(
            f'<rect x="{x - size:.1f}" y="{y - size:.1f}" width="{2 * size:.1f}" height="{2 * size:.1f}" fill="#fff" '
            f'stroke="#000" stroke-width="{width}"/>'
        )
        if mark.kind == "lift":
            canvas.add(f'<path d="M{x - 2.6:.1f} {y - 0.8:.1f}h5.2l-2.6 -2.8ZM{x - 2.6:.1f} {y + 0.8:.1f}h5.2l-2.6 2.8Z" fill="#000"/>')
        canvas.crowd.take(x, y, 2 * size + 2, 2 * size + 2)
    for mark in plan.marks:
        motor = "M" if mark.kind == "door" and mark.needs_power else ""
        figure = "" if mark.width_m is None else words.size(mark.width_m)
        if mark.is_on_way and (motor or figure):
            _beside(canvas, canvas.frame.xy((mark.lon, mark.lat)), f"{motor} {figure}".strip(), reach=5.5)


def _ends(canvas: Canvas, plan: LevelPlan, words: Words) -> None:
    """Metres of the way where it comes onto the level and where it leaves it; a dot where no door or lift stands there."""
    marked = [canvas.frame.xy((mark.lon, mark.lat)) for mark in plan.marks]
    for line, metres in zip(plan.way, plan.way_m, strict=True):
        for place, at_m in ((line[0], metres[0]), (line[-1], metres[1])):
            x, y = canvas.frame.xy(place)
            if all(abs(x - mx) + abs(y - my) > END_DOT_OFF_PT for mx, my in marked):
                canvas.add(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="#000" stroke="#fff" stroke-width="1"/>')
            _beside(canvas, (x, y), words.distance(at_m), reach=6.0, bold=True)


def _beside(canvas: Canvas, at: XY, text: str, *, reach: float, bold: bool = False) -> None:
    """Words beside a mark: the first of eight places where they hide nothing; where all are taken, the first that fits the window."""
    x, y = at
    half, high = text_width_pt(text, FIGURE_PT) / 2, FIGURE_PT / 2 + 1
    across, along = reach + half, reach + high
    middles = [(x + across, y), (x - across, y), (x, y - along), (x, y + along)]
    middles += [(x + dx * across, y + dy * along) for dx in (1, -1) for dy in (-1, 1)]
    boxes = [(mx - half, my - high, mx + half, my + high) for mx, my in middles]
    free = [n for n, box in enumerate(boxes) if canvas.crowd.has_room(box)]
    best = min(free, key=lambda n: canvas.crowd.hides_way(boxes[n]), default=None)
    if best is not None:
        canvas.crowd.taken.append(boxes[best])
        canvas.text(*middles[best], text, size=FIGURE_PT, bold=bold)


def _room_name(canvas: Canvas, name: str, ring: list[LonLat]) -> None:
    """A room's name about its middle, in one line or two; left out where there is no room for it (the words beside the plan have it)."""
    points = canvas.frame.line(ring[:-1])
    x, y = _middle(points)
    inner = max(p[0] for p in points) - min(p[0] for p in points)
    for size in ROOM_NAME_PT:
        lines = [name] if text_width_pt(name, size) <= inner or " " not in name else _halves(name)
        half, high = max(text_width_pt(line, size) for line in lines) / 2, len(lines) * size * 0.6
        for dx, dy in SHIFTS:
            at = (x + dx * size, y + dy * size)
            box = (at[0] - half, at[1] - high, at[0] + half, at[1] + high)
            if canvas.crowd.has_room(box) and not canvas.crowd.hides_way(box) and is_inside(at, points):
                canvas.crowd.taken.append(box)
                for n, line in enumerate(lines):
                    canvas.text(at[0], at[1] + (n - (len(lines) - 1) / 2) * size * 1.15, line, size=size)
                return


def is_inside(at: XY, ring: list[XY]) -> bool:
    """Whether a point lies in a ring: a ray from it crosses the rim an odd number of times (the Jordan curve theorem)."""
    crossings = 0
    for (x1, y1), (x2, y2) in pairwise([*ring, ring[0]]):
        if (y1 > at[1]) != (y2 > at[1]) and at[0] < x1 + (at[1] - y1) * (x2 - x1) / (y2 - y1):
            crossings += 1
    return crossings % 2 == 1


def _halves(name: str) -> list[str]:
    """A name in two lines of about the same length."""
    blanks = [n for n, letter in enumerate(name) if letter == " "]
    cut = min(blanks, key=lambda n: abs(2 * n - len(name)))
    return [name[:cut], name[cut + 1 :]]


def _middle(ring: list[XY]) -> XY:
    """The centroid of a ring."""
    area2 = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*ring, ring[0]]))
    if abs(area2) < 1e-6:
        return sum(p[0] for p in ring) / len(ring), sum(p[1] for p in ring) / len(ring)
    x = sum((a[0] + b[0]) * (a[0] * b[1] - b[0] * a[1]) for a, b in pairwise([*ring, ring[0]])) / (3 * area2)
    y = sum((a[1] + b[1]) * (a[0] * b[1] - b[0] * a[1]) for a, b in pairwise([*ring, ring[0]])) / (3 * area2)
    return x, y


def _svg(canvas: Canvas) -> str:
    """The finished drawing, without ids: several stand on one page."""
    w, h = canvas.frame.width_pt, canvas.frame.height_pt
    edge = path_data([(0.5, 0.5), (w - 0.5, 0.5), (w - 0.5, h - 0.5), (0.5, h - 0.5)])
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:g}pt" height="{h:g}pt" viewBox="0 0 {w:g} {h:g}">'
        f'<rect width="{w:g}" height="{h:g}" fill="#fff"/>{"".join(canvas.elements)}'
        f'<path d="{edge}Z" fill="none" stroke="#000" stroke-width="0.8"/></svg>'
    )
