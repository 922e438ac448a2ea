"""Driving a doubtful place answers the question for the way there; for the way back only where coming back asks no more."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import a_chair, network_of, noon, tally_of

from rollroute.inputs.chair import find_chair
from rollroute.inputs.tables import data_dir
from rollroute.journey import PREFERENCES, search_graph
from rollroute.network.facts.points import PlaceKind
from rollroute.search.compiled.engine import search as search_compiled
from rollroute.search.find import solve
from rollroute.search.problem import SearchQuery
from rollroute.weights.case import Weighing
from rollroute.weights.energy import calibrate
from rollroute.weights.passages import Passage
from rollroute.weights.reasons import Question
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.way_back import back_sure
from rollroute.weights.weigh import weigh

SIDEWALK = "highway=footway footway=sidewalk surface=asphalt incline=0% width=2"
CROSSING = "highway=footway footway=crossing surface=asphalt incline=0% width=2"
TOWN = f"""n1 0,0
n2 20,0 barrier=kerb
n3 24,0
n4 30,0
w10 1,2 {SIDEWALK}
w11 2,3 {CROSSING}
w12 3,4 {CROSSING}"""


def kerb_edges(network):
    """The edge that goes down the kerb from the sidewalk and the one that comes up again."""
    touch = network.incidence
    row = int(np.flatnonzero(network.places.kind[touch.place] == PlaceKind.KERB)[0])
    piece, rises = int(touch.piece[row]), int(touch.rises[row])
    assert rises != 0, "the map tells which side is higher"
    return (2 * piece + 1, 2 * piece) if rises > 0 else (2 * piece, 2 * piece + 1)


def sure(up_m, down_m):
    network = network_of(TOWN)
    case, tally = tally_of(network, a_chair(rated_obstacle_m=up_m, rated_obstacle_down_m=down_m), noon())
    down, up = kerb_edges(network)
    assert tally.questions[down] == tally.questions[up] != 0
    found = back_sure(case, tally, tally.questions)
    return None if found is None else (bool(found[down]), bool(found[up]))


def test_a_chair_that_climbs_what_it_descends_comes_back_over_a_kerb_that_it_has_driven():
    """5 cm up and down: a kerb of unknown height that let it down lets it up; the search's own rule says so."""
    assert sure(0.05, 0.05) is None


def test_a_chair_rated_for_more_going_down_may_not_come_back_up_the_kerb_that_it_went_down():
    """10 cm down, 3 cm up: a kerb of 6 cm lets it down and never up again. Up first, then down, is sure."""
    assert sure(0.03, 0.10) == (False, True)


def test_a_chair_rated_for_more_going_up_may_not_come_back_down_the_kerb_that_it_climbed():
    assert sure(0.10, 0.03) == (True, False)


def test_a_kerb_known_to_be_low_enough_both_ways_is_sure_for_any_chair():
    network = network_of(TOWN.replace("barrier=kerb", "barrier=kerb kerb:height=2cm"))
    case, tally = tally_of(network, a_chair(rated_obstacle_m=0.03, rated_obstacle_down_m=0.10), noon())
    found = back_sure(case, tally, tally.questions)
    assert found is not None
    assert found[list(kerb_edges(network))].all()


def test_a_kerb_too_high_to_come_back_over_is_not_sure():
    """6 cm known: down at 10, never up at 3."""
    network = network_of(TOWN.replace("barrier=kerb", "barrier=kerb kerb:height=6cm"))
    case, tally = tally_of(network, a_chair(rated_obstacle_m=0.03, rated_obstacle_down_m=0.10), noon())
    down, up = kerb_edges(network)
    found = back_sure(case, tally, tally.questions)
    assert found is not None
    assert (tally.reasons[down] == 0, tally.reasons[up] != 0, bool(found[down])) == (True, True, False)


def test_where_coming_back_asks_more_than_the_way_there_it_is_not_sure():
    """A chair like this one was seen to go down the kerb, not up: the way down keeps its other question, the way up the kerb's as well."""
    network = network_of(TOWN)
    case, tally = tally_of(network, a_chair(rated_obstacle_m=0.05, rated_obstacle_down_m=0.05), noon())
    down, up = kerb_edges(network)
    tally.questions[[down, up]] |= np.uint32(Question.GRADE)
    tally.questions[down] &= ~np.uint32(Question.KERB)
    found = back_sure(case, tally, tally.questions)
    assert found is not None
    assert (bool(found[down]), bool(found[up])) == (False, True)


@pytest.mark.parametrize("step", ["door=hinged entrance=main", "entrance=main"])
def test_a_threshold_nobody_measured_is_a_step_too(step):
    """One goes up into a house: in first, out again is sure for a chair that goes down better than up; out first is not."""
    inside = "highway=corridor indoor=yes level=0 width=2 incline=0% surface=asphalt"
    text = f"n1 0,0\nn2 10,0 {step}\nn3 20,0\nw10 1,2 {SIDEWALK}\nw11 2,3 {inside}"
    network = network_of(text)
    case, tally = tally_of(network, a_chair(rated_obstacle_m=0.01, rated_obstacle_down_m=0.05), noon())
    found = back_sure(case, tally, tally.questions)
    assert found is not None
    asked = np.flatnonzero(tally.questions != 0)
    goes_in = network.nodes.lon[network.edge_tail[asked]] < network.nodes.lon[network.edge_head[asked]]
    assert found[asked].tolist() == goes_in.tolist()
    assert sorted(goes_in.tolist()) == [False, True]


def test_another_chairs_passage_takes_no_way_back_away():
    """It answered the way down for us; having driven down ourselves, we come up again as sure as if nobody had passed before."""
    network = network_of(TOWN)
    chair = a_chair(rated_obstacle_m=0.05, rated_obstacle_down_m=0.05)
    down, up = kerb_edges(network)
    passed = Passage(
        edges=np.array([down]), width_m=chair.width_m, length_m=chair.length_m, mass_kg=chair.total_mass_kg, obstacle_up_m=0.05,
        obstacle_down_m=0.05, grade=chair.rated_grade, wheel=chair.wheel,
    )  # fmt: skip
    graph = search_graph(network, weigh_of(network, chair, Weighing(passages=(passed,))), PREFERENCES["surest"])
    assert (bool(graph.is_unverified[down]), bool(graph.is_unverified[up])) == (False, True)
    assert graph.is_back_sure is not None
    assert graph.is_back_sure[down]


@pytest.mark.parametrize("seed", range(16))
def test_a_passage_never_makes_a_trip_dearer_or_impossible(quillhaven, seed):
    """Knowing more never closes a way: with edges passed by a chair like ours, the best route costs no more."""
    chair = find_chair(str(data_dir() / "quillhaven" / "demo-chair.toml"))
    rng = np.random.default_rng(seed)
    edges = np.unique(rng.integers(0, 2 * quillhaven.n_pieces, 2000))
    passed = Passage(
        edges=edges, width_m=chair.width_m, length_m=chair.length_m, mass_kg=chair.total_mass_kg, obstacle_up_m=chair.rated_obstacle_m,
        obstacle_down_m=chair.rated_obstacle_down_m, grade=chair.rated_grade, wheel=chair.wheel,
    )  # fmt: skip
    start, goal, refuge = rng.integers(0, quillhaven.n_nodes, 3).tolist()
    costs = []
    for rules in (Weighing(), Weighing(passages=(passed,))):
        graph = search_graph(quillhaven, weigh_of(quillhaven, chair, rules), PREFERENCES["quickest"])
        query = SearchQuery(start, (goal,), 300.0, refuges=(start, refuge), needs_way_back=True)
        verdict = solve(graph, query)
        costs.append(np.inf if verdict.steps is None else verdict.lower_bound_s)
    assert costs[1] <= costs[0] + 1e-6


def weigh_of(network, chair, rules):
    """Weights on a dry noon, planned as expected."""
    return weigh(network, chair, calibrate(chair), PlannedFactors(time=1.0, energy=1.0, usable=1.0), noon(), rules=rules)


GATE_BELOW = TOWN.replace("barrier=kerb", "barrier=kerb kerb:height=6cm").replace("n3 24,0", "n3 24,0 barrier=gate")


def goes(text, start_x, goal_x, refuge_x, *, up_m=0.03, down_m=0.10):
    """Whether a rider with 500 Wh may set off under the way-back rule, by both solvers; places are told by their metres east."""
    network = network_of(text)
    assert network.n_nodes == 4
    weights = weigh_of(network, a_chair(rated_obstacle_m=up_m, rated_obstacle_down_m=down_m), Weighing())
    graph = search_graph(network, weights, PREFERENCES["quickest"])
    east = np.argsort(network.nodes.lon)
    start, goal, refuge = (int(east[[0, 20, 24, 30].index(x)]) for x in (start_x, goal_x, refuge_x))
    query = SearchQuery(start, (goal,), 500.0, refuges=(refuge,), needs_way_back=True)
    found = {solver(graph, query).steps is not None for solver in (solve, search_compiled)}
    assert len(found) == 1
    return found.pop()


@pytest.mark.parametrize(("up_m", "down_m", "may_go"), [(0.10, 0.10, True), (0.03, 0.10, False), (0.10, 0.03, True)])
def test_nobody_is_sent_down_a_kerb_of_unknown_height_that_their_chair_may_not_climb_again(up_m, down_m, may_go):
    """Refuge at the start, 500 Wh in hand: charge can't buy a climb. A chair that climbs what it goes down may go and come back."""
    assert goes(TOWN, 0, 30, 0, up_m=up_m, down_m=down_m) is may_go


def test_up_the_same_kerb_and_down_again_is_allowed_to_that_chair():
    assert goes(TOWN, 30, 0, 30)


def test_beyond_a_kerb_that_only_lets_it_down_a_chair_tries_no_gate_without_a_refuge_below():
    """6 cm known, down at 10 cm, never up at 3: a locked gate beyond it would leave the rider between kerb and gate."""
    assert not goes(GATE_BELOW, 0, 30, 0)
    assert goes(GATE_BELOW, 0, 30, 24)
    assert goes(GATE_BELOW, 0, 30, 0, up_m=0.10)
