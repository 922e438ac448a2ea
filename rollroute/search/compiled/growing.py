"""Distance fields that grow as far as they are asked to, and are kept for the next question.

A ``Field`` is one backward Dijkstra from a set of seeds, stopped and resumed at will. ``dist`` is final up to ``radius``;
``min(dist, radius)`` never overestimates, so it bounds from below what is left from any node, also while another thread grows the field.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence

import numpy as np

from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import kernel
from rollroute.search.compiled.skeleton import Skeleton
from rollroute.search.problem import Floats, Ints


@kernel
def _grow(in_start, in_arc, in_tail, weight, dist, next_arc, is_settled, keys, items, order, state, targets, bound):  # type: ignore[no-untyped-def]
    """Settle nodes until all targets are settled or the radius passes ``bound``. ``state``: heap size, settled. Returns the radius."""
    size = state[0]
    n_settled = state[1]
    waiting = len(targets)
    radius = np.inf
    while size > 0:
        key = keys[0]
        if key > bound:
            radius = key
            break
        v = items[0]
        if is_settled[v]:
            size = drop_first(keys, items, size)
            continue
        if waiting == 0 and len(targets) > 0:
            radius = key
            break
        size = drop_first(keys, items, size)
        order[n_settled] = v
        is_settled[v] = True
        n_settled += 1
        for t in targets:
            if t == v:
                waiting -= 1
        for k in range(in_start[v], in_start[v + 1]):
            u = in_tail[k]
            d = key + weight[k]
            if d < dist[u]:
                dist[u] = d
                next_arc[u] = in_arc[k]
                size = push(keys, items, size, d, u)
    state[0] = size
    state[1] = n_settled
    return radius


class Field:
    """Least sum of an arc weight from kept nodes to a set of seeds; see the module's docstring.

    dist : (n,) float64; next_arc : (n,) int32, the arc to take, −1 − i at seed i; order : nodes in the order in which they were settled
    """

    def __init__(self, skeleton: Skeleton, weight_into: Floats, seeds: Sequence[int], offsets: Sequence[float]) -> None:
        n = skeleton.n_nodes
        self.skeleton, self.weight = skeleton, weight_into
        self.dist = np.full(n, np.inf)
        self.next_arc = np.full(n, np.iinfo(np.int32).min, np.int32)
        self.is_settled = np.zeros(n, np.bool_)
        self.order = np.empty(n + 1, np.int32)
        self.radius = 0.0
        self._keys, self._items = np.empty(skeleton.n_arcs + len(seeds) + 1), np.empty(skeleton.n_arcs + len(seeds) + 1, np.int32)
        self._state = np.zeros(2, np.int64)
        self._lock = threading.Lock()
        for i, (seed, offset) in enumerate(zip(seeds, offsets, strict=True)):
            if offset < self.dist[seed]:
                self.dist[seed], self.next_arc[seed] = offset, -1 - i
                self._state[0] = push(self._keys, self._items, self._state[0], float(offset), np.int32(seed))

    @property
    def n_settled(self) -> int:
        """How many nodes have their final distance."""
        return int(self._state[1])

    def reach(self, targets: Sequence[int], bound: float = math.inf) -> None:
        """Grow until every target is settled, the radius passes ``bound``, or all is settled that can be."""
        if self.radius <= bound and self.radius < math.inf:
            self._grow(np.array(sorted(set(targets)), np.int32), bound)

    def reach_radius(self, bound: float) -> None:
        """Grow until every node within ``bound`` is settled."""
        if self.radius <= bound and self.radius < math.inf:
            self._grow(np.empty(0, np.int32), bound)

    def _grow(self, targets: Ints, bound: float) -> None:
        with self._lock:
            missing = targets[~self.is_settled[targets]]
            if len(targets) and len(missing) == 0 and self.radius > 0.0:
                return
            s = self.skeleton
            radius = _grow(
                s.in_start, s.in_arc, s.in_tail, self.weight, self.dist, self.next_arc, self.is_settled,
                self._keys, self._items, self.order, self._state, missing, bound,
            )  # fmt: skip
            self.radius = max(self.radius, radius)

    def snapshot(self) -> tuple[float, int]:
        """Radius and number of settled nodes, read together."""
        with self._lock:
            return self.radius, int(self._state[1])

    def at_least(self, node: int) -> float:
        """A lower bound of the distance from a node, exact where it is settled."""
        radius = self.radius  # read first: it only grows, and distances only fall
        return min(float(self.dist[node]), radius)

    def arcs_from(self, node: int) -> tuple[list[int], int]:
        """The arcs from a settled node to its seed, and the number of the seed."""
        arcs = []
        arc = int(self.next_arc[node])
        while arc >= 0:
            arcs.append(arc)
            arc = int(self.next_arc[self.skeleton.head[arc]])
        return arcs, -1 - arc
