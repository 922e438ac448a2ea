"""The ``Core`` of a skeleton: the few nodes that are left when all others are taken out and bridged, for sweeps that only ask about those.

Taking out a node with few neighbours and joining each two of them by an arc as long as the way through it keeps every distance between
the others (node contraction without witness searches: Geisberger et al. 2008; from memory). Distances are all that a matrix asks for,
so nothing has to be unpacked. Several weights are bridged at once, each with its own least way between two neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollroute.search.compiled.kernel import kernel, part
from rollroute.search.compiled.skeleton import Skeleton
from rollroute.search.problem import Floats, Ints

MOST_NEIGHBOURS = 6  # more take longer to take out than 40 sweeps save (873 000 nodes)


@dataclass(frozen=True, eq=False)
class Core:
    """Nodes that are left, and the arcs into each of them: ``in_tail[in_start[v]:in_start[v + 1]]``.

    index : (skeleton's n_nodes,) number of a node in the core, −1 where it was taken out
    weight_into : (n_weights, n_arcs) in the order of the arcs
    """

    index: Ints
    in_start: Ints
    in_arc: Ints
    in_tail: Ints
    weight_into: Floats

    @property
    def n_nodes(self) -> int:
        """Number of nodes."""
        return len(self.in_start) - 1

    @property
    def n_arcs(self) -> int:
        """Number of arcs."""
        return len(self.in_arc)


def core_of(skeleton: Skeleton, weights_into: list[Floats], keep: Ints) -> Core:
    """The core of a skeleton in which the nodes ``keep`` stay; ``weights_into`` are in the order of the arcs into nodes."""
    is_kept = np.zeros(skeleton.n_nodes, np.bool_)
    is_kept[keep] = True
    s = skeleton
    pairs, first, link, n_pairs, length = pair_up(s.in_start, s.in_tail, np.stack(weights_into))
    pairs, link, length = bridge(pairs, first, link, n_pairs, length, is_kept, MOST_NEIGHBOURS)
    index, start, tail, into = gather(pairs, first, link, length, is_kept)
    return Core(index, start, np.arange(len(tail), dtype=np.int32), tail, into)


# A pair is two neighbours u < v. ``pairs[p]`` are the two; ``link[p, side]`` is the next pair of each; ``length[p, side]`` are the weights
# from that one to the other. A pair with a node that was taken out is unlinked when it is met.


@kernel
def pair_up(in_start, in_tail, weight):  # type: ignore[no-untyped-def]
    """Pairs of the nodes that arcs join, with the least weight each way."""
    n, n_weights = len(in_start) - 1, len(weight)
    room = len(in_tail) + 16
    pairs, link = np.empty((room, 2), np.int32), np.empty((room, 2), np.int32)
    length = np.empty((room, 2, n_weights))
    first = np.full(n, -1, np.int32)
    n_pairs = 0
    for v in range(n):
        for k in range(in_start[v], in_start[v + 1]):
            u = in_tail[k]
            if u == v:
                continue
            low, high = min(u, v), max(u, v)
            p = _between(pairs, first, link, low, high)
            if p < 0:
                p = n_pairs
                n_pairs += 1
                _join(pairs, first, link, length, p, low, high)
            side = 0 if u == low else 1
            for i in range(n_weights):
                length[p, side, i] = min(length[p, side, i], weight[i, k])
    return pairs, first, link, n_pairs, length


@part
def _between(pairs, first, link, low, high):  # type: ignore[no-untyped-def]
    """The pair of two nodes; −1 where there is none."""
    p = first[low]
    while p >= 0 and (pairs[p, 0] != low or pairs[p, 1] != high):
        p = link[p, 0] if pairs[p, 0] == low else link[p, 1]
    return p


@part
def _join(pairs, first, link, length, p, low, high):  # type: ignore[no-untyped-def]
    """Write pair ``p``, inf apart."""
    pairs[p, 0], pairs[p, 1] = low, high
    link[p, 0], link[p, 1] = first[low], first[high]
    first[low], first[high] = p, p
    for side in range(2):
        for i in range(length.shape[2]):
            length[p, side, i] = np.inf


@part
def _near(v, pairs, first, link, is_out, near, to_near):  # type: ignore[no-untyped-def]
    """Neighbours of ``v`` that are left and the pairs with them; unlinks the others. Returns how many; more than there is room for: −1."""
    n = 0
    before, p = -1, first[v]
    while p >= 0:
        side = 0 if pairs[p, 0] == v else 1
        u, after = pairs[p, 1 - side], link[p, side]
        if is_out[u]:
            if before < 0:
                first[v] = after
            else:
                link[before, 0 if pairs[before, 0] == v else 1] = after
        else:
            if n == len(near):
                return -1
            near[n], to_near[n] = u, p
            n += 1
            before = p
        p = after
    return n


@kernel
def bridge(pairs, first, link, n_pairs, length, is_kept, most):  # type: ignore[no-untyped-def]
    """Take out nodes with at most ``most`` neighbours, the fewest first, but none that ``is_kept``. Returns the arrays, perhaps grown."""
    n = len(first)
    is_out = np.zeros(n, np.bool_)
    near, to_near = np.empty(most, np.int32), np.empty(most, np.int32)
    near_u, to_near_u = np.empty(n, np.int32), np.empty(n, np.int32)  # a square can have any number
    known = np.full(n, -1, np.int32)  # pairs of one node, by the other
    for limit in range(1, most + 1):
        for v in range(n):
            if is_out[v] or is_kept[v]:
                continue
            d = _near(v, pairs, first, link, is_out, near, to_near)
            if d < 0 or d > limit:
                continue
            if n_pairs + d * d >= len(pairs):
                pairs, link, length = _wider(pairs), _wider(link), _longer(length)
            for j in range(d - 1):
                n_u = _near(near[j], pairs, first, link, is_out, near_u, to_near_u)
                n_pairs = _bypass(v, j, d, near, to_near, n_u, near_u, to_near_u, known, pairs, first, link, length, n_pairs)
            is_out[v] = True
    for v in range(n):
        is_kept[v] = not is_out[v]
    return pairs, link, length


@part
def _bypass(v, j, d, near, to_near, n_u, near_u, to_near_u, known, pairs, first, link, length, n_pairs):  # type: ignore[no-untyped-def]
    """Join neighbour ``j`` of ``v`` with those after it. Returns how many pairs there are."""
    u = near[j]
    for i in range(n_u):
        known[near_u[i]] = to_near_u[i]
    for k in range(j + 1, d):
        p = known[near[k]]
        if p < 0:
            p = n_pairs
            n_pairs += 1
            _join(pairs, first, link, length, p, min(u, near[k]), max(u, near[k]))
        _shorten(length, p, to_near[j], to_near[k], u, v, near[k])
    for i in range(n_u):
        known[near_u[i]] = -1
    return n_pairs


@part
def _shorten(length, p, p_u, p_x, u, v, x):  # type: ignore[no-untyped-def]
    """Pair ``p`` of ``u`` and ``x`` is no longer than the way through ``v``, by the pairs ``p_u`` and ``p_x``; both ways."""
    u_v, v_x, u_x = np.int64(u > v), np.int64(v > x), np.int64(u > x)
    for i in range(length.shape[2]):
        length[p, u_x, i] = min(length[p, u_x, i], length[p_u, u_v, i] + length[p_x, v_x, i])
        length[p, 1 - u_x, i] = min(length[p, 1 - u_x, i], length[p_x, 1 - v_x, i] + length[p_u, 1 - u_v, i])


@kernel
def _wider(array):  # type: ignore[no-untyped-def]
    wider = np.empty((2 * len(array), 2), array.dtype)
    wider[: len(array)] = array
    return wider


@kernel
def _longer(array):  # type: ignore[no-untyped-def]
    longer = np.empty((2 * len(array), 2, array.shape[2]))
    longer[: len(array)] = array
    return longer


@kernel
def gather(pairs, first, link, length, is_kept):  # type: ignore[no-untyped-def]
    """The arcs between the nodes that are kept: their numbers, where the arcs into each begin, tails, weights."""
    n, n_weights = len(first), length.shape[2]
    index = np.full(n, -1, np.int32)
    n_kept = n_arcs = 0
    for v in range(n):
        if is_kept[v]:
            index[v] = n_kept
            n_kept += 1
            p = first[v]
            while p >= 0:
                n_arcs += 1
                p = link[p, 0] if pairs[p, 0] == v else link[p, 1]
    start, tail, into = np.zeros(n_kept + 1, np.int32), np.empty(n_arcs, np.int32), np.empty((n_weights, n_arcs))
    k = 0
    for v in range(n):
        if not is_kept[v]:
            continue
        p = first[v]
        while p >= 0:
            side = 0 if pairs[p, 0] == v else 1
            u = pairs[p, 1 - side]
            if is_kept[u] and length[p, 1 - side, 0] < np.inf:
                tail[k] = index[u]
                for i in range(n_weights):
                    into[i, k] = length[p, 1 - side, i]
                k += 1
            p = link[p, side]
        start[index[v] + 1] = k
    return index, start, tail[:k], into[:, :k]
