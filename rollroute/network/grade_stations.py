r"""Measure grades along ways: samples, windows, least squares and the error of each.

Stations stand along a chain a window apart; they belong to the way, not to the pieces that it is cut into, so that cutting
a piece in two changes no grade. Neighbouring windows share no sample but the one at their border.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from rollroute.network.grade_noise import NoiseCheck, check_noise, rescaled, shared_noise

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
HeightsAt = Callable[[Floats, Floats], tuple[Floats, Floats, Floats, Floats, Floats]]
"""(lon, lat) -> height, cell, sigma [m], column, row; NaN where unknown: the method ``samples`` of a Terrain."""

MIN_WINDOW_M = 10.0  # facts: 1 m lidar is fitted over 10 to 20 m; shorter windows are mostly noise
WINDOW_CELLS = 3.0
MIN_SPACING_M = 1.0
"""Samples stand no closer than this even on finer rasters: eleven per window are enough, and the error formula counts them."""
LOOK_EVERY_M = 30.0  # along a way, for the slope to its side: less than the reach of a position error (assumption)
M_PER_DEGREE = 6_371_008.8 * np.pi / 180.0  # mean radius of the Earth (IUGG); only for side slopes, where 0.5 % is nothing


class PositionError(NamedTuple):
    """How far a drawn way lies from the real one, sideways.

    Both are assumptions: no source gives them for towns. The offset is alike along a street (imagery shift) and differs
    between streets, so it forgets itself exponentially over ``reach_m``.
    """

    sd_m: float = 2.0
    reach_m: float = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chains:
    """Polylines along which grades are measured.

    first_vertex          : (n + 1,) int64      vertices of chain c are first_vertex[c] .. first_vertex[c + 1] - 1
    s_m, lon, lat         : (n_vertices,)       distance along the chain from its first vertex; degrees
    is_straight           : (n,) bool           heights run straight between the ends
    """

    first_vertex: Ints
    s_m: Floats
    lon: Floats
    lat: Floats
    is_straight: NDArray[np.bool_]

    @property
    def length_m(self) -> Floats:
        """Length of each chain [m]."""
        return np.asarray(self.s_m[self.first_vertex[1:] - 1] - self.s_m[self.first_vertex[:-1]])

    def only(self, chain: Ints) -> Chains:
        """Some of the chains, in that order."""
        count = np.diff(self.first_vertex)[chain]
        first = _offsets(count)
        vertex = np.arange(first[-1]) + np.repeat(self.first_vertex[chain] - first[:-1], count)
        return Chains(
            first_vertex=first, s_m=self.s_m[vertex], lon=self.lon[vertex], lat=self.lat[vertex], is_straight=self.is_straight[chain]
        )

    def points_at(self, chain: Ints, s_m: Floats) -> tuple[Floats, Floats]:
        """Longitude and latitude at distances along chains; clipped to the chain's ends."""
        # One interpolation for all chains: each is moved along the number line so that none touches the next.
        length = self.length_m
        start = np.concatenate(([0.0], np.cumsum(length + 1.0)))[:-1]
        n_vertices = np.diff(self.first_vertex)
        line = self.s_m - np.repeat(self.s_m[self.first_vertex[:-1]] - start, n_vertices)
        ask = start[chain] + np.clip(s_m, 0.0, length[chain])
        return np.interp(ask, line, self.lon), np.interp(ask, line, self.lat)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stations:
    """Measured grades; station i holds from from_m[i] to to_m[i] of its chain.

    first        : (n_chains + 1,) int64     stations of chain c are first[c] .. first[c + 1] - 1, in order
    from_m, to_m : (n,) float64
    grade        : (n,) float64              least-squares rise over run in chain direction; NaN = unknown
    grade_sd     : (n,) float64              its standard error; NaN likewise
    window_m     : (n,) float64              length over which it was fitted
    noise        : whether each raster is as rough along the ways as its stated noise
    """

    first: Ints
    from_m: Floats
    to_m: Floats
    grade: Floats
    grade_sd: Floats
    window_m: Floats
    noise: tuple[NoiseCheck, ...]


class _Layout(NamedTuple):
    """Samples and windows per chain: how many, how far apart."""

    length_m: Floats
    window_m: Floats
    n_samples: Ints
    spacing_m: Floats
    n_stations: Ints


def measure_stations(chains: Chains, heights_at: HeightsAt, *, position: PositionError) -> Stations:
    """Read heights along every chain and fit the grade at its stations.

    A chain is measured with the finest raster that answers on it; where that one has a hole, a coarser one fills in with
    its own, longer windows.
    """
    n = len(chains.is_straight)
    probe = np.repeat(np.arange(n), 3), (chains.length_m[:, None] * (0.0, 0.5, 1.0)).ravel()
    cell = np.fmin.reduce(heights_at(*chains.points_at(*probe))[1].reshape(n, 3), axis=1) if n else chains.length_m
    stations = _measure(chains, heights_at, cell, position)
    chain = np.repeat(np.arange(n), np.diff(stations.first))
    gap = np.flatnonzero(np.isnan(stations.grade) & ~chains.is_straight[chain])
    middle = 0.5 * (stations.from_m[gap] + stations.to_m[gap])
    there = heights_at(*chains.points_at(chain[gap], middle))[1]
    is_fillable = there > 1.01 * np.where(np.isnan(cell), 0.0, cell)[chain[gap]]
    gap, middle, there = gap[is_fillable], middle[is_fillable], there[is_fillable]
    if not len(gap):
        return stations
    holed, of = np.unique(chain[gap], return_inverse=True)
    coarse_cell = np.zeros(len(holed))
    np.maximum.at(coarse_cell, of, there)
    coarse = _measure(chains.only(holed), heights_at, coarse_cell, position)
    step = (coarse.to_m - coarse.from_m)[coarse.first[of]]
    source = np.minimum(coarse.first[of] + (middle / step).astype(np.int64), coarse.first[of + 1] - 1)
    for fine, filling in ((stations.grade, coarse.grade), (stations.grade_sd, coarse.grade_sd), (stations.window_m, coarse.window_m)):
        fine[gap] = filling[source]
    return stations


def _measure(chains: Chains, heights_at: HeightsAt, cell: Floats, position: PositionError) -> Stations:
    """Grades at the stations that go with a cell size per chain; heights from coarser cells count as unknown."""
    layout = _lay_out(chains, cell)
    first_sample = _offsets(layout.n_samples)
    chain_of_sample = np.repeat(np.arange(len(layout.length_m)), layout.n_samples)
    along = (np.arange(first_sample[-1]) - first_sample[chain_of_sample]) * layout.spacing_m[chain_of_sample]
    height, cell_there, sigma, column, row = heights_at(*chains.points_at(chain_of_sample, along))
    # Samples closer than their cell repeat each other: their noise would look smaller than it is.
    is_coarser = cell_there > 1.01 * cell[chain_of_sample]
    height[is_coarser & ~chains.is_straight[chain_of_sample]] = np.nan

    first = _offsets(layout.n_stations)
    chain = np.repeat(np.arange(len(layout.length_m)), layout.n_stations)
    step = layout.length_m / layout.n_stations
    from_m = (np.arange(first[-1]) - first[chain]) * step[chain]
    begin, count = _windows(layout, chain, from_m + 0.5 * step[chain])
    spacing = layout.spacing_m[chain]
    noise = shared_noise(sigma, column, row)
    checks = check_noise(height, sigma, noise, chain_of_sample)
    grade, noise_sd = fit_lines(height, rescaled(noise, sigma, checks), first_sample[chain] + begin, count, spacing)
    window_m = (count - 1) * spacing
    side = _side_slopes(chains, heights_at, chain, begin * spacing + 0.5 * window_m, position)
    variance = noise_sd**2 + side**2 * turning_variance(window_m, position)
    return Stations(
        first=first, from_m=from_m, to_m=from_m + step[chain], grade=grade, grade_sd=np.sqrt(variance), window_m=window_m, noise=checks
    )


def fit_lines(height: Floats, noise: tuple[Floats, Floats, Floats], begin: Ints, count: Ints, spacing_m: Floats) -> tuple[Floats, Floats]:
    r"""Least-squares slope of evenly spaced samples in each window, and its standard error from height noise.

    .. math:: \sigma_{grade} = \sigma_z \sqrt{12 / (n (n^2 - 1))} / h

    for n samples with independent errors :math:`\sigma_z`, h apart; samples that share cells of the raster count with their
    covariance. NaN samples are left out, and the error grows accordingly; a window with fewer than two, or with less than
    half of its samples known, has no grade (NaN).

    Parameters
    ----------
    height : (n_samples,) float64
        Heights [m].
    noise : three (n_samples,) float64
        Variance, covariance with the next sample and with the next but one, as :func:`shared_noise` gives them.
    begin, count : (n,) int64
        First sample of each window and how many it has.
    spacing_m : (n,) float64
        Distance between samples.
    """
    n, sum_s, sum_ss, sum_z, sum_sz = (np.zeros(len(begin)) for _ in range(5))
    for rows, sample, s in _walk(begin, count, spacing_m):
        z = height[sample]
        ok = ~np.isnan(z)
        z, s = np.where(ok, z, 0.0), np.where(ok, s, 0.0)
        for sums, value in ((n, ok), (sum_s, s), (sum_ss, s * s), (sum_z, z), (sum_sz, s * z)):
            sums[rows] += value
    enough = (n >= 2) & (2 * n >= count)
    mean_s = sum_s / np.where(enough, n, np.nan)
    centred = sum_ss - sum_s * mean_s
    centred[~(centred > 0.0)] = np.nan  # a chain without length has no grade
    variance = np.zeros(len(begin))
    before, before2 = np.zeros(len(begin)), np.zeros(len(begin))
    for rows, sample, s in _walk(begin, count, spacing_m):
        # Coefficient of this sample in the slope; unknown samples have none.
        c = np.where(np.isnan(height[sample]), 0.0, s - mean_s[rows])
        variance[rows] += c * (c * noise[0][sample] + 2.0 * (before[rows] * noise[1][sample - 1] + before2[rows] * noise[2][sample - 2]))
        before2[rows], before[rows] = before[rows], c
    return (sum_sz - sum_z * mean_s) / centred, np.sqrt(variance) / centred


def _walk(begin: Ints, count: Ints, spacing_m: Floats) -> Iterator[tuple[Any, Ints, Floats]]:
    """Step through all windows at once: (windows that have a k-th sample, that sample, its distance from the window's middle)."""
    least = int(count.min(initial=0))
    for k in range(int(count.max(initial=0))):
        rows = np.flatnonzero(k < count) if k >= least else slice(None)
        yield rows, begin[rows] + k, (k - 0.5 * (count[rows] - 1)) * spacing_m[rows]


def turning_variance(window_m: Floats, position: PositionError) -> Floats:
    r"""Variance of the direction [rad^2] by which a drawn window is turned against the real way.

    Times the side slope squared this is the position part of the grade's error: a way along a hillside, drawn askew, climbs
    where the real one is level. The offset's difference over a window L has the variance :math:`2 e^2 (1 - e^{-L/r})`.
    """
    length = np.maximum(window_m, 1e-9)
    return np.asarray(2.0 * position.sd_m**2 * -np.expm1(-length / position.reach_m) / length**2)


def three_by_three_slope(nine: Floats, cell_m: Floats | float) -> tuple[Floats, Floats]:
    """Slope of the middle of 3 x 3 heights after Horn (1981), weights 1-2-1.

    Parameters
    ----------
    nine : (9, ...) float64
        Heights row by row from the north-west. A missing one makes the answer NaN: putting the middle height in its place,
        as some programs do, would flatten every edge.
    cell_m
        Distance between neighbours.

    Returns
    -------
    dz/dx to the right (east) and dz/dy downwards (south), rise over run.

    Examples
    --------
    The worked example of a maker's manual (from memory): slope 75.258 degrees.

    >>> east, south = three_by_three_slope(np.array([50.0, 45, 50, 30, 30, 30, 8, 10, 10]), 5.0)
    >>> round(float(east), 3), round(float(south), 3)
    (0.05, -3.8)
    """
    a, b, c, d, _, f, g, h, i = nine
    return ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell_m), ((g + 2 * h + i) - (a + 2 * b + c)) / (8 * cell_m)


def _lay_out(chains: Chains, cell: Floats) -> _Layout:
    """Choose spacing and window of each chain from its cell size; NaN where nothing is known: any layout finds nothing there."""
    length = chains.length_m
    cell = np.where(np.isnan(cell), MIN_SPACING_M, cell)
    spacing = np.maximum(cell, MIN_SPACING_M)
    window = np.maximum(MIN_WINDOW_M, WINDOW_CELLS * cell)
    n_samples = np.maximum(2, (length / spacing + 1e-9).astype(np.int64) + 1)
    n_stations = np.where(length <= window, 1, np.rint(length / window).astype(np.int64))
    n_samples = np.where(chains.is_straight, 2, n_samples)
    n_stations = np.where(chains.is_straight, 1, n_stations)
    return _Layout(length, window, n_samples, length / (n_samples - 1), n_stations)


def _windows(layout: _Layout, chain: Ints, middle_m: Floats) -> tuple[Ints, Ints]:
    """First sample (within its chain) and number of samples of the window around each station, pushed inside the chain."""
    spacing, available = layout.spacing_m[chain], layout.n_samples[chain]
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.ceil(layout.window_m[chain] / spacing - 1e-9) + 1.0
        begin = np.rint(middle_m / spacing - 0.5 * (np.minimum(wanted, available) - 1.0))
    count = np.where(np.isfinite(wanted), np.minimum(wanted, available), available).astype(np.int64)
    begin = np.where(np.isfinite(begin), begin, 0.0).astype(np.int64)
    return np.clip(begin, 0, available - count), count


def _side_slopes(chains: Chains, heights_at: HeightsAt, chain: Ints, centre_m: Floats, position: PositionError) -> Floats:
    """Steepness across the way at each station; for straight chains the full slope at both ends, as root of the mean square.

    Height noise makes level ground look sloping, so its share is taken off; unknown ground around gives zero, since then
    the height noise of the way itself is all that can be stated.
    """
    is_straight = chains.is_straight[chain]
    side2 = np.zeros(len(chain))
    ends = chain[is_straight]
    for s_m in (np.zeros(len(ends)), chains.length_m[ends]):
        east, south, noise2 = _slope_around(heights_at, *chains.points_at(ends, s_m), position)
        side2[is_straight] += 0.5 * np.nan_to_num(np.maximum(east**2 + south**2 - 2.0 * noise2, 0.0))
    at = np.flatnonzero(~is_straight)
    # The ground beside a way changes slowly: look at it every so often, evenly from both ends, and let each look stand around.
    length = chains.length_m
    n_looks = np.maximum(1, np.rint(length / LOOK_EVERY_M)).astype(np.int64)
    first = _offsets(n_looks)
    of = np.repeat(np.arange(len(length)), n_looks)
    seen = _across(chains, heights_at, of, (np.arange(first[-1]) - first[of] + 0.5) * (length / n_looks)[of], position)
    c = chain[at]
    where = np.clip(centre_m[at] / np.maximum(length[c], 1e-9), 1e-9, 1.0 - 1e-9) * n_looks[c]
    # A station between two looks takes the mean of both, so that drawing a way backwards changes nothing.
    side2[at] = 0.5 * (seen[first[c] + (where + 1e-9).astype(np.int64)] + seen[first[c] + np.ceil(where - 1e-9).astype(np.int64) - 1])
    return np.sqrt(np.maximum(side2, 0.0))


def _across(chains: Chains, heights_at: HeightsAt, chain: Ints, s_m: Floats, position: PositionError) -> Floats:
    """Squared slope of the ground to the side of chains, without the share of height noise."""
    lon0, lat0 = chains.points_at(chain, s_m - 0.5 * MIN_WINDOW_M)
    lon1, lat1 = chains.points_at(chain, s_m + 0.5 * MIN_WINDOW_M)
    east, south, noise2 = _slope_around(heights_at, *chains.points_at(chain, s_m), position)
    dx, dy = (lon1 - lon0) * np.cos(np.radians(lat0)), lat1 - lat0
    return np.nan_to_num((east * dy + south * dx) ** 2 / np.maximum(dx**2 + dy**2, 1e-30) - noise2)


def _slope_around(heights_at: HeightsAt, lon: Floats, lat: Floats, position: PositionError) -> tuple[Floats, Floats, Floats]:
    """Slope of the ground to the east and to the south, and the variance that height noise gives to each."""
    if not len(lon):
        return lon, lon, lon
    _, cell, sigma, _, _ = heights_at(lon, lat)
    reach = np.fmax(cell, 2.0 * position.sd_m)  # two standard deviations to either side: the ground the way may lie on
    dlat = reach / M_PER_DEGREE
    dlon = dlat / np.cos(np.radians(lat))
    around = [heights_at(lon + east * dlon, lat + north * dlat)[0] for north in (1, 0, -1) for east in (-1, 0, 1)]
    dz_east, dz_south = three_by_three_slope(np.array(around), reach)
    return dz_east, dz_south, 12.0 / 64.0 * (sigma / reach) ** 2  # 2 (1 + 4 + 1) sigma^2 / (8 reach)^2


def _offsets(counts: Ints) -> Ints:
    return np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
