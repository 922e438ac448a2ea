"""The least amount of something of which more never hurts, by halving."""

from __future__ import annotations

import math
from collections.abc import Callable


def least_amount(holds: Callable[[float], bool | None], much: float, *, at_least: float = 0.0, tolerance: float) -> float:
    """The least amount from ``at_least`` for which ``holds``; what is returned holds, and ``tolerance`` less does not.

    inf where ``much`` is not enough, NaN where ``holds`` says ``None``: that it does not know.
    Small amounts are tried first, in steps that grow fourfold, since most shortfalls are small against ``much``.
    """
    answer = holds(much)
    if not answer:
        return math.nan if answer is None else math.inf
    if (answer := holds(at_least)) is not False:
        return at_least if answer else math.nan
    low, width = at_least, tolerance
    while at_least + width < much and not (answer := holds(at_least + width)):
        if answer is None:
            return math.nan
        low = at_least + width
        width *= 4.0
    high = min(at_least + width, much)
    while high - low > tolerance and low < 0.5 * (low + high) < high:
        middle = 0.5 * (low + high)
        answer = holds(middle)
        if answer is None:
            return math.nan
        low, high = (low, middle) if answer else (middle, high)
    return high
