r"""From a measured grade to what is believed about the true one: an empirical-Bayes prior of the town's own grades.

The prior of each kind of way is a scale mixture of zero-mean normals, :math:`g \sim \sum_k \pi_k N(0, \tau_k^2)` on a fixed
ladder of :math:`\tau_k`; the weights are fitted to the town's measurements and their errors by expectation maximisation.
Zero mean, because the direction in which a way was drawn says nothing. A mixture, because a flat town with three steep
streets is not normal: a single normal would shrink those three until they look passable. This is the known method of
adaptive shrinkage (Stephens 2017, "False discovery rates: a new deal", Biostatistics 18(2); from memory).

What a coarse window can't see, the grade over 10 m inside it, is added as a share ``inner`` of each component's variance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]

TAU = 0.0005 * 2.0 ** np.arange(10)
"""Ladder of grade spreads: 0.05 % to 25.6 %, factor 2. Finer changes no probability by 0.01 (measured in the calibration benchmark)."""

TOWN_PSEUDO_COUNT = 10.0
"""Weight, in measurements, of an even spread over the ladder against the town's own data (assumption: weak)."""
KIND_PSEUDO_COUNT = 50.0
"""Weight, in measurements, of the whole town's grades against those of one kind of way (assumption)."""
FIT_SAMPLE = 20_000
"""Measurements used per fit: the weights are then known to a percent, and a fit takes a fraction of a second."""
FIT_ROUNDS = 100
LEAST_SD = 1e-6  # keeps the arithmetic finite for heights stated to be free of noise
CHUNK = 65_536  # rows worked on at once, so that the tables of components stay in the cache


@dataclass(frozen=True, slots=True, kw_only=True)
class GradePrior:
    """The town's own grades by kind of way.

    weights : (n_kinds, 10) float64   of the components of :data:`TAU`; each row sums to 1
    """

    weights: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class GradePosterior:
    """What is believed about the grade of each piece: enough to ask for any limit.

    measured, measured_sd : (n,) float32   least-squares grade and its error; NaN = unknown: then the prior alone speaks
    inner                 : (n,) float32   variance of the grade over 10 m inside the window, as a share of the component's
    kind                  : (n,) uint8     row of ``prior.weights``
    """

    measured: NDArray[np.float32]
    measured_sd: NDArray[np.float32]
    inner: NDArray[np.float32]
    kind: NDArray[np.uint8]
    prior: GradePrior

    def moments(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Mean, standard deviation, expected rise :math:`E[g^+]` and expected fall :math:`E[g^-]`, each (n,) float64.

        NaN where nothing was measured. Expected rise minus expected fall is the mean.
        """
        out = np.full((4, len(self.kind)), np.nan)
        known = np.flatnonzero(~np.isnan(self.measured))
        for rows in _chunks(known):
            weight, mean, sd = self._components(rows)
            average = (weight * mean).sum(axis=0)
            spread = np.sqrt(np.maximum((weight * (sd**2 + mean**2)).sum(axis=0) - average**2, 0.0))
            ratio = mean / sd
            rise = (weight * (mean * ndtr(ratio) + sd * np.exp(-0.5 * ratio**2) / np.sqrt(2 * np.pi))).sum(axis=0)
            out[:, rows] = average, spread, rise, rise - average
        return out[0], out[1], out[2], out[3]

    def probability_over(self, limit_up: float, limit_down: float | None = None) -> Floats:
        """Probability that the true grade is over the limit, rolling each piece as it is drawn.

        Parameters
        ----------
        limit_up, limit_down
            Rise over run, > 0; ``limit_down`` is ``limit_up`` if not given. For the way against the drawing swap the two.

        Returns
        -------
        (n,) float64
            P(g > limit_up or g < -limit_down). Where nothing was measured: the share of this kind of way in this town.
        """
        down = limit_up if limit_down is None else limit_down
        out = np.empty(len(self.kind))
        for rows in _chunks(np.arange(len(self.kind))):
            weight, mean, sd = self._components(rows)
            out[rows] = (weight * (ndtr((mean - limit_up) / sd) + ndtr((-down - mean) / sd))).sum(axis=0)
        return np.clip(out, 0.0, 1.0)

    def _components(self, rows: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
        """Weight, mean and sd of the posterior's components for some pieces, each (10, n)."""
        measured = self.measured[rows].astype(np.float64)
        is_known = ~np.isnan(measured)
        y = np.where(is_known, measured, 0.0)
        error2 = np.where(is_known, np.maximum(self.measured_sd[rows].astype(np.float64), LEAST_SD) ** 2, 1.0)
        tau2 = (TAU**2)[:, None]
        weight = self.prior.weights[self.kind[rows]].T * np.where(is_known, _likelihood(y, error2), 1.0)
        weight /= weight.sum(axis=0)
        keep = np.where(is_known, tau2 / (tau2 + error2), 0.0)
        inner = np.where(is_known, self.inner[rows], 0.0)
        return weight, keep * y, np.sqrt(tau2 * (1.0 - keep + inner))


def fit_prior(measured: Floats, measured_sd: Floats, kind: NDArray[np.uint8], *, n_kinds: int) -> GradePrior:
    """Fit the town's grades by kind of way to measurements with known errors.

    Each kind starts from the whole town's grades, which count as :data:`KIND_PSEUDO_COUNT` of its measurements, so that a
    kind with two short ways is not believed to be flat or steep on their word. Same input, same prior: no random numbers.

    Parameters
    ----------
    measured, measured_sd : (n,) float64
        Least-squares grades and their standard errors; NaN are left out.
    kind : (n,) uint8
        Kind of way, 0 .. n_kinds - 1.
    """
    known = np.flatnonzero(~np.isnan(measured))
    even = np.full(len(TAU), 1.0 / len(TAU))
    town = _fit(measured, measured_sd, known, even, TOWN_PSEUDO_COUNT)
    rows = [_fit(measured, measured_sd, known[kind[known] == code], town, KIND_PSEUDO_COUNT) for code in range(n_kinds)]
    return GradePrior(weights=np.array(rows).reshape(n_kinds, len(TAU)))


def _fit(measured: Floats, measured_sd: Floats, rows: NDArray[np.int64], start: Floats, pseudo_count: float) -> Floats:
    if not len(rows):
        return start
    rows = rows[:: max(1, -(-len(rows) // FIT_SAMPLE))]
    likelihood = _likelihood(measured[rows], np.maximum(measured_sd[rows], LEAST_SD) ** 2)
    weights = start
    for _ in range(FIT_ROUNDS):
        share = weights * (likelihood @ (1.0 / (weights @ likelihood)))
        weights = (share + pseudo_count * start) / (len(rows) + pseudo_count)
    return weights


def _likelihood(y: Floats, error2: Floats) -> Floats:
    """Density of each measurement under each component, (10, n), scaled so that the largest per measurement is 1."""
    variance = (TAU**2)[:, None] + error2
    log = -0.5 * (y**2 / variance + np.log(variance))
    return np.asarray(np.exp(log - log.max(axis=0)))


def _chunks(rows: NDArray[Any]) -> list[NDArray[np.int64]]:
    return [rows[first : first + CHUNK] for first in range(0, len(rows), CHUNK)]
