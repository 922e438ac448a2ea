"""Questions with stops, closings or a way back: relaxations first, then labels between their bounds."""

from __future__ import annotations

import math

import numpy as np

from rollroute.search.compiled import labelling, needing
from rollroute.search.compiled.battery import NONE, cheapest_way, cheapest_within
from rollroute.search.compiled.growing import Field
from rollroute.search.compiled.pruning import usable_arcs
from rollroute.search.compiled.tables import BACK, ENERGY, N_COLUMNS, Lower, Pool, Rules, Scene, Trees, stops_table
from rollroute.search.compiled.towards import Trip
from rollroute.search.compiled.trees import goal_rows, stop_rows
from rollroute.search.fields import retreat_field
from rollroute.search.problem import SLACK, Floats, SearchQuery, Step, Verdict

SHORT = 2_000  # labels of the first try
ALL = 2**62
_NO_ARCS = np.empty(0, np.int32)


def search_every_rule(trip: Trip, query: SearchQuery, limit: int, *, has_closings: bool) -> Verdict:
    """The best way that keeps every rule, or the proof that there is none; see ``search.simple.search``."""
    task = _Task(trip, query, has_closings=has_closings)
    settled = task.relax(limit)
    if settled is not None:
        return settled
    return task.label(limit)


class _Task:
    def __init__(self, trip: Trip, query: SearchQuery, *, has_closings: bool) -> None:
        skeleton = trip.ground.skeleton
        self.trip, self.query, self.has_closings = trip, query, has_closings
        self.way_back = query.needs_way_back and bool(skeleton.is_unverified.any() or trip.table.is_unverified.any())
        self.retreat = np.full(skeleton.n_nodes + 2, np.inf)  # r at kept nodes; the goal and the start come last
        self.start_b = math.inf
        if self.way_back:
            field = retreat_field(skeleton.graph, query)
            self.retreat[:-2] = field[skeleton.node]
            self.start_b = float(field[query.start])
        self.stops = stops_table(skeleton, query)
        self.stop_nodes = [int(skeleton.index[stop.node]) for stop in query.stops]
        self.spare = query.charge_wh - query.reserve_wh
        self.price = 1.0 / max(stop.curve.fastest_wh_per_s for stop in query.stops) if query.stops else 0.0
        self.bound, self.n_labels = 0.0, 0
        self.arcs, self.table = trip.ground.arcs, trip.table
        self.pruned: dict[float | str, Field] | None = None
        self.fields: list[Field] = []

    # --- relaxations ---

    def relax(self, limit: int) -> Verdict | None:
        """The answer, where a relaxation gives it: no way at all, or the cheapest way of a relaxation keeps every rule."""
        cheapest = cheapest_way(self.trip)
        if cheapest is None:
            return Verdict(None, math.inf, True, 0)
        self.bound = cheapest.cost
        edges = self.trip.edges(cheapest.arcs)
        if cheapest.energy <= self.spare + SLACK and self._keeps_rules(edges):
            return Verdict(tuple(edges), cheapest.cost, True, 0)
        if self.query.stops:
            return None
        within = cheapest_within(self.trip, self.spare + SLACK, limit=limit)
        self.bound, self.price, self.n_labels = max(self.bound, within.lower_s), within.price, within.n_labels
        if within.arcs is None:
            return Verdict(None, math.inf, True, 0)
        edges = self.trip.edges(within.arcs)
        if within.is_proven and self._keeps_rules(edges):
            return Verdict(tuple(edges), within.cost_s, True, within.n_labels)
        return None

    def _keeps_rules(self, edges: list[int]) -> bool:
        """Whether a way without stops, known to keep to the charge, keeps closings, latest arrival and way back."""
        graph, query = self.trip.ground.skeleton.graph, self.query
        e = np.array(edges, np.int64)
        time = np.cumsum(graph.time_s[e])
        if np.any(time > graph.closes_s[e] + SLACK) or (len(e) and time[-1] > query.latest_arrival_s + SLACK):
            return False
        if not self.way_back or not graph.is_unverified[e].any():
            return True
        back, nearest = self.trip.ground.skeleton.edge_back_wh, retreat_field(graph, query)
        energy = graph.energy_wh[e].tolist()
        charge, b = self.spare, self.start_b
        for i, edge in enumerate(edges):
            if graph.is_unverified[edge] and charge < energy[i] + back[edge] + b - SLACK:
                return False
            charge -= energy[i]
            b = min(float(nearest[graph.head[edge]]), b + float(back[edge]))
        return True

    # --- labels ---

    def label(self, limit: int) -> Verdict:
        """A short exact search settles most questions. For the others, first find any way (few labels at a node), then prove below it."""
        lower, trees = self.lower(), self.trees()
        steps: tuple[Step, ...] | None = None
        cost = math.inf
        for most, kept in ((min(limit, SHORT), ALL), (limit // 4, 2), (limit // 4, 8), (limit, ALL)):
            if kept == 8 and steps is not None:
                continue  # a way is known, and the last search looks for a better one by itself
            if kept == 2 and not self.query.stops:
                if not self.prune():
                    return Verdict(steps, cost, True, self.n_labels)
                lower, trees = self.lower(), self.trees()
            rules = self.rules(most, kept)
            scene = Scene(self.arcs, self.table, self.trip.links, self.stops, self.retreat, lower, trees, rules)
            pool, found, bound, work = labelling.search(scene, cost)
            self.n_labels += work
            if found < cost:
                cost, steps = found, self.steps(pool)
            if kept == ALL:
                self.bound = max(self.bound, bound)
                if bound == found:
                    return Verdict(steps, cost, True, self.n_labels)
        return Verdict(steps, self.bound, False, self.n_labels)

    def prune(self) -> bool:
        """Bar the arcs that a chair from this start can't use (``pruning``); whether a way is left."""
        trip = self.trip
        energy = trip.towards.field("energy")
        left = np.minimum(energy.dist, energy.radius)
        b = self.start_b if self.way_back else None
        usable, usable_loose = usable_arcs(self.arcs, self.table, trip.links, self.retreat, left, self.spare, b)
        data, loose = self.arcs.data.copy(), self.table.data.copy()
        data[ENERGY, ~usable], loose[ENERGY, ~usable_loose] = np.inf, np.inf
        self.arcs, self.table = self.arcs._replace(data=data), self.table._replace(data=loose)
        self.pruned = {}
        field = self.field(0.0)
        field.reach(trip.heads)
        offsets = np.where(usable_loose[len(trip.towards.loose) :], trip.begin_cost, np.inf)
        return trip.at_start(field, offsets)[0] < math.inf

    def field(self, price: float | str, *, keep: bool = True) -> Field:
        """The field of a weight towards the goals (``Towards.field``), over the arcs that are not barred."""
        if self.pruned is None:
            return self.trip.towards.field(price, keep=keep)
        if price not in self.pruned:
            s, towards = self.trip.ground.skeleton, self.trip.towards
            weight = np.where(self.arcs.data[ENERGY, s.in_arc] < np.inf, self.trip.ground.weight_into(price), np.inf)
            barred = self.table.data[ENERGY, : len(towards.loose)] == np.inf
            offsets = np.where(barred, np.inf, towards.offsets(price))
            tails = [arc.tail for arc in towards.loose]
            self.pruned[price] = Field(s, weight, tails, offsets.tolist(), self.trip.ground.mean_of(price))
        return self.pruned[price]

    def rules(self, limit: int, kept: int) -> Rules:
        """The numbers of the query."""
        query = self.query
        has_openings = any(stop.opens_s > 0 for stop in query.stops)
        has_hours = has_openings or any(stop.closes_s < math.inf for stop in query.stops)
        return Rules(
            charge=float(query.charge_wh),
            reserve=float(query.reserve_wh),
            per_wh=float(self.price),
            latest=float(query.latest_arrival_s),
            time_matters=bool(self.has_closings or has_hours or query.latest_arrival_s < math.inf),
            has_openings=bool(has_openings),
            way_back=bool(self.way_back),
            limit=int(limit),
            kept=int(kept),
            start_b=float(self.start_b),
        )

    def lower(self) -> Lower:
        """Lower bounds from every node; grows the fields as far as the start."""
        heads = self.trip.heads
        cost, energy = self.field(0.0), self.field("energy")
        cost.reach(heads)
        energy.reach(heads, self.most_charge())
        radius = np.array([cost.radius, energy.radius, np.inf, 0.0, 0.0, 0.0])
        priced = via = NONE
        if self.price > 0.0:
            field = self.priced()
            priced, radius[3] = field.dist, field.radius
        if self.query.stops:
            field = self.via()
            via, radius[4] = field.dist, field.radius
        time = NONE
        if self.query.latest_arrival_s < math.inf:
            field = self.field("time")
            field.reach(heads, self.query.latest_arrival_s)
            time, radius[5] = field.dist, field.radius
        need, radius[2] = self.need(energy)
        return Lower(cost.dist, energy.dist, need, priced, via, time, radius)

    def most_charge(self) -> float:
        """The most that the battery can ever hold over the reserve on this trip."""
        most = max([self.query.charge_wh, *self.stops.top.tolist()])
        return float(most) - self.query.reserve_wh + SLACK

    def priced(self) -> Field:
        """The field of cost with energy at its price; kept where the price is that of charging."""
        field = self.field(self.price, keep=bool(self.query.stops))
        field.reach(self.trip.heads)
        return field

    def via(self) -> Field:
        """The field of the same weight that leads over one stop, with its set-up."""
        priced, ground = self.priced(), self.trip.ground
        setups = self.stops.setup.tolist()
        key = ("via", self.price, tuple(self.stop_nodes), tuple(setups))

        def make() -> Field:
            offsets = [priced.at_least(node) + setup for node, setup in zip(self.stop_nodes, setups, strict=True)]
            return Field(ground.skeleton, priced.weight, self.stop_nodes, offsets, ground.mean_of(self.price))

        field = self.trip.towards.kept(key, make)
        field.reach(self.trip.heads)
        return field

    def need(self, energy: Field) -> tuple[Floats, float]:
        """The field of the least charge with which a goal or a stop can be reached, and its radius."""
        ground, towards = self.trip.ground, self.trip.towards
        s = ground.skeleton
        if not self.way_back:
            if not self.query.stops:
                return energy.dist, energy.radius
            stops = ground.kept(("stops", tuple(self.stop_nodes)), lambda: self._to_stops())
            stops.reach_radius(math.inf)
            return np.minimum(np.minimum(energy.dist, energy.radius), stops.dist), math.inf
        key = ("least retreat", self.query.refuges, self.query.retreats_until_s)
        least_b = ground.kept_array(key, lambda: needing.least_retreat(s.out_start, ground.arcs, self.retreat))
        tails = np.array([arc.tail for arc in towards.loose] + self.stop_nodes, np.int32)
        table = self.table
        offsets = np.zeros(len(tails))
        for i, arc in enumerate(towards.loose):
            turning = table.data[ENERGY, i] + table.data[BACK, i] + least_b[arc.tail] if table.is_unverified[i] else 0.0
            offsets[i] = max(table.data[ENERGY, i], turning)
        targets = np.array(sorted(set(self.trip.heads)), np.int32)
        need, radius = needing.charge_needed(
            s.in_start, s.in_arc, s.in_tail, self.arcs, least_b, tails, offsets, targets, self.most_charge()
        )
        return need, float(radius)

    def _to_stops(self) -> Field:
        ground = self.trip.ground
        return Field(ground.skeleton, ground.weight_into("energy"), self.stop_nodes, [0.0] * len(self.stop_nodes))

    def trees(self) -> Trees:
        """Completions along the fields that ``lower`` grew."""
        seeds = goal_rows(self.trip.towards.table)
        n_goal = len(seeds)
        self.fields = [self.field(0.0), self.field("energy")]
        if self.price > 0.0:
            self.fields.append(self.priced())
        if self.query.stops:  # then energy has a price
            self.fields.append(self.via())
            seeds = np.concatenate((seeds, stop_rows(self.stop_nodes)))
        n, n_none = self.trip.ground.skeleton.n_nodes, 4 - len(self.fields)
        return Trees(
            dists=(*(field.dist for field in self.fields), *[NONE] * n_none),
            next_arcs=(*(field.next_arc for field in self.fields), *[_NO_ARCS] * n_none),
            rows=np.empty((4, n, N_COLUMNS)),
            is_filled=np.zeros((4, n), np.bool_),
            seeds=seeds,
            n_goal=n_goal,
            path=np.empty(n, np.int32),
            radius=np.array([*(field.radius for field in self.fields), *[0.0] * n_none]),
        )

    # --- the answer ---

    def steps(self, pool: Pool) -> tuple[Step, ...]:
        """The steps of the best label, and of the completion that it was finished by."""
        numbers, best = pool.numbers, pool.best
        label, tree, x, x_between = int(best[0]), int(best[1]), float(best[2]), float(best[3])
        trip, n_arcs = self.trip, self.trip.ground.skeleton.n_arcs
        before: list[int | tuple[int, float]] = []
        i, x_now = label, x
        while i > 0:
            via = int(numbers[i, 2])
            if via >= 0:
                before.append(via)
            else:
                before.append((int(numbers[i, 1]), x_now))
                x_now = float(pool.parent_x[i])
            i = int(numbers[i, 3])
        found = before[::-1]
        if tree >= 0:
            arcs, seed = self.fields[tree].arcs_from(int(numbers[label, 0]))
            found.extend(arcs)
            if tree == 3:
                found.append((seed, x_between))
                arcs, seed = self.fields[2].arcs_from(self.stop_nodes[seed])
                found.extend(arcs)
            found.append(n_arcs + seed)
        steps: list[Step] = []
        run: list[int] = []  # arcs between two stops
        for item in found:
            if isinstance(item, int):
                run.append(item)
            else:
                steps += [*trip.edges(run), item]
                run = []
        steps += trip.edges(run)
        while steps and isinstance(steps[-1], tuple):  # an outlet at the goal, used for no time: rounding may prefer it
            steps.pop()
        return tuple(steps)
