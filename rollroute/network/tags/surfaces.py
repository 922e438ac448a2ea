"""Surfaces and smoothness.

OSM wiki, Key:surface; Key:smoothness; Key:tracktype (only where no surface is tagged).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import IntEnum
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, first_tag, split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood


class Surface(IntEnum):
    """What a way is made of; a code is the row in ``data/surfaces.toml`` plus one.

    ``PAVED`` and ``UNPAVED`` are what the map says when it says no more.
    """

    UNKNOWN = 0
    ASPHALT = 1
    CONCRETE = 2
    HARD_FLOOR = 3
    CARPET = 4
    PAVING_STONES = 5
    BRICKS = 6
    WOOD = 7
    METAL = 8
    METAL_GRID = 9
    RUBBER = 10
    CHIPSEAL = 11
    SETT = 12
    COBBLESTONE = 13
    UNHEWN_COBBLESTONE = 14
    GRASS_PAVER = 15
    COMPACTED = 16
    FINE_GRAVEL = 17
    GRAVEL = 18
    PEBBLESTONE = 19
    UNPAVED = 20
    GROUND = 21
    GRASS = 22
    WOODCHIPS = 23
    SAND = 24
    MUD = 25
    SNOW = 26
    ICE = 27
    ROCK = 28
    PAVED = 29


BEST_TO_WORST = (
    Surface.CONCRETE, Surface.ASPHALT, Surface.HARD_FLOOR, Surface.METAL, Surface.BRICKS, Surface.PAVING_STONES, Surface.WOOD,
    Surface.RUBBER, Surface.CHIPSEAL, Surface.CARPET, Surface.COMPACTED, Surface.FINE_GRAVEL, Surface.SETT, Surface.PAVED,
    Surface.METAL_GRID, Surface.COBBLESTONE, Surface.GRASS_PAVER, Surface.GRAVEL, Surface.UNPAVED, Surface.GROUND,
    Surface.UNHEWN_COBBLESTONE, Surface.WOODCHIPS, Surface.GRASS, Surface.ROCK, Surface.PEBBLESTONE, Surface.SNOW, Surface.ICE,
    Surface.MUD, Surface.SAND, Surface.UNKNOWN,
)  # fmt: skip
"""An assumption: by how many kinds of wheel ``data/surfaces.toml`` stops, then by rolling resistance over speed."""
_BADNESS = {surface: place for place, surface in enumerate(BEST_TO_WORST)}


class Smoothness(IntEnum):
    """The scale of the wiki, from best to worst; it names ``INTERMEDIATE`` as the level for wheelchairs."""

    UNKNOWN = 0
    EXCELLENT = 1
    GOOD = 2
    INTERMEDIATE = 3
    BAD = 4
    VERY_BAD = 5
    HORRIBLE = 6
    VERY_HORRIBLE = 7
    IMPASSABLE = 8


_SYNONYMS = {
    Surface.CONCRETE: "cement",
    Surface.ASPHALT: "tarmac bitumen tarmacadam",
    Surface.HARD_FLOOR: "tiles tile linoleum plastic ceramic ceramic:tiles parquet marble terrazzo vinyl laminate glass",
    Surface.METAL: "steel iron",
    Surface.BRICKS: "brick brick_weave clinker",
    Surface.PAVING_STONES: "concrete:plates concrete:lanes paving_stones:lanes paving_slabs interlock pavers flagstone flagstones",
    Surface.WOOD: "boardwalk wooden planks",
    Surface.RUBBER: "acrylic tartan",
    Surface.CHIPSEAL: "chip_seal",
    Surface.CARPET: "artificial_turf",
    Surface.FINE_GRAVEL: "crushed_limestone",
    Surface.SETT: "cobblestone:flattened",
    Surface.METAL_GRID: "grate grating metal_grate",
    Surface.COBBLESTONE: "cobblestones",
    Surface.GRAVEL: "shells ballast",
    Surface.GROUND: "earth dirt clay soil laterite",
    Surface.ROCK: "stone stepping_stones rocks bare_rock",
    Surface.PEBBLESTONE: "pebbles pebble",
    Surface.SAND: "salt",
    Surface.WOODCHIPS: "bark mulch",
}
WORDS: dict[str, Surface] = {surface.name.lower(): surface for surface in Surface if surface}
WORDS |= {word: surface for surface, words in _SYNONYMS.items() for word in words.split()}
TRACKTYPE = {
    "grade1": Surface.COMPACTED,  # "solid": paved or heavily compacted; the worse of the two
    "grade2": Surface.GRAVEL,
    "grade3": Surface.UNPAVED,
    "grade4": Surface.GROUND,
    "grade5": Surface.MUD,  # "soft"; what soft ground is when it rains
}
_STONE_SIZE = re.compile(r"^paving_stones:\d+$")  # an old way to tag the size of the stones in cm
NO_SURFACE: Reading[Surface] = Reading(None, Rank.UNKNOWN)
NO_SMOOTHNESS: Reading[Smoothness] = Reading(None, Rank.UNKNOWN)


def read_surface(tags: Mapping[str, str], side: str | None = None) -> Reading[Surface]:
    """The surface of a way, of several the worst; with ``side`` that of this sidewalk of a street drawn as one line."""
    keys: tuple[str, ...] = ("surface", "footway:surface", "crossing:surface", "surface:middle")
    if side is not None:
        keys = (f"sidewalk:{side}:surface", "sidewalk:both:surface", "sidewalk:surface")
    found = first_tag(tags, *keys)
    if found is not None:
        return for_key(_surface(found[1]), found[0])
    if side is None and "tracktype" in tags:
        return for_key(_tracktype(tags["tracktype"]), "tracktype")
    return NO_SURFACE


def read_smoothness(tags: Mapping[str, str], side: str | None = None) -> Reading[Smoothness]:
    """The smoothness of a way, of several the worst."""
    keys: tuple[str, ...] = ("smoothness", "footway:smoothness")
    if side is not None:
        keys = (f"sidewalk:{side}:smoothness", "sidewalk:both:smoothness", "sidewalk:smoothness")
    found = first_tag(tags, *keys)
    return NO_SMOOTHNESS if found is None else for_key(_smoothness(found[1]), found[0])


def is_worse(one: Surface, other: Surface) -> bool:
    """Whether ``one`` is worse to roll on than ``other``; an unknown surface is worse than any."""
    return _BADNESS[one] > _BADNESS[other]


def surface_word(code: int) -> str | None:
    """The word of a surface code as ``data/surfaces.toml`` and the printed page know it; ``None`` for unknown."""
    return None if code == Surface.UNKNOWN else Surface(code).name.lower()


@lru_cache(CACHE_SIZE)
def _surface(text: str) -> Reading[Surface]:
    found = [_one(part.replace(" ", "_")) for part in split_values(tidy(text).replace("/", ";").replace(",", ";"))]
    known = [surface for surface in found if surface is not None]
    if not known or len(known) < len(found):
        return not_understood(text, "not a known surface")
    return Reading(max(known, key=_BADNESS.__getitem__), Rank.TAG_WORD, text)


def _one(word: str) -> Surface | None:
    return Surface.PAVING_STONES if _STONE_SIZE.match(word) else WORDS.get(word)


@lru_cache(CACHE_SIZE)
def _smoothness(text: str) -> Reading[Smoothness]:
    names = {level.name.lower(): level for level in Smoothness if level}
    found = [names.get(part.replace(" ", "_")) for part in split_values(tidy(text))]
    known = [level for level in found if level is not None]
    if not known or len(known) < len(found):
        return not_understood(text, "not a level of smoothness")
    return Reading(max(known), Rank.TAG_WORD, text)


def _tracktype(text: str) -> Reading[Surface]:
    found = [TRACKTYPE.get(part) for part in split_values(tidy(text))]
    known = [surface for surface in found if surface is not None]
    if not known or len(known) < len(found):
        return not_understood(text, "not a tracktype")
    return Reading(max(known, key=_BADNESS.__getitem__), Rank.TAG_WORD, text)
