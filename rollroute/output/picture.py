"""The picture strip: overview, then stretch by stretch with its steps, as one PNG for chats that strip every other file."""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollroute.errors import InputError
from rollroute.output.itinerary import Itinerary, LonLat
from rollroute.output.map.drawing import draw_scene, scale_bar, standalone
from rollroute.output.map.page import credit
from rollroute.output.map.plane import Plane
from rollroute.output.map.scene import Scene, set_scene
from rollroute.output.map.style import THEMES
from rollroute.output.map.way import along
from rollroute.output.plain_text import plain
from rollroute.output.sheet.fonts import FAMILIES, fonts
from rollroute.output.steps import Step, build_steps
from rollroute.output.words import Words, summary
from rollroute.output.words.sentences import step_sentence, watch_lines
from rollroute.whole import write_whole

if TYPE_CHECKING:
    from PIL.Image import Image

LARGEST_BYTES = 300_000
WIDTH_PX = 720.0  # a phone shows it without scrolling sideways
STRETCH_M = 450.0  # our choice: a drawing of this length still shows every crossing
# Share of the full size and number of colours, tried in turn until the file is small enough: words keep their size as long as they can.
ATTEMPTS = ((1.0, 128), (1.0, 16), (0.8, 16), (0.65, 16), (0.5, 16), (0.35, 16))
# Packing well takes seconds: an attempt that the quick level shows to be hopeless is not packed well. The demo's two routes in all
# attempts came out 3 to 6 % smaller at the slow level than at the quick one.
QUICK_LEVEL, SLOW_LEVEL, QUICK_OVER = 6, 9, 1.07
FIRST = ("paper", "ink", "plate", "way", "hazard", "power", "unknown", "building", "water", "water-hatch", "green", "road-edge")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Steps that share one drawing: ``from_m`` to ``to_m`` of the way."""

    steps: tuple[Step, ...]
    from_m: float
    to_m: float


def write_picture(itinerary: Itinerary, path: Path, *, words: Words | None = None, step_offset: int = 0) -> None:
    """Write the strip as a PNG of at most 300 kB: complete or not at all. ``step_offset`` is added to the numbers of the steps."""
    write_whole(path, picture(itinerary, words or Words(), step_offset=step_offset))


def picture(itinerary: Itinerary, words: Words, *, step_offset: int = 0) -> bytes:
    """Give the strip as PNG."""
    scene = set_scene(itinerary, words)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        content = _content(scene, words, step_offset, folder)
        (folder / "strip.json").write_text(json.dumps(content, ensure_ascii=False, allow_nan=False), encoding="utf-8")
        template = files("rollroute.output.link").joinpath("strip.typ").read_text(encoding="utf-8")
        (folder / "strip.typ").write_text(template, encoding="utf-8")
        return _small(_compiled(folder))


def stretches(steps: Sequence[Step]) -> Iterator[Stretch]:
    """Cut the steps into stretches of about ``STRETCH_M``; a step is never cut."""
    bundle: list[Step] = []
    for step in steps:
        if bundle and step.at_m + step.length_m - bundle[0].at_m > STRETCH_M and step.length_m > 0:
            yield _stretch(bundle)
            bundle = []
        bundle.append(step)
    if bundle:
        yield _stretch(bundle)


def _stretch(bundle: list[Step]) -> Stretch:
    return Stretch(tuple(bundle), bundle[0].at_m, bundle[-1].at_m + bundle[-1].length_m)


def _content(scene: Scene, words: Words, offset: int, folder: Path) -> dict[str, Any]:
    itinerary, say = scene.itinerary, words.say
    steps = build_steps(itinerary)
    way = [place for piece in itinerary.pieces for place in piece.coordinates]
    parts = []
    for n, stretch in enumerate(stretches(steps)):
        parts.append(
            {
                "drawing": _drawn(scene, words, _between(itinerary, stretch.from_m, stretch.to_m), folder / f"part-{n}.svg", 0.75),
                "steps": [_step_row(step, offset, words) for step in stretch.steps],
            }
        )
    return {
        "language": words.language,
        "fonts": list(FAMILIES),
        "title": say("Route {code}", code=plain(itinerary.code)),
        "figures": f"{words.distance(itinerary.length_m)} · {words.minutes(itinerary.time_s.planned)}",
        "caution": " ".join(filter(None, [say("The rider decides."), summary.validity(itinerary, words)])),
        "overview": _drawn(scene, words, way, folder / "overview.svg", 1.2),
        "parts": parts,
        "credit": credit(itinerary, words),
    }


def _step_row(step: Step, offset: int, words: Words) -> dict[str, Any]:
    return {
        "number": str(step.number + offset),
        "metres": words.distance(step.at_m),
        "sentence": step_sentence(step, words),
        "watch": watch_lines(step, words),
    }


def _drawn(scene: Scene, words: Words, places: Sequence[LonLat], file: Path, tallest: float) -> dict[str, Any]:
    plane = Plane.around(places, width=WIDTH_PX, margin=60.0, tallest=tallest)
    file.write_text(standalone(draw_scene(scene, words, plane), plane, "light"), encoding="utf-8")
    bar, text = scale_bar(plane, words)
    return {"file": file.name, "bar": round(bar, 1), "length": text, "north": words.say("N")}


def _between(itinerary: Itinerary, from_m: float, to_m: float) -> list[LonLat]:
    """Give the places of the way between two distances, both ends included."""
    places: list[LonLat] = []
    for piece in itinerary.pieces:
        if piece.to_m < from_m or piece.from_m > to_m:
            continue
        places.append(along(piece.coordinates, from_m - piece.from_m)[0])
        if from_m <= piece.from_m and piece.to_m <= to_m:
            places.extend(piece.coordinates)
        places.append(along(piece.coordinates, to_m - piece.from_m)[0])
    return places or [itinerary.pieces[-1].coordinates[-1]]


def _compiled(folder: Path) -> bytes:
    import typst

    # Signs that our fonts lack are taken from those of this machine, else they show as boxes; the words of the page and of the
    # sheet do not depend on this picture.
    compiler = typst.Compiler(str(folder / "strip.typ"), root=str(folder), font_paths=fonts(include_system=True))
    made = compiler.compile(format="png", ppi=72.0)
    pages = made if isinstance(made, list) else [made]
    return bytes(pages[0] or b"")


def _small(png: bytes) -> bytes:
    """Give the same picture in the colours of the light theme and their blends, smaller if it does not fit into ``LARGEST_BYTES``.

    A palette of our own keeps the hues: one made from the picture would give them up for shades of paper.
    """
    from PIL import Image

    whole = Image.open(io.BytesIO(png)).convert("RGB")
    for share, colours in ATTEMPTS:
        palette = Image.new("P", (1, 1))
        palette.putpalette(_palette(colours))
        shown = whole if share == 1.0 else whole.resize((round(whole.width * share), round(whole.height * share)), Image.Resampling.LANCZOS)
        coloured = shown.quantize(palette=palette, dither=Image.Dither.NONE)
        if len(_png(coloured, QUICK_LEVEL)) > LARGEST_BYTES * QUICK_OVER:
            continue
        packed = _png(coloured, SLOW_LEVEL)
        if len(packed) <= LARGEST_BYTES:
            return packed
    raise InputError(f"picture strip: over {LARGEST_BYTES} bytes even at {ATTEMPTS[-1][0]:.0%} of its size. Share link or sheet instead.")


def _png(image: Image, level: int) -> bytes:
    """The picture as PNG, packed at a level of zlib."""
    buffer = io.BytesIO()
    image.save(buffer, "PNG", compress_level=level)
    return buffer.getvalue()


def _palette(most: int) -> list[int]:
    """Give the theme's colours, greys, and what lies between each colour and black or white, where edges of words and lines are."""
    light = THEMES["light"]
    colours = [tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5)) for colour in [*(light[name] for name in FIRST), *light.values()]]
    greys = [(grey, grey, grey) for grey in (96, 160, 208, 48, 128, 192, 224)]
    blends = [
        tuple(round(part + share * (end - part)) for part in colour) for colour in colours for end in (0, 255) for share in (0.35, 0.7)
    ]
    ordered = dict.fromkeys([*colours[: len(FIRST)], *greys[:3], *colours, *greys, *blends])
    return [part for colour in list(ordered)[:most] for part in colour]
