"""Nobody stands before a shut door or gate: random nights over midnight and changes of the clocks, every bad guess played by the clock."""

from __future__ import annotations

from collections import Counter

from night_world import Player, night_of

from rollroute.errors import DataGapError, InputError, NoRouteError
from rollroute.journey import plan_journey

N_NIGHTS = 250


def play_night(seed: int, n: Counter[str]) -> list[str]:
    """One night; what went wrong."""
    night = night_of(seed)
    try:
        journey = plan_journey(night.network, night.trip)
    except (NoRouteError, DataGapError, InputError) as error:
        n[type(error).__name__] += 1
        return []
    found = Player(night, journey).play()
    n["routes"] += 1
    n["bad guesses"] += found.n_bad
    n["halts"] += found.n_halts
    n["pieces with hours"] += found.n_timed
    return found.wrong


def test_no_bad_guess_leaves_anybody_before_a_shut_door():
    """Shelters, gates and ways with hours over midnight, generators that run dry, areas that close, halts, devices on the battery."""
    n: Counter[str] = Counter()
    for seed in range(N_NIGHTS):
        assert play_night(seed, n) == [], f"seed {seed}"
    assert n["routes"] >= N_NIGHTS // 5
    assert n["bad guesses"] >= N_NIGHTS // 5
    assert n["pieces with hours"] >= N_NIGHTS // 10
    assert n["halts"] >= 5
