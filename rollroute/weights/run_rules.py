"""How long a run may be before a landing, where a preset says so: 2010 ADA Standards 405.6 and the like.

No map says where landings are. A run on the same way that is longer than the preset allows at its grade is therefore a question,
unless a stretch between two runs is gentle and long enough to be a landing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rollroute.network.kinds import STAIR_KINDS, WayKind
from rollroute.standards import Standard
from rollroute.weights.case import Case, Floats, Mask, Tally
from rollroute.weights.reasons import Question

Ints = npt.NDArray[np.int64]
SURELY_WALK_M = 10.0  # assumption: a gentle stretch of this length ends a run, whether it is as level as a landing or not
SLACK = 1e-6


def judge_runs(case: Case, tally: Tally) -> None:
    """Ask about every run that is longer than the preset allows at its steepest; without a preset nothing is asked."""
    standard = case.rules.standard
    if standard is None:
        return
    known = case.network.long_runs
    if standard.name not in known:
        known[standard.name] = _long_runs(case, standard)
    rows, share = known[standard.name]
    tally.ask(rows, Question.LANDING, case.doubts.probability("landing"), share)


def _long_runs(case: Case, standard: Standard) -> tuple[Mask, Floats]:
    """Pieces of runs that are longer than the standard allows, and the share of the run's question that falls to each."""
    grade = case.network.pieces.grade.astype(np.float64)
    on_ground = ~case.is_off_map & ~case.is_kind(WayKind.ELEVATOR, *STAIR_KINDS)
    steep = on_ground & (np.abs(grade) > standard.max_walk_grade + SLACK)
    if not steep.any():
        return steep, np.zeros(len(steep))
    grade = np.where(on_ground, grade, np.nan)
    run, run_m, steepest = _runs(case, _rising(case, standard, steep, grade), grade)
    allowed_m = standard.max_lengths_m(steepest)
    too_long = run_m > allowed_m + 1e-3
    rows = steep & (run >= 0) & too_long[run]
    length_m = case.network.pieces.length_m
    asked_m = np.bincount(run[rows], weights=length_m[rows], minlength=len(run_m))
    share = length_m / np.where(rows, asked_m[run], np.inf)
    return rows, share


def _rising(case: Case, standard: Standard, steep: Mask, grade: Floats) -> npt.NDArray[np.int8]:
    """(n_pieces,) the mark of every piece that belongs to a run, 0 for what ends one.

    +1 and −1 rise and fall from tail to head; 2 is a gap between runs that is too short or too steep to be a landing.
    """
    mark = np.where(steep, np.sign(grade), 0).astype(np.int8)
    gentle = np.where(steep | np.isnan(grade), 0, 2).astype(np.int8)
    part, part_m, steepest = _runs(case, gentle, grade)
    landing_slope = standard.bound("landing_slope")
    level = steepest <= (standard.max_walk_grade if landing_slope is None else landing_slope) + SLACK
    ends = (level & (part_m >= (standard.min_landing_m or 0.0) - 1e-3)) | (part_m >= SURELY_WALK_M)
    rows = np.flatnonzero(part >= 0)
    mark[rows[~ends[part[rows]]]] = 2
    return mark


def _runs(case: Case, mark: npt.NDArray[np.int8], grade: Floats) -> tuple[Ints, Floats, Floats]:
    """Marked pieces that follow each other, on one way or where nothing else joins, and go on rising; a gap (2) goes on with either.

    Returns the run of every piece (−1 none), and of every run the length in metres and the steepest grade.
    A piece that is cut in two follows itself at the cut, so cutting changes nothing.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    pieces = case.network.pieces
    rows = np.flatnonzero(mark)
    one, other, is_knot = _followers(case, rows)
    # going on: at their common node one piece has its upper end and the other its lower
    side = np.concatenate([-mark[rows], mark[rows]])  # of the tail ends, then of the head ends: +1 upper, −1 lower
    is_gap = np.tile(mark[rows] == 2, 2)
    goes_on = (side[one] != side[other]) | is_gap[one] | is_gap[other] | is_knot
    pair = one[goes_on] % len(rows), other[goes_on] % len(rows)
    graph = coo_matrix((np.ones(len(pair[0])), pair), shape=(len(rows), len(rows)))
    count, number = connected_components(graph, directed=False) if len(rows) else (0, np.zeros(0, np.int64))
    length_m = np.bincount(number, weights=pieces.length_m[rows], minlength=count).astype(np.float64)
    steepest = np.zeros(count)
    np.maximum.at(steepest, number, np.abs(grade[rows]))
    run = np.full(case.network.n_pieces, -1, np.int64)
    run[rows] = number
    return run, length_m, steepest


def _followers(case: Case, rows: Ints) -> tuple[Ints, Ints, Mask]:
    """Pairs of ends (``i`` the tail of ``rows[i]``, ``len(rows) + i`` its head) at one node: of one way, or where only two pieces meet.

    A pair is part of a knot where the way meets itself there: which piece follows which is then not told, and all are taken together.
    """
    pieces = case.network.pieces
    on_map = ~case.is_off_map  # a line of ours from a place to the way makes no junction
    degree = np.bincount(np.concatenate([pieces.tail[on_map], pieces.head[on_map]]), minlength=case.network.n_nodes)
    node = np.concatenate([pieces.tail[rows], pieces.head[rows]]).astype(np.int64)
    way = np.where(degree[node] == 2, -1, np.tile(pieces.way[rows], 2).astype(np.int64))
    joint = node * (len(case.network.ways.osm_id) + 1) + way + 1
    order = np.argsort(joint, kind="stable")
    same = joint[order][1:] == joint[order][:-1]
    beside = np.concatenate([[False], same, [False]])
    is_knot = (beside[:-2] | beside[2:])[same]
    return order[:-1][same], order[1:][same], is_knot
