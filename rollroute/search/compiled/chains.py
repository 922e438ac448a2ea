"""Kernels that leave out what a way can't branch at: dead ends, and runs of nodes with two neighbours.

Three in five nodes of a street map only bend a line, and a third of the others hang on dead ends.
They are taken out of the search and put back into the answer.

**Dead ends** (trees that hang on one node) are peeled off leaf by leaf, unless the caller keeps a node in them (a stop or a refuge).
A way that goes in and comes out again has spent charge and time for nothing: nothing in there gives charge, and without a refuge every
retreat from in there leads out again, so ``b`` at the node where the tree hangs is no less afterwards.

**Chains** become one arc in each direction. A node stays where it has another number of neighbours, where a one-way piece begins or ends,
or where the caller says so. So every way into or out of the inside of a chain runs along the chain to a kept node.
Turning around inside a chain never helps: it costs charge and time, and it can't shorten the retreat, since along a clear chain
``r`` already knows the way back, and inside an unverified one ``r`` is infinite.

A piece that a chair can drive one way only is in the chains of both directions, and the arc that it bars weighs inf.
A start or goal beside it still has the part of the chain up to there.

Where the way back is asked for, a node stays where clear meets unverified (``mark_meetings``): then a chain, with the branch of a dead end
that leads to it, is of one kind as far as it can be driven.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.kernel import kernel, part

N_OUT, X_OUT, N_IN, X_IN = range(4)  # edges out of and into a node: how many, and all their numbers XORed: of one edge, its number


@kernel
def mark_meetings(tail, head, passable, unverified, keep):  # type: ignore[no-untyped-def]
    """Set ``keep[v]`` where an edge that is clear and one that is unverified meet, both passable."""
    status = np.full(len(keep), -1, np.int8)
    for e in range(len(tail)):
        if not passable[e]:
            continue
        doubtful = np.int8(unverified[e])
        for v in (tail[e], head[e]):
            if status[v] != doubtful:
                keep[v] = keep[v] or status[v] >= 0
                status[v] = doubtful


@kernel
def mark_open(passable, reverse, is_open):  # type: ignore[no-untyped-def]
    """Set ``is_open[e]`` of pieces that are passable in one direction at least. Returns how many edges that changed."""
    n = 0
    for e in range(len(passable)):
        if not is_open[e] and (passable[e] or (reverse[e] >= 0 and passable[reverse[e]])):
            is_open[e] = True
            n += 1
    return n


@kernel
def peel(n_nodes, tail, head, is_open, keep, is_alive, tree):  # type: ignore[no-untyped-def]  # noqa: C901
    """Peel dead ends. Sets ``is_alive`` of the edges that stay, ``keep`` of nodes that must stay, and the rows of ``tree``.

    tree : (3, n_nodes) for peeled nodes the node that they hang on, the edge up to it and the edge down from it; −1 where there is none
    """
    edges = np.zeros((n_nodes, 4), np.int32)
    for e in range(len(tail)):
        is_alive[e] = is_open[e]
        if not is_open[e]:
            continue
        u, v = tail[e], head[e]
        edges[u, N_OUT] += 1
        edges[u, X_OUT] ^= e
        edges[v, N_IN] += 1
        edges[v, X_IN] ^= e
        if u == v:
            keep[u] = True
    for leaf in range(n_nodes):
        v = leaf
        while not keep[v] and tree[0, v] < 0:
            n_out, n_in = edges[v, N_OUT], edges[v, N_IN]
            if n_out > 1 or n_in > 1 or n_out + n_in == 0:
                break
            up, down = edges[v, X_OUT], edges[v, X_IN]
            onto = head[up] if n_out else tail[down]
            if n_out and n_in and tail[down] != onto:
                break
            tree[0, v] = onto
            if n_out:
                tree[1, v] = up
                is_alive[up] = False
                edges[onto, N_IN] -= 1
                edges[onto, X_IN] ^= up
            if n_in:
                tree[2, v] = down
                is_alive[down] = False
                edges[onto, N_OUT] -= 1
                edges[onto, X_OUT] ^= down
            if edges[onto, N_OUT] + edges[onto, N_IN] == 0:
                keep[onto] = True  # the last node of a town that is one tree
            v = onto


@kernel
def mark_kept(n_nodes, tail, head, is_alive, keep):  # type: ignore[no-untyped-def]
    """Set ``keep[v]`` for every node that is not the inside of a chain."""
    near = np.full((n_nodes, 2), -1, np.int32)  # the first two neighbours
    arms = np.zeros((n_nodes, 4), np.int8)  # edges out to and in from each of them
    for e in range(len(tail)):
        if not is_alive[e]:
            continue
        for side in range(2):
            v = tail[e] if side == 0 else head[e]
            other = head[e] if side == 0 else tail[e]
            if keep[v]:
                continue
            slot = 0 if near[v, 0] == other or near[v, 0] < 0 else 1
            if near[v, slot] >= 0 and near[v, slot] != other:
                keep[v] = True
                continue
            near[v, slot] = other
            arms[v, 2 * slot + side] += 1
            if arms[v, 2 * slot + side] > 1:
                keep[v] = True
    for v in range(n_nodes):
        if keep[v] or near[v, 0] < 0:
            continue
        is_two_way = arms[v, 0] == 1 and arms[v, 1] == 1 and arms[v, 2] == 1 and arms[v, 3] == 1
        is_one_way = arms[v, 0] + arms[v, 3] == 2 and arms[v, 1] + arms[v, 2] == 0
        is_other_way = arms[v, 1] + arms[v, 2] == 2 and arms[v, 0] + arms[v, 3] == 0
        keep[v] = not (near[v, 1] >= 0 and (is_two_way or is_one_way or is_other_way))


@kernel
def sort_edges(n_nodes, node, is_alive):  # type: ignore[no-untyped-def]
    """``(start, edge)``: the edges with ``node[e] == v`` that are alive are ``edge[start[v]:start[v + 1]]``, in rising number."""
    start = np.zeros(n_nodes + 2, np.int32)
    for e in range(len(node)):
        if is_alive[e]:
            start[node[e] + 2] += 1
    for v in range(n_nodes):
        start[v + 2] += start[v + 1]
    edge = np.empty(start[n_nodes + 1], np.int32)
    for e in range(len(node)):
        if is_alive[e]:
            edge[start[node[e] + 1]] = e
            start[node[e] + 1] += 1
    return start[: n_nodes + 1], edge


@part
def _onward(e, out_start, out_edge, head, tail):  # type: ignore[no-untyped-def]
    """The edge that leads on from the head of ``e`` without turning around; −1 where there is none."""
    v = head[e]
    for k in range(out_start[v], out_start[v + 1]):
        if head[out_edge[k]] != tail[e]:
            return out_edge[k]
    return -1


@kernel
def walk_chains(kept, out_start, out_edge, head, tail, keep, index, host, place):  # type: ignore[no-untyped-def]
    """Every arc's edges ``chain_edge[chain_start[a]:chain_start[a + 1]]`` and its ends; for nodes inside, the arcs and where on them."""
    n_most = 0
    for u in kept:
        n_most += out_start[u + 1] - out_start[u]
    chain_start, ends = np.zeros(n_most + 1, np.int32), np.empty((2, n_most), np.int32)
    chain_edge = np.empty(len(out_edge), np.int32)
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
            if e < 0:
                at = begin
                continue
            for i in range(begin, at - 1):
                v = head[chain_edge[i]]
                slot = 0 if host[v, 0] < 0 else 1
                host[v, slot] = arc
                place[v, slot] = i - begin + 1
            ends[0, arc] = index[u]
            ends[1, arc] = index[head[e]]
            arc += 1
            chain_start[arc] = at
    return chain_start[: arc + 1], chain_edge[:at], ends[:, :arc]


@kernel
def add_up(chain_start, chain_edge, passable, cost, time, energy, closes, back):  # type: ignore[no-untyped-def]
    """(5, n_arcs): cost, time, energy, the latest departure that meets every closing, energy back; inf where an edge is barred."""
    sums = np.empty((5, len(chain_start) - 1))
    for arc in range(len(chain_start) - 1):
        c = t = w = b = 0.0
        due = np.inf
        for i in range(chain_start[arc], chain_start[arc + 1]):
            e = chain_edge[i]
            if not passable[e]:
                c = t = w = b = due = np.inf
                break
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
    return sums


@kernel
def without_barred(in_start, in_arc, in_tail, energy):  # type: ignore[no-untyped-def]
    """The arcs into every node without those that weigh inf."""
    start, n = np.zeros_like(in_start), 0
    arc, tail = np.empty_like(in_arc), np.empty_like(in_tail)
    for v in range(len(in_start) - 1):
        for k in range(in_start[v], in_start[v + 1]):
            if energy[in_arc[k]] < np.inf:
                arc[n], tail[n] = in_arc[k], in_tail[k]
                n += 1
        start[v + 1] = n
    return start, arc[:n], tail[:n]


@kernel
def energy_back(reverse, passable, unverified, sure, energy, closes, until_s):  # type: ignore[no-untyped-def]
    """``SearchGraph.back_wh``; ``sure`` is empty where the graph does not give it."""
    back = np.full(len(reverse), np.inf)
    for e in range(len(reverse)):
        other = reverse[e]
        is_sure = sure[e] if len(sure) > 0 else not unverified[other] or unverified[e]
        if other >= 0 and is_sure and passable[other] and closes[other] >= until_s:
            back[e] = energy[other]
    return back
