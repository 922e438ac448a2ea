"""The audit of every route: a right one has nothing to say against it, and of each rule and figure one that is broken is found."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from worlds import Outlet, Piece, World, graph_of, query_of

from rollroute.search.audit import audit
from rollroute.search.find import find_route
from rollroute.search.problem import Route, SearchGraph, SearchQuery

Case = tuple[SearchGraph, SearchQuery, Route]


def case() -> Case:
    """0 - 1 = 2 - 3: an outlet at 1 that opens after 200 s, a doubtful piece after it, a refuge at the start; it has to charge.

    By hand: arrive at 1 after 100 s with 12 − 4 = 8 Wh, wait 100 s, set up 30 s. Before the doubtful piece: 4 there, 4 back, 4 to the
    start, 1 reserve: 13 Wh, so 5 Wh more at 10 s each: 50 s. At the goal after 100 + 100 + 30 + 50 + 200 = 480 s with 13 − 8 = 5 Wh.
    """
    pieces = []
    for k, (u, v, doubtful) in enumerate([(0, 1, False), (1, 2, True), (2, 3, False)]):
        pieces.append(Piece(u, v, 100.0, 0.0, 4.0, 0.1 * doubtful, doubtful, closes=1000.0, back=2 * k + 1))
        pieces.append(Piece(v, u, 100.0, 0.0, 4.0, 0.1 * doubtful, doubtful, closes=1000.0, back=2 * k))
    world = World(
        4, pieces, 0, [3], charge=12.0, reserve=1.0, capacity=20.0, refuges=[0], way_back=True, latest=600.0, retreats_until=900.0
    )
    world.outlets = [Outlet(1, [(16.0, 10.0), (20.0, 20.0)], setup=30.0, opens=200.0, closes=500.0)]
    graph, query = graph_of(world), query_of(world)
    return graph, query, find_route(graph, query)


def test_a_right_route_has_nothing_against_it():
    graph, query, route = case()
    assert audit(graph, query, route) == []
    assert (route.time_s, route.charge_end_wh) == (pytest.approx(480.0), pytest.approx(5.0))


def _graph(name: str, edge: int, value: Any) -> Callable[[Case], Case]:
    def change(found: Case) -> Case:
        column = getattr(found[0], name).copy()
        column[edge] = value
        return dataclasses.replace(found[0], **{name: column}), found[1], found[2]

    return change


def _query(**changes: Any) -> Callable[[Case], Case]:
    return lambda found: (found[0], dataclasses.replace(found[1], **changes), found[2])


def _route(**changes: Any) -> Callable[[Case], Case]:
    return lambda found: (found[0], found[1], dataclasses.replace(found[2], **changes))


def _stop(**changes: Any) -> Callable[[Case], Case]:
    def change(found: Case) -> Case:
        return found[0], dataclasses.replace(found[1], stops=(dataclasses.replace(found[1].stops[0], **changes),)), found[2]

    return change


def _use(**changes: Any) -> Callable[[Case], Case]:
    def change(found: Case) -> Case:
        return found[0], found[1], dataclasses.replace(found[2], stop_uses=(dataclasses.replace(found[2].stop_uses[0], **changes),))

    return change


def _shifted(name: str) -> Callable[[Case], Case]:
    def change(found: Case) -> Case:
        column = getattr(found[2], name).copy()
        column[1] += 0.5
        return found[0], found[1], dataclasses.replace(found[2], **{name: column})

    return change


BROKEN = {
    "another start": (_query(start=1), "begins at node"),
    "another goal": (_query(goals=(2,)), "which is no goal"),
    "an edge nobody may drive": (_graph("is_passable", 2, False), "is not passable"),
    "an edge that closes before its far end": (_graph("closes_s", 4, 479.0), "closes at 479"),
    "later than the latest arrival": (_query(latest_arrival_s=479.0), "later than 479"),
    "under the reserve": (_query(reserve_wh=5.5), "under the reserve"),
    "sets off under the reserve": (_query(reserve_wh=12.5), "departs with"),
    "no refuge": (_query(refuges=(3,)), "unverified and the way back"),
    "the way back is dearer": (_graph("energy_wh", 3, 4.5), "0.5 Wh short"),
    "the way back closes too soon": (_query(retreats_until_s=1001.0), "inf Wh short"),
    "the way to the refuge is doubtful": (_graph("is_unverified", 1, True), "unverified and the way back"),
    "the outlet opens later": (_stop(opens_s=201.0), "before it opens"),
    "the outlet closes before": (_stop(closes_s=279.0), "after it closes"),
    "the outlet is elsewhere": (_stop(node=2), "the stop is at node 2"),
    "setting up takes longer": (_stop(setup_s=40.0), "set-up"),
    "the battery is full before": (_query(capacity_wh=12.5), "charge on leaving"),
    "a shorter charge than said": (_use(charge_s=40.0), "charge on leaving"),
    "a negative charge": (_use(charge_s=-1.0), "negative time"),
    "a stop after the end": (_use(before_edge=3), "after the last edge"),
    "times": (_shifted("time_after_s"), "time after edge"),
    "costs": (_shifted("cost_after_s"), "cost after edge"),
    "charges": (_shifted("charge_after_wh"), "charge after edge"),
    "retreats": (_shifted("retreat_wh"), "retreat after edge"),
    "the sum of time": (_route(time_s=470.0), "time: the route says 470"),
    "the sum of cost": (_route(cost_s=470.0), "cost: the route says 470"),
    "the sum of energy": (_route(energy_wh=11.0), "energy: the route says 11"),
    "the charge at the end": (_route(charge_end_wh=6.0), "charge at the end"),
    "the sum of doubt": (_route(surprisal=0.0), "surprisal"),
    "a bound above its own cost": (_route(lower_bound_s=500.0), "lower bound"),
    "edges and nodes that do not fit": (_route(nodes=np.array([0, 1, 2], np.int32)), "need 4 nodes"),
    "a jump": (_route(edges=np.array([0, 4, 2], np.int32)), "does not begin at node"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_each_broken_rule_and_figure_is_found(name: str):
    """An audit that says nothing is worth what it would say."""
    change, says = BROKEN[name]
    assert any(says in line for line in audit(*change(case()))), audit(*change(case()))
