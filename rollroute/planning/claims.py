"""What the proofs of a plan do not cover: ways that nobody looked at, and searches that ended at their limit."""

from __future__ import annotations

from rollroute.planning.travel import TravelTable

NOT_LOOKED_AT = "not looked at: {kept} shelters are nearer"
UNDECIDED = "no way was found within {labels} labels, and none was proven impossible"
_FAR, _CUT = NOT_LOOKED_AT.split("{", maxsplit=1)[0], UNDECIDED.split("{", maxsplit=1)[0]


def claims_of(travel: TravelTable) -> tuple[str, ...]:
    """Sentences beside the proofs, none where every way was looked at to the end."""
    reasons = [why for reasons in travel.no_roll.values() for why in reasons]
    n_far, n_cut = sum(why.startswith(_FAR) for why in reasons), sum(why.startswith(_CUT) for why in reasons)
    found = []
    if n_far:
        found.append(f"{n_far} rolls to shelters farther off were not looked at; what is proven is proven without them")
    if n_cut:
        found.append(f"{n_cut} searches for a roll ended at their limit without a way or a proof; they count as no way")
    return tuple(found)
