"""What the map says of wheelchairs in general.

OSM wiki, Key:wheelchair: ``yes`` stepless; ``limited`` one step of at most 7 cm; ``no`` a step over 7 cm; ``designated`` purpose built.
No value is implied where the tag is missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood

LIMITED_STEP_M = 0.07  # OSM wiki, Key:wheelchair: 7 cm (3 in)


class Wheelchair(IntEnum):
    """The word of the tag."""

    UNKNOWN = 0
    YES = 1
    LIMITED = 2
    NO = 3


@dataclass(frozen=True, slots=True)
class WheelchairFact:
    """The word, and what it says about the worst step.

    At most ``step_most_m``, more than ``step_least_m``; ``None`` where it says nothing.
    """

    word: Reading[Wheelchair]
    step_most_m: float | None = None
    step_least_m: float | None = None
    is_designated: bool = False


WORDS = {
    "yes": Wheelchair.YES, "designated": Wheelchair.YES, "official": Wheelchair.YES, "permissive": Wheelchair.YES,
    "limited": Wheelchair.LIMITED, "partial": Wheelchair.LIMITED, "assisted": Wheelchair.LIMITED, "bad": Wheelchair.LIMITED,
    "no": Wheelchair.NO, "impassable": Wheelchair.NO,
}  # fmt: skip
"""``partial``, ``assisted``, ``bad``, ``permissive``, ``official``, ``impassable`` are not on the wiki: read by their plain meaning."""
NO_WORD: Reading[Wheelchair] = Reading(None, Rank.UNKNOWN)
UNTAGGED = WheelchairFact(NO_WORD)


def read_wheelchair(tags: Mapping[str, str]) -> WheelchairFact:
    """``wheelchair=*`` as a fact of rank ``TAG_WORD``: made for chairs in general, not for this one."""
    text = tags.get("wheelchair")
    if text is None:
        return UNTAGGED
    tidied = tidy(text)
    if tidied in {"unknown", "undefined", "fixme"}:
        return UNTAGGED
    word = WORDS.get(tidied)
    if word is None:
        return WheelchairFact(for_key(not_understood(text, "not yes, limited or no"), "wheelchair"))
    return WheelchairFact(
        Reading(word, Rank.TAG_WORD, text),
        step_most_m={Wheelchair.YES: 0.0, Wheelchair.LIMITED: LIMITED_STEP_M}.get(word),
        step_least_m=LIMITED_STEP_M if tidied == "no" else None,
        is_designated=tidied in {"designated", "official"},
    )
