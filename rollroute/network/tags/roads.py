"""What a carriageway is like to be on: speed, lanes, and loads that a way carries.

OSM wiki, Key:maxspeed (km/h where no unit stands; ``mph``, ``walk``, ``none``, places such as ``DE:urban``);
OSM wiki, Key:lanes; Key:maxweight (metric tonnes where no unit stands).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import CACHE_SIZE, read_count, read_mass_kg, split_values, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key, not_understood, worst

KMH_PER_MPH = 1.609344  # exact
KMH_PER_KNOT = 1.852  # exact
WALKING_KMH = 7.0  # assumption for ``walk``
NO_LIMIT_KMH = 150.0  # assumption for ``none``: fast
ZONES_KMH = {"living_street": 20.0, "bicycle_road": 30.0, "urban": 50.0, "rural": 100.0, "trunk": 100.0, "motorway": 130.0, "school": 30.0}
"""Assumed upper ends of what countries mean by these words."""
_SPEED = re.compile(r"^(\d+(?:[.,]\d+)?)\s*(km/?h|kmph|kph|mph|knots)?$")
_ZONE = re.compile(r"^[a-z]{2}(?:-[a-z]+)?:(?:zone:?)?([a-z_]+|\d+)$")
SAY_NOTHING = frozenset({"signals", "variable", "implicit", "default", "unposted"})


def read_maxspeed_kmh(tags: Mapping[str, str]) -> Reading[float]:
    """The posted speed in km/h, of several the fastest."""
    keys = ("maxspeed", "maxspeed:forward", "maxspeed:backward")
    found = [for_key(_speed(tags[key]), key) for key in keys if key in tags]
    return worst(found, "high") if found else ABSENT


def read_lanes(tags: Mapping[str, str]) -> Reading[int]:
    """The number of lanes for motor traffic."""
    text = tags.get("lanes")
    if text is None:
        return Reading(None, Rank.UNKNOWN)
    count = read_count(text, "high")
    if count.value is not None and "." in text:
        count = replace(count, problem="no whole number of lanes, taken up")
    return for_key(count, "lanes")


def read_mass_limit_kg(tags: Mapping[str, str]) -> Reading[float]:
    """The load that a way, bridge or lift carries, in kilograms; ``none`` and ``default`` say that no limit is posted."""
    text = tags.get("maxweight")
    if text is None or tidy(text) in {"none", "no", "default", "unsigned"}:
        return Reading(None, Rank.UNKNOWN, text)
    return for_key(read_mass_kg(text, "low"), "maxweight")


@lru_cache(CACHE_SIZE)
def _speed(text: str) -> Reading[float]:
    parts = [_one(part) for part in split_values(tidy(text).replace("|", ";"))]
    known = [speed for speed in parts if speed is not None]
    if not known or len(known) < len(parts):
        if split_values(tidy(text)) and all(part in SAY_NOTHING for part in split_values(tidy(text))):
            return Reading(None, Rank.TAG_WORD, text)
        return not_understood(text, "not a speed")
    rank = Rank.TAG_NUMBER if any(sign.isdigit() for sign in text) else Rank.TAG_WORD
    return Reading(max(known), rank, text)


def _one(part: str) -> float | None:
    if part in {"walk", "walking", "foot"}:
        return WALKING_KMH
    if part in {"none", "no"}:
        return NO_LIMIT_KMH
    match = _SPEED.match(part)
    if match is not None:
        factor = {"mph": KMH_PER_MPH, "knots": KMH_PER_KNOT}.get(match.group(2) or "", 1.0)
        speed = float(match.group(1).replace(",", ".")) * factor
        return speed if 0.0 < speed <= 300.0 else None
    zone = _ZONE.match(part)
    if zone is None:
        return None
    word = zone.group(1)
    return float(word) if word.isdigit() else ZONES_KMH.get(word)
