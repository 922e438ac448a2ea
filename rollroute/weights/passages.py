"""Where chairs have passed: what one chair could do answers the questions of every chair that asks no more, in that direction."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.network.ranks import Rank
from rollroute.weights.case import Case, Tally
from rollroute.weights.reasons import Question, Reason

ANSWERED = (
    Question.KERB | Question.WIDTH | Question.SURFACE | Question.BOLLARD | Question.CYCLE_BARRIER | Question.DOOR | Question.THRESHOLD
    | Question.LIFT | Question.APRON | Question.STEPS_RAMP | Question.CROSS_SLOPE | Question.OFF_MAP | Question.OTHER | Question.TURN
)  # fmt: skip
"""A chair that passed says nothing of who may pass, of a lock at another hour, of traffic, or of a grade limit that it may have broken."""
REFUTED = Reason.KERB | Reason.WIDTH | Reason.SURFACE | Reason.TAGGED_NO | Reason.CROSS_SLOPE | Reason.TURN


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Directed edges that one chair has driven, its size and powers, and when. No person is named."""

    edges: npt.NDArray[np.int64]
    width_m: float
    length_m: float | None
    mass_kg: float
    obstacle_up_m: float
    obstacle_down_m: float
    grade: float
    wheel: str
    date: dt.date | None = None

    def speaks_for(self, chair: Chair) -> bool:
        """Whether ``chair`` is no wider, longer or heavier than the one that passed, climbs no less, and rolls on no smaller wheels."""
        is_short = self.length_m is not None and chair.length_m is not None and chair.length_m <= self.length_m + 1e-9
        wheels = ("indoor", "standard", "outdoor")
        return (
            chair.width_m <= self.width_m + 1e-9
            and is_short
            and chair.total_mass_kg <= self.mass_kg + 1e-9
            and chair.rated_obstacle_m >= self.obstacle_up_m - 1e-9
            and chair.rated_obstacle_down_m >= self.obstacle_down_m - 1e-9
            and chair.rated_grade >= self.grade - 1e-9
            and wheels.index(chair.wheel) >= wheels.index(self.wheel)
        )


def clear_passed(case: Case, tally: Tally) -> None:
    """Answer what passages answer; facts that somebody measured there still count."""
    edges = [p.edges for p in case.rules.passages if p.speaks_for(case.chair) and _is_current(p, case)]
    if not edges:
        return
    driven = np.unique(np.concatenate(edges))
    pieces, touch, places = case.network.pieces, case.network.incidence, case.network.places
    measured = np.maximum(pieces.width_rank, pieces.surface_rank) >= Rank.MEASURED
    found = np.maximum(places.height_rank, places.width_rank)[touch.place] >= Rank.MEASURED
    measured[touch.piece[found]] = True
    open_to_doubt = driven[~measured[driven // 2]]
    tally.reasons[open_to_doubt] &= ~np.uint32(REFUTED)
    before = tally.questions[driven]
    tally.questions[driven] = before & ~np.uint32(ANSWERED)
    _keep_surprisal_of_rest(case, tally, driven)


def _is_current(passage: Passage, case: Case) -> bool:
    return passage.date is None or passage.date <= case.conditions.departure.date()


def _keep_surprisal_of_rest(case: Case, tally: Tally, driven: npt.NDArray[np.int64]) -> None:
    """Doubt of the questions left on driven edges: those are asked again alone."""
    from rollroute.weights.piece_rules import judge_pieces
    from rollroute.weights.place_rules import judge_places

    rest = Tally.empty(case.network.n_pieces, ~ANSWERED)
    judge_pieces(case, rest)
    judge_places(case, rest)
    tally.edge_surprisal[driven] = rest.surprisal[driven] - tally.piece_surprisal[driven // 2]
