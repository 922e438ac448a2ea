"""What a plan's proofs do not cover is said beside them."""

from __future__ import annotations

from rollroute.output.move.planner_words import tell
from rollroute.output.words import Words
from rollroute.planning.claims import NOT_LOOKED_AT, UNDECIDED, claims_of
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
    far, cut = claims_of(travel)
    assert far.startswith("2 rolls to shelters farther off")
    assert cut.startswith("1 searches for a roll ended at their limit")


def test_a_plan_that_looked_everywhere_says_nothing() -> None:
    assert claims_of(TravelTable(no_roll={("B", "South"): ("no way for this chair within 60 min",)})) == ()


def test_the_claims_are_told_in_the_readers_language() -> None:
    for claim in claims_of(TravelTable(no_roll={("A", "N"): (NOT_LOOKED_AT.format(kept=4),), ("B", "N"): (UNDECIDED.format(labels=9),)})):
        assert tell(Words("es"), claim) != claim
