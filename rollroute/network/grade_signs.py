"""Ways of which the map tells only that they go up or down (OSM wiki, Key:incline: ``up``, ``down``).

The word gives the sign, the raster the size. Where the raster's estimate has the other sign within its error, what is left of the
posterior on the tagged side counts: the mean of a normal cut off at zero. Where both contradict each other clearly, the raster stands:
ways are sometimes drawn from the other end than the tag was meant for.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.network.ranks import Rank

CLEARLY_SD = 3.0  # assumption: from here on word and raster contradict each other


def apply_signs(columns: dict[str, npt.NDArray[Any]], rank: npt.NDArray[np.uint8], sign: npt.NDArray[np.int8]) -> None:
    """Turn estimated grades to the tagged side, in place. ``sign``: +1 up from tail to head, −1 down, 0 not told.

    Examples
    --------
    A normal of mean −1 % and error 1 % cut off below zero has mean −0.01 + 0.01 × φ(1) / (1 − Φ(1)) = 0.0053 (tables: 0.2420, 0.1587).

    >>> columns = {name: np.array([-0.01], np.float32) for name in ("grade", "grade_steepest", "grade_rise")}
    >>> columns["grade_sd"] = np.array([0.01], np.float32)
    >>> apply_signs(columns, np.array([Rank.INFERRED], np.uint8), np.array([1], np.int8))
    >>> round(float(columns["grade"][0]), 4)
    0.0053
    """
    sd = columns["grade_sd"].astype(np.float64)
    told = (sign != 0) & (rank == Rank.INFERRED) & (sd > 0)
    for name in ("grade", "grade_steepest"):
        against = -columns[name].astype(np.float64) * sign  # how far the estimate lies on the other side
        rows = np.flatnonzero(told & (against > 0) & (against < CLEARLY_SD * sd))
        columns[name][rows] = sign[rows] * _mean_beyond(against[rows], sd[rows])
    rows = np.flatnonzero(told & (columns["grade"] * sign >= 0))
    columns["grade_rise"][rows] = np.where(sign[rows] > 0, columns["grade"][rows], 0.0)


def _mean_beyond(against: npt.NDArray[np.float64], sd: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Mean of a normal with mean ``−against`` and ``sd``, given that it is above zero."""
    ratio = against / sd
    density = np.exp(-0.5 * ratio**2) / math.sqrt(2.0 * math.pi)
    beyond = np.array([0.5 * math.erfc(r / math.sqrt(2.0)) for r in ratio])
    return np.asarray(-against + sd * density / beyond, np.float64)
