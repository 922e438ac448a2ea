"""The least charge to leave with, and what more charge buys: by hand, against brute force, and as properties."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from brute_force import TooManyWalksError, least_cost
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import Outlet, Piece, World, graph_of, query_of, random_town, random_world

from rollroute.errors import InputError
from rollroute.search.audit import audit
from rollroute.search.halving import least_amount
from rollroute.search.least import least_charge, what_charge_buys


def line(**changes: object) -> World:
    """0 — 1 — 2, every piece 10 s and 5 Wh each way, and a detour 0 — 3 — 2 of 30 s and 3 Wh in all."""
    pieces = []
    for u, v, time, energy in ((0, 1, 10.0, 5.0), (1, 2, 10.0, 5.0), (0, 3, 15.0, 1.5), (3, 2, 15.0, 1.5)):
        k = len(pieces)
        pieces += [Piece(u, v, time, 0.0, energy, back=k + 1), Piece(v, u, time, 0.0, energy, back=k)]
    return replace(World(4, pieces, 0, [2], charge=20.0, capacity=40.0), **changes)  # type: ignore[arg-type]


def test_the_least_charge_is_the_thriftiest_way_and_the_reserve() -> None:
    """By hand: 1.5 + 1.5 Wh and 2 Wh of reserve."""
    world = line(reserve=2.0)
    assert least_charge(graph_of(world), query_of(world)) == pytest.approx(5.0, abs=1e-9)


def test_a_battery_too_small_for_the_least_charge_has_none() -> None:
    """By hand: 3 Wh are needed, the battery holds 2.5."""
    world = line(capacity=2.5, charge=2.0)
    assert least_charge(graph_of(world), query_of(world)) == math.inf
    world = line(capacity=2.5, charge=2.5, reserve=9.0)
    assert least_charge(graph_of(world), query_of(world)) == math.inf


def test_a_stop_on_the_way_lowers_the_least_charge() -> None:
    """By hand: an outlet at node 3, 1.5 Wh away, gives the rest; without stops it takes 3 Wh."""
    world = line(outlets=[Outlet(3, [(20.0, 10.0)])])
    graph, query = graph_of(world), query_of(world)
    assert least_charge(graph, query, with_stops=False) == pytest.approx(3.0, abs=0.01)
    assert least_charge(graph, query) == pytest.approx(1.5, abs=0.0101)


def test_the_way_back_raises_the_least_charge() -> None:
    """By hand: 0 → 3 unverified, the only refuge at the start: 1.5 there, 1.5 back, and 3 → 2 from a chair that has 1.5 left."""
    world = line(way_back=True, refuges=[0])
    world.pieces = [replace(p, passable=1 not in (p.u, p.v), unverified={p.u, p.v} == {0, 3}) for p in world.pieces]
    assert least_charge(graph_of(world), query_of(world)) == pytest.approx(3.0, abs=0.01)
    for piece in world.pieces:
        piece.unverified = True  # now 3 → 2 too: 3 Wh there, 3 Wh back
    assert least_charge(graph_of(world), query_of(world)) == pytest.approx(6.0, abs=0.01)


def test_a_closing_asks_for_the_charge_of_the_quick_way() -> None:
    """By hand: after 25 s it is too late for the thrifty way of 30 s, so it takes the 10 Wh of the quick one."""
    world = line(latest=25.0)
    assert least_charge(graph_of(world), query_of(world)) == pytest.approx(10.0, abs=0.01)


def test_no_way_at_all_has_no_least_charge() -> None:
    """Where nothing leads to the goal no charge is enough."""
    world = line()
    for piece in world.pieces:
        piece.passable = False
    assert least_charge(graph_of(world), query_of(world)) == math.inf


def test_a_work_limit_that_hides_the_answer_gives_nan() -> None:
    """One label decides nothing in a town; the amount is left open rather than guessed."""
    world = random_town(4, charging=True, way_back=True, closings=True, side=6)
    value = least_charge(graph_of(world), query_of(world, work_limit=1, charge_wh=1.0))
    assert math.isnan(value) or math.isinf(value)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9), st.booleans(), st.booleans(), st.booleans())
def test_just_enough_is_enough_and_less_is_not(seed: int, charging: bool, way_back: bool, closings: bool) -> None:
    """Brute force at the least charge finds a way; 0.02 Wh under it none."""
    world = random_world(seed, charging=charging, way_back=way_back, closings=closings)
    least = least_charge(graph_of(world), query_of(world))
    try:
        if math.isinf(least):
            assert math.isinf(least_cost(replace(world, charge=world.capacity), most_walks=20_000))
            return
        assert math.isfinite(least_cost(replace(world, charge=min(least + 1e-6, world.capacity)), most_walks=20_000))
        assert math.isinf(least_cost(replace(world, charge=least - 0.02), most_walks=20_000))
    except TooManyWalksError:
        return


def test_more_charge_never_costs_more_and_buys_the_quick_way() -> None:
    """By hand: 3 Wh buy 30 s, 10 Wh 20 s, more nothing; under 3 Wh there is no way."""
    world = line()
    offers = what_charge_buys(graph_of(world), query_of(world), (2.0, 3.0, 9.0, 10.0, 30.0))
    assert [None if o.route is None else o.route.cost_s for o in offers] == [None, 30.0, 30.0, 20.0, 20.0]
    assert all(o.is_proven for o in offers)


@pytest.mark.parametrize("seed", range(12))
def test_offers_keep_every_rule_and_fall_in_cost(seed: int) -> None:
    """Towns with all rules: each offer passes the audit for its own charge, and cost never rises with charge."""
    world = random_town(seed, charging=True, way_back=True, closings=True)
    graph, query = graph_of(world), query_of(world)
    charges = [world.reserve + share * (world.capacity - world.reserve) for share in (0.1, 0.25, 0.5, 0.75, 1.0)]
    costs = []
    for offer in what_charge_buys(graph, query, charges):
        costs.append(math.inf if offer.route is None else offer.route.cost_s)
        if offer.route is not None:
            assert audit(graph, query_of(world, charge_wh=offer.charge_wh), offer.route) == []
    assert all(b <= a + 1e-9 for a, b in pairwise(costs))


@given(st.floats(0.0, 1e6), st.floats(1e-3, 1.0), st.floats(0.0, 100.0))
def test_halving_finds_the_threshold(threshold: float, tolerance: float, at_least: float) -> None:
    """What comes back holds, and lies less than the tolerance over the threshold."""
    found = least_amount(lambda x: x >= threshold, 1e6, at_least=at_least, tolerance=tolerance)
    assert found >= threshold
    assert found == at_least or found - threshold <= tolerance


@pytest.mark.parametrize("unknown_from", [0.0, 5.0, 20.0])
def test_halving_says_that_it_does_not_know(unknown_from: float) -> None:
    """Never a guess: one open answer on the way makes the amount NaN."""
    assert math.isnan(least_amount(lambda x: None if unknown_from <= x < 50.0 else x >= 30.0, 100.0, tolerance=0.1))
    assert least_amount(lambda x: False, 100.0, tolerance=0.1) == math.inf


def test_a_charge_over_the_battery_is_refused_by_the_query() -> None:
    """The query itself says what is wrong; an offer raises the capacity instead, and says so."""
    with pytest.raises(InputError):
        query_of(line(capacity=5.0, charge=20.0))
