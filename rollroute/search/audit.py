"""Check a ``Route`` against its graph and query alone: every sum added again, every rule asked again.

Shares no code with the solvers, the fields or ``drive``: own arithmetic on the curve, own field of retreats (scipy's Dijkstra).
"""

from __future__ import annotations

import math
import weakref

import numpy as np
import numpy.typing as npt

from rollroute.search.problem import ChargeCurve, Route, SearchGraph, SearchQuery

TOLERANCE = 1e-6  # Wh and s: far over rounding, far under anything that a gauge or a clock shows

_FIELDS: weakref.WeakKeyDictionary[SearchGraph, dict[tuple[tuple[int, ...], float], npt.NDArray[np.float64]]] = weakref.WeakKeyDictionary()


def audit(graph: SearchGraph, query: SearchQuery, route: Route) -> list[str]:
    """Every way in which ``route`` breaks its query or misstates itself; an empty list if there is none."""
    return [*_check_path(graph, query, route), *_Ledger(graph, query, route).check()]


def _check_path(graph: SearchGraph, query: SearchQuery, route: Route) -> list[str]:
    edges, nodes = route.edges, route.nodes
    if len(nodes) != len(edges) + 1:
        return [f"{len(edges)} edges need {len(edges) + 1} nodes, got {len(nodes)}"]
    found = []
    if nodes[0] != query.start:
        found.append(f"begins at node {nodes[0]}, not at {query.start}")
    if int(nodes[-1]) not in query.goals:
        found.append(f"ends at node {nodes[-1]}, which is no goal")
    found += [f"edge {e} does not begin at node {u}" for e, u in zip(edges, nodes, strict=False) if graph.tail[e] != u]
    found += [f"edge {e} does not end at node {v}" for e, v in zip(edges, nodes[1:], strict=True) if graph.head[e] != v]
    found += [f"edge {e} is not passable" for e in edges if not graph.is_passable[e]]
    return found


class _Ledger:
    """The trip played once from departure to arrival, noting what breaks."""

    def __init__(self, graph: SearchGraph, query: SearchQuery, route: Route) -> None:
        self.graph, self.query, self.route = graph, query, route
        self.time = self.cost = 0.0
        self.charge = query.charge_wh
        self.retreat = math.nan
        self.found: list[str] = []
        self.field = _retreat_field(graph, query) if query.needs_way_back or query.refuges else None
        columns = (getattr(graph, name)[route.edges].tolist() for name in ("time_s", "cost_s", "energy_wh", "closes_s"))
        self.columns: list[tuple[float, float, float, float]] = list(zip(*columns, strict=True))

    def expect(self, what: str, said: float, is_now: float, edge: int | None = None) -> None:
        """Note where the route says something else than what the ledger has."""
        if not (said == is_now or abs(said - is_now) <= TOLERANCE * max(1.0, abs(is_now) * 1e-6)):
            where = what if edge is None else f"{what} {edge}"
            self.found.append(f"{where}: the route says {said!r}, the audit finds {is_now!r}")

    def check(self) -> list[str]:
        route, query = self.route, self.query
        if self.field is not None:
            self.retreat = float(self.field[query.start])
            self.expect("retreat at the start", float(route.retreat_wh[0]), self.retreat)
        if self.charge < query.reserve_wh - TOLERANCE:
            self.found.append(f"departs with {self.charge} Wh, under the reserve")
        said = (route.time_after_s, route.cost_after_s, route.charge_after_wh, route.retreat_wh[1:])
        if any(len(column) != len(route.edges) for column in said):
            return [*self.found, f"{len(route.edges)} edges need as many times, costs, charges and retreats"]
        for i, (e, *row) in enumerate(zip(route.edges.tolist(), *(column.tolist() for column in said), strict=True)):
            self._use_stops(i)
            self._drive(i, e, (row[0], row[1], row[2], row[3]))
        if any(use.before_edge >= len(route.edges) for use in route.stop_uses):
            self.found.append("a stop is used after the last edge")
        self._check_end()
        return self.found

    def _use_stops(self, position: int) -> None:
        for use in self.route.stop_uses:
            if use.before_edge != position:
                continue
            stop = self.query.stops[use.stop]
            where = f"stop {use.stop} before edge {position}"
            if stop.node != self.route.nodes[position]:
                self.found.append(f"{where}: the stop is at node {stop.node}, the route at {self.route.nodes[position]}")
            self.expect(f"{where}: arrival", use.arrive_s, self.time)
            self.expect(f"{where}: charge on arrival", use.arrive_wh, self.charge)
            self.expect(f"{where}: set-up", use.setup_s, stop.setup_s)
            if use.charge_s < 0 or use.wait_s < 0 or self.time + use.wait_s < stop.opens_s - TOLERANCE:
                self.found.append(f"{where}: is used before it opens, or for a negative time")
            spent = use.wait_s + use.setup_s + use.charge_s
            if self.time + spent > stop.closes_s + TOLERANCE:
                self.found.append(f"{where}: charges after it closes")
            self.charge = _charged(stop.curve, self.charge, use.charge_s, self.query.capacity_wh)
            self.expect(f"{where}: charge on leaving", use.leave_wh, self.charge)
            self.time += spent
            self.cost += spent

    def _drive(self, i: int, e: int, said: tuple[float, float, float, float]) -> None:
        graph, query, field = self.graph, self.query, self.field
        time_s, cost_s, energy, closes_s = self.columns[i]
        back = _energy_back(graph, query, e) if field is not None or query.needs_way_back else math.inf
        if query.needs_way_back and graph.is_unverified[e]:
            spare = self.charge - query.reserve_wh - (energy + back + self.retreat)
            if not spare >= -TOLERANCE:
                self.found.append(f"edge {e} is unverified and the way back from it is {-spare} Wh short")
        self.charge -= energy
        self.time += time_s
        self.cost += cost_s
        if self.charge < query.reserve_wh - TOLERANCE:
            self.found.append(f"after edge {e}: {self.charge} Wh is under the reserve of {query.reserve_wh} Wh")
        if self.time > closes_s + TOLERANCE:
            self.found.append(f"edge {e} closes at {closes_s} s, its far end is reached at {self.time} s")
        self.expect("time after edge", said[0], self.time, e)
        self.expect("cost after edge", said[1], self.cost, e)
        self.expect("charge after edge", said[2], self.charge, e)
        if field is not None:
            self.retreat = min(float(field[graph.head[e]]), self.retreat + back)
            self.expect("retreat after edge", said[3], self.retreat, e)

    def _check_end(self) -> None:
        route, graph = self.route, self.graph
        self.expect("cost", route.cost_s, self.cost)
        self.expect("time", route.time_s, self.time)
        self.expect("charge at the end", route.charge_end_wh, self.charge)
        self.expect("energy", route.energy_wh, float(graph.energy_wh[route.edges].sum()))
        self.expect("surprisal", route.surprisal, float(graph.surprisal[route.edges].sum()))
        if self.time > self.query.latest_arrival_s + TOLERANCE:
            self.found.append(f"arrives at {self.time} s, later than {self.query.latest_arrival_s} s")
        if route.lower_bound_s > self.cost * (1 + 1e-9) + TOLERANCE:
            self.found.append(f"claims a lower bound of {route.lower_bound_s} s above its own cost {self.cost} s")


def _charged(curve: ChargeCurve, charge_wh: float, seconds: float, capacity_wh: float) -> float:
    """Charge after ``seconds`` at the outlet: one linear stretch of the curve after the other."""
    limit = min(capacity_wh, curve.charge_wh[-1])
    for i in range(len(curve.time_s) - 1):
        top = min(curve.charge_wh[i + 1], limit)
        if charge_wh >= top or seconds <= 0:
            continue
        rate = (curve.charge_wh[i + 1] - curve.charge_wh[i]) / (curve.time_s[i + 1] - curve.time_s[i])
        used = min(seconds, (top - charge_wh) / rate)
        charge_wh += used * rate
        seconds -= used
    return charge_wh


def _energy_back(graph: SearchGraph, query: SearchQuery, e: int) -> float:
    other = int(graph.reverse[e])
    if other < 0 or not graph.is_passable[other] or graph.closes_s[other] < query.retreats_until_s:
        return math.inf
    if graph.is_back_sure is not None:
        is_sure = bool(graph.is_back_sure[e])
    else:
        is_sure = not graph.is_unverified[other] or bool(graph.is_unverified[e])
    return float(graph.energy_wh[other]) if is_sure else math.inf


def _retreat_field(graph: SearchGraph, query: SearchQuery) -> npt.NDArray[np.float64]:
    """Energy from every node to a refuge over edges that are clear and stay open; one Dijkstra, kept per graph and set of refuges."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    kept = _FIELDS.setdefault(graph, {})
    key = (query.refuges, query.retreats_until_s)
    field = kept.get(key)
    if field is None:
        is_sure = graph.is_passable & ~graph.is_unverified & (graph.closes_s >= query.retreats_until_s)
        order = np.flatnonzero(is_sure)
        order = order[np.argsort(graph.head[order], kind="stable")]
        starts = np.searchsorted(graph.head[order], np.arange(graph.n_nodes + 1)).astype(np.int32)
        turned = csr_array((graph.energy_wh[order], graph.tail[order], starts), shape=(graph.n_nodes, graph.n_nodes))
        field = np.full(graph.n_nodes, math.inf)
        if query.refuges:
            field = dijkstra(turned, indices=list(query.refuges), min_only=True)
        if len(kept) >= 8:
            kept.clear()
        kept[key] = field
    return field
