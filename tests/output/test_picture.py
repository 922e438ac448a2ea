"""The picture strip: small, whole, and made from what the link shows."""

from __future__ import annotations

import dataclasses
import io

import pytest
from PIL import Image
from sample_itinerary import hostile, sample

from rollroute.output.picture import LARGEST_BYTES, picture, stretches
from rollroute.output.steps import build_steps
from rollroute.output.words import Words


@pytest.mark.parametrize("itinerary", [sample(), hostile()], ids=["sample", "hostile"])
def test_it_is_a_png_under_300_kb(itinerary):
    """A bar of the project; hostile names (other scripts, markup of the typesetter) must not stop it."""
    content = picture(itinerary, Words())
    assert len(content) < LARGEST_BYTES
    image = Image.open(io.BytesIO(content))
    assert image.format == "PNG"
    assert image.width == 720
    assert image.height > 2000


def test_it_holds_no_metadata():
    """A picture's text chunks travel unseen."""
    assert Image.open(io.BytesIO(picture(sample(), Words()))).info.keys() <= {"dpi", "transparency"}


def test_stretches_hold_every_step_once():
    """No step is lost between two drawings, none is shown twice."""
    steps = build_steps(sample())
    assert [step for stretch in stretches(steps) for step in stretch.steps] == steps


def test_a_long_step_has_a_stretch_of_its_own():
    """A step is never cut: 2 km along one street are one drawing."""
    steps = build_steps(sample())
    long = dataclasses.replace(steps[1], length_m=2000.0)
    assert [len(stretch.steps) for stretch in stretches([long])] == [1]


def test_ink_is_on_the_paper():
    """Not a white sheet: the way's blue covers a visible part of the overview."""
    image = Image.open(io.BytesIO(picture(sample(), Words()))).convert("RGB")
    pixels = image.crop((0, 100, 720, 700)).resize((180, 150)).get_flattened_data()
    blue = sum(1 for red, green, blue in pixels if blue > red + 60 and blue > green + 20)
    assert blue > 100
