"""Widths of ways, as tagged and as felt.

OSM wiki, Key:width; Key:est_width; Physical limits (maxwidth:physical); Key:sidewalk (sidewalk:left:width and the like).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rollroute.network.tags.numbers import read_length_m
from rollroute.network.tags.reading import ABSENT, Reading, for_key, worst

NARROWEST_M, WIDEST_M = 0.2, 200.0  # assumption: what lies outside is a slip, not a way


def read_width(tags: Mapping[str, str], side: str | None = None) -> Reading[float]:
    """Clear width of a way in metres: the tightest of ``width`` and ``maxwidth:physical``; ``est_width`` where neither is tagged.

    With ``side`` (``left`` or ``right``) the width of that sidewalk of a street drawn as one line; the street's own width says nothing
    about it.
    """
    if side is not None:
        prefixes = (f"sidewalk:{side}:", "sidewalk:both:", "sidewalk:")
        for prefix in prefixes:
            found = _widths(tags, prefix)
            if found.text is not None:
                return found
        return ABSENT
    return _widths(tags, "")


def _widths(tags: Mapping[str, str], prefix: str) -> Reading[float]:
    firm = [_one(tags, prefix + key) for key in ("width", "maxwidth:physical")]
    found = worst(firm, "low")
    if found.value is not None:
        return found
    guess = _one(tags, prefix + "est_width")
    if guess.value is None:
        return found if found.text is not None else guess
    problem = "; ".join(p for p in (found.problem, guess.problem) if p) or None
    return replace(guess, is_approximate=True, problem=problem)


def _one(tags: Mapping[str, str], key: str) -> Reading[float]:
    text = tags.get(key)
    if text is None:
        return ABSENT
    return for_key(read_length_m(text, "low", NARROWEST_M, WIDEST_M), key)
