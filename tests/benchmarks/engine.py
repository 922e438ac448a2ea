"""How fast the search answers, as ratios to peers measured in the same run.

    python tests/benchmarks/engine.py --nodes 97000             print the table
    python tests/benchmarks/engine.py --nodes 860000 --check    the same, and exit 1 where a bar is missed
    python tests/benchmarks/engine.py --nodes 97000 --json out.json

One unit is the median of scipy's one-to-all Dijkstra on the full graph. The peers and the engine take turns, pair by pair, and all are
timed in CPU seconds of this process, so that a busy machine blurs the ratios little.
A question is timed as a user meets it: search, the route driven edge by edge, and the audit; where there is no way, the proof
(the explanation, which asks further questions, is not timed). Fields towards a goal are dropped before each question, except in "kept".
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from dataclasses import asdict, dataclass, field

sys.path.append(sys.path.pop(0))  # packages first: a script beside this one may bear the name of a package

import numpy as np
from engine_city import TILES
from engine_once import compile_seconds, once
from engine_peers import Igraph, Scipy
from engine_sets import QuestionSet, make_sets

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
    median_gap: float = 0.0
    largest_gap: float = 0.0
    undecided: int = 0
    labels_p99: float = 0.0
    scipy_ms: float = math.nan
    missed: list[str] = field(default_factory=list)


def answer(graph: SearchGraph, query: SearchQuery) -> tuple[float, object]:
    """CPU seconds and the route (``None``: proven that there is none; ``False``: undecided)."""
    begin = time.process_time()
    verdict = search(graph, query)
    if verdict.steps is None:
        return time.process_time() - begin, (None if verdict.is_proven else False)
    route = drive(graph, query, verdict)
    found = audit(graph, query, route)
    took = time.process_time() - begin
    if found:
        raise SystemExit(f"a route fails its audit: {found[:3]}")
    return took, route


def measure(questions: QuestionSet) -> Row:
    """Ask all questions of a set, each after one of scipy's and, where it has a bar, one of igraph's."""
    graph, peer = questions.graph, Scipy(questions.graph)
    other = Igraph(graph) if questions.bar_igraph_median is not None else None
    answer(graph, questions.queries[0])  # compile, contract, and the audit's own field
    took, kept, unit, theirs, routes = [], [], [], [], []
    for query in questions.queries:
        unit.append(peer.ask(query.start, query.goals[0]))
        if other is not None:
            theirs.append(other.ask(query.start, query.goals[0]))
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
        no_way=routes.count(None), with_gap=len(gaps), median_gap=float(np.median(gaps or [0.0])), largest_gap=max(gaps, default=0.0),
        undecided=routes.count(False),
        labels_p99=float(np.percentile([r.n_labels for r in real] or [0], 99)),  # type: ignore[attr-defined]
        scipy_ms=1000 * one,
    )  # fmt: skip
    if other is not None:
        row.igraph_median = float(np.median(took)) / float(np.median(theirs))
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
        ("undecided", 0.0 if questions.bar_p99 is not None and not questions.may_be_undecided else None, float(row.undecided)),
    ):
        if bar is not None and not value <= bar:
            row.missed.append(f"{what} {value:.3g} > {bar:g}")


def show(row: Row) -> None:
    """Print one row."""
    extra = f"  kept {row.kept_median:.3f}"
    if not math.isnan(row.igraph_median):
        extra += f"  /igraph {row.igraph_median:.3f}"
    if row.no_way or row.with_gap or row.undecided:
        gaps = f"median {100 * row.median_gap:.2f} %, largest {100 * row.largest_gap:.2f} %"
        extra += f"  no way {row.no_way}, with gap {row.with_gap} ({gaps}), undecided {row.undecided}"
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
        report["once"] = found = once(k, with_networkx=k <= 12)
        found["first_use_cpu_s"] = compile_seconds()
        for name, value in found.items():
            print(f"{name:40s} {value:.4g}", flush=True)
        changes = dict.fromkeys(("change_of_chair_over_scipy", "change_of_chair_with_way_back_over_scipy"), 1.0)
        bars = {**changes, "matrix_500x20_over_scipy": 10.0} if k == 12 else {}  # the size that the bars are stated for
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
