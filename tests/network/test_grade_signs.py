"""``incline=up`` and ``down`` give the sign, the raster gives the size."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import CRS
from towns.hand_drawn import LAT, LON, draw, judge

from rollroute.inputs.terrain import HeightGrid, Terrain
from rollroute.network.build import build_network
from rollroute.standards import load_doubts

CELL_M, SIZE = 5.0, 80


def hillside(grade: float) -> Terrain:
    """A plane that rises to the east, with noise of 0.2 m."""
    east = (np.arange(SIZE) + 0.5) * CELL_M - 100.0
    heights = grade * east[None, :] + np.random.default_rng(9).normal(0, 0.2, (SIZE, SIZE))
    crs = CRS.from_user_input(f"+proj=tmerc +lat_0={LAT} +lon_0={LON} +k=1 +datum=WGS84 +units=m")
    grid = HeightGrid(
        name="hillside", height_m=heights, crs=crs, from_crs=(1 / CELL_M, 0.0, 19.5, 0.0, 1 / CELL_M, 19.5), cell_m=CELL_M,
        sigma_m=0.2, sigma_source="simulated", metres_per_unit=1.0, datum="invented", is_surface=False,
    )  # fmt: skip
    return Terrain(grids=(grid,))


def pieces(grade: float, tags: str, ids: str = "1,2"):
    text = f"n1 0,50\nn2 200,50\nw1 {ids} highway=footway {tags}"
    return build_network(draw(text), hillside(grade)).pieces


@pytest.mark.parametrize(("word", "ids", "sign"), [("up", "1,2", 1), ("down", "1,2", -1), ("up", "2,1", 1), ("down", "2,1", -1)])
def test_nearly_level_ways_go_the_way_that_the_map_says(word, ids, sign):
    """On level ground noise makes half of the pieces rise and half fall; the word tells which it is, along the way as drawn."""
    plain, told = pieces(0.0, "", ids), pieces(0.0, f"incline={word}", ids)

    assert (plain.grade * sign < 0).any()
    assert (told.grade * sign >= 0).all()
    kept = plain.grade * sign >= 0
    assert told.grade[kept] == pytest.approx(plain.grade[kept])


def test_a_word_that_the_ground_contradicts_clearly_changes_nothing():
    """6 % uphill is not down: the way was drawn from the other end."""
    assert (pieces(0.06, "incline=down").grade == pieces(0.06, "").grade).all()


def test_a_word_adds_no_size():
    """``up`` on a slope of 6 % leaves the estimate, its error and its rank as they were."""
    plain, told = pieces(0.06, ""), pieces(0.06, "incline=up")

    assert (plain.grade == told.grade).all()
    assert (plain.grade_sd == told.grade_sd).all()
    assert (plain.grade_rank == told.grade_rank).all()


def test_without_heights_a_word_leaves_the_size_unknown():
    network = build_network(draw("n1 0,50\nn2 200,50\nw1 1,2 highway=footway incline=up"))

    assert np.isnan(network.pieces.grade).all()


@pytest.mark.parametrize(("length_m", "is_told"), [(6, False), (14, False), (40, True)])
def test_no_raster_tells_the_slope_of_a_short_ramp(length_m, is_told):
    """Cells of 5 m: the window is 15 m. A ramp of 6 m at 1:8 on level ground would look level."""
    text = f"n1 0,50\nn2 {length_m},50\nw1 1,2 highway=footway footway=ramp"
    grade = build_network(draw(text), hillside(0.0)).pieces.grade

    assert (~np.isnan(grade)).all() == is_told


def test_a_short_ramp_is_asked_about_unless_its_slope_is_tagged():
    """With the doubt of ramps, not that of streets."""
    text = "n1 0,50\nn2 6,50\nw1 1,2 highway=footway footway=ramp width=1.5 {}"
    asked, told = (judge(build_network(draw(text.format(t)), hillside(0.0)), 1, 2, grade_too=True) for t in ("", "incline=8%"))

    assert asked.questions == {"grade"}
    assert asked.surprisal == pytest.approx(load_doubts().surprisal("grade_ramp"), rel=1e-6)
    assert told.is_clear
