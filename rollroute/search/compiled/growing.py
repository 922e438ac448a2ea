"""Distance fields that grow as far as they are asked to, and are kept for the next question.

A ``Field`` is one backward Dijkstra from a set of seeds, stopped and resumed at will. ``dist`` is final up to ``radius``;
``min(dist, radius)`` never overestimates, so it bounds from below what is left from any node, also while another thread grows the field.

The queue is a row of buckets of equal width instead of a heap (Dial 1969; delta-stepping, Meyer and Sanders 2003; from memory):
inside one bucket a node may be improved after it was taken and is then taken again, so distances are exact whatever the width.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence

import numpy as np

from rollroute.search.compiled.core import Core
from rollroute.search.compiled.kernel import kernel, part
from rollroute.search.compiled.skeleton import Skeleton
from rollroute.search.problem import Floats, Ints

N_BUCKETS = 1024  # what lies further ahead waits in its bucket for a later round
BUCKETS_PER_ARC = 8.0  # an arc of mean weight spans this many buckets
AHEAD, FREE, MADE, LIVE = range(4)  # places in ``state``: the next bucket, free entry, entries ever made, waiting


@part
def put(first, link, item, keys, state, per_width, key, v):  # type: ignore[no-untyped-def]
    """Put ``v`` with ``key`` into its bucket; the arrays must have room."""
    entry = state[FREE]
    if entry >= 0:
        state[FREE] = link[entry]
    else:
        entry = state[MADE]
        state[MADE] += 1
    item[entry], keys[entry] = v, key
    bucket = np.int64(key * per_width) & (len(first) - 1)
    link[entry], first[bucket] = first[bucket], entry
    state[LIVE] += 1


@kernel
def begin_field(seeds, offsets, per_width, dist, next_arc, first, link, item, keys, state):  # type: ignore[no-untyped-def]
    """Put the seeds in; the first bucket is that of the least offset."""
    least = np.inf
    for i in range(len(seeds)):
        if offsets[i] < dist[seeds[i]]:
            dist[seeds[i]], next_arc[seeds[i]] = offsets[i], -1 - i
            put(first, link, item, keys, state, per_width, offsets[i], seeds[i])
            least = min(least, offsets[i])
    if least < np.inf:
        state[AHEAD] = np.int64(least * per_width)


@kernel
def grow_field(  # type: ignore[no-untyped-def]  # noqa: C901
    in_start, in_arc, in_tail, weight, per_width, dist, next_arc, is_settled, first, link, item, keys, state, targets, bound
):
    """Empty buckets until all targets are settled or the radius passes ``bound``. Returns the radius."""
    ahead, free, made, live = state[AHEAD], state[FREE], state[MADE], state[LIVE]  # in registers: this is the innermost loop of all
    mask = len(first) - 1
    waiting, n_empty = len(targets), 0
    radius = np.inf
    while live > 0:
        if n_empty >= len(first):  # a gap wider than a round
            ahead = _nearest(first, link, keys, per_width)
            n_empty = 0
        if ahead > bound * per_width or (waiting == 0 and len(targets) > 0):
            radius = ahead / per_width
            break
        bucket = ahead & mask
        later = np.int32(-1)
        n_empty += 1
        while first[bucket] >= 0:
            entry = first[bucket]
            first[bucket] = link[entry]
            v, key = item[entry], keys[entry]
            if np.int64(key * per_width) != ahead:  # belongs to a later round
                link[entry], later = later, entry
                continue
            link[entry], free = free, entry
            live -= 1
            if key > dist[v]:
                continue
            n_empty = 0
            if not is_settled[v]:  # it may still be improved before its bucket is empty
                is_settled[v] = True
                waiting -= _is_among(targets, v)
            for k in range(in_start[v], in_start[v + 1]):
                u = in_tail[k]
                d = key + weight[k]
                if d < dist[u]:
                    dist[u], next_arc[u] = d, in_arc[k]
                    if free >= 0:
                        e, free = free, link[free]
                    else:
                        e = made
                        made += 1
                    item[e], keys[e] = u, d
                    to = np.int64(d * per_width) & mask
                    link[e], first[to] = first[to], e
                    live += 1
        first[bucket] = later
        ahead += 1
    state[AHEAD], state[FREE], state[MADE], state[LIVE] = ahead, free, made, live
    return radius


@part
def _nearest(first, link, keys, per_width):  # type: ignore[no-untyped-def]
    """The first bucket that anything waits for."""
    least = np.inf
    for bucket in range(len(first)):
        entry = first[bucket]
        while entry >= 0:
            least = min(least, keys[entry])
            entry = link[entry]
    return np.int64(least * per_width)


@part
def _is_among(targets, v):  # type: ignore[no-untyped-def]
    """1 where ``v`` is one of the sorted targets, else 0."""
    low, high = 0, len(targets)
    while low < high:
        middle = (low + high) // 2
        if targets[middle] < v:
            low = middle + 1
        else:
            high = middle
    return 1 if low < len(targets) and targets[low] == v else 0


class Field:
    """Least sum of an arc weight from kept nodes to a set of seeds; see the module's docstring.

    dist : (n,) float64; next_arc : (n,) int32, the arc to take, −1 − i at seed i
    """

    def __init__(
        self, skeleton: Skeleton | Core, weight_into: Floats, seeds: Sequence[int], offsets: Sequence[float], mean: float | None = None
    ) -> None:
        n = skeleton.n_nodes
        self.skeleton, self.weight = skeleton, weight_into
        self.dist = np.full(n, np.inf)
        self.next_arc = np.full(n, np.iinfo(np.int32).min, np.int32)
        self.is_settled = np.zeros(n, np.bool_)
        self.radius = 0.0
        room = skeleton.n_arcs + len(seeds) + 1
        if mean is None:
            finite = weight_into[np.isfinite(weight_into)]  # barred arcs weigh inf
            mean = float(finite.mean()) if len(finite) else 0.0
        self._per_width = BUCKETS_PER_ARC / mean if mean > 0.0 else 1.0
        self._first = np.full(N_BUCKETS, -1, np.int32)
        self._link, self._item, self._keys = np.empty(room, np.int32), np.empty(room, np.int32), np.empty(room)
        self._state = np.array([0, -1, 0, 0], np.int64)
        self._lock = threading.Lock()
        begin_field(
            np.array(seeds, np.int32), np.array(offsets, np.float64), self._per_width, self.dist, self.next_arc,
            self._first, self._link, self._item, self._keys, self._state,
        )  # fmt: skip

    def reach(self, targets: Sequence[int] | Ints, bound: float = math.inf) -> None:
        """Grow until every target is settled, the radius passes ``bound``, or all is settled that can be."""
        if self.radius <= bound and self.radius < math.inf:
            self._grow(np.unique(np.asarray(targets, np.int32)), bound)

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
            radius = grow_field(
                s.in_start, s.in_arc, s.in_tail, self.weight, self._per_width, self.dist, self.next_arc, self.is_settled,
                self._first, self._link, self._item, self._keys, self._state, missing, bound,
            )  # fmt: skip
            self.radius = max(self.radius, radius * (1.0 - 1e-12))  # the buckets' borders are rounded

    def at_least(self, node: int) -> float:
        """A lower bound of the distance from a node, exact where it is settled."""
        radius = self.radius  # read first: it only grows, and distances only fall
        return min(float(self.dist[node]), radius)

    def arcs_from(self, node: int) -> tuple[list[int], int]:
        """The arcs from a settled node to its seed, and the number of the seed."""
        assert isinstance(self.skeleton, Skeleton), "the arcs of a core stand for no way"
        arcs, head = [], self.skeleton.head
        arc = int(self.next_arc[node])
        while arc >= 0:
            arcs.append(arc)
            arc = int(self.next_arc[head[arc]])
        return arcs, -1 - arc
