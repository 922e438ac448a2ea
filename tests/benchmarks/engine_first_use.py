"""Call every kernel of the engine once, as a new install does, and print what the process took."""

from __future__ import annotations

import resource
from dataclasses import replace

import numpy as np

from rollroute.search.compiled.engine import search
from rollroute.search.problem import ChargeCurve, ChargingStop, SearchGraph, SearchQuery


def first_use() -> None:
    """A ladder of streets with a cheap side that takes much energy; asked for the battery, a stop, closings and the way back."""
    n, pieces = 12, []
    for i in range(n - 1):
        pieces += [(2 * i, 2 * i + 2, 10.0, 5.0), (2 * i + 1, 2 * i + 3, 14.0 + i % 3, 2.0), (2 * i, 2 * i + 1, 1.0, 0.1)]
    tail = np.array([p[k] for p in pieces for k in (0, 1)], np.int32)
    head = np.array([p[k] for p in pieces for k in (1, 0)], np.int32)
    cost, energy = np.repeat([p[2] for p in pieces], 2), np.repeat([p[3] for p in pieces], 2)
    m = len(tail)
    graph = SearchGraph(
        n_nodes=2 * n, tail=tail, head=head, time_s=cost, cost_s=cost, energy_wh=energy, surprisal=np.zeros(m),
        is_passable=np.ones(m, np.bool_), is_unverified=np.zeros(m, np.bool_), closes_s=np.full(m, np.inf),
        reverse=np.arange(m, dtype=np.int32) ^ 1,
    )  # fmt: skip
    goal = (2 * n - 2,)
    search(graph, SearchQuery(0, goal, 37.0))
    stop = ChargingStop(7, ChargeCurve((0.0, 20.0, 60.0), (0.0, 30.0, 50.0)), setup_s=1.0)
    search(graph, SearchQuery(0, goal, 12.0, stops=(stop,)))
    doubtful = replace(graph, is_unverified=np.arange(m) % 22 < 2)
    search(doubtful, SearchQuery(0, goal, 45.0, refuges=(0, 9), needs_way_back=True, latest_arrival_s=200.0))
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(f"first use: {used.ru_utime + used.ru_stime:.1f} s of CPU with imports", flush=True)


if __name__ == "__main__":
    first_use()
