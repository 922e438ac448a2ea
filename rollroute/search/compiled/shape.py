"""The ``Shape`` of a map: which nodes are kept and which edges make up the arcs between them, shared by all chairs.

Chairs differ in weights, in what bars them and in what they have doubts about; streets don't.
So a shape is kept for a map and serves every chair whose pieces are all in it, and whose kept nodes are all kept.
What it holds beyond that (a piece that bars this chair, a node that another chair's doubts keep) costs a little time and changes no answer.
Where it holds too little, a new one takes its place that also holds all that the old one did.
"""

from __future__ import annotations

import threading
import weakref
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.search.compiled import chains
from rollroute.search.problem import Bools, Ints, SearchGraph

SHAPES_KEPT = 6  # shapes of a map: one for each set of stops and refuges
MOST_BARRED = 0.2  # a chair that can't use more of a shape's edges than this gets a shape of its own: the search would walk around the rest


@dataclass(frozen=True, eq=False)
class Shape:
    """Nodes that are kept and arcs between them; arcs out of node ``k`` are ``out_start[k] .. out_start[k + 1]``.

    node : (n,) the graph's number of each kept node; index : (n_nodes,) the reverse, −1 for the others
    tail, head : (n_arcs,) kept nodes
    in_start, in_arc, in_tail : the arcs into a node, with their tails
    chain_start, chain_edge : the edges of each arc
    host, place : (n_nodes, 2) the arcs that pass a node inside a chain, and where on them
    tree : (3, n_nodes) what a node in a dead end hangs on, the edge up and the edge down (``chains.peel``)
    """

    node: Ints
    index: Ints
    tail: Ints
    head: Ints
    out_start: Ints
    in_start: Ints
    in_arc: Ints
    in_tail: Ints
    chain_start: Ints
    chain_edge: Ints
    host: Ints
    place: Ints
    tree: Ints

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


@dataclass(slots=True)
class _Kept:
    shape: Shape
    is_open: Bools
    n_open: int
    keep: Bools  # nodes that had to be kept


class _Shelf:
    """The shapes of one map, which is known by its arrays of tails and heads: all graphs of that map share them."""

    def __init__(self, head: Ints) -> None:
        self.head = weakref.ref(head)
        self.kept: OrderedDict[tuple[tuple[int, ...], bool], _Kept] = OrderedDict()
        self.lock = threading.Lock()


_SHELVES: dict[int, _Shelf] = {}
_LOCK = threading.Lock()


def shape_of(graph: SearchGraph, keep: Iterable[int], *, by_kind: bool) -> Shape:
    """A shape with everything that this graph can drive, and with the nodes ``keep``; see ``skeleton.contract``."""
    nodes = tuple(sorted(set(keep)))
    shelf = _shelf_of(graph)
    with shelf.lock:
        old = shelf.kept.get((nodes, by_kind))
        passable, reverse = writable(graph.is_passable), writable(graph.reverse)
        is_open = np.zeros(graph.n_edges, np.bool_) if old is None else old.is_open.copy()
        n_new = chains.mark_open(passable, reverse, is_open)
        must = np.zeros(graph.n_nodes, np.bool_)
        must[list(nodes)] = True
        if by_kind and graph.is_unverified.any():
            chains.mark_meetings(writable(graph.tail), writable(graph.head), passable, writable(graph.is_unverified), must)
        if old is not None:
            if np.count_nonzero(passable) < (1.0 - MOST_BARRED) * old.n_open:
                own = np.zeros(graph.n_edges, np.bool_)
                chains.mark_open(passable, reverse, own)
                return _build(graph, own, must)
            if n_new == 0 and not np.any(must & ~old.keep):
                shelf.kept.move_to_end((nodes, by_kind))
                return old.shape
            must |= old.keep
        shape = _build(graph, is_open, must.copy())
        shelf.kept[nodes, by_kind] = _Kept(shape, is_open, int(is_open.sum()), must)
        while len(shelf.kept) > SHAPES_KEPT:
            shelf.kept.popitem(last=False)
        return shape


def _shelf_of(graph: SearchGraph) -> _Shelf:
    key = id(graph.tail)
    with _LOCK:
        shelf = _SHELVES.get(key)
        if shelf is None or shelf.head() is not graph.head:
            if shelf is None:
                weakref.finalize(graph.tail, _SHELVES.pop, key, None)
            shelf = _SHELVES[key] = _Shelf(graph.head)
        return shelf


def _build(graph: SearchGraph, is_open: Bools, keep: Bools) -> Shape:
    """The shape over the pieces that are open, with at least the nodes ``keep``, a mask that is written to."""
    n = graph.n_nodes
    tail, head = writable(graph.tail), writable(graph.head)
    is_alive, tree = np.empty(graph.n_edges, np.bool_), np.full((3, n), -1, np.int32)
    chains.peel(n, tail, head, is_open, keep, is_alive, tree)
    chains.mark_kept(n, tail, head, is_alive, keep)
    out_start, out_edge = chains.sort_edges(n, tail, is_alive)
    while True:
        kept = np.flatnonzero(keep).astype(np.int32)
        index = np.full(n, -1, np.int32)
        index[kept] = np.arange(len(kept), dtype=np.int32)
        host, place = np.full((n, 2), -1, np.int32), np.zeros((n, 2), np.int32)
        chain_start, chain_edge, ends = chains.walk_chains(kept, out_start, out_edge, head, tail, keep, index, host, place)
        rings = np.flatnonzero((host[:, 0] < 0) & ~keep & (np.diff(out_start) > 0))
        if len(rings) == 0:
            break
        _open_rings(rings.astype(np.int32), out_start, out_edge, head, keep)
    ends = np.ascontiguousarray(ends)
    all_arcs = np.ones(len(chain_start) - 1, np.bool_)
    out, _ = chains.sort_edges(len(kept), ends[0], all_arcs)
    into, in_arc = chains.sort_edges(len(kept), ends[1], all_arcs)
    return Shape(
        kept, index, ends[0], ends[1], out, into, in_arc, ends[0][in_arc],
        chain_start=chain_start, chain_edge=chain_edge, host=host, place=place, tree=tree,
    )  # fmt: skip


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


def writable(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The array, copied where it is mapped from a file: kernels are compiled for arrays that may be written to, once."""
    return array if array.flags.writeable else array.copy()
