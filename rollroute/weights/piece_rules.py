"""What the facts along a piece mean for one chair: exclusions and questions, both directions at once.

Every rule is one function that marks a ``Tally``. A fact that is missing raises a question, never a pass;
a question about a stretch of way is shared out over its length, so cutting a piece changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.tables import load_surfaces
from rollroute.network.doubts import Doubts
from rollroute.network.facts.ways import ACCESS_CLOSED, ACCESS_LIMITED, WHEELCHAIR_LIMITED, WHEELCHAIR_NO, WHEELCHAIR_YES
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.network.network import Flag, Network
from rollroute.network.ranks import Rank
from rollroute.network.surfaces import SMOOTHNESS
from rollroute.weights.reasons import Question, Reason

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LIMITED_STEP_M = 0.07  # OSM wiki, Key:wheelchair: "limited" is one step of at most 7 cm
LEAST_DOUBT = 0.005  # assumption: a grade less likely over the limit than this raises no question
MOST_CROSS_SLOPE = 1 / 20  # PROWAG R302.5.2.2 allows 1:20 across in crossings without control; steeper raises a question
PINCH_LENGTH_M = 0.61  # ADA 403.5.1 exception: 24 in
ROUGH_SPEED_ROAD_KMH = 40.0
_PATHLIKE = (WayKind.PATH, WayKind.TRACK, WayKind.RAMP)


@dataclass(slots=True)
class Tally:
    """Verdicts of directed edges as they are collected: (2 n_pieces,) each."""

    reasons: npt.NDArray[np.uint32]
    questions: npt.NDArray[np.uint32]
    surprisal: Floats

    @classmethod
    def empty(cls, n_pieces: int) -> Tally:
        """Nothing said yet."""
        n = 2 * n_pieces
        return cls(np.zeros(n, np.uint32), np.zeros(n, np.uint32), np.zeros(n))

    def exclude(self, pieces: Mask, reason: Reason) -> None:
        """Exclude whole pieces, both ways."""
        self.reasons.reshape(-1, 2)[pieces] |= np.uint32(reason)

    def ask(self, pieces: Mask, question: Question, chance: float | Floats, share: float | Floats = 1.0) -> None:
        """Ask about pieces, both ways; ``chance`` of being bad of the whole question, ``share`` of it on each piece."""
        if not pieces.any():
            return
        self.questions.reshape(-1, 2)[pieces] |= np.uint32(question)
        part = np.broadcast_to(np.asarray(share * -np.log1p(-np.asarray(chance, np.float64)), np.float64), pieces.shape)
        self.surprisal.reshape(-1, 2)[pieces] += part[pieces, None]


@dataclass(frozen=True, slots=True)
class Case:
    """One network, chair, set of conditions and limits under judgement."""

    network: Network
    chair: Chair
    conditions: Conditions
    doubts: Doubts
    max_grade: float

    def share(self) -> Floats:
        """The share of its stretch's question that falls to each piece."""
        pieces = self.network.pieces
        return np.asarray(np.minimum(1.0, pieces.length_m / pieces.stretch_m), np.float64)

    def is_kind(self, *kinds: WayKind) -> Mask:
        """Pieces of any of ``kinds``."""
        mask: Mask = np.isin(self.network.pieces.kind, [int(k) for k in kinds])
        return mask

    def has(self, *flags: int) -> Mask:
        """Pieces with any of ``flags``."""
        return np.asarray((self.network.pieces.flags & sum(flags)) != 0, np.bool_)

    @property
    def is_off_map(self) -> Mask:
        """Pieces that are our own straight lines from a place to the mapped ways."""
        return self.has(Flag.OFF_MAP)


def judge_pieces(case: Case, tally: Tally) -> None:
    """Apply every rule about facts along pieces."""
    for rule in (_steps, _works_and_access, _tagged_wheelchair, _width, _surface, _grade, _carriageway, _mass, _cross_slope, _off_map):
        rule(case, tally)
    _one_way(case, tally)


def _steps(case: Case, tally: Tally) -> None:
    stairs = case.is_kind(WayKind.STEPS, WayKind.ESCALATOR) & ~case.is_off_map
    with_ramp = stairs & case.has(Flag.STEPS_RAMP)
    tally.exclude(stairs & ~with_ramp, Reason.STEPS)
    tally.ask(with_ramp, Question.STEPS_RAMP, case.doubts.chance("steps_ramp"), case.share())
    lifts = case.is_kind(WayKind.ELEVATOR)
    if not case.conditions.has_mains:
        tally.exclude(lifts, Reason.POWER)


def _works_and_access(case: Case, tally: Tally) -> None:
    access = case.network.pieces.access
    tally.exclude(case.has(Flag.CONSTRUCTION), Reason.WORKS)
    tally.exclude((access == ACCESS_CLOSED) & ~case.is_off_map, Reason.ACCESS)
    doubtful = (access == ACCESS_LIMITED) | case.has(Flag.CONDITIONAL)
    tally.ask(doubtful & (access != ACCESS_CLOSED) & ~case.is_off_map, Question.ACCESS, case.doubts.chance("access"), case.share())


def _tagged_wheelchair(case: Case, tally: Tally) -> None:
    word = case.network.pieces.wheelchair
    tally.exclude(word == WHEELCHAIR_NO, Reason.TAGGED_NO)
    tally.exclude((word == WHEELCHAIR_LIMITED) & (case.chair.rated_obstacle_m < LIMITED_STEP_M), Reason.TAGGED_NO)


def _width(case: Case, tally: Tally) -> None:
    """Width against the chair's own and the clearance on both sides; a missing one is one question for the stretch."""
    pieces = case.network.pieces
    known = ~np.isnan(pieces.width_m)
    tally.exclude(known & (pieces.width_m < case.chair.clear_width_m), Reason.WIDTH)
    trusted = (pieces.wheelchair == WHEELCHAIR_YES) | case.has(Flag.OVER_AREA, Flag.LINK)
    trusted |= case.is_kind(WayKind.ELEVATOR, WayKind.PEDESTRIAN)
    unknown = ~known & ~trusted & ~case.is_off_map & ~case.is_kind(WayKind.STEPS, WayKind.ESCALATOR)
    pathlike = unknown & case.is_kind(*_PATHLIKE)
    tally.ask(pathlike, Question.WIDTH, case.doubts.chance("width_path"), case.share())
    tally.ask(unknown & ~pathlike, Question.WIDTH, case.doubts.chance("width_walk"), case.share())


def _surface(case: Case, tally: Tally) -> None:
    """Surface × wheel × wet by the table; smoothness where somebody judged it."""
    pieces, table = case.network.pieces, load_surfaces()
    verdict = surface_rows(case.network, case.chair, case.conditions)[2]
    on_ground = ~case.is_off_map & ~case.is_kind(WayKind.STEPS, WayKind.ESCALATOR)
    unknown = (pieces.surface == 0) & on_ground
    tally.exclude((verdict == 2) & ~unknown & on_ground, Reason.SURFACE)
    tally.ask((verdict == 1) & ~unknown & on_ground, Question.SURFACE, case.doubts.chance("surface_word"), case.share())
    judged = np.array([2] + [("passable", "question", "excluded").index(table.smoothness_verdict(w, case.chair.wheel)) for w in SMOOTHNESS])
    smooth = judged[pieces.smoothness]
    told = pieces.smoothness > 0
    tally.exclude(told & (smooth == 2), Reason.SURFACE)
    tally.ask(told & (smooth == 1) & ~(verdict == 1), Question.SURFACE, case.doubts.chance("surface_word"), case.share())
    silent = unknown & ~(told & (smooth == 0))
    rough = silent & case.is_kind(*_PATHLIKE)
    tally.ask(rough, Question.SURFACE, case.doubts.chance("surface_path"), case.share())
    tally.ask(silent & ~rough, Question.SURFACE, case.doubts.chance("surface_walk"), case.share())


def surface_rows(network: Network, chair: Chair, conditions: Conditions) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """(crr ratio, speed factor, verdict) of every piece; under a roof it stays dry."""
    table = load_surfaces()
    code = np.where(network.pieces.surface == 0, len(table.names) - 1, network.pieces.surface.astype(np.int64) - 1)
    dry = table.lookup(chair.wheel, is_wet=False)
    if not conditions.is_wet:
        return dry.crr_ratio[code], dry.speed_factor[code], dry.verdict[code]
    wet = table.lookup(chair.wheel, is_wet=True)
    roofed = (network.pieces.flags & Flag.INDOOR) != 0

    def either(field: str) -> npt.NDArray[Any]:
        return np.asarray(np.where(roofed, getattr(dry, field)[code], getattr(wet, field)[code]))

    return either("crr_ratio"), either("speed_factor"), either("verdict").astype(np.int8)


def _grade(case: Case, tally: Tally) -> None:
    """Grade against the limit, going up and going down. Best estimate over it: excluded; else its chance of being over is the doubt."""
    pieces = case.network.pieces
    on_ground = ~case.is_off_map & ~case.is_kind(WayKind.STEPS, WayKind.ESCALATOR, WayKind.ELEVATOR)
    over = np.abs(pieces.grade_steepest) > case.max_grade
    is_tagged = pieces.grade_rank >= Rank.TAG_WORD
    tally.exclude(on_ground & over & is_tagged, Reason.GRADE)
    tally.exclude(on_ground & over & ~is_tagged, Reason.GRADE_ESTIMATED)
    chance, share = grade_doubt(case)
    tally.ask(on_ground & ~over & (chance > LEAST_DOUBT), Question.GRADE, np.minimum(chance, 0.999), share)


def grade_doubt(case: Case) -> tuple[Floats, Floats]:
    """The posterior chance of being over the limit, and the share of it that falls to a piece shorter than its window.

    Without heights there is no posterior and the doubt can't be told: it is then taken from the prior of streets anywhere,
    a chance of 5 % for each stretch (assumption).
    """
    from rollroute.network.grade_posterior import GradePosterior, GradePrior

    network, pieces = case.network, case.network.pieces
    chance, share = np.zeros(network.n_pieces), np.ones(network.n_pieces)
    is_tagged = (pieces.grade_rank >= Rank.TAG_WORD) | ((pieces.grade_rank == Rank.INFERRED) & (pieces.grade_sd == 0))
    prior = network.about.get("grade_prior")
    rows = np.flatnonzero(~is_tagged & ~np.isnan(pieces.grade))
    if prior is not None and len(rows):
        posterior = GradePosterior(
            measured=pieces.grade_measured[rows], measured_sd=pieces.grade_measured_sd[rows], inner=pieces.grade_inner[rows],
            kind=pieces.kind[rows].astype(np.uint8), prior=GradePrior(weights=np.asarray(prior)),
        )  # fmt: skip
        chance[rows] = posterior.probability_over(case.max_grade)
        share[rows] = np.minimum(1.0, pieces.length_m[rows] / pieces.grade_window_m[rows])
    unknown = np.isnan(pieces.grade)
    chance[unknown], share[unknown] = UNKNOWN_GRADE_CHANCE, case.share()[unknown]
    rough = (pieces.grade_rank == Rank.TAG_WORD) & ~unknown
    chance[rough] = np.maximum(chance[rough], np.where(np.abs(pieces.grade[rough]) > case.max_grade - 0.02, 0.2, 0.0))
    return chance, share


UNKNOWN_GRADE_CHANCE = 0.05  # assumption: one stretch of town street in twenty is steeper than 1:12


def _carriageway(case: Case, tally: Tally) -> None:
    """Driving on the road: slow residential streets with an escort and light, busy or fast ones never."""
    no_sidewalk = ~case.has(Flag.STREET_SIDEWALK) & ~case.is_off_map
    tally.exclude(case.is_kind(WayKind.BUSY_ROAD, WayKind.FAST_ROAD) & no_sidewalk, Reason.TRAFFIC)
    on_road = case.is_kind(*(CARRIAGEWAY_KINDS - {WayKind.BUSY_ROAD, WayKind.FAST_ROAD})) & no_sidewalk
    street = on_road & case.is_kind(WayKind.RESIDENTIAL)
    if not case.conditions.has_escort:
        tally.exclude(street, Reason.ESCORT)
    if case.conditions.is_dark:
        lit = case.has(Flag.LIT) & case.conditions.has_mains
        tally.exclude(street & ~lit, Reason.DARK)
    tally.ask(street & ~case.has(Flag.NO_SIDEWALK), Question.CARRIAGEWAY, case.doubts.chance("carriageway"), case.share())


def _mass(case: Case, tally: Tally) -> None:
    limit = case.network.pieces.mass_limit_kg
    with np.errstate(invalid="ignore"):
        tally.exclude(case.chair.total_mass_kg > limit, Reason.MASS)


def _cross_slope(case: Case, tally: Tally) -> None:
    across = case.network.pieces.cross_slope
    with np.errstate(invalid="ignore"):
        tally.exclude(across > case.chair.rated_grade, Reason.CROSS_SLOPE)
        steep = (across > MOST_CROSS_SLOPE) & (across <= case.chair.rated_grade)
    tally.ask(steep, Question.CROSS_SLOPE, case.doubts.chance("cross_slope"), case.share())


def _off_map(case: Case, tally: Tally) -> None:
    tally.ask(case.is_off_map, Question.OFF_MAP, case.doubts.chance("off_map"), 1.0)
    tally.ask(case.has(Flag.LINK), Question.OTHER, case.doubts.chance("sidewalk_link"), case.share())


def _one_way(case: Case, tally: Tally) -> None:
    forward, backward = tally.reasons[0::2], tally.reasons[1::2]
    backward[case.has(Flag.FORWARD_ONLY)] |= np.uint32(Reason.ONE_WAY)
    forward[case.has(Flag.BACKWARD_ONLY)] |= np.uint32(Reason.ONE_WAY)
