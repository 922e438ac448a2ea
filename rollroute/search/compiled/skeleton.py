"""The ``Skeleton``: a search graph without dead ends and with its chains contracted, and how a start, a goal or a path fits onto it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.search.compiled import chains
from rollroute.search.compiled.shape import Shape, shape_of, writable
from rollroute.search.problem import Bools, Floats, Ints, SearchGraph


@dataclass(frozen=True, eq=False)
class Skeleton(Shape):
    """A shape with what its arcs cost a chair. Arcs that are barred weigh inf and are left out of the arcs into a node.

    cost_s, time_s, energy_wh, due_s, back_wh : (n_arcs,) sums over the arc; ``due_s`` is the latest departure that meets every closing
    is_unverified : (n_arcs,) whether the arc is unverified; all ``False`` unless contracted ``by_kind``
    edge_back_wh : (n_edges,) energy to come back over each edge
    """

    graph: SearchGraph
    cost_s: Floats
    time_s: Floats
    energy_wh: Floats
    due_s: Floats
    back_wh: Floats
    is_unverified: Bools
    edge_back_wh: Floats


@dataclass(frozen=True, slots=True)
class LooseArc:
    """Part of a chain, from the start to a kept node or from one to a goal; ``tail`` or ``head`` is −1 at the loose end."""

    tail: int
    head: int
    edges: tuple[int, ...]


def contract(graph: SearchGraph, *, keep: Iterable[int] = (), by_kind: bool = True, retreats_until_s: float = math.inf) -> Skeleton:
    """The skeleton of a graph, with the nodes ``keep`` (and all where a way can branch) kept.

    ``by_kind`` keeps clear and unverified apart, which only questions with a way back need.
    """
    shape = shape_of(graph, keep, by_kind=by_kind)
    back = _back(graph, retreats_until_s)
    sums = _sums(graph, shape.chain_start, shape.chain_edge, back)
    rows = vars(shape).copy()
    is_open = sums[2] < math.inf
    if not is_open.all():
        into = chains.without_barred(shape.in_start, shape.in_arc, shape.in_tail, sums[2])
        rows |= dict(zip(("in_start", "in_arc", "in_tail"), into, strict=True))
    first = shape.chain_edge[shape.chain_start[:-1]]
    doubtful = graph.is_unverified[first] & is_open if by_kind else np.zeros(len(first), np.bool_)
    return Skeleton(
        **rows, graph=graph, cost_s=sums[0], time_s=sums[1], energy_wh=sums[2], due_s=sums[3], back_wh=sums[4],
        is_unverified=doubtful, edge_back_wh=back,
    )  # fmt: skip


def _back(graph: SearchGraph, until_s: float) -> Floats:
    sure = np.empty(0, np.bool_) if graph.is_back_sure is None else np.array(graph.is_back_sure, np.bool_)
    columns = (graph.reverse, graph.is_passable, graph.is_unverified, sure, graph.energy_wh, graph.closes_s)
    back: Floats = chains.energy_back(*(writable(column) for column in columns), float(until_s))
    return back


def _sums(graph: SearchGraph, chain_start: Ints, chain_edge: Ints, back: Floats) -> Floats:
    columns = (graph.is_passable, graph.cost_s, graph.time_s, graph.energy_wh, graph.closes_s)
    sums: Floats = chains.add_up(chain_start, chain_edge, *(writable(column) for column in columns), back)
    return sums


def _open(skeleton: Skeleton, edges: Iterable[int]) -> bool:
    """Whether every edge is passable."""
    passable = skeleton.graph.is_passable
    return all(passable[e] for e in edges)


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
        onward = tuple(skeleton.edges_of(arc)[position:].tolist())
        if _open(skeleton, onward):
            found.append(LooseArc(-1, int(skeleton.head[arc]), prefix + onward))
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
        before = tuple(skeleton.edges_of(arc)[:position].tolist())
        if _open(skeleton, before):
            found.append(LooseArc(int(skeleton.tail[arc]), -1, before + suffix))
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
            between = tuple(skeleton.edges_of(arc)[position:end].tolist())
            if arc == other and end > position and _open(skeleton, between):
                found.append(LooseArc(-1, -1, way[1] + between + back[1]))
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
    return None if -1 in edges or not _open(skeleton, edges) else (node, tuple(edges))


def _into_tree(skeleton: Skeleton, node: int, until: int = -1) -> tuple[int, tuple[int, ...]] | None:
    """Where the way into a dead end begins (or ``until``), and its edges to ``node``; ``None`` where it is barred."""
    edges = []
    while node != until and (onto := int(skeleton.tree[0, node])) >= 0:
        edges.append(int(skeleton.tree[2, node]))
        node = onto
    return None if -1 in edges or not _open(skeleton, edges) else (node, tuple(reversed(edges)))


def sums_of(skeleton: Skeleton, arcs: list[LooseArc]) -> tuple[npt.NDArray[np.float64], Bools]:
    """``(5, n)`` cost, time, energy, due, back, and whether each arc is unverified."""
    graph = skeleton.graph
    flat = np.array([e for arc in arcs for e in arc.edges] or [], np.int32)
    starts = np.zeros(len(arcs) + 1, np.int32)
    np.cumsum([len(arc.edges) for arc in arcs], out=starts[1:])
    sums = _sums(graph, starts, flat, skeleton.edge_back_wh)
    return sums, np.array([bool(arc.edges) and bool(graph.is_unverified[arc.edges[0]]) for arc in arcs], np.bool_)
