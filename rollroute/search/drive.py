"""From the steps that a solver found to a ``Route``: drive them forward, edge by edge."""

from __future__ import annotations

import math

import numpy as np

from rollroute.search.curves import Curve
from rollroute.search.fields import back_field, retreat_field
from rollroute.search.problem import Floats, Ints, Route, SearchGraph, SearchQuery, StopUse, Verdict


def drive(graph: SearchGraph, query: SearchQuery, verdict: Verdict) -> Route:
    """The ``Route`` of a verdict with steps. Times, charges and retreats are added up anew, from the start on."""
    steps = verdict.steps or ()
    edges = np.array([step for step in steps if isinstance(step, int)], np.int32)
    uses: list[StopUse] = []
    time, cost, charge = 0.0, 0.0, query.charge_wh
    times: list[float] = []
    costs, charges = [], []
    columns = zip(graph.time_s[edges].tolist(), graph.cost_s[edges].tolist(), graph.energy_wh[edges].tolist(), strict=True)
    for step in steps:
        if isinstance(step, int):
            time_s, cost_s, energy_wh = next(columns)
            time += time_s
            cost += cost_s
            charge -= energy_wh
            times.append(time)
            costs.append(cost)
            charges.append(charge)
        else:
            use = _use_stop(query, step, before_edge=len(times), time_s=time, charge_wh=charge)
            uses.append(use)
            cost += use.leave_s - time
            time, charge = use.leave_s, use.leave_wh
    return Route(
        edges=edges,
        nodes=np.concatenate([[query.start], graph.head[edges]]).astype(np.int32),
        time_after_s=np.array(times),
        cost_after_s=np.array(costs),
        charge_after_wh=np.array(charges),
        retreat_wh=_retreats(graph, query, edges),
        stop_uses=tuple(uses),
        cost_s=cost,
        time_s=time,
        energy_wh=float(graph.energy_wh[edges].sum()),
        charge_end_wh=charge,
        surprisal=float(graph.surprisal[edges].sum()),
        lower_bound_s=cost if verdict.is_proven else min(verdict.lower_bound_s, cost),
        is_proven=verdict.is_proven,
        n_labels=verdict.n_labels,
    )


def _use_stop(query: SearchQuery, step: tuple[int, float], *, before_edge: int, time_s: float, charge_wh: float) -> StopUse:
    index, charge_s = step
    stop = query.stops[index]
    curve = Curve(stop.curve, query.capacity_wh)
    wait_s = max(0.0, stop.opens_s - time_s)
    leave_wh = max(charge_wh, curve.charge(curve.when(charge_wh) + charge_s))
    return StopUse(index, before_edge, time_s, charge_wh, wait_s, stop.setup_s, charge_s, leave_wh)


def _retreats(graph: SearchGraph, query: SearchQuery, edges: Ints) -> Floats:
    """``b`` at every node of the way; NaN where the query has no refuges, since nothing was asked about retreats."""
    if not query.refuges and not query.needs_way_back:
        return np.full(len(edges) + 1, np.nan)
    nearest = retreat_field(graph, query)
    back = back_field(graph, query.retreats_until_s)
    b = [float(nearest[query.start])]
    for at_head, turned in zip(nearest[graph.head[edges]].tolist(), back[edges].tolist(), strict=True):
        b.append(min(at_head, b[-1] + turned, math.inf))
    return np.array(b)
