"""The search without compilation against the brute force of ``brute_force.py``."""

from __future__ import annotations

import math

import pytest
from brute_force import MOST_CHARGES, TooManyWalksError, least_cost
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import World, graph_of, query_of, random_world

from rollroute.search.audit import audit
from rollroute.search.drive import drive
from rollroute.search.simple import search

KINDS = [(c, w, t) for c in (False, True) for w in (False, True) for t in (False, True)]


def check(world: World) -> bool | None:
    """Compare with the brute force; whether there is a route, ``None`` where the brute force gives up."""
    try:
        expected = least_cost(world, most_walks=20_000)
    except TooManyWalksError:
        return None
    graph, query = graph_of(world), query_of(world)
    verdict = search(graph, query)
    assert verdict.is_proven
    if verdict.steps is None:
        assert expected == math.inf
        return False
    route = drive(graph, query, verdict)
    assert audit(graph, query, route) == []
    if len(route.stop_uses) <= MOST_CHARGES:
        assert route.cost_s == pytest.approx(expected, abs=1e-5)
    return True


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("block", range(4))
def test_costs_equal_the_brute_force_on_seeded_worlds(block: int, kind: tuple[bool, bool, bool]) -> None:
    """Every rule alone and all of them together, in worlds of real and of whole numbers."""
    charging, way_back, closings = kind
    n = 20 if charging else 60
    worlds = [
        random_world(s, charging=charging, way_back=way_back, closings=closings, whole_numbers=s % 3 == 0)
        for s in range(block * n, block * n + n)
    ]
    found = [check(world) for world in worlds]
    assert found.count(True) >= n // 5
    assert found.count(False) >= n // 20


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**9), st.booleans(), st.booleans(), st.booleans(), st.booleans())
def test_costs_equal_the_brute_force_on_any_world(seed: int, charging: bool, way_back: bool, closings: bool, whole: bool) -> None:
    """The same on worlds that hypothesis picks."""
    check(random_world(seed, charging=charging, way_back=way_back, closings=closings, whole_numbers=whole))
