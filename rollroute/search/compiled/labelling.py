"""The label search with every rule, compiled: the same labels and the same proof as ``search.labels``, with two additions.

* Every label made is tried against completions (``trees``): a way from its node to a goal whose needs are known in O(1).
  What meets them is a route that keeps every rule, so an upper bound is at hand early and prunes (the lower bound of the A* order is
  ``Lower``: relaxations, with energy priced by a multiplier, Handler and Zang 1980; Beasley and Christofides 1989).
* At the limit of labels the best completion stands with the least key in the heap as the proven lower bound.

Rows of ``values``: time0, extra, x_lo, x_hi, along, used, b, next at the node. Rows of ``numbers``: node, stop, via, parent.
``decided`` holds the parent's x where charging begins.
``via`` is an arc, ``n_arcs + i`` for loose arc ``i``, −1 where charging begins. The start is node ``n + 1``, the goals are node ``n``.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.charging import SLACK, charge_at, curve_when, decisions, dominates, least_x
from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import lean, part
from rollroute.search.compiled.tables import BACK, DUE, ENERGY, EXTRA, TIME, Pool, Scene
from rollroute.search.compiled.trees import complete

N_VALUES, N_NUMBERS = 8, 4
NEXT = 7  # column of ``values``
CHECKS_PER_LABEL = 200  # so many comparisons of labels count as one label of work
SHARE = 1e-10  # two costs closer than this share of each other are one cost: rounding must not keep a proven search going


@part
def _left(lower, rules, stops, values, numbers, i):  # type: ignore[no-untyped-def]
    """A lower bound of the cost from label ``i`` to a goal; inf where it can't get there."""
    v = numbers[i, 0]
    s = np.int64(numbers[i, 1])
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


@part
def _fits(rules, stops, row, time0, x_lo, x_hi, s, along, used, b):  # type: ignore[no-untyped-def]
    """The least ``x`` with which a label can follow a completion to its end; inf where it can't."""
    need = row[2]
    if rules.way_back:
        need = max(need, min(row[3], row[4] + b))
    x = least_x(stops, s, along, used, x_lo, x_hi, need + rules.reserve)
    if time0 + x > row[5] + SLACK or time0 + x + row[1] > rules.latest + SLACK:
        return np.inf
    return x


@part
def _try(scene, values, numbers, i, best, best_cost):  # type: ignore[no-untyped-def]
    """Try label ``i`` against the completions. ``best``: label, tree, its x, x at the stop between. Returns the least cost known."""
    rules, stops, trees = scene.rules, scene.stops, scene.trees
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
    s = np.int64(numbers[i, 1])
    for k in range(3):
        dist = trees.dists[k]
        if len(dist) == 0 or not dist[v] < trees.radius[k]:
            continue
        if not trees.is_filled[k, v]:
            complete(trees, k, scene.arcs, scene.retreat, v)
        row = trees.rows[k, v]
        if time0 + x_lo + extra + row[0] >= best_cost:
            continue
        x = _fits(rules, stops, row, time0, x_lo, x_hi, s, along, used, b)
        if time0 + x + extra + row[0] < best_cost:
            best_cost = time0 + x + extra + row[0]
            best[0], best[1], best[2], best[3] = i, k, x, 0.0
    dist = trees.dists[3]
    if len(dist) == 0 or not dist[v] < trees.radius[3] or time0 + x_lo + extra + dist[v] >= best_cost:
        return best_cost
    return _try_stop(scene, values, i, v, s, best, best_cost)


@part
def _try_stop(scene, values, i, v, s, best, best_cost):  # type: ignore[no-untyped-def]
    """The completion over one stop, for a label that may beat ``best_cost`` by it."""
    rules, stops, trees = scene.rules, scene.stops, scene.trees
    time0, extra, along, used = values[i, 0], values[i, 1], values[i, 4], values[i, 5]
    if not trees.is_filled[3, v]:
        complete(trees, 3, scene.arcs, scene.retreat, v)
    row = trees.rows[3, v]
    x = _fits(rules, stops, row, time0, values[i, 2], values[i, 3], s, along, used, values[i, 6])
    stop, node = np.int64(row[6]), np.int64(row[7])
    if x == np.inf or not trees.dists[2][node] < trees.radius[2]:
        return best_cost
    begins = max(time0 + x + row[1], stops.opens[stop]) + stops.setup[stop]
    had = curve_when(stops, stop, charge_at(stops, s, along, used, x) - row[2])
    x_max = min(stops.end[stop] - had, stops.closes[stop] - begins)
    if had == np.inf or x_max <= 0.0:
        return best_cost
    if not trees.is_filled[2, node]:
        complete(trees, 2, scene.arcs, scene.retreat, node)
    onward = trees.rows[2, node]
    charged = _fits(rules, stops, onward, begins, 0.0, x_max, stop, had, 0.0, scene.retreat[node])
    cost = begins - row[1] + extra + row[0] + charged + onward[0]
    if cost < best_cost:
        best_cost = cost
        best[0], best[1], best[2], best[3] = i, 3, x, charged
    return best_cost


@part
def _drive(rules, stops, arcs, a, b_limit, values, numbers, i, j):  # type: ignore[no-untyped-def]
    """Write label ``j``: label ``i`` driven over arc ``a`` of ``arcs``. ``b_limit`` is r at the head. Returns if the rules allow it."""
    s = np.int64(numbers[i, 1])
    energy = arcs.data[ENERGY, a]
    need = rules.reserve + energy
    b = values[i, 6]
    if rules.way_back:
        if arcs.is_unverified[a]:
            need += arcs.data[BACK, a] + b
        b = min(b_limit, b + arcs.data[BACK, a])
    if need == np.inf:
        return False
    x_lo = least_x(stops, s, values[i, 4], values[i, 5], values[i, 2], values[i, 3], need)
    time0 = values[i, 0]
    if x_lo == np.inf or time0 + x_lo > arcs.data[DUE, a] + SLACK:
        return False
    values[j, 0] = time0 + arcs.data[TIME, a]
    values[j, 1] = values[i, 1] + arcs.data[EXTRA, a]
    values[j, 2] = x_lo
    values[j, 3] = max(x_lo, min(values[i, 3], arcs.data[DUE, a] - time0))
    values[j, 4] = values[i, 4]
    values[j, 5] = values[i, 5] + energy
    values[j, 6] = b
    numbers[j, 0] = arcs.head[a]
    numbers[j, 1] = s
    numbers[j, 3] = i
    return True


@part
def _is_dominated(scene, pool, j):  # type: ignore[no-untyped-def]
    """Whether label ``j`` may be dropped. Reads one row per label where there are no stops: that row is one line of the cache."""
    values = pool.values
    i = np.int64(pool.first[pool.numbers[j, 0]])
    n = 0
    dropped = False
    while i >= 0 and not dropped:
        if len(scene.stops.top) > 0:
            dropped = dominates(scene.stops, scene.rules, values, pool.numbers, i, j)
        else:
            dropped = _is_no_better(scene.rules, values, i, j)
        i = np.int64(values[i, NEXT])
        n += 1
    pool.sizes[2] += n
    return dropped or n >= scene.rules.kept


@part
def _is_no_better(rules, values, i, j):  # type: ignore[no-untyped-def]
    """Without stops: whether label ``j`` is no better than ``i`` in cost, charge, time and (charge − b or b); see ``search.labels``."""
    if values[i, 5] > values[j, 5] or values[i, 0] + values[i, 1] > values[j, 0] + values[j, 1]:
        return False
    if rules.time_matters and values[i, 0] > values[j, 0]:
        return False
    return not (rules.way_back and values[i, 6] > values[j, 6] and values[i, 5] + values[i, 6] > values[j, 5] + values[j, 6])


@part
def _plug_in(stops, values, numbers, parent_x, i, s, x, j):  # type: ignore[no-untyped-def]
    """Write label ``j``: label ``i``, having charged ``x`` at its last stop, begins at stop ``s``. Returns whether it can gain."""
    begins = max(values[i, 0] + x, stops.opens[s]) + stops.setup[s]
    along = curve_when(stops, s, charge_at(stops, np.int64(numbers[i, 1]), values[i, 4], values[i, 5], x))
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
    parent_x[j] = x
    numbers[j, 0] = numbers[i, 0]
    numbers[j, 1] = s
    numbers[j, 2] = -1
    numbers[j, 3] = i
    return True


@part
def _keep(scene, pool, cost):  # type: ignore[no-untyped-def]
    """Keep the label just written (number ``sizes[0]``) if it can still beat ``cost``. Returns the least cost known."""
    rules, values = scene.rules, pool.values
    j = pool.sizes[0]
    arrives = values[j, 0] + values[j, 2]
    own = arrives + values[j, 1]
    if pool.numbers[j, 0] == len(pool.first) - 2:  # a goal
        if arrives <= rules.latest + SLACK and own < cost:
            cost = own
            pool.best[0], pool.best[1], pool.best[2], pool.best[3] = j, -1, values[j, 2], 0.0
            pool.sizes[0] += 1
        return cost
    left = _left(scene.lower, rules, scene.stops, values, pool.numbers, j)
    if left == np.inf or own + left >= cost * (1.0 - SHARE) or _is_dominated(scene, pool, j):
        return cost
    cost = _try(scene, values, pool.numbers, j, pool.best, cost)
    pool.sizes[1] = push(pool.keys, pool.items, pool.sizes[1], own + left, np.int32(j))
    pool.sizes[0] += 1
    return cost


@part
def _follow(scene, pool, arcs, a, name, b_limit, i, cost):  # type: ignore[no-untyped-def]
    """Drive label ``i`` over arc ``a`` of a table, and keep what comes of it."""
    j = pool.sizes[0]
    pool.numbers[j, 2] = name
    if _drive(scene.rules, scene.stops, arcs, a, b_limit, pool.values, pool.numbers, i, j):
        cost = _keep(scene, pool, cost)
    return cost


@part
def _expand(scene, pool, i, cost, decided):  # type: ignore[no-untyped-def]
    """Keep what follows label ``i``: its arcs, a goal, a stop. Returns the least cost known."""
    links, stops = scene.links, scene.stops
    v = pool.numbers[i, 0]
    for a in range(links.start[v], links.start[v + 1]):
        cost = _follow(scene, pool, scene.arcs, np.int64(a), np.int64(a), scene.retreat[scene.arcs.head[a]], i, cost)
    at = links.to_goal[v]
    while at >= 0:
        cost = _follow(scene, pool, scene.loose, np.int64(at), np.int64(len(scene.arcs.head) + at), np.inf, i, cost)
        at = links.then[at]
    s = np.int64(stops.at[v])
    while s >= 0:
        if pool.numbers[i, 2] != -1 or pool.numbers[i, 1] != s:  # no second set-up without moving
            for k in range(decisions(stops, pool.values, pool.numbers, i, s, decided)):
                if _plug_in(stops, pool.values, pool.numbers, pool.parent_x, i, s, decided[k], pool.sizes[0]):
                    cost = _keep(scene, pool, cost)
        s = np.int64(stops.then[s])
    return cost


@lean
def run(scene, pool, cost, decided, widest):  # type: ignore[no-untyped-def]
    """Search on from where ``pool`` is, below a ``cost`` that is known. Returns ``(cost, bound)``; a bound of −1 asks for a wider pool.

    Where the bound equals the cost, the search is complete (and the cost proven, unless ``rules.kept`` labels at a node were the most).
    """
    links, sizes = scene.links, pool.sizes
    if sizes[0] == 1:  # nothing but the start
        for a in range(links.n_goal, len(scene.loose.head)):
            b_limit = scene.retreat[scene.loose.head[a]]
            cost = _follow(scene, pool, scene.loose, np.int64(a), np.int64(len(scene.arcs.head) + a), b_limit, np.int64(0), cost)
    while sizes[1] > 0:
        key = pool.keys[0]
        i = np.int64(pool.items[0])
        v = pool.numbers[i, 0]
        if key >= cost * (1.0 - SHARE):
            break
        if sizes[3] + sizes[2] // CHECKS_PER_LABEL >= scene.rules.limit:
            return cost, key
        if sizes[0] + widest + links.start[v + 1] - links.start[v] >= len(pool.keys):
            return cost, -1.0
        sizes[1] = drop_first(pool.keys, pool.items, sizes[1])
        if not _is_dominated(scene, pool, i):
            sizes[3] += 1
            pool.values[i, NEXT] = pool.first[v]
            pool.first[v] = i
            cost = _expand(scene, pool, i, cost, decided)
    return cost, cost


def search(scene: Scene, known: float) -> tuple[Pool, float, float, int]:
    """Run a search to its end or its limit: ``(pool, least cost, lower bound, work)``."""
    decided = np.empty(2 * scene.stops.time.shape[1] + 4)
    widest = 16 + len(scene.loose.head) + len(scene.stops.top) * len(decided)  # labels that one label can lead to, arcs apart
    pool = _begin(scene, 1024 + 2 * widest)
    cost, bound = run(scene, pool, known, decided, widest)
    while bound < 0.0:
        pool = _widen(pool)
        cost, bound = run(scene, pool, cost, decided, widest)
    return pool, float(cost), float(bound), int(pool.sizes[3] + pool.sizes[2] // CHECKS_PER_LABEL)


def _begin(scene: Scene, room: int) -> Pool:
    """A pool that holds the start."""
    n = len(scene.links.to_goal)
    values, numbers = np.zeros((room, N_VALUES)), np.full((room, N_NUMBERS), -1, np.int32)
    values[0, 4], values[0, 6] = scene.rules.charge, scene.rules.start_b
    numbers[0, 0], numbers[0, 2] = n + 1, -2
    first = np.full(n + 2, -1, np.int32)
    return Pool(values, numbers, np.zeros(room), first, np.empty(room), np.empty(room, np.int32), np.array([1, 0, 0, 0]), np.zeros(4))


def _widen(pool: Pool) -> Pool:
    """The pool with room for twice as many labels."""
    rows = ("values", "numbers", "parent_x", "keys", "items")
    return pool._replace(**{name: np.concatenate((getattr(pool, name), np.empty_like(getattr(pool, name)))) for name in rows})
