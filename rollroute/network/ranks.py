"""How well a fact is known: a higher rank replaces a lower one, and travels to the printed page."""

from __future__ import annotations

from enum import IntEnum


class Rank(IntEnum):
    """Where a fact comes from; larger is better."""

    UNKNOWN = 0  # nobody said anything
    INFERRED = 1  # follows from the kind of way
    TAG_WORD = 2  # the map has a word for it
    TAG_NUMBER = 3  # the map has a figure
    SURVEY = 4  # a city's own inventory
    MEASURED = 5  # somebody went there and measured
    RIDER = 6  # the rider's own word for this chair
