"""Grades as tagged: percent, degrees, ratios, and only a sign."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.network.ranks import Rank
from rollroute.network.tags import read_cross_slope, read_incline

GRADES = [
    ("10%", 0.10),
    ("10 %", 0.10),
    ("+5%", 0.05),
    ("-10%", -0.10),
    ("−5 %", -0.05),  # a real minus sign
    ("2,5%", 0.025),
    ("-5°", -0.0874886635),  # tan 5° (OSM wiki, Key:incline: degrees and percent differ)
    ("10°", 0.1763269807),  # the wiki's own example: 17.63 %
    ("7 deg", 0.1227845609),
    ("1:12", 1 / 12),
    ("1/12", 1 / 12),
    ("1 in 20", 0.05),
    ("-1:10", -0.10),
    ("10‰", 0.01),
    ("5-8%", 0.08),
    ("5%;10%", 0.10),
    ("10% down", -0.10),
    ("down 10%", -0.10),
    ("up 1:12", 1 / 12),
    ("up;10%", 0.10),
    ("0%", 0.0),
    ("0", 0.0),
    ("0°", 0.0),
]


@pytest.mark.parametrize(("text", "grade"), GRADES)
def test_a_grade_with_a_figure_is_read(text, grade):
    """Of several figures the steepest; the sign is that of the way as drawn."""
    fact = read_incline({"incline": text})

    assert fact.grade.value == pytest.approx(grade, abs=1e-9)
    assert fact.grade.rank is Rank.TAG_NUMBER
    assert fact.sign == (grade > 0) - (grade < 0)


@pytest.mark.parametrize(("text", "sign"), [("up", 1), ("down", -1), ("UP", 1), ("up/down", 0), ("yes", 0)])
def test_a_word_gives_only_the_sign(text, sign):
    """Model, section 2: ``up`` and ``down`` give only the sign, no grade."""
    fact = read_incline({"incline": text})

    assert (fact.grade.value, fact.sign, fact.grade.rank, fact.grade.problem) == (None, sign, Rank.TAG_WORD, None)


@pytest.mark.parametrize("text", ["steep", "", "200%", "90°", "91°", "1:0", "> 10%", "5%;-8%", "up -5%", "0.08", "level", "10%;steep"])
def test_what_is_no_grade_stays_unknown(text):
    """A steep word without a figure, a bound without an end, a bare 0.08 (percent or ratio?) are not guessed at."""
    grade = read_incline({"incline": text}).grade

    assert grade.value is None
    assert grade.problem.startswith(f"incline={text}")


@pytest.mark.parametrize("text", ["~7%", "about 7%", "7"])
def test_an_estimate_or_a_bare_figure_is_marked(text):
    """A bare figure is percent (an earlier wiki text makes percent the default); it is marked as approximate."""
    grade = read_incline({"incline": text}).grade

    assert (grade.value, grade.is_approximate) == (0.07, True)


def test_an_untagged_incline_says_nothing():
    """Not tagged is not level."""
    fact = read_incline({})

    assert (fact.grade.value, fact.grade.rank, fact.sign, fact.grade.problem) == (None, Rank.UNKNOWN, 0, None)


def test_a_cross_slope_has_no_sign():
    """OSM wiki, Proposal:Incline:across: the sign tells the side, which makes no difference to the chair's limit."""
    assert read_cross_slope({"incline:across": "-3%"}).value == pytest.approx(0.03)
    assert read_cross_slope({"cross_slope": "1:48"}).value == pytest.approx(1 / 48)
    assert read_cross_slope({"incline:across": "up"}).value is None
    assert read_cross_slope({}).value is None


@given(st.text(max_size=16) | st.text(alphabet="0123456789.,;:-+~%°/ updownin", max_size=12))
def test_no_text_makes_the_reader_stumble(text):
    """A grade, a sign, or a problem; never a grade over 100 %."""
    text = text.strip() or "?"  # an empty value is as good as none
    for grade in (read_incline({"incline": text}).grade, read_cross_slope({"incline:across": text})):
        assert grade.value is None or abs(grade.value) <= 1.0
        assert grade.value is not None or grade.problem or grade.rank is Rank.TAG_WORD


@given(st.floats(-45.0, 45.0))
def test_degrees_and_percent_agree(degrees):
    """The wiki's conversion: percent = tan(degrees) × 100."""
    percent = math.tan(math.radians(round(degrees, 3))) * 100
    by_degrees = read_incline({"incline": f"{degrees:.3f}°"}).grade.value
    by_percent = read_incline({"incline": f"{percent:.9f}%"}).grade.value

    assert by_degrees == pytest.approx(by_percent, abs=1e-8)
