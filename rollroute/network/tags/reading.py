"""A ``Reading``: what one tag says, how well, and what was wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, Literal, TypeVar

from rollroute.network.ranks import Rank

T = TypeVar("T")
Side = Literal["low", "high"]
"""Which end of several values is the bad one: a width is bad when it is low, a kerb when it is high."""


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """What a tag says.

    ``value`` is ``None`` where the tag is missing (``text`` is then ``None`` too) or was not understood (``problem`` then says why).
    A problem may also stand beside a value, where one tag contradicts another.
    """

    value: T | None
    rank: Rank
    text: str | None = None  # as tagged
    problem: str | None = None
    is_approximate: bool = False

    @property
    def is_known(self) -> bool:
        """Whether there is a value."""
        return self.value is not None


ABSENT: Reading[float] = Reading(None, Rank.UNKNOWN)
"""Nothing is tagged."""


def not_understood(text: str, why: str) -> Reading[T]:
    """A tag that stays unknown, and why: ``build`` lists it with the ids of its ways."""
    return Reading(None, Rank.UNKNOWN, text, why)


def for_key(reading: Reading[T], key: str) -> Reading[T]:
    """The same reading; a problem names the key and the value as tagged."""
    if reading.problem is None or reading.problem.startswith(f"{key}="):
        return reading
    return replace(reading, problem=f"{key}={reading.text}: {reading.problem}")


def worst(readings: list[Reading[float]], side: Side) -> Reading[float]:
    """The bad one of several readings of one thing, each of which limits it; a problem of any other is kept beside it."""
    known = [r for r in readings if r.value is not None]
    problems = [r.problem for r in readings if r.problem]
    if not known:
        with_problem = [r for r in readings if r.problem]
        return with_problem[0] if with_problem else ABSENT
    pick = min if side == "low" else max
    chosen = pick(known, key=lambda r: r.value if r.value is not None else 0.0)
    if not problems or chosen.problem:
        return chosen
    return replace(chosen, problem="; ".join(problems))
