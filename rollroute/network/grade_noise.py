"""The noise of heights read along ways: what samples share, and whether the raster is as rough as it is said to be."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLOCK = 32_768  # samples worked on at once: the arrays in between then stay in the processor's cache
LEAST_TRIPLES = 200  # below, the check would be chance
SMOOTH_BELOW = 0.8  # chance alone moves the ratio by 0.1 at 200 triples: 6/5 sqrt(2 / 200), rounded


class NoiseCheck(NamedTuple):
    """How rough the heights of one raster are along the ways, against what its stated noise alone would make them.

    ``ratio`` is the mean square of second differences over the expected one: far below 1, the errors are alike from cell to
    cell (or smaller than stated); far above 1, the ground is rough (or the noise understated). ``factor`` is what the
    variance of grades was multiplied with.
    """

    sigma_m: float
    n_triples: int
    ratio: float
    factor: float


def check_noise(height: Floats, sigma: Floats, noise: tuple[Floats, Floats, Floats], chain: Ints) -> tuple[NoiseCheck, ...]:
    r"""Compare second differences of heights along ways with the stated noise, for each stated value.

    A raster's RMSE is against surveyed points; most of it is often shared by neighbouring cells and cancels in a grade.
    Taking it for independent noise would explain real hills away and hide steep streets. Second differences hold the ground's
    own bends too, so they can only overstate the noise. Where errors fade exponentially from cell to cell with correlation
    :math:`\rho`, second differences shrink by :math:`(6 - 8\rho + 2\rho^2) / 6` and the variance of a grade over 4 cells by
    :math:`(20 + 10\rho - 12\rho^2 - 18\rho^3) / 20`: 0.42 and 0.99 for 0.5, 0.15 and 0.55 for 0.8, 0.03 and 0.16 for 0.95.
    The square root of the ratio lies between, and is the factor used.

    Parameters
    ----------
    height, sigma : (n_samples,) float64
        Heights and stated noise [m]; NaN = unknown.
    noise
        As :func:`shared_noise` gives it.
    chain : (n_samples,) int64
        Chain of each sample.
    """
    bend = height[:-2] - 2.0 * height[1:-1] + height[2:]
    v, next_1, next_2 = noise
    expected = v[:-2] + 4.0 * v[1:-1] + v[2:] - 4.0 * (next_1[:-2] + next_1[1:-1]) + 2.0 * next_2[:-2]
    same = ~np.isnan(bend) & (chain[:-2] == chain[2:]) & (sigma[:-2] == sigma[2:]) & (expected > 0.0)
    bend, expected, stated = bend[same], expected[same], sigma[1:-1][same]
    checks = []
    for value in np.unique(stated):
        rows = stated == value
        n, ratio = int(rows.sum()), float(np.sum(bend[rows] ** 2) / np.sum(expected[rows]))
        is_smooth = n >= LEAST_TRIPLES and ratio < SMOOTH_BELOW
        checks.append(NoiseCheck(float(value), n, ratio, float(np.sqrt(ratio)) if is_smooth else 1.0))
    return tuple(checks)


def rescaled(noise: tuple[Floats, Floats, Floats], sigma: Floats, checks: tuple[NoiseCheck, ...]) -> tuple[Floats, Floats, Floats]:
    """Noise multiplied by the factor of each raster's check."""
    factor = np.ones(len(sigma))
    for check in checks:
        if check.factor != 1.0:
            factor[sigma == check.sigma_m] = check.factor
    return noise[0] * factor, noise[1] * factor, noise[2] * factor


def shared_noise(sigma: Floats, column: Floats, row: Floats) -> tuple[Floats, Floats, Floats]:
    r"""Variance of each bilinear sample, and its covariance with the next and the next but one [m^2].

    A sample is a weighted mean of up to four cells with independent errors; samples closer than two cells share some.
    On cell centres a cell apart: sigma^2, 0, 0. Unknown samples have none (0).
    """
    variance = [np.zeros(len(sigma)) for _ in range(3)]
    safe = np.nan_to_num(sigma) * np.nan_to_num(sigma)
    x, y = np.nan_to_num(column, nan=-1e9), np.nan_to_num(row, nan=-1e9)
    for lag in range(min(3, len(sigma))):
        for first in range(0, len(sigma) - lag, BLOCK):
            here = slice(first, min(first + BLOCK, len(sigma) - lag))
            there = slice(here.start + lag, here.stop + lag)
            variance[lag][here] = safe[here] * _tent_overlap(x[here], x[there]) * _tent_overlap(y[here], y[there])
    return variance[0], variance[1], variance[2]


def _tent_overlap(x: Floats, other: Floats) -> Floats:
    """Sum over whole numbers c of the linear-interpolation weights of c at x and at another place."""
    low = np.floor(x)
    share, away = x - low, other - low
    return (1.0 - share) * np.maximum(0.0, 1.0 - np.abs(away)) + share * np.maximum(0.0, 1.0 - np.abs(away - 1.0))
