"""Cutting pieces at random points changes neither cost, energy, doubt nor verdict: maps cut ways where editors happened to click."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_many_worlds import KINDS, SOLVERS
from worlds import Piece, World, graph_of, query_of, random_town, random_world

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.conditions import Conditions
from rollroute.journey import PREFERENCES, search_graph
from rollroute.network.attach import split_piece
from rollroute.network.kinds import JOINABLE_KINDS
from rollroute.network.network import Network
from rollroute.search.drive import drive
from rollroute.search.problem import Route, SearchQuery, Verdict
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import plan_scenario
from rollroute.weights.weigh import EdgeWeights, weigh

NOON = dt.datetime(2026, 6, 1, 12, 0, tzinfo=dt.UTC)
N_CUTS = 150


def cut(world: World, rng: random.Random, n_cuts: int) -> World:
    """``world`` with random pieces cut in two, both directions at the same point; a piece may be cut again."""
    pieces, n = [replace(p) for p in world.pieces], world.n
    for _ in range(n_cuts):
        i = rng.randrange(len(pieces))
        j, share, k = pieces[i].back, rng.uniform(0.02, 0.98), len(pieces)
        there, back = pieces[i], pieces[j]
        pieces[i] = _part(there, share, v=n, back=k + 1)
        pieces[j] = _part(back, 1.0 - share, v=n, back=k)
        pieces.append(_part(there, 1.0 - share, u=n, back=j))  # from the cut on
        pieces.append(_part(back, share, u=n, back=i))
        n += 1
    return replace(world, n=n, pieces=pieces)


def _part(piece: Piece, share: float, **ends: int) -> Piece:
    scaled = {name: getattr(piece, name) * share for name in ("time", "extra", "energy", "doubt")}
    return replace(piece, **scaled, **ends)  # type: ignore[arg-type]


def solved(world: World, name: str) -> Route | None:
    verdict: Verdict = SOLVERS[name](graph_of(world), query_of(world))
    assert verdict.is_proven
    return None if verdict.steps is None else drive(graph_of(world), query_of(world), verdict)


def check_same(whole: Route | None, parts: Route | None) -> None:
    """The same verdict, and the same route by its figures."""
    assert (whole is None) == (parts is None)
    if whole is not None and parts is not None:
        for name in ("cost_s", "time_s", "energy_wh", "charge_end_wh", "surprisal"):
            assert getattr(parts, name) == pytest.approx(getattr(whole, name), rel=1e-9, abs=1e-9), name


@pytest.mark.parametrize("kind", KINDS)
def test_cutting_edges_of_a_search_graph_changes_nothing(kind: tuple[bool, bool, bool]) -> None:
    """Charging, way back and closings: the retreat carried along adds up over the parts as the contract's proof says."""
    charging, way_back, closings = kind
    n: Counter[bool] = Counter()
    for seed in range(40):
        rng = random.Random(seed)
        make = random_town if seed % 2 else random_world
        world = make(seed, charging=charging, way_back=way_back, closings=closings)
        name = "compiled" if seed % 4 < 2 else "simple"
        whole, parts = solved(world, name), solved(cut(world, rng, rng.randint(1, 12)), name)
        check_same(whole, parts)
        n[whole is not None] += 1
    assert n[True] >= 8
    assert n[False] >= 2


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9), st.sampled_from(KINDS), st.integers(1, 15))
def test_cutting_edges_of_any_world_changes_nothing(seed: int, kind: tuple[bool, bool, bool], n_cuts: int) -> None:
    """The same on worlds that hypothesis picks."""
    charging, way_back, closings = kind
    world = random_world(seed, charging=charging, way_back=way_back, closings=closings)
    check_same(solved(world, "simple"), solved(cut(world, random.Random(seed), n_cuts), "simple"))


def cut_network(network: Network, rng: np.random.Generator) -> tuple[Network, list[list[tuple[int, int]]]]:
    """The network with pieces cut at random points; for each piece that was cut its directed parts in order, (there, back).

    Half of them have a kerb, door, gate or bend at an end. Lifts and stairs are left whole: nothing is ever joined to them in between.
    """
    joinable = np.isin(network.pieces.kind, [int(k) for k in JOINABLE_KINDS])
    with_places = np.flatnonzero(joinable & np.isin(np.arange(network.n_pieces), network.incidence.piece))
    chosen = rng.choice(with_places, N_CUTS // 2, replace=False).tolist()
    chosen += rng.choice(np.setdiff1d(np.flatnonzero(joinable), chosen), N_CUTS - len(chosen), replace=False).tolist()
    parts: dict[int, list[int]] = {}
    for piece in chosen:
        n_before = network.n_pieces
        network, _ = split_piece(network, piece, float(rng.uniform(0.02, 0.98)))
        if network.n_pieces > n_before:
            parts[piece] = [piece, n_before]
            network, _ = split_piece(network, n_before, float(rng.uniform(0.1, 0.9)))  # and once more, beyond the first cut
            parts[piece] += [n_before + 1] if network.n_pieces > n_before + 1 else []
    return network, [[(2 * p, 2 * p + 1) for p in row] for row in parts.values()]


CASES = [
    ("en12184-b", None, {}),
    ("en12184-c", None, {"is_wet": True, "is_dark": True}),
    ("us-group2", "ada-2010", {"has_mains": False}),
    ("en12184-a", "prowag-2023", {"after_storm": True}),
]


@pytest.mark.parametrize(("name", "standard", "weather"), CASES)
def test_cutting_pieces_of_the_town_changes_no_weight_and_no_route(
    quillhaven: Network, name: str, standard: str | None, weather: dict[str, bool]
) -> None:
    """Time, energy, doubt and discomfort of the parts add up to the whole's; reasons and questions are the same; so are routes."""
    rng = np.random.default_rng(5)
    network, rows = cut_network(quillhaven, rng)
    assert len(rows) >= N_CUTS // 2
    whole, parts = (_weights(n, name, standard, weather) for n in (quillhaven, network))
    for row in rows:
        _check_weights(whole, parts, row)
    untouched = np.setdiff1d(np.arange(2 * quillhaven.n_pieces), [e for row in rows for pair in row for e in pair])
    assert np.array_equal(whole.reasons[untouched], parts.reasons[untouched])
    assert whole.planned_energy_wh[untouched] == pytest.approx(parts.planned_energy_wh[untouched], rel=1e-12)
    _check_routes(quillhaven, whole, network, parts, rng)


def _weights(network: Network, name: str, standard: str | None, weather: dict[str, bool]) -> EdgeWeights:
    chair = find_chair(name)
    drive_of_chair = calibrate(chair)
    scenario = plan_scenario(chair, drive_of_chair, parse_charge("full", chair.gauge), temperature_c=18.0)
    rules = None if standard is None else Weighing(standard=load_standard(standard))
    conditions = Conditions(departure=NOON, temperature_c=18.0, **weather)
    return weigh(network, chair, drive_of_chair, scenario.factors, conditions, rules=rules)


def _check_weights(whole: EdgeWeights, parts: EdgeWeights, row: list[tuple[int, int]]) -> None:
    for way in (0, 1):
        e, split = row[0][way], [pair[way] for pair in row]
        assert np.bitwise_or.reduce(parts.reasons[split]) == whole.reasons[e]
        assert np.bitwise_or.reduce(parts.questions[split]) == whole.questions[e]
        assert parts.closes_s[split].min() == whole.closes_s[e]
        for name in ("surprisal", "time_s", "planned_time_s", "energy_wh", "planned_energy_wh", "discomfort_s"):
            assert getattr(parts, name)[split].sum() == pytest.approx(getattr(whole, name)[e], rel=1e-9, abs=1e-9), name


def _check_routes(one: Network, whole: EdgeWeights, two: Network, parts: EdgeWeights, rng: np.random.Generator) -> None:
    """Random pairs under the way-back rule, with a charge that is sometimes too small."""
    graphs = [search_graph(n, w, PREFERENCES["surest"]) for n, w in ((one, whole), (two, parts))]
    answered: Counter[bool] = Counter()
    ends = one.edge_tail[np.flatnonzero(whole.is_passable)]
    for _ in range(25):
        start, goal, refuge = (int(v) for v in rng.choice(ends, 3))
        query = SearchQuery(start, (goal,), float(rng.uniform(5, 150)), refuges=(start, goal, refuge), needs_way_back=True)
        verdicts = [SOLVERS["compiled"](graph, query) for graph in graphs]
        routes = [None if v.steps is None else drive(g, query, v) for g, v in zip(graphs, verdicts, strict=True)]
        check_same(routes[0], routes[1])
        answered[routes[0] is not None] += 1
    assert answered[True] >= 3
    assert answered[False] >= 3
