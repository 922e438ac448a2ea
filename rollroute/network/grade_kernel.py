"""The probability of being over a limit for very many pieces: the sums of ``GradePosterior.probability_over``, compiled.

Same formulas, one piece after the other instead of tables of components; terms below a ten-millionth are left out.
"""

from __future__ import annotations

import math
from typing import Any

import numba as nb
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NEGLIGIBLE = -30.0  # exponent: e^-30 is 1e-13 of the best component
FAR = 6.0  # standard deviations: 1e-9 lies beyond


@nb.njit(cache=True, nogil=True, error_model="numpy")
def _tail(distance: float, sd: float) -> float:
    """Probability that a normal lies more than a distance above its middle."""
    if distance > FAR * sd:
        return 0.0
    if distance < -FAR * sd:
        return 1.0
    return 0.5 * math.erfc(distance / (sd * math.sqrt(2.0)))


@nb.njit(cache=True, nogil=True, error_model="numpy")
def over_limits(
    measured: Any,
    error: Any,
    inner: Any,
    kind: Any,
    weights: Floats,
    rms: Floats,
    middle: Floats,
    spread: Floats,
    unknown: Floats,
    limits: Floats,
) -> Floats:
    """P(g > limits[0] or g < -limits[1]) for each piece; ``unknown`` by kind where nothing was measured."""
    out = np.empty(len(kind))
    n = len(middle)
    exponent = np.empty(n)
    for i in range(len(kind)):
        j = i - 1  # short pieces of one window follow each other: the same numbers give the same answer
        if i and measured[i] == measured[j] and error[i] == error[j] and inner[i] == inner[j] and kind[i] == kind[j]:
            out[i] = out[j]
            continue
        y, e2, row = float(measured[i]), float(error[i]) ** 2, kind[i]
        if math.isnan(y):
            out[i] = unknown[row]
            continue
        best = -math.inf
        for k in range(n):
            exponent[k] = -0.5 * (y - middle[k]) ** 2 / (spread[k] ** 2 + e2)
            best = max(best, exponent[k])
        total, over, stretch = 0.0, 0.0, 1.0 + 0.5 * inner[i]
        for k in range(n):
            if exponent[k] - best < NEGLIGIBLE:
                continue
            s2 = spread[k] ** 2
            keep = s2 / (s2 + e2)
            weight = weights[row, k] * math.exp(exponent[k] - best) * math.sqrt(1.0 / (s2 + e2))
            mean = stretch * (middle[k] + keep * (y - middle[k]))
            sd = math.sqrt(stretch**2 * s2 * (1.0 - keep) + inner[i] * rms[row] * math.sqrt(middle[k] ** 2 + s2))
            total += weight
            over += weight * (_tail(limits[0] - mean, sd) + _tail(limits[1] + mean, sd))
        out[i] = min(over / total, 1.0)
    return out
