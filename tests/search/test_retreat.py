"""When whoever turns back at a place that turned out bad is at a refuge: sums by hand."""

from __future__ import annotations

import pytest
from worlds import Piece, World, graph_of, query_of

from rollroute.search.find import find_route
from rollroute.search.retreat import retreat_ends


def street(*pieces: tuple[int, int, float, float, bool], refuges: list[int], goal: int) -> World:
    """Two-way pieces (from, to, seconds, watt-hours, unverified) that take 10 s more on the way back; start at node 0, charge for all."""
    both = []
    for u, v, seconds, wh, doubtful in pieces:
        k = len(both)
        both.append(Piece(u, v, seconds, 0.0, wh, 0.1 * doubtful, doubtful, back=k + 1))
        both.append(Piece(v, u, seconds + 10.0, 0.0, wh, 0.1 * doubtful, doubtful, back=k))
    world = World(1 + max(max(p.u, p.v) for p in both), both, 0, [goal], charge=1000.0, refuges=refuges)
    world.way_back = True
    return world


def ends(world: World) -> list[tuple[int, float]]:
    """The retreats of the best route."""
    graph, query = graph_of(world), query_of(world)
    return retreat_ends(graph, query, find_route(graph, query))


def test_back_over_the_piece_and_on_to_the_refuge():
    """0 -100 s- 1 =200 s= 2: at its far end after 300 s, back over it 210 s, back to the start 110 s: 620 s."""
    assert ends(street((0, 1, 100, 1, False), (1, 2, 200, 2, True), refuges=[0], goal=2)) == [(0, pytest.approx(620.0))]


def test_of_two_doubtful_pieces_each_has_its_own_retreat():
    """0 =100 s= 1 =200 s= 2: the first is found bad after 100 s and ends after 210 s, the second after 300 + 210 + 110 = 620 s."""
    found = ends(street((0, 1, 100, 1, True), (1, 2, 200, 2, True), refuges=[0], goal=2))
    assert found == [(0, pytest.approx(210.0)), (0, pytest.approx(620.0))]


def test_the_refuge_of_least_energy_is_taken_though_another_is_sooner():
    """From 1 the refuge 3 costs 1 Wh and 500 s, the start 5 Wh and 110 s: 300 + 210 + 500 = 1010 s. The contract's ``b`` is of energy."""
    found = ends(street((0, 1, 100, 5, False), (1, 2, 200, 2, True), (1, 3, 500, 1, False), refuges=[0, 3], goal=2))
    assert found == [(3, pytest.approx(1010.0))]


def test_where_nothing_is_asked_nobody_turns_back():
    world = street((0, 1, 100, 1, True), refuges=[0], goal=1)
    world.way_back = False
    assert ends(world) == []
    assert ends(street((0, 1, 100, 1, False), refuges=[0], goal=1)) == []
