"""Join height tiles of one product into one grid, so that no seam of unknown ground opens between neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from rollroute.inputs.terrain import HeightGrid

ALIGNED_CELLS = 0.01
"""Grids whose centres agree within this part of a cell are one grid (float noise in files is far below)."""
MAX_FILL = 4
"""A joined block may hold at most this many times the cells of its tiles; sparser tiles stay apart (memory)."""


def join_tiles(grids: Sequence[HeightGrid]) -> list[HeightGrid]:
    """Join every grid that continues an earlier one's cells; where two overlap, the earlier one's known heights win."""
    groups: list[list[HeightGrid]] = []
    for grid in grids:
        group = next((group for group in groups if _continues(group[0], grid)), None)
        if group is None:
            groups.append([grid])
        else:
            group.append(grid)
    return [joined for group in groups for joined in _join(group)]


def _continues(first: HeightGrid, other: HeightGrid) -> bool:
    """Same product on the same lattice of centres."""
    same = ("sigma_m", "is_surface", "crs")
    if any(getattr(first, name) != getattr(other, name) for name in same):
        return False
    a, b = np.array(first.from_crs), np.array(other.from_crs)
    linear = [0, 1, 3, 4]
    size = max(first.height_m.shape + other.height_m.shape)
    if not np.allclose(a[linear], b[linear], rtol=ALIGNED_CELLS / size, atol=0.0):
        return False
    shift = _shift_cells(first, other)
    return bool(np.all(np.abs(shift - np.round(shift)) < ALIGNED_CELLS))


def _shift_cells(first: HeightGrid, other: HeightGrid) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Column and row, in the first grid, of the other grid's first centre."""
    a, b, c, d, e, f = other.from_crs
    x, y = np.linalg.solve(np.array([[a, b], [d, e]]), -np.array([c, f]))
    a, b, c, d, e, f = first.from_crs
    return np.array([a * x + b * y + c, d * x + e * y + f])


def _join(group: Sequence[HeightGrid]) -> list[HeightGrid]:
    if len(group) == 1:
        return list(group)
    first = group[0]
    shifts = [np.round(_shift_cells(first, grid)).astype(int) for grid in group]
    left, top = np.min(shifts, axis=0)
    columns = max(shift[0] + grid.height_m.shape[1] for shift, grid in zip(shifts, group, strict=True)) - left
    rows = max(shift[1] + grid.height_m.shape[0] for shift, grid in zip(shifts, group, strict=True)) - top
    if columns * rows > MAX_FILL * sum(grid.height_m.size for grid in group):
        return list(group)
    heights = np.full((rows, columns), np.nan, dtype=np.result_type(*(grid.height_m.dtype for grid in group)))
    for shift, grid in zip(shifts, group, strict=True):
        n_rows, n_columns = grid.height_m.shape
        part = heights[shift[1] - top : shift[1] - top + n_rows, shift[0] - left : shift[0] - left + n_columns]
        np.copyto(part, grid.height_m, where=np.isnan(part))
    a, b, c, d, e, f = first.from_crs
    names = ", ".join(grid.name for grid in group)
    return [replace(first, name=names, height_m=heights, from_crs=(a, b, c - left, d, e, f - top))]
