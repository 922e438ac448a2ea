"""The ``Skeleton``: a search graph with its chains contracted, and how a start, a goal or a path fits onto it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.search.compiled import chains
from rollroute.search.fields import back_field
from rollroute.search.problem import Bools, Floats, Ints, SearchGraph


@dataclass(frozen=True, eq=False)
class Skeleton:
    """Nodes that are kept and arcs between them; arcs out of node ``k`` are ``out_start[k] .. out_start[k + 1]``.

    node : (n,) the graph's number of each kept node; index : (n_nodes,) the reverse, −1 inside a chain
    tail, head : (n_arcs,) kept nodes; is_unverified : (n_arcs,)
    cost_s, time_s, energy_wh, due_s, back_wh : (n_arcs,) sums over the arc; ``due_s`` is the latest departure that meets every closing
    in_start, in_arc, in_tail : the arcs into a node, with their tails
    """

    graph: SearchGraph
    node: Ints
    index: Ints
    tail: Ints
    head: Ints
    out_start: Ints
    in_start: Ints
    in_arc: Ints
    in_tail: Ints
    cost_s: Floats
    time_s: Floats
    energy_wh: Floats
    due_s: Floats
    back_wh: Floats
    is_unverified: Bools
    chain_start: Ints
    chain_edge: Ints
    host: Ints
    place: Ints
    edge_back_wh: Floats

    @property
    def n_nodes(self) -> int:
        """Number of kept nodes."""
        return len(self.node)

    @property
    def n_arcs(self) -> int:
        """Number of arcs."""
        return len(self.tail)

    def edges_of(self, arc: int) -> Ints:
        """The graph's edges of an arc, in order."""
        return self.chain_edge[self.chain_start[arc] : self.chain_start[arc + 1]]


@dataclass(frozen=True, slots=True)
class LooseArc:
    """Part of a chain, from the start to a kept node or from one to a goal; ``tail`` or ``head`` is −1 at the loose end."""

    tail: int
    head: int
    edges: tuple[int, ...]


def contract(graph: SearchGraph, *, keep: Iterable[int] = (), retreats_until_s: float = math.inf) -> Skeleton:
    """The skeleton of a graph, with the nodes ``keep`` (and all that are not inside a chain) kept."""
    kept_mask = np.zeros(graph.n_nodes, np.bool_)
    kept_mask[list(keep)] = True
    unverified = graph.is_unverified.astype(np.int8)
    chains.mark_kept(graph.n_nodes, graph.tail, graph.head, graph.is_passable, unverified, kept_mask)
    out_start, out_edge = graph.out_edges
    _open_rings(graph, kept_mask)
    kept = np.flatnonzero(kept_mask).astype(np.int32)
    index = np.full(graph.n_nodes, -1, np.int32)
    index[kept] = np.arange(len(kept), dtype=np.int32)
    n_arcs, n_edges = chains.count_chains(kept, out_start, out_edge, graph.head, graph.tail, kept_mask)
    chain_start, chain_edge = np.zeros(n_arcs + 1, np.int32), np.empty(n_edges + 1, np.int32)
    ends = np.empty((n_arcs, 2), np.int32)
    host, place = np.full((graph.n_nodes, 2), -1, np.int32), np.zeros((graph.n_nodes, 2), np.int32)
    chains.walk_chains(kept, out_start, out_edge, graph.head, graph.tail, kept_mask, index, chain_start, chain_edge, ends, host, place)
    back = back_field(graph, retreats_until_s)
    sums = np.empty((5, n_arcs))
    chains.add_up(chain_start, chain_edge, graph.cost_s, graph.time_s, graph.energy_wh, graph.closes_s, back, sums)
    tail, head = np.ascontiguousarray(ends[:, 0]), np.ascontiguousarray(ends[:, 1])
    out = np.zeros(len(kept) + 1, np.int32)
    np.cumsum(np.bincount(tail, minlength=len(kept)), out=out[1:])
    into = np.zeros(len(kept) + 1, np.int32)
    np.cumsum(np.bincount(head, minlength=len(kept)), out=into[1:])
    in_arc = np.argsort(head, kind="stable").astype(np.int32)
    return Skeleton(
        graph, kept, index, tail, head, out, into, in_arc, tail[in_arc], sums[0], sums[1], sums[2], sums[3], sums[4],
        is_unverified=graph.is_unverified[chain_edge[chain_start[:-1]]],
        chain_start=chain_start, chain_edge=chain_edge, host=host, place=place, edge_back_wh=back,
    )  # fmt: skip


def reweigh(skeleton: Skeleton, graph: SearchGraph, retreats_until_s: float = math.inf) -> Skeleton:
    """The same skeleton with the weights of another graph.

    Raises
    ------
    InputError
        Where the other graph differs in edges, in what is passable or in what is unverified: contract it anew.
    """
    old = skeleton.graph
    for name in ("tail", "head", "is_passable", "is_unverified"):
        if getattr(old, name) is not getattr(graph, name) and not np.array_equal(getattr(old, name), getattr(graph, name)):
            raise InputError(f"reweigh: {name} differs between the graphs, so the chains differ. Contract the new graph.")
    back = back_field(graph, retreats_until_s)
    sums = np.empty((5, skeleton.n_arcs))
    chains.add_up(skeleton.chain_start, skeleton.chain_edge, graph.cost_s, graph.time_s, graph.energy_wh, graph.closes_s, back, sums)
    return replace(
        skeleton, graph=graph, cost_s=sums[0], time_s=sums[1], energy_wh=sums[2], due_s=sums[3], back_wh=sums[4], edge_back_wh=back
    )


def _open_rings(graph: SearchGraph, keep: Bools) -> None:
    """Keep one node of every ring of streets that touches nothing else, so that the ring has a chain to be on."""
    inside = np.flatnonzero(~keep & (np.diff(graph.out_edges[0]) > 0))
    if len(inside) == 0:
        return
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    e = np.flatnonzero(graph.is_passable)
    ones = np.ones(len(e), np.int8)
    _, part = connected_components(csr_array((ones, (graph.tail[e], graph.head[e])), shape=(graph.n_nodes,) * 2), directed=False)
    has_kept = np.zeros(part.max() + 1, np.bool_)
    has_kept[part[keep]] = True
    lonely = inside[~has_kept[part[inside]]]
    _, first = np.unique(part[lonely], return_index=True)
    keep[lonely[first]] = True


def arcs_from(skeleton: Skeleton, start: int) -> list[LooseArc]:
    """Ways from a node to kept nodes: itself, or both ways out of the chain that it lies in."""
    if skeleton.index[start] >= 0:
        return [LooseArc(-1, int(skeleton.index[start]), ())]
    found = []
    for arc, position in zip(skeleton.host[start].tolist(), skeleton.place[start].tolist(), strict=True):
        if arc >= 0:
            found.append(LooseArc(-1, int(skeleton.head[arc]), tuple(skeleton.edges_of(arc)[position:].tolist())))
    return found


def arcs_to(skeleton: Skeleton, goal: int) -> list[LooseArc]:
    """Ways from kept nodes to a node, likewise."""
    if skeleton.index[goal] >= 0:
        return [LooseArc(int(skeleton.index[goal]), -1, ())]
    found = []
    for arc, position in zip(skeleton.host[goal].tolist(), skeleton.place[goal].tolist(), strict=True):
        if arc >= 0:
            found.append(LooseArc(int(skeleton.tail[arc]), -1, tuple(skeleton.edges_of(arc)[:position].tolist())))
    return found


def arcs_between(skeleton: Skeleton, start: int, goal: int) -> list[LooseArc]:
    """Ways from start to goal that meet no kept node: none, both being one node, or along one chain."""
    if start == goal:
        return [LooseArc(-1, -1, ())]
    found = []
    for arc, position in zip(skeleton.host[start].tolist(), skeleton.place[start].tolist(), strict=True):
        for other, end in zip(skeleton.host[goal].tolist(), skeleton.place[goal].tolist(), strict=True):
            if arc >= 0 and arc == other and end > position:
                found.append(LooseArc(-1, -1, tuple(skeleton.edges_of(arc)[position:end].tolist())))
    return found


def sums_of(skeleton: Skeleton, arcs: list[LooseArc]) -> tuple[npt.NDArray[np.float64], Bools]:
    """``(5, n)`` cost, time, energy, due, back, and whether each arc is unverified."""
    graph = skeleton.graph
    flat = np.array([e for arc in arcs for e in arc.edges] or [], np.int32)
    starts = np.zeros(len(arcs) + 1, np.int32)
    np.cumsum([len(arc.edges) for arc in arcs], out=starts[1:])
    sums = np.empty((5, len(arcs)))
    chains.add_up(starts, flat, graph.cost_s, graph.time_s, graph.energy_wh, graph.closes_s, skeleton.edge_back_wh, sums)
    return sums, np.array([bool(arc.edges) and bool(graph.is_unverified[arc.edges[0]]) for arc in arcs], np.bool_)
