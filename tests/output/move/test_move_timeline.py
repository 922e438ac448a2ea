"""The time line: where bars lie, by hand, and that everything drawn is in the plan."""

from __future__ import annotations

import datetime as dt
import re

from hypothesis import given
from hypothesis import strategies as st
from lxml import html
from move_papers import Papers

from rollroute.output.map.style import THEMES, contrast_ratio
from rollroute.output.move import lanes, timeline
from rollroute.output.move.facts import gather
from rollroute.output.words import Words

START = dt.datetime(2026, 3, 1, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=1)))


def at(minute: float) -> dt.datetime:
    return START + dt.timedelta(minutes=minute)


def lane(*bars: tuple[float, float]) -> lanes.Lane:
    return lanes.Lane(label="R1", bars=tuple(lanes.Bar(start=at(a), end=at(b), kind="stand", text="load") for a, b in bars))


def test_the_clock_has_whole_steps_around_all_bars():
    """18:40 to 20:30 is 110 min: steps of 15 give 8 ticks at most 9; from 18:30 to 20:30."""
    clock = timeline.Clock.over([lane((0, 110))])
    assert clock is not None
    assert (clock.start.strftime("%H:%M"), clock.end.strftime("%H:%M"), clock.step_min) == ("18:30", "20:30", 15)
    assert len(list(clock.ticks())) == 9


def test_a_bar_lies_where_its_time_is():
    """The clock runs from 84 px to 720 - 24 = 696 px: 612 px for 120 min, 5.1 px each; 18:40 is 10 min after 18:30, at 84 + 51."""
    clock = timeline.Clock.over([lane((0, 110))])
    assert clock is not None
    assert clock.x(at(0)) == 135.0
    drawing = timeline.drawings("Riders", [lane((0, 110))], [], clock, Words())[0]
    box = html.fragment_fromstring(str(drawing)).xpath("//*[@class='tl-stand']")[0]
    assert (float(box.get("x")), float(box.get("width"))) == (135.0, 561.0)  # 110 min


def test_a_night_over_midnight_is_drawn():
    """Outlets from 19:20 to 07:00 on the next day: the clock does not break at midnight."""
    clock = timeline.Clock.over([lane((40, 740))])
    assert clock is not None
    assert clock.start <= at(40)
    assert clock.end >= at(740)
    assert [t.strftime("%H:%M") for t in clock.ticks()][:3] == ["18:00", "20:00", "22:00"]


def test_what_closes_soon_after_the_last_bar_is_still_shown():
    """Half an hour later is shown; three hours later would squeeze everything else."""
    soon, late = timeline.Closing(at(140), "river"), timeline.Closing(at(400), "later")
    clock = timeline.Clock.over([lane((0, 110))], [soon, late])
    assert clock is not None
    assert at(140) <= clock.end < at(400)


def test_no_bars_make_no_drawing():
    """A move in which nobody goes has no time line."""
    assert timeline.Clock.over([]) is None
    assert timeline.Clock.over([lane()]) is None


def test_many_lanes_are_cut_into_pages():
    """200 riders: 30 to a drawing, all on the same clock."""
    many = [lane((n, n + 10)) for n in range(200)]
    clock = timeline.Clock.over(many)
    assert clock is not None
    drawn = timeline.drawings("Riders", many, [], clock, Words())
    assert len(drawn) == 7
    ticks = {tuple(re.findall(r'class="tl-tick" x="([\d.]+)"', str(d))) for d in drawn}
    assert len(ticks) == 1


@given(st.lists(st.tuples(st.floats(0, 2000), st.floats(0.01, 900)), min_size=1, max_size=12))
def test_every_bar_stays_inside_the_drawing(spans: list[tuple[float, float]]):
    """Whatever the times, nothing is cut off at the right or runs over the names at the left."""
    found = [lane((a, a + length)) for a, length in spans]
    clock = timeline.Clock.over(found)
    assert clock is not None
    assert len(list(clock.ticks())) <= 13
    for drawing in timeline.drawings("x", found, [], clock, Words()):
        for box in html.fragment_fromstring(str(drawing)).xpath("//*[@class='tl-stand']"):
            assert float(box.get("x")) >= timeline.LABEL - 0.1
            assert float(box.get("x")) + float(box.get("width")) <= timeline.WIDTH - timeline.RIGHT + 1.1


def test_every_rider_van_escort_and_outlet_of_the_plan_has_a_lane(small: Papers):
    """By the labels on the page: A and B with their van, C who rolls, V1, E1, three outlets."""
    tree = html.fromstring((small.folder / "index.html").read_text(encoding="utf-8"))
    labels = [e.text_content() for e in tree.xpath("//*[contains(@class, 'tl-label')]")]
    assert labels == ["A · V1", "B · V1", "C", "V1", "E1", "A 1", "A 2", "A 3"]


def test_a_lane_tells_the_riders_minutes(small: Papers):
    """B: loading 10 min, in the van 13 min, unloading 5 min; the latest is 20:27."""
    facts = gather(small.plan, small.move, small.travel, words=Words())
    own = next(found for found in lanes.rider_lanes(facts) if found.label.startswith("B"))
    assert [(b.kind, (b.end - b.start).seconds // 60) for b in own.bars] == [("stand", 10), ("ride", 13), ("stand", 5)]
    assert own.latest == at(107)


def test_bars_are_read_on_their_ground_in_both_themes():
    """WCAG 2.2, 1.4.11 and 1.4.3: outlines at least 3:1 on the panel, words at least 4.5:1 on their bar."""
    for theme in THEMES.values():
        for ink in ("ink", "hazard", "power", "way"):
            assert contrast_ratio(theme[ink], theme["panel"]) >= 3.0, ink
        assert contrast_ratio(theme["ink"], theme["building"]) >= 4.5
        assert contrast_ratio(theme["ink"], theme["plate"]) >= 4.5
        assert contrast_ratio(theme["core"], theme["way"]) >= 4.5
