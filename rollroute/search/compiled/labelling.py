"""The label search with every rule, compiled: the same labels and the same proof as ``search.labels``, with two additions.

* Every label made is tried against completions (``trees``): a way from its node to a goal whose needs are known in O(1).
  What meets them is a route that keeps every rule, so an upper bound is at hand early and prunes (the lower bound of the A* order is
  ``Lower``: relaxations, with energy priced by a multiplier, Handler and Zang 1980; Beasley and Christofides 1989).
* At the limit of labels the best completion stands with the least key in the heap as the proven lower bound.

Rows of ``values``: time0, extra, x_lo, x_hi, along, used, b, parent_x. Rows of ``numbers``: node, stop, via, parent, next at the node.
``via`` is an arc, ``n_arcs + i`` for loose arc ``i``, −1 where charging begins. The start is node ``n + 1``, the goals are node ``n``.
"""

from __future__ import annotations

import numba as nb
import numpy as np

from rollroute.search.compiled.charging import SLACK, charge_at, curve_when, decisions, dominates, least_x
from rollroute.search.compiled.heap import drop_first, push

N_VALUES, N_NUMBERS = 8, 5
SHARE = 1e-10  # two costs closer than this share of each other are one cost: rounding must not keep a proven search going


@nb.njit(cache=True, nogil=True)
def _left(lower, rules, stops, values, numbers, i):  # type: ignore[no-untyped-def]
    """A lower bound of the cost from label ``i`` to a goal; inf where it can't get there."""
    v = numbers[i, 0]
    s = numbers[i, 1]
    radius = lower.radius
    most = charge_at(stops, s, values[i, 4], values[i, 5], values[i, 3]) - rules.reserve + SLACK
    if most < min(lower.need[v], radius[2]):
        return np.inf
    if len(lower.time) > 0 and values[i, 0] + values[i, 2] + min(lower.time[v], radius[5]) > rules.latest + SLACK:
        return np.inf
    left = min(lower.cost[v], radius[0])
    has = (charge_at(stops, s, values[i, 4], values[i, 5], values[i, 2]) - rules.reserve) * rules.per_wh
    if len(lower.priced) > 0:
        left = max(left, min(lower.priced[v], radius[3]) - has)
    if len(lower.via) > 0 and most < min(lower.energy[v], radius[1]):
        left = max(left, min(lower.via[v], radius[4]) - has)
    return left


@nb.njit(cache=True, nogil=True)
def _fits(rules, stops, row, time0, x_lo, x_hi, s, along, used, b):  # type: ignore[no-untyped-def]
    """The least ``x`` with which a label can follow a completion to its end; inf where it can't."""
    need = row[2]
    if rules.way_back:
        need = max(need, min(row[3], row[4] + b))
    x = least_x(stops, s, along, used, x_lo, x_hi, need + rules.reserve)
    if time0 + x > row[5] + SLACK or time0 + x + row[1] > rules.latest + SLACK:
        return np.inf
    return x


@nb.njit(cache=True, nogil=True)
def _try(rules, stops, retreat, trees, values, numbers, i, best, best_cost):  # type: ignore[no-untyped-def]
    """Try label ``i`` against the completions. ``best``: label, tree, its x, x at the stop between. Returns the least cost known."""
    v = numbers[i, 0]
    time0, extra, x_lo, x_hi, along, used, b = (
        values[i, 0],
        values[i, 1],
        values[i, 2],
        values[i, 3],
        values[i, 4],
        values[i, 5],
        values[i, 6],
    )
    s = numbers[i, 1]
    for k in range(3):
        dist = trees.dists[k]
        if len(dist) == 0 or not dist[v] < trees.radius[k]:
            continue
        row = trees.tables[k][v]
        if time0 + x_lo + extra + row[0] >= best_cost:
            continue
        x = _fits(rules, stops, row, time0, x_lo, x_hi, s, along, used, b)
        if time0 + x + extra + row[0] < best_cost:
            best_cost = time0 + x + extra + row[0]
            best[0], best[1], best[2], best[3] = i, k, x, 0.0
    dist = trees.dists[3]
    if len(dist) == 0 or not dist[v] < trees.radius[3] or time0 + x_lo + extra + dist[v] >= best_cost:
        return best_cost
    row = trees.tables[3][v]
    x = _fits(rules, stops, row, time0, x_lo, x_hi, s, along, used, b)
    stop, node = np.int64(row[6]), np.int64(row[7])
    if x == np.inf or not trees.dists[2][node] < trees.radius[2]:
        return best_cost
    begins = max(time0 + x + row[1], stops.opens[stop]) + stops.setup[stop]
    had = curve_when(stops, stop, charge_at(stops, s, along, used, x) - row[2])
    x_max = min(stops.end[stop] - had, stops.closes[stop] - begins)
    if had == np.inf or x_max <= 0.0:
        return best_cost
    onward = trees.tables[2][node]
    charged = _fits(rules, stops, onward, begins, 0.0, x_max, stop, had, 0.0, retreat[node])
    cost = begins - row[1] + extra + row[0] + charged + onward[0]
    if cost < best_cost:
        best_cost = cost
        best[0], best[1], best[2], best[3] = i, 3, x, charged
    return best_cost


@nb.njit(cache=True, nogil=True)
def _drive(rules, stops, arcs, a, b_limit, values, numbers, i, j):  # type: ignore[no-untyped-def]
    """Write label ``j``: label ``i`` driven over arc ``a`` of ``arcs``. ``b_limit`` is r at the head. Returns if the rules allow it."""
    s = numbers[i, 1]
    energy = arcs.energy[a]
    need = rules.reserve + energy
    b = values[i, 6]
    if rules.way_back:
        if arcs.is_unverified[a]:
            need += arcs.back[a] + b
        b = min(b_limit, b + arcs.back[a])
    if need == np.inf:
        return False
    x_lo = least_x(stops, s, values[i, 4], values[i, 5], values[i, 2], values[i, 3], need)
    time0 = values[i, 0]
    if x_lo == np.inf or time0 + x_lo > arcs.due[a] + SLACK:
        return False
    values[j, 0] = time0 + arcs.time[a]
    values[j, 1] = values[i, 1] + arcs.extra[a]
    values[j, 2] = x_lo
    values[j, 3] = max(x_lo, min(values[i, 3], arcs.due[a] - time0))
    values[j, 4] = values[i, 4]
    values[j, 5] = values[i, 5] + energy
    values[j, 6] = b
    values[j, 7] = 0.0
    numbers[j, 0] = arcs.head[a]
    numbers[j, 1] = s
    numbers[j, 3] = i
    return True


@nb.njit(cache=True, nogil=True)
def _is_dominated(rules, stops, values, numbers, first, j):  # type: ignore[no-untyped-def]
    i = first[numbers[j, 0]]
    while i >= 0:
        if dominates(stops, rules, values, numbers, i, j):
            return True
        i = numbers[i, 4]
    return False


@nb.njit(cache=True, nogil=True)
def _plug_in(stops, values, numbers, i, s, x, j):  # type: ignore[no-untyped-def]
    """Write label ``j``: label ``i``, having charged ``x`` at its last stop, begins at stop ``s``. Returns whether it can gain."""
    begins = max(values[i, 0] + x, stops.opens[s]) + stops.setup[s]
    along = curve_when(stops, s, charge_at(stops, numbers[i, 1], values[i, 4], values[i, 5], x))
    x_hi = min(stops.end[s] - along, stops.closes[s] - begins)
    if not x_hi > 0.0:
        return False
    values[j, 0] = begins
    values[j, 1] = values[i, 1]
    values[j, 2] = 0.0
    values[j, 3] = x_hi
    values[j, 4] = along
    values[j, 5] = 0.0
    values[j, 6] = values[i, 6]
    values[j, 7] = x
    numbers[j, 0] = numbers[i, 0]
    numbers[j, 1] = s
    numbers[j, 2] = -1
    numbers[j, 3] = i
    return True


@nb.njit(cache=True, nogil=True)
def _keep(lower, rules, stops, retreat, trees, values, numbers, first, keys, items, sizes, best, best_cost):  # type: ignore[no-untyped-def]
    """Keep the label just written (number ``sizes[0]``) if it can still matter. ``sizes``: labels, heap. Returns the least cost known."""
    j = sizes[0]
    v = numbers[j, 0]
    cost = values[j, 0] + values[j, 2] + values[j, 1]
    if v == len(first) - 2:  # a goal
        if values[j, 0] + values[j, 2] <= rules.latest + SLACK and cost < best_cost:
            best_cost = cost
            best[0], best[1], best[2], best[3] = j, -1, values[j, 2], 0.0
            sizes[0] += 1
        return best_cost
    left = _left(lower, rules, stops, values, numbers, j)
    if left == np.inf or cost + left >= best_cost * (1.0 - SHARE) or _is_dominated(rules, stops, values, numbers, first, j):
        return best_cost
    best_cost = _try(rules, stops, retreat, trees, values, numbers, j, best, best_cost)
    sizes[1] = push(keys, items, sizes[1], cost + left, np.int32(j))
    sizes[0] += 1
    return best_cost


@nb.njit(cache=True, nogil=True)
def _begin(arcs, loose, links, stops, retreat, lower, trees, rules, values, numbers, first, keys, items, sizes, best):  # type: ignore[no-untyped-def]
    """Write the label of the start (number 0) and keep those after each loose arc out of it. Returns the least cost known."""
    values[0, :] = 0.0
    values[0, 4], values[0, 6] = rules.charge, rules.start_b
    numbers[0, :] = -1
    numbers[0, 0], numbers[0, 2] = len(first) - 1, -2
    sizes[0] = 1
    cost = np.inf
    for a in range(links.n_goal, len(loose.head)):
        j = sizes[0]
        numbers[j, 2] = len(arcs.head) + a
        if _drive(rules, stops, loose, a, retreat[loose.head[a]], values, numbers, 0, j):
            cost = _keep(lower, rules, stops, retreat, trees, values, numbers, first, keys, items, sizes, best, cost)
    return cost


@nb.njit(cache=True, nogil=True)
def _expand(i, arcs, loose, links, stops, retreat, lower, trees, rules, values, numbers, first, keys, items, sizes, best, cost, decided):  # type: ignore[no-untyped-def]
    """Keep what follows label ``i``: its arcs, a goal, a stop. Returns the least cost known."""
    v = numbers[i, 0]
    for a in range(links.start[v], links.start[v + 1]):
        numbers[sizes[0], 2] = a
        if _drive(rules, stops, arcs, a, retreat[arcs.head[a]], values, numbers, i, sizes[0]):
            cost = _keep(lower, rules, stops, retreat, trees, values, numbers, first, keys, items, sizes, best, cost)
    a = links.to_goal[v]
    while a >= 0:
        numbers[sizes[0], 2] = len(arcs.head) + a
        if _drive(rules, stops, loose, a, np.inf, values, numbers, i, sizes[0]):
            cost = _keep(lower, rules, stops, retreat, trees, values, numbers, first, keys, items, sizes, best, cost)
        a = links.then[a]
    s = stops.at[v]
    while s >= 0:
        if numbers[i, 2] != -1 or numbers[i, 1] != s:  # no second set-up without moving
            for k in range(decisions(stops, values, numbers, i, s, decided)):
                if _plug_in(stops, values, numbers, i, s, decided[k], sizes[0]):
                    cost = _keep(lower, rules, stops, retreat, trees, values, numbers, first, keys, items, sizes, best, cost)
        s = stops.then[s]
    return cost


@nb.njit(cache=True, nogil=True)
def run(arcs, loose, links, stops, retreat, lower, trees, rules, best):  # type: ignore[no-untyped-def]
    """The search. Returns values, numbers, the least cost found, the proven lower bound, whether it is proven, and labels taken."""
    decided = np.empty(2 * stops.time.shape[1] + 4)
    widest = 16 + len(loose.head) + len(stops.top) * len(decided)  # labels that one label can lead to, arcs apart
    room = 1024 + 2 * widest
    values, numbers = np.empty((room, N_VALUES)), np.empty((room, N_NUMBERS), np.int32)
    keys, items = np.empty(room), np.empty(room, np.int32)
    first = np.full(len(links.to_goal) + 2, -1, np.int32)
    sizes = np.zeros(2, np.int64)
    n_taken = 0
    cost = _begin(arcs, loose, links, stops, retreat, lower, trees, rules, values, numbers, first, keys, items, sizes, best)
    while sizes[1] > 0:
        key = keys[0]
        if key >= cost * (1.0 - SHARE):
            break
        i = np.int64(items[0])
        sizes[1] = drop_first(keys, items, sizes[1])
        if _is_dominated(rules, stops, values, numbers, first, i):
            continue
        if n_taken >= rules.limit:
            return values, numbers, cost, key, False, n_taken
        n_taken += 1
        v = numbers[i, 0]
        numbers[i, 4] = first[v]
        first[v] = i
        while sizes[0] + widest + links.start[v + 1] - links.start[v] >= len(values):
            values, numbers = np.concatenate((values, np.empty_like(values))), np.concatenate((numbers, np.empty_like(numbers)))
            keys, items = np.concatenate((keys, np.empty_like(keys))), np.concatenate((items, np.empty_like(items)))
        cost = _expand(
            i, arcs, loose, links, stops, retreat, lower, trees, rules, values, numbers, first, keys, items, sizes, best, cost, decided
        )
    return values, numbers, cost, cost, True, n_taken
