"""The picture strip: small, whole, and made from what the link shows."""

from __future__ import annotations

import dataclasses
import io

import pytest
from PIL import Image
from sample_itinerary import hostile, sample

from rollroute.output import picture as strip
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


@pytest.mark.parametrize("share", [0.99, 0.9, 0.75, 0.5])
def test_the_quick_look_chooses_what_packing_everything_well_would(monkeypatch: pytest.MonkeyPatch, share: float):
    """An attempt is skipped only where it is hopeless: with room for ``share`` of the picture, the first that fits is taken."""
    whole = Image.open(io.BytesIO(picture(sample(), Words()))).convert("RGB").crop((0, 0, 720, 1600))
    given = io.BytesIO()
    whole.save(given, "PNG")
    sizes = []
    for scale, colours in strip.ATTEMPTS:
        palette = Image.new("P", (1, 1))
        palette.putpalette(strip._palette(colours))
        shown = whole.resize((round(720 * scale), round(1600 * scale)), Image.Resampling.LANCZOS) if scale < 1.0 else whole
        packed = io.BytesIO()
        shown.quantize(palette=palette, dither=Image.Dither.NONE).save(packed, "PNG", compress_level=9)
        sizes.append(packed.getvalue())
    most = round(share * len(sizes[0]))
    monkeypatch.setattr(strip, "LARGEST_BYTES", most)

    assert strip._small(given.getvalue()) == next(size for size in sizes if len(size) <= most)
