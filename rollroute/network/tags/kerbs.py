"""Kerbs: the word, the height, and what the word allows the height to be.

OSM wiki, Key:kerb (flush 0 cm, lowered about 3 cm at most, raised more than 3 cm, rolled, no, yes; ``kerb:left`` and ``kerb:right``).
OSM wiki, Key:kerb:height (the unit stands in the value). OSM wiki, Key:sloped_curb (an older key: at_grade, yes, both, one, no).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.ranks import Rank
from rollroute.network.tags.numbers import first_tag, read_length_m, split_values, tidy
from rollroute.network.tags.reading import ABSENT, Reading, for_key, not_understood


class KerbWord(IntEnum):
    """What kind of kerb; from ``NO`` to ``RAISED`` each is worse than the one before. ``PRESENT``: a kerb, of a kind nobody says."""

    UNKNOWN = 0
    NO = 1
    FLUSH = 2
    LOWERED = 3
    ROLLED = 4
    RAISED = 5
    PRESENT = 6


LOWERED_MOST_M = 0.03  # OSM wiki, Key:kerb and Key:sloped_curb: a lowered kerb is about 3 cm, a raised one more
HIGHEST_M = 0.6  # assumption: a higher figure is a slip or lacks its unit

WORDS = {
    "no": KerbWord.NO, "none": KerbWord.NO,
    "flush": KerbWord.FLUSH, "at_grade": KerbWord.FLUSH,
    "lowered": KerbWord.LOWERED, "dropped": KerbWord.LOWERED, "lowered_and_sloped": KerbWord.LOWERED,
    "rolled": KerbWord.ROLLED,
    "raised": KerbWord.RAISED, "regular": KerbWord.RAISED, "normal": KerbWord.RAISED,
    "yes": KerbWord.PRESENT,
}  # fmt: skip
SLOPED_CURB = {
    "at_grade": KerbWord.FLUSH, "yes": KerbWord.LOWERED, "both": KerbWord.LOWERED,
    "one": KerbWord.PRESENT, "no": KerbWord.RAISED,
}  # fmt: skip
"""``one``: sloped at one side only, which one is not told."""

MOST_M = {KerbWord.NO: 0.0, KerbWord.FLUSH: 0.0, KerbWord.LOWERED: LOWERED_MOST_M}
LEAST_M = {KerbWord.RAISED: LOWERED_MOST_M}


@dataclass(frozen=True, slots=True)
class KerbFact:
    """One kerb, or the kerbs of both sides of a way.

    ``height`` is a figure where one is tagged, else the most that the word allows (``rank`` then is ``TAG_WORD``), else unknown.
    ``height_least_m`` is what the kerb is known to exceed (a raised kerb: 0.03), ``None`` where nothing is known.
    ``left`` and ``right`` (seen along the way) are set where the sides are tagged apart.
    """

    word: Reading[KerbWord]
    height: Reading[float]
    height_least_m: float | None = None
    left: KerbFact | None = None
    right: KerbFact | None = None
    problem: str | None = None

    @property
    def is_tagged(self) -> bool:
        """Whether the map says anything about a kerb here, at any side."""
        return self.word.text is not None or self.height.text is not None or self.left is not None or self.right is not None


NO_WORD: Reading[KerbWord] = Reading(None, Rank.UNKNOWN)
NO_KERB_TAGGED = KerbFact(NO_WORD, ABSENT)


def read_kerb(tags: Mapping[str, str]) -> KerbFact:
    """The kerb of a node (``barrier=kerb``, a crossing), or the kerbs at the ends or along the sides of a way.

    Examples
    --------
    >>> kerb = read_kerb({"kerb": "raised"})  # over 3 cm, how much is not told
    >>> kerb.height.value is None, kerb.height_least_m
    (True, 0.03)
    """
    if not any("kerb" in key or key == "sloped_curb" for key in tags) and tags.get("barrier") != "kerb":
        return NO_KERB_TAGGED
    both = _kerb(tags, "kerb:both") if any(key.startswith("kerb:both") for key in tags) else _kerb(tags, "kerb")
    sides = [_kerb(tags, f"kerb:{side}") if any(key.startswith(f"kerb:{side}") for key in tags) else None for side in ("left", "right")]
    if sides == [None, None]:
        return both
    return KerbFact(both.word, both.height, both.height_least_m, sides[0], sides[1], both.problem)


def _kerb(tags: Mapping[str, str], key: str) -> KerbFact:
    word = _word(tags, key)
    height = _height(tags, key)
    problem = "; ".join(p for p in (word.problem, height.problem) if p) or None
    kind = word.value
    if height.value is not None:
        return KerbFact(word, height, None, problem=problem or _contradiction(kind, height))
    if kind in MOST_M:
        height = Reading(MOST_M[kind], Rank.TAG_WORD, word.text)
    return KerbFact(word, height, LEAST_M.get(kind) if kind is not None else None, problem=problem)


def _word(tags: Mapping[str, str], key: str) -> Reading[KerbWord]:
    text = tags.get(key)
    if text is not None:
        words = [WORDS.get(part) for part in split_values(tidy(text))]
        known = [word for word in words if word is not None]
        if known and len(known) == len(words):
            return Reading(max(known), Rank.TAG_WORD, text)
        return for_key(not_understood(text, "not a kind of kerb"), key)
    if key == "kerb" and "sloped_curb" in tags:
        return _sloped_curb(tags["sloped_curb"])
    if key == "kerb" and tags.get("barrier") == "kerb":
        return Reading(KerbWord.PRESENT, Rank.TAG_WORD, "kerb")
    return NO_WORD


def _sloped_curb(text: str) -> Reading[KerbWord]:
    """The older key, whose value may also be a height."""
    word = SLOPED_CURB.get(tidy(text))
    if word is not None:
        return Reading(word, Rank.TAG_WORD, text)
    if read_length_m(text, "high", 0.0, HIGHEST_M).value is not None:
        return Reading(KerbWord.PRESENT, Rank.TAG_WORD, text)
    return for_key(not_understood(text, "not a kind of kerb"), "sloped_curb")


def _height(tags: Mapping[str, str], key: str) -> Reading[float]:
    keys = [f"{key}:height"]
    if key == "kerb":
        keys += ["height"] if tags.get("barrier") == "kerb" else []
        keys += ["sloped_curb"] if tidy(tags.get("sloped_curb", "")) not in SLOPED_CURB else []
    found = first_tag(tags, *keys)
    if found is None:
        return ABSENT
    return for_key(read_length_m(found[1], "high", 0.0, HIGHEST_M), found[0])


def _contradiction(word: KerbWord | None, height: Reading[float]) -> str | None:
    """A figure outranks a word; where they can't both be true that is worth a look."""
    value = height.value
    if value is None or word is None:
        return None
    is_over, is_under = value > MOST_M.get(word, 9.0) + 1e-9, value < LEAST_M.get(word, 0.0) - 1e-9
    return f"kerb={word.name.lower()} and kerb:height={height.text} contradict each other" if is_over or is_under else None
