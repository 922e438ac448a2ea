"""What kerbs, barriers, doors and lifts mean for one chair, going up and going down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.network.doubts import DOUBT_KINDS
from rollroute.network.facts.points import BarrierKind, KerbWord, PlaceFlag, PlaceKind
from rollroute.weights.piece_rules import LIMITED_STEP_M, Case, Tally
from rollroute.weights.reasons import Question, Reason

Mask = npt.NDArray[np.bool_]

RAISED_AT_LEAST_M = 0.03  # OSM wiki, Key:kerb: raised is over 3 cm; how much is not said
RAISED_USUAL_M = 0.15  # common practice: kerbs are built 10 to 15 cm high; the bad side counts
HELPED_THRESHOLD_M = 0.025  # assumption: what one helper may ease a chair over beyond its rating
LIFT_DEPTH_ROOM_M = 0.05  # assumption: the chair must fit in the car with this to spare
UP, DOWN = 0, 1


@dataclass(frozen=True, slots=True)
class PlaceVerdicts:
    """(n_places, 2) verdicts, column 0 going up and column 1 going down."""

    reasons: npt.NDArray[np.uint32]
    questions: npt.NDArray[np.uint32]
    surprisal: npt.NDArray[np.float64]


def judge_places(case: Case, tally: Tally) -> PlaceVerdicts:
    """Judge every place once, and lay the verdicts on the edges that meet it."""
    n = len(case.network.places.kind)
    verdicts = PlaceVerdicts(np.zeros((n, 2), np.uint32), np.zeros((n, 2), np.uint32), np.zeros((n, 2)))
    _judge_kerbs(case, verdicts)
    _judge_barriers(case, verdicts)
    _judge_doors(case, verdicts)
    _judge_lifts(case, verdicts)
    _lay_on_edges(case, verdicts, tally)
    return verdicts


def _chance(case: Case) -> npt.NDArray[np.float64]:
    by_kind = np.array([case.doubts.chance(kind) for kind in DOUBT_KINDS])
    return np.asarray(by_kind[case.network.places.doubt], np.float64)


def _exclude(verdicts: PlaceVerdicts, rows: Mask, reason: Reason, column: int | None = None) -> None:
    columns = (UP, DOWN) if column is None else (column,)
    for c in columns:
        verdicts.reasons[rows, c] |= np.uint32(reason)


def _ask(verdicts: PlaceVerdicts, rows: Mask, question: Question, chance: npt.NDArray[np.float64], column: int | None = None) -> None:
    columns = (UP, DOWN) if column is None else (column,)
    for c in columns:
        verdicts.questions[rows, c] |= np.uint32(question)
        verdicts.surprisal[rows, c] += -np.log1p(-chance[rows])


def _judge_kerbs(case: Case, verdicts: PlaceVerdicts) -> None:
    """Height against the rated obstacle, up and down. ``raised`` without a figure is over 3 cm and may be a whole kerb."""
    places, chance = case.network.places, _chance(case)
    is_kerb, is_apron = places.kind == PlaceKind.KERB, places.kind == PlaceKind.APRON
    for column, rated_m in ((UP, case.chair.rated_obstacle_m), (DOWN, case.chair.rated_obstacle_down_m)):
        known = is_kerb & ~np.isnan(places.height_m)
        _exclude(verdicts, known & (places.height_m > rated_m + 1e-6), Reason.KERB, column)
        raised = is_kerb & ~known & (places.word == KerbWord.RAISED)
        stopped = raised & (rated_m < RAISED_USUAL_M)
        _exclude(verdicts, stopped, Reason.KERB, column)
        silent = is_kerb & ~known & ~stopped
        _ask(verdicts, silent, Question.KERB, chance, column)
    _ask(verdicts, is_apron, Question.APRON, chance)


def _judge_barriers(case: Case, verdicts: PlaceVerdicts) -> None:
    places, chance = case.network.places, _chance(case)
    is_barrier = places.kind == PlaceKind.BARRIER
    stated_yes = (places.flags & PlaceFlag.WHEELCHAIR_YES) != 0
    _exclude(verdicts, is_barrier & ((places.flags & PlaceFlag.LOCKED) != 0), Reason.GATE)
    _exclude(verdicts, is_barrier & ((places.flags & PlaceFlag.PRIVATE) != 0), Reason.ACCESS)
    _exclude(verdicts, is_barrier & ((places.flags & PlaceFlag.WHEELCHAIR_NO) != 0), Reason.TAGGED_NO)
    _exclude(verdicts, is_barrier & (places.word == BarrierKind.STOPPING) & ~stated_yes, Reason.GATE)
    known = is_barrier & ~np.isnan(places.width_m)
    _exclude(verdicts, known & (places.width_m < case.chair.clear_width_m), Reason.WIDTH)
    is_gate = is_barrier & np.isin(places.word, [BarrierKind.GATE, BarrierKind.LIFT_GATE, BarrierKind.UNKNOWN])
    _ask(verdicts, is_gate & ~stated_yes, Question.GATE, chance)  # wide enough or not, it may be locked
    unknown = is_barrier & ~known & ~stated_yes & ~is_gate
    is_maze = places.word == BarrierKind.CYCLE_BARRIER
    _ask(verdicts, unknown & ~is_maze, Question.BOLLARD, chance)
    _ask(verdicts, is_barrier & is_maze & ~stated_yes, Question.CYCLE_BARRIER, chance)  # a wide gap may still turn too tightly


def _judge_doors(case: Case, verdicts: PlaceVerdicts) -> None:
    places, chance, chair = case.network.places, _chance(case), case.chair
    is_door = places.kind == PlaceKind.DOOR
    stated_yes = (places.flags & PlaceFlag.WHEELCHAIR_YES) != 0
    _exclude(verdicts, is_door & ((places.flags & PlaceFlag.LOCKED) != 0), Reason.DOOR)
    _exclude(verdicts, is_door & ((places.flags & PlaceFlag.PRIVATE) != 0), Reason.ACCESS)
    _exclude(verdicts, is_door & ((places.flags & PlaceFlag.WHEELCHAIR_NO) != 0), Reason.TAGGED_NO)
    limited = is_door & ((places.flags & PlaceFlag.WHEELCHAIR_LIMITED) != 0)
    help_m = HELPED_THRESHOLD_M if case.conditions.helper_eases_threshold else 0.0
    _exclude(verdicts, limited & (chair.rated_obstacle_m + help_m < LIMITED_STEP_M), Reason.DOOR)
    if not case.conditions.has_mains:
        _exclude(verdicts, is_door & ((places.flags & PlaceFlag.NEEDS_POWER) != 0), Reason.POWER)
    known = is_door & ~np.isnan(places.width_m)
    _exclude(verdicts, known & (places.width_m < chair.clear_width_m), Reason.DOOR)
    _ask(verdicts, is_door & ~known & ~stated_yes, Question.DOOR, chance)
    _judge_thresholds(case, verdicts, is_door, stated_yes | limited, help_m)


def _judge_thresholds(case: Case, verdicts: PlaceVerdicts, is_door: Mask, is_told: Mask, help_m: float) -> None:
    places = case.network.places
    known = is_door & ~np.isnan(places.height_m)
    for column, rated_m in ((UP, case.chair.rated_obstacle_m), (DOWN, case.chair.rated_obstacle_down_m)):
        _exclude(verdicts, known & (places.height_m > rated_m + help_m + 1e-6), Reason.DOOR, column)
    silent = is_door & ~known & ~is_told & ((places.flags & PlaceFlag.ENTRANCE) != 0)
    _ask(verdicts, silent, Question.THRESHOLD, np.full(len(silent), case.doubts.chance("threshold")))


def _judge_lifts(case: Case, verdicts: PlaceVerdicts) -> None:
    places, chair = case.network.places, case.chair
    is_lift = places.kind == PlaceKind.LIFT
    if not case.conditions.has_mains:
        _exclude(verdicts, is_lift, Reason.POWER)
    _exclude(verdicts, is_lift & ((places.flags & PlaceFlag.WHEELCHAIR_NO) != 0), Reason.TAGGED_NO)
    known = is_lift & ~np.isnan(places.width_m)
    _exclude(verdicts, known & (places.width_m < chair.width_m), Reason.LIFT_SIZE)
    length_m = chair.length_m
    deep = is_lift & ~np.isnan(places.length_m)
    if length_m is not None:
        _exclude(verdicts, deep & (places.length_m < length_m + LIFT_DEPTH_ROOM_M), Reason.LIFT_SIZE)
    stated_yes = (places.flags & PlaceFlag.WHEELCHAIR_YES) != 0
    _ask(verdicts, is_lift & ~(known & deep & (length_m is not None)) & ~stated_yes, Question.LIFT, _chance(case))


def _lay_on_edges(case: Case, verdicts: PlaceVerdicts, tally: Tally) -> None:
    """Going up counts where the edge rises over the place, going down where it falls, the worse of both where nobody knows."""
    touch = case.network.incidence
    for direction, edge in ((1, 2 * touch.piece), (-1, 2 * touch.piece + 1)):
        goes_up, goes_down = touch.rises * direction > 0, touch.rises * direction < 0
        reasons = _pick(verdicts.reasons[touch.place], goes_up, goes_down)
        questions = _pick(verdicts.questions[touch.place], goes_up, goes_down)
        both = verdicts.surprisal[touch.place]
        surprisal = np.where(goes_up, both[:, UP], np.where(goes_down, both[:, DOWN], both.max(axis=1)))
        np.bitwise_or.at(tally.reasons, edge, reasons)
        np.bitwise_or.at(tally.questions, edge, questions)
        np.add.at(tally.surprisal, edge, surprisal * touch.share)


def _pick(both: npt.NDArray[np.uint32], goes_up: Mask, goes_down: Mask) -> npt.NDArray[np.uint32]:
    return np.asarray(np.where(goes_up, both[:, UP], np.where(goes_down, both[:, DOWN], both[:, UP] | both[:, DOWN])), np.uint32)
