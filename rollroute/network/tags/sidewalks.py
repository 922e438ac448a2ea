"""Sidewalks of a street that is drawn as one line.

OSM wiki, Key:sidewalk; Sidewalks (left and right as the way is drawn; ``separate``: drawn as a way of its own).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from rollroute.network.tags.numbers import tidy


class SideWord(IntEnum):
    """Whether there is a sidewalk at one side; ``SOME``: at one side at least, which one is not told."""

    UNKNOWN = 0
    NO = 1
    SOME = 2
    SEPARATE = 3
    YES = 4


@dataclass(frozen=True, slots=True)
class SidewalkFact:
    """Sidewalks at the left and right of a street, seen along the way."""

    left: SideWord = SideWord.UNKNOWN
    right: SideWord = SideWord.UNKNOWN
    text: str | None = None
    problem: str | None = None

    @property
    def is_on_line(self) -> bool:
        """Whether the line of the street stands for a sidewalk too."""
        return SideWord.YES in (self.left, self.right) or SideWord.SOME in (self.left, self.right)

    @property
    def is_absent(self) -> bool:
        """Whether the tags say that there is none at either side."""
        return self.left == self.right == SideWord.NO


_BOTH = {
    "both": (SideWord.YES, SideWord.YES), "left": (SideWord.YES, SideWord.NO), "right": (SideWord.NO, SideWord.YES),
    "no": (SideWord.NO, SideWord.NO), "none": (SideWord.NO, SideWord.NO), "separate": (SideWord.SEPARATE, SideWord.SEPARATE),
    "yes": (SideWord.SOME, SideWord.SOME), "left;right": (SideWord.YES, SideWord.YES), "right;left": (SideWord.YES, SideWord.YES),
}  # fmt: skip
_ONE = {"yes": SideWord.YES, "no": SideWord.NO, "none": SideWord.NO, "separate": SideWord.SEPARATE}
UNTAGGED = SidewalkFact()


def read_sidewalk(tags: Mapping[str, str]) -> SidewalkFact:
    """``sidewalk``, ``sidewalk:both``, ``sidewalk:left`` and ``sidewalk:right`` together; the most exact key counts."""
    keys = [key for key in ("sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right") if key in tags]
    if not keys:
        return UNTAGGED
    left = right = SideWord.UNKNOWN
    problems = []
    for key in keys:
        word = tidy(tags[key])
        pair = _BOTH.get(word) if key == "sidewalk" else (_ONE.get(word),) * 2
        if pair is None or pair[0] is None or pair[1] is None:
            problems.append(f"{key}={tags[key]}: not a known kind of sidewalk")
            continue
        if SideWord.SOME in pair:
            problems.append(f"{key}={tags[key]}: at which side is not told")
        left = pair[0] if not key.endswith(":right") else left
        right = pair[1] if not key.endswith(":left") else right
    return SidewalkFact(left, right, "; ".join(f"{key}={tags[key]}" for key in keys), "; ".join(problems) or None)


def side_tags(tags: Mapping[str, str], side: str) -> dict[str, str]:
    """The tags of the sidewalk at ``side`` (``left`` or ``right``) as if it were drawn as a way of its own.

    ``sidewalk:left:width`` becomes ``width``; what is said of both sides counts where the side itself says nothing.
    """
    made: dict[str, str] = {}
    for prefix in ("sidewalk:", "sidewalk:both:", f"sidewalk:{side}:"):
        for key, value in tags.items():
            rest = key.removeprefix(prefix)
            if rest != key and rest.split(":")[0] not in {"left", "right", "both"}:
                made[rest] = value
    return made
