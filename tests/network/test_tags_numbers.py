"""Figures as people tag them: the value by hand, the bad side of several, and unknown where it is not a figure."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.network.ranks import Rank
from rollroute.network.tags import read_count, read_length_m, read_mass_kg, read_width
from rollroute.network.tags.reading import Reading

LENGTHS = [  # text, metres on the low side, metres on the high side
    ("2", 2.0, 2.0),
    ("2 m", 2.0, 2.0),
    ("2m", 2.0, 2.0),
    (" 2  m ", 2.0, 2.0),
    ("2.5", 2.5, 2.5),
    ("2,5", 2.5, 2.5),
    (".5", 0.5, 0.5),
    ("80 cm", 0.80, 0.80),
    ("800mm", 0.80, 0.80),
    ("6'7\"", 2.0066, 2.0066),  # 6 × 0.3048 + 7 × 0.0254 = 1.8288 + 0.1778
    ("6' 7\"", 2.0066, 2.0066),
    ("6’7”", 2.0066, 2.0066),
    ("6 ft 7 in", 2.0066, 2.0066),
    ("6'", 1.8288, 1.8288),
    ('80"', 2.032, 2.032),  # 80 × 0.0254
    ('3 1/2"', 0.0889, 0.0889),  # 3.5 × 0.0254
    ("1/2 in", 0.0127, 0.0127),  # the half inch of ADA 303.3
    ("1.5;2", 1.5, 2.0),
    ("2;1.5", 1.5, 2.0),
    ("1.5 m;80 cm", 0.8, 1.5),
    ("1.5-2", 1.5, 2.0),
    ("1.5 - 2 m", 1.5, 2.0),
    ("1.5–2", 1.5, 2.0),
    ("2 - 3 ft", 0.6096, 0.9144),  # the unit at the end belongs to both
    ("1..2", 1.0, 2.0),
    ("1.2 to 1.5", 1.2, 1.5),
    ("2 m 50 cm", 2.5, 2.5),
    ("0.6 mi", 965.6064, 965.6064),  # 0.6 × 1609.344
]


@pytest.mark.parametrize(("text", "low", "high"), LENGTHS)
def test_a_length_is_read_with_its_unit_and_its_bad_side(text, low, high):
    """A width is as narrow, and a kerb as high, as the worst that the tag allows."""
    assert read_length_m(text, "low").value == pytest.approx(low, rel=1e-12)
    assert read_length_m(text, "high").value == pytest.approx(high, rel=1e-12)
    assert read_length_m(text).rank is Rank.TAG_NUMBER


@pytest.mark.parametrize("text", ["~2", "ca. 2", "about 2 m", "2?", "approx. 2", "≈2"])
def test_an_estimate_is_kept_and_marked(text):
    """Somebody's estimate is better than nothing, and must not pass as measured."""
    reading = read_length_m(text)

    assert (reading.value, reading.is_approximate) == (2.0, True)


NO_LENGTHS = ["narrow", "", " ", ";", "-2", "10%", "1.5;narrow", "2 x 3", "1e3", "nan", "inf", "6'7'", "2 furlongs", "9" * 400, "1/0 m"]


@pytest.mark.parametrize("text", NO_LENGTHS)
def test_what_is_no_length_stays_unknown_with_a_problem(text):
    """Half of a list that was understood is not its bad side."""
    reading = read_length_m(text)

    assert (reading.value, reading.rank) == (None, Rank.UNKNOWN)
    assert reading.problem


def test_a_bound_counts_only_on_the_bad_side():
    """``<2`` says nothing of how narrow a way is, but all that matters of a kerb; ``>2`` the other way round."""
    assert read_length_m("<2", "low").value is None
    assert read_length_m("<3 cm", "high").value == pytest.approx(0.03)
    assert read_length_m(">2", "low").value == 2.0
    assert read_length_m(">2", "high").value is None


def test_a_width_of_several_tags_is_the_tightest():
    """OSM wiki, Physical limits: maxwidth:physical is the narrowest spot."""
    assert read_width({"width": "2", "maxwidth:physical": "0.9"}).value == 0.9
    assert read_width({"width": "0.8", "maxwidth:physical": "1.4"}).value == 0.8


def test_an_estimated_width_counts_where_none_is_tagged():
    """OSM wiki, Key:est_width."""
    assert read_width({"est_width": "1.2"}) == Reading(1.2, Rank.TAG_NUMBER, "1.2", None, True)
    assert read_width({"est_width": "1.2", "width": "2"}).value == 2.0


def test_a_bad_width_is_named_with_its_key_beside_the_good_one():
    """`build` lists what was not understood; the other tag still counts."""
    reading = read_width({"width": "narrow", "maxwidth:physical": "1.1"})

    assert reading.value == 1.1
    assert reading.problem == "width=narrow: not a length"
    assert read_width({"width": "narrow", "est_width": "1.5"}).value == 1.5


def test_an_unbelievable_width_is_a_slip():
    """``width=0`` and ``width=900`` (mm?) are no widths of a way."""
    assert read_width({"width": "0"}).value is None
    assert "900" in read_width({"width": "900"}).problem


def test_the_sidewalk_of_a_street_has_its_own_width():
    """The 9 m of a carriageway must not pass for the width of its sidewalk."""
    tags = {"width": "9", "sidewalk": "both", "sidewalk:both:width": "2", "sidewalk:left:width": "1.2 m"}

    assert [read_width(tags, side).value for side in ("left", "right")] == [1.2, 2.0]
    assert read_width({"width": "9", "sidewalk": "both"}, "left").value is None


def test_an_untagged_width_is_unknown_without_a_problem():
    """Missing is not dirty."""
    assert read_width({}) == Reading(None, Rank.UNKNOWN)


def test_masses_are_tonnes_unless_a_unit_says_otherwise():
    """OSM wiki, Key:maxweight; 1 lb = 0.45359237 kg, the short ton 2000 lb."""
    cases = {"3.5": 3500.0, "3.5 t": 3500.0, "500 kg": 500.0, "1000 lbs": 453.59237, "6 st": 5443.10844, "7.5;3.5": 3500.0}

    assert {text: read_mass_kg(text).value for text in cases} == pytest.approx(cases)
    assert read_mass_kg("heavy").value is None


def test_half_a_lane_is_counted_on_the_bad_side():
    """``lanes=1.5`` is tagged on narrow roads; wider is worse for a chair that must cross."""
    assert (read_count("1.5", "high").value, read_count("1.5", "low").value) == (2, 1)
    assert read_count("many").value is None


@given(st.text(max_size=20))
def test_no_text_makes_the_readers_stumble(text):
    """Whatever is tagged: a reading, and a problem where there is no value."""
    for reading in (read_length_m(text), read_length_m(text, "high"), read_mass_kg(text), read_count(text)):
        assert (reading.value is None) == (reading.problem is not None)


@given(st.text(alphabet="0123456789.,;-~<> 'mcfintx\"/", max_size=12))
def test_no_jumble_of_figures_and_units_makes_the_readers_stumble(text):
    """Figures, units and signs in any order."""
    low, high = read_length_m(text, "low"), read_length_m(text, "high")

    for reading in (low, high):
        assert (reading.value is None) == (reading.problem is not None)
        assert reading.value is None or 0.0 <= reading.value <= 1000.0
    if low.value is not None and high.value is not None:
        assert low.value <= high.value


@given(st.decimals("0.01", "99", places=2), st.sampled_from(["", " ", "  "]))
def test_units_and_spaces_do_not_change_a_value(figure, gap):
    """The same length in metres, centimetres and millimetres, and with a decimal comma."""
    metres = read_length_m(f"{figure}").value
    variants = [f"{gap}{figure}{gap}m", f"{figure * 100}{gap}cm", f"{figure * 1000}{gap}mm", f"{figure}".replace(".", ",") + gap]

    assert [read_length_m(v).value for v in variants] == pytest.approx([metres] * 4)
