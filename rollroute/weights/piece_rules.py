"""What the facts along a piece mean for one chair: exclusions and questions, both directions at once.

Every rule is one function that marks a ``Tally``. A fact that is missing raises a question, never a pass;
a question about a stretch of way is shared out over its length, so cutting a piece changes nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from rollroute.inputs.tables import VERDICTS, load_surfaces
from rollroute.network.kinds import BUSY_KINDS, STAIR_KINDS, WayKind
from rollroute.network.network import Flag
from rollroute.network.ranks import Rank
from rollroute.network.tags import Access, Smoothness, Wheelchair
from rollroute.network.tags.wheelchair import LIMITED_STEP_M
from rollroute.weights.case import PINCH_LENGTH_M, Case, Floats, Tally
from rollroute.weights.moment import SHUT, UNSURE, pieces_at
from rollroute.weights.reasons import Question, Reason
from rollroute.weights.run_rules import judge_runs

LEAST_DOUBT = 0.005  # assumption: a grade less likely over the limit than this raises no question
MOST_CROSS_SLOPE = 1 / 20  # PROWAG R302.5.2.2 allows 1:20 across in crossings without control; steeper raises a question
UNKNOWN_GRADE_CHANCE = 0.05  # assumption: one stretch of town street in twenty is steeper than 1:12
ROUGH_TAG_MARGIN = 0.02  # assumption: a slope tagged as about right may be this much steeper
ROUGH_TAG_CHANCE = 0.2  # assumption
FLOOR_SPACE_M = 1.22  # 2010 ADA Standards 305.3: the length of a standing chair, for chairs whose own is not known
LIMITS_KEPT = 8  # chances of being over a limit that are kept for a network; chairs and presets share a few
PASSABLE, QUESTION, EXCLUDED = range(len(VERDICTS))


def judge_pieces(case: Case, tally: Tally) -> None:
    """Apply every rule about facts along pieces."""
    for rule in (
        _steps, _works, _access, _tagged_wheelchair, _width, _surface, _grade, judge_runs, _carriageway, _islands, _mass, _cross_slope,
        _unmapped,
    ):  # fmt: skip
        rule(case, tally)
    _one_way(case, tally)


def _steps(case: Case, tally: Tally) -> None:
    stairs = case.is_kind(*STAIR_KINDS) & ~case.is_off_map
    ramped, portable = case.has(Flag.STEPS_RAMP), case.has(Flag.PORTABLE_RAMP)
    tally.exclude(stairs & ~ramped & ~portable, Reason.STEPS)
    tally.ask(stairs & ramped, Question.STEPS_RAMP, case.doubts.probability("steps_ramp"), case.share)
    tally.ask(stairs & portable & ~ramped, Question.STEPS_RAMP, case.doubts.probability("portable_ramp"), case.share)
    lift = case.is_kind(WayKind.ELEVATOR)  # drawn as a way or an area: its depth is not kept, so its size is asked about
    tally.ask(lift & ~case.is_off_map, Question.LIFT, case.doubts.probability("lift"), case.share)
    if not case.conditions.has_mains:
        tally.exclude(lift, Reason.POWER)


def _works(case: Case, tally: Tally) -> None:
    tally.exclude(case.has(Flag.CONSTRUCTION), Reason.WORKS)
    tally.exclude(case.has(Flag.BLOCKED), Reason.MEASURED)


def _access(case: Case, tally: Tally) -> None:
    """OSM wiki, Key:access. Who is a customer or holds a permit is a question about the rider; private and forbidden ways are shut.

    A driveway is shut to strangers farther in, but its apron at the street is part of the sidewalk: for a chair it stays a question.
    """
    now = pieces_at(case)
    granted = np.zeros(256, bool)
    granted[[int(a) for a in case.rules.granted]] = True
    stands = (now.access >= Access.UNCLEAR) & ~granted[now.access] & ~case.is_off_map
    shut = (now.access >= Access.DELIVERY) & ~((now.access == Access.PRIVATE) & case.is_kind(WayKind.DRIVEWAY))
    tally.exclude(stands & shut, Reason.ACCESS)
    indoors = case.has(Flag.INDOOR)  # the hours of a shop are not those of a shelter: ask
    tally.exclude((now.state == SHUT) & ~indoors & ~case.is_off_map, Reason.ACCESS)
    doubtful = (stands & ~shut) | (now.state == UNSURE) | ((now.state == SHUT) & indoors)
    tally.ask(doubtful & ~case.is_off_map, Question.ACCESS, case.doubts.probability("access"), case.share)


def _tagged_wheelchair(case: Case, tally: Tally) -> None:
    word = case.network.pieces.wheelchair
    tally.exclude(word == Wheelchair.NO, Reason.TAGGED_NO)
    if case.chair.rated_obstacle_m < LIMITED_STEP_M:
        tally.exclude(word == Wheelchair.LIMITED, Reason.TAGGED_NO)


def _width(case: Case, tally: Tally) -> None:
    """Width against the chair's own and the clearance on both sides; a missing one is one question for the stretch.

    ``wheelchair=yes`` is stepless (OSM wiki, Key:wheelchair) and says nothing of widths: the question stays, and weighs less.
    """
    pieces = case.network.pieces
    known = ~np.isnan(pieces.width_m)
    is_pinch = (pieces.stretch_m <= PINCH_LENGTH_M) | case.has(Flag.NARROW_SHORT)
    needed_m = np.where(is_pinch, case.pinch_needed_m, case.width_needed_m).astype(np.float32)
    island_m = case.preset("median_width_m")
    if island_m is not None:
        needed_m[case.has(Flag.ISLAND)] = max(island_m, case.width_needed_m)
    tally.exclude(known & (pieces.width_m < needed_m - np.float32(1e-4)), Reason.WIDTH)
    trusted = case.has(Flag.OVER_AREA, Flag.LINK, Flag.OFF_MAP)
    trusted |= case.is_kind(WayKind.ELEVATOR, WayKind.PEDESTRIAN, *STAIR_KINDS)
    chance = case.chance_by_kind("width")
    stated_yes = np.minimum(chance, case.doubts.probability("wheelchair_yes"))
    chance = np.where(pieces.wheelchair == Wheelchair.YES, stated_yes, chance)
    tally.ask(~known & ~trusted, Question.WIDTH, chance, case.share)


def _surface(case: Case, tally: Tally) -> None:
    """Surface × wheel × wet by the table; smoothness where somebody judged it."""
    pieces, table = case.network.pieces, load_surfaces()
    verdict = case.surface_rows[2]
    on_ground = ~case.is_off_map & ~case.is_kind(*STAIR_KINDS)
    known = (pieces.surface != 0) & on_ground
    words = [level.name.lower() for level in Smoothness if level]
    judged = np.array([PASSABLE, *(VERDICTS.index(table.smoothness_verdict(w, case.chair.wheel)) for w in words)])[pieces.smoothness]
    told = (pieces.smoothness > 0) & on_ground
    tally.exclude((known & (verdict == EXCLUDED)) | (told & (judged == EXCLUDED)), Reason.SURFACE)
    doubtful = (known & (verdict == QUESTION)) | (told & (judged == QUESTION))
    tally.ask(doubtful, Question.SURFACE, case.doubts.probability("surface_word"), case.share)
    silent = on_ground & ~known & ~told
    tally.ask(silent, Question.SURFACE, case.chance_by_kind("surface"), case.share)


def _grade(case: Case, tally: Tally) -> None:
    """Grade against the limit, going up and going down. Best estimate over it: excluded; else its chance of being over is the doubt."""
    pieces = case.network.pieces
    on_ground = ~case.is_off_map & ~case.is_kind(WayKind.ELEVATOR, *STAIR_KINDS)
    limit: float | Floats = case.max_grade
    if case.max_crossing_grade < case.max_grade:
        limit = np.where(case.is_kind(WayKind.CROSSING), case.max_crossing_grade, case.max_grade)
    over = np.abs(pieces.grade_steepest) > limit + 1e-6
    is_tagged = pieces.grade_rank >= Rank.TAG_WORD
    tally.exclude(on_ground & over & is_tagged, Reason.GRADE)
    tally.exclude(on_ground & over & ~is_tagged, Reason.GRADE_ESTIMATED)
    chance, share = grade_doubt(case)
    untold_ramp = case.is_kind(WayKind.RAMP) & np.isnan(pieces.grade)
    if untold_ramp.any():
        chance = np.where(untold_ramp, case.doubts.probability("grade_ramp"), chance)
    tally.ask(on_ground & ~over & (chance > LEAST_DOUBT), Question.GRADE, np.minimum(chance, 0.999), share)


def grade_doubt(case: Case) -> tuple[Floats, Floats]:
    """The posterior chance of being over the limit, and the share of it that falls to a piece shorter than its window.

    Without heights there is no posterior and the doubt can't be told: it is then taken from the prior of streets anywhere,
    ``UNKNOWN_GRADE_CHANCE`` for each stretch.
    """
    chance, share = _grade_doubt_at(case, case.max_grade)
    if case.max_crossing_grade < case.max_grade:
        chance = np.where(case.is_kind(WayKind.CROSSING), _grade_doubt_at(case, case.max_crossing_grade)[0], chance)
    return chance, share


def _grade_doubt_at(case: Case, limit: float) -> tuple[Floats, Floats]:
    known: dict[float, tuple[Any, Any]] = case.network.chances_over_limit
    if limit not in known:
        if len(known) >= LIMITS_KEPT:
            del known[next(iter(known))]
        known[limit] = _grade_doubt(case, limit)
    return known[limit]


def _grade_doubt(case: Case, limit: float) -> tuple[Floats, Floats]:
    from rollroute.network.grade_posterior import GradePosterior, GradePrior

    network, pieces = case.network, case.network.pieces
    chance, share = np.zeros(network.n_pieces), np.ones(network.n_pieces)
    unknown = np.isnan(pieces.grade)
    is_tagged = (pieces.grade_rank >= Rank.TAG_WORD) | ((pieces.grade_rank == Rank.INFERRED) & (pieces.grade_sd == 0))
    prior = network.about.get("grade_prior")
    rows = np.flatnonzero(~is_tagged & ~unknown)
    if prior is not None and len(rows):
        posterior = GradePosterior(
            measured=pieces.grade_measured[rows], measured_sd=pieces.grade_measured_sd[rows], inner=pieces.grade_inner[rows],
            kind=pieces.kind[rows].astype(np.uint8), prior=GradePrior(weights=np.asarray(prior)),
        )  # fmt: skip
        chance[rows] = posterior.probability_over(limit)
        share[rows] = np.minimum(1.0, pieces.length_m[rows] / pieces.grade_window_m[rows])
    chance[unknown], share[unknown] = UNKNOWN_GRADE_CHANCE, case.share[unknown]
    rough = (pieces.grade_rank == Rank.TAG_WORD) & ~unknown
    near = rough & (np.abs(pieces.grade) > limit - ROUGH_TAG_MARGIN)
    chance[near], share[near] = ROUGH_TAG_CHANCE, case.share[near]
    return chance, share


def _carriageway(case: Case, tally: Tally) -> None:
    """Driving on the road: slow residential streets with an escort and light, busy or fast ones never.

    A busy road that nobody says has no sidewalk may have one: whether it does is then the question.
    """
    no_sidewalk = ~case.has(Flag.STREET_SIDEWALK, Flag.OFF_MAP)
    untold = case.is_kind(WayKind.BUSY_ROAD) & no_sidewalk & ~case.has(Flag.NO_SIDEWALK)
    tally.exclude(case.is_kind(*BUSY_KINDS) & no_sidewalk & ~untold, Reason.TRAFFIC)
    tally.ask(untold, Question.CARRIAGEWAY, case.doubts.probability("sidewalk_busy"), case.share)
    street = case.is_kind(WayKind.RESIDENTIAL) & no_sidewalk
    if not case.conditions.has_escort:
        tally.exclude(street, Reason.ESCORT)
    if case.conditions.is_dark:
        lamps_burn = case.has(Flag.LIT) & case.conditions.has_mains
        tally.exclude(street & ~lamps_burn, Reason.DARK)
    tally.ask(street & ~case.has(Flag.NO_SIDEWALK), Question.CARRIAGEWAY, case.doubts.probability("carriageway"), case.share)


def _islands(case: Case, tally: Tally) -> None:
    """A traffic island is as long as the chair, or as the preset has it (2010 ADA Standards 406.7: 1220 mm); else one end is in traffic.

    What is drawn may be off by a metre: a short island is asked about, never shut. One that nobody drew is not: every crossing with
    an island would be asked about, and somebody looks at its kerbs already.
    """
    island = case.has(Flag.ISLAND)
    if not island.any():
        return
    own_m = FLOOR_SPACE_M if case.chair.length_m is None else case.chair.length_m
    short = island & (case.network.pieces.stretch_m < np.float32(case.at_least(own_m, "island_length_m") - 1e-3))
    tally.ask(short, Question.ISLAND, case.doubts.probability("island_short"), case.share)


def _mass(case: Case, tally: Tally) -> None:
    tally.exclude(case.network.pieces.mass_limit_kg < np.float32(case.chair.total_mass_kg), Reason.MASS)


def _cross_slope(case: Case, tally: Tally) -> None:
    """Tilt to the side: over the chair's rated slope or a preset it stops; over what is published for crossings it is asked about."""
    across = case.network.pieces.cross_slope
    if np.isnan(across).all():
        return
    limit = _preset_cross_slope(case)
    stops = (across > case.chair.rated_grade + 1e-6) | (across > limit + 1e-6)
    tally.exclude(stops, Reason.CROSS_SLOPE)
    steep = (across > MOST_CROSS_SLOPE + 1e-6) & ~stops
    tally.ask(steep, Question.CROSS_SLOPE, case.doubts.probability("cross_slope"), case.share)


def _preset_cross_slope(case: Case) -> Floats:
    """(n_pieces,) the tilt that the preset allows, inf without one: of ramps and crossings its own figures where it states them.

    Whether a crossing has a stop sign is not mapped: without a signal it takes the stricter figure (PROWAG R302.5.2).
    """
    limit = np.full(case.network.n_pieces, case.at_most(np.inf, "cross_slope"))
    for name, rows in (
        ("ramp_cross_slope", case.is_kind(WayKind.RAMP)),
        ("crosswalk_stop_cross_slope", case.is_kind(WayKind.CROSSING)),
        ("crosswalk_cross_slope", case.is_kind(WayKind.CROSSING) & case.has(Flag.CROSSES_SIGNALS)),
    ):
        stated = case.preset(name)
        if stated is not None:
            limit[rows] = stated
    return limit


def _unmapped(case: Case, tally: Tally) -> None:
    """Our own straight lines, unless the rider has told of them, and underpasses that may stand under water while pumps stand still."""
    tally.exclude(case.lines_from(case.rules.shut_doors), Reason.MEASURED)
    tally.ask(case.is_off_map & ~case.lines_from(case.rules.doors), Question.OFF_MAP, case.doubts.probability("off_map"), case.share)
    tally.ask(case.has(Flag.LINK), Question.OTHER, case.doubts.probability("sidewalk_link"), case.share)
    if case.conditions.is_wet and not case.conditions.has_mains:
        tally.ask(case.has(Flag.UNDERPASS), Question.OTHER, case.doubts.probability("underpass"), case.share)


def _one_way(case: Case, tally: Tally) -> None:
    forward, backward = tally.reasons[0::2], tally.reasons[1::2]
    backward[case.has(Flag.FORWARD_ONLY)] |= np.uint32(Reason.ONE_WAY)
    forward[case.has(Flag.BACKWARD_ONLY)] |= np.uint32(Reason.ONE_WAY)
