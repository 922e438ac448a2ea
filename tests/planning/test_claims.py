"""What a plan's proofs do not cover is said beside them."""

from __future__ import annotations

import pytest

from rollroute.output.move.planner_words import tell
from rollroute.output.words import Words
from rollroute.planning.claims import NOT_LOOKED_AT, OUTLET_TAKEN, UNDECIDED, claims_of
from rollroute.planning.travel import TravelTable


def test_ways_that_were_not_looked_at_and_searches_cut_short_are_counted() -> None:
    """Two shelters left out, one search at its limit; a way that is proven shut is none of these."""
    travel = TravelTable(
        no_roll={
            ("A", "North"): (NOT_LOOKED_AT.format(kept=4),),
            ("A", "South"): (NOT_LOOKED_AT.format(kept=4),),
            ("B", "North"): (UNDECIDED.format(labels=2000),),
            ("B", "South"): ("no way for this chair within 60 min",),
        }
    )
    far, cut = claims_of(travel, {})
    assert far.startswith("2 rolls to shelters farther off were")
    assert cut.startswith("1 search for a roll ended at its limit")


def test_a_plan_that_looked_everywhere_says_nothing() -> None:
    assert claims_of(TravelTable(no_roll={("B", "South"): ("no way for this chair within 60 min",)}), {}) == ()


def test_rolls_that_wait_for_an_outlet_are_named() -> None:
    """Their departures are not part of what is proven best: who they are stands beside the proofs."""
    taken = f"rolling to N: {OUTLET_TAKEN.format(where='X')}"
    (claim,) = claims_of(TravelTable(), {"A": (taken,), "B": ("rolling: something else",), "C": ("van: no", taken)})
    assert "rolls of A, C;" in claim


@pytest.mark.parametrize("n", [1, 2])
def test_the_claims_are_told_in_the_readers_language(n: int) -> None:
    no_roll = {("A", f"N{i}"): (NOT_LOOKED_AT.format(kept=4),) for i in range(n)}
    no_roll |= {("B", f"N{i}"): (UNDECIDED.format(labels=9),) for i in range(n)}
    claims = claims_of(TravelTable(no_roll=no_roll), {"C": (OUTLET_TAKEN.format(where="X"),)})
    assert len(claims) == 3
    for claim in claims:
        assert tell(Words("es"), claim) != claim
