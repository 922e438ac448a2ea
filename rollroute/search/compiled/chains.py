"""Kernels that contract chains: runs of nodes with two neighbours become one arc in each direction.

Three in five nodes of a street map only bend a line. They are taken out of the search and put back into the answer.
A node stays where it has another number of neighbours, where the way on is open from one side only, where clear meets unverified,
or where the caller says so. So every way into or out of the inside of a chain runs along the chain to a kept node.
Turning around inside a chain never helps: it costs charge and time, and it can't shorten the retreat, since along a clear chain
``r`` already knows the way back, and inside an unverified one ``r`` is infinite.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.kernel import kernel, part


@kernel
def mark_kept(n_nodes, tail, head, passable, unverified, keep):  # type: ignore[no-untyped-def]
    """Set ``keep[v]`` for every node that is not the inside of a chain."""
    near = np.full((n_nodes, 2), -1, np.int32)  # the first two neighbours
    arms = np.zeros((n_nodes, 4), np.int8)  # edges out to and in from each of them
    status = np.full(n_nodes, -1, np.int8)
    for e in range(len(tail)):
        if not passable[e]:
            continue
        for side in range(2):
            v = tail[e] if side == 0 else head[e]
            other = head[e] if side == 0 else tail[e]
            if keep[v]:
                continue
            if other == v or (status[v] >= 0 and status[v] != unverified[e]):
                keep[v] = True
                continue
            status[v] = unverified[e]
            slot = 0 if near[v, 0] == other or near[v, 0] < 0 else 1
            if near[v, slot] >= 0 and near[v, slot] != other:
                keep[v] = True
                continue
            near[v, slot] = other
            arms[v, 2 * slot + side] += 1
            if arms[v, 2 * slot + side] > 1:
                keep[v] = True
    for v in range(n_nodes):
        is_two_way = arms[v, 0] == 1 and arms[v, 1] == 1 and arms[v, 2] == 1 and arms[v, 3] == 1
        is_one_way = arms[v, 0] + arms[v, 3] == 2 and arms[v, 1] + arms[v, 2] == 0
        is_other_way = arms[v, 1] + arms[v, 2] == 2 and arms[v, 0] + arms[v, 3] == 0
        if near[v, 0] >= 0 and not (near[v, 1] >= 0 and (is_two_way or is_one_way or is_other_way)):
            keep[v] = True


@kernel
def count_chains(kept, out_start, out_edge, head, tail, keep):  # type: ignore[no-untyped-def]
    """Number of arcs and of edges in all chains from kept node to kept node."""
    n_arcs = 0
    n_edges = 0
    for u in kept:
        for k in range(out_start[u], out_start[u + 1]):
            length = 1
            e = out_edge[k]
            while not keep[head[e]]:
                e = _onward(e, out_start, out_edge, head, tail)
                if e < 0:
                    break
                length += 1
            if e >= 0:
                n_arcs += 1
                n_edges += length
    return n_arcs, n_edges


@part
def _onward(e, out_start, out_edge, head, tail):  # type: ignore[no-untyped-def]
    """The edge that leads on from the head of ``e`` without turning around; −1 where there is none."""
    v = head[e]
    for k in range(out_start[v], out_start[v + 1]):
        if head[out_edge[k]] != tail[e]:
            return out_edge[k]
    return -1


@kernel
def walk_chains(kept, out_start, out_edge, head, tail, keep, index, chain_start, chain_edge, ends, host, place):  # type: ignore[no-untyped-def]
    """Write every arc's edges, its two ends, and for every node inside a chain the arcs that pass it and where."""
    arc = 0
    at = 0
    for u in kept:
        for k in range(out_start[u], out_start[u + 1]):
            e = out_edge[k]
            begin = at
            while e >= 0:
                chain_edge[at] = e
                at += 1
                if keep[head[e]]:
                    break
                e = _onward(e, out_start, out_edge, head, tail)
                if e >= 0 and at >= len(chain_edge):
                    e = -1
            if e < 0:
                at = begin
                continue
            for i in range(begin, at - 1):
                v = head[chain_edge[i]]
                slot = 0 if host[v, 0] < 0 else 1
                host[v, slot] = arc
                place[v, slot] = i - begin + 1
            ends[arc, 0] = index[u]
            ends[arc, 1] = index[head[e]]
            arc += 1
            chain_start[arc] = at


@kernel
def add_up(chain_start, chain_edge, cost, time, energy, closes, back, sums):  # type: ignore[no-untyped-def]
    """Per arc: cost, time, energy, the latest departure that meets every closing, energy back."""
    for arc in range(len(chain_start) - 1):
        c = t = w = b = 0.0
        due = np.inf
        for i in range(chain_start[arc], chain_start[arc + 1]):
            e = chain_edge[i]
            c += cost[e]
            t += time[e]
            w += energy[e]
            b += back[e]
            due = min(due, closes[e] - t)
        sums[0, arc] = c
        sums[1, arc] = t
        sums[2, arc] = w
        sums[3, arc] = due
        sums[4, arc] = b
