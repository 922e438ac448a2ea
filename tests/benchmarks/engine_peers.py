"""The peers of the engine's benchmark on the same weights, each timed in CPU seconds of this process."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from rollroute.search.problem import SearchGraph


class Peer(Protocol):
    """Anything that answers a question without constraints."""

    def ask(self, start: int, goal: int) -> float:
        """CPU seconds of one question."""


class Scipy:
    """scipy's one-to-all Dijkstra: the unit of the table."""

    def __init__(self, graph: SearchGraph) -> None:
        from scipy.sparse import csr_array

        offsets, edges = graph.out_edges
        self.matrix = csr_array((graph.cost_s[edges], graph.head[edges], offsets), shape=(graph.n_nodes, graph.n_nodes))
        self.cost = np.inf

    def ask(self, start: int, goal: int) -> float:
        """CPU seconds; ``cost`` holds the answer."""
        from scipy.sparse.csgraph import dijkstra

        begin = time.process_time()
        found = dijkstra(self.matrix, indices=start)
        took = time.process_time() - begin
        self.cost = float(found[goal])
        return took


class Igraph:
    """igraph's one-to-one with its path (GPL: in benchmarks only)."""

    def __init__(self, graph: SearchGraph) -> None:
        import igraph

        self.edges = np.flatnonzero(graph.is_passable)
        self.peer = igraph.Graph(n=graph.n_nodes, edges=np.column_stack([graph.tail[self.edges], graph.head[self.edges]]), directed=True)
        self.weights = graph.cost_s[self.edges].tolist()
        self.cost_s = graph.cost_s
        self.cost = np.inf

    def ask(self, start: int, goal: int) -> float:
        """CPU seconds; ``cost`` holds the answer."""
        begin = time.process_time()
        path = self.peer.get_shortest_path(start, goal, weights=self.weights, output="epath")
        took = time.process_time() - begin
        self.cost = float(self.cost_s[self.edges[path]].sum())
        return took


class Networkx:
    """A practitioner's script: ``dijkstra_path`` over a ``DiGraph``."""

    def __init__(self, graph: SearchGraph) -> None:
        import networkx as nx

        self.peer = nx.DiGraph()
        edges = np.flatnonzero(graph.is_passable)
        edges = edges[np.argsort(-graph.cost_s[edges], kind="stable")]  # of parallel edges the cheapest stays
        self.peer.add_weighted_edges_from(
            zip(graph.tail[edges].tolist(), graph.head[edges].tolist(), graph.cost_s[edges].tolist(), strict=True)
        )
        self.cost = np.inf

    def ask(self, start: int, goal: int) -> float:
        """CPU seconds; ``cost`` holds the answer."""
        import networkx as nx

        begin = time.process_time()
        path = nx.dijkstra_path(self.peer, start, goal)
        took = time.process_time() - begin
        self.cost = float(nx.path_weight(self.peer, path, "weight"))
        return took


@dataclass
class Agreement:
    """The largest relative difference of a peer's costs from ours."""

    worst: dict[str, float] = field(default_factory=dict)

    def note(self, name: str, ours: float, theirs: float) -> None:
        """Compare one cost."""
        self.worst[name] = max(self.worst.get(name, 0.0), abs(ours - theirs) / max(abs(theirs), 1.0))
