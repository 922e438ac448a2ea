"""What a way is part of: bridges, tunnels, passages, roofs, layers; and its lamps.

OSM wiki, Key:bridge; Key:tunnel; Key:covered; Key:layer; Key:indoor; Key:lit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood

_NO = frozenset({"no", "none", "", "0"})
LIT = {
    "yes": True, "24/7": True, "automatic": True, "sunset-sunrise": True, "dusk-dawn": True, "electric": True, "gas": True, "good": True,
    "no": False, "disused": False, "none": False,
}  # fmt: skip
LIT_AT_TIMES = frozenset({"limited", "interval", "operating_times", "poor", "bad", "some", "partial"})
HIGHEST_LAYER = 20
NO_LIGHT: Reading[bool] = Reading(None, Rank.UNKNOWN)


@dataclass(frozen=True, slots=True)
class StructureFact:
    """Where a way runs. ``is_passage`` is a way through a building at street level."""

    is_bridge: bool
    is_tunnel: bool
    is_passage: bool
    is_covered: bool
    is_indoor: bool
    layer: int
    problem: str | None = None


OPEN_AIR = StructureFact(False, False, False, False, False, 0)


def read_structure(tags: Mapping[str, str]) -> StructureFact:
    """Bridge, tunnel, passage, cover and layer of a way."""
    if not any(key in tags for key in ("bridge", "tunnel", "covered", "layer", "indoor", "location")):
        return OPEN_AIR
    bridge, tunnel, covered, indoor = (tidy(tags.get(key, "")) for key in ("bridge", "tunnel", "covered", "indoor"))
    layer, problem = _layer(tags.get("layer"))
    return StructureFact(
        is_bridge=bridge not in _NO,
        is_tunnel=tunnel not in _NO,
        is_passage=tunnel == "building_passage",
        is_covered=covered not in _NO or tunnel not in _NO,
        is_indoor=indoor not in _NO or tidy(tags.get("location", "")) == "indoor",
        layer=layer,
        problem=problem,
    )


def read_lit(tags: Mapping[str, str]) -> Reading[bool]:
    """Whether there are lamps that burn all night; lamps that burn at times only leave it unknown."""
    text = tags.get("lit")
    return NO_LIGHT if text is None else for_key(_lit(text), "lit")


@lru_cache(CACHE_SIZE)
def _lit(text: str) -> Reading[bool]:
    words = split_values(tidy(text))
    found = [LIT.get(word) for word in words]
    if words and all(word in LIT for word in words):
        return Reading(False not in found, Rank.TAG_WORD, text)
    if words and all(word in LIT or word in LIT_AT_TIMES or _is_hours(word) for word in words):
        return Reading(None, Rank.TAG_WORD, text)
    return not_understood(text, "not yes or no")


def _is_hours(word: str) -> bool:
    return ":" in word and any(sign.isdigit() for sign in word)


def _layer(text: str | None) -> tuple[int, str | None]:
    """The layer; of several the one farthest from the ground."""
    if text is None:
        return 0, None
    try:
        layers = [int(float(part)) for part in split_values(tidy(text))]
    except (ValueError, OverflowError):
        layers = []
    if not layers or max(map(abs, layers)) > HIGHEST_LAYER:
        return 0, f"layer={text}: not a layer"
    return max(layers, key=abs), None
