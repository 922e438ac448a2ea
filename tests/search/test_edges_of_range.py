"""The ends of what numbers can be: huge bounds, nothing at all, limits met exactly, equal costs, starts that are goals.

Both solvers, each test; where an expected cost is not plain, the brute force says it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from brute_force import TooManyWalksError, least_cost
from hypothesis import given, settings
from hypothesis import strategies as st
from replay import replay
from test_many_worlds import KINDS, SOLVERS
from worlds import Outlet, Piece, World, graph_of, query_of, random_town, random_world

from rollroute.errors import InputError
from rollroute.search import simple
from rollroute.search.audit import audit
from rollroute.search.compiled import engine
from rollroute.search.drive import drive
from rollroute.search.find import find_route
from rollroute.search.problem import ProvenNoRouteError, Route, SearchGraph, SearchQuery

both = pytest.mark.parametrize("name", SOLVERS)
HUGE = 1e9


def line(*arcs: tuple[float, float], **changes: object) -> World:
    """A street of (seconds, watt-hours) pieces, both ways, from node 0 to the last; charge 10 Wh if not said otherwise."""
    pieces = []
    for i, (time, energy) in enumerate(arcs):
        pieces += [Piece(i, i + 1, time, 0.0, energy, back=2 * i + 1), Piece(i + 1, i, time, 0.0, energy, back=2 * i)]
    return replace(World(len(arcs) + 1, pieces, 0, [len(arcs)], charge=10.0), **changes)  # type: ignore[arg-type]


def best(world: World, name: str) -> Route | None:
    graph, query = graph_of(world), query_of(world)
    verdict = SOLVERS[name](graph, query)
    assert verdict.is_proven
    if verdict.steps is None:
        return None
    route = drive(graph, query, verdict)
    assert audit(graph, query, route) == []
    assert replay(world, route).wrong == []
    return route


def scaled(world: World, time: float, energy: float) -> World:
    """The same world in other units: exact where the factors are powers of two."""
    pieces = [replace(p, time=p.time * time, extra=p.extra * time, energy=p.energy * energy, closes=p.closes * time) for p in world.pieces]
    outlets = [
        replace(
            o,
            stretches=[(upto * energy, s_per_wh * time / energy) for upto, s_per_wh in o.stretches],
            setup=o.setup * time,
            opens=o.opens * time,
            closes=o.closes * time,
        )
        for o in world.outlets
    ]
    wh = {f: getattr(world, f) * energy for f in ("charge", "reserve", "capacity")}
    return replace(world, pieces=pieces, outlets=outlets, latest=world.latest * time, **wh)


@both
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("time", "energy"), [(2.0**20, 2.0**20), (2.0**30, 1.0), (1.0, 2.0**30)])
def test_a_million_times_longer_or_heavier_is_the_same_way(name: str, kind: tuple[bool, bool, bool], time: float, energy: float) -> None:
    """Seconds up to 1e10, watt-hours up to 1e10: no sum runs over, and the way stays the same edge by edge."""
    charging, way_back, closings = kind
    for seed in range(8):
        make = random_town if seed % 2 else random_world
        world = make(seed + 50, charging=charging, way_back=way_back, closings=closings)
        small, large = best(world, name), best(scaled(world, time, energy), name)
        assert (small is None) == (large is None)
        if small is not None and large is not None:
            assert large.cost_s == pytest.approx(small.cost_s * time, rel=1e-9)
            assert large.edges.tolist() == small.edges.tolist()


@both
def test_bounds_of_a_billion_are_no_bounds(name: str) -> None:
    """Charge, capacity, closings and latest arrival of 1e9 give what infinity gives: the cheapest way, to the last bit."""
    for seed in range(20):
        world = random_town(seed, charging=False, way_back=False, closings=False, side=6)
        bounded = replace(world, charge=HUGE, capacity=HUGE, latest=HUGE, pieces=[replace(p, closes=HUGE) for p in world.pieces])
        free = replace(world, charge=math.inf, capacity=math.inf)
        routes = [best(w, name) for w in (bounded, free)]
        assert [None if r is None else r.cost_s for r in routes] == [None if routes[1] is None else routes[1].cost_s] * 2


@both
def test_seconds_and_watt_hours_of_a_billion_on_single_edges(name: str) -> None:
    """1e9 + 1e9 s against 2e9 + 1 s: the one second decides; 1e9 Wh against a battery that holds 1e9 − 1 is refused."""
    world = line((HUGE, HUGE), (HUGE, HUGE), charge=2 * HUGE, capacity=2 * HUGE)
    world.pieces.append(Piece(0, 2, 2 * HUGE + 1.0, 0.0, 0.0))
    route = best(world, name)
    assert route is not None
    assert (route.cost_s, route.charge_end_wh) == (2 * HUGE, 0.0)
    world.charge = 2 * HUGE - 1.0
    route = best(world, name)
    assert route is not None
    assert route.cost_s == 2 * HUGE + 1.0


@both
@pytest.mark.parametrize("tiny", [1e-3, 1e-6, 1e-9, 1e-12])
def test_a_tiny_weight_of_doubt_still_decides_between_equal_ways(name: str, tiny: float) -> None:
    """λ = ``tiny``: two ways of 100 s, one with half the doubt; above the rounding of 100 s (1.4e-14) the surer one is taken."""
    pieces = [Piece(0, 1, 50.0, 2 * tiny, 1.0), Piece(1, 3, 50.0, 0.0, 1.0), Piece(0, 2, 50.0, tiny, 1.0), Piece(2, 3, 50.0, 0.0, 1.0)]
    route = best(World(4, pieces, 0, [3], charge=2.0), name)
    assert route is not None
    assert route.edges.tolist() == [2, 3]


@both
def test_a_tiny_gain_in_cost_never_buys_a_broken_limit(name: str) -> None:
    """The way that is cheaper by 1e-12 s needs 1e-6 Wh more than there is, a thousand times the slack for rounding."""
    pieces = [Piece(0, 1, 100.0, 0.0, 2.0 + 1e-6), Piece(0, 1, 100.0 + 1e-12, 0.0, 2.0)]
    route = best(World(2, pieces, 0, [1], charge=2.0), name)
    assert route is not None
    assert route.edges.tolist() == [1]


@both
@pytest.mark.parametrize("way_back", [False, True])
def test_an_empty_battery_goes_where_nothing_is_used(name: str, way_back: bool) -> None:
    """All energies 0, charge = reserve = 0: there is a way, and also one over unverified pieces, since coming back takes nothing either."""
    world = line((3.0, 0.0), (4.0, 0.0), charge=0.0, refuges=[0], way_back=way_back)
    for piece in world.pieces:
        piece.unverified, piece.doubt = True, 0.1
    route = best(world, name)
    assert route is not None
    assert (route.cost_s, route.energy_wh, route.charge_end_wh) == (7.0, 0.0, 0.0)


@both
def test_nothing_costs_anything(name: str) -> None:
    """All weights 0 on a ring of eight: a route of cost 0 that goes round no more than once."""
    pieces = [Piece(i, (i + 1) % 8, 0.0, 0.0, 0.0) for i in range(8)]
    pieces += [Piece((i + 1) % 8, i, 0.0, 0.0, 0.0) for i in range(8)]
    world = World(8, pieces, 0, [5], charge=0.0)
    world.outlets = [Outlet(3, [(5.0, 1.0)])]
    route = best(world, name)
    assert route is not None
    assert (route.cost_s, len(set(route.nodes.tolist()))) == (0.0, len(route.nodes))


@both
def test_a_limit_met_up_to_rounding_is_met(name: str) -> None:
    """Ten times 0.1 Wh is 0.9999999999999999, three times 0.1 is 0.30000000000000004: neither side of the rounding decides."""
    for n, limit in ((10, 1.0), (3, 0.3)):
        world = line(*[(0.1, 0.1)] * n, charge=limit, latest=limit)
        assert best(world, name) is not None
        assert best(replace(world, charge=limit - 1e-6), name) is None
        assert best(replace(world, latest=limit - 1e-6), name) is None
        world.pieces[2 * n - 2].closes = limit
        assert best(world, name) is not None
        world.pieces[2 * n - 2].closes = limit - 1e-6
        assert best(world, name) is None


@both
def test_a_way_back_met_up_to_rounding_is_met(name: str) -> None:
    """Out 0.1 + 0.2, back 0.2 + 0.1: 0.6 Wh must do, and 1e-6 less must not, though the far end itself needs only 0.3."""
    world = line((1.0, 0.1), (1.0, 0.2), charge=0.6, refuges=[0], way_back=True)
    world.pieces[2].unverified = world.pieces[3].unverified = True
    assert best(world, name) is not None
    assert best(replace(world, charge=0.6 - 1e-6), name) is None


def test_weights_under_zero_or_not_numbers_are_refused_by_name() -> None:
    """−1e-17 from a subtraction upstream is an error there, not a way to earn energy; so are NaN and infinity on a passable edge."""
    for field in ("time", "extra", "energy", "doubt"):
        said = {"time": "time_s", "extra": "cost_s", "energy": "energy_wh", "doubt": "surprisal"}[field]
        for value in (-1e-17, math.nan, math.inf):
            with pytest.raises(InputError, match=r"must be finite and >= 0 on a passable edge") as caught:
                graph_of(World(2, [Piece(0, 1, **{"time": 0.0, "extra": 0.0, "energy": 0.0, field: value})], 0, [1], charge=1.0))
            assert said in str(caught.value) or field == "time"
    graph_of(World(2, [Piece(0, 1, math.nan, math.nan, math.nan, passable=False)], 0, [1], charge=1.0))


@both
@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_cost_may_be_less_than_time(name: str, seed: int) -> None:
    """A preference may count a second of driving as less than a second: cost − time is negative then, and answers stay exact.

    Not together with opening hours: driving about would then be cheaper than waiting, without end.
    """
    world = random_world(seed, charging=seed % 2 == 0, way_back=seed % 3 == 0, closings=False)
    for piece in world.pieces:
        piece.extra = -0.9 * piece.time if piece.energy > 5 else piece.extra
    try:
        expected = least_cost(world, most_walks=5_000)
    except TooManyWalksError:
        return
    route = best(world, name)
    assert (math.inf if route is None else route.cost_s) == pytest.approx(expected, abs=1e-5)


@both
@pytest.mark.parametrize("way_back", [False, True])
def test_start_is_goal(name: str, way_back: bool) -> None:
    """The way of no edges: no time, no energy, no stop; also with the latest arrival at departure and the charge at the reserve."""
    world = line((5.0, 3.0), charge=1.0, reserve=1.0, latest=0.0, way_back=way_back, refuges=[1], goals=[1, 0])
    world.outlets = [Outlet(0, [(5.0, 1.0)])]
    route = best(world, name)
    assert route is not None
    assert (route.nodes.tolist(), route.edges.tolist(), route.stop_uses, route.cost_s, route.energy_wh) == ([0], [], (), 0.0, 0.0)
    assert best(replace(world, charge=0.9), name) is None  # under the reserve already


@both
def test_of_several_goals_the_cheapest_that_can_be_reached_is_taken(name: str) -> None:
    """1 is nearer but 9 Wh away, 2 is farther and 4 Wh away; with 10 Wh it is 1, with 5 Wh it is 2, in whatever order they are named."""
    world = World(3, [Piece(0, 1, 10.0, 0.0, 9.0), Piece(0, 2, 20.0, 0.0, 4.0)], 0, [2, 1, 2], charge=10.0)
    for charge, goal in ((10.0, 1), (5.0, 2)):
        route = best(replace(world, charge=charge), name)
        assert route is not None
        assert route.goal == goal


@both
def test_a_stop_at_the_start_is_used_before_the_first_edge(name: str) -> None:
    """8 Wh away with 5 Wh: 3 Wh at 2 s each after 4 s of set-up, then 6 s of driving: 16 s."""
    world = line((6.0, 8.0), charge=5.0, capacity=10.0)
    world.outlets = [Outlet(0, [(10.0, 2.0)], setup=4.0)]
    route = best(world, name)
    assert route is not None
    assert route.cost_s == pytest.approx(16.0, abs=1e-9)
    assert [(u.before_edge, u.leave_wh) for u in route.stop_uses] == [(0, pytest.approx(8.0, abs=1e-8))]


@both
def test_a_stop_at_the_goal_helps_nobody_to_get_there(name: str) -> None:
    """It is never used when the charge is enough, and it is no help where it is not."""
    world = line((6.0, 8.0), charge=8.0, capacity=10.0)
    world.outlets = [Outlet(1, [(10.0, 2.0)])]
    route = best(world, name)
    assert route is not None
    assert route.stop_uses == ()
    assert best(replace(world, charge=7.0), name) is None


@both
def test_of_several_outlets_in_one_place_the_better_is_used(name: str) -> None:
    """Fast but 30 s of set-up against slow and ready: 2 Wh are had sooner from the slow one, 8 Wh from the fast one."""
    world = line((1.0, 1.0), (1.0, 4.0), charge=3.0, capacity=20.0)
    world.outlets = [Outlet(1, [(20.0, 1.0)], setup=30.0), Outlet(1, [(20.0, 10.0)])]
    for need, stop, seconds in ((4.0, 1, 20.0), (10.0, 0, 38.0)):
        world.pieces[2].energy = need
        route = best(world, name)
        assert route is not None
        assert [u.stop for u in route.stop_uses] == [stop]
        assert route.cost_s == pytest.approx(2.0 + seconds, abs=1e-8)


@both
def test_a_stop_that_closes_as_charging_ends_is_open_long_enough(name: str) -> None:
    """2 s of driving, 3 s until it opens, 1 s of set-up, 4 s of charging: closing at 10 s will do, 1e-6 s earlier will not."""
    world = line((2.0, 1.0), (1.0, 5.0), charge=2.0, capacity=5.0)
    world.outlets = [Outlet(1, [(5.0, 1.0)], setup=1.0, opens=5.0, closes=10.0)]
    route = best(world, name)
    assert route is not None
    assert route.cost_s == pytest.approx(11.0, abs=1e-9)
    world.outlets[0].closes = 10.0 - 1e-6
    assert best(world, name) is None


@both
def test_a_full_battery_is_not_charged_and_a_top_is_not_passed(name: str) -> None:
    """Capacity 10, need 10 after a first piece of 1: the last edge asks for the very top; 10.001 is refused, though the outlet has 100."""
    world = line((1.0, 1.0), (1.0, 10.0), charge=10.0, capacity=10.0)
    world.outlets = [Outlet(0, [(100.0, 1.0)]), Outlet(1, [(100.0, 1.0)])]
    route = best(world, name)
    assert route is not None
    assert [(u.stop, u.leave_wh) for u in route.stop_uses] == [(1, 10.0)]
    world.pieces[2].energy = 10.001
    assert best(world, name) is None


@both
@pytest.mark.parametrize("charging", [False, True])
def test_equal_costs_are_broken_the_same_way_every_time(name: str, charging: bool) -> None:
    """A grid of equal streets has thousands of cheapest ways; new graphs, other questions in between and kept fields change nothing."""
    n = 7
    pieces = []
    for i in range(n * n):
        for j in (i + 1 if i % n < n - 1 else -1, i + n if i < n * (n - 1) else -1):
            if j >= 0:
                k = len(pieces)
                pieces += [Piece(i, j, 1.0, 0.0, 1.0, back=k + 1), Piece(j, i, 1.0, 0.0, 1.0, back=k)]
    world = World(n * n, pieces, 0, [n * n - 1], charge=7.0 if charging else 12.0, capacity=12.0)
    if charging:
        world.outlets = [Outlet(v, [(12.0, 1.0)]) for v in (n - 1, n * (n - 1), n * n // 2)]
    graph = graph_of(world)
    first = SOLVERS[name](graph, query_of(world))
    assert first.steps is not None
    for other in (1, 17, 30):
        SOLVERS[name](graph, query_of(world, start=other))
        assert SOLVERS[name](graph, query_of(world)).steps == first.steps
        assert SOLVERS[name](graph_of(world), query_of(world)).steps == first.steps


def test_edges_without_end_or_beginning_are_refused() -> None:
    """Nodes outside the graph, in edges and in questions."""
    with pytest.raises(InputError, match="head must lie in 0"):
        graph_of(World(2, [Piece(0, 2, 1.0, 0.0, 1.0)], 0, [1], charge=1.0))
    graph = graph_of(line((1.0, 1.0)))
    for changes in ({"start": 2}, {"goals": (-1,)}, {"refuges": (7,)}):
        with pytest.raises(InputError, match="must be nodes 0"):
            find_route(graph, query_of(line((1.0, 1.0)), **changes))


@both
def test_a_graph_without_edges(name: str) -> None:
    """Only the start itself can be reached."""
    world = World(3, [], 1, [1], charge=0.0)
    route = best(world, name)
    assert route is not None
    assert route.cost_s == 0.0
    assert best(replace(world, goals=[0, 2]), name) is None


def test_why_there_is_no_way_is_said_at_the_ends_of_range_too() -> None:
    """Nothing reachable, a battery of nothing, a closing at departure, no refuge at all: each proven and named."""
    cases = [
        (World(2, [], 0, [1], charge=1.0), "unreachable"),
        (line((1.0, 1.0), charge=0.0, capacity=0.0), "charge"),
        (line((1.0, HUGE), charge=1.0), "charge"),
        (line((1.0, 1.0), latest=0.0), "closing"),
        (line((HUGE, 1.0), latest=1.0), "closing"),
    ]
    unsure = line((1.0, 1.0), way_back=True)
    unsure.pieces[0].unverified = True
    for world, kind in [*cases, (unsure, "way back")]:
        with pytest.raises(ProvenNoRouteError) as caught:
            find_route(graph_of(world), query_of(world))
        assert [str(f.kind) for f in caught.value.failures] == [kind]


def test_a_work_limit_of_one_label() -> None:
    """The least that can be asked for: never a wrong proof, whatever it finds."""
    for seed in range(30):
        world = random_town(seed, charging=True, way_back=True, closings=True)
        truth = simple.search(graph_of(world), query_of(world))
        for search in (simple.search, engine.search):
            found = search(graph_of(world), query_of(world, work_limit=1))
            assert found.lower_bound_s <= truth.lower_bound_s + 1e-6 or not math.isfinite(truth.lower_bound_s)
            assert not found.is_proven or (found.steps is None) == (truth.steps is None)


@both
def test_int32_node_numbers_and_long_chains(name: str) -> None:
    """A chain of 3000 nodes in shuffled order, weights from 1e-9 to 1e9: the sums are the plain sums."""
    rng = np.random.default_rng(3)
    n = 3000
    order = rng.permutation(n).astype(np.int32)
    time = 10.0 ** rng.uniform(-9, 9, n - 1)
    energy = 10.0 ** rng.uniform(-9, 3, n - 1)
    none, yes = np.zeros(n - 1, bool), np.ones(n - 1, bool)
    graph = SearchGraph(
        n, order[:-1], order[1:], time, time, energy, np.zeros(n - 1), yes, none, np.full(n - 1, np.inf), np.full(n - 1, -1, np.int32)
    )
    query = SearchQuery(int(order[0]), (int(order[-1]),), charge_wh=float(energy.sum()) * (1 + 1e-12))
    verdict = SOLVERS[name](graph, query)
    assert verdict.steps is not None
    route = drive(graph, query, verdict)
    assert route.cost_s == pytest.approx(math.fsum(time), rel=1e-12)
    assert route.energy_wh == pytest.approx(math.fsum(energy), rel=1e-12)
    assert audit(graph, query, route) == []
