"""What is kept about a set of goals: its loose arcs, and the fields towards it, shared by all questions with these goals."""

from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np

from rollroute.search.compiled.growing import Field
from rollroute.search.compiled.skeleton import LooseArc, Skeleton, arcs_between, arcs_from, arcs_to
from rollroute.search.compiled.tables import ENERGY, TIME, Arcs, Links, arcs_of, loose_table
from rollroute.search.problem import Floats


class Ground:
    """A skeleton with the arrays that every question reads: the table of arcs, and weights in the order of arcs into a node."""

    def __init__(self, skeleton: Skeleton) -> None:
        self.skeleton = skeleton
        self.arcs = arcs_of(skeleton)
        self._weights: dict[float | str, Floats] = {}
        self._means: dict[float | str, float] = {}
        self._kept: dict[object, Field] = {}
        self._arrays: dict[object, Floats] = {}
        self._lock = threading.Lock()

    def kept_array(self, key: object, make: Callable[[], Floats]) -> Floats:
        """An array that belongs to no goal, under a key, made on first use."""
        with self._lock:
            if key not in self._arrays:
                self._arrays[key] = make()
            return self._arrays[key]

    def kept(self, key: object, make: Callable[[], Field]) -> Field:
        """A field that belongs to no goal, likewise."""
        with self._lock:
            if key not in self._kept:
                self._kept[key] = make()
            return self._kept[key]

    def weight_into(self, price: float | str) -> Floats:
        """Weight of the arcs in the order of ``in_arc``: "energy", "time", or cost with energy at a price (0: cost alone)."""
        s = self.skeleton
        if isinstance(price, str):
            if price not in self._weights:
                self._weights[price] = {"energy": s.energy_wh, "time": s.time_s}[price][s.in_arc]
            return self._weights[price]
        if 0.0 not in self._weights:
            self._weights[0.0] = s.cost_s[s.in_arc]
        return self._weights[0.0] if price == 0.0 else self._weights[0.0] + price * self.weight_into("energy")

    def mean_of(self, price: float | str) -> float:
        """The mean of ``weight_into``."""
        if not isinstance(price, str) and price != 0.0:
            return self.mean_of(0.0) + price * self.mean_of("energy")
        if price not in self._means:
            weight = self.weight_into(price)
            self._means[price] = float(weight.mean()) if len(weight) else 0.0
        return self._means[price]


class Towards:
    """A set of goals on a skeleton."""

    def __init__(self, ground: Ground, goals: tuple[int, ...]) -> None:
        skeleton = ground.skeleton
        self.ground, self.goals = ground, goals
        self.loose = [arc for goal in goals for arc in arcs_to(skeleton, goal)]
        self.table, self.cost = loose_table(skeleton, self.loose)
        self.to_goal = np.full(skeleton.n_nodes, -1, np.int32)
        self.then = np.full(len(self.loose), -1, np.int32)
        for i, arc in enumerate(self.loose):
            self.then[i], self.to_goal[arc.tail] = self.to_goal[arc.tail], i
        self._kept: dict[object, Field] = {}
        self._lock = threading.Lock()

    def field(self, price: float | str, *, keep: bool = True) -> Field:
        """The field of a weight (see ``Ground.weight_into``) towards the goals, kept if wanted."""
        return self.kept(price, lambda: self._grow(price, self.offsets(price)), keep=keep)

    def offsets(self, price: float | str) -> Floats:
        """Weight of the loose arcs to the goals."""
        named = {"energy": self.table.data[ENERGY], "time": self.table.data[TIME]}
        found: Floats = named[price] if isinstance(price, str) else self.cost + price * self.table.data[ENERGY]
        return found

    def kept(self, key: object, make: Callable[[], Field], *, keep: bool = True) -> Field:
        """A field under a key, made on first use."""
        if not keep:
            return make()
        with self._lock:
            if key not in self._kept:
                self._kept[key] = make()
            return self._kept[key]

    def _grow(self, price: float | str, offsets: Floats) -> Field:
        tails = [arc.tail for arc in self.loose]
        return Field(self.ground.skeleton, self.ground.weight_into(price), tails, offsets.tolist(), self.ground.mean_of(price))


class Trip:
    """A start and a set of goals: the loose arcs of both, in the form that the kernels read."""

    def __init__(self, towards: Towards, start: int) -> None:
        skeleton = towards.ground.skeleton
        self.towards, self.ground = towards, towards.ground
        begin = arcs_from(skeleton, start) + [arc for goal in towards.goals for arc in arcs_between(skeleton, start, goal)]
        self.loose: list[LooseArc] = towards.loose + begin
        self.begin = begin
        table, self.begin_cost = loose_table(skeleton, begin)
        goal = towards.table
        self.table = Arcs(
            np.concatenate((goal.head, table.head)),
            np.concatenate((goal.is_unverified, table.is_unverified)),
            np.concatenate((goal.data, table.data), axis=1),
        )
        self.links = Links(skeleton.out_start, towards.to_goal, towards.then, len(towards.loose))
        self.heads = [arc.head for arc in begin if arc.head >= 0]

    def at_start(self, field: Field, offsets: Floats) -> tuple[float, int]:
        """Least weight from the start on a field that reached ``heads``, and the number of the first loose arc; (inf, −1) if no way."""
        best, first = np.inf, -1
        for i, arc in enumerate(self.begin):
            total = float(offsets[i]) + (float(field.dist[arc.head]) if arc.head >= 0 else 0.0)
            if total < best:
                best, first = total, i
        return best, first + len(self.towards.loose) if first >= 0 else -1

    def along(self, field: Field, first: int) -> list[int]:
        """Arc numbers (loose ones from ``n_arcs`` on) from the start by loose arc ``first`` and then along a field's tree."""
        n_arcs = self.ground.skeleton.n_arcs
        head = self.loose[first].head
        if head < 0:
            return [n_arcs + first]
        arcs, seed = field.arcs_from(head)
        return [n_arcs + first, *arcs, n_arcs + seed]

    def edges(self, arcs: list[int]) -> list[int]:
        """The graph's edges of a list of arc numbers."""
        skeleton = self.ground.skeleton
        n_arcs, start, edge = skeleton.n_arcs, skeleton.chain_start, skeleton.chain_edge
        found: list[int] = []
        for arc in arcs:
            found.extend(edge[start[arc] : start[arc + 1]].tolist() if arc < n_arcs else self.loose[arc - n_arcs].edges)
        return found
