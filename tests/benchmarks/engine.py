"""How fast the search answers, as ratios to peers measured in the same run.

    python tests/benchmarks/engine.py --nodes 97000             print the table
    python tests/benchmarks/engine.py --nodes 860000 --check    the same, and exit 1 where a bar is missed
    python tests/benchmarks/engine.py --nodes 97000 --json out.json

One unit is the median of scipy's one-to-all Dijkstra on the full graph, run between the questions of the same set.
A question is timed as a user meets it: search, the route driven edge by edge, and the audit; where there is no way, the proof
(the explanation, which asks further questions, is not timed). Fields towards a goal are dropped before each question, except in "kept".
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field

import numpy as np
from engine_city import TILES, make_city
from engine_sets import QuestionSet, make_sets, pairs

from rollroute.search.audit import audit
from rollroute.search.compiled.engine import engine_of, search
from rollroute.search.drive import drive
from rollroute.search.problem import SearchGraph, SearchQuery


@dataclass
class Row:
    """One line of the table; ratios to scipy's one-to-all."""

    name: str
    n: int
    median: float
    p90: float
    p99: float
    worst: float
    kept_median: float = math.nan
    igraph_median: float = math.nan
    no_way: int = 0
    with_gap: int = 0
    largest_gap: float = 0.0
    undecided: int = 0
    labels_p99: float = 0.0
    scipy_ms: float = math.nan
    missed: list[str] = field(default_factory=list)


class Scipy:
    """scipy's one-to-all on a graph."""

    def __init__(self, graph: SearchGraph) -> None:
        from scipy.sparse import csr_array

        offsets, edges = graph.out_edges
        self.matrix = csr_array((graph.cost_s[edges], graph.head[edges], offsets), shape=(graph.n_nodes, graph.n_nodes))

    def one_to_all(self, start: int) -> float:
        """Seconds of one run."""
        from scipy.sparse.csgraph import dijkstra

        begin = time.perf_counter()
        dijkstra(self.matrix, indices=start)
        return time.perf_counter() - begin


def answer(graph: SearchGraph, query: SearchQuery) -> tuple[float, object]:
    """Seconds and the route (``None``: proven that there is none; ``False``: undecided)."""
    begin = time.perf_counter()
    verdict = search(graph, query)
    if verdict.steps is None:
        return time.perf_counter() - begin, (None if verdict.is_proven else False)
    route = drive(graph, query, verdict)
    found = audit(graph, query, route)
    took = time.perf_counter() - begin
    if found:
        raise SystemExit(f"a route fails its audit: {found[:3]}")
    return took, route


def measure(questions: QuestionSet) -> Row:
    """Ask all questions of a set."""
    graph, peer = questions.graph, Scipy(questions.graph)
    answer(graph, questions.queries[0])  # compile, contract, and the audit's own field
    took, kept, unit, routes = [], [], [], []
    for i, query in enumerate(questions.queries):
        if i % 8 == 0:
            unit.append(peer.one_to_all(query.start))
        engine_of(graph).forget_goals()
        seconds, route = answer(graph, query)
        took.append(seconds)
        routes.append(route)
        kept.append(answer(graph, query)[0])
    one = float(np.median(unit))
    ratio = np.array(took) / one
    real = [r for r in routes if r is not None and r is not False]
    gaps = [r.gap for r in real if not r.is_proven]  # type: ignore[attr-defined]
    row = Row(
        questions.name, len(took), *(float(np.percentile(ratio, p)) for p in (50, 90, 99, 100)),
        kept_median=float(np.median(kept)) / one,
        no_way=routes.count(None), with_gap=len(gaps), largest_gap=max(gaps, default=0.0), undecided=routes.count(False),
        labels_p99=float(np.percentile([r.n_labels for r in real] or [0], 99)),  # type: ignore[attr-defined]
        scipy_ms=1000 * one,
    )  # fmt: skip
    if questions.bar_igraph_median is not None:
        row.igraph_median = float(np.median(took)) / igraph_one_to_one(graph, questions.queries[:30])
    judge(row, questions)
    return row


def judge(row: Row, questions: QuestionSet) -> None:
    """Note the bars that are missed."""
    for what, bar, value in (
        ("median", questions.bar_median, row.median),
        ("p99", questions.bar_p99, row.p99),
        ("median with fields kept", questions.bar_kept_median, row.kept_median),
        ("median against igraph", questions.bar_igraph_median, row.igraph_median),
        ("largest gap", questions.may_have_gap if questions.bar_p99 is not None else None, row.largest_gap),
        ("undecided", 0.0 if questions.bar_p99 is not None else None, float(row.undecided)),
    ):
        if bar is not None and not value <= bar:
            row.missed.append(f"{what} {value:.3g} > {bar:g}")


def igraph_one_to_one(graph: SearchGraph, queries: list[SearchQuery]) -> float:
    """Median seconds of igraph's unconstrained one-to-one with its path."""
    import igraph

    edges = np.flatnonzero(graph.is_passable)
    peer = igraph.Graph(n=graph.n_nodes, edges=np.column_stack([graph.tail[edges], graph.head[edges]]), directed=True)
    weights = graph.cost_s[edges].tolist()
    took = []
    for query in queries:
        begin = time.perf_counter()
        peer.get_shortest_path(query.start, query.goals[0], weights=weights, output="epath")
        took.append(time.perf_counter() - begin)
    return float(np.median(took))


def networkx_one_to_one(graph: SearchGraph, queries: list[SearchQuery]) -> tuple[float, float]:
    """Median seconds of ``dijkstra_path`` on the same weights, and the largest difference of cost from ours."""
    import networkx as nx

    peer = nx.DiGraph()
    edges = np.flatnonzero(graph.is_passable)
    peer.add_weighted_edges_from(zip(graph.tail[edges].tolist(), graph.head[edges].tolist(), graph.cost_s[edges].tolist(), strict=True))
    took, worst = [], 0.0
    for query in queries:
        begin = time.perf_counter()
        cost, _ = nx.single_source_dijkstra(peer, query.start, query.goals[0])
        took.append(time.perf_counter() - begin)
        ours = search(graph, SearchQuery(query.start, query.goals, 1e9)).lower_bound_s
        worst = max(worst, abs(ours - cost) / max(cost, 1.0))
    return float(np.median(took)), worst


FIRST_USE = """
import sys, time
sys.path[:0] = [{here!r}]
from engine_first_use import first_use
first_use()
"""


def once(k: int) -> dict[str, float]:
    """What is paid once: build, change of chair, memory; the matrix; the networkx script."""
    begin = time.perf_counter()
    city = make_city(k)
    made = time.perf_counter() - begin
    graph, peer = city.graph, Scipy(city.graph)
    one = float(np.median([peer.one_to_all(i) for i in range(9)]))
    found = {"nodes": float(graph.n_nodes), "edges": float(graph.is_passable.sum()), "scipy_ms": 1000 * one, "city_s": made}
    engine = engine_of(graph)
    begin = time.perf_counter()
    engine.ground()
    found["contract_over_scipy"] = (time.perf_counter() - begin) / one
    rng = np.random.default_rng(7)
    questions = [SearchQuery(a, (b,), 1e6) for a, b in pairs(city, 10, rng)]
    changes = []
    for i in range(5):
        begin = time.perf_counter()
        other = engine.reweighed(graph.time_s * (1 + 0.01 * i), graph.cost_s * (1 + 0.01 * i), graph.energy_wh * 1.1)
        changes.append(time.perf_counter() - begin)
    search(other, questions[0])
    found["change_of_chair_over_scipy"] = float(np.median(changes)) / one
    from rollroute.search.matrix import travel_matrix

    riders = rng.choice(graph.n_nodes, 500, replace=False).tolist()
    shelters = rng.choice(graph.n_nodes, 20, replace=False).tolist()
    travel_matrix(graph, riders[:2], shelters[:1])
    begin = time.perf_counter()
    travel_matrix(graph, riders, shelters)
    found["matrix_500x20_over_scipy"] = (time.perf_counter() - begin) / one
    if k <= 4:
        nx_s, worst = networkx_one_to_one(graph, questions)
        ours = []
        for q in questions:
            engine_of(graph).forget_goals()
            ours.append(answer(graph, q)[0])
        found["networkx_over_ours"] = nx_s / float(np.median(ours))
        found["networkx_largest_relative_difference"] = worst
    found["memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return found


def compile_seconds() -> float:
    """CPU seconds of the first use of every kernel with an empty cache, in a process of its own."""
    code = FIRST_USE.format(here=str(__import__("pathlib").Path(__file__).parent))
    with tempfile.TemporaryDirectory() as cache:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", code], check=True, env={**__import__("os").environ, "NUMBA_CACHE_DIR": cache})
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def show(row: Row) -> None:
    """Print one row."""
    extra = f"  kept {row.kept_median:.3f}"
    if not math.isnan(row.igraph_median):
        extra += f"  /igraph {row.igraph_median:.3f}"
    if row.no_way or row.with_gap or row.undecided:
        extra += f"  no way {row.no_way}, with gap {row.with_gap} (largest {100 * row.largest_gap:.2f} %), undecided {row.undecided}"
    print(
        f"{row.name:28s} n {row.n:3d}  median {row.median:7.3f}  p90 {row.p90:7.2f}  p99 {row.p99:7.2f}  worst {row.worst:7.2f}"
        f"  labels p99 {row.labels_p99:9.0f}  scipy {row.scipy_ms:6.1f} ms{extra}"
        + ("   MISSED: " + "; ".join(row.missed) if row.missed else ""),
        flush=True,
    )


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--nodes", type=int, default=97_000, help=f"about how many nodes: {', '.join(map(str, TILES))}")
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="only sets whose name contains this")
    parser.add_argument("--json", default="")
    parser.add_argument("--check", action="store_true", help="exit 1 where a bar is missed")
    options = parser.parse_args()
    k = TILES[min(TILES, key=lambda nodes: abs(nodes - options.nodes))]
    report: dict[str, object] = {"tiles": k, "seed": options.seed}
    missed = []
    if not options.only:
        report["once"] = found = once(k)
        found["first_use_cpu_s"] = compile_seconds()
        for name, value in found.items():
            print(f"{name:40s} {value:.4g}", flush=True)
        bars = {"change_of_chair_over_scipy": 1.0, "matrix_500x20_over_scipy": 10.0} if k >= 12 else {}
        missed += [name for name, bar in {**bars, "first_use_cpu_s": 15.0}.items() if found[name] > bar]
    rows = []
    for questions in make_sets(k, options.pairs, options.seed):
        if options.only in questions.name:
            rows.append(measure(questions))
            show(rows[-1])
            missed += [f"{rows[-1].name}: {m}" for m in rows[-1].missed]
    report["rows"] = [asdict(row) for row in rows]
    if options.json:
        with open(options.json, "w") as out:
            json.dump(report, out, indent=1)
    print("missed: " + ("; ".join(missed) or "nothing"))
    return 1 if options.check and missed else 0


if __name__ == "__main__":
    sys.exit(main())
