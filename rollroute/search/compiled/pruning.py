"""Which arcs a chair from this start can use at all: three forward bounds, each a Dijkstra, repeated until no further arc falls out.

For a chair that keeps every rule and arrives at ``v`` (no stops for charging on the way),

* ``time(v)``: it has driven no shorter than the quickest way over usable arcs;
* ``used(v)``: it has used no less than the thriftiest way over usable arcs;
* ``held(v)``: used + b, what it has used with what it must keep for its retreat. Over an arc, used grows by the energy and b becomes
  ``min(r, b + back)``, so used + b becomes the lesser of (used + energy + r at the head) and (used + b) + energy + back: a Dijkstra with
  weight energy + back that may begin anywhere at ``used(v) + r(v)``.

An arc is out where the chair would be late at ``time``, out of charge at ``used``, or, being unverified, would break the way-back rule
``used + energy + back + b <= spare`` at ``held``. Taking arcs out raises the bounds, which takes more arcs out: bounds only rise, so what
is out stays out, and stopping early is exact too. Reduction by forward and backward bounds is common in resource-constrained shortest
paths (Aneja, Aggarwal and Nair 1983; from memory); that the retreat can be bounded so is our own.
"""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.heap import drop_first, push
from rollroute.search.compiled.kernel import kernel
from rollroute.search.compiled.tables import BACK, DUE, ENERGY, TIME, Arcs, Links
from rollroute.search.problem import Bools, Floats

ROUNDS = 4
ROOM = 1e-6  # Wh and s: far over the rounding of sums, so nothing is taken out that the labels would let through


@kernel
def spread_forward(start, arcs, usable, with_energy, with_back, limit, dist):  # type: ignore[no-untyped-def]
    """Least sum from the seeds in ``dist`` over usable arcs, weight ENERGY (+ BACK) or TIME; nothing over ``limit`` goes on."""
    room = len(arcs.head) + len(dist) + 1
    keys, items = np.empty(room), np.empty(room, np.int32)
    size = 0
    for v in range(len(dist)):
        if dist[v] <= limit:
            size = push(keys, items, size, dist[v], np.int32(v))
    while size > 0:
        key = keys[0]
        v = items[0]
        size = drop_first(keys, items, size)
        if key > dist[v]:
            continue
        for a in range(start[v], start[v + 1]):
            if not usable[a]:
                continue
            d = key + (arcs.data[ENERGY, a] if with_energy else arcs.data[TIME, a])
            if with_back:
                d += arcs.data[BACK, a]
            u = arcs.head[a]
            if d < dist[u] and d <= limit:
                dist[u] = d
                size = push(keys, items, size, d, u)


@kernel
def strike(start, arcs, time, used, held, left, spare, usable):  # type: ignore[no-untyped-def]
    """Take out the arcs that no chair can use; returns how many fell out."""
    n = 0
    for v in range(len(start) - 1):
        for a in range(start[v], start[v + 1]):
            if not usable[a]:
                continue
            energy = arcs.data[ENERGY, a]
            is_out = used[v] + energy + left[arcs.head[a]] > spare or time[v] > arcs.data[DUE, a]
            if is_out or (arcs.is_unverified[a] and held[v] + energy + arcs.data[BACK, a] > spare):
                usable[a] = False
                n += 1
    return n


class _Bounds:
    """The three bounds and the two masks of one question."""

    def __init__(self, arcs: Arcs, loose: Arcs, links: Links, retreat: Floats, spare: float, start_b: float | None) -> None:
        self.arcs, self.loose, self.links, self.start_b = arcs, loose, links, start_b
        self.n, self.spare = len(links.start) - 1, spare + ROOM
        self.retreat = retreat[: self.n]
        self.usable, self.usable_loose = np.ones(len(arcs.head), np.bool_), np.ones(len(loose.head), np.bool_)
        self.begin = [a for a in range(links.n_goal, len(loose.head)) if loose.head[a] < self.n]
        self.time, self.used, self.held = np.zeros(self.n), np.zeros(self.n), np.full(self.n, -np.inf)
        if start_b is not None:
            for a in self.begin:
                self.usable_loose[a] = not loose.is_unverified[a] or self._turned(a) + start_b <= self.spare

    def _turned(self, a: int) -> float:
        """Energy there and back over a loose arc."""
        return float(self.loose.data[ENERGY, a] + self.loose.data[BACK, a])

    def _seeds(self, values: list[float], dist: Floats) -> Floats:
        for a, value in zip(self.begin, values, strict=True):
            if self.usable_loose[a]:
                dist[self.loose.head[a]] = min(dist[self.loose.head[a]], value)
        return dist

    def spread(self, *, has_closings: bool) -> None:
        """Compute the bounds over the arcs that are left."""
        start, data = self.links.start, self.loose.data
        nowhere = np.full(self.n, np.inf)
        if has_closings:
            self.time = self._seeds(data[TIME, self.begin].tolist(), nowhere.copy())
            spread_forward(start, self.arcs, self.usable, False, False, np.inf, self.time)
            self.time -= ROOM
        self.used = self._seeds(data[ENERGY, self.begin].tolist(), nowhere)
        spread_forward(start, self.arcs, self.usable, True, False, self.spare, self.used)
        if self.start_b is not None:
            b = self.start_b
            self.held = self._seeds([self._turned(a) + b for a in self.begin], self.used + self.retreat)
            spread_forward(start, self.arcs, self.usable, True, True, self.spare, self.held)

    def strike_ends(self) -> None:
        """Take out the loose arcs to a goal that no chair can use."""
        for v in np.flatnonzero(self.links.to_goal >= 0).tolist():
            a = int(self.links.to_goal[v])
            while a >= 0:
                is_held = self.start_b is not None and self.loose.is_unverified[a] and self.held[v] + self._turned(a) > self.spare
                is_late = self.time[v] > self.loose.data[DUE, a]
                self.usable_loose[a] = not (is_held or is_late or self.used[v] + self.loose.data[ENERGY, a] > self.spare)
                a = int(self.links.then[a])


def usable_arcs(
    arcs: Arcs, loose: Arcs, links: Links, retreat: Floats, left: Floats, spare: float, start_b: float | None
) -> tuple[Bools, Bools]:
    """Masks of the arcs and of the loose arcs that a chair with ``spare`` Wh over its reserve can use.

    ``left`` is the least energy from each node to a goal; ``start_b`` the retreat at the start, ``None`` where no way back is asked for.
    """
    bounds = _Bounds(arcs, loose, links, retreat, spare, start_b)
    has_closings = bool((arcs.data[DUE] < np.inf).any() or (loose.data[DUE] < np.inf).any())
    for _ in range(ROUNDS):
        bounds.spread(has_closings=has_closings)
        if strike(links.start, arcs, bounds.time, bounds.used, bounds.held, left, bounds.spare, bounds.usable) == 0:
            break
    bounds.strike_ends()
    return bounds.usable, bounds.usable_loose
