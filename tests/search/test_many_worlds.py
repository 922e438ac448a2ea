"""Both solvers against the brute force on many small worlds; each route is played again by a simulator that shares no code.

``tests/benchmarks/random_worlds.py`` plays the same on ten thousand and more.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from itertools import product

import pytest
from brute_force import MOST_CHARGES, TooManyWalksError, least_cost
from hypothesis import given, settings
from hypothesis import strategies as st
from replay import fail_one, replay
from worlds import Outlet, Piece, World, graph_of, query_of, varied_town, varied_world

from rollroute.search import simple
from rollroute.search.audit import audit
from rollroute.search.compiled import engine
from rollroute.search.drive import drive
from rollroute.search.problem import Route, Verdict

KINDS = list(product((False, True), repeat=3))  # charging, way back, closings
SOLVERS = {"simple": simple.search, "compiled": engine.search}
CLOSE = 1e-9  # of sums of the same numbers; a mixed-integer program behind the expected cost is good to 1e-5 only
CLOSE_MILP = 1e-5


@dataclass
class Compared:
    """What one world gave: ``found`` by each solver, the brute force's ``expected``, and every difference in words."""

    expected: float = math.nan
    routes: dict[str, Route | None] = field(default_factory=dict)
    differences: list[str] = field(default_factory=list)
    worst: float = 0.0  # largest difference in cost where both are finite

    @property
    def route(self) -> Route | None:
        return self.routes.get("simple")


def compare(world: World, *, most_walks: int = 60_000) -> Compared:
    """Solve ``world`` by both solvers and by brute force; ``expected`` stays NaN where that gives up."""
    compared = Compared()
    try:
        compared.expected = least_cost(world, most_walks=most_walks)
    except TooManyWalksError:
        return compared
    graph, query = graph_of(world), query_of(world)
    for name, solver in SOLVERS.items():
        verdict = solver(graph, query)
        if not verdict.is_proven:
            compared.differences.append(f"{name}: not proven")
        compared.routes[name] = route = None if verdict.steps is None else _checked_route(compared, name, world, verdict)
        cost = math.inf if route is None else route.cost_s
        if route is not None and len(route.stop_uses) > MOST_CHARGES:
            is_equal = cost <= compared.expected + CLOSE_MILP  # the brute force tries no more charges than that
        else:
            close = CLOSE_MILP if route is not None and len(route.stop_uses) > 1 else CLOSE * max(1.0, abs(cost))
            is_equal = cost == compared.expected or abs(cost - compared.expected) <= close
            compared.worst = max(compared.worst, abs(cost - compared.expected) if math.isfinite(cost + compared.expected) else 0.0)
        if not is_equal:
            compared.differences.append(f"{name}: {cost!r}, the brute force {compared.expected!r}")
    return compared


def _checked_route(compared: Compared, name: str, world: World, verdict: Verdict) -> Route:
    graph, query = graph_of(world), query_of(world)
    route = drive(graph, query, verdict)
    compared.differences += [f"{name}, audit: {what}" for what in audit(graph, query, route)]
    played = replay(world, route)
    compared.differences += [f"{name}, played again: {what}" for what in played.wrong]
    said = (route.cost_s, route.time_s, route.energy_wh, route.charge_end_wh, route.surprisal)
    found = (played.cost, played.time, played.energy, played.charge, played.doubt)
    if any(abs(a - b) > CLOSE * max(1.0, abs(b)) for a, b in zip(said, found, strict=True)):
        compared.differences.append(f"{name}: the route says {said}, played again it is {found}")
    if world.way_back and (bad := fail_one(world, route).stranded):
        compared.differences.append(f"{name}: stranded by one bad guess: {bad}")
    return route


@pytest.mark.parametrize("kind", KINDS)
def test_both_solvers_equal_the_brute_force_on_seeded_worlds(kind: tuple[bool, bool, bool]) -> None:
    """Charging, way back and closings, each alone and together: equal costs, played again, and both answers occur."""
    charging, way_back, closings = kind
    n = 60 if charging and not closings else 150
    found: Counter[str] = Counter()
    for seed in range(1000, 1000 + n):
        compared = compare(varied_world(seed, charging=charging, way_back=way_back, closings=closings))
        assert compared.differences == [], f"seed {seed}"
        found["given up"] += math.isnan(compared.expected)
        found["answered"] += compared.route is not None
        found["charged"] += compared.route is not None and bool(compared.route.stop_uses)
    assert found["given up"] <= n // 20
    assert n // 6 <= found["answered"] < n - found["given up"]
    assert found["charged"] >= (n // 20 if charging else 0)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**9), st.sampled_from(KINDS))
def test_both_solvers_equal_the_brute_force_on_any_world(seed: int, kind: tuple[bool, bool, bool]) -> None:
    """The same on worlds that hypothesis picks."""
    charging, way_back, closings = kind
    assert compare(varied_world(seed, charging=charging, way_back=way_back, closings=closings), most_walks=20_000).differences == []


def compare_in_town(world: World) -> Compared:
    """The two solvers against each other where brute force would take for ever; routes played again as above."""
    compared = Compared()
    graph, query = graph_of(world), query_of(world)
    for name, solver in SOLVERS.items():
        verdict = solver(graph, query)
        if not verdict.is_proven:
            compared.differences.append(f"{name}: not proven")
        compared.routes[name] = None if verdict.steps is None else _checked_route(compared, name, world, verdict)
    one, two = (math.inf if route is None else route.cost_s for route in compared.routes.values())
    if one != two and not abs(one - two) <= CLOSE * max(1.0, one):
        compared.differences.append(f"simple: {one!r}, compiled: {two!r}")
    return compared


@pytest.mark.parametrize("kind", KINDS)
def test_both_solvers_agree_in_varied_towns(kind: tuple[bool, bool, bool]) -> None:
    """Chains with pieces of no length, two outlets in one place, several goals, given ways back, retreats that end with the plan."""
    charging, way_back, closings = kind
    found: Counter[str] = Counter()
    for seed in range(40):
        compared = compare_in_town(varied_town(seed, charging=charging, way_back=way_back, closings=closings))
        assert compared.differences == [], f"seed {seed}"
        found["routes"] += compared.route is not None
        found["charged"] += compared.route is not None and bool(compared.route.stop_uses)
    assert 8 <= found["routes"] < 40
    assert found["charged"] >= (4 if charging else 0)


def test_the_simulator_strands_whom_the_rule_forgets() -> None:
    """A check that can't fail proves nothing: the same worlds solved without the way-back rule strand somebody, and the player sees it."""
    n_stranded = 0
    for seed in range(200):
        world = varied_world(seed, charging=seed % 2 == 0, way_back=True, closings=False)
        verdict = simple.search(graph_of(world), query_of(world, needs_way_back=False))
        if verdict.steps is not None:
            n_stranded += bool(fail_one(world, drive(graph_of(world), query_of(world), verdict)).stranded)
    assert n_stranded >= 20


@pytest.mark.parametrize("solver", SOLVERS)
def test_a_round_trip_that_costs_nothing_does_not_go_on_for_ever(solver: str) -> None:
    """Pieces of no length exist on real maps. With uneven seconds, rounding hid that a chair was back with all it had had.

    Found by ``random_worlds.py`` and made smaller: nodes 2 and 3 lie in one spot, and the search without compilation never came to an end.
    """
    arcs = [(0, 1, 9.3, 7.0), (1, 2, 6.1, 3.0), (2, 3, 0.0, 0.0), (3, 2, 0.0, 0.0), (3, 4, 10.0, 0.0), (4, 5, 6.0, 7.0), (5, 6, 4.0, 5.0)]
    world = World(7, [Piece(u, v, t, 0.0, wh) for u, v, t, wh in arcs], 0, [6], charge=11.0, capacity=25.0)
    world.outlets = [Outlet(3, [(5.0, 1.0), (22.0, 4.0)]), Outlet(1, [(12.0, 2.0), (24.0, 5.0)], setup=1.6)]
    verdict = SOLVERS[solver](graph_of(world), query_of(world, work_limit=500))
    assert verdict.is_proven
    assert drive(graph_of(world), query_of(world), verdict).cost_s == pytest.approx(least_cost(world), abs=1e-9)
