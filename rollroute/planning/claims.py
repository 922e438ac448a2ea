"""What the proofs of a plan do not cover: ways that nobody looked at, searches that ended at their limit, rolls put off for an outlet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rollroute.planning.travel import TravelTable

NOT_LOOKED_AT = "not looked at: {kept} shelters are nearer"
UNDECIDED = "no way was found within {labels} labels, and none was proven impossible"
OUTLET_TAKEN = "no outlet is free at {where} when the chair would halt there"
_FAR, _CUT, _TAKEN = (words.split("{", maxsplit=1)[0] for words in (NOT_LOOKED_AT, UNDECIDED, OUTLET_TAKEN))


def claims_of(travel: TravelTable, reasons: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Sentences beside the proofs, none where every way was looked at to the end.

    ``reasons``: rider -> what has come between the rider and an option, see ``Problem``
    """
    no_roll = [why for whys in travel.no_roll.values() for why in whys]
    n_far, n_cut = sum(why.startswith(_FAR) for why in no_roll), sum(why.startswith(_CUT) for why in no_roll)
    put_off = [rider for rider, whys in reasons.items() if any(_TAKEN in why for why in whys)]
    found = []
    if n_far:
        many = f"{n_far} rolls to shelters farther off were" if n_far > 1 else "1 roll to a shelter farther off was"
        found.append(f"{many} not looked at; what is proven is proven without {'them' if n_far > 1 else 'it'}")
    if n_cut:
        many = f"{n_cut} searches for a roll ended at their limit" if n_cut > 1 else "1 search for a roll ended at its limit"
        found.append(f"{many} without a way or a proof; {'they count' if n_cut > 1 else 'it counts'} as no way")
    if put_off:
        found.append(
            f"put off or left out, since an outlet for charging on the way was taken: rolls of {', '.join(put_off)}; "
            "what is proven is proven for this order at the outlets, another might serve more"
        )
    return tuple(found)
