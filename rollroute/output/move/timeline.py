"""The time line as still drawings (SVG): one per group of lanes, each with its own clock, fit for a page of paper.

Kinds of bars differ in shape and filling, so that a grey photocopy tells them apart; colours come from the page's themes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from rollroute.output.map.plane import text_width
from rollroute.output.move.lanes import Bar, Lane
from rollroute.output.words import Words

WIDTH, LABEL, RIGHT = 720.0, 84.0, 24.0  # pixels; an A4 page is about this wide between its margins at 96 dpi
LANE, BAR, FONT, HEAD = 26.0, 18.0, 12.0, 22.0
NOTE = 15.0  # height of a line about a closing
MOST_LANES = 30  # of one drawing, so that it stays on one page
STEPS_MIN = (5, 10, 15, 30, 60, 120, 180, 360, 720)
MOST_TICKS = 9
SOON = dt.timedelta(hours=1)  # a closing up to this long after the last bar is still shown


@dataclass(frozen=True, slots=True)
class Closing:
    """A moment from which something is closed, in words; or the moment at which the plan was made anew."""

    moment: dt.datetime
    text: str
    is_now: bool = False


@dataclass(frozen=True, slots=True)
class Clock:
    """From moments to pixels."""

    start: dt.datetime
    end: dt.datetime
    step_min: int

    @classmethod
    def over(cls, lanes: Sequence[Lane], closings: Sequence[Closing] = ()) -> Clock | None:
        """The clock that shows all bars and whatever closes soon after the last, with whole steps; ``None`` where there is no bar."""
        if not any(lane.bars for lane in lanes):
            return None
        begin = min(b.start for lane in lanes for b in lane.bars)
        finish = max(b.end for lane in lanes for b in lane.bars)
        finish = max([finish, *(c.moment for c in closings if c.moment - finish <= SOON)])
        minutes = (finish - begin).total_seconds() / 60.0
        step = next((s for s in STEPS_MIN if minutes / s <= MOST_TICKS - 1), STEPS_MIN[-1])
        midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
        first = int((begin - midnight).total_seconds() // 60 // step) * step
        last = -int(-(finish - midnight).total_seconds() // 60 // step) * step
        return cls(midnight + dt.timedelta(minutes=first), midnight + dt.timedelta(minutes=last), step)

    def x(self, moment: dt.datetime) -> float:
        """Pixels from the left."""
        share = (moment - self.start) / (self.end - self.start)
        return round(LABEL + share * (WIDTH - LABEL - RIGHT), 1)

    def ticks(self) -> Iterator[dt.datetime]:
        """Moments with a line."""
        moment = self.start
        while moment <= self.end:
            yield moment
            moment += dt.timedelta(minutes=self.step_min)


def drawings(title: str, lanes: Sequence[Lane], closings: Sequence[Closing], clock: Clock, words: Words) -> list[Markup]:
    """Draw ``lanes``, at most ``MOST_LANES`` to a drawing, all on the same clock."""
    shown = [lane for lane in lanes if lane.bars]
    parts = [shown[i : i + MOST_LANES] for i in range(0, len(shown), MOST_LANES)]
    return [_drawing(title, part, closings, clock, words) for part in parts]


def _drawing(title: str, lanes: Sequence[Lane], closings: Sequence[Closing], clock: Clock, words: Words) -> Markup:
    inside = [c for c in closings if clock.start < c.moment <= clock.end]
    top = HEAD + NOTE * len(inside)
    height = top + LANE * len(lanes) + 6
    parts = [_grid(clock, top, height, words), *(_closing(c, n, clock, height) for n, c in enumerate(inside))]
    parts += [_lane(lane, top + LANE * n, clock) for n, lane in enumerate(lanes)]
    label = words.say("Time line: {what}. The same times stand in the tables below.", what=title)
    return Markup('<svg class="timeline" viewBox="0 0 {} {:g}" role="img" aria-label="{}">{}</svg>').format(
        f"{WIDTH:g}", height, label, Markup("").join(parts)
    )


def _grid(clock: Clock, top: float, height: float, words: Words) -> Markup:
    made = []
    for tick in clock.ticks():
        x = clock.x(tick)
        text = Markup('<text class="tl-tick" x="{}" y="15">{}</text>').format(x, words.time_of_day(tick))
        made.append(Markup('<path class="tl-grid" d="M{} {}V{}"/>').format(x, f"{HEAD:g}", f"{height:g}") + text)
    rule = Markup('<path class="tl-base" d="M0 {0}H{1}"/>').format(f"{top:g}", f"{WIDTH:g}")
    return Markup("").join([*made, rule])


def _closing(closing: Closing, n: int, clock: Clock, height: float) -> Markup:
    x, y = clock.x(closing.moment), HEAD + NOTE * n
    text, wide = _fitted(closing.text, WIDTH - LABEL)
    is_left = x + wide + 8 > WIDTH
    kind = "tl-now" if closing.is_now else "tl-closing"
    line = Markup('<path class="{}" d="M{} {:g}V{:g}"/>').format(kind, x, y, height)
    side = Markup('<text class="tl-note{}" x="{}" y="{:g}">{}</text>')
    return line + side.format(Markup(" tl-end") if is_left else "", x - 4 if is_left else x + 4, y + 11.5, text)


def _lane(lane: Lane, y: float, clock: Clock) -> Markup:
    label, _ = _fitted(lane.label, LABEL - 8)
    parts = [
        Markup('<text class="tl-label" x="2" y="{:g}">{}</text><path class="tl-row" d="M0 {:g}H{:g}"/>').format(
            y + LANE / 2 + 4.5, label, y + LANE, WIDTH
        )
    ]
    parts += [_bar(bar, y, clock) for bar in lane.bars]
    if lane.latest is not None and clock.start <= lane.latest <= clock.end:
        x = clock.x(lane.latest)
        parts.append(Markup('<path class="tl-latest" d="M{} {:g}v{:g}m0 -12l-7 -5v10z"/>').format(x, y + 2, LANE - 4))
    return Markup("").join(parts)


def _bar(bar: Bar, y: float, clock: Clock) -> Markup:
    x, wide = clock.x(bar.start), max(1.0, clock.x(bar.end) - clock.x(bar.start))
    middle = y + LANE / 2
    if bar.kind == "go":
        return Markup('<path class="tl-go" d="M{} {:g}h{:.1f}"/>').format(x, middle, wide)
    box = Markup('<rect class="tl-{}" x="{}" y="{:g}" width="{:.1f}" height="{:g}"/>').format(bar.kind, x, middle - BAR / 2, wide, BAR)
    strokes = (
        Markup('<path class="tl-socket" d="M{:.1f} {:g}v8m4 -8v8"/>').format(x + 5, middle - 4) if bar.kind in ("plug", "held") else ""
    )
    room = wide - (16 if strokes else 4)
    text, width = _fitted(bar.text, room)
    if not text or width > room:
        return box + strokes
    at = x + (13 if strokes else 0) + (wide - (13 if strokes else 0)) / 2
    return box + strokes + Markup('<text class="tl-text tl-on-{}" x="{:.1f}" y="{:g}">{}</text>').format(bar.kind, at, middle + 4.3, text)


def _fitted(text: str, room: float) -> tuple[str, float]:
    """Cut a text to ``room`` pixels; nothing where not even a few letters fit."""
    while text and text_width(text, FONT) > room:
        text = text[:-2].rstrip() + "…" if len(text) > 4 else ""
    return text, text_width(text, FONT)


TIMELINE_CSS = """
.timeline{display:block;width:100%;max-width:60rem;min-width:40rem;height:auto;font-family:"DejaVu Sans",sans-serif}
.timeline text{font-size:12px;fill:var(--ink)}
.timeline .tl-label{font-weight:bold;font-size:13px}
.tl-tick{text-anchor:middle}
.tl-grid{stroke:var(--road-edge);stroke-width:1;fill:none}
.tl-base{stroke:var(--ink);stroke-width:1.5;fill:none}
.tl-row{stroke:var(--road-edge);stroke-width:.5;fill:none}
.tl-go{stroke:var(--ink);stroke-width:3;stroke-dasharray:3 3;fill:none}
.tl-stand{fill:var(--building);stroke:var(--ink);stroke-width:1}
.tl-ride{fill:var(--plate);stroke:var(--ink);stroke-width:2.5}
.tl-roll{fill:var(--way);stroke:var(--ink);stroke-width:1}
.tl-plug{fill:var(--plate);stroke:var(--power);stroke-width:3}
.tl-held{fill:var(--plate);stroke:var(--ink);stroke-width:4}
.tl-socket{stroke:var(--ink);stroke-width:2;fill:none}
.tl-text{text-anchor:middle;font-weight:bold}
.timeline .tl-on-roll{fill:var(--core)}
.tl-closing{stroke:var(--hazard);stroke-width:2.5;stroke-dasharray:8 3;fill:none}
.tl-now{stroke:var(--ink);stroke-width:4;fill:none}
.tl-note{font-weight:bold;stroke:var(--panel);stroke-width:3px;paint-order:stroke}
.tl-end{text-anchor:end}
.tl-latest{stroke:var(--ink);stroke-width:2;fill:var(--ink)}
"""
