"""The ways back of a route: which refuge each node turns to, and by when anybody who turned back is there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.search.problem import Floats, Route, SearchGraph, SearchQuery

__all__ = ["Retreats", "retreat_ends", "retreats"]


@dataclass(frozen=True, slots=True)
class Retreats:
    """From every node over clear edges to the nearest refuge.

    energy_wh : (n_nodes,) planned, inf where there is no way; source : (n_nodes,) the refuge's node, −1; onward : (n_nodes,) next node.
    """

    energy_wh: Floats
    source: npt.NDArray[np.int64]
    onward: npt.NDArray[np.int64]


def retreats(graph: SearchGraph, refuges: Sequence[int], open_until_s: float, weight: Floats | None = None) -> Retreats:
    """One Dijkstra from all ``refuges`` at once, edges turned around; ``weight`` is the planned energy if not given."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    keep = np.flatnonzero(graph.is_passable & ~graph.is_unverified & (graph.closes_s >= open_until_s))
    values = graph.energy_wh if weight is None else weight
    order = np.argsort(graph.head[keep], kind="stable")
    starts = np.zeros(graph.n_nodes + 1, np.int32)
    np.cumsum(np.bincount(graph.head[keep], minlength=graph.n_nodes), out=starts[1:])
    turned = csr_array((values[keep][order], graph.tail[keep][order].astype(np.int32), starts), shape=(graph.n_nodes, graph.n_nodes))
    energy, onward, source = dijkstra(turned, indices=sorted(set(refuges)), min_only=True, return_predecessors=True)
    return Retreats(energy, np.where(np.isfinite(energy), source, -1).astype(np.int64), np.where(onward >= 0, onward, -1).astype(np.int64))


def retreat_ends(graph: SearchGraph, query: SearchQuery, route: Route) -> list[tuple[int, float]]:
    """Of every unverified edge of ``route``, found bad at its far end: the refuge's node, and the planned seconds after departure there.

    The retreat is that of the contract, ``b`` carried along the way; empty where no way back is asked for.
    """
    asked = np.flatnonzero(graph.is_unverified[route.edges])
    if not query.needs_way_back or not len(asked):
        return []
    field, back_wh = retreats(graph, query.refuges, query.retreats_until_s), graph.back_wh(query.retreats_until_s)
    wh, retreat_s, refuge = float(field.energy_wh[query.start]), _retreat_s(graph, field, query.start), int(field.source[query.start])
    ends = []
    for position, edge in enumerate(route.edges[: asked[-1] + 1].tolist()):
        back_s = float(graph.time_s[graph.reverse[edge]]) if np.isfinite(back_wh[edge]) else np.inf
        if graph.is_unverified[edge]:
            ends.append((refuge, float(route.time_after_s[position]) + back_s + retreat_s))
        here = int(graph.head[edge])
        wh, retreat_s = wh + float(back_wh[edge]), retreat_s + back_s
        if field.energy_wh[here] <= wh:
            wh, retreat_s, refuge = float(field.energy_wh[here]), _retreat_s(graph, field, here), int(field.source[here])
    return ends


def _retreat_s(graph: SearchGraph, field: Retreats, node: int) -> float:
    """Planned seconds of the retreat from a node; of parallel edges the slowest counts."""
    if not np.isfinite(field.energy_wh[node]):
        return float("inf")
    offsets, edges = graph.out_edges
    total, here = 0.0, node
    while field.onward[here] >= 0:
        out = edges[offsets[here] : offsets[here + 1]]
        following = int(field.onward[here])
        total += float(graph.time_s[out[graph.head[out] == following]].max())
        here = following
    return total
