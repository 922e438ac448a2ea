"""Costs without constraints against scipy, networkx and igraph on the real extract, by both solvers.

    python tests/benchmarks/unconstrained.py [--check]      --check exits 1 where a relative difference is over 1e-9

igraph is GPL: it is measured against here and imported nowhere else.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "search"))

from helsinki import helsinki_pbf
from test_unconstrained import CLOSE, Peer, cheapest_arcs, graph_for, largest_difference, networkx_peer, scipy_peer

from rollroute.assembly import build_from_files
from rollroute.search.problem import SearchGraph

CASES = [("en12184-c", "quickest"), ("en12184-b", "gentlest"), ("en12184-a", "surest")]


def igraph_peer(graph: SearchGraph) -> Peer:
    """Distances of igraph."""
    import igraph

    arcs = cheapest_arcs(graph)
    peer = igraph.Graph(n=graph.n_nodes, edges=list(arcs), directed=True)
    weights = list(arcs.values())

    def ask(start: int, goals: Sequence[int]) -> list[float]:
        return [float(c) for c in peer.distances(source=start, target=list(goals), weights=weights)[0]]

    return ask


def main() -> int:
    """Ask, print, check."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--starts", type=int, default=20)
    asked = parser.parse_args()
    network = build_from_files(helsinki_pbf())
    print(f"{network.n_nodes} nodes, {network.n_pieces} pieces\n")
    print("| chair, preference | peer | pairs with a way | without | largest relative difference |\n|---|---|---:|---:|---:|")
    worst_of_all = 0.0
    for chair, preference in CASES:
        graph = graph_for(network, chair, preference)
        for name, make in (("scipy", scipy_peer), ("networkx", networkx_peer), ("igraph", igraph_peer)):
            worst, n_ways, n_none = largest_difference(graph, make(graph), starts=asked.starts, goals=10, seed=7)
            print(f"| {chair}, {preference} | {name} | {n_ways} | {n_none} | {worst:.1e} |", flush=True)
            worst_of_all = np.fmax(worst_of_all, worst)
    return 1 if asked.check and not (math.isfinite(worst_of_all) and worst_of_all <= CLOSE) else 0


if __name__ == "__main__":
    sys.exit(main())
