"""Areas are crossed, and storeys meet only where something joins them."""

from __future__ import annotations

import networkx as nx
from towns.hand_drawn import judge, network_of, noon

from rollroute.network.network import Network

RING = "n1 0,0\nn2 20,0 {door}\nn3 20,10\nn4 10,10\nn5 10,5\nn6 0,5 {other}\n"
TWO_STOREYS = RING + "w10 1,2,3,4,5,6,1 indoor=corridor level=0\nw11 1,2,3,4,5,6,1 indoor=corridor level=1"


def levels_joined(network: Network) -> bool:
    """Whether a piece on level 0 and one on level 1 hang together."""
    graph = nx.Graph(zip(network.pieces.tail.tolist(), network.pieces.head.tolist(), strict=True))
    at = {level: int(network.pieces.tail[network.pieces.level == level][0]) for level in (0.0, 1.0)}
    return nx.has_path(graph, at[0.0], at[1.0])


def test_storeys_that_are_drawn_over_each_other_do_not_leak():
    """Both corridors use the same nodes for their walls; each has doors of its own (OSM wiki, Simple Indoor Tagging)."""
    ground = "n7 30,0\nn8 -9,5\nw12 2,7 highway=footway\nw13 6,8 highway=footway"
    text = TWO_STOREYS.format(door="door=hinged level=0", other="door=hinged level=0")
    network = network_of(text + "\n" + ground)

    assert 1.0 not in network.pieces.level  # nothing leads to the upper corridor: nobody gets there


def test_a_lift_joins_storeys_and_stands_still_without_mains():
    """The lift is the node that both corridors share."""
    text = TWO_STOREYS.format(door="highway=elevator level=0;1 door:width=0.9 length=1.4", other="door=no level=0;1")
    network = network_of(text)
    ids = network.nodes.osm_id
    pairs = zip(ids[network.pieces.tail].tolist(), ids[network.pieces.head].tolist(), strict=True)
    ends = {frozenset(pair) for pair in pairs if 2 in pair}
    far = max(next(iter(pair - {2})) for pair in ends)

    assert levels_joined(network)
    assert "power" in judge(network, 2, far, conditions=noon(has_mains=False)).reasons


def test_a_square_is_crossed_and_not_only_walked_round():
    """From corner to corner of 30 × 40 m: 50 m, not 70 along the rim (3-4-5 triangle)."""
    text = (
        "n1 0,0\nn2 30,0\nn3 30,40\nn4 0,40\nn5 -9,0\nn6 39,40\nw1 1,2,3,4,1 highway=pedestrian area=yes surface=asphalt\n"
        "w2 5,1 highway=footway\nw3 3,6 highway=footway"
    )
    network = network_of(text)
    across = [m for m, way in zip(network.pieces.length_m, network.ways.osm_id[network.pieces.way], strict=True) if way == 1]

    assert len(across) == 1
    assert abs(across[0] - 50.0) < 0.5
