"""``find_route``: the one verb of the search. Choose a solver, drive what it found, audit it, or say why there is no way."""

from __future__ import annotations

from rollroute.errors import RollrouteError
from rollroute.search.audit import audit
from rollroute.search.drive import drive
from rollroute.search.explain import explain
from rollroute.search.problem import ProvenNoRouteError, Route, SearchGraph, SearchQuery, Verdict, WorkLimitError
from rollroute.search.simple import search as search_simple

SIMPLE_UP_TO_NODES = 15_000  # under this the search without compilation answers


def find_route(graph: SearchGraph, query: SearchQuery) -> Route:
    """The best route that keeps every rule of ``query``.

    Without a ``work_limit`` the route is proven best. With one, a route may come back unproven (``route.is_proven``, ``route.gap``);
    it keeps every rule all the same. Every route has passed the audit.

    Raises
    ------
    ProvenNoRouteError
        No route keeps every rule; ``failures`` says which rule fails and by how much.
    WorkLimitError
        The work limit ended the search with neither a route nor a proof.
    """
    verdict = solve(graph, query)
    if verdict.steps is None:
        if not verdict.is_proven:
            raise WorkLimitError(
                f"no route was found within {query.work_limit} labels, and none was proven impossible. Raise work_limit.",
                lower_bound_s=verdict.lower_bound_s,
            )
        failures = explain(graph, query, solve)
        raise ProvenNoRouteError(
            f"no route from node {query.start} keeps every rule: " + "; ".join(f.message for f in failures), failures=failures
        )
    return finish(graph, query, verdict)


def finish(graph: SearchGraph, query: SearchQuery, verdict: Verdict) -> Route:
    """The route of a verdict with steps, driven edge by edge and audited."""
    route = drive(graph, query, verdict)
    violations = audit(graph, query, route)
    if violations:
        raise RollrouteError(f"the search returned a route that its own audit refuses; please report this. {'; '.join(violations[:5])}")
    return route


def solve(graph: SearchGraph, query: SearchQuery) -> Verdict:
    """The verdict of the solver that suits the size of the graph. Refuses what ``SearchQuery.check_against`` refuses."""
    query.check_against(graph)
    if graph.n_nodes <= SIMPLE_UP_TO_NODES:
        return search_simple(graph, query)
    from rollroute.search.compiled.engine import search as search_compiled  # numba loads only where it is needed

    return search_compiled(graph, query)
