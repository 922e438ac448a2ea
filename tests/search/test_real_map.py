"""All rules at once on the whole real extract: the two solvers agree; every route is audited and played again, and each bad guess on it."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter

import numpy as np
import pytest
from replay import fail_one, replay
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from test_many_worlds import SOLVERS
from test_one_bad_guess import pieces_of
from worlds import Outlet, World, graph_of, query_of

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.network.network import Network
from rollroute.search.audit import audit
from rollroute.search.drive import drive
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import weigh

N_QUESTIONS = 16


@pytest.fixture(scope="module")
def city(helsinki: Network) -> World:
    """Central Helsinki for one chair, no question asked yet."""
    chair = find_chair("en12184-b")
    drive_of_chair = calibrate(chair)
    scenario = plan_scenario(chair, drive_of_chair, parse_charge("90%", chair.gauge), temperature_c=18.0)
    noon = dt.datetime(2026, 6, 1, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=3)))
    weights = weigh(helsinki, chair, drive_of_chair, scenario.factors, Conditions(departure=noon, temperature_c=18.0))
    return World(helsinki.n_nodes, pieces_of(helsinki, weights, "surest"), 0, [0], charge=1.0)


def ask(city: World, rng: np.random.Generator, nodes: np.ndarray) -> None:
    """Draw a question: outlets, refuges, closings of every twentieth piece, and a charge that may or may not be enough."""
    city.start = int(rng.choice(nodes))
    least_wh = _energy_from(city)
    near = np.flatnonzero((least_wh > 5.0) & (least_wh < 40.0))
    if len(near) < 50:  # a corner that this chair can't leave
        return ask(city, rng, nodes)
    city.goals = [int(v) for v in rng.choice(near, int(rng.integers(1, 3)), replace=False)]
    city.way_back = bool(rng.random() < 0.7)
    city.charge, city.reserve = float(rng.uniform(0.4, 2.0) * least_wh[city.goals].min()) + 2.0, 2.0
    city.capacity = max(city.charge, float(rng.uniform(30.0, 90.0)))
    reached = np.flatnonzero(least_wh < 0.9 * (city.charge - city.reserve))
    outlets = [int(v) for v in rng.choice(reached if len(reached) >= 6 else near, 6, replace=False)]
    curve = [(0.7 * city.capacity, 36.0), (0.9 * city.capacity, 60.0), (city.capacity, 120.0)]
    city.outlets = [Outlet(v, curve, setup=180.0, opens=float(rng.choice([0.0, 900.0]))) for v in outlets]
    city.refuges = [city.start, *outlets, *(int(v) for v in rng.choice(near, 10, replace=False))]
    city.latest = math.inf if rng.random() < 0.7 else float(rng.uniform(1500.0, 6000.0))
    for i in range(0, len(city.pieces), 2):
        closes = math.inf if rng.random() < 0.95 else float(rng.uniform(200.0, 5000.0))
        city.pieces[i].closes = city.pieces[i + 1].closes = closes
    return None


def _energy_from(city: World) -> np.ndarray:
    """Least energy from the start to every node, by scipy."""
    usable = [p for p in city.pieces if p.passable]
    arcs = ([p.energy + 1e-12 for p in usable], ([p.u for p in usable], [p.v for p in usable]))
    return np.asarray(dijkstra(coo_array(arcs, shape=(city.n, city.n)).tocsr(), indices=city.start))


def check(city: World, n: Counter[str]) -> None:
    """Both solvers on the question that was drawn; at a work limit only what they prove is compared."""
    graph, query = graph_of(city), query_of(city, work_limit=5_000)
    costs = []
    for name, solver in SOLVERS.items():
        verdict = solver(graph, query)
        if verdict.steps is None:
            n[f"{name}, none"] += verdict.is_proven
            costs += [math.inf] if verdict.is_proven else []
            continue
        route = drive(graph, query, verdict)
        assert audit(graph, query, route) == []
        assert replay(city, route).wrong == []
        n[f"{name}, routes"] += 1
        n["charged"] += bool(route.stop_uses)
        if city.way_back:
            found = fail_one(city, route)
            assert found.stranded == []
            n["bad guesses"] += found.n_played
        costs += [route.cost_s] if verdict.is_proven else []
    n["compared"] += len(costs) == 2
    assert len(costs) < 2 or costs[0] == costs[1] or abs(costs[0] - costs[1]) <= 1e-9 * costs[0]


def test_both_solvers_agree_on_a_real_map(city: World) -> None:
    """Charging, way back, closings, several goals and a latest arrival among 6500 nodes."""
    rng = np.random.default_rng(77)
    nodes = np.array(sorted({p.u for p in city.pieces if p.passable}))
    n: Counter[str] = Counter()
    for _ in range(N_QUESTIONS):
        ask(city, rng, nodes)
        check(city, n)
    assert n["compared"] >= 0.6 * N_QUESTIONS
    assert n["simple, routes"] >= 5
    assert n["simple, none"] >= 1
    assert n["charged"] >= 2
    assert n["bad guesses"] >= 100
