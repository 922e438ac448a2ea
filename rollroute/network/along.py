"""Which pieces a line runs along, and how far: for inventories of sidewalks, and for the track of a chair that has passed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from rollroute.network.network import Network
from rollroute.units import M_PER_DEGREE

WITHIN_M = 10.0  # assumption: how far a line may be off the piece that it means; the point rule of ``overlay`` allows the same
STEP_M = 1.0  # a line is looked at once a metre
LEAST_COSINE = math.cos(math.radians(30.0))  # setting: a piece that turns off by more is crossed, not run along
TIE_M = 2.0  # assumption: two pieces side by side that are equally near to within this are not told apart
ONE_LINE_M = 0.05  # setting: pieces this near to each other are drawn as one line
ROUNDING = 1e-9

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Run:
    """A piece that a line runs along: ``share`` of its length, forward (tail to head) or backward."""

    piece: int
    share: float
    is_forward: bool


class LineFinder:
    """The pieces of one network, ready to be asked about many lines."""

    def __init__(self, network: Network) -> None:
        nodes, pieces = network.nodes, network.pieces
        self._lat = float(np.mean(nodes.lat)) if len(nodes.lat) else 0.0
        place = self._metres(np.column_stack([nodes.lon, nodes.lat]))
        self._tail, self._head = place[pieces.tail], place[pieces.head]

    def _metres(self, lon_lat: Floats) -> Floats:
        """Local metres, good for nearby distances (WGS 84 equator)."""
        return np.asarray(lon_lat * np.array([math.cos(math.radians(self._lat)), 1.0]) * M_PER_DEGREE, np.float64)

    @cached_property
    def _tree(self) -> object:
        from shapely import STRtree, linestrings

        return STRtree(linestrings(np.stack([self._tail, self._head], axis=1)))

    def runs(self, line: Sequence[tuple[float, float]], *, nearest_if_tied: bool = False) -> tuple[list[Run], float]:
        """Pieces that ``line`` (lon, lat) runs along, and the metres of it that fit two pieces side by side and so count for neither.

        Every metre of the line counts for the nearest piece that runs the same way; one that nothing is near counts for none.
        ``nearest_if_tied``: where two fit it counts for the nearer one, and for both where they lie in one line, as on two floors.
        """
        at, heading = _samples(self._metres(np.asarray(line, np.float64)))
        candidates = self._near(line)
        if not len(at) or not len(candidates):
            return [], 0.0
        away, cosine, is_beside = self._measure(at, heading, candidates)
        away = np.where(np.abs(cosine) >= LEAST_COSINE, away, np.inf)
        nearest = away.argmin(axis=1)
        least = away[np.arange(len(at)), nearest]
        others = np.where(is_beside, away, np.inf)
        others[np.arange(len(at)), nearest] = np.inf
        is_tied = (least <= WITHIN_M) & is_beside[np.arange(len(at)), nearest] & (others.min(axis=1) <= least + TIE_M)
        fits = np.zeros(away.shape, np.bool_)
        fits[np.arange(len(at)), nearest] = (least <= WITHIN_M) & (~is_tied | nearest_if_tied)
        if nearest_if_tied:
            fits |= is_tied[:, None] & (others <= least[:, None] + ONE_LINE_M)
        found: dict[tuple[int, bool], int] = {}
        for row, column in zip(*np.nonzero(fits), strict=True):
            key = (int(candidates[column]), bool(cosine[row, column] > 0))
            found[key] = found.get(key, 0) + 1
        length = np.hypot(*(self._head - self._tail).T)
        runs = [Run(p, min(1.0, n * STEP_M / max(float(length[p]), STEP_M)), forward) for (p, forward), n in found.items()]
        return runs, float(is_tied.sum()) * STEP_M

    def _near(self, line: Sequence[tuple[float, float]]) -> npt.NDArray[np.intp]:
        from shapely import LineString, STRtree

        assert isinstance(self._tree, STRtree)
        ground = LineString(self._metres(np.asarray(line, np.float64)))
        return np.sort(self._tree.query(ground.buffer(WITHIN_M + TIE_M)))

    def _measure(self, at: Floats, heading: Floats, rows: npt.NDArray[np.intp]) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
        """(n_samples, n_rows): distance, cosine of the angle between, and whether the sample lies beside the piece, not before its ends."""
        along = self._head[rows] - self._tail[rows]
        length = np.maximum(np.hypot(*along.T), ROUNDING)
        unit = along / length[:, None]
        off = at[:, None, :] - self._tail[rows][None, :, :]
        t = (off * unit[None]).sum(axis=2)
        inside = np.clip(t, 0.0, length[None])
        away = np.hypot(*np.moveaxis(off - inside[..., None] * unit[None], 2, 0))
        return away, heading @ unit.T, (t > ROUNDING) & (t < length[None] - ROUNDING)


def _samples(line: Floats) -> tuple[Floats, Floats]:
    """Points in the middle of every metre of a line, and its heading there as a unit vector."""
    steps = np.diff(line, axis=0)
    lengths = np.hypot(*steps.T)
    total = float(lengths.sum())
    if total <= 0.0:
        return np.empty((0, 2)), np.empty((0, 2))
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    wanted = (np.arange(max(1, round(total / STEP_M))) + 0.5) * total / max(1, round(total / STEP_M))
    part = np.clip(np.searchsorted(ends, wanted, side="right") - 1, 0, len(lengths) - 1)
    unit = steps[part] / np.maximum(lengths[part], ROUNDING)[:, None]
    return line[part] + (wanted - ends[part])[:, None] * unit, unit
