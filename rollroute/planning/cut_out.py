"""The part of the map that a roll within its time limit can touch, as a graph of its own: large maps are searched part by part.

A node belongs to it where the least time from the start and the least time to the goal add up to no more than the limit: a route that
takes longer is refused by the roll's gate anyway, so no allowed route is lost.
Retreats that leave the part are not seen, which errs on the safe side.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.search.problem import Bools, Ints, Route, SearchGraph, SearchQuery

WHOLE_UP_TO_NODES = 15_000  # a map of this size is searched whole
SLACK_MIN = 0.01


@dataclass(frozen=True, slots=True)
class CutOut:
    """A part of ``whole``; ``nodes`` and ``edges`` give its numbers there, ``number`` the way back (−1: not in the part)."""

    graph: SearchGraph
    nodes: Ints
    edges: Ints
    number: Ints

    def query(self, query: SearchQuery) -> SearchQuery:
        """The question in the part's numbers; stops keep their places in the list, those outside are taken off the way."""
        stops = tuple(dataclasses.replace(s, node=int(self.number[s.node])) for s in query.stops if self.number[s.node] >= 0)
        return dataclasses.replace(
            query,
            start=int(self.number[query.start]),
            goals=tuple(int(self.number[g]) for g in query.goals),
            stops=stops,
            refuges=tuple(int(self.number[r]) for r in query.refuges if self.number[r] >= 0),
        )

    def kept_stops(self, query: SearchQuery) -> list[int]:
        """Which stops of the whole question are in the part's, in order."""
        return [i for i, s in enumerate(query.stops) if self.number[s.node] >= 0]

    def route(self, route: Route, query: SearchQuery) -> Route:
        """A route of the part in the numbers of the whole."""
        kept = self.kept_stops(query)
        uses = tuple(dataclasses.replace(use, stop=kept[use.stop]) for use in route.stop_uses)
        return dataclasses.replace(route, edges=self.edges[route.edges], nodes=self.nodes[route.nodes], stop_uses=uses)


def cut_out(graph: SearchGraph, is_in: Bools) -> CutOut:
    """The part of ``graph`` between the nodes of ``is_in``; edges must lie in pairs, one for each direction of a piece."""
    nodes = np.flatnonzero(is_in).astype(np.int32)
    number = np.full(graph.n_nodes, -1, np.int32)
    number[nodes] = np.arange(len(nodes), dtype=np.int32)
    edges = np.flatnonzero(is_in[graph.tail] & is_in[graph.head]).astype(np.int32)
    part = SearchGraph(
        n_nodes=len(nodes),
        tail=number[graph.tail[edges]],
        head=number[graph.head[edges]],
        time_s=graph.time_s[edges],
        cost_s=graph.cost_s[edges],
        energy_wh=graph.energy_wh[edges],
        surprisal=graph.surprisal[edges],
        is_passable=graph.is_passable[edges],
        is_unverified=graph.is_unverified[edges],
        closes_s=graph.closes_s[edges],
        reverse=np.arange(len(edges), dtype=np.int32) ^ 1,
        is_back_sure=None if graph.is_back_sure is None else graph.is_back_sure[edges],
    )
    return CutOut(part, nodes, edges, number)


def between(ahead_min: npt.NDArray[np.float64], behind_min: npt.NDArray[np.float64], limit_min: float) -> Bools:
    """Nodes on ways of at most ``limit_min``; (n_nodes,) minutes from the start, and to the goal."""
    return np.asarray(ahead_min + behind_min <= limit_min + SLACK_MIN, np.bool_)
