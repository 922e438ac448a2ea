"""The errors rollroute raises on purpose, and the exit code each one stands for.

RollrouteError                                        exit code
├── InputError(ValueError)   a file or argument       2
├── NoRouteError             proven: there is no way  3   (carries ``reasons``)
└── DataGapError             a needed fact is missing 4

A message says what is wrong, where, with which value, and what to do about it:
``chairs/demo.toml: mass_kg must be > 0, got -4. Give chair + rider + bags in kg.``
"""

from __future__ import annotations

__all__ = ["DataGapError", "InputError", "NoRouteError", "RollrouteError"]


class RollrouteError(Exception):
    """Base of every error that rollroute raises on purpose."""

    exit_code = 1


class InputError(RollrouteError, ValueError):
    """A file or an argument can't be used as it stands."""

    exit_code = 2


class NoRouteError(RollrouteError):
    """It is proven that no route keeps every rule; ``reasons`` says which rule failed and by how much."""

    exit_code = 3

    def __init__(self, message: str, *, reasons: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.reasons = reasons


class DataGapError(RollrouteError):
    """A fact without which no honest answer exists is missing."""

    exit_code = 4
