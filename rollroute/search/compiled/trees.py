"""Completions: what following a field's tree from a node to its goal costs and asks for.

For the way along the tree from ``v`` the table holds cost, time, energy, the latest departure, and the charge that it needs.
With the retreat ``b`` at ``v`` the charge needed is at most

    max( ENERGY, min( NEED, NEED_B + b ) )        (reserve apart)

since the rule before the i-th unverified arc asks for ``min(a_i, c_i + b)``, a retreat to some node on the way or all the way back through
``v``, and ``max_i min(a_i, c_i + b) <= min(max a_i, max c_i + b)``. A label that meets it has an answer at hand: an upper bound.

Rows are filled where a label first reads them, along the tree down to the first row that is filled already: most settled nodes
are never read.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.kernel import part
from rollroute.search.compiled.tables import BACK, DUE, ENERGY, EXTRA, N_COLUMNS, TIME, Arcs
from rollroute.search.problem import Floats


@part
def complete(trees, k, arcs, retreat, v):  # type: ignore[no-untyped-def]
    """Fill row ``v`` of tree ``k``, and those of the nodes that its tree leads over; ``dist[v] < radius`` must hold."""
    next_arc, is_filled, path = trees.next_arcs[k], trees.is_filled[k], trees.path
    first_seed = trees.n_goal if k == 3 else 0
    n = 0
    u = np.int64(v)
    while not is_filled[u]:
        path[n] = u
        n += 1
        is_filled[u] = True
        if next_arc[u] < 0:
            break
        u = np.int64(arcs.head[next_arc[u]])
    while n > 0:
        n -= 1
        u = np.int64(path[n])
        if next_arc[u] >= 0:
            _lead_on(trees.rows[k], arcs, retreat, u, next_arc[u])
        else:
            for column in range(N_COLUMNS):
                trees.rows[k, u, column] = trees.seeds[first_seed - 1 - next_arc[u], column]


@part
def _lead_on(table, arcs, retreat, v, a):  # type: ignore[no-untyped-def]
    """Fill row ``v`` of a tree's table from the row at the head of arc ``a``; columns as in ``tables``."""
    u = arcs.head[a]
    energy = arcs.data[ENERGY, a]
    table[v, 0] = arcs.data[EXTRA, a] + arcs.data[TIME, a] + table[u, 0]
    table[v, 1] = arcs.data[TIME, a] + table[u, 1]
    table[v, 2] = energy + table[u, 2]
    if table[u, 4] == -np.inf:  # nothing unverified ahead
        table[v, 3] = -np.inf
        table[v, 4] = -np.inf
    else:
        table[v, 3] = energy + min(table[u, 3], table[u, 4] + retreat[u])
        table[v, 4] = energy + table[u, 4] + arcs.data[BACK, a]
    if arcs.is_unverified[a]:
        table[v, 3] = np.inf
        table[v, 4] = max(table[v, 4], energy + arcs.data[BACK, a])
    table[v, 5] = min(arcs.data[DUE, a], table[u, 5] - arcs.data[TIME, a])
    table[v, 6] = table[u, 6]
    table[v, 7] = table[u, 7]


def goal_rows(loose: Arcs) -> Floats:
    """Rows at the tails of loose arcs to a goal."""
    rows = np.zeros((max(len(loose.head), 1), N_COLUMNS))
    for i in range(len(loose.head)):
        extra, time, energy, due, back = loose.data[:, i].tolist()
        need, need_b = (np.inf, energy + back) if loose.is_unverified[i] else (-np.inf, -np.inf)
        rows[i] = (extra + time, time, energy, need, need_b, due, -1.0, -1.0)
    return rows


def stop_rows(nodes: list[int]) -> Floats:
    """Rows at stops, for the field that leads to one of them."""
    rows = np.zeros((len(nodes), N_COLUMNS))
    for i, node in enumerate(nodes):
        rows[i] = (0.0, 0.0, 0.0, -np.inf, -np.inf, np.inf, i, node)
    return rows
