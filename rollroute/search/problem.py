"""The contract of the search: a ``SearchGraph`` and a ``SearchQuery`` go in, a ``Route`` or a proof that there is none comes out.

Numbers are **planned** figures (the 95 % case): seconds, watt-hours, surprisal −ln(1 − d). Nodes and edges are numbered from 0.

What a route must keep, at every point of the way:

1. only passable edges; the planned arrival at the far end of an edge is no later than ``closes_s`` of that edge;
2. the charge never falls under ``reserve_wh`` and never rises over ``capacity_wh``;
3. the way back, when ``needs_way_back``: before an unverified edge ``e = (u, v)``

       charge(u) − reserve  >=  energy(e) + back(e) + b(u)

   that is: drive it, find it bad at its far end, come back, and retreat. The retreat ``b`` is carried along the way,
   ``b(start) = r(start)`` and ``b(v) = min(r(v), b(u) + back(e))``; ``r(v)`` is the energy from ``v`` to the nearest refuge over
   edges that are clear and open to the end of the plan; ``back(e)`` is ``SearchGraph.back_wh(e)``, infinite where coming back is not sure;
4. charging and waiting happen at stops only: any amount that the curve gives, set-up once for each use, while the stop is open.

Cutting an edge changes nothing. Let ``e = (u, v)`` be unverified and cut at ``m``. Only the two halves meet at ``m``, both unverified, so
``r(m) = inf`` and ``b(m) = b(u) + back(e1)``. The rule before ``e2``, carried back to ``u``, reads
``charge(u) − reserve >= energy(e1) + energy(e2) + back(e2) + back(e1) + b(u)``: the rule for the whole edge.
The rule before ``e1`` is weaker.
The same sum serves consecutive unverified edges that share a place: the last one that carries the question binds, unless a clear
side street at the node between them leads to a refuge, which is a true gain and not an artefact of the cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError, NoRouteError, RollrouteError

__all__ = [
    "ChargeCurve",
    "ChargingStop",
    "Failure",
    "FailureKind",
    "ProvenNoRouteError",
    "Route",
    "SearchGraph",
    "SearchQuery",
    "Step",
    "StopUse",
    "Verdict",
    "WorkLimitError",
]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Bools = npt.NDArray[np.bool_]

SLACK = 1e-9  # a limit met to within this many Wh or seconds is met: sums of floats must not decide a verdict


@dataclass(frozen=True, eq=False)
class SearchGraph:
    """Directed edges with what each one costs this chair; edge ``e`` runs ``tail[e] -> head[e]``.

    tail, head : (n_edges,) int32
    time_s     : (n_edges,) float64    planned driving time, >= 0
    cost_s     : (n_edges,) float64    what is minimised: time + preference × discomfort + λ × surprisal, >= 0
    energy_wh  : (n_edges,) float64    planned, >= 0
    surprisal  : (n_edges,) float64    >= 0
    is_passable, is_unverified : (n_edges,) bool
    closes_s   : (n_edges,) float64    seconds after departure when the edge closes; inf = never
    reverse    : (n_edges,) int32      the edge over the same piece the other way, −1 where there is none
    is_back_sure : (n_edges,) bool or None
        Whether a chair that has driven ``e`` surely comes back over ``reverse[e]``. Where not given: the other way is passable,
        and clear unless ``e`` was unverified itself (then driving it has answered the question that both directions carry).

    Values of edges that are not passable are never read, so they may be NaN.
    """

    n_nodes: int
    tail: Ints
    head: Ints
    time_s: Floats
    cost_s: Floats
    energy_wh: Floats
    surprisal: Floats
    is_passable: Bools
    is_unverified: Bools
    closes_s: Floats
    reverse: Ints
    is_back_sure: Bools | None = None

    def __post_init__(self) -> None:
        n_edges = len(self.tail)
        kinds: dict[str, Any] = dict.fromkeys(("tail", "head", "reverse"), np.int32) | dict.fromkeys(
            ("is_passable", "is_unverified"), np.bool_
        )
        names = ["tail", "head", "time_s", "cost_s", "energy_wh", "surprisal", "is_passable", "is_unverified", "closes_s", "reverse"]
        for name in names:
            array = np.ascontiguousarray(getattr(self, name), dtype=kinds.get(name, np.float64))
            if array.shape != (n_edges,):
                raise InputError(f"search graph: {name} must have shape ({n_edges},), got {array.shape}.")
            object.__setattr__(self, name, array)
        self._check_values()

    def _check_values(self) -> None:
        for name in ("tail", "head"):
            nodes = getattr(self, name)
            if len(nodes) and not (nodes.min() >= 0 and nodes.max() < self.n_nodes):
                raise InputError(f"search graph: {name} must lie in 0 .. {self.n_nodes - 1}.")
        for name in ("time_s", "cost_s", "energy_wh", "surprisal"):
            values = getattr(self, name)
            bad = np.flatnonzero(self.is_passable & ~((values >= 0) & (values < np.inf)))
            if len(bad):
                e = int(bad[0])
                raise InputError(f"search graph: {name}[{e}] must be finite and >= 0 on a passable edge, got {values[e]!r}.")

    @property
    def n_edges(self) -> int:
        """Number of directed edges."""
        return len(self.tail)

    @cached_property
    def out_edges(self) -> tuple[Ints, Ints]:
        """``(offsets, edges)``: the passable edges out of ``v`` are ``edges[offsets[v]:offsets[v + 1]]``, in rising number."""
        return _group_by(self.tail, np.flatnonzero(self.is_passable), self.n_nodes)

    def back_wh(self, open_until_s: float = math.inf) -> Floats:
        """Energy to come back over each edge after driving it; inf where that is not sure or closes before ``open_until_s``."""
        has_reverse = self.reverse >= 0
        back = np.where(has_reverse, self.reverse, 0)
        if self.is_back_sure is None:
            is_sure = self.is_passable[back] & (~self.is_unverified[back] | self.is_unverified)
        else:
            is_sure = np.asarray(self.is_back_sure, np.bool_) & self.is_passable[back]
        is_sure &= has_reverse & (self.closes_s[back] >= open_until_s)
        return np.where(is_sure, self.energy_wh[back], np.inf)


def _group_by(node: Ints, edges: npt.NDArray[np.intp], n_nodes: int) -> tuple[Ints, Ints]:
    order = edges[np.argsort(node[edges], kind="stable")].astype(np.int32)
    offsets = np.zeros(n_nodes + 1, np.int32)
    np.cumsum(np.bincount(node[edges], minlength=n_nodes), out=offsets[1:])
    return offsets, order


@dataclass(frozen=True)
class ChargeCurve:
    """Charge over time on one charger: piecewise linear, concave, from an empty battery at time 0.

    time_s    : (n,) rising, time_s[0] = 0
    charge_wh : (n,) nondecreasing, charge_wh[0] = 0; the last value is the most that this stop can give
    """

    time_s: tuple[float, ...]
    charge_wh: tuple[float, ...]

    def __post_init__(self) -> None:
        time, charge = np.asarray(self.time_s, float), np.asarray(self.charge_wh, float)
        if len(time) < 2 or len(time) != len(charge) or time[0] != 0 or charge[0] != 0 or not np.all(np.isfinite([time, charge])):
            raise InputError("charge curve: give two or more finite breakpoints, the first at 0 s and 0 Wh.")
        rates = np.diff(charge) / np.diff(time) if np.all(np.diff(time) > 0) else np.array([-1.0])
        if np.any(rates < 0) or np.any(np.diff(rates) > 1e-12 * rates.max() + 1e-300) or rates[0] <= 0:
            raise InputError("charge curve: times must rise, charge must not fall, and the rate must not rise (concave).")
        object.__setattr__(self, "time_s", tuple(time.tolist()))
        object.__setattr__(self, "charge_wh", tuple(charge.tolist()))

    @property
    def fastest_wh_per_s(self) -> float:
        """The rate at which an empty battery takes charge: the highest of the curve."""
        return self.charge_wh[1] / self.time_s[1]


@dataclass(frozen=True)
class ChargingStop:
    """An outlet that fits this chair: where, how fast, and when it can be used (seconds after departure)."""

    node: int
    curve: ChargeCurve
    setup_s: float = 0.0
    opens_s: float = 0.0
    closes_s: float = math.inf  # charging has ended by then
    label: str = ""

    def __post_init__(self) -> None:
        if not (0 <= self.setup_s < math.inf and 0 <= self.opens_s < math.inf and self.closes_s >= self.opens_s):
            raise InputError(f"charging stop {self.label!r}: needs 0 <= setup_s, 0 <= opens_s <= closes_s, got {self!r}.")


@dataclass(frozen=True, eq=False)
class SearchQuery:
    """One question to the search.

    ``charge_wh`` is what is in the battery at departure, ``reserve_wh`` what must never be touched, ``capacity_wh`` what it holds.
    ``refuges`` are nodes (open refuges and promised pick-up points). Retreats use only edges with ``closes_s >= retreats_until_s``.
    ``work_limit`` is a number of labels; unlimited if not provided.
    """

    start: int
    goals: tuple[int, ...]
    charge_wh: float
    reserve_wh: float = 0.0
    capacity_wh: float = math.inf
    stops: tuple[ChargingStop, ...] = ()
    refuges: tuple[int, ...] = ()
    needs_way_back: bool = False
    latest_arrival_s: float = math.inf
    retreats_until_s: float = math.inf
    work_limit: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "goals", tuple(sorted({int(g) for g in self.goals})))
        object.__setattr__(self, "refuges", tuple(sorted({int(v) for v in self.refuges})))
        object.__setattr__(self, "stops", tuple(self.stops))
        if not self.goals:
            raise InputError("search query: give at least one goal.")
        if not (0 <= self.reserve_wh < math.inf and 0 <= self.charge_wh <= self.capacity_wh):
            raise InputError(
                f"search query: needs 0 <= reserve_wh and 0 <= charge_wh <= capacity_wh, "
                f"got {self.reserve_wh!r}, {self.charge_wh!r}, {self.capacity_wh!r}."
            )
        if self.work_limit is not None and self.work_limit < 1:
            raise InputError(f"search query: work_limit must be at least 1 label, got {self.work_limit!r}.")

    def check_against(self, graph: SearchGraph) -> None:
        """Raise ``InputError`` where a node of the query is not in the graph, or where waiting for a stop would never be the cheapest.

        With opening hours and an edge that costs less than its time, driving about would be cheaper than waiting, without end.
        """
        for what, nodes in (
            ("start", (self.start,)),
            ("goals", self.goals),
            ("refuges", self.refuges),
            ("stops", tuple(stop.node for stop in self.stops)),
        ):
            for node in nodes:
                if not 0 <= node < graph.n_nodes:
                    raise InputError(f"search query: {what} must be nodes 0 .. {graph.n_nodes - 1}, got {node}.")
        if any(stop.opens_s > 0.0 for stop in self.stops):
            cheap = np.flatnonzero(graph.is_passable & (graph.cost_s < graph.time_s - SLACK))
            if len(cheap):
                e = int(cheap[0])
                raise InputError(
                    f"search query: a stop opens later, so cost_s[{e}] = {graph.cost_s[e]:g} must not be less than time_s[{e}] ="
                    f" {graph.time_s[e]:g}. Let the cost hold the time."
                )


@dataclass(frozen=True)
class StopUse:
    """One use of a charging stop: arrive, wait until it opens, set up, charge, leave."""

    stop: int  # index in ``SearchQuery.stops``
    before_edge: int  # position in ``Route.edges``: the stop is used before that edge is driven
    arrive_s: float
    arrive_wh: float
    wait_s: float
    setup_s: float
    charge_s: float
    leave_wh: float

    @property
    def leave_s(self) -> float:
        """Planned time of leaving, seconds after departure."""
        return self.arrive_s + self.wait_s + self.setup_s + self.charge_s


@dataclass(frozen=True, eq=False)
class Route:
    """A way from start to goal that keeps every rule of its query.

    edges : (n,) int32; nodes : (n + 1,) int32
    time_after_s, cost_after_s, charge_after_wh : (n,) float64, on arrival at the far end of each edge
    retreat_wh : (n + 1,) float64, ``b`` at every node; inf where no retreat is known

    ``lower_bound_s`` is proven: no route that keeps the rules costs less. ``is_proven`` says that this route is the best there is.
    """

    edges: Ints
    nodes: Ints
    time_after_s: Floats
    cost_after_s: Floats
    charge_after_wh: Floats
    retreat_wh: Floats
    stop_uses: tuple[StopUse, ...]
    cost_s: float
    time_s: float
    energy_wh: float
    charge_end_wh: float  # planned charge on arrival at the goal
    surprisal: float
    lower_bound_s: float
    is_proven: bool
    n_labels: int = 0

    @property
    def goal(self) -> int:
        """The goal that is reached."""
        return int(self.nodes[-1])

    @property
    def gap(self) -> float:
        """How much cheaper a route could at most be, as a share of this route's cost; 0 where this one is proven best."""
        return 0.0 if self.is_proven or self.cost_s <= 0 else max(0.0, 1.0 - self.lower_bound_s / self.cost_s)


class FailureKind(StrEnum):
    """The rule that no route can keep."""

    UNREACHABLE = "unreachable"  # no passable way at all
    CLOSING = "closing"  # every way has closed, or the latest arrival has passed, before the chair gets there
    CHARGE = "charge"  # the charge does not last, with every stop used
    WAY_BACK = "way back"  # a doubtful piece would have to be driven with no sure retreat from it
    TOGETHER = "together"  # each rule alone can be kept, all of them at once can't


@dataclass(frozen=True)
class Failure:
    """One rule that can't be kept and by how much: ``short_by`` in Wh or s (see ``unit``), inf where no amount helps, NaN unknown."""

    kind: FailureKind
    short_by: float
    unit: str
    message: str


class ProvenNoRouteError(NoRouteError):
    """It is proven that no route keeps every rule of the query; ``failures`` says which rule failed and by how much."""

    def __init__(self, message: str, *, failures: tuple[Failure, ...]) -> None:
        super().__init__(message, reasons=tuple(f.message for f in failures))
        self.failures = failures


class WorkLimitError(RollrouteError):
    """The work limit ended the search with neither a route nor a proof that there is none; a larger ``work_limit`` decides it."""

    def __init__(self, message: str, *, lower_bound_s: float) -> None:
        super().__init__(message)
        self.lower_bound_s = lower_bound_s


Step = int | tuple[int, float]  # an edge number, or (stop index, seconds of charging)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a solver hands to ``find_route``: the steps of the best way it found (``None``: none) and what it proved."""

    steps: tuple[Step, ...] | None
    lower_bound_s: float  # inf where it is proven that no route keeps the rules
    is_proven: bool
    n_labels: int
