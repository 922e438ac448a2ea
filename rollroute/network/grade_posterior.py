r"""From a measured grade to what is believed about the true one: an empirical-Bayes prior of the town's own grades.

The prior of each kind of way is a mixture of fixed components, as steep up as down, because the direction in which a way
was drawn says nothing: level ones :math:`N(0, \tau^2)` and pairs :math:`N(\pm\mu, (\mu/5)^2)` on ladders of :math:`\tau` and
:math:`\mu`. Only the weights are fitted to the town's measurements and their errors, by expectation maximisation. A single
normal would shrink the three steep streets of a flat town until they look passable, and a mixture of zero-mean normals
still says that the flanks of a hill are mostly gentle; pairs let a town have streets of about 10 %.
(Mixtures fitted to noisy measurements: known practice, e.g. Stephens 2017, Biostatistics 18(2); from memory.)

What a coarse window can't see, the grade over 10 m inside it, is added as a share ``inner`` of a mean square: of the kind's
root-mean-square grade times the component's, since restlessness goes partly with the town and partly with the street.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]

LEVEL = 0.0005 * 2.0 ** np.arange(5)
"""Spreads of the level components: 0.05 % to 0.8 %, factor 2."""
STEEP = 0.015 * 1.3 ** np.arange(12)
"""Middles of the steep pairs: 1.5 % to 26.9 %, factor 1.3; each spreads by a fifth, so that neighbours overlap."""
SIZE = np.concatenate((LEVEL, STEEP * np.sqrt(1.04)))
"""Root-mean-square grade of each component or pair: the ladder on which weights are given."""
_MIDDLE = np.concatenate((np.zeros(5), STEEP, -STEEP))[:, None]
_SPREAD = np.concatenate((LEVEL, STEEP / 5.0, STEEP / 5.0))[:, None]

TOWN_PSEUDO_COUNT = 1.0
"""Weight, in noise-free measurements, of the start against the town's own data (assumption: weak)."""
KIND_PSEUDO_COUNT = 50.0
"""Weight, in noise-free measurements, of the whole town's grades against those of one kind of way (assumption)."""
START_TAIL = 1e-2  # each component has at least this weight at the start, less where it is steeper than the town (assumption)
START_RMS = 0.03  # where nothing at all was measured (assumption)
FIT_ROUNDS = 200
LEAST_SD = 1e-6  # keeps the arithmetic finite for heights stated to be free of noise
COMPILE_FROM = 100_000  # pieces from which compiling pays: below, start-up time counts for more
CHUNK = 2_048  # rows worked on at once, so that the tables of components stay in the cache


@dataclass(frozen=True, slots=True, kw_only=True)
class GradePrior:
    """The town's own grades by kind of way.

    weights : (n_kinds, 17) float64   of the components and pairs of :data:`SIZE`; each row sums to 1
    """

    weights: Floats

    def rms(self) -> Floats:
        """Root-mean-square grade of each kind, (n_kinds,)."""
        return np.asarray(np.sqrt(self.weights @ SIZE**2))


@dataclass(frozen=True, slots=True, kw_only=True)
class GradePosterior:
    """What is believed about the grade of each piece: enough to ask for any limit.

    measured, measured_sd : (n,) float32   least-squares grade and its error; NaN = unknown: then the prior alone speaks
    inner                 : (n,) float32   variance of the grade over 10 m inside the window, as a share of the mean square
    kind                  : (n,) uint8     row of ``prior.weights``
    """

    measured: NDArray[np.float32]
    measured_sd: NDArray[np.float32]
    inner: NDArray[np.float32]
    kind: NDArray[np.uint8]
    prior: GradePrior

    def at(self, rows: NDArray[np.int64]) -> GradePosterior:
        """The same for some of the pieces, in that order."""
        return GradePosterior(
            measured=self.measured[rows], measured_sd=self.measured_sd[rows], inner=self.inner[rows], kind=self.kind[rows], prior=self.prior
        )

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
        if len(self.kind) >= COMPILE_FROM:
            return self._compiled_over(limit_up, down)
        out = np.empty(len(self.kind))
        for rows in _chunks(np.arange(len(self.kind))):
            weight, mean, sd = self._components(rows)
            out[rows] = (weight * (ndtr((mean - limit_up) / sd) + ndtr((-down - mean) / sd))).sum(axis=0)
        return np.clip(out, 0.0, 1.0)

    def _compiled_over(self, limit_up: float, limit_down: float) -> Floats:
        from rollroute.network.grade_kernel import over_limits

        kinds = np.arange(len(self.prior.weights))
        nothing = np.full(len(kinds), np.nan, np.float32)
        blank = GradePosterior(measured=nothing, measured_sd=nothing, inner=nothing, kind=kinds.astype(np.uint8), prior=self.prior)
        error = np.maximum(self.measured_sd, np.float32(LEAST_SD))
        both = _both_ways(self.prior.weights)
        unknown, limits = blank.probability_over(limit_up, limit_down), np.array([limit_up, limit_down])
        return np.asarray(
            over_limits(self.measured, error, self.inner, self.kind, both, self.prior.rms(), _MIDDLE[:, 0], _SPREAD[:, 0], unknown, limits)
        )

    def _components(self, rows: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
        """Weight, mean and sd of the posterior's components for some pieces, each (29, n)."""
        measured = self.measured[rows].astype(np.float64)
        is_known = ~np.isnan(measured)
        y = np.where(is_known, measured, 0.0)
        error2 = np.where(is_known, np.maximum(self.measured_sd[rows].astype(np.float64), LEAST_SD) ** 2, 1.0)
        weight = _both_ways(self.prior.weights).T[:, self.kind[rows]] * np.where(is_known, _likelihood(y, error2), 1.0)
        weight /= weight.sum(axis=0)
        keep = np.where(is_known, _SPREAD**2 / (_SPREAD**2 + error2), 0.0)
        inner = np.where(is_known, self.inner[rows].astype(np.float64), 0.0)
        # A window's mean lies nearer to zero than the grade in its middle: where the grade wanders, by half of ``inner``.
        stretch = 1.0 + 0.5 * inner
        variance = stretch**2 * _SPREAD**2 * (1.0 - keep) + inner * self.prior.rms()[self.kind[rows]] * np.sqrt(_MIDDLE**2 + _SPREAD**2)
        return weight, stretch * (_MIDDLE + keep * (y - _MIDDLE)), np.sqrt(variance)


def fit_prior(measured: Floats, measured_sd: Floats, kind: NDArray[np.uint8], *, n_kinds: int) -> GradePrior:
    """Fit the town's grades by kind of way to measurements with known errors.

    The whole town starts from a spread around its root-mean-square grade, each kind from the whole town's grades; both
    count as a number of measurements, so that a kind with two short ways is not believed to be flat or steep on their word.
    Same input, same prior: no random numbers.

    Parameters
    ----------
    measured, measured_sd : (n,) float64
        Least-squares grades and their standard errors; NaN are left out.
    kind : (n,) uint8
        Kind of way, 0 .. n_kinds - 1.
    """
    known = ~np.isnan(measured)
    measured, measured_sd, kind = measured[known], np.maximum(measured_sd[known], LEAST_SD), kind[known]
    rms, exchange = _spread(measured, measured_sd)
    town = _fit(measured, measured_sd, _start(rms), TOWN_PSEUDO_COUNT * exchange)
    rows = [_fit(measured[kind == k], measured_sd[kind == k], town, KIND_PSEUDO_COUNT * exchange) for k in range(n_kinds)]
    return GradePrior(weights=np.array(rows).reshape(n_kinds, len(SIZE)))


def _spread(measured: Floats, measured_sd: Floats) -> tuple[float, float]:
    r"""Root mean square of the true grades, and how many noisy measurements tell as much about it as one without noise.

    The variance of a squared measurement is :math:`2 (\tau^2 + s^2)^2`, so the exchange is :math:`(1 + s^2 / \tau^2)^2`.
    """
    if not len(measured):
        return START_RMS, 1.0
    error2 = measured_sd**2
    weight = 1.0 / (error2 + np.median(error2))
    typical = float(np.average(error2, weights=weight))
    smallest = typical * np.sqrt(2.0 / len(measured))  # what that many measurements can't tell from level
    tau2 = max(float(np.average(measured**2 - error2, weights=weight)), smallest, SIZE[0] ** 2)
    return float(np.sqrt(tau2)), float((1.0 + typical / tau2) ** 2)


def _start(rms: float) -> Floats:
    """Weights of a normal spread of grades, with thin tails of a power so that none is impossible."""
    bell = SIZE / rms * np.exp(-0.5 * (SIZE / rms) ** 2)  # its mass per step of a geometric ladder
    weights = bell / bell.sum() + START_TAIL * np.minimum(1.0, (rms / SIZE) ** 2)
    return np.asarray(weights / weights.sum())


def _fit(measured: Floats, measured_sd: Floats, start: Floats, pseudo_count: float) -> Floats:
    """Weights of the components by expectation maximisation, with ``start`` counting as so many measurements."""
    if not len(measured):
        return start
    y, sd, count = _binned(measured, measured_sd)
    likelihood = _one_way(_likelihood(y, sd**2))
    weights = start
    for _ in range(FIT_ROUNDS):
        share = weights * (likelihood @ (count / (weights @ likelihood)))
        weights = (share + pseudo_count * start) / (len(measured) + pseudo_count)
    return weights


def _binned(measured: Floats, measured_sd: Floats) -> tuple[Floats, Floats, Floats]:
    """Put alike measurements together: size within a tenth of the error, errors within 5 %. Returns size, error, count."""
    size = np.abs(measured)
    octave = np.rint(np.log(measured_sd) / 0.05).astype(np.int64)
    step = np.minimum(np.rint(size / measured_sd / 0.1), 2**31).astype(np.int64)
    _, where, count = np.unique((octave << 32) + step, return_inverse=True, return_counts=True)
    return np.bincount(where, size) / count, np.bincount(where, measured_sd) / count, count.astype(np.float64)


def _likelihood(y: Floats, error2: Floats) -> Floats:
    """Density of each measurement under each component, (29, n), scaled so that the largest per measurement is 1."""
    variance = _SPREAD**2 + error2
    log = -0.5 * ((y - _MIDDLE) ** 2 / variance + np.log(variance))
    return np.asarray(np.exp(log - log.max(axis=0)))


def _both_ways(weights: Floats) -> Floats:
    """Share the weight of each pair out over its uphill and its downhill half: (..., 17) -> (..., 29)."""
    level, steep = weights[..., : len(LEVEL)], weights[..., len(LEVEL) :]
    return np.concatenate((level, 0.5 * steep, 0.5 * steep), axis=-1)


def _one_way(density: Floats) -> Floats:
    """Density under each pair, the mean of its halves: (29, n) -> (17, n)."""
    n = len(LEVEL)
    return np.concatenate((density[:n], 0.5 * (density[n : len(SIZE)] + density[len(SIZE) :])))


def _chunks(rows: NDArray[Any]) -> list[NDArray[np.int64]]:
    return [rows[first : first + CHUNK] for first in range(0, len(rows), CHUNK)]
