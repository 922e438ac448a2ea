"""Where chairs have passed: what one chair could do answers the questions of every chair that asks no more, in that direction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.inputs.tracks import Track
from rollroute.network.along import LineFinder
from rollroute.network.network import Network
from rollroute.network.ranks import Rank
from rollroute.weights.case import Case, Tally
from rollroute.weights.reasons import Question, Reason

ANSWERED = (
    Question.KERB | Question.WIDTH | Question.SURFACE | Question.BOLLARD | Question.CYCLE_BARRIER | Question.DOOR | Question.THRESHOLD
    | Question.LIFT | Question.APRON | Question.STEPS_RAMP | Question.CROSS_SLOPE | Question.OFF_MAP | Question.OTHER | Question.TURN
)  # fmt: skip
"""A chair that passed says nothing of who may pass, of a lock at another hour, of traffic, or of a grade limit that it may have broken."""
DRIVEN_SHARE = 0.8  # setting: a track must run along so much of a piece before it counts as driven
REFUTED = Reason.KERB | Reason.WIDTH | Reason.SURFACE | Reason.TAGGED_NO | Reason.CROSS_SLOPE | Reason.TURN


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Directed edges that one chair has driven, its size and powers, and when. No person is named."""

    edges: npt.NDArray[np.int64]
    width_m: float
    length_m: float | None  # None also where another figure of the chair that passed is not known: it speaks for nobody
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


def passages_of(network: Network, tracks: Iterable[Track], day: dt.date) -> tuple[tuple[Passage, ...], list[str]]:
    """What tracks that count on ``day`` say of the pieces of a network, and one line for each that says nothing, or not all of it.

    A piece counts as driven where the track runs along most of it; where two pieces side by side fit equally well, neither does.
    """
    finder = LineFinder(network)
    found, notes = [], []
    for track in tracks:
        if not track.holds_on(day):
            notes.append(f"track {track.name}: says nothing of {day}: driven later, or no longer true")
            continue
        runs, tied_m = finder.runs(track.line)
        driven = [2 * run.piece + (0 if run.is_forward else 1) for run in runs if run.share >= DRIVEN_SHARE]
        if track.not_stated:
            lack = ", ".join(track.not_stated)
            notes.append(f"track {track.name}: not known of the chair that drove it: {lack}; so it clears nothing. Give them as columns")
        if not driven:
            notes.append(f"track {track.name}: no mapped way runs along it, so it clears nothing")
        elif tied_m:
            notes.append(f"track {track.name}: {tied_m:.0f} m of it fit two ways side by side and clear neither")
        if driven:
            found.append(_passage(np.array(sorted(driven), np.int64), track))
    return tuple(found), notes


def _passage(edges: npt.NDArray[np.int64], track: Track) -> Passage:
    chair = track.chair
    return Passage(
        edges=edges, width_m=chair.width_m, length_m=None if track.not_stated else chair.length_m, mass_kg=chair.total_mass_kg,
        obstacle_up_m=chair.rated_obstacle_m, obstacle_down_m=chair.rated_obstacle_down_m, grade=chair.rated_grade, wheel=chair.wheel,
        date=track.date,
    )  # fmt: skip


def answered_under(case: Case) -> tuple[Question, Reason]:
    """Questions and reasons that a passage settles at this moment.

    Nobody told of the weather on the day of a passage: it says nothing of wet ground, nor of an underpass whose pump has stopped.
    That a chair has passed does not show that a published preset is met: where one was chosen, what is known stands.
    """
    answered, refuted = ANSWERED, REFUTED if case.rules.standard is None else Reason(0)
    if case.conditions.is_wet:
        answered, refuted = answered & ~Question.SURFACE, refuted & ~Reason.SURFACE
        if not case.conditions.has_mains:
            answered &= ~Question.OTHER
    return answered, refuted


def clear_passed(case: Case, tally: Tally) -> None:
    """Answer what passages answer; facts that somebody measured there still count."""
    edges = [p.edges for p in case.passages if p.speaks_for(case.chair) and _is_current(p, case)]
    if not edges:
        return
    driven = np.unique(np.concatenate(edges))
    pieces, touch, places = case.network.pieces, case.network.incidence, case.network.places
    measured = np.maximum(pieces.width_rank, pieces.surface_rank) >= Rank.MEASURED
    found = np.maximum(places.height_rank, places.width_rank)[touch.place] >= Rank.MEASURED
    measured[touch.piece[found]] = True
    open_to_doubt = driven[~measured[driven // 2]]
    answered, refuted = answered_under(case)
    tally.reasons[open_to_doubt] &= ~np.uint32(refuted)
    before = tally.questions[driven]
    tally.questions[driven] = before & ~np.uint32(answered)
    _keep_surprisal_of_rest(case, tally, driven, answered)


def _is_current(passage: Passage, case: Case) -> bool:
    return passage.date is None or passage.date <= case.conditions.departure.date()


def _keep_surprisal_of_rest(case: Case, tally: Tally, driven: npt.NDArray[np.int64], answered: Question) -> None:
    """Doubt of the questions left on driven edges: those are asked again alone."""
    from rollroute.weights.piece_rules import judge_pieces
    from rollroute.weights.place_rules import judge_places

    rest = Tally.empty(case.network.n_pieces, ~answered)
    judge_pieces(case, rest)
    judge_places(case, rest)
    tally.edge_surprisal[driven] = rest.surprisal[driven] - tally.piece_surprisal[driven // 2]
