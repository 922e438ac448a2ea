"""Kernels on a small part of the map: fields both ways, elimination of arcs, and the label search on what is left.

Nodes: 0 is the start, 1 the goal. Arcs are sorted by tail.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import doubled, kernel

SHARE = 1e-10  # see ``labelling.SHARE``


@kernel
def group(n, node):  # type: ignore[no-untyped-def]
    """``(start, item)``: the items with ``node[item] == v`` are ``item[start[v]:start[v + 1]]``."""
    start = np.zeros(n + 1, np.int32)
    for v in node:
        start[v + 1] += 1
    for v in range(n):
        start[v + 1] += start[v]
    fill = start.copy()
    item = np.empty(len(node), np.int32)
    for i in range(len(node)):
        item[fill[node[i]]] = i
        fill[node[i]] += 1
    return start, item


@kernel
def spread(start, item, end, cost, energy, price, source, keep):  # type: ignore[no-untyped-def]
    """Dijkstra from ``source`` over the arcs with ``keep``, weight cost + price × energy (price inf: energy alone).

    Returns distance, and cost, energy and arc along the tree.
    """
    n = len(start) - 1
    dist, along_cost, along_energy = np.full(n, np.inf), np.full(n, np.inf), np.full(n, np.inf)
    arc = np.full(n, -1, np.int32)
    keys, items = np.empty(len(item) + 2), np.empty(len(item) + 2, np.int32)
    dist[source] = along_cost[source] = along_energy[source] = 0.0
    size = push(keys, items, 0, 0.0, np.int32(source))
    while size > 0:
        key = keys[0]
        v = items[0]
        size = drop_first(keys, items, size)
        if key > dist[v]:
            continue
        for k in range(start[v], start[v + 1]):
            a = item[k]
            if not keep[a]:
                continue
            u = end[a]
            d = key + (energy[a] if price == np.inf else cost[a] + price * energy[a])
            if d < dist[u]:
                dist[u] = d
                along_cost[u] = along_cost[v] + cost[a]
                along_energy[u] = along_energy[v] + energy[a]
                arc[u] = a
                size = push(keys, items, size, d, u)
    return dist, along_cost, along_energy, arc


@kernel
def through(there_cost, there_energy, back_cost, back_energy, budget, best):  # type: ignore[no-untyped-def]
    """The cheapest way within ``budget`` by one tree to some node and by the other on: ``(cost, node)``, −1 where none beats ``best``."""
    node = -1
    for v in range(len(there_cost)):
        if there_energy[v] + back_energy[v] <= budget and there_cost[v] + back_cost[v] < best:
            best = there_cost[v] + back_cost[v]
            node = v
    return best, node


@kernel
def eliminate(tail, head, cost, energy, price, there, back, limit, keep):  # type: ignore[no-untyped-def]
    """Drop arcs that no way with sum of weights <= ``limit`` uses (Beasley and Christofides 1989). Returns how many are kept."""
    n = 0
    for a in range(len(tail)):
        if keep[a]:
            weight = energy[a] if price == np.inf else cost[a] + price * energy[a]
            if there[tail[a]] + weight + back[head[a]] > limit:
                keep[a] = False
            else:
                n += 1
    return n


@kernel
def label(start, head, cost, energy, keep, cost_left, cost_energy, energy_left, priced_left, price, budget, best_cost, limit):  # type: ignore[no-untyped-def]
    """Labels in the order of cost + cheapest rest; a label counts only with less energy than any before it at its node.

    This is BOA* (Hernández Ulloa et al., ICAPS 2020): ways to a node come in the order of cost, so one number per node tests dominance.
    A label whose cheapest rest keeps to the budget is finished: no other rest is cheaper.
    Returns (best cost, label, lower bound, is proven, labels taken) and the labels' nodes, arcs and parents.
    """
    n = len(start) - 1
    least = np.full(n, np.inf)
    room = 1024
    costs, energies = np.empty(room), np.empty(room)
    nodes, parents, via = np.empty(room, np.int32), np.empty(room, np.int32), np.empty(room, np.int32)
    keys, items = np.empty(room), np.empty(room, np.int32)
    costs[0] = energies[0] = 0.0
    nodes[0], parents[0], via[0] = 0, -1, -1
    made, size, taken, best = 1, push(keys, items, 0, cost_left[0], np.int32(0)), 0, -1
    while size > 0:
        key = keys[0]
        if key >= best_cost * (1.0 - SHARE):
            break
        if taken >= limit:
            return best_cost, best, key, False, taken, nodes, via, parents
        i = items[0]
        size = drop_first(keys, items, size)
        v = nodes[i]
        if energies[i] >= least[v]:
            continue
        least[v] = energies[i]
        taken += 1
        for a in range(start[v], start[v + 1]):
            u = head[a]
            w = energies[i] + energy[a]
            c = costs[i] + cost[a]
            if not keep[a] or w >= least[u] or w + energy_left[u] > budget:
                continue
            f = c + cost_left[u]
            if f >= best_cost * (1.0 - SHARE) or c + price * (w - budget) + priced_left[u] >= best_cost * (1.0 - SHARE):
                continue
            if made + 1 >= len(costs):
                costs, energies, keys = doubled(costs), doubled(energies), doubled(keys)
                nodes, parents, via, items = doubled(nodes), doubled(parents), doubled(via), doubled(items)
            costs[made], energies[made], nodes[made], parents[made], via[made] = c, w, u, i, a
            if w + cost_energy[u] <= budget:
                best_cost, best = f, made
            else:
                size = push(keys, items, size, f, np.int32(made))
            made += 1
    return best_cost, best, best_cost, True, taken, nodes, via, parents
