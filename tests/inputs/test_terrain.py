"""Heights from rasters: what is known, what is unknown, and what is refused."""

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from scipy.ndimage import map_coordinates

from rollroute.errors import InputError
from rollroute.inputs.terrain import read_terrain
from rollroute.inputs.terrain_labels import datum_key, find_sigma

LON0, LAT0 = 20.0, 50.0
SHIFT_M = 1000.0  # GDAL takes a raster whose corner is (0, 0) for one without a place
LOCAL = f"+proj=tmerc +lat_0={LAT0} +lon_0={LON0} +k=1 +x_0={SHIFT_M} +y_0={SHIFT_M} +datum=WGS84 +units=m +no_defs"


def write_raster(path: Path, heights, *, cell: float = 1.0, west: float = 0.0, north: float = 0.0, crs: str = LOCAL, **more) -> Path:
    """Write heights (row 0 in the north); the corner of the first cell lies at (west, north)."""
    west, north = (west + SHIFT_M, north + SHIFT_M) if crs is LOCAL else (west, north)
    tags, unit = more.pop("tags", {}), more.pop("unit", "metre")
    heights = np.asarray(heights, dtype=more.pop("dtype", "float64"))
    profile = {"driver": "GTiff", "width": heights.shape[1], "height": heights.shape[0], "count": 1, "dtype": heights.dtype, "crs": crs}
    with rasterio.open(path, "w", transform=Affine(cell, 0, west, 0, -cell, north), **profile, **more) as out:
        out.write(heights, 1)
        out.update_tags(**tags)
        if unit:
            out.units = (unit,)
    return path


def lonlat(x, y):
    """Degrees of metres in the local system."""
    from pyproj import Transformer

    x, y = np.atleast_1d(x) + SHIFT_M, np.atleast_1d(y) + SHIFT_M
    return Transformer.from_crs(LOCAL, "OGC:CRS84", always_xy=True).transform(x, y)


def test_heights_are_bilinear_between_cell_centres(tmp_path):
    """The first cell's own height stands at its centre (0.5, -0.5), not at its corner; half-way to the next is the mean."""
    terrain = read_terrain([write_raster(tmp_path / "a.tif", [[10, 20], [30, 60]])])

    heights = terrain.heights_m(*lonlat([0.5, 1.0, 1.0], [-0.5, -0.5, -1.0])).height_m

    # (10 + 20) / 2 = 15; (10 + 20 + 30 + 60) / 4 = 30
    np.testing.assert_allclose(heights, [10, 15, 30], atol=1e-4)


def test_bilinear_heights_agree_with_scipy_s(tmp_path):
    """Independent reference: ``scipy.ndimage.map_coordinates`` of order 1 on the same cells."""
    rng = np.random.default_rng(1)
    cells = rng.normal(100, 10, (20, 30))
    x, y = rng.uniform(1, 29, 500), -rng.uniform(1, 19, 500)

    heights = read_terrain([write_raster(tmp_path / "a.tif", cells)]).heights_m(*lonlat(x, y)).height_m

    np.testing.assert_allclose(heights, map_coordinates(cells, [-y - 0.5, x - 0.5], order=1), atol=1e-4)


def test_holes_and_the_outside_are_unknown_never_zero(tmp_path):
    """A chair must not fall into a hole of the raster, and beyond the last centre nobody measured."""
    path = write_raster(tmp_path / "a.tif", [[10, 20, 20], [30, -1, 20], [30, 30, 30]], nodata=-1)
    terrain = read_terrain([path])

    answer = terrain.heights_m(*lonlat([1.4, 1.5, 0.5, 0.2, 50.0], [-1.4, -1.5, -0.5, -0.5, 50.0]))

    assert np.isnan(answer.height_m).tolist() == [True, True, False, True, True]
    assert np.isnan(answer.cell_m[0])
    assert np.isnan(answer.sigma_m[0])


def test_a_point_on_a_centre_needs_that_cell_alone(tmp_path):
    """A hole next door, with weight zero, is no reason to forget a known height."""
    terrain = read_terrain([write_raster(tmp_path / "a.tif", [[10, np.nan], [np.nan, np.nan]])])

    assert terrain.heights_m(*lonlat(0.5, -0.5)).height_m[0] == pytest.approx(10)


@pytest.mark.parametrize(("unit", "metres"), [("metre", 100.0), ("foot", 30.48), ("US survey foot", 100 * 1200 / 3937)])
def test_feet_become_metres(tmp_path, unit, metres):
    """Feet read as metres would make every street 3.28 times as steep."""
    terrain = read_terrain([write_raster(tmp_path / "a.tif", np.full((2, 2), 100.0), unit=unit)])

    assert terrain.heights_m(*lonlat(1, -1)).height_m[0] == pytest.approx(metres, abs=1e-9)


def test_a_raster_without_a_vertical_unit_is_refused_until_the_user_names_it(tmp_path):
    """Nobody guesses between metres and feet; the message says what to give."""
    path = write_raster(tmp_path / "a.tif", np.full((2, 2), 100.0), unit=None)

    with pytest.raises(InputError, match="Give unit="):
        read_terrain([path])

    assert read_terrain([path], unit="ft").heights_m(*lonlat(1, -1)).height_m[0] == pytest.approx(30.48)


def test_contradicting_units_are_refused(tmp_path):
    """A label and a user who disagree are not settled silently."""
    path = write_raster(tmp_path / "a.tif", np.full((2, 2), 100.0), unit="metre", tags={"VERTICAL_UNIT": "foot"})

    with pytest.raises(InputError, match="contradict"):
        read_terrain([path])
    with pytest.raises(InputError, match="contradict"):
        read_terrain([write_raster(tmp_path / "b.tif", np.full((2, 2), 100.0))], unit="foot")
    with pytest.raises(InputError, match="'fathom' is not known"):
        read_terrain([write_raster(tmp_path / "c.tif", np.full((2, 2), 100.0), unit="fathom")])


def test_unit_and_datum_come_from_a_compound_coordinate_system(tmp_path):
    """EPSG:6360 is NAVD88 height in US survey feet: no tag is needed then (EPSG registry, through PROJ)."""
    path = write_raster(tmp_path / "a.tif", np.full((3, 3), 100.0), crs="EPSG:26917+6360", west=500_000, north=4_000_000, unit=None)

    terrain = read_terrain([path])

    assert terrain.grids[0].metres_per_unit == 1200 / 3937
    assert datum_key(terrain.datum) == "navd88"


def test_scale_and_offset_of_the_band_count(tmp_path):
    """Heights in whole decimetres above 100 m are a usual way to save space: 25 -> 100 + 2.5 m."""
    path = write_raster(tmp_path / "a.tif", np.full((2, 2), 25), dtype="int16")
    with rasterio.open(path, "r+") as raster:
        raster.scales, raster.offsets = (0.1,), (100.0,)

    assert read_terrain([path]).heights_m(*lonlat(1, -1)).height_m[0] == pytest.approx(102.5, abs=1e-4)


def test_the_finest_raster_answers_first_and_a_coarser_one_fills_its_holes(tmp_path):
    """The answer carries the cell and the noise of the raster that gave it."""
    fine = np.full((10, 10), 7.0)
    fine[:, 5:] = np.nan
    tags = {"VERTICAL_DATUM": "NAVD88"}
    coarse = np.full((4, 4), 9.0)
    coarse_path = write_raster(tmp_path / "c.tif", coarse, cell=10, west=-15, north=15, tags={**tags, "HEIGHT_SIGMA_M": "0.8"})
    fine_path = write_raster(tmp_path / "f.tif", fine, tags={**tags, "HEIGHT_SIGMA_M": "0.1"})

    answer = read_terrain([coarse_path, fine_path]).heights_m(*lonlat([2, 8, -5, 400], [-2, -2, 5, 0]))

    np.testing.assert_allclose(answer.height_m, [7, 9, 9, np.nan])
    np.testing.assert_allclose(answer.cell_m, [1, 10, 10, np.nan], rtol=1e-3)
    np.testing.assert_allclose(answer.sigma_m, [0.1, 0.8, 0.8, np.nan])


def test_rasters_in_different_vertical_datums_are_refused(tmp_path):
    """Ellipsoid and geoid lie tens of metres apart: the seam would be a cliff."""
    one = write_raster(tmp_path / "a.tif", np.zeros((4, 4)), tags={"VERTICAL_DATUM": "NAVD88"})
    other = write_raster(tmp_path / "b.tif", np.zeros((4, 4)), cell=2, tags={"VERTICAL_DATUM": "ellipsoid WGS 84"})
    unnamed = write_raster(tmp_path / "c.tif", np.zeros((4, 4)), cell=3)

    for pair in ([one, other], [one, unnamed], [unnamed, unnamed]):
        with pytest.raises(InputError, match="datum"):
            read_terrain(pair)
    assert len(read_terrain([one, unnamed], datum="navd 88").grids) == 2


def test_tiles_of_one_product_leave_no_seam(tmp_path):
    """Between the last centre of one tile and the first of the next lies a cell's width that belongs to both."""
    plane = np.arange(12.0) + np.zeros((5, 1))
    tags = {"VERTICAL_DATUM": "N2000"}
    paths = [write_raster(tmp_path / f"{west}.tif", plane[:, west : west + 6], west=west, tags=tags) for west in (0, 6)]

    terrain = read_terrain(paths)

    assert len(terrain.grids) == 1
    assert terrain.heights_m(*lonlat(6.0, -2.0)).height_m[0] == pytest.approx(5.5, abs=1e-6)


def test_only_the_cells_inside_the_bounds_are_loaded(tmp_path):
    """A county's raster for one street: 40 m of 2000."""
    path = write_raster(tmp_path / "a.tif", np.arange(2000.0) + np.zeros((2000, 1)), dtype="float32")
    (west, east), (south, north) = lonlat([1000, 1040], [-1040, -1000])

    terrain = read_terrain([path], bounds=(west, south, east, north))

    assert terrain.grids[0].height_m.size < 60 * 60
    assert terrain.heights_m(*lonlat(1020.5, -1020)).height_m[0] == pytest.approx(1020, abs=0.01)


def test_a_raster_of_another_place_is_refused(tmp_path):
    """The wrong file would otherwise leave every grade unknown without a word."""
    path = write_raster(tmp_path / "a.tif", np.zeros((4, 4)))

    with pytest.raises(InputError, match="no raster covers"):
        read_terrain([path], bounds=(0.0, 0.0, 0.1, 0.1))


def test_surface_models_and_coarse_rasters_warn(tmp_path):
    """Roofs and trees look like ground; a 30 m cell hides a ramp."""
    path = write_raster(tmp_path / "a.tif", np.zeros((4, 4)), cell=30, tags={"MODEL": "surface"})
    plain = write_raster(tmp_path / "b.tif", np.zeros((4, 4)), tags={"HEIGHT_SIGMA_M": "0.1", "VERTICAL_DATUM": "N2000"})

    assert {notice.code for notice in read_terrain([path]).notices} == {"surface", "coarse", "assumed-noise", "datum-unknown"}
    assert read_terrain([plain]).notices == ()
    assert [notice.code for notice in read_terrain([plain], is_surface=True).notices] == ["surface"]


def test_the_noise_of_a_raster_is_given_tagged_or_assumed_with_its_source():
    """USGS: 3DEP 1/3 arc-second RMSE 0.82 m (FAQ, 2022); the user's word comes first."""
    assert find_sigma(10.0, {"HEIGHT_SIGMA_M": "0.3"}, 0.2, where="x") == (0.2, "given by the user")
    assert find_sigma(10.0, {"HEIGHT_SIGMA_M": "0.3"}, None, where="x") == (0.3, "tag HEIGHT_SIGMA_M")
    assert find_sigma(10.0, {}, None, where="x")[0] == 0.82
    with pytest.raises(InputError, match="height noise"):
        find_sigma(10.0, {"HEIGHT_SIGMA_M": "little"}, None, where="x")


def test_a_height_that_no_land_has_is_a_hole(tmp_path):
    """-9999 without a nodata label is the commonest dirt in rasters (common practice)."""
    terrain = read_terrain([write_raster(tmp_path / "a.tif", [[-9999, 10], [10, 10]])])

    assert np.isnan(terrain.heights_m(*lonlat(0.9, -0.9)).height_m[0])
    assert "implausible" in {notice.code for notice in terrain.notices}


def test_degrees_and_stretched_projections_give_cells_in_metres_on_the_ground(tmp_path):
    """At 60 degrees north 100 m of Web Mercator are about 50 m (cos 60 = 0.5), 0.001 degrees of latitude 111 m."""
    from pyproj import Transformer

    x, y = Transformer.from_crs("OGC:CRS84", "EPSG:3857", always_xy=True).transform(25.0, 60.0)
    mercator = write_raster(tmp_path / "m.tif", np.zeros((4, 4)), cell=100, west=x, north=y, crs="EPSG:3857")
    degrees = write_raster(tmp_path / "d.tif", np.zeros((4, 4)), cell=0.001, west=25, north=60, crs="EPSG:4326")

    assert read_terrain([mercator]).grids[0].cell_m == pytest.approx(50, abs=0.5)
    assert read_terrain([degrees]).grids[0].cell_m == pytest.approx(111.4, abs=0.1)


def test_a_raster_without_a_place_is_refused(tmp_path):
    """A picture of heights that lies nowhere can't answer for a street."""
    path = tmp_path / "a.tif"
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        rasterio.open(path, "w", driver="GTiff", width=2, height=2, count=1, dtype="float32") as out,
    ):
        out.write(np.zeros((2, 2), "float32"), 1)

    with pytest.raises(InputError, match="no coordinate system"):
        read_terrain([path], unit="metre")


def test_files_that_are_no_rasters_are_refused(tmp_path):
    """What, where and what to do, not a stack of GDAL errors."""
    bad = tmp_path / "a.tif"
    bad.write_text("not a raster")

    with pytest.raises(InputError, match="can't be read as a raster"):
        read_terrain([bad])
    with pytest.raises(InputError, match="no raster given"):
        read_terrain([])


def test_a_real_raster_reads_with_its_warnings(tmp_path):
    """SRTM sample of the installed matplotlib: Tennessee, 36.45-36.73 N, 84.41-84.08 W, 344 x 403 cells of 3 arc-seconds.

    Row 0 is the north edge although the file calls it ymin; 3 arc-seconds of latitude are 92.5 m.
    """
    cbook = pytest.importorskip("matplotlib.cbook")
    sample = cbook.get_sample_data("jacksboro_fault_dem.npz")
    heights, dx, dy = sample["elevation"], float(sample["dx"]), float(sample["dy"])
    west, north = float(sample["xmin"]), max(float(sample["ymin"]), float(sample["ymax"]))
    path = tmp_path / "srtm_tennessee.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=heights.shape[1], height=heights.shape[0], count=1, dtype="int16", crs="EPSG:4326+5773",
        transform=Affine(dx, 0, west, 0, -dy, north), nodata=-32768,
    ) as out:  # fmt: skip
        out.write(heights.astype("int16"), 1)

    terrain = read_terrain([path])

    assert {"surface", "coarse", "assumed-noise"} == {notice.code for notice in terrain.notices}
    assert datum_key(terrain.datum) == "egm96"
    assert terrain.grids[0].metres_per_unit == 1.0
    assert terrain.grids[0].cell_m == pytest.approx(92.5, abs=0.5)
    row, column = 100, 200
    answer = terrain.heights_m(np.array([west + (column + 0.5) * dx]), np.array([north - (row + 0.5) * dy]))
    assert answer.height_m[0] == pytest.approx(heights[row, column], abs=1e-3)
