"""Reasons why somebody has no way, one line each instead of one for each van and shelter."""

from __future__ import annotations

from collections.abc import Sequence

Split = tuple[str, str, str]  # by what ("rolling", "van V1"), to which shelter, why


def grouped(reasons: Sequence[str], shelters: Sequence[str]) -> tuple[str, ...]:
    """``reasons`` with those that differ only in shelter or van said together, in the order in which they came first.

    Examples
    --------
    >>> grouped(["rolling to A: too far", "rolling to B: too far", "van V1: door too low"], ["A", "B", "C"])
    ('rolling to A, B: too far', 'van V1: door too low')
    >>> grouped(["van V1 to A: no zone", "van V2 to A: no zone", "rolling to A: far", "rolling to B: far"], ["A", "B"])
    ('vans V1, V2 to A: no zone', 'rolling to any shelter: far')
    """
    groups: dict[tuple[str, str], list[Split]] = {}
    lines: list[str | tuple[str, str]] = []
    for reason in reasons:
        split = _split(reason, shelters)
        if split is None:
            lines.append(reason)
            continue
        key = (split[0].partition(" ")[0], split[2])
        if key not in groups:
            lines.append(key)
        groups.setdefault(key, []).append(split)
    said: list[str] = []
    for line in lines:
        said += [line] if isinstance(line, str) else _together(groups[line], shelters)
    return tuple(dict.fromkeys(said))


def _split(reason: str, shelters: Sequence[str]) -> Split | None:
    for shelter in sorted(shelters, key=len, reverse=True):
        head, middle, why = reason.partition(f" to {shelter}: ")
        if middle and (head == "rolling" or head.startswith("van ")):
            return head, shelter, why
    return None


def _together(splits: Sequence[Split], shelters: Sequence[str]) -> list[str]:
    heads, goals = list(dict.fromkeys(s[0] for s in splits)), list(dict.fromkeys(s[1] for s in splits))
    if len(set(splits)) != len(heads) * len(goals):  # not every van to every one of them: each van for itself
        return [line for head in heads for line in _together([s for s in splits if s[0] == head], shelters)]
    by = heads[0] if len(heads) == 1 else "vans " + ", ".join(h.removeprefix("van ") for h in heads)
    to = "any shelter" if set(goals) == set(shelters) and len(goals) > 1 else ", ".join(goals)
    return [f"{by} to {to}: {splits[0][2]}"]
