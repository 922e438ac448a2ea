"""Places beside long straight pieces: the nodes of a piece may lie far from the place that it passes."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, network_of

from rollroute.network.attach import attach, nearest_joint

LENGTH_M = 3000.0
ROAD = network_of(f"n1 0,0\nn2 {LENGTH_M},0\nn3 0,120\nw1 1,2 highway=footway\nw2 1,3 highway=footway")


@pytest.mark.parametrize("along_m", [130.0, 500.0, 1500.0, 2870.0])
def test_a_place_beside_a_long_piece_joins_it_wherever_its_nodes_are(along_m: float):
    """Straight roads have a node every few hundred metres; a house 20 m off the middle was refused as far from any way."""
    lon, lat = LON + along_m / M_PER_DEGREE_LON, LAT + 20.0 / M_PER_DEGREE_LAT
    joint = nearest_joint(ROAD, lon, lat, limit_m=150.0, usable=np.ones(ROAD.n_pieces, bool))
    assert joint.off_m == pytest.approx(20.0, rel=0.01)
    joined, (node,) = attach(ROAD, [(lon, lat, joint)])
    place = joined.node_place(node)
    assert place == pytest.approx((lon, lat), abs=1e-9)
    assert joined.pieces.length_m.astype(float).sum() == pytest.approx(LENGTH_M + 120.0 + 20.0, rel=0.003)
