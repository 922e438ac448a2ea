"""Kernels for the way back: the least retreat that a chair can have at a node, and the charge that it needs there at least."""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import kernel, part
from rollroute.search.compiled.tables import BACK, ENERGY


@kernel
def least_retreat(start, arcs, retreat):  # type: ignore[no-untyped-def]
    """A lower bound of ``b`` at every node, over all ways to it: ``b(v) = min(r(v), b(u) + back)``, whoever comes."""
    n = len(start) - 1
    b = retreat[:n].copy()
    keys, items = np.empty(n + len(arcs.head)), np.empty(n + len(arcs.head), np.int32)
    size = 0
    for v in range(n):
        if b[v] < np.inf:
            size = push(keys, items, size, b[v], np.int32(v))
    while size > 0:
        key = keys[0]
        v = items[0]
        size = drop_first(keys, items, size)
        if key > b[v]:
            continue
        for a in range(start[v], start[v + 1]):
            d = key + arcs.data[BACK, a]
            if d < b[arcs.head[a]]:
                b[arcs.head[a]] = d
                size = push(keys, items, size, d, arcs.head[a])
    return b


@part
def _count(targets, v):  # type: ignore[no-untyped-def]
    n = 0
    for t in targets:
        if t == v:
            n += 1
    return n


@kernel
def charge_needed(in_start, in_arc, in_tail, arcs, least_b, seeds, offsets, targets, bound):  # type: ignore[no-untyped-def]
    """A lower bound of the charge over reserve with which a chair can come from a node to a seed, the way back kept.

    ``need(u) = min over arcs of max(energy + need(v), energy + back + least_b(u) where unverified)``: a bottleneck that grows along
    the way, so Dijkstra settles it. Stops when the targets are settled or the need passes ``bound``. Returns the field and its radius.
    """
    n = len(in_start) - 1
    need = np.full(n, np.inf)
    done = np.zeros(n, np.bool_)
    keys, items = np.empty(len(in_arc) + len(seeds) + 1), np.empty(len(in_arc) + len(seeds) + 1, np.int32)
    size = 0
    for i in range(len(seeds)):
        if offsets[i] < need[seeds[i]]:
            need[seeds[i]] = offsets[i]
            size = push(keys, items, size, offsets[i], seeds[i])
    waiting = len(targets)
    while size > 0:
        key = keys[0]
        if key > bound or waiting == 0:
            return need, key
        v = items[0]
        size = drop_first(keys, items, size)
        if done[v]:
            continue
        done[v] = True
        waiting -= _count(targets, v)
        for k in range(in_start[v], in_start[v + 1]):
            a, u = in_arc[k], in_tail[k]
            d = key + arcs.data[ENERGY, a]
            if arcs.is_unverified[a]:
                d = max(d, arcs.data[ENERGY, a] + arcs.data[BACK, a] + least_b[u])
            if d < need[u]:
                need[u] = d
                size = push(keys, items, size, d, u)
    return need, np.inf
