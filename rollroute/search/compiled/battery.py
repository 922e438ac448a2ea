"""The battery alone: the cheapest way that needs no more than a budget of energy.

1. the cheapest way, if it keeps to the budget; 2. the way of least energy: if that does not, there is none;
3. energy at a price between the two (Handler and Zang 1980): bounds from both sides, and usually a way close to the best;
4. what can't beat that way is eliminated (Beasley and Christofides 1989); 5. labels on what is left (``narrowing.label``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rollroute.search.compiled import exploring, narrowing
from rollroute.search.compiled.tables import ENERGY, EXTRA, TIME, Lower
from rollroute.search.compiled.towards import Trip
from rollroute.search.problem import Floats, Ints

NONE = np.empty(0)
MOST_PRICES = 12  # the dual has converged long before


@dataclass(slots=True)
class Found:
    """What is known: the best way so far (arc numbers) and its cost, the lower bound, and the price that gave the bound."""

    arcs: list[int] | None
    cost_s: float
    lower_s: float
    is_proven: bool
    price: float = 0.0
    n_labels: int = 0


@dataclass(slots=True)
class _Way:
    arcs: list[int]
    cost: float
    energy: float


def cheapest_within(trip: Trip, budget_wh: float, *, limit: int) -> Found:
    """The cheapest way with at most ``budget_wh``; ``arcs`` is ``None`` where there is none."""
    cheapest = cheapest_way(trip)
    if cheapest is None:
        return Found(None, math.inf, math.inf, True)
    if cheapest.energy <= budget_wh:
        return Found(cheapest.arcs, cheapest.cost, cheapest.cost, True)
    thriftiest = thriftiest_way(trip, budget_wh)
    if thriftiest is None:
        return Found(None, math.inf, math.inf, True)
    lower = relaxed(trip)
    found, price = _price(trip, lower, cheapest, thriftiest, budget_wh)
    if found.is_proven:
        return found
    return _narrow(trip, lower, found, price, budget_wh, limit)


def cheapest_way(trip: Trip) -> _Way | None:
    """The cheapest way, whatever it takes."""
    field = trip.towards.field(0.0)
    field.reach(trip.heads)
    _, first = trip.at_start(field, trip.begin_cost)
    return None if first < 0 else _way(trip, trip.along(field, first))


def thriftiest_way(trip: Trip, budget_wh: float) -> _Way | None:
    """The way of least energy, ``None`` where it takes more than the budget."""
    field = trip.towards.field("energy")
    field.reach(trip.heads, budget_wh)
    energy, first = trip.at_start(field, trip.table.data[ENERGY, len(trip.towards.loose) :])
    return None if first < 0 or energy > budget_wh else _way(trip, trip.along(field, first))


def relaxed(trip: Trip) -> Lower:
    """Lower bounds from the fields of cost and energy as far as they have grown."""
    cost, energy = trip.towards.field(0.0), trip.towards.field("energy")
    radius = np.array([cost.radius, energy.radius, energy.radius, 0.0, 0.0, 0.0])
    return Lower(cost.dist, energy.dist, energy.dist, NONE, NONE, NONE, radius)


def _way(trip: Trip, arcs: list[int]) -> _Way:
    cost, energy = sums(trip, arcs)
    return _Way(arcs, cost, energy)


def sums(trip: Trip, arcs: list[int]) -> tuple[float, float]:
    """Cost and energy of a list of arc numbers."""
    s = trip.ground.skeleton
    numbers = np.array(arcs)
    inner, loose = numbers[numbers < s.n_arcs], numbers[numbers >= s.n_arcs] - s.n_arcs
    cost = s.cost_s[inner].sum() + trip.table.data[EXTRA : TIME + 1, loose].sum()
    return float(cost), float(s.energy_wh[inner].sum() + trip.table.data[ENERGY, loose].sum())


def _price(trip: Trip, lower: Lower, over: _Way, within: _Way, budget: float) -> tuple[Found, float]:
    """The price of energy at which the cheapest way changes from over the budget to within it, and the best way seen on the way there."""
    arcs, links = trip.ground.arcs, trip.links
    best, bound, price_of_bound = within, over.cost, 0.0
    for _ in range(MOST_PRICES):
        if within.energy >= over.energy or within.cost <= over.cost:
            break
        price = (within.cost - over.cost) / (over.energy - within.energy)
        _, into, weight = exploring.explore(arcs, trip.table, links, lower, price, math.inf)
        way = _way(trip, _traced(trip, into))
        if weight - price * budget > bound:
            bound, price_of_bound = weight - price * budget, price
        if weight >= within.cost + price * within.energy - 1e-9 * abs(weight):
            break
        if way.energy <= budget:
            within = way
            best = way if way.cost < best.cost else best
        else:
            over = way
    is_proven = bound >= best.cost * (1 - narrowing.SHARE)
    return Found(best.arcs, best.cost, min(bound, best.cost), is_proven, price_of_bound), price_of_bound


def _traced(trip: Trip, into: Ints) -> list[int]:
    """The arcs from the start to the goal along ``into``."""
    n_arcs, tail = trip.ground.skeleton.n_arcs, trip.ground.skeleton.tail
    found = []
    v = trip.ground.skeleton.n_nodes
    while v >= 0:
        arc = int(into[v])
        found.append(arc)
        v = int(tail[arc]) if arc < n_arcs else trip.loose[arc - n_arcs].tail
    return found[::-1]


def _narrow(trip: Trip, lower: Lower, found: Found, price: float, budget: float, limit: int) -> Found:
    """Eliminate what can't beat the way found, and search the rest."""
    arcs, links = trip.ground.arcs, trip.links
    order, _, _ = exploring.explore(arcs, trip.table, links, lower, price, found.cost_s + price * budget)
    where = np.full(trip.ground.skeleton.n_nodes, -1, np.int32)
    n, tail, head, cost, energy, number = exploring.extract(arcs, trip.table, links, order, where)
    keep = np.ones(len(tail), np.bool_)
    (out, out_arc), (into, in_arc) = narrowing.group(n, tail), narrowing.group(n, head)
    best_cost, best = found.cost_s, found.arcs
    for weight in (price, math.inf, 0.0, price):
        there = narrowing.spread(out, out_arc, head, cost, energy, weight, 0, keep)
        back = narrowing.spread(into, in_arc, tail, cost, energy, weight, 1, keep)
        best_cost, node = narrowing.through(there[1], there[2], back[1], back[2], budget, best_cost)
        if node >= 0:
            best = number[_joined(there[3], back[3], tail, head, node)].tolist()
        bar = budget if weight == math.inf else best_cost + (weight * budget if weight else 0.0)
        if narrowing.eliminate(tail, head, cost, energy, weight, there[0], back[0], bar + 1e-9 * abs(bar), keep) == 0:
            break
    cheap = narrowing.spread(into, in_arc, tail, cost, energy, 0.0, 1, keep)
    thrifty = narrowing.spread(into, in_arc, tail, cost, energy, math.inf, 1, keep)
    priced = narrowing.spread(into, in_arc, tail, cost, energy, price, 1, keep)
    result = narrowing.label(out, head, cost, energy, keep, cheap[0], cheap[2], thrifty[0], priced[0], price, budget, best_cost, limit)
    best_cost, label, bound, is_proven, taken, nodes, via, parents = result
    if label >= 0:
        steps = _to_goal(cheap[3], head, nodes[label])
        while parents[label] >= 0:
            steps.insert(0, via[label])
            label = parents[label]
        best = number[steps].tolist()
    return Found(best, best_cost, max(bound, found.lower_s), is_proven, price, taken)


def _joined(there: Floats, back: Floats, tail: Floats, head: Floats, node: int) -> list[int]:
    before = []
    v = node
    while v != 0:
        before.append(int(there[v]))
        v = int(tail[there[v]])
    return before[::-1] + _to_goal(back, head, node)


def _to_goal(back: Floats, head: Floats, node: int) -> list[int]:
    steps = []
    while node != 1:
        steps.append(int(back[node]))
        node = int(head[back[node]])
    return steps
