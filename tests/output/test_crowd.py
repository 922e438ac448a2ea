"""Where marks and words stand: nothing on anything else, the way left free, leaders short and apart."""

from __future__ import annotations

import itertools
import math
import re
from importlib.resources import files

from hypothesis import given
from hypothesis import strategies as st

from rollroute.output.crowd import ANGLES, CROSSING, ON_WAY, REACHES, Crowd, box_around

SIDE = 32.0
PLACES = st.lists(st.tuples(st.floats(20, 380), st.floats(20, 280)), min_size=1, max_size=14)


def _placed(crowd: Crowd, places: list[tuple[float, float]]) -> list[tuple[float, float] | None]:
    found: list[tuple[float, float] | None] = []
    for x, y in places:
        if crowd.claim(x, y, SIDE, SIDE):
            found.append((x, y))
        else:
            step = crowd.step_aside(x, y, SIDE, SIDE)
            found.append(None if step is None else (x + step[0], y + step[1]))
    return found


@given(PLACES)
def test_whatever_is_placed_meets_nothing(places: list[tuple[float, float]]):
    """An auditor with arithmetic of its own: middles of squares are a side apart in x or in y, and all are on the page."""
    found = [place for place in _placed(Crowd(400, 300), places) if place is not None]
    assert found
    for (x, y), (u, v) in itertools.combinations(found, 2):
        assert max(abs(x - u), abs(y - v)) >= SIDE - 1e-6
    assert all(SIDE / 2 <= x <= 400 - SIDE / 2 and SIDE / 2 <= y <= 300 - SIDE / 2 for x, y in found)


def test_a_mark_steps_off_the_way():
    """Both ends of a way that runs east are taken; the nearest free places, 34 right and left, lie on it, so it goes down by 34."""
    crowd = Crowd(400, 300)
    crowd.draw_way([(0, 150), (400, 150)])
    assert crowd.claim(200, 150, SIDE, SIDE)
    step = crowd.step_aside(200, 150, SIDE, SIDE)
    assert step is not None
    assert (round(step[0]), round(step[1])) == (0, 34)


def test_on_a_way_without_any_other_room_it_still_stands_somewhere():
    """A page as high as one mark: only the way is left, and to say nothing would be worse."""
    crowd = Crowd(400, SIDE)
    crowd.draw_way([(0, 16), (400, 16)])
    assert crowd.claim(200, 16, SIDE, SIDE)
    assert crowd.step_aside(200, 16, SIDE, SIDE) is not None


def test_a_leader_goes_round_a_mark():
    """A wall of marks to the right: the nearest free place in the row lies behind them; the one above is taken instead."""
    crowd = Crowd(600, 300)
    for x in (200.0, 234.0, 268.0):
        assert crowd.claim(x, 150, SIDE, SIDE)
    crowd.take(166, 150, SIDE, SIDE)
    crowd.take(200, 184, SIDE, SIDE)
    step = crowd.step_aside(200, 150, SIDE, SIDE)
    assert step is not None
    assert (round(step[0]), round(step[1])) == (0, -34)


def test_two_leaders_do_not_cross():
    """Two marks at one place's both sides: by hand, the first goes left of the second's line."""
    crowd = Crowd(400, 300)
    assert crowd.claim(200, 150, SIDE, SIDE)
    for dx in (0.0, 2.0, 4.0, 6.0):
        assert crowd.step_aside(200 + dx, 150, SIDE, SIDE) is not None
    lines = crowd.leaders
    for (a, b), (c, d) in itertools.combinations(lines, 2):
        assert not _meet(a, b, c, d)


def _meet(a, b, c, d) -> bool:  # type: ignore[no-untyped-def]
    """Walk along both lines in steps of a hundredth: no formula shared with the module."""
    one = [(a[0] + (b[0] - a[0]) * k / 100, a[1] + (b[1] - a[1]) * k / 100) for k in range(10, 101)]
    other = [(c[0] + (d[0] - c[0]) * k / 100, c[1] + (d[1] - c[1]) * k / 100) for k in range(10, 101)]
    return any(math.dist(p, q) < 0.4 for p in one for q in other)


def test_words_stand_where_they_hide_neither_way_nor_mark():
    """The way runs to the right and a mark lies to the left: of right, left, over, under the third is the first that hides nothing."""
    crowd = Crowd(400, 300)
    crowd.draw_way([(200, 150), (400, 150)])
    crowd.take(200, 150, SIDE, SIDE)
    crowd.take(140, 150, SIDE, SIDE)
    places = [(60.0, 0.0), (-60.0, 0.0), (0.0, -30.0), (0.0, 30.0)]
    assert crowd.choose(200, 150, 80, 20, places) == (0.0, -30.0)
    assert crowd.choose(200, 150, 80, 20, places) == (0.0, 30.0)
    assert crowd.choose(200, 150, 80, 20, places) == (60.0, 0.0)  # better on the way than nowhere
    assert crowd.choose(200, 150, 80, 20, places) is None


def test_a_box_is_round_its_middle():
    """By hand."""
    assert box_around(10, 20, 4, 6) == (8, 17, 12, 23)


def test_the_program_of_the_pages_has_the_same_rule():
    """Two languages, one rule: the numbers in ``placing.js`` are those of the module."""
    text = files("rollroute.output.map").joinpath("placing.js").read_text(encoding="utf-8")

    def numbers(pattern: str) -> list[float]:
        match = re.search(pattern, text)
        assert match is not None
        return [float(part) for part in match[1].split(",")]

    assert numbers(r"ANGLES = \[([^\]]+)\]") == list(ANGLES)
    assert numbers(r"ASIDE = \[([^\]]+)\]") == list(REACHES)
    assert numbers(r"\[CROSSING, ON_WAY\] = \[([^\]]+)\]") == [CROSSING, ON_WAY]
