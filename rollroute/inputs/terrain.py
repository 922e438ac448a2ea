"""Ground heights from GDAL rasters -> :class:`Terrain`.

Heights are bilinear between cell **centres**, in metres. A hole, a cell without data and everything outside the outermost
centres is NaN, never 0: what nobody measured is unknown. Several rasters answer finest first, and a coarser one is asked
only where the finer ones do not know.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from rollroute.errors import InputError
from rollroute.inputs.terrain_labels import COARSE_CELL_M, datum_key, find_datum, find_sigma, find_unit, is_surface_model
from rollroute.inputs.terrain_tiles import join_tiles

if TYPE_CHECKING:
    from pyproj import CRS

__all__ = ["GroundHeights", "GroundSamples", "HeightGrid", "Terrain", "TerrainNotice", "read_terrain"]

Floats = NDArray[np.float64]
Affine6 = tuple[float, float, float, float, float, float]
Bounds = tuple[float, float, float, float]  # west, south, east, north in degrees

LOWEST_M, HIGHEST_M = -500.0, 9000.0
"""Outside these a value is a hole that lost its label (-9999, 3.4e38): no land lies there (Dead Sea shore, Everest; from memory)."""
MAX_CELLS = 400_000_000
"""Cells read at once, about 1.6 GB: more than a county at 1 m. Above it the reader asks for bounds (assumption)."""
BLOCK = 32_768  # points asked at once: the arrays in between then stay in the processor's cache
GRIDS_APART = 1e7  # columns; wider than any raster, so that samples of two grids share no cell
TINY = 1e-6  # of a cell
MARGIN_CELLS = 8
"""Cells read beyond the bounds, so that slopes at the rim of the map still have neighbours."""


class GroundHeights(NamedTuple):
    """Heights at points: ``height_m`` (NaN = unknown), and the cell size and noise of the raster that answered (NaN likewise)."""

    height_m: Floats
    cell_m: Floats
    sigma_m: Floats


class GroundSamples(NamedTuple):
    """Like :class:`GroundHeights`, with the position on the grid that answered: 0 = its first centre.

    Two samples that share cells share their noise. Each grid has columns of its own, far from those of the others.
    """

    height_m: Floats
    cell_m: Floats
    sigma_m: Floats
    column: Floats
    row: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainNotice:
    """Something about a raster that whoever trusts its heights should read."""

    code: str  # "surface", "coarse", "assumed-noise", "datum-unknown", "implausible", "elsewhere"
    raster: str  # name of the file
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightGrid:
    """One block of heights on one grid.

    height_m   : (rows, columns) float32 or float64   metres; NaN = no data
    from_crs   : (a, b, c, d, e, f)                   column = a x + b y + c, row = d x + e y + f, with 0 at the first centre
    """

    name: str
    height_m: NDArray[Any]
    crs: CRS
    from_crs: Affine6
    cell_m: float  # longer side of a cell on the ground
    sigma_m: float
    sigma_source: str
    metres_per_unit: float
    datum: str | None
    is_surface: bool

    def positions(self, lon: Floats, lat: Floats) -> tuple[Floats, Floats]:
        """Column and row of points (degrees), 0 = first centre."""
        x, y = _from_degrees(self.crs).transform(lon, lat)
        return _apply(self.from_crs, x, y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Terrain:
    """Everything known about the height of the ground; grids from fine to coarse, one vertical datum."""

    grids: tuple[HeightGrid, ...]
    notices: tuple[TerrainNotice, ...] = ()

    @property
    def datum(self) -> str | None:
        """The vertical datum of all grids; None if the rasters don't say."""
        return self.grids[0].datum if self.grids else None

    def heights_m(self, lon: Floats, lat: Floats) -> GroundHeights:
        """Heights at points.

        Parameters
        ----------
        lon, lat : (n,) float64
            Degrees, WGS 84.

        Returns
        -------
        GroundHeights
            Three (n,) float64 arrays [m]; NaN in all three where no raster knows.
        """
        samples = self.samples(lon, lat)
        return GroundHeights(samples.height_m, samples.cell_m, samples.sigma_m)

    def samples(self, lon: Floats, lat: Floats) -> GroundSamples:
        """Heights at points as :meth:`heights_m`, with the positions that tell which cells they share."""
        lon, lat = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
        out = GroundSamples(*(np.full(lon.shape, np.nan) for _ in GroundSamples._fields))
        for first in range(0, len(lon), BLOCK):
            part = slice(first, first + BLOCK)
            self._fill(lon[part], lat[part], GroundSamples(*(values[part] for values in out)))
        return out

    def _fill(self, lon: Floats, lat: Floats, out: GroundSamples) -> None:
        """Ask the grids from fine to coarse until every point is answered."""
        ask: Any = slice(None)
        for i, grid in enumerate(self.grids):
            column, row = grid.positions(lon[ask], lat[ask])
            height = bilinear(grid.height_m, column, row)
            is_known = ~np.isnan(height)
            known = np.flatnonzero(is_known) if i == 0 else ask[is_known]
            out.height_m[known], out.cell_m[known], out.sigma_m[known] = height[is_known], grid.cell_m, grid.sigma_m
            out.column[known], out.row[known] = column[is_known] + i * GRIDS_APART, row[is_known]
            ask = np.flatnonzero(np.isnan(out.height_m))
            if not len(ask):
                break


@lru_cache(maxsize=16)
def _from_degrees(crs: CRS) -> Any:
    from pyproj import Transformer

    return Transformer.from_crs("OGC:CRS84", crs, always_xy=True)


def read_terrain(
    paths: Sequence[str | Path],
    *,
    unit: str | Sequence[str | None] | None = None,
    sigma_m: float | Sequence[float | None] | None = None,
    datum: str | None = None,
    is_surface: bool | None = None,
    bounds: Bounds | None = None,
) -> Terrain:
    """Read height rasters: any GDAL format, any coordinate system; only the cells inside ``bounds`` are loaded.

    Tiles of one product (same grid, unit, datum and noise) are joined, so that no seam opens between them.

    Parameters
    ----------
    paths
        Raster files; the first band holds the heights.
    unit
        "metre", "foot" or "US survey foot" for rasters without a label; one for all or one per raster.
    sigma_m
        Standard deviation of a cell's height error [m]; one for all or one per raster. Overrides the tag HEIGHT_SIGMA_M.
        Unknown: assumed by cell size, with a notice that names the source.
    datum
        Vertical datum of the rasters that don't name theirs.
    is_surface
        True: the rasters show roofs and trees; False: they don't; None: the tag MODEL or a known file name decides.
    bounds
        West, south, east, north [degrees].

    Raises
    ------
    InputError
        A raster can't be read, has no coordinate system or vertical unit, lies elsewhere, or the datums differ.
    """
    if not paths:
        raise InputError("heights: no raster given. Name at least one file.")
    units, sigmas = _one_each(unit, len(paths), "unit"), _one_each(sigma_m, len(paths), "sigma_m")
    grids: list[HeightGrid] = []
    notices: list[TerrainNotice] = []
    for path, given_unit, given_sigma in zip(map(Path, paths), units, sigmas, strict=True):
        grid = _read_grid(path, _Given(given_unit, given_sigma, datum, is_surface), bounds)
        if grid is None:
            notices.append(TerrainNotice(code="elsewhere", raster=path.name, message="has no cell inside the map; not used"))
            continue
        grid, holes = _without_implausible(grid)
        grids.append(grid)
        notices += holes + _notices(grid)
    if not grids:
        raise InputError(f"{', '.join(Path(p).name for p in paths)}: no raster covers the map {bounds}. Give rasters of this place.")
    _refuse_mixed_datums(grids)
    return Terrain(grids=tuple(sorted(join_tiles(grids), key=lambda grid: grid.cell_m)), notices=tuple(notices))


def bilinear(height_m: NDArray[Any], column: Floats, row: Floats) -> Floats:
    """Heights at fractional cell positions (0 = centre of the first cell).

    A cell with weight zero does not count, so a point exactly on a centre needs that cell alone.

    Examples
    --------
    >>> bilinear(np.array([[0.0, 1.0], [2.0, np.nan]]), np.array([0.5, 0.0, 0.5]), np.array([0.0, 0.5, 0.5]))
    array([0.5, 1. , nan])
    """
    rows, columns = height_m.shape
    out = np.full(column.shape, np.nan)
    inside = (column > -TINY) & (column < columns - 1 + TINY) & (row > -TINY) & (row < rows - 1 + TINY)
    x, y = column[inside], row[inside]
    left, top = (x + TINY).astype(np.int64), (y + TINY).astype(np.int64)
    fx, fy = x - left, y - top
    # A millionth of a cell from a centre lies on it: rounding must not ask a neighbour that is a hole.
    fx[fx < TINY], fy[fy < TINY] = 0.0, 0.0
    flat, first = height_m.ravel(), top * columns + left
    right = first + (left < columns - 1)
    down_step = (top < rows - 1) * columns
    upper = _between(flat[first], flat[right], fx)
    lower = _between(flat[first + down_step], flat[right + down_step], fx)
    out[inside] = _between(upper, lower, fy)
    return out


def _between(a: NDArray[Any], b: NDArray[Any], share: Floats) -> Floats:
    """(1 - share) a + share b, where a value with weight zero may be unknown."""
    return np.where(share > 0.0, (1.0 - share) * a + share * b, a)


class _Given(NamedTuple):
    """What the user said about one raster."""

    unit: str | None
    sigma_m: float | None
    datum: str | None
    is_surface: bool | None


def _one_each(value: str | float | Sequence[Any] | None, n: int, name: str) -> list[Any]:
    if value is None or isinstance(value, str) or not isinstance(value, Sequence):
        return [value] * n
    if len(value) != n:
        raise InputError(f"{name}: {len(value)} values for {n} rasters. Give one for all or one per raster.")
    return list(value)


def _read_grid(path: Path, given: _Given, bounds: Bounds | None) -> HeightGrid | None:
    """Read the part of one raster that lies in the bounds; None if that is nothing."""
    import rasterio
    from pyproj import CRS
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    try:
        with warnings.catch_warnings(), rasterio.Env(GTIFF_REPORT_COMPD_CS=True):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused below, in our words
            raster = rasterio.open(path)
        with raster:
            if raster.crs is None:
                raise InputError(f"{path.name}: the raster has no coordinate system. Write one into it, for example EPSG:26917.")
            crs = CRS.from_wkt(raster.crs.to_wkt())
            tags = {key.upper(): text for key, text in {**raster.tags(), **raster.tags(1)}.items()}
            factor = find_unit(raster.units[0], crs, tags, given.unit, where=path.name)
            flat_crs = crs.sub_crs_list[0] if crs.sub_crs_list else crs.to_2d()
            block = _cells_inside(raster, flat_crs, bounds)
            if block is None:
                return None
            row, column, rows, columns = block
            if rows * columns > MAX_CELLS:
                raise InputError(f"{path.name}: {rows} x {columns} cells are too many to load. Give bounds, or cut the raster to the map.")
            heights = _heights(raster, block, factor)
            to_crs, from_crs = _centred(raster.transform, column, row)
    except RasterioError as error:
        raise InputError(f"{path}: can't be read as a raster ({error}). Give a file that GDAL can open.") from error
    cell_m = _cell_on_ground_m(flat_crs, to_crs, rows, columns)
    sigma, source = find_sigma(cell_m, tags, given.sigma_m, where=path.name)
    return HeightGrid(
        name=path.name, height_m=heights, crs=flat_crs, from_crs=from_crs, cell_m=cell_m, sigma_m=sigma, sigma_source=source,
        metres_per_unit=factor, datum=find_datum(crs, tags, given.datum),
        is_surface=is_surface_model(path.name, tags) if given.is_surface is None else given.is_surface,
    )  # fmt: skip


def _cells_inside(raster: Any, crs: CRS, bounds: Bounds | None) -> tuple[int, int, int, int] | None:
    """First row and column, rows and columns of the block that covers the bounds with a margin."""
    if bounds is None:
        return 0, 0, raster.height, raster.width
    from pyproj import Transformer

    west, south, east, north = Transformer.from_crs("OGC:CRS84", crs, always_xy=True).transform_bounds(*bounds, densify_pts=21)
    columns, rows = _apply(_six(~raster.transform), np.array([west, west, east, east]), np.array([south, north, south, north]))
    first_column, last_column = (_clip(edge, raster.width) for edge in (columns.min() - MARGIN_CELLS, columns.max() + MARGIN_CELLS + 1))
    first_row, last_row = (_clip(edge, raster.height) for edge in (rows.min() - MARGIN_CELLS, rows.max() + MARGIN_CELLS + 1))
    if first_column >= last_column or first_row >= last_row:
        return None
    return first_row, first_column, last_row - first_row, last_column - first_column


def _clip(edge: float, n: int) -> int:
    return int(min(max(edge, 0), n))


def _heights(raster: Any, block: tuple[int, int, int, int], factor: float) -> NDArray[Any]:
    """Heights in metres, holes as NaN; float32 where the file holds no more (0.1 mm at 1000 m)."""
    from rasterio.windows import Window

    row, column, rows, columns = block
    cells = raster.read(1, window=Window(column, row, columns, rows), masked=True)
    dtype = np.float32 if cells.dtype in (np.float32, np.int16, np.uint16, np.uint8, np.int8) else np.float64
    heights = np.ma.filled(cells.astype(dtype), np.nan)
    scale, offset = raster.scales[0], raster.offsets[0]
    if (scale, offset, factor) != (1.0, 0.0, 1.0):
        heights = (heights * scale + offset) * factor
    return np.ascontiguousarray(heights, dtype=dtype)


def _six(transform: Any) -> Affine6:
    a, b, c, d, e, f = tuple(transform)[:6]
    return a, b, c, d, e, f


def _apply(six: Affine6, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    a, b, c, d, e, f = six
    return a * x + b * y + c, d * x + e * y + f


def _centred(transform: Any, column: int, row: int) -> tuple[Affine6, Affine6]:
    """From cell positions (0 = centre of the block's first cell) to coordinates, and back."""
    a, b, c, d, e, f = _six(transform)
    x, y = a * (column + 0.5) + b * (row + 0.5) + c, d * (column + 0.5) + e * (row + 0.5) + f
    return (a, b, x, d, e, y), _six(~type(transform)(a, b, x, d, e, y))


def _cell_on_ground_m(crs: CRS, to_crs: Affine6, rows: int, columns: int) -> float:
    """Longer side of the middle cell, measured on the ellipsoid, so that degrees and stretched projections come out right."""
    from pyproj import Geod, Transformer

    column, row = (columns - 1) / 2, (rows - 1) / 2
    x, y = _apply(to_crs, np.array([column, column + 1, column]), np.array([row, row, row + 1]))
    lon, lat = Transformer.from_crs(crs, "OGC:CRS84", always_xy=True).transform(x, y)
    _, _, sides_m = Geod(ellps="WGS84").inv(lon[[0, 0]], lat[[0, 0]], lon[1:], lat[1:])
    return float(max(sides_m))


def _without_implausible(grid: HeightGrid) -> tuple[HeightGrid, list[TerrainNotice]]:
    """Turn heights that no ground has into holes, and say so."""
    with np.errstate(invalid="ignore"):
        is_odd = (grid.height_m < LOWEST_M) | (grid.height_m > HIGHEST_M)
    if not is_odd.any():
        return grid, []
    text = f"{int(is_odd.sum())} cells lie outside {LOWEST_M:.0f} to {HIGHEST_M:.0f} m and count as unknown"
    heights = np.where(is_odd, np.nan, grid.height_m).astype(grid.height_m.dtype)
    return replace(grid, height_m=heights), [TerrainNotice(code="implausible", raster=grid.name, message=text)]


def _notices(grid: HeightGrid) -> list[TerrainNotice]:
    cell, sigma = grid.cell_m, grid.sigma_m
    texts = {
        "surface": (grid.is_surface, "is a surface model: roofs and tree tops look like ground, so grades beside them are wrong"),
        "coarse": (cell > COARSE_CELL_M, f"has cells of {cell:.0f} m: grades are means over {3 * cell:.0f} m, short ramps don't show"),
        "assumed-noise": (grid.sigma_source.startswith("assumed"), f"does not state its noise; {sigma} m {grid.sigma_source}"),
        "datum-unknown": (grid.datum is None, "does not name its vertical datum: its heights can't be compared with another raster's"),
    }
    return [TerrainNotice(code=code, raster=grid.name, message=text) for code, (applies, text) in texts.items() if applies]


def _refuse_mixed_datums(grids: Sequence[HeightGrid]) -> None:
    """Rasters in two datums differ by up to tens of metres, which would stand as a cliff where one takes over from the other."""
    keys = {datum_key(grid.datum) if grid.datum else None for grid in grids}
    if len(keys) > 1 or (len(grids) > 1 and None in keys):
        listed = ", ".join(f"{grid.name}: {grid.datum or 'not named'}" for grid in grids)
        raise InputError(
            f"heights: rasters can't be mixed unless all are in one vertical datum ({listed}). "
            "Convert them to one, or give datum='…' for those that don't name theirs."
        )
