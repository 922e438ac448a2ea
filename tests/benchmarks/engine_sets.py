"""The sets of questions of the engine's benchmark. Everything is drawn from a seed, and pairs are reachable."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from engine_city import City, make_city, with_doubts

from rollroute.search.compiled.battery import cheapest_way, thriftiest_way
from rollroute.search.compiled.engine import engine_of
from rollroute.search.compiled.towards import Towards, Trip
from rollroute.search.problem import ChargeCurve, ChargingStop, SearchGraph, SearchQuery

WORK_LIMIT = 120_000  # labels, on the sets with stops
WORK_LIMIT_WAY_BACK = 100_000  # a proof that there is no way can take ten times as many
CURVE = ChargeCurve((0.0, 3.2 * 3600, 3.9 * 3600, 5.0 * 3600), (0.0, 320.0, 368.0, 400.0))  # 100 W to a knee at 80 %, then a taper


@dataclass
class QuestionSet:
    """Questions on one graph, and the bar for them as ratios to scipy's one-to-all."""

    name: str
    graph: SearchGraph
    queries: list[SearchQuery]
    bar_median: float | None = None
    bar_p99: float | None = None
    bar_kept_median: float | None = None
    bar_igraph_median: float | None = None
    may_have_gap: float = 0.0  # the largest gap that counts as answered
    may_be_undecided: bool = False  # neither a route nor a proof at the limit: counted and printed, not barred
    notes: list[str] = field(default_factory=list)


def pairs(city: City, n: int, rng: np.random.Generator, low_m: float = 500.0, high_m: float = 9000.0) -> list[tuple[int, int]]:
    """Pairs of nodes whose distance as the crow flies is uniform between ``low_m`` and ``high_m`` (or the size of the map)."""
    high_m = min(high_m, 0.8 * float(np.hypot(np.ptp(city.x_m), np.ptp(city.y_m))))
    found = []
    while len(found) < n:
        a = int(rng.integers(city.graph.n_nodes))
        wanted, angle = rng.uniform(low_m, high_m), rng.uniform(0, 2 * np.pi)
        away = np.hypot(city.x_m - city.x_m[a] - wanted * np.cos(angle), city.y_m - city.y_m[a] - wanted * np.sin(angle))
        b = int(away.argmin())
        if a != b and away[b] < 100.0:
            found.append((a, b))
    return found


def energies(graph: SearchGraph, start: int, goal: int) -> tuple[float, float]:
    """Least energy, and the energy of the cheapest way."""
    trip = Trip(Towards(engine_of(graph).ground(), (goal,)), start)
    least, cheapest = thriftiest_way(trip, np.inf), cheapest_way(trip)
    assert least is not None
    assert cheapest is not None
    return least.energy, cheapest.energy


def make_sets(k: int, n: int, seed: int) -> Iterator[QuestionSet]:
    """The sets of the issue, each with its bar on the size that the bar is stated for."""
    city = make_city(k)
    rng = np.random.default_rng(seed)
    big, middle = k >= 12, k == 4
    mix = [SearchQuery(a, (b,), float(rng.uniform(60, 600))) for a, b in pairs(city, n, rng)]
    yield QuestionSet("realistic mix", city.graph, mix, *((0.08, 1.5, 0.01) if big else (None, None, None)))
    for tight in (0.9, 0.5, 0.2, 0.05):
        queries = []
        for a, b in pairs(city, n, rng):
            least, cheap = energies(city.graph, a, b)
            queries.append(SearchQuery(a, (b,), least + tight * (cheap - least)))
        bar = (0.25, 2.0, None, 0.3) if big else (None, None, None, None)
        yield QuestionSet(f"tight battery {tight}", city.graph, queries, *bar)
    if k > 4:
        return
    odd = make_city(k, uncorrelated=True)
    for tight in (0.5, 0.2):
        queries = []
        for a, b in pairs(odd, n, rng):
            least, cheap = energies(odd.graph, a, b)
            queries.append(SearchQuery(a, (b,), least + tight * (cheap - least)))
        yield QuestionSet(f"energy uncorrelated {tight}", odd.graph, queries, None, 8.0 if middle else None)
    yield from _charging(city, n, rng, middle)
    yield from _way_back(city, n, rng, middle)


def _charging(city: City, n: int, rng: np.random.Generator, middle: bool) -> Iterator[QuestionSet]:
    nodes = rng.choice(city.graph.n_nodes, 30, replace=False)
    stops = tuple(ChargingStop(int(v), CURVE, setup_s=120.0) for v in nodes)
    for share in (0.3, 0.6, 1.0):
        queries = []
        for a, b in pairs(city, n, rng):
            least, _ = energies(city.graph, a, b)
            queries.append(SearchQuery(a, (b,), share * least, capacity_wh=400.0, stops=stops, work_limit=WORK_LIMIT))
        bar = (1.0, 30.0) if middle else (None, None)
        yield QuestionSet(f"30 stops, charge {share}", city.graph, queries, *bar, may_have_gap=0.01)


def _way_back(city: City, n: int, rng: np.random.Generator, middle: bool) -> Iterator[QuestionSet]:
    graph = with_doubts(city)
    refuges = tuple(int(v) for v in rng.choice(graph.n_nodes, 10, replace=False))
    base = []
    for a, b in pairs(city, n, rng):
        least, _ = energies(graph, a, b)
        base.append(
            SearchQuery(
                a, (b,), float(rng.uniform(1.05, 3.0)) * least, refuges=refuges, needs_way_back=True, work_limit=WORK_LIMIT_WAY_BACK
            )
        )
    bar = (1.0, 30.0) if middle else (None, None)
    yield QuestionSet("way back", graph, base, *bar, may_have_gap=1.0, may_be_undecided=True)
    closes = np.full(graph.n_edges, np.inf)
    x, y = city.x_m[graph.head], city.y_m[graph.head]
    for _ in range(12):  # round areas that close between half an hour and three hours after departure
        cx, cy, r = rng.uniform(0, city.x_m.max()), rng.uniform(0, city.y_m.max()), rng.uniform(200, 600)
        inside = np.hypot(x - cx, y - cy) < r
        closes[inside] = np.minimum(closes[inside], rng.uniform(1800, 3 * 3600))
    closing = replace(graph, closes_s=closes)
    yield QuestionSet("way back and closings", closing, base, *bar, may_have_gap=1.0, may_be_undecided=True)
