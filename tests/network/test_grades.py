"""Grades with their error: known grounds, known noise, bridges, holes."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer

from rollroute.errors import InputError
from rollroute.inputs.terrain import HeightGrid, Terrain
from rollroute.network.grade_noise import shared_noise
from rollroute.network.grade_stations import PositionError, fit_lines, three_by_three_slope
from rollroute.network.grades import SOURCE_RASTER, SOURCE_STRAIGHT, SOURCE_UNKNOWN, WayProfileInput, measure_grades, vertex_heights_m

LOCAL = CRS.from_user_input("+proj=tmerc +lat_0=45 +lon_0=10 +k=1 +datum=WGS84 +units=m")
NO_SHIFT = PositionError(sd_m=0.0)


def ground(height, *, cell=1.0, half_m=200.0, sigma=0.0, rng=None) -> Terrain:
    """A grid of heights ``height(x, y)`` around the origin, with noise if asked for; a centre lies at (0, 0)."""
    n = int(half_m / cell)
    axis = np.arange(-n, n + 1) * cell
    z = np.asarray(height(axis[None, :], axis[:, None])) + np.zeros((len(axis), len(axis)))
    z = z + rng.normal(0, sigma, z.shape) if rng else z
    grid = HeightGrid(
        name="invented", height_m=z, crs=LOCAL, from_crs=(1 / cell, 0, n, 0, 1 / cell, n), cell_m=cell, sigma_m=sigma,
        sigma_source="made", metres_per_unit=1.0, datum="invented", is_surface=False,
    )  # fmt: skip
    return Terrain(grids=(grid,))


def ways(*lines, pieces=None, straight=(), kind=None) -> WayProfileInput:
    """Polylines in metres; ``pieces`` lists (chain, from, to), one per chain if not given; ``straight`` lists chains."""
    xy = np.concatenate([np.asarray(line, float) for line in lines])
    first = np.concatenate(([0], np.cumsum([len(line) for line in lines])))
    s = np.concatenate([np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(np.asarray(line, float), axis=0).T)))) for line in lines])
    lon, lat = Transformer.from_crs(LOCAL, "OGC:CRS84", always_xy=True).transform(*xy.T)
    pieces = pieces or [(c, 0.0, s[first[c + 1] - 1]) for c in range(len(lines))]
    chain, begin, end = np.array(pieces).T
    return WayProfileInput(
        first_vertex=first, vertex_s_m=s, vertex_lon=lon, vertex_lat=lat, is_straight=np.isin(np.arange(len(lines)), straight),
        kind=np.zeros(len(lines), np.uint8) if kind is None else np.array(kind, np.uint8),
        piece_chain=chain.astype(np.int64), piece_from_m=begin, piece_to_m=end,
    )  # fmt: skip


@pytest.mark.parametrize("cell", [0.5, 1.0, 10.0])
def test_a_plane_gives_its_grade_in_every_direction(cell):
    """A plane of 0.05 x + 0.02 y: east 5 %, north 2 %, north-east 7 % / sqrt 2, and back the opposite; to 1e-6.

    On 10 m cells that holds for what was measured; what is believed about 10 m inside a window of 30 m differs a little.
    """
    net = ways([(0, 0), (100, 0)], [(0, 0), (0, 100)], [(0, 0), (90, 90)], [(50, 0), (-50, 0)], [(3.3, 1.7), (3.3, 41.7), (43.3, 41.7)])

    grades = measure_grades(net, ground(lambda x, y: 100 + 0.05 * x + 0.02 * y, cell=cell), position=NO_SHIFT)

    np.testing.assert_allclose(grades.raw_grade[:4], [0.05, 0.02, 0.07 / np.sqrt(2), -0.05], atol=1e-6)
    np.testing.assert_allclose(grades.grade[:4], grades.raw_grade[:4], atol=1e-6 if cell < 10 else 5e-4)
    # Round the corner: 40 m at 2 % and 40 m at 5 %, 0.8 + 2.0 m up.
    assert grades.climb_m[4] == pytest.approx(2.8, abs=0.05 if cell < 10 else 0.2)  # one window looks round the corner
    assert set(grades.source) == {SOURCE_RASTER}


def test_a_cone_gives_its_slope_along_its_rays():
    """Z = 0.08 r: 8 % on every ray that runs through cell centres, to 1e-6 (bilinear heights are exact there)."""
    cone = ground(lambda x, y: 0.08 * np.hypot(x, y))

    grades = measure_grades(ways([(20, 0), (120, 0)], [(0, -20), (0, -120)], [(15, 15), (100, 100)]), cone, position=NO_SHIFT)

    # On the diagonal samples fall between centres: there the cone sags between cells by at most cell^2 / (8 r) x 0.08.
    np.testing.assert_allclose(grades.grade[:2], 0.08, atol=1e-6)
    assert grades.grade[2] == pytest.approx(0.08, abs=1e-4)


def test_round_the_cone_is_level():
    """A contour climbs nowhere, whatever the side slope."""
    turn = np.linspace(0, np.pi, 181)
    net = ways(100 * np.array([np.cos(turn), np.sin(turn)]).T)

    grades = measure_grades(net, ground(lambda x, y: 0.08 * np.hypot(x, y)), position=NO_SHIFT)

    assert abs(grades.grade[0]) < 1e-4


def test_horn_meets_the_published_example():
    """50 45 50 / 30 30 30 / 8 10 10 on cells of 5: slope 75.258 degrees (worked example of a maker's manual, from memory).

    dz/dx = ((50 + 60 + 10) - (50 + 60 + 8)) / 40 = 0.05; dz/dy = ((8 + 20 + 10) - (50 + 90 + 50)) / 40 = -3.8
    """
    east, south = three_by_three_slope(np.array([50, 45, 50, 30, 30, 30, 8, 10, 10.0]), 5.0)

    assert (east, south) == pytest.approx((0.05, -3.8))
    assert np.degrees(np.arctan(np.hypot(east, south))) == pytest.approx(75.258, abs=5e-4)


def test_horn_does_not_flatten_the_rim():
    """A missing neighbour makes the slope unknown instead of standing in with the middle height."""
    assert np.isnan(three_by_three_slope(np.array([np.nan, 1, 1, 1, 1, 1, 1, 1, 1.0]), 1.0)).any()


@pytest.mark.parametrize(("n", "percent"), [(11, 0.95), (21, 0.36), (31, 0.20)])
def test_the_standard_error_is_the_formula_s(n, percent):
    """Sigma sqrt(12 / (n (n^2 - 1))) / h: noise 0.10 m each metre gives 0.95, 0.36, 0.20 % over 10, 20, 30 m.

    The least-squares formula of every statistics book; the three values by hand from it.
    """
    noise = (np.full(n, 0.01), np.zeros(n), np.zeros(n))

    _, sd = fit_lines(np.zeros(n), noise, np.array([0]), np.array([n]), np.array([1.0]))

    assert sd[0] == pytest.approx(0.1 * np.sqrt(12 / (n * (n**2 - 1))), rel=1e-12)
    assert 100 * sd[0] == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(("cell", "sigma"), [(1.0, 0.10), (10.0, 0.82)])
def test_noise_of_known_size_gives_the_standard_error_that_is_stated(cell, sigma):
    """400 level ways anywhere on noisy rasters: measured grades scatter as their stated error says, within 8 % (3 sigma of 400)."""
    rng = np.random.default_rng(5)
    flat = ground(lambda x, y: 0 * x * y, cell=cell, half_m=60 * cell + 300, sigma=sigma, rng=rng)
    start, turn = rng.uniform(-40 * cell, 40 * cell, (400, 2)), rng.uniform(0, 2 * np.pi, 400)
    length = max(10.0, 3 * cell)
    net = ways(*[[a, a + length * np.array([np.cos(t), np.sin(t)])] for a, t in zip(start, turn, strict=True)])

    grades = measure_grades(net, flat, position=NO_SHIFT)

    pull = grades.raw_grade / grades.posterior.measured_sd
    assert np.sqrt(np.mean(pull**2)) == pytest.approx(1.0, abs=0.11)


@given(seed=st.integers(0, 2**32 - 1), missing=st.integers(0, 4))
def test_lines_with_gaps_agree_with_numpy_s_least_squares(seed, missing):
    """Independent reference: ``numpy.polyfit`` on the known samples, and its textbook error sigma / sqrt(sum (s - mean)^2)."""
    rng = np.random.default_rng(seed)
    z = rng.normal(100, 3, 11)
    z[rng.choice(11, missing, replace=False)] = np.nan
    s, known = np.arange(11) * 1.3, ~np.isnan(z)

    slope, sd = fit_lines(z, (np.full(11, 0.04), np.zeros(11), np.zeros(11)), np.array([0]), np.array([11]), np.array([1.3]))

    assert slope[0] == pytest.approx(np.polyfit(s[known], z[known], 1)[0], abs=1e-9)
    assert sd[0] == pytest.approx(0.2 / np.sqrt(np.sum((s[known] - s[known].mean()) ** 2)), rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(lift_m=st.floats(-100, 4000), stretch=st.floats(0.1, 3))
def test_lifting_the_ground_changes_no_grade_and_stretching_it_stretches_them(lift_m, stretch):
    """Only differences of height count; a raster in feet read as metres would be stretched, which is why units are refused."""

    def hill(x, y):
        return 3 * np.sin(x / 30) + 0.02 * y

    net = ways([(-50, 3), (70, 9)], pieces=[(0, s, s + 12) for s in range(0, 120, 12)])
    plain = measure_grades(net, ground(hill, half_m=90), position=NO_SHIFT).raw_grade

    changed = measure_grades(net, ground(lambda x, y: lift_m + stretch * hill(x, y), half_m=90), position=NO_SHIFT).raw_grade

    np.testing.assert_allclose(changed, stretch * plain, atol=1e-6)


def test_samples_on_centres_share_no_noise_and_samples_between_share_some():
    """On centres: sigma^2, 0. Half-way in x: (1/4 + 1/4) sigma^2, and 1/4 sigma^2 with the next."""
    on, between = np.arange(4.0), np.arange(4.0) + 0.5
    sigma = np.full(4, 2.0)

    assert shared_noise(sigma, on, np.zeros(4))[0].tolist() == [4, 4, 4, 4]
    assert shared_noise(sigma, on, np.zeros(4))[1].tolist() == [0, 0, 0, 0]
    assert shared_noise(sigma, between, np.zeros(4))[0].tolist() == [2, 2, 2, 2]
    assert shared_noise(sigma, between, np.zeros(4))[1].tolist() == [1, 1, 1, 0]


def test_a_bridge_over_a_valley_stays_level():
    """The raster falls 20 m below the deck; the chair doesn't."""
    valley = ground(lambda x, y: 50 - 20 * np.exp(-((x / 15) ** 2)) + 0 * y)
    net = ways([(-60, 0), (60, 0)], [(-60, 0), (60, 0)], straight=[0])

    grades = measure_grades(net, valley)

    assert grades.grade[0] == pytest.approx(0.0, abs=1e-4)
    assert grades.source.tolist() == [SOURCE_STRAIGHT, SOURCE_RASTER]
    assert abs(grades.steepest_grade[1]) > 0.25


def test_heights_at_vertices_follow_the_ground_but_not_under_a_bridge():
    """Z = x on the ground: 10 m at x = 10. The bridge runs from 0 to 30 m high; the gully at x = 20 is not under its wheels."""
    gully = ground(lambda x, y: np.where(np.abs(x - 20) < 3, -50, x) + 0 * y)
    net = ways([(0, 0), (10, 0), (20, 0), (30, 0)], [(0, 0), (10, 0), (20, 0), (30, 0)], [(900, 0), (910, 0)], straight=[1])

    heights = vertex_heights_m(net, gully)

    np.testing.assert_allclose(heights, [0, 10, -50, 30, 0, 10, 20, 30, np.nan, np.nan], atol=1e-5)


def test_holes_are_unknown_and_unknown_is_not_flat():
    """A way through a hole has no grade; its doubt is the town's, never zero."""

    def holed(x, y):
        return np.where((np.abs(x) < 60) & (np.abs(y) < 60), np.nan, 0.05 * y)

    net = ways([(-40, 0), (40, 0)], [(-90, 90), (90, 90)], [(500, 500), (520, 500)])

    grades = measure_grades(net, ground(holed))

    assert np.isnan(grades.grade).tolist() == [True, False, True]
    assert np.isnan(grades.climb_m).tolist() == [True, False, True]
    assert grades.source.tolist() == [SOURCE_UNKNOWN, SOURCE_RASTER, SOURCE_UNKNOWN]
    assert (grades.posterior.probability_over(1 / 12) > 0).all()


def test_short_pieces_borrow_from_their_way():
    """Three metres in the middle of a street are measured over ten; alone they have a larger error."""
    slope = ground(lambda x, y: 0.04 * x + 0 * y, sigma=0.1)
    net = ways([(0, 0), (100, 0)], [(0, 5), (3, 5)], pieces=[(0, 51, 54), (1, 0, 3)])

    grades = measure_grades(net, slope, position=NO_SHIFT)

    assert grades.window_m.tolist() == pytest.approx([10, 3])
    assert grades.posterior.measured_sd[1] > 3 * grades.posterior.measured_sd[0]
    assert grades.raw_grade[1] == pytest.approx(0.04, abs=1e-6)


def test_sampling_is_no_finer_than_the_cell():
    """On 10 m cells the window is 3 cells, whatever the pieces."""
    net = ways([(0, 0), (120, 0)], pieces=[(0, s, s + 5) for s in range(0, 120, 5)])

    assert (measure_grades(net, ground(lambda x, y: 0 * x * y, cell=10.0)).window_m >= 29.9).all()


def test_cutting_a_piece_in_two_changes_neither_climb_nor_verdict():
    """Questions and energy belong to places: the halves add up, and the worse half speaks as the whole did."""
    rng = np.random.default_rng(2)
    rough = ground(lambda x, y: 3 * np.sin(x / 25) + 0 * y, sigma=0.1, rng=rng)
    line = [(-150, 3), (150, 3)]
    cuts = np.concatenate(([0], np.sort(rng.uniform(0, 300, 9)), [300]))

    whole = measure_grades(ways(line), rough)
    parts = measure_grades(ways(line, pieces=[(0, a, b) for a, b in itertools.pairwise(cuts)]), rough)

    assert parts.climb_m.sum() == pytest.approx(whole.climb_m[0], rel=1e-9)
    assert parts.descent_m.sum() == pytest.approx(whole.descent_m[0], rel=1e-9)
    assert parts.posterior.probability_over(1 / 12).max() == pytest.approx(whole.posterior.probability_over(1 / 12)[0])


def test_drawing_a_way_backwards_turns_the_sign_and_nothing_else():
    """Up one way is down the other, with the same doubt."""
    hill = ground(lambda x, y: 4 * np.sin(x / 40) + 0.03 * y, sigma=0.1, rng=np.random.default_rng(3))

    there, back = measure_grades(ways([(-50, 3), (70, 9)], [(70, 9), (-50, 3)]), hill).grade

    assert there == pytest.approx(-back, abs=1e-6)


def test_a_hillside_makes_a_misdrawn_way_doubtful():
    """Along a slope of 30 % a way drawn 2 m askew climbs where the real one is level; on level ground it doesn't."""
    side = measure_grades(ways([(-50, 0), (50, 0)]), ground(lambda x, y: 0.3 * y + 0 * x, sigma=0.01))
    level = measure_grades(ways([(-50, 0), (50, 0)]), ground(lambda x, y: 0 * y * x, sigma=0.01))

    assert side.posterior.measured_sd[0] > 10 * level.posterior.measured_sd[0]


def test_the_finer_raster_decides_window_and_error():
    """Where 1 m heights exist, a 10 m raster behind them changes nothing."""
    fine, coarse = ground(lambda x, y: 0.05 * x + 0 * y, sigma=0.1), ground(lambda x, y: 0 * x * y, cell=10, sigma=0.8)
    both = Terrain(grids=fine.grids + coarse.grids)
    net = ways([(0, 0), (100, 0)])

    assert measure_grades(net, both).grade[0] == measure_grades(net, fine).grade[0]


def test_a_coarse_raster_fills_the_holes_of_a_fine_one_with_its_own_windows_and_errors():
    """200 m at 4 %, no 1 m heights from 80 to 120 m: there the 10 m raster speaks, over 30 m, with its larger noise."""
    fine = ground(lambda x, y: np.where(np.abs(x) < 20, np.nan, 0.04 * x) + 0 * y, sigma=0.1)
    coarse = ground(lambda x, y: 0.04 * x + 0 * y, cell=10, sigma=0.8)
    net = ways([(-100, 0), (100, 0)], pieces=[(0, s, s + 10) for s in range(0, 200, 10)])

    alone = measure_grades(net, fine, position=NO_SHIFT)
    grades = measure_grades(net, Terrain(grids=fine.grids + coarse.grids), position=NO_SHIFT)

    assert np.flatnonzero(np.isnan(alone.grade)).tolist() == [8, 9, 10, 11]
    assert grades.window_m.round().tolist() == [10] * 8 + [30] * 4 + [10] * 8
    np.testing.assert_allclose(grades.raw_grade, 0.04, atol=1e-6)
    assert (grades.posterior.measured_sd[8:12] > 2 * grades.posterior.measured_sd[0]).all()


def test_a_way_without_length_has_no_grade():
    """Two nodes in one place: no rise over no run is unknown, not zero and not infinite."""
    grades = measure_grades(ways([(0, 0), (0, 0)], pieces=[(0, 0.0, 1e-9)]), ground(lambda x, y: 0.1 * x + 0 * y))

    assert np.isnan(grades.grade[0])


def test_bad_profiles_are_refused():
    """A single node is no way; distances that run back and pieces that end before they begin are mistakes of the caller."""
    with pytest.raises(InputError, match="at least 2 vertices"):
        ways([(0, 0)], pieces=[(0, 0, 1)])
    with pytest.raises(InputError, match="from < to"):
        ways([(0, 0), (5, 0)], pieces=[(0, 3, 3)])


def test_a_smooth_raster_with_a_large_stated_error_hides_no_hills():
    """RMSE against survey points is mostly shared by neighbours: 0.82 m on smooth ground is no reason to doubt a hill of 9 %."""

    def hill(x, y):
        return 30 * np.sin(x / 333) + 0 * y  # 9 % at the origin

    net = ways(*[[(-150, y), (150, y)] for y in range(-350, 351, 10)])
    position = PositionError(sd_m=0.0)
    smooth = measure_grades(net, ground(hill, cell=10, half_m=420, sigma=0.82), position=position)
    noisy = measure_grades(net, ground(hill, cell=10, half_m=420, sigma=0.82, rng=np.random.default_rng(6)), position=position)

    assert smooth.noise[0].ratio < 0.1
    assert smooth.posterior.measured_sd.mean() < 0.5 * noisy.posterior.measured_sd.mean()
    assert noisy.noise[0].ratio == pytest.approx(1.0, abs=0.15)
    assert noisy.noise[0].factor == 1.0
