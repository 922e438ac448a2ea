"""What is paid once for a map, and what is shared by many riders: the growth table, a change of chair, the matrix, agreement with peers."""

from __future__ import annotations

import gc
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from engine_city import City, make_city, with_doubts
from engine_peers import Agreement, Igraph, Networkx, Scipy
from engine_sets import pairs

from rollroute.network.storage import read_arrays, write_arrays
from rollroute.search.compiled.engine import Engine, engine_of, search
from rollroute.search.matrix import travel_matrix
from rollroute.search.problem import SearchGraph, SearchQuery

FIRST_USE = """
import sys
sys.path += [{here!r}]
from engine_first_use import first_use
first_use()
"""


def cpu(run: Callable[[], object]) -> float:
    """CPU seconds of one call."""
    gc.collect()
    begin = time.process_time()
    run()
    return time.process_time() - begin


def resident_mb() -> float:
    """Memory of this process now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1]) if Path("/proc/self/statm").exists() else 0
    return pages * resource.getpagesize() / 2**20


def once(k: int, *, with_networkx: bool = True) -> dict[str, float]:
    """All that is paid once, as CPU seconds or as ratios to scipy's one-to-all in between."""
    found: dict[str, float] = {}
    begin = time.process_time()
    city = make_city(k)
    found["make_city_cpu_s"] = time.process_time() - begin
    graph = city.graph
    search(make_city(1).graph, SearchQuery(0, (1,), 1e6))  # kernels are read from the cache
    peer = Scipy(graph)
    unit: list[float] = [peer.ask(i, 0) for i in range(3)]
    found |= {"nodes": float(graph.n_nodes), "edges": float(graph.is_passable.sum())}
    before = resident_mb()
    contract_s = cpu(engine_of(graph).ground)
    found["contract_cpu_s"] = contract_s
    found["kept_nodes"] = float(engine_of(graph).ground().skeleton.n_nodes)
    found["memory_of_engine_mb"] = resident_mb() - before
    change, same, shared, own, unit_more = _changes(graph, peer, city)
    unit += unit_more
    matrix_s, both_s, unit_more = _matrix(graph, peer)
    unit += unit_more
    one = float(np.median(unit))
    found["scipy_ms"] = 1000 * one
    found["contract_over_scipy"] = contract_s / one
    found["change_of_chair_over_scipy"] = change / one
    found["change_of_weights_over_scipy"] = same / one
    found["change_of_chair_with_way_back_over_scipy"] = shared / one
    found["change_of_chair_with_doubts_of_its_own_over_scipy"] = own / one
    found["matrix_500x20_over_scipy"] = both_s / one
    found["matrix_500x20_with_cost_over_scipy"] = matrix_s / one
    found |= _agreement(city, peer, with_networkx=with_networkx)
    found |= _load(graph)
    found["memory_peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return found


def _changes(graph: SearchGraph, peer: Scipy, city: City) -> tuple[float, float, float, float, list[float]]:
    """CPU seconds until another chair can be asked about, on a map where one has been asked about before.

    First with other passable edges and weights; then with other weights alone; then for questions with a way back, where a fifth of the
    pieces is unverified: with the same open questions for every chair (a kerb that nobody measured is a question for all), and with a
    hundredth of the pieces more in doubt for each chair alone, which keeps other nodes, so that a new shape has to be made.
    """
    rng = np.random.default_rng(3)
    took: dict[str, list[float]] = {"change": [], "same": [], "shared": [], "own": []}
    unit = []
    doubts = with_doubts(city)
    Engine(doubts).ground(by_kind=True)
    for i in range(5):
        heavier = graph.energy_wh * (1.1 + 0.01 * i)
        blocked = np.repeat(rng.random(graph.n_edges // 2) < 0.02, 2)
        more = np.repeat(rng.random(graph.n_edges // 2) < 0.01, 2)
        other = {"energy_wh": heavier, "time_s": graph.time_s * 1.2, "is_passable": graph.is_passable & ~blocked}
        for name, asked, by_kind in (
            ("change", replace(graph, **other), False),
            ("same", replace(graph, energy_wh=heavier), False),
            ("shared", replace(doubts, **other), True),
            ("own", replace(doubts, energy_wh=heavier, is_unverified=doubts.is_unverified | more), True),
        ):
            took[name].append(cpu(lambda asked=asked, by_kind=by_kind: Engine(asked).ground(by_kind=by_kind)))
        unit.append(peer.ask(i, 0))
    medians = [float(np.median(took[name])) for name in ("change", "same", "shared", "own")]
    return medians[0], medians[1], medians[2], medians[3], unit


def _matrix(graph: SearchGraph, peer: Scipy) -> tuple[float, float, list[float]]:
    """500 riders × 20 shelters: CPU seconds with cost, time and energy, and with time and energy alone."""
    rng = np.random.default_rng(7)
    riders = rng.choice(graph.n_nodes, 500, replace=False).tolist()
    shelters = rng.choice(graph.n_nodes, 20, replace=False).tolist()
    travel_matrix(graph, riders[:2], shelters[:1])
    three, two, unit = [], [], []
    for i in range(3):
        three.append(cpu(lambda: travel_matrix(graph, riders, shelters)))
        two.append(cpu(lambda: travel_matrix(graph, riders, shelters, weights=("time", "energy"))))
        unit.append(peer.ask(i, 0))
    return float(np.median(three)), float(np.median(two)), unit


def _agreement(city: City, peer: Scipy, *, with_networkx: bool) -> dict[str, float]:
    """Unconstrained costs against the peers, and how many times our CPU time the networkx script takes."""
    graph, rng = city.graph, np.random.default_rng(11)
    igraph = Igraph(graph)
    script = Networkx(graph) if with_networkx else None
    agreement = Agreement()
    ours, theirs = [], []
    for a, b in pairs(city, 12, rng):
        engine_of(graph).forget_goals()
        begin = time.process_time()
        cost = search(graph, SearchQuery(a, (b,), 1e9)).lower_bound_s
        ours.append(time.process_time() - begin)
        for name, other in (("scipy", peer), ("igraph", igraph), ("networkx", script)):
            if other is not None:
                took = other.ask(a, b)
                agreement.note(name, cost, other.cost)
                if name == "networkx":
                    theirs.append(took)
    found = {f"largest_difference_from_{name}": worst for name, worst in agreement.worst.items()}
    return found | ({"networkx_over_ours_unconstrained": float(np.median(theirs)) / float(np.median(ours))} if theirs else {})


def _load(graph: SearchGraph) -> dict[str, float]:
    """Opening the arrays of a graph by memory map as networks are kept, and from there to the first answer."""
    names = ("tail", "head", "time_s", "cost_s", "energy_wh", "surprisal", "is_passable", "is_unverified", "closes_s", "reverse")
    arrays = {name: getattr(graph, name) for name in names} | {"about": np.frombuffer(b'{"version": 1}', np.uint8)}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "graph.npz"
        save_s = cpu(lambda: write_arrays(path, arrays))
        open_s = cpu(lambda: read_arrays(path, version=1))
        begin = time.process_time()
        opened = SearchGraph(graph.n_nodes, **read_arrays(path, version=1)[0])
        search(opened, SearchQuery(int(graph.tail[0]), (int(graph.head[0]),), 1e6))
        first_s = time.process_time() - begin
        return {"file_mb": path.stat().st_size / 2**20, "save_cpu_s": save_s, "load_cpu_s": open_s, "load_and_first_answer_cpu_s": first_s}


def compile_seconds() -> float:
    """CPU seconds of the first use of every kernel with an empty cache, in a process of its own."""
    import os

    code = FIRST_USE.format(here=str(Path(__file__).parent))
    with tempfile.TemporaryDirectory() as cache:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", code], check=True, env={**os.environ, "NUMBA_CACHE_DIR": cache})
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
