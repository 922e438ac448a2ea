"""A kerb that nobody has told of beyond a busy road: somebody looks first, or the way goes round it."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import a_chair, network_of, noon, tally_of

from rollroute.journey import PREFERENCES, search_graph
from rollroute.search.find import solve
from rollroute.search.problem import SearchQuery
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.scouting import SCOUT_S, edges_to_scout
from rollroute.weights.weigh import weigh

WALK = "highway=footway footway=sidewalk surface=asphalt incline=0% width=2"
CROSSING = "highway=footway footway=crossing crossing=uncontrolled surface=asphalt incline=0% width=3"


def town(*, road="secondary maxspeed=50", far="", second="kerb=lowered barrier=kerb", apron=False):
    """A road from west to east, sidewalks 8 m south and north of its line, a crossing at 0 and, 150 m on, another."""
    middle = "30," if apron else ""
    return network_of(
        f"""n1 0,-8 kerb=lowered barrier=kerb
n2 0,0 highway=crossing
n3 0,8 {far}
n4 150,-8 kerb=lowered barrier=kerb
n5 150,0 highway=crossing
n6 150,8 {second}
n7 -60,0
n8 200,0
n9 -60,-8
n10 -60,8
n30 15,0
n31 15,20
w1 7,2,{middle}5,8 highway={road} sidewalk=separate
w2 9,1,4 {WALK}
w3 10,3,6 {WALK}
w4 1,2,3 {CROSSING}
w5 4,5,6 {CROSSING}"""
        + ("\nw30 30,31 highway=service service=driveway width=3 surface=asphalt" if apron else "")
    )


def scouted(network):
    """Ends of the edges that somebody should look at, as their northing in metres at tail and head."""
    case, tally = tally_of(network, a_chair(), noon())
    edges = edges_to_scout(case, tally)
    lat = network.nodes.lat
    return {(round((lat[network.edge_tail[e]] - 45.2) * 111_132), round((lat[network.edge_head[e]] - 45.2) * 111_132)) for e in edges}


def test_the_way_up_an_untold_kerb_beyond_a_busy_road_is_to_be_scouted_and_the_way_down_is_not():
    """Down from the north sidewalk nobody is caught: who finds that kerb high is still on the sidewalk."""
    assert scouted(town()) == {(0, 8)}


@pytest.mark.parametrize(
    "known",
    [{"far": "kerb=lowered barrier=kerb"}, {"road": "residential maxspeed=30"}, {"apron": True}],
    ids=["told", "slow street", "apron near"],
)
def test_a_known_kerb_a_slow_street_and_an_apron_within_reach_need_no_scout(known):
    """30 m along the gutter to an apron is the set distance (an assumption)."""
    assert scouted(town(**known)) == set()


def route(network, *, without_second=False):
    chair = a_chair()
    weights = weigh(network, chair, calibrate(chair), PlannedFactors(time=1.0, energy=1.0, usable=1.0), noon())
    graph = search_graph(network, weights, PREFERENCES["quickest"])
    place = np.column_stack([network.nodes.lon, network.nodes.lat])
    west = [int(np.hypot(*(place - (place[:, 0].min(), 45.2 + y / 111_132)).T).argmin()) for y in (-8, 8)]
    verdict = solve(graph, SearchQuery(west[0], (west[1],), 500.0, refuges=(west[0],), needs_way_back=True))
    assert verdict.steps is not None
    return set(verdict.steps) & set(weights.to_scout.tolist()), verdict.lower_bound_s, weights


def test_the_way_goes_round_by_the_kerb_that_is_known():
    """300 m further, some 5 minutes: less than the half hour that sending somebody to look is worth."""
    used, cost_s, _ = route(town())
    assert used == set()
    assert cost_s < SCOUT_S


def test_where_there_is_no_other_way_it_is_offered_and_says_so():
    """The second crossing has no known kerb either: the nearer is taken, and its edge is marked."""
    network = town(second="")
    used, cost_s, weights = route(network)
    assert len(used) == 1
    assert cost_s >= SCOUT_S
    assert weights.is_unverified[list(used)].all()
