"""Constrained answers on small cut-outs of the real extract equal brute force that shares no code with the search."""

from __future__ import annotations

import math

import numpy as np
import pytest
from brute_force import least_cost
from worlds import Outlet, Piece, World, graph_of, query_of

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions, parse_departure
from rollroute.network.network import Network
from rollroute.search.find import find_route
from rollroute.search.problem import ProvenNoRouteError
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

N_CUTOUTS = 60
N_NODES = 9


@pytest.fixture(scope="module")
def weights(helsinki: Network) -> EdgeWeights:
    chair = find_chair("en12184-b")
    drive = calibrate(chair)
    scenario = plan_scenario(chair, drive, parse_charge("90%", chair.gauge), temperature_c=18.0)
    conditions = Conditions(departure=parse_departure("2026-06-01T12:00+03:00", None), temperature_c=18.0)
    return weigh(helsinki, chair, drive, scenario.factors, conditions)


def _cutout(network: Network, weights: EdgeWeights, rng: np.random.Generator) -> World:
    """The pieces among a few neighbouring nodes with their real weights; start, goal, charge, outlet, refuge and closing are drawn."""
    start = int(rng.choice(network.edge_tail[weights.is_passable]))
    nodes = [start]
    for node in nodes:
        near = network.edge_head[(network.edge_tail == node) & weights.is_passable]
        nodes += [int(n) for n in dict.fromkeys(near.tolist()) if n not in nodes][: N_NODES - len(nodes)]
        if len(nodes) >= N_NODES:
            break
    number = {node: i for i, node in enumerate(nodes)}
    inside = [int(e) for e in np.flatnonzero(np.isin(network.edge_tail, nodes) & np.isin(network.edge_head, nodes))]
    place = {e: i for i, e in enumerate(inside)}
    pieces = [
        Piece(
            u=number[int(network.edge_tail[e])],
            v=number[int(network.edge_head[e])],
            time=float(weights.planned_time_s[e]),
            extra=float(weights.discomfort_s[e] + 900.0 * weights.surprisal[e]),
            energy=float(weights.planned_energy_wh[e]),
            doubt=float(weights.surprisal[e]),
            unverified=bool(weights.is_unverified[e]),
            passable=bool(weights.is_passable[e]),
            closes=math.inf if rng.random() < 0.8 else float(rng.uniform(10.0, 200.0)),
            back=place[e ^ 1],
        )
        for e in inside
    ]
    total = sum(p.energy for p in pieces) / 4
    return World(
        n=len(nodes),
        pieces=pieces,
        start=0,
        goals=[len(nodes) - 1],
        charge=float(rng.uniform(0.1, 1.0)) * total,
        capacity=3 * total,
        outlets=[Outlet(node=int(rng.integers(len(nodes))), stretches=[(1.5 * total, 20.0), (3 * total, 60.0)], setup=30.0)],
        refuges=[0, int(rng.integers(len(nodes)))],
        way_back=bool(rng.random() < 0.5),
    )


def test_cutouts_of_a_real_city_equal_brute_force(helsinki: Network, weights: EdgeWeights) -> None:
    """Charge, way back, closings and a socket together, on real topology and weights: equal costs, or both find no way."""
    rng = np.random.default_rng(20260601)
    n_found = 0
    for _ in range(N_CUTOUTS):
        world = _cutout(helsinki, weights, rng)
        expected = least_cost(world)
        try:
            found = find_route(graph_of(world), query_of(world)).cost_s
        except ProvenNoRouteError:
            found = math.inf
        assert found == pytest.approx(expected, rel=1e-6, abs=1e-6)
        n_found += math.isfinite(found)
    assert 10 < n_found < N_CUTOUTS  # both answers occur
