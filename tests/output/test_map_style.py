"""The look: contrast of every mark, and shapes that need no colour."""

from __future__ import annotations

import itertools
import re

import pytest

from rollroute.output.map import marks
from rollroute.output.map.drawing import DRAWING_CSS
from rollroute.output.map.marks import MARK_CSS
from rollroute.output.map.offline import page_style
from rollroute.output.map.style import BLUE, GREEN, PAIRINGS, PURPLE, SKY, THEMES, VERMILLION, contrast_ratio, relative_luminance


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("pairing", PAIRINGS, ids=lambda pairing: pairing.mark)
def test_every_mark_can_be_told_from_its_ground(theme: str, pairing):
    """WCAG 2.2, 1.4.11 asks 3:1 of marks and 1.4.3 asks 4.5:1 of words; computed from the table that the pages are painted from."""
    colours = THEMES[theme]
    assert contrast_ratio(colours[pairing.ink], colours[pairing.ground]) >= pairing.least


def test_contrast_agrees_with_published_values():
    """WCAG 2.2 defines black on white as 21:1; #767676 is the well-known lightest grey for words on white, 4.54 (common practice)."""
    assert contrast_ratio("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast_ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast_ratio("#777777", "#ffffff") < 4.5


def test_luminance_by_hand():
    """Pure green weighs 0.7152; mid grey 0x80 = 0.50196 gives ((0.50196 + 0.055) / 1.055)^2.4 = 0.2159 (WCAG 2.2, relative luminance)."""
    assert relative_luminance("#00ff00") == pytest.approx(0.7152)
    assert relative_luminance("#808080") == pytest.approx(0.2159, abs=5e-5)


def test_hues_are_the_published_set():
    """Okabe and Ito 2008 give the set as RGB; every meaning keeps its hue in both themes."""
    assert (BLUE, SKY, VERMILLION, GREEN, PURPLE) == ("#0072B2", "#56B4E9", "#D55E00", "#009E73", "#CC79A7")
    for theme in THEMES.values():
        assert (theme["hazard"], theme["power"], theme["unknown"]) == (VERMILLION, GREEN, PURPLE)


def test_both_themes_name_the_same_colours():
    """A colour that one theme lacks would silently turn black."""
    assert THEMES["light"].keys() == THEMES["dark"].keys()


@pytest.mark.parametrize("css", [page_style(), DRAWING_CSS, MARK_CSS], ids=["page", "drawing", "marks"])
def test_every_colour_used_is_in_the_table(css: str):
    """A misspelt custom property paints nothing, and nobody notices until the night it matters."""
    used = set(re.findall(r"var\(--([a-z-]+)\)", css))
    assert used <= THEMES["light"].keys() | {"k", "road-width", "casing-width"}  # lengths, set by each drawing


def test_every_colour_of_a_mark_has_a_pairing():
    """An ink that marks are drawn with must stand in the contrast test above."""
    inks = set(re.findall(r"stroke:var\(--([a-z-]+)\)", MARK_CSS)) - {"plate"}
    assert inks <= {pairing.ink for pairing in PAIRINGS}


def test_shapes_differ_without_colour():
    """In a grey copy only the shape is left: no two kinds share their black lines."""
    shapes = [
        marks.question(1, is_weakest=False),
        marks.question(1, is_weakest=True),
        marks.socket(),
        marks.refuge(),
        marks.van_spot(),
        marks.rest_spot(),
        marks.checkpoint(),
        marks.step(1),
        marks.end_of_way(),
        marks.barred("S", 0.0),
        marks.arrowheads(1, 0.0),
        marks.arrowheads(2, 0.0),
    ]
    black = ["".join(re.findall(r'<(?:path|circle|rect) class="(?:i|ii|h|a|b|e)".*?/>', shape)) for shape in shapes]
    assert all(black)
    assert all(one != other for one, other in itertools.combinations(black, 2))
