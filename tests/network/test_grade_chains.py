"""Ways of one street are laid end to end before grades are fitted: where mappers cut a street changes no grade."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from towns.hand_drawn import LAT, LON, draw

from rollroute.inputs.terrain import HeightGrid, Terrain
from rollroute.network.build import build_network
from rollroute.network.network import Network

GROUND = CRS.from_user_input(f"+proj=tmerc +lat_0={LAT} +lon_0={LON} +k=1 +datum=WGS84 +units=m")
CELL_M, SIZE = 5.0, 120


@pytest.fixture(scope="module")
def rough() -> Terrain:
    """A hillside of 6 % with noise of 0.3 m: a short way alone can't tell its grade."""
    middle = (np.arange(SIZE) + 0.5) * CELL_M - 100.0
    noise = np.random.default_rng(5).normal(0, 0.3, (SIZE, SIZE))
    heights = 0.06 * middle[None, :] + 3 * np.sin(middle[None, :] / 60) + noise
    grid = HeightGrid(
        name="hillside", height_m=heights, crs=GROUND, from_crs=(1 / CELL_M, 0.0, 19.5, 0.0, 1 / CELL_M, 19.5), cell_m=CELL_M,
        sigma_m=0.3, sigma_source="simulated", metres_per_unit=1.0, datum="invented", is_surface=False,
    )  # fmt: skip
    return Terrain(grids=(grid,))


def street(ways: list[list[int]], tags: str = "highway=residential name=Elm") -> str:
    """Nodes 1 … 21, 10 m apart to the east, and ways through them."""
    nodes = "\n".join(f"n{i} {10 * (i - 1)},50" for i in range(1, 22))
    return nodes + "\n" + "\n".join(f"w{k} {','.join(map(str, ids))} {tags}" for k, ids in enumerate(ways, start=1))


def by_segment(network: Network) -> dict[tuple[int, int], tuple[float, ...]]:
    """Grade from the lower node number to the higher, its error, and what the raster said with its own error."""
    ids, p, found = network.nodes.osm_id, network.pieces, {}
    for i in range(network.n_pieces):
        a, b = int(ids[p.tail[i]]), int(ids[p.head[i]])
        if a and b:
            sign = 1.0 if a < b else -1.0
            said = (sign * p.grade[i], p.grade_sd[i], sign * p.grade_measured[i], p.grade_measured_sd[i])
            found[min(a, b), max(a, b)] = tuple(map(float, said))
    return found


@settings(max_examples=15, deadline=None)
@given(cuts=st.sets(st.integers(2, 20), max_size=8), seed=st.integers(0, 99))
def test_where_mappers_cut_a_street_and_how_they_drew_its_parts_changes_no_grade(rough, cuts, seed):
    """Every cut of a street of 200 m into ways, each drawn in either direction, gives the grades of the whole."""
    whole = by_segment(build_network(draw(street([list(range(1, 22))])), rough))
    ends = [1, *sorted(cuts), 21]
    parts = [list(range(a, b + 1)) for a, b in itertools.pairwise(ends)]
    flips = np.random.default_rng(seed).random(len(parts)) < 0.5
    cut = by_segment(build_network(draw(street([p[::-1] if f else p for p, f in zip(parts, flips, strict=True)])), rough))

    assert cut.keys() == whole.keys()
    for segment, said in whole.items():
        assert cut[segment] == pytest.approx(said, abs=2e-6), segment


def test_a_short_way_between_two_cuts_is_told_as_well_as_the_street_that_it_is_part_of(rough):
    """10 m alone on cells of 5 m are three samples, with its neighbours 15 m and four: √(12 / 24) against √(12 / 60), 1.6 times as good."""
    alone = by_segment(build_network(draw(street([[10, 11]])), rough))[10, 11]
    joined = by_segment(build_network(draw(street([list(range(1, 11)), [10, 11], list(range(11, 22))])), rough))[10, 11]

    assert joined[3] < 0.75 * alone[3]
    assert joined[1] < alone[1]


@pytest.mark.parametrize(
    "tags", ["highway=residential name=Ash", "highway=footway name=Elm", "highway=residential name=Elm bridge=yes layer=1"]
)
def test_another_street_another_kind_of_way_and_a_bridge_are_lines_of_their_own(rough, tags):
    """Nothing is borrowed across: the middle part is told as if it stood alone."""
    ends = street([list(range(1, 11)), list(range(11, 22))])
    alone = by_segment(build_network(draw(street([[10, 11]], tags)), rough))[10, 11]
    between = by_segment(build_network(draw(f"{ends}\nw9 10,11 {tags}"), rough))[10, 11]

    assert between[2] == pytest.approx(alone[2], abs=2e-6)


def test_a_street_that_turns_a_corner_is_two_lines(rough):
    """North at node 11: a right angle is no continuation."""
    text = street([list(range(1, 12))]) + "\nn31 100,60\nn32 100,70\nw9 11,31,32 highway=residential name=Elm"
    alone = by_segment(build_network(draw(street([list(range(1, 12))])), rough))
    turned = by_segment(build_network(draw(text), rough))

    assert turned[10, 11][2] == pytest.approx(alone[10, 11][2], abs=2e-6)


def test_a_ring_of_ways_has_a_beginning(rough):
    """Eight ways of a round street, each going on into the next: every piece gets its grade once."""
    angle = np.arange(8) * np.pi / 4
    nodes = "\n".join(f"n{k + 1} {100 + 40 * np.cos(a):.3f},{60 + 40 * np.sin(a):.3f}" for k, a in enumerate(angle))
    ways = "\n".join(f"w{k + 1} {k + 1},{(k + 1) % 8 + 1} highway=residential name=Ring" for k in range(8))
    network = build_network(draw(f"{nodes}\n{ways}"), rough)

    assert not np.isnan(network.pieces.grade).any()


def test_distances_along_a_chain_never_fall_by_a_rounding_error():
    """Two falls of a sum over ways, one of them hidden behind the other; where a chain begins a fall is none."""
    from rollroute.network.grade_chains import _never_falling

    s_m = np.array([0.0, 5.0000003, 5.0, 5.0000001, 9.0, 0.0, 4.0, 3.9999999])
    mended = _never_falling(s_m, np.array([0, 5, 8]))

    assert mended.tolist() == [0.0, 5.0000003, 5.0000003, 5.0000003, 9.0, 0.0, 4.0, 4.0]
