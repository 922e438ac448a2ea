"""Completions: what following a field's tree from a node to its goal costs and asks for.

For the way along the tree from ``v`` the table holds cost, time, energy, the latest departure, and the charge that it needs.
With the retreat ``b`` at ``v`` the charge needed is at most

    max( ENERGY, min( NEED, NEED_B + b ) )        (reserve apart)

since the rule before the i-th unverified arc asks for ``min(a_i, c_i + b)``, a retreat to some node on the way or all the way back through
``v``, and ``max_i min(a_i, c_i + b) <= min(max a_i, max c_i + b)``. A label that meets it has an answer at hand: an upper bound.
"""

from __future__ import annotations

import threading

import numpy as np

from rollroute.search.compiled.growing import Field
from rollroute.search.compiled.kernel import kernel
from rollroute.search.compiled.tables import BACK, DUE, ENERGY, EXTRA, N_COLUMNS, TIME, Arcs
from rollroute.search.problem import Floats


@kernel
def complete(begin, n_settled, order, next_arc, arcs, retreat, seeds, table):  # type: ignore[no-untyped-def]
    """Fill ``table[v]`` for the nodes ``order[begin:n_settled]``; columns as in ``tables``. ``seeds`` holds the rows at the seeds."""
    for k in range(begin, n_settled):
        v = order[k]
        a = next_arc[v]
        if a < 0:
            for column in range(8):
                table[v, column] = seeds[-1 - a, column]
            continue
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


class Completions:
    """The table of one field for one set of refuges, filled as far as the field has grown."""

    def __init__(self, field: Field, arcs: Arcs, retreat: Floats, seeds: Floats) -> None:
        self.field, self._arcs, self._retreat, self._seeds = field, arcs, retreat, seeds
        self.table = np.empty((field.skeleton.n_nodes, N_COLUMNS))
        self._n_filled = 0
        self._lock = threading.Lock()

    def fill(self) -> tuple[Floats, Floats, float]:
        """``(table, dist, radius)``: node ``v`` has a completion where ``dist[v] < radius``."""
        with self._lock:
            radius, n_settled = self.field.snapshot()
            if n_settled > self._n_filled:
                f = self.field
                complete(self._n_filled, n_settled, f.order, f.next_arc, self._arcs, self._retreat, self._seeds, self.table)
                self._n_filled = n_settled
            return self.table, self.field.dist, radius


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
