"""The engine for large maps: what is kept about a graph, and the choice of the search that a question needs."""

from __future__ import annotations

import math
import threading
import weakref
from collections import OrderedDict
from collections.abc import Sequence

from rollroute.search.compiled.battery import cheapest_within
from rollroute.search.compiled.every_rule import search_every_rule
from rollroute.search.compiled.many import distances
from rollroute.search.compiled.skeleton import contract
from rollroute.search.compiled.towards import Ground, Towards, Trip
from rollroute.search.problem import SLACK, Floats, SearchGraph, SearchQuery, Verdict

GROUNDS_KEPT = 4  # skeletons per graph: one for each set of stops and refuges
GOALS_KEPT = 32  # sets of goals per skeleton; on a map of 400 000 kept nodes each one holds some 10 to 40 MB

_KEPT = "_engine"  # kept on the graph itself, so that it goes when the graph goes
_LOCK = threading.Lock()


def engine_of(graph: SearchGraph) -> Engine:
    """The engine of a graph, made on first use and kept as long as the graph lives. Safe to call from threads."""
    with _LOCK:
        found = vars(graph).get(_KEPT)
        if found is None:
            found = vars(graph)[_KEPT] = Engine(graph)
        return found


def search(graph: SearchGraph, query: SearchQuery) -> Verdict:
    """The best way that keeps every rule of ``query``, or the proof that there is none; see ``search.simple.search``."""
    return engine_of(graph).search(query)


class Engine:
    """A graph made ready for questions. Kernels run without the interpreter's lock, so threads run side by side."""

    def __init__(self, graph: SearchGraph) -> None:
        self._graph = weakref.ref(graph)
        self._grounds: OrderedDict[tuple[tuple[int, ...], bool, float], Ground] = OrderedDict()
        self._towards: OrderedDict[tuple[int, tuple[int, ...]], Towards] = OrderedDict()
        self._lock = threading.RLock()
        self._has_closings = bool((graph.closes_s[graph.is_passable] < math.inf).any())
        self._has_doubts = bool((graph.is_passable & graph.is_unverified).any())

    def ground(self, stops: tuple[int, ...] = (), until_s: float = math.inf, *, by_kind: bool = False) -> Ground:
        """The skeleton in which these stops and refuges are kept, and, ``by_kind``, clear and unverified apart."""
        graph = self._graph()
        assert graph is not None, "the graph lives as long as a question about it"
        key = (tuple(sorted(set(stops))), by_kind, until_s if self._has_closings else math.inf)
        with self._lock:
            if key not in self._grounds:
                self._grounds[key] = Ground(contract(graph, keep=key[0], by_kind=by_kind, retreats_until_s=key[2]))
                while len(self._grounds) > GROUNDS_KEPT:
                    self._grounds.popitem(last=False)
            self._grounds.move_to_end(key)
            return self._grounds[key]

    def towards(self, ground: Ground, goals: tuple[int, ...]) -> Towards:
        """What is kept about a set of goals."""
        key = (id(ground), goals)
        with self._lock:
            if key not in self._towards or self._towards[key].ground is not ground:
                self._towards[key] = Towards(ground, goals)
                while len(self._towards) > GOALS_KEPT:
                    self._towards.popitem(last=False)
            self._towards.move_to_end(key)
            return self._towards[key]

    def forget_goals(self) -> None:
        """Drop the fields that are kept for goals."""
        with self._lock:
            self._towards.clear()

    def distances(self, starts: Sequence[int], goals: Sequence[int], weights: Sequence[str]) -> list[Floats]:
        """(n_starts, n_goals) least sums for each of the weights "cost", "time", "energy"; see ``many.distances``. Nothing is kept."""
        return distances(self.ground(), starts, goals, weights)

    def search(self, query: SearchQuery) -> Verdict:
        """Answer one question."""
        if query.charge_wh < query.reserve_wh - SLACK:
            return Verdict(None, math.inf, True, 0)
        needs_way_back = query.needs_way_back and self._has_doubts
        keep = [stop.node for stop in query.stops] + (list(query.refuges) if needs_way_back else [])
        ground = self.ground(tuple(keep), query.retreats_until_s, by_kind=needs_way_back)
        trip = Trip(self.towards(ground, query.goals), query.start)
        limit = query.work_limit if query.work_limit is not None else 2**62
        if query.stops or needs_way_back or self._has_closings or query.latest_arrival_s < math.inf:
            return search_every_rule(trip, query, limit, has_closings=self._has_closings)
        found = cheapest_within(trip, query.charge_wh - query.reserve_wh + SLACK, limit=limit)
        steps = None if found.arcs is None else tuple(trip.edges(found.arcs))
        return Verdict(steps, found.lower_s, found.is_proven, found.n_labels)
