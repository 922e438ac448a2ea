"""Why a piece is excluded, and what could be asked about it: the bits of a verdict.

An excluded piece keeps every reason. An unverified piece keeps every question.
"""

from __future__ import annotations

from enum import IntFlag


class Reason(IntFlag):
    """A fact stops this chair here, in this direction, under these conditions."""

    STEPS = 1 << 0
    GRADE = 1 << 1  # a figure in the map, or measured
    GRADE_ESTIMATED = 1 << 2  # read from the raster: a measurement can reopen it
    KERB = 1 << 3
    WIDTH = 1 << 4
    SURFACE = 1 << 5
    GATE = 1 << 6  # locked, or a kind of barrier that no chair passes
    ACCESS = 1 << 7  # private, or closed to people on foot
    TRAFFIC = 1 << 8  # a carriageway that is too fast or too busy
    DARK = 1 << 9  # a carriageway without light
    POWER = 1 << 10  # a lift or door that needs mains power, and it is off
    DOOR = 1 << 11
    LIFT_SIZE = 1 << 12
    MASS = 1 << 13
    WORKS = 1 << 14  # construction
    TAGGED_NO = 1 << 15  # the map says that wheelchairs can't pass
    CLOSED = 1 << 16  # inside an area that is closed from the start
    CROSS_SLOPE = 1 << 17
    ONE_WAY = 1 << 18  # people on foot too
    MEASURED = 1 << 19  # somebody found it blocked
    TURN = 1 << 20  # too tight a bend for the chair
    ESCORT = 1 << 21  # a carriageway, and nobody walks with the chair


class Question(IntFlag):
    """A missing fact that could stop this chair here."""

    KERB = 1 << 0
    WIDTH = 1 << 1
    SURFACE = 1 << 2
    GRADE = 1 << 3
    GATE = 1 << 4
    BOLLARD = 1 << 5
    CYCLE_BARRIER = 1 << 6
    DOOR = 1 << 7
    THRESHOLD = 1 << 8
    LIFT = 1 << 9
    ACCESS = 1 << 10
    CROSSING = 1 << 11
    CARRIAGEWAY = 1 << 12
    APRON = 1 << 13
    OFF_MAP = 1 << 14
    STEPS_RAMP = 1 << 15
    CROSS_SLOPE = 1 << 16
    OTHER = 1 << 17
    TURN = 1 << 18
    LANDING = 1 << 19  # a run longer than the chosen standard allows, landings not known
    ISLAND = 1 << 20  # an island that is drawn shorter than what has to stand on it


def names(bits: int, kind: type[IntFlag]) -> list[str]:
    """The names of the set bits in lower case, in the order of their declaration."""
    return [str(flag.name).lower() for flag in kind if bits & flag]
