"""From a network to what every edge means for one chair, one set of conditions and one moment: the verb of this stage is ``weigh``."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.network.facts.points import PlaceKind
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.network.network import Flag, Network
from rollroute.standards import CEILING_GRADE
from rollroute.weights.case import Case, Mask, Tally, Weighing, case_of
from rollroute.weights.energy import ESCORT_SPEED_M_S, Drive, drive_pieces, idle_wh
from rollroute.weights.moment import hours_close_s
from rollroute.weights.passages import clear_passed
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import judge_places
from rollroute.weights.reasons import Reason
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.scouting import edges_to_scout
from rollroute.weights.way_back import back_sure

ADA_RAMP_GRADE = CEILING_GRADE
LIFT_WAIT_S = 90.0  # assumption: call, wait, doors and ride, expected
LIFT_WAIT_PLANNED_S = 240.0  # assumption: the same on a bad evening
DOOR_S = 10.0  # assumption: open a door by hand or wait for it
UNKNOWN_GRADE_BAD = 1 / 20  # where a grade is unknown, energy is planned for a walk as steep as R302.4.1 allows, up in both directions

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class EdgeWeights:
    """(2 n_pieces,) arrays over directed edges.

    reasons, questions : uint32   bits of ``Reason`` and ``Question``; 0 is none
    surprisal : float64           −ln(1 − d) of its questions, shares of stretches and places included
    time_s, planned_time_s, energy_wh, planned_energy_wh : float64   never NaN; where a fact is unknown, the bad side
    discomfort_s : float64        seconds that a person would give not to drive here
    closes_s : float64            seconds after departure at which it closes; inf never
    is_back_sure : bool or None   whether a chair that has driven it surely comes back; ``None``: see ``SearchGraph.is_back_sure``
    to_scout                      edges over a place that somebody should look at before anybody sets out (``scouting``)
    """

    reasons: npt.NDArray[np.uint32]
    questions: npt.NDArray[np.uint32]
    surprisal: Floats
    time_s: Floats
    planned_time_s: Floats
    energy_wh: Floats
    planned_energy_wh: Floats
    discomfort_s: Floats
    closes_s: Floats
    is_back_sure: Mask | None = None
    to_scout: npt.NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))

    @property
    def is_passable(self) -> npt.NDArray[np.bool_]:
        """Nothing known stops the chair."""
        return np.asarray(self.reasons == 0, np.bool_)

    @property
    def is_unverified(self) -> npt.NDArray[np.bool_]:
        """Passable, but with questions."""
        return np.asarray((self.reasons == 0) & (self.questions != 0), np.bool_)


def weigh(
    network: Network,
    chair: Chair,
    drive: Drive,
    factors: PlannedFactors,
    conditions: Conditions,
    *,
    rules: Weighing | None = None,
    closes_s: Floats | None = None,
) -> EdgeWeights:
    """Weigh every directed edge of ``network``.

    Parameters
    ----------
    drive, factors
        The calibrated chair, and the multipliers from expected to planned (``rollroute.weights``).
    closes_s
        (n_pieces,) seconds after departure when a piece closes; ``None``: nothing closes but by the hours of its tags.
    """
    case = case_of(network, chair, conditions, rules)
    tally = Tally.empty(network.n_pieces)
    judge_pieces(case, tally)
    judge_places(case, tally)
    asked = tally.questions.copy() if case.passages else tally.questions
    clear_passed(case, tally)
    if closes_s is not None:
        tally.exclude(closes_s <= 0.0, Reason.CLOSED)
    time_s, energy_wh = _drive_all(case, drive)
    hours_s = hours_close_s(case)
    closes_s = hours_s if closes_s is None else np.minimum(closes_s, hours_s)
    waiting_s, waiting_planned_s = (np.repeat(seconds, 2) for seconds in _waits(network))
    planned_time_s = time_s * factors.time + waiting_planned_s
    planned_idle_wh = idle_wh(waiting_planned_s, drive)
    return EdgeWeights(
        reasons=tally.reasons,
        questions=tally.questions,
        surprisal=tally.surprisal,
        time_s=time_s + waiting_s,
        planned_time_s=planned_time_s,
        energy_wh=energy_wh + idle_wh(waiting_s, drive),
        planned_energy_wh=(energy_wh + planned_idle_wh) * factors.energy,
        discomfort_s=_discomfort_s(case, time_s),
        closes_s=np.repeat(closes_s, 2),
        is_back_sure=back_sure(case, tally, asked),
        to_scout=edges_to_scout(case, tally),
    )


def _drive_all(case: Case, drive: Drive) -> tuple[Floats, Floats]:
    """Expected driving time and energy of every directed edge."""
    pieces = case.network.pieces
    ratio, speed_factor, _ = case.surface_rows
    grade = np.empty((2, case.network.n_pieces))  # all forward, then all backward: long rows are quick
    # stairs and slips of the keyboard are excluded anyway, but numbers stay finite
    np.clip(pieces.grade, -0.5, 0.5, out=grade[0])
    np.negative(grade[0], out=grade[1])
    grade[np.isnan(grade)] = UNKNOWN_GRADE_BAD
    escort = ESCORT_SPEED_M_S if case.conditions.has_escort else None
    length_m = np.asarray(pieces.length_m, np.float64)
    found = drive_pieces(length_m, grade, drive, surface_speed_factor=speed_factor, crr_ratio=ratio, escort_m_s=escort)
    return _by_edge(found[0]), _by_edge(found[1])


def _by_edge(rows: Floats) -> Floats:
    """(2 n_pieces,) from (2, n_pieces): forward and backward side by side."""
    return np.ascontiguousarray(rows.T).ravel()


def _waits(network: Network) -> tuple[Floats, Floats]:
    """Expected and planned standing time on every piece: lifts and doors, shared like their places."""
    touch, places = network.incidence, network.places
    kind = places.kind[touch.place]
    waits = []
    for lift_s in (LIFT_WAIT_S, LIFT_WAIT_PLANNED_S):
        seconds = np.where(kind == PlaceKind.LIFT, lift_s, np.where(kind == PlaceKind.DOOR, DOOR_S, 0.0)) * touch.share
        total = np.bincount(touch.piece, weights=seconds, minlength=network.n_pieces).astype(np.float64)  # integers where nothing is met
        total[network.pieces.kind == WayKind.ELEVATOR] += lift_s
        waits.append(total)
    return waits[0], waits[1]


# Assumptions: what people give in time to avoid each, as a share of the time driven on it.
_ROAD_DISCOMFORT = 1.0
_STEEP_DISCOMFORT = 1.0  # at the limit; in proportion from 1:20 on
_ROUGH_DISCOMFORT = 1.0  # per step of rolling resistance over the hard floor


def _discomfort_s(case: Case, time_s: Floats) -> Floats:
    """Seconds of discomfort: driving on the road, near the grade limit, over rough ground."""
    pieces = case.network.pieces
    on_road = case.is_kind(*CARRIAGEWAY_KINDS) & ~case.has(Flag.STREET_SIDEWALK)
    if case.conditions.after_storm:
        on_road = ~on_road & ~case.has(Flag.INDOOR)  # sidewalks and curb ramps are cleared last
    grade = np.abs(np.nan_to_num(pieces.grade.astype(np.float64), nan=UNKNOWN_GRADE_BAD))
    steep = np.clip((grade - 0.05) / (ADA_RAMP_GRADE - 0.05), 0.0, 1.0)
    rough = np.clip(case.surface_rows[0] - 1.0, 0.0, 3.0)
    per_second = _ROAD_DISCOMFORT * on_road + _STEEP_DISCOMFORT * steep + _ROUGH_DISCOMFORT * rough
    return np.asarray(time_s * np.repeat(per_second, 2), np.float64)
