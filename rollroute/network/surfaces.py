"""Codes of surfaces and smoothness in a network: 0 is unknown, others count rows of the table of surfaces."""

from __future__ import annotations

from functools import lru_cache

from rollroute.inputs.tables import load_surfaces

SMOOTHNESS = ("excellent", "good", "intermediate", "bad", "very_bad", "horrible", "very_horrible", "impassable")
"""OSM wiki, Key:smoothness, best first; the code in a network is the position plus one."""

UNKNOWN = 0


@lru_cache(maxsize=4096)
def surface_code(text: str) -> int:
    """The code of a ``surface`` value (OSM wiki, Key:surface); of several values the one that rolls worst; 0 if not understood."""
    table = load_surfaces()
    rows = table.lookup("standard")
    codes = []
    for part in text.replace(",", ";").split(";"):
        word = part.strip().lower()
        if word in table.codes and word != "unknown":
            codes.append(table.codes[word])
    if not codes:
        return UNKNOWN
    return max(codes, key=lambda row: (int(rows.verdict[row]), float(rows.crr_ratio[row]))) + 1


def surface_word(code: int) -> str | None:
    """The word of a surface code, ``None`` for unknown."""
    return None if code == UNKNOWN else load_surfaces().names[code - 1]


@lru_cache(maxsize=256)
def smoothness_code(text: str) -> int:
    """The code of a ``smoothness`` value; of several the worst; 0 if not understood."""
    words = [w.strip().lower() for w in text.split(";")]
    known = [SMOOTHNESS.index(w) + 1 for w in words if w in SMOOTHNESS]
    return max(known) if len(known) == len(words) else UNKNOWN
