"""Distance fields by scipy's Dijkstra: what is left from every node to a set of nodes.

Used by the solver without compilation, by the route's own arithmetic and by the explanations; never by ``audit``.
"""

from __future__ import annotations

import math
import weakref
from collections.abc import Sequence

import numpy as np

from rollroute.search.problem import Bools, Floats, SearchGraph, SearchQuery

_RETREATS: weakref.WeakKeyDictionary[SearchGraph, dict[tuple[tuple[int, ...], float], Floats]] = weakref.WeakKeyDictionary()
_BACKS: weakref.WeakKeyDictionary[SearchGraph, dict[float, Floats]] = weakref.WeakKeyDictionary()
_RETREATS_KEPT = 8  # fields of one float for each node; a plan has few sets of refuges


def distance_to(
    graph: SearchGraph, weight: Floats, seeds: Sequence[int], *, offsets: Sequence[float] | None = None, usable: Bools | None = None
) -> Floats:
    """Least sum of ``weight`` from every node to any of ``seeds``, plus that seed's offset; inf where there is no way.

    weight : (n_edges,) float64, >= 0 on usable edges; usable : (n_edges,) bool, the passable edges if not provided.
    Cost: one Dijkstra, O((E + N) log N).
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    keep = np.flatnonzero(graph.is_passable if usable is None else usable)
    n = graph.n_nodes
    nodes = np.asarray(seeds, np.int64)
    offset = np.zeros(len(nodes)) if offsets is None else np.asarray(offsets, float)
    # Edges are turned around, and one more node reaches every seed at its offset. Explicit zeros are edges of weight 0 in this form.
    row = np.concatenate([graph.head[keep], np.full(len(nodes), n)])
    column = np.concatenate([graph.tail[keep], nodes])
    data = np.concatenate([weight[keep], offset])
    order = np.argsort(row, kind="stable")
    starts = np.zeros(n + 2, np.int32)
    np.cumsum(np.bincount(row, minlength=n + 1), out=starts[1:])
    turned = csr_array((data[order], column[order].astype(np.int32), starts), shape=(n + 1, n + 1))
    found: Floats = dijkstra(turned, indices=n)[:n]
    return found


def retreat_field(graph: SearchGraph, query: SearchQuery) -> Floats:
    """``r(v)``: energy from every node to the nearest refuge over edges that are clear and open to the end of the plan (kept per graph)."""
    kept = _RETREATS.setdefault(graph, {})
    key = (query.refuges, query.retreats_until_s)
    field = kept.get(key)
    if field is None:
        usable = graph.is_passable & ~graph.is_unverified & (graph.closes_s >= query.retreats_until_s)
        empty = np.full(graph.n_nodes, math.inf)
        field = distance_to(graph, graph.energy_wh, query.refuges, usable=usable) if query.refuges else empty
        while len(kept) >= _RETREATS_KEPT:
            kept.pop(next(iter(kept)), None)
        kept[key] = field
    return field


def back_field(graph: SearchGraph, open_until_s: float) -> Floats:
    """``SearchGraph.back_wh``, kept per graph."""
    kept = _BACKS.setdefault(graph, {})
    field = kept.get(open_until_s)
    if field is None:
        field = graph.back_wh(open_until_s)
        kept.clear()
        kept[open_until_s] = field
    return field
