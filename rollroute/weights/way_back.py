"""Whether a chair that has driven over a doubtful place surely comes back over it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import PlaceKind
from rollroute.weights.case import Case, Mask, Tally
from rollroute.weights.reasons import Question

Bits = npt.NDArray[np.uint32]
STEP_QUESTIONS = Question.KERB | Question.APRON | Question.THRESHOLD
STEP_KINDS = (PlaceKind.KERB, PlaceKind.APRON, PlaceKind.DOOR)


def back_sure(case: Case, tally: Tally, asked: Bits) -> Mask | None:
    """(2 n_pieces,) for ``SearchGraph.is_back_sure``; ``None`` where every question is the same both ways, so that its own rule holds.

    Driving an edge answers the questions that it carries, and no other: where coming back asks more, it is not sure.
    And a step that nobody measured, once driven in the direction in which the chair is rated for more, may be too high the other way.

    asked : (2 n_pieces,) uint32, the questions before passages of other chairs answered some: this chair, having driven, has answered
        those as well, also for its way back, for which the other chair says nothing
    """
    up_m, down_m = case.chair.rated_obstacle_m, case.chair.rated_obstacle_down_m
    back = _other_way(tally.questions)
    asks_more = (back & ~asked) != 0
    if up_m == down_m and asked is tally.questions and not asks_more.any():
        return None
    is_answered = (asked != 0) & ~asks_more
    if up_m != down_m:
        is_answered[_easier_over_a_step(case, asked)] = False
    sure = (_other_way(tally.reasons) == 0) & ((back == 0) | is_answered)
    return np.asarray(sure, np.bool_)


def _other_way(bits: Bits) -> Bits:
    """The column with both directions of every piece swapped."""
    return np.ascontiguousarray(bits.reshape(-1, 2)[:, ::-1]).ravel()


def _easier_over_a_step(case: Case, asked: Bits) -> npt.NDArray[np.int64]:
    """Edges with a question about a step that they take in the easier direction, or where the map does not tell in which."""
    touch, places = case.network.incidence, case.network.places
    is_step = np.isin(places.kind[touch.place], [int(kind) for kind in STEP_KINDS])
    harder = 1 if case.chair.rated_obstacle_down_m > case.chair.rated_obstacle_m else -1
    found = []
    for direction, edge in ((1, 2 * touch.piece), (-1, 2 * touch.piece + 1)):
        rows = is_step & (touch.rises * direction != harder)
        found.append(edge[rows].astype(np.int64))
    edges = np.concatenate(found)
    over: npt.NDArray[np.int64] = edges[(asked[edges] & np.uint32(STEP_QUESTIONS)) != 0]
    return over
