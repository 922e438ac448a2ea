"""The ``Skeleton``: a search graph without dead ends and with its chains contracted, and how a start, a goal or a path fits onto it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.search.compiled import chains
from rollroute.search.problem import Bools, Floats, Ints, SearchGraph


@dataclass(frozen=True, eq=False)
class Skeleton:
    """Nodes that are kept and arcs between them; arcs out of node ``k`` are ``out_start[k] .. out_start[k + 1]``.

    node : (n,) the graph's number of each kept node; index : (n_nodes,) the reverse, −1 for the others
    tail, head : (n_arcs,) kept nodes; is_unverified : (n_arcs,)
    cost_s, time_s, energy_wh, due_s, back_wh : (n_arcs,) sums over the arc; ``due_s`` is the latest departure that meets every closing
    in_start, in_arc, in_tail : the arcs into a node, with their tails
    host, place : (n_nodes, 2) the arcs that pass a node inside a chain, and where on them
    tree : (3, n_nodes) what a node in a dead end hangs on, the edge up and the edge down (``chains.peel``)
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
    tree: Ints
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
    """The skeleton of a graph, with the nodes ``keep`` (and all where a way can branch) kept."""
    n = graph.n_nodes
    tail, head = _writable(graph.tail), _writable(graph.head)
    kept_mask = np.zeros(n, np.bool_)
    kept_mask[list(keep)] = True
    is_alive, tree = np.empty(graph.n_edges, np.bool_), np.full((3, n), -1, np.int32)
    chains.peel(n, tail, head, _writable(graph.is_passable), _writable(graph.is_unverified), kept_mask, is_alive, tree)
    chains.mark_kept(n, tail, head, is_alive, kept_mask)
    out_start, out_edge = chains.sort_edges(n, tail, is_alive)
    while True:
        kept = np.flatnonzero(kept_mask).astype(np.int32)
        index = np.full(n, -1, np.int32)
        index[kept] = np.arange(len(kept), dtype=np.int32)
        host, place = np.full((n, 2), -1, np.int32), np.zeros((n, 2), np.int32)
        chain_start, chain_edge, ends = chains.walk_chains(kept, out_start, out_edge, head, tail, kept_mask, index, host, place)
        rings = np.flatnonzero((host[:, 0] < 0) & ~kept_mask & (np.diff(out_start) > 0))
        if len(rings) == 0:
            break
        _open_rings(rings.astype(np.int32), out_start, out_edge, head, kept_mask)
    back = _back(graph, retreats_until_s)
    sums = _sums(graph, chain_start, chain_edge, back)
    all_arcs = np.ones(len(chain_start) - 1, np.bool_)
    out, _ = chains.sort_edges(len(kept), np.ascontiguousarray(ends[0]), all_arcs)
    into, in_arc = chains.sort_edges(len(kept), np.ascontiguousarray(ends[1]), all_arcs)
    return Skeleton(
        graph, kept, index, np.ascontiguousarray(ends[0]), np.ascontiguousarray(ends[1]), out, into, in_arc, ends[0][in_arc],
        sums[0], sums[1], sums[2], sums[3], sums[4], is_unverified=graph.is_unverified[chain_edge[chain_start[:-1]]],
        chain_start=chain_start, chain_edge=chain_edge, host=host, place=place, tree=tree, edge_back_wh=back,
    )  # fmt: skip


def _writable(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The array, copied where it is mapped from a file: kernels are compiled for arrays that may be written to, once."""
    return array if array.flags.writeable else array.copy()


def _back(graph: SearchGraph, until_s: float) -> Floats:
    sure = np.empty(0, np.bool_) if graph.is_back_sure is None else np.array(graph.is_back_sure, np.bool_)
    columns = (graph.reverse, graph.is_passable, graph.is_unverified, sure, graph.energy_wh, graph.closes_s)
    back: Floats = chains.energy_back(*(_writable(column) for column in columns), float(until_s))
    return back


def _sums(graph: SearchGraph, chain_start: Ints, chain_edge: Ints, back: Floats) -> Floats:
    columns = (_writable(column) for column in (graph.cost_s, graph.time_s, graph.energy_wh, graph.closes_s))
    sums: Floats = chains.add_up(chain_start, chain_edge, *columns, back)
    return sums


def _open_rings(nodes: Ints, out_start: Ints, out_edge: Ints, head: Ints, keep: Bools) -> None:
    """Keep one node of every ring of streets that touches nothing else, so that the ring has a chain to be on."""
    seen: set[int] = set()
    for first in nodes.tolist():
        if first in seen:
            continue
        keep[first] = True
        stack = [first]
        while stack:
            v = stack.pop()
            seen.add(v)
            stack += [u for u in head[out_edge[out_start[v] : out_start[v + 1]]].tolist() if u not in seen]


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
    back = _back(graph, retreats_until_s)
    sums = _sums(graph, skeleton.chain_start, skeleton.chain_edge, back)
    return replace(
        skeleton, graph=graph, cost_s=sums[0], time_s=sums[1], energy_wh=sums[2], due_s=sums[3], back_wh=sums[4], edge_back_wh=back
    )


def arcs_from(skeleton: Skeleton, start: int) -> list[LooseArc]:
    """Ways from a node to kept nodes: itself, or out of its dead end and both ways out of the chain."""
    way = _out_of_tree(skeleton, start)
    if way is None:
        return []
    node, prefix = way
    if skeleton.index[node] >= 0:
        return [LooseArc(-1, int(skeleton.index[node]), prefix)]
    found = []
    for arc, position in _on_chains(skeleton, node):
        found.append(LooseArc(-1, int(skeleton.head[arc]), prefix + tuple(skeleton.edges_of(arc)[position:].tolist())))
    return found


def arcs_to(skeleton: Skeleton, goal: int) -> list[LooseArc]:
    """Ways from kept nodes to a node, likewise."""
    way = _into_tree(skeleton, goal)
    if way is None:
        return []
    node, suffix = way
    if skeleton.index[node] >= 0:
        return [LooseArc(int(skeleton.index[node]), -1, suffix)]
    found = []
    for arc, position in _on_chains(skeleton, node):
        found.append(LooseArc(int(skeleton.tail[arc]), -1, tuple(skeleton.edges_of(arc)[:position].tolist()) + suffix))
    return found


def arcs_between(skeleton: Skeleton, start: int, goal: int) -> list[LooseArc]:
    """Ways from start to goal that meet no kept node: none, both being one node, inside one dead end, or along one chain."""
    ups, downs = _branch(skeleton, start), _branch(skeleton, goal)
    meeting = next((node for node in ups if node in downs), None)
    if meeting is not None:
        if skeleton.index[meeting] >= 0 and start != goal:
            return []  # by way of a kept node
        way, back = _out_of_tree(skeleton, start, meeting), _into_tree(skeleton, goal, meeting)
        return [] if way is None or back is None else [LooseArc(-1, -1, way[1] + back[1])]
    way, back = _out_of_tree(skeleton, start), _into_tree(skeleton, goal)
    if way is None or back is None:
        return []
    found = []
    for arc, position in _on_chains(skeleton, way[0]):
        for other, end in _on_chains(skeleton, back[0]):
            if arc == other and end > position:
                found.append(LooseArc(-1, -1, way[1] + tuple(skeleton.edges_of(arc)[position:end].tolist()) + back[1]))
    return found


def surroundings(skeleton: Skeleton, node: int) -> frozenset[int]:
    """What a node hangs on and which arcs pass that: ``arcs_between`` finds nothing for two nodes that share none of these."""
    top = _branch(skeleton, node)[-1]
    return frozenset([-1 - top, *(arc for arc, _ in _on_chains(skeleton, top))])


def _on_chains(skeleton: Skeleton, node: int) -> list[tuple[int, int]]:
    """The arcs that pass a node inside a chain, and where on them."""
    pairs = zip(skeleton.host[node].tolist(), skeleton.place[node].tolist(), strict=True)
    return [(arc, position) for arc, position in pairs if arc >= 0]


def _branch(skeleton: Skeleton, node: int) -> list[int]:
    """The nodes from here up to what the dead end hangs on."""
    found = [node]
    while (onto := int(skeleton.tree[0, found[-1]])) >= 0:
        found.append(onto)
    return found


def _out_of_tree(skeleton: Skeleton, node: int, until: int = -1) -> tuple[int, tuple[int, ...]] | None:
    """Where the way out of a dead end comes out (or ``until``), and its edges; ``None`` where it is barred."""
    edges = []
    while node != until and (onto := int(skeleton.tree[0, node])) >= 0:
        edges.append(int(skeleton.tree[1, node]))
        node = onto
    return None if -1 in edges else (node, tuple(edges))


def _into_tree(skeleton: Skeleton, node: int, until: int = -1) -> tuple[int, tuple[int, ...]] | None:
    """Where the way into a dead end begins (or ``until``), and its edges to ``node``; ``None`` where it is barred."""
    edges = []
    while node != until and (onto := int(skeleton.tree[0, node])) >= 0:
        edges.append(int(skeleton.tree[2, node]))
        node = onto
    return None if -1 in edges else (node, tuple(reversed(edges)))


def sums_of(skeleton: Skeleton, arcs: list[LooseArc]) -> tuple[npt.NDArray[np.float64], Bools]:
    """``(5, n)`` cost, time, energy, due, back, and whether each arc is unverified."""
    graph = skeleton.graph
    flat = np.array([e for arc in arcs for e in arc.edges] or [], np.int32)
    starts = np.zeros(len(arcs) + 1, np.int32)
    np.cumsum([len(arc.edges) for arc in arcs], out=starts[1:])
    sums = _sums(graph, starts, flat, skeleton.edge_back_wh)
    return sums, np.array([bool(arc.edges) and bool(graph.is_unverified[arc.edges[0]]) for arc in arcs], np.bool_)
