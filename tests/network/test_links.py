"""Where a sidewalk stops being a tag and goes on as a way of its own, it is joined, once on each side, and asked about."""

from __future__ import annotations

import numpy as np
from towns.hand_drawn import judge, network_of

from rollroute.network.network import Flag

BRIDGE = "n1 0,0\nn2 50,0\nn3 100,0\nw10 1,2 highway=residential sidewalk=both\nw11 2,3 highway=residential sidewalk=separate\n"
NORTH = "n4 {0},8\nn5 100,8\nw12 4,5 highway=footway footway=sidewalk\n"
SOUTH = "n6 {0},-8\nn7 100,-8\nw13 6,7 highway=footway footway=sidewalk\n"


def links(text: str) -> set[tuple[int, int]]:
    """OSM numbers of the ends of our lines."""
    network = network_of(text)
    rows = np.flatnonzero((network.pieces.flags & Flag.LINK) != 0)
    ids = network.nodes.osm_id
    return {(int(ids[network.pieces.tail[r]]), int(ids[network.pieces.head[r]])) for r in rows}


def test_a_sidewalk_goes_on_at_both_sides_of_the_street():
    """Node 2 is the end of the bridge; 10 m on the sidewalks begin as ways, 8 m north and south."""
    assert links(BRIDGE + NORTH.format(60) + SOUTH.format(60)) == {(2, 4), (2, 6)}


def test_where_only_one_side_has_a_sidewalk_there_is_one_line():
    """The next node of the same sidewalk is near too; it lies on the same side."""
    assert links(BRIDGE + "n4 55,8\nn8 62,8\nn5 100,8\nw12 4,8,5 highway=footway footway=sidewalk") == {(2, 4)}


def test_beyond_25_m_nothing_is_joined():
    """√(25² + 8²) = 26.2 m; at 23 m along it is √(23² + 8²) = 24.4 m."""
    assert links(BRIDGE + NORTH.format(75)) == set()
    assert links(BRIDGE + NORTH.format(73)) == {(2, 4)}


def test_where_the_mapper_joined_them_nothing_is_added():
    """The sidewalk begins at the end of the bridge itself."""
    assert links(BRIDGE + "n5 100,8\nw12 2,5 highway=footway footway=sidewalk") == set()


def test_a_street_whose_mapping_does_not_change_gets_no_line():
    """``sidewalk=both`` goes on: the footway beside it may lead anywhere."""
    assert links(BRIDGE.replace("separate", "both") + NORTH.format(60)) == set()


def test_a_corridor_is_no_sidewalk():
    """The end of a corridor near the bridge lies behind a wall."""
    assert links(BRIDGE + "n4 60,8\nn5 100,8\nw12 4,5 highway=corridor indoor=yes level=0") == set()


def test_our_line_is_never_taken_for_known():
    """Nobody drew it: a chair that needs it is told so."""
    network = network_of(BRIDGE + NORTH.format(60))

    assert "other" in judge(network, 2, 4).questions
    assert "other" in judge(network, 4, 2).questions
    assert "other" not in judge(network, 4, 5).questions
