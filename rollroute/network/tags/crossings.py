"""Crossings of streets. A crossing is not passable by itself: its kerbs are.

OSM wiki, Key:crossing; Key:crossing:signals; Key:crossing:markings; Key:crossing:island; Key:crossing_ref; Key:button_operated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.ranks import Rank
from rollroute.network.tags.kerbs import KerbFact, read_kerb
from rollroute.network.tags.numbers import split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood


class CrossingKind(IntEnum):
    """How the traffic is held; from the best to none at all."""

    UNKNOWN = 0
    SIGNALS = 1
    MARKED = 2
    UNMARKED = 3
    INFORMAL = 4
    NO = 5


@dataclass(frozen=True, slots=True)
class CrossingFact:
    """A crossing as node or way. ``is_crossing`` is whether the element is tagged as one at all."""

    is_crossing: bool
    kind: Reading[CrossingKind]
    has_island: bool | None
    has_button: bool | None
    kerb: KerbFact
    problem: str | None = None


_KINDS = {
    CrossingKind.SIGNALS: "traffic_signals signals pelican puffin toucan pegasus tiger hawk traffic_signals;marked",
    CrossingKind.MARKED: "marked uncontrolled zebra controlled crossing:zebra uncontrolled;marked supervised",
    CrossingKind.UNMARKED: "unmarked",
    CrossingKind.INFORMAL: "informal",
    CrossingKind.NO: "no",
}  # fmt: skip
WORDS = {word: kind for kind, words in _KINDS.items() for word in words.split()}
SAY_NOTHING = frozenset({"yes", "island", "sidewalk", "unknown"})
_YES_NO = {"yes": True, "no": False}
NO_KIND: Reading[CrossingKind] = Reading(None, Rank.UNKNOWN)


def read_crossing(tags: Mapping[str, str]) -> CrossingFact:
    """The crossing on this node or along this way."""
    kind = _kind(tags)
    words = split_values(tidy(tags.get("crossing", "")))
    is_crossing = "crossing" in tags or "crossing" in (tags.get(key) for key in ("highway", "footway", "path", "cycleway"))
    kerb = read_kerb(tags)
    return CrossingFact(
        is_crossing=is_crossing or tags.get("railway") in {"crossing", "level_crossing", "tram_crossing", "tram_level_crossing"},
        kind=kind,
        has_island=True if "island" in words else _YES_NO.get(tidy(tags.get("crossing:island", tags.get("traffic_calming", "")))),
        has_button=_YES_NO.get(tidy(tags.get("button_operated", tags.get("traffic_signals:button", "")))),
        kerb=kerb,
        problem="; ".join(p for p in (kind.problem, kerb.problem) if p) or None,
    )


def _kind(tags: Mapping[str, str]) -> Reading[CrossingKind]:
    if tidy(tags.get("crossing:signals", "")) in {"yes", "shared", "separate"}:
        return Reading(CrossingKind.SIGNALS, Rank.TAG_WORD, tags["crossing:signals"])
    text = tags.get("crossing")
    words = [word for word in split_values(tidy(text or "")) if word not in SAY_NOTHING]
    known = [WORDS[word] for word in words if word in WORDS]
    if len(known) < len(words):
        return for_key(not_understood(text or "", "not a known crossing"), "crossing")
    if known:
        return Reading(min(known), Rank.TAG_WORD, text)
    markings = tidy(tags.get("crossing:markings", ""))
    if markings:
        return Reading(CrossingKind.UNMARKED if markings == "no" else CrossingKind.MARKED, Rank.TAG_WORD, tags["crossing:markings"])
    if tags.get("crossing_ref") or tags.get("highway") == "traffic_signals":
        kind = WORDS.get(tidy(tags.get("crossing_ref", "traffic_signals")), CrossingKind.MARKED)
        return Reading(kind, Rank.TAG_WORD, tags.get("crossing_ref"))
    return NO_KIND
