"""Grades of pieces of way, with their error and what the town's own grades make of them -> :class:`WayGrades`.

Heights are read along the way no finer than the raster's cell; the grade is a least-squares line over a window of 10 m or
3 cells, whichever is longer; bridges, tunnels, passages and other layers run straight between their ends.
What is printed is the posterior of :mod:`rollroute.network.grade_posterior`. Kerbs, cross slope and short ramps are never
read from a raster.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rollroute.errors import InputError
from rollroute.network.grade_noise import NoiseCheck
from rollroute.network.grade_posterior import GradePosterior, GradePrior, fit_prior
from rollroute.network.grade_stations import MIN_WINDOW_M, Chains, PositionError, Stations, measure_stations

if TYPE_CHECKING:
    from rollroute.inputs.terrain import Terrain

__all__ = [
    "SOURCE_RASTER",
    "SOURCE_STRAIGHT",
    "SOURCE_UNKNOWN",
    "PositionError",
    "WayGrades",
    "WayProfileInput",
    "measure_grades",
    "vertex_heights_m",
]

Floats = NDArray[np.float64]
SOURCE_UNKNOWN, SOURCE_RASTER, SOURCE_STRAIGHT = 0, 1, 2
REFERENCE_LIMIT = 1.0 / 12.0
"""Where a piece holds the middles of several stations, the one most likely to be over this speaks for it (ADA 405.2)."""

RESTLESS_PER_M = 1.0 / 150.0
"""Wandering of the grade per metre, as a share of its variance: a street's grade is forgotten after 300 m (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayProfileInput:
    """Ways as chains of vertices, and the pieces that they are cut into.

    A chain is one way or its continuation in one direction; a bridge, tunnel or passage is a chain of its own.

    first_vertex              : (n_chains + 1,) int64   vertices of chain c are first_vertex[c] .. first_vertex[c + 1] - 1
    vertex_s_m                : (n_vertices,) float64   distance along the chain on the ground, never falling
    vertex_lon, vertex_lat    : (n_vertices,) float64   degrees, WGS 84
    is_straight               : (n_chains,) bool        bridge, tunnel, passage, indoor, layer other than 0
    kind                      : (n_chains,) uint8       code of the kind of way, 0 .. n_kinds - 1, as the caller counts them
    piece_chain               : (n_pieces,) int         chain of each piece
    piece_from_m, piece_to_m  : (n_pieces,) float64     where it lies on its chain, from < to
    """

    first_vertex: NDArray[np.int64]
    vertex_s_m: Floats
    vertex_lon: Floats
    vertex_lat: Floats
    is_straight: NDArray[np.bool_]
    kind: NDArray[np.uint8]
    piece_chain: NDArray[np.int64]
    piece_from_m: Floats
    piece_to_m: Floats

    def __post_init__(self) -> None:
        if np.any(np.diff(self.first_vertex) < 2):
            raise InputError("ways: every chain needs at least 2 vertices. Leave out ways with a single node.")
        falls = np.diff(self.vertex_s_m) < 0
        falls[self.first_vertex[1:-1] - 1] = False  # from one chain to the next
        if falls.any():
            raise InputError(f"ways: vertex_s_m falls at vertex {int(np.argmax(falls)) + 1}. Give distances along the chain.")
        if np.any(~(self.piece_to_m > self.piece_from_m)):
            raise InputError("ways: every piece needs from < to. Leave out pieces without length.")


@dataclass(frozen=True, slots=True, kw_only=True)
class WayGrades:
    """Grades of pieces in the direction of their chain; the way against it has the opposite sign.

    grade           : (n,) float32   mean of the posterior over the piece, rise over run; NaN = unknown, not flat
    grade_sd        : (n,) float32   its standard deviation
    steepest_grade  : (n,) float32   posterior mean at the place in the piece that is most likely over 1:12: for limits
    raw_grade       : (n,) float32   what was measured at that place, before the prior
    window_m        : (n,) float32   length over which it was measured; a doubt belongs to that length
    climb_m         : (n,) float64   expected rise over the piece, length x E[g+]; NaN = unknown
    descent_m       : (n,) float64   expected fall likewise; climb - descent = grade x length
    source          : (n,) uint8     SOURCE_RASTER, SOURCE_STRAIGHT or SOURCE_UNKNOWN
    posterior       : GradePosterior at that place, for ``posterior.probability_over(limit)``
    noise           : per stated noise, whether the raster is as rough along the ways as that
    """

    grade: NDArray[np.float32]
    grade_sd: NDArray[np.float32]
    steepest_grade: NDArray[np.float32]
    raw_grade: NDArray[np.float32]
    window_m: NDArray[np.float32]
    climb_m: Floats
    descent_m: Floats
    source: NDArray[np.uint8]
    posterior: GradePosterior
    noise: tuple[NoiseCheck, ...]


def measure_grades(
    ways: WayProfileInput, terrain: Terrain, *, position: PositionError | None = None, prior: GradePrior | None = None
) -> WayGrades:
    """Measure the grade of every piece and weigh it against the town's own grades.

    Parameters
    ----------
    ways, terrain
        What to measure, and the ground.
    position
        How far drawn ways lie from the real ones; 2 m (an assumption) if not given.
    prior
        Grades of a town by kind of way, from an earlier call; fitted to these ways if not given.
    """
    chains = Chains(
        first_vertex=ways.first_vertex, s_m=ways.vertex_s_m, lon=ways.vertex_lon, lat=ways.vertex_lat, is_straight=ways.is_straight
    )
    stations = measure_stations(chains, terrain.samples, position=position or PositionError())
    kind = np.repeat(ways.kind, np.diff(stations.first))
    n_kinds = int(ways.kind.max(initial=0)) + 1
    prior = prior or fit_prior(stations.grade, stations.grade_sd, kind, n_kinds=n_kinds)
    posterior = _at(stations, kind, prior, _inner_share(stations))
    return _pieces(ways, stations, posterior)


def vertex_heights_m(ways: WayProfileInput, terrain: Terrain) -> Floats:
    """Height of the way at every vertex [m], (n_vertices,): the ground's, but straight between the ends of straight chains.

    As read from the raster, with its noise; NaN where it is unknown. For profiles and labels, not for grades.
    """
    height = terrain.heights_m(ways.vertex_lon, ways.vertex_lat).height_m
    chain = np.repeat(np.arange(len(ways.is_straight)), np.diff(ways.first_vertex))
    begin, end = ways.first_vertex[:-1][chain], ways.first_vertex[1:][chain] - 1
    run = ways.vertex_s_m[end] - ways.vertex_s_m[begin]
    share = (ways.vertex_s_m - ways.vertex_s_m[begin]) / np.where(run > 0.0, run, 1.0)
    return np.asarray(np.where(ways.is_straight[chain], height[begin] + share * (height[end] - height[begin]), height))


def _at(stations: Stations, kind: NDArray[np.uint8], prior: GradePrior, inner: Floats) -> GradePosterior:
    return GradePosterior(
        measured=stations.grade.astype(np.float32), measured_sd=stations.grade_sd.astype(np.float32),
        inner=inner.astype(np.float32), kind=kind, prior=prior,
    )  # fmt: skip


def _inner_share(stations: Stations) -> Floats:
    r"""Variance of the grade over 10 m around the mean of its window, as a share of the variance between windows.

    A window of 90 m can't see a ramp of 10 m. How restless the town's streets are shows in how much windows along a street
    differ: where the grade wanders with variance q per metre, means over windows L that stand D apart differ by
    q (D - L / 3), and the middle 10 m differ from their window's mean by q (L - 10) / 12 (random walk). Windows next but one
    are compared, since neighbours share a sample. Where the noise hides the answer, :data:`RESTLESS_PER_M` speaks.
    """
    grade, error2, window = stations.grade, stations.grade_sd**2, stations.window_m
    pair = _pairs_apart(stations, 2)
    pair = pair[~np.isnan(grade[pair]) & ~np.isnan(grade[pair + 2])]
    if not len(pair):
        return _capped(RESTLESS_PER_M * (window - MIN_WINDOW_M) / 12.0)
    first, other = pair, pair + 2
    errors = error2[first] + error2[other]
    apart = 0.5 * (stations.from_m[other] + stations.to_m[other] - stations.from_m[first] - stations.to_m[first])
    reach = np.maximum(apart - window[first] / 3.0, 1e-9)
    signal = max(float(np.mean(grade[first] ** 2 - error2[first])), 0.0)
    # Least squares of the differences on the reach, with weights for their noise: 2 (errors)^2 is the variance of a square.
    wander = (grade[other] - grade[first]) ** 2 - errors
    weight = reach / (2.0 * (errors + signal + 1e-9) ** 2)
    information = float(np.sum(weight * reach)) * signal**2 + 1.0 / RESTLESS_PER_M**2
    per_m = (float(np.sum(weight * wander)) * signal + 1.0 / RESTLESS_PER_M) / information
    return _capped(per_m * (window - MIN_WINDOW_M) / 12.0)


def _capped(share: Floats) -> Floats:
    return np.clip(share, 0.0, 1.0)


def _pairs_apart(stations: Stations, n_apart: int) -> NDArray[np.int64]:
    """Stations that have another one so many windows further on the same chain."""
    chain = np.repeat(np.arange(len(stations.first) - 1), np.diff(stations.first))
    pair = np.arange(max(len(chain) - n_apart, 0), dtype=np.int64)
    return np.asarray(pair[chain[pair] == chain[pair + n_apart]])


def _pieces(ways: WayProfileInput, stations: Stations, at: GradePosterior) -> WayGrades:
    """Gather stations into pieces: means over their lengths, and the station that speaks for the limit."""
    mean, sd, rise, fall = at.moments()
    first, last = _stations_of(ways, stations)
    # Where the probabilities are alike (all 0 or all 1) the steeper one speaks.
    over = _over_where_it_matters(at, first, last) + 1e-6 * np.abs(np.nan_to_num(mean))
    length = ways.piece_to_m - ways.piece_from_m
    known, total, square, climb, descent = (np.zeros(len(length)) for _ in range(5))
    worst, worst_over = _station_at(ways, stations, 0.5 * (ways.piece_from_m + ways.piece_to_m)), np.full(len(length), -1.0)
    centre = 0.5 * (stations.from_m + stations.to_m)
    for k in range(int((last - first).max(initial=-1)) + 1):
        rows = np.flatnonzero(first + k <= last)
        station = first[rows] + k
        begin, end = ways.piece_from_m[rows], ways.piece_to_m[rows]
        share = np.minimum(stations.to_m[station], end) - np.maximum(stations.from_m[station], begin)
        share = np.where(np.isnan(mean[station]), 0.0, np.maximum(share, 1e-9))
        known[rows] += share
        for sums, values in ((total, mean), (square, sd**2), (climb, rise), (descent, fall)):
            sums[rows] += share * np.nan_to_num(values[station])
        is_inside = (share > 0.0) & (centre[station] >= begin) & (centre[station] < end)
        better = is_inside & (over[station] > worst_over[rows])
        worst[rows[better]], worst_over[rows[better]] = station[better], over[station[better]]
    known[known < 0.5 * length] = np.nan  # more than half of the piece unknown: unknown
    grow = length / known
    decisive = at.at(worst)
    decisive = replace(decisive, measured=np.where(np.isnan(known), np.float32(np.nan), decisive.measured))
    source = np.where(ways.is_straight[ways.piece_chain], SOURCE_STRAIGHT, SOURCE_RASTER)
    as32 = np.float32
    return WayGrades(
        grade=(total / known).astype(as32), grade_sd=np.sqrt(square / known).astype(as32),
        steepest_grade=np.where(np.isnan(known), np.nan, mean[worst]).astype(as32), raw_grade=decisive.measured,
        window_m=stations.window_m[worst].astype(as32), climb_m=climb * grow, descent_m=descent * grow,
        source=np.where(np.isnan(known), SOURCE_UNKNOWN, source).astype(np.uint8), posterior=decisive, noise=stations.noise,
    )  # fmt: skip


def _over_where_it_matters(at: GradePosterior, first: NDArray[np.int64], last: NDArray[np.int64]) -> Floats:
    """Probability of being over the reference limit for stations that compete within a piece; 0 for the others."""
    several = first < last
    edges = np.bincount(first[several], minlength=len(at.kind) + 1) - np.bincount(last[several] + 1, minlength=len(at.kind) + 1)
    rivals = np.flatnonzero(np.cumsum(edges)[:-1] > 0)
    over = np.zeros(len(at.kind))
    over[rivals] = at.at(rivals).probability_over(REFERENCE_LIMIT)
    return over


def _stations_of(ways: WayProfileInput, stations: Stations) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last station that each piece overlaps."""
    tiny = 1e-9 * (1.0 + ways.piece_to_m)  # a piece that ends where a station begins does not overlap it
    first = _station_at(ways, stations, ways.piece_from_m + tiny)
    return first, np.maximum(first, _station_at(ways, stations, ways.piece_to_m - tiny))


def _station_at(ways: WayProfileInput, stations: Stations, s_m: Floats) -> NDArray[np.int64]:
    """Station that holds at a distance along each piece's chain."""
    begin = stations.first[ways.piece_chain]
    count = stations.first[ways.piece_chain + 1] - begin
    step = np.maximum(stations.to_m[begin] - stations.from_m[begin], 1e-9)
    return np.asarray(begin + np.clip((s_m / step).astype(np.int64), 0, count - 1))
