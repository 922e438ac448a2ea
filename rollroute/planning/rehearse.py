"""A plan played many times against chance: how often everybody arrives in time and charged, and what breaks it most often.

``rehearse(plan, move, travel, runs=500, seed=1) -> Rehearsal``; ``rehearsal_lines(rehearsal) -> list[str]`` says it in words;
``rehearsal_document(rehearsal)`` is plain data for ``plan.extra["rehearsal"]``. The chances are those of ``rehearsal_odds`` (assumptions).

*Everybody* is whoever has a way in the plan; *in time* is before every hard limit (device power, latest time, the closing of an area);
*charged* is plugged in about as long as the plan says. The share has a 95 % confidence interval by Wilson's formula
(E. B. Wilson, Journal of the American Statistical Association 22, 1927; from memory, checked against scipy in the tests).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.planning.plan import Plan
from rollroute.planning.rehearsal_odds import ODDS, Odds
from rollroute.planning.rehearsal_player import Player
from rollroute.planning.travel import TravelTable

Z_TWO_SIDED = 1.959963984540054  # 97.5 % point of the standard normal distribution
RANKED = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaker:
    """What broke the plan: in how many runs, and for whom. ``kind``: rider, van, escort, outlet, shelter or place."""

    kind: str
    name: str
    runs: int
    share: float
    riders: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """``share``: of the runs in which everybody arrived in time and charged, with its 95 % interval ``low`` to ``high``."""

    runs: int
    seed: int
    good: int
    share: float
    low: float
    high: float
    breakers: tuple[Breaker, ...]  # most often first
    riders: tuple[tuple[str, float], ...]  # (rider, share of runs in which that rider did not arrive in time and charged), worst first
    not_in_plan: tuple[str, ...]  # riders without a way: not counted


def rehearse(
    plan: Plan,
    move: Move,
    travel: TravelTable,
    *,
    runs: int = 500,
    seed: int = 1,
    odds: Odds = ODDS,
    progress: Callable[[str], None] | None = None,
) -> Rehearsal:
    """Play ``plan`` ``runs`` times. Run n is the same whatever ``runs`` is: chance is drawn from (seed, n).

    Raises
    ------
    InputError
        If there is no run to play.
    """
    if runs < 1:
        raise InputError(f"--rehearse {runs}: at least one run. Give for example --rehearse 500.")
    player = Player(plan, move, travel, odds)
    good = 0
    by_cause: Counter[tuple[str, str]] = Counter()
    hurt: Counter[str] = Counter()
    victims: dict[tuple[str, str], Counter[str]] = {}
    for run in range(runs):
        if progress is not None and run % 50 == 0:
            progress(f"rehearsal {run}/{runs}")
        broken = player.play(np.random.default_rng([seed, run])).broken
        good += not broken
        hurt.update(broken.keys())
        by_cause.update({(c.kind, c.name) for c in broken.values()})
        for rider_id, cause in broken.items():
            victims.setdefault((cause.kind, cause.name), Counter())[rider_id] += 1
    low, high = share_interval(good, runs)
    return Rehearsal(
        runs=runs,
        seed=seed,
        good=good,
        share=good / runs,
        low=low,
        high=high,
        breakers=tuple(
            Breaker(kind=kind, name=name, runs=n, share=n / runs, riders=tuple(i for i, _ in victims[kind, name].most_common()))
            for (kind, name), n in sorted(by_cause.items(), key=lambda item: (-item[1], item[0]))
        ),
        riders=tuple((i, n / runs) for i, n in sorted(hurt.items(), key=lambda item: (-item[1], item[0]))),
        not_in_plan=tuple(r.id for r in plan.riders if r.way is None),
    )


def share_interval(good: int, runs: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    share, z2 = good / runs, Z_TWO_SIDED**2
    middle = (share + z2 / (2 * runs)) / (1 + z2 / runs)
    half = Z_TWO_SIDED / (1 + z2 / runs) * math.sqrt(share * (1 - share) / runs + z2 / (4 * runs**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def rehearsal_document(rehearsal: Rehearsal) -> dict[str, Any]:
    """The rehearsal as plain JSON data."""
    document = asdict(rehearsal)
    return {**document, "breakers": [*document["breakers"]], "riders": [list(pair) for pair in rehearsal.riders]}


def rehearsal_lines(rehearsal: Rehearsal) -> list[str]:
    """In words: the share, then what breaks it, most often first."""
    r = rehearsal
    lines = [
        f"Rehearsal: everybody in the plan arrived in time and charged in {r.good} of {r.runs} runs "
        f"({r.share:.0%}, 95 % interval {r.low:.0%} to {r.high:.0%}), under assumed chances."
    ]
    if r.not_in_plan:
        lines.append(f"Not counted, because the plan has no way for them: {', '.join(r.not_in_plan)}.")
    for n, b in enumerate(r.breakers[:RANKED], start=1):
        lines.append(
            f"  {n}. {b.kind} {b.name}: in {b.share:.1%} of runs, for {', '.join(b.riders[:4])}{' ...' if len(b.riders) > 4 else ''}"
        )
    if len(r.breakers) > RANKED:
        lines.append(f"  ... and {len(r.breakers) - RANKED} more")
    return lines
