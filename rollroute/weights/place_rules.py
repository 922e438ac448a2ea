"""What kerbs, barriers, doors, lifts, crossings and bends mean for one chair, going up and going down."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import BarrierKind, BendWord, KerbWord, PlaceFlag, PlaceKind
from rollroute.network.ranks import Rank
from rollroute.network.tags import Access
from rollroute.network.tags.barriers import GATES
from rollroute.network.tags.wheelchair import LIMITED_STEP_M
from rollroute.weights.case import EVERY_QUESTION, Case, Tally
from rollroute.weights.moment import SHUT, UNSURE, AtThatTime, places_at
from rollroute.weights.reasons import Question, Reason

Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

RAISED_USUAL_M = 0.15  # common practice: kerbs are built 10 to 15 cm high; the bad side counts
HELPED_THRESHOLD_M = 0.025  # assumption: what one helper may ease a chair over beyond its rating
LIFT_DEPTH_ROOM_M = 0.05  # assumption: the chair must fit in the car with this to spare
TURN_WIDTH_M = 1.22  # 2010 ADA Standards 403.5.2: 1220 mm at a turn of 180 degrees round something narrow
COUNTER_SLOPE_MOST = 1 / 20  # 2010 ADA Standards 406.2; PROWAG R304.2.4
GUTTER_CHANGE_MOST = 0.133  # PROWAG R304.5.2: change of grade at the gutter
GRADE_EPSILON = 1e-6
UP, DOWN = 0, 1
EPSILON_M = 1e-4  # what figures kept in 32 bits may be off by


@dataclass(frozen=True, slots=True)
class PlaceVerdicts:
    """(n_places, 2) verdicts, column 0 going up and column 1 going down."""

    reasons: npt.NDArray[np.uint32]
    questions: npt.NDArray[np.uint32]
    surprisal: Floats
    heard: Question = EVERY_QUESTION

    def exclude(self, rows: Mask, reason: Reason, column: int | None = None) -> None:
        """Add ``reason`` to places, in one direction or both."""
        self.reasons[rows, slice(None) if column is None else column] |= np.uint32(reason)

    def ask(self, rows: Mask, question: Question, chance: float | Floats, column: int | None = None) -> None:
        """Add a question to places; ``chance`` for all of them, or (n_places,)."""
        if not question & self.heard:
            return
        columns = slice(None) if column is None else column
        self.questions[rows, columns] |= np.uint32(question)
        surprisal = np.broadcast_to(-np.log1p(-np.asarray(chance, np.float64)), rows.shape)[rows]
        self.surprisal[rows, columns] += surprisal[:, None] if column is None else surprisal


@dataclass(frozen=True, slots=True)
class _Judge:
    """One case with what every rule needs."""

    case: Case
    out: PlaceVerdicts
    now: AtThatTime
    chance: Floats  # (n_places,) of each place's own main question
    is_key_held: Mask

    def kind(self, kind: PlaceKind) -> Mask:
        return np.asarray(self.case.network.places.kind == kind, np.bool_)

    def has(self, flag: PlaceFlag) -> Mask:
        return np.asarray((self.case.network.places.flags & np.uint16(flag)) != 0, np.bool_)


def judge_places(case: Case, tally: Tally) -> PlaceVerdicts:
    """Judge every place once, and lay the verdicts on the edges that meet it."""
    places = case.network.places
    n = len(places.kind)
    out = PlaceVerdicts(np.zeros((n, 2), np.uint32), np.zeros((n, 2), np.uint32), np.zeros((n, 2)), tally.heard)
    by_kind = np.array([case.doubts.probability(kind) for kind in case.doubts.kinds])
    chance = by_kind[places.doubt]
    stated_yes = (places.flags & np.uint16(PlaceFlag.WHEELCHAIR_YES)) != 0  # stepless, says the wiki, and nothing of widths
    chance = np.where(stated_yes, np.minimum(chance, case.doubts.probability("wheelchair_yes")), chance)
    judge = _Judge(case, out, places_at(case), chance, case.keys_held)
    for rule in (_kerbs, _kerb_ramps, _barriers, _locks, _doors, _thresholds, _lifts, _crossings, _bends):
        rule(judge)
    out.exclude(judge.has(PlaceFlag.BLOCKED), Reason.MEASURED)
    _lay_on_edges(case, out, tally)
    return out


def _kerbs(judge: _Judge) -> None:
    """Height against the rated obstacle, up and down. ``raised`` without a figure is over 3 cm and may be a whole kerb."""
    case, places, out = judge.case, judge.case.network.places, judge.out
    is_kerb, is_apron = judge.kind(PlaceKind.KERB), judge.kind(PlaceKind.APRON)
    known = ~np.isnan(places.height_m)
    in_words = places.height_rank <= Rank.TAG_WORD  # lowered is at most 3 cm: it may be less
    for column, rated_m in ((UP, case.chair.rated_obstacle_m), (DOWN, case.chair.rated_obstacle_down_m)):
        limit_m = case.at_most(rated_m, "max_level_change_m")
        over = (is_kerb | is_apron) & known & (places.height_m > limit_m + EPSILON_M)
        perhaps = over & in_words & (places.height_m <= rated_m + EPSILON_M)
        out.exclude(over & ~perhaps, Reason.KERB, column)
        out.ask(perhaps, Question.KERB, case.doubts.probability("kerb_word"), column)
        stopped = (is_kerb | is_apron) & ~known & (places.word == KerbWord.RAISED) & (limit_m < RAISED_USUAL_M)
        out.exclude(stopped, Reason.KERB, column)
        out.ask(is_kerb & ~known & ~stopped, Question.KERB, judge.chance, column)
    out.ask(is_apron & ~known, Question.APRON, judge.chance)


def _kerb_ramps(judge: _Judge) -> None:
    """The ramp at a kerb, where somebody told of it: its running slope, its width, and the gutter that runs against it.

    2010 ADA Standards 405.2, 405.5 and 406.2; PROWAG R304.5.2: where both slopes add up to more than 13.3 % a chair may bottom out.
    """
    case, places, out = judge.case, judge.case.network.places, judge.out
    is_kerb = judge.kind(PlaceKind.KERB) | judge.kind(PlaceKind.APRON)
    out.exclude(is_kerb & (places.ramp_grade > case.at_most(case.max_grade, "curb_ramp_grade") + GRADE_EPSILON), Reason.GRADE)
    out.exclude(is_kerb & (places.width_m < case.at_least(case.width_needed_m, "curb_ramp_width_m") - EPSILON_M), Reason.WIDTH)
    hollow = places.counter_slope > COUNTER_SLOPE_MOST + GRADE_EPSILON
    hollow |= np.nan_to_num(places.ramp_grade) + places.counter_slope > GUTTER_CHANGE_MOST + GRADE_EPSILON
    stated = case.preset("counter_slope") is not None
    out.exclude(is_kerb & hollow & stated, Reason.GRADE)
    out.ask(is_kerb & hollow & (not stated), Question.KERB, case.doubts.probability("gutter"))


def _barriers(judge: _Judge) -> None:
    case, places, out = judge.case, judge.case.network.places, judge.out
    is_barrier, stated_yes = judge.kind(PlaceKind.BARRIER), judge.has(PlaceFlag.WHEELCHAIR_YES)
    measured = places.width_rank >= Rank.SURVEY
    out.exclude(is_barrier & judge.has(PlaceFlag.WHEELCHAIR_NO) & ~measured, Reason.TAGGED_NO)
    out.exclude(is_barrier & judge.has(PlaceFlag.STOPS) & ~stated_yes, Reason.GATE)
    known = ~np.isnan(places.width_m)
    needed_m = np.where(judge.has(PlaceFlag.CROWDED), case.width_needed_m, case.pinch_needed_m)
    bollard_m = case.at_least(case.pinch_needed_m, "bollard_gap_m")
    needed_m = np.where(places.word == BarrierKind.BOLLARD, np.maximum(needed_m, bollard_m), needed_m)
    out.exclude(is_barrier & known & (places.width_m < needed_m - EPSILON_M), Reason.WIDTH)
    if not case.conditions.has_mains:
        out.exclude(is_barrier & judge.has(PlaceFlag.NEEDS_POWER) & ~judge.has(PlaceFlag.HAS_BACKUP), Reason.POWER)
    is_open = is_barrier & (~judge.has(PlaceFlag.STOPS) | stated_yes)
    is_gate = np.isin(places.word, [int(k) for k in GATES | {BarrierKind.UNKNOWN, BarrierKind.OTHER}])
    settled = judge.is_key_held & known
    out.ask(is_open & is_gate & ~settled, Question.GATE, judge.chance)  # wide enough or not, it may be locked
    is_maze = places.word == BarrierKind.CYCLE_BARRIER
    out.ask(is_open & is_maze, Question.CYCLE_BARRIER, judge.chance)  # a wide gap may still turn too tightly
    out.ask(is_open & ~is_gate & ~is_maze & ~known, Question.BOLLARD, judge.chance)


def _locks(judge: _Judge) -> None:
    """Locks, hours and rights of gates and doors; a key that the coordinator holds opens what it fits, at any hour."""
    case, out, access = judge.case, judge.out, judge.now.access
    closes = (judge.kind(PlaceKind.BARRIER) | judge.kind(PlaceKind.DOOR)) & ~judge.is_key_held
    is_door = judge.kind(PlaceKind.DOOR)
    locked = closes & judge.has(PlaceFlag.LOCKED)
    out.exclude(locked & is_door, Reason.DOOR)
    out.exclude(locked & ~is_door, Reason.GATE)
    granted = np.zeros(256, bool)
    granted[[int(a) for a in case.rules.granted]] = True
    stands = closes & (access >= Access.UNCLEAR) & ~granted[access]
    out.exclude(stands & (access >= Access.DELIVERY), Reason.ACCESS)
    out.exclude(closes & (judge.now.state == SHUT) & ~is_door, Reason.ACCESS)
    doubtful = (stands & (access < Access.DELIVERY)) | (closes & ((judge.now.state == UNSURE) | ((judge.now.state == SHUT) & is_door)))
    out.ask(doubtful, Question.ACCESS, case.doubts.probability("access"))


def _doors(judge: _Judge) -> None:
    case, places, out = judge.case, judge.case.network.places, judge.out
    is_door = judge.kind(PlaceKind.DOOR)
    out.exclude(is_door & judge.has(PlaceFlag.WHEELCHAIR_NO), Reason.TAGGED_NO)
    out.exclude(is_door & judge.has(PlaceFlag.STOPS), Reason.DOOR)
    if not case.conditions.has_mains:
        out.exclude(is_door & judge.has(PlaceFlag.NEEDS_POWER) & ~judge.has(PlaceFlag.HAS_BACKUP), Reason.POWER)
    known = ~np.isnan(places.width_m)
    out.exclude(is_door & known & (places.width_m < case.door_needed_m - EPSILON_M), Reason.DOOR)
    out.ask(is_door & ~known, Question.DOOR, judge.chance)


def _thresholds(judge: _Judge) -> None:
    """The sill of a door. ``wheelchair=limited`` is one step of at most 7 cm; a helper may ease the chair over one low one."""
    case, places, out = judge.case, judge.case.network.places, judge.out
    is_door, known = judge.kind(PlaceKind.DOOR), ~np.isnan(places.height_m)
    limited = is_door & judge.has(PlaceFlag.WHEELCHAIR_LIMITED) & ~known
    help_m = HELPED_THRESHOLD_M if case.conditions.helper_eases_threshold else 0.0
    for column, rated_m in ((UP, case.chair.rated_obstacle_m), (DOWN, case.chair.rated_obstacle_down_m)):
        limit_m = case.at_most(rated_m, "threshold_m") + help_m
        out.exclude(is_door & known & (places.height_m > limit_m + EPSILON_M), Reason.DOOR, column)
        out.exclude(limited & (limit_m < LIMITED_STEP_M), Reason.DOOR, column)
    silent = is_door & ~known & ~limited & judge.has(PlaceFlag.ENTRANCE)
    stated_yes = judge.has(PlaceFlag.WHEELCHAIR_YES)
    out.ask(silent & ~stated_yes, Question.THRESHOLD, case.doubts.probability("threshold"))
    out.ask(silent & stated_yes, Question.THRESHOLD, case.doubts.probability("threshold_wheelchair_yes"))


def _lifts(judge: _Judge) -> None:
    case, places, out, chair = judge.case, judge.case.network.places, judge.out, judge.case.chair
    is_lift = judge.kind(PlaceKind.LIFT)
    if not case.conditions.has_mains:
        out.exclude(is_lift & ~judge.has(PlaceFlag.HAS_BACKUP), Reason.POWER)
    out.exclude(is_lift & judge.has(PlaceFlag.STOPS), Reason.POWER)  # out of order
    out.exclude(is_lift & judge.has(PlaceFlag.WHEELCHAIR_NO), Reason.TAGGED_NO)
    out.exclude(is_lift & (places.width_m < case.at_least(chair.width_m, "min_lift_width_m") - EPSILON_M), Reason.LIFT_SIZE)
    out.exclude(is_lift & (places.mass_limit_kg < chair.total_mass_kg), Reason.MASS)
    depth_m = case.at_least(0.0 if chair.length_m is None else chair.length_m + LIFT_DEPTH_ROOM_M, "min_lift_depth_m")
    out.exclude(is_lift & (places.length_m < depth_m - EPSILON_M), Reason.LIFT_SIZE)
    is_sized = (places.width_rank > Rank.UNKNOWN) & ~np.isnan(places.length_m) & (chair.length_m is not None)
    out.ask(is_lift & ~is_sized, Question.LIFT, judge.chance)


def _crossings(judge: _Judge) -> None:
    """A fast or wide road without working signals needs a marshal; with the mains off no signal works."""
    out = judge.out
    is_crossing, is_wide = judge.kind(PlaceKind.CROSSING), judge.has(PlaceFlag.FAST_OR_WIDE)
    signalled = judge.has(PlaceFlag.SIGNALLED)
    works = signalled & judge.case.conditions.has_mains
    went_out = signalled & ~works
    out.ask(is_crossing & ((is_wide & ~works) | went_out), Question.CROSSING, judge.chance)


def _bends(judge: _Judge) -> None:
    """Room to turn: at a hairpin 403.5.2, or the chair's own turning circle where smaller; round a corner what its outline needs."""
    places, out, chair = judge.case.network.places, judge.out, judge.case.chair
    is_bend = judge.kind(PlaceKind.BEND)
    is_hairpin = is_bend & (places.word == BendWord.HAIRPIN)
    own_m = chair.turning_diameter_m
    hairpin_m = TURN_WIDTH_M if own_m is None else min(TURN_WIDTH_M, max(own_m, chair.clear_width_m))
    hairpin_m = judge.case.at_least(hairpin_m, "turn_width_m")
    out.exclude(is_hairpin & (places.width_m < hairpin_m - EPSILON_M), Reason.TURN)
    if chair.length_m is not None:
        out.exclude(is_bend & (places.width_m < corner_width_m(chair.width_m, chair.length_m) - EPSILON_M), Reason.TURN)
    unknown = is_hairpin & np.isnan(places.width_m)
    out.ask(unknown, Question.TURN, judge.chance)


def corner_width_m(width_m: float, length_m: float) -> float:
    """Width of two equally wide passages round whose right-angled corner a rectangle can be turned.

    With the rectangle at 45 degrees its inner long side touches the corner and its outer corners the walls: width √2 = length / 2 + width.

    Examples
    --------
    >>> round(corner_width_m(0.70, 1.20), 3)
    0.919
    """
    return (length_m / 2 + width_m) / math.sqrt(2.0)


def _lay_on_edges(case: Case, verdicts: PlaceVerdicts, tally: Tally) -> None:
    """Going up counts where the edge rises over the place, going down where it falls, the worse of both where nobody knows."""
    touch = case.network.incidence
    for direction, edge in ((1, 2 * touch.piece), (-1, 2 * touch.piece + 1)):
        goes_up, goes_down = touch.rises * direction > 0, touch.rises * direction < 0
        both = verdicts.surprisal[touch.place]
        surprisal = np.where(goes_up, both[:, UP], np.where(goes_down, both[:, DOWN], both.max(axis=1)))
        np.bitwise_or.at(tally.reasons, edge, _pick(verdicts.reasons[touch.place], goes_up, goes_down))
        np.bitwise_or.at(tally.questions, edge, _pick(verdicts.questions[touch.place], goes_up, goes_down))
        np.add.at(tally.edge_surprisal, edge, surprisal * touch.share)


def _pick(both: npt.NDArray[np.uint32], goes_up: Mask, goes_down: Mask) -> npt.NDArray[np.uint32]:
    return np.asarray(np.where(goes_up, both[:, UP], np.where(goes_down, both[:, DOWN], both[:, UP] | both[:, DOWN])), np.uint32)
