"""Kernels on the whole skeleton: a goal-directed search with energy at a price, and the part of the map that is worth a closer look."""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import kernel, part
from rollroute.search.compiled.tables import ENERGY, EXTRA, TIME


@kernel
def explore(arcs, loose, links, lower, price, bound):  # type: ignore[no-untyped-def]
    """A* from the start with weight cost + price × energy; the potential is the sum of the two fields, so it never overestimates.

    Stops at the goal, or with a finite ``bound`` when every node with distance + potential <= ``bound`` is settled.
    Returns the nodes in the order of settling and the arc into each node (``n_arcs + i`` for loose arcs), node n being the goal.
    """
    n = len(links.to_goal)
    n_arcs = len(arcs.head)
    dist, into, done = np.full(n + 1, np.inf), np.full(n + 1, -1, np.int32), np.zeros(n + 1, np.bool_)
    room = n_arcs + len(loose.head) + 1  # every arc is relaxed at most once; what is never touched takes no memory
    keys, items, order = np.empty(room), np.empty(room, np.int32), np.empty(n + 1, np.int32)
    size = n_settled = 0
    for a in range(links.n_goal, len(loose.head)):
        size = _relax(loose, np.int64(a), np.int64(n_arcs + a), 0.0, lower, price, dist, into, keys, items, size)
    while size > 0 and keys[0] <= bound:
        v = items[0]
        size = drop_first(keys, items, size)
        if done[v]:
            continue
        done[v] = True
        order[n_settled] = v
        n_settled += 1
        if v == n:
            if bound == np.inf:
                break
            continue
        for a in range(links.start[v], links.start[v + 1]):
            size = _relax(arcs, np.int64(a), np.int64(a), dist[v], lower, price, dist, into, keys, items, size)
        a = links.to_goal[v]
        while a >= 0:
            size = _relax(loose, np.int64(a), np.int64(n_arcs + a), dist[v], lower, price, dist, into, keys, items, size)
            a = links.then[a]
    return order[:n_settled], into, dist[n]


@part
def _relax(arcs, a, number, before, lower, price, dist, into, keys, items, size):  # type: ignore[no-untyped-def]
    """Try arc ``a`` from a node at distance ``before``; returns the size of the heap."""
    u = arcs.head[a]
    d = before + arcs.data[EXTRA, a] + arcs.data[TIME, a] + price * arcs.data[ENERGY, a]
    if d < dist[u]:
        dist[u] = d
        into[u] = number
        size = push(keys, items, size, d + _potential(lower, price, u, len(dist) - 1), u)
    return size


@part
def _potential(lower, price, v, n):  # type: ignore[no-untyped-def]
    if v == n:
        return 0.0
    left = min(lower.cost[v], lower.radius[0])
    if price > 0.0:
        left += price * min(lower.energy[v], lower.radius[1])
    return left


@kernel
def extract(arcs, loose, links, order, where):  # type: ignore[no-untyped-def]
    """The part of the skeleton on the nodes ``order``, numbered anew: the start is 0, the goal 1. ``where`` is scratch of −1.

    Returns tail, head, cost, energy and the number of each arc (``n_arcs + i`` for loose arcs), sorted by tail.
    """
    n, n_arcs = len(links.to_goal), len(arcs.head)
    m = 2
    size = len(loose.head)
    for v in order:
        if v < n:
            where[v] = m
            m += 1
            size += links.start[v + 1] - links.start[v]
    ends, number = np.empty((2, size), np.int32), np.empty(size, np.int32)
    sums = np.empty((2, size))
    k = 0
    for a in range(links.n_goal, len(loose.head)):
        k = _copy(loose, np.int64(a), np.int64(n_arcs + a), np.int32(0), where, ends, sums, number, k)
    for v in order:
        if v == n:
            continue
        for a in range(links.start[v], links.start[v + 1]):
            k = _copy(arcs, np.int64(a), np.int64(a), where[v], where, ends, sums, number, k)
        a = links.to_goal[v]
        while a >= 0:
            k = _copy(loose, np.int64(a), np.int64(n_arcs + a), where[v], where, ends, sums, number, k)
            a = links.then[a]
    return m, ends[0, :k], ends[1, :k], sums[0, :k], sums[1, :k], number[:k]


@part
def _copy(arcs, a, name, tail, where, ends, sums, number, k):  # type: ignore[no-untyped-def]
    """Copy arc ``a`` if its head is in the part and it is not barred; returns how many arcs there are."""
    to = 1 if arcs.head[a] == len(where) else where[arcs.head[a]]
    if to < 0 or to == tail or arcs.data[ENERGY, a] == np.inf:
        return k
    ends[0, k], ends[1, k], number[k] = tail, to, name
    sums[0, k], sums[1, k] = arcs.data[EXTRA, a] + arcs.data[TIME, a], arcs.data[ENERGY, a]
    return k + 1
