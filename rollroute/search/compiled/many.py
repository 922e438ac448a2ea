"""Least sums from many starts to many goals."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rollroute.search.compiled.core import Core, core_of
from rollroute.search.compiled.growing import Field
from rollroute.search.compiled.skeleton import LooseArc, Skeleton, arcs_between, arcs_from, arcs_to, surroundings
from rollroute.search.compiled.tables import ENERGY, EXTRA, TIME, loose_table
from rollroute.search.compiled.towards import Ground
from rollroute.search.problem import Floats

SWEEPS_FOR_A_CORE = 8  # with fewer sweeps, taking nodes out costs more than it saves
_ROWS = {"cost": [EXTRA, TIME], "time": [TIME], "energy": [ENERGY]}


def distances(ground: Ground, starts: Sequence[int], goals: Sequence[int], weights: Sequence[str]) -> list[Floats]:
    """(n_starts, n_goals) for each of the weights "cost", "time", "energy"; inf where there is no way.

    One sweep from each goal for each weight, on a core (``core``) where there are many.
    """
    skeleton = ground.skeleton
    begin = [(row, arc) for row, start in enumerate(starts) for arc in arcs_from(skeleton, start)]
    end = [(column, arc) for column, goal in enumerate(goals) for arc in arcs_to(skeleton, goal)]
    heads, tails = np.array([arc.head for _, arc in begin], np.int32), np.array([arc.tail for _, arc in end], np.int32)
    row_of, column_of = np.array([row for row, _ in begin], np.int64), np.array([column for column, _ in end], np.int64)
    between = _between(skeleton, starts, goals)
    swept: Skeleton | Core = skeleton
    into = [ground.weight_into(0.0 if weight == "cost" else weight) for weight in weights]
    index = np.arange(skeleton.n_nodes, dtype=np.int32)
    if len(goals) * len(weights) >= SWEEPS_FOR_A_CORE:
        swept = core_of(skeleton, into, np.concatenate((heads, tails)))
        into, index = list(swept.weight_into), swept.index
    found = []
    for weight, weight_into in zip(weights, into, strict=True):
        before, after = _sums(skeleton, begin, weight), _sums(skeleton, end, weight)
        table = np.full((len(starts), len(goals)), np.inf)
        for column in range(len(goals)):
            of_goal = np.flatnonzero(column_of == column)
            field = Field(swept, weight_into, index[tails[of_goal]].tolist(), after[of_goal].tolist())
            field.reach(index[heads])
            np.minimum.at(table[:, column], row_of, before + field.dist[index[heads]])
        if between:
            pairs = np.array([pair for pair, _ in between])
            np.minimum.at(table, (pairs[:, 0], pairs[:, 1]), _sums(skeleton, between, weight))
        found.append(table)
    return found


def _between(skeleton: Skeleton, starts: Sequence[int], goals: Sequence[int]) -> list[tuple[tuple[int, int], LooseArc]]:
    """Ways that meet no kept node, with the row and the column that they belong to."""
    around = [surroundings(skeleton, start) for start in starts]
    found = []
    for column, goal in enumerate(goals):
        here = surroundings(skeleton, goal)
        for row, there in enumerate(around):
            if not here.isdisjoint(there):
                found += [((row, column), arc) for arc in arcs_between(skeleton, starts[row], goal)]
    return found


def _sums(skeleton: Skeleton, arcs: Sequence[tuple[object, LooseArc]], weight: str) -> Floats:
    """(n,) weights of loose arcs."""
    found: Floats = loose_table(skeleton, [arc for _, arc in arcs])[0].data[_ROWS[weight]].sum(axis=0)
    return found
