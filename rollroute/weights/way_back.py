"""Whether a chair that has driven over a doubtful place surely comes back over it."""

from __future__ import annotations

import numpy as np

from rollroute.network.facts.points import PlaceKind
from rollroute.weights.case import Case, Mask, Tally
from rollroute.weights.reasons import Question

STEP_QUESTIONS = Question.KERB | Question.APRON | Question.THRESHOLD
STEP_KINDS = (PlaceKind.KERB, PlaceKind.APRON, PlaceKind.DOOR)


def back_sure(case: Case, tally: Tally) -> Mask | None:
    """(2 n_pieces,) for ``SearchGraph.is_back_sure``; ``None`` where every question is the same both ways, so that its own rule holds.

    Driving an edge answers the questions that it carries, and no other: where coming back asks more, it is not sure.
    And a step that nobody measured, once driven in the direction in which the chair is rated for more, may be too high the other way.
    """
    up_m, down_m = case.chair.rated_obstacle_m, case.chair.rated_obstacle_down_m
    there = tally.questions
    back = _other_way(there)
    asks_more = (back & ~there) != 0
    if up_m == down_m and not asks_more.any():
        return None
    is_answered = (there != 0) & ~asks_more
    if up_m != down_m:
        is_answered[_easier_over_a_step(case, tally)] = False
    sure = (_other_way(tally.reasons) == 0) & ((back == 0) | is_answered)
    return np.asarray(sure, np.bool_)


def _other_way(bits: np.ndarray[tuple[int, ...], np.dtype[np.uint32]]) -> np.ndarray[tuple[int, ...], np.dtype[np.uint32]]:
    """The column with both directions of every piece swapped."""
    return np.ascontiguousarray(bits.reshape(-1, 2)[:, ::-1]).ravel()


def _easier_over_a_step(case: Case, tally: Tally) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Edges with a question about a step that they take in the easier direction, or where the map does not tell in which."""
    touch, places = case.network.incidence, case.network.places
    is_step = np.isin(places.kind[touch.place], [int(kind) for kind in STEP_KINDS])
    harder = 1 if case.chair.rated_obstacle_down_m > case.chair.rated_obstacle_m else -1
    found = []
    for direction, edge in ((1, 2 * touch.piece), (-1, 2 * touch.piece + 1)):
        rows = is_step & (touch.rises * direction != harder)
        found.append(edge[rows].astype(np.int64))
    edges = np.concatenate(found)
    asked: np.ndarray[tuple[int, ...], np.dtype[np.int64]] = edges[(tally.questions[edges] & np.uint32(STEP_QUESTIONS)) != 0]
    return asked
