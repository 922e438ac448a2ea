"""Who may pass on foot.

OSM wiki, Key:access; Key:foot (outranks ``access``); Conditional restrictions.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from functools import lru_cache

from rollroute.network.ranks import Rank
from rollroute.network.tags.barriers import Passing
from rollroute.network.tags.conditional import Moment, possible_values
from rollroute.network.tags.numbers import CACHE_SIZE, split_values, tidy
from rollroute.network.tags.reading import Reading, for_key, not_understood


class Access(IntEnum):
    """Who may pass, from everybody to nobody; ``UNCLEAR``: the map has a word for it that is not understood."""

    UNKNOWN = 0
    YES = 1
    DISCOURAGED = 2
    DESTINATION = 3
    UNCLEAR = 4
    CUSTOMERS = 5
    PERMIT = 6
    DELIVERY = 7
    PRIVATE = 8
    NO = 9


_KINDS = {
    Access.YES: "yes permissive designated public official allowed true permit:no",
    Access.DISCOURAGED: "discouraged use_sidepath",
    Access.DESTINATION: "destination residents resident residential",
    Access.CUSTOMERS: "customers customer visitors guests tenants students",
    Access.PERMIT: "permit key members employees employee staff",
    Access.DELIVERY: "delivery service",
    Access.PRIVATE: "private restricted privat",
    Access.NO: "no agricultural forestry military emergency bus psv taxi hgv motor_vehicle vehicle bicycle agricultural;forestry dismount",
}  # fmt: skip
WORDS = {word: access for access, words in _KINDS.items() for word in words.split()}
WORDS |= {"dismount": Access.YES}  # a rider of a bicycle who gets off walks
NO_ACCESS_TAGGED: Reading[Access] = Reading(None, Rank.UNKNOWN)


def read_access(tags: Mapping[str, str], moment: Moment | None = None) -> Reading[Access]:
    """Who may pass on foot: ``foot`` where tagged, else ``access``; conditional values as they stand at ``moment``.

    Of several possible values the strictest counts. Untagged is not forbidden: ``value`` is then ``None``.
    """
    if tags.get("motorroad") == "yes":
        return Reading(Access.NO, Rank.TAG_WORD, "motorroad")
    for key in ("foot", "access"):
        if key in tags or (moment is not None and f"{key}:conditional" in tags):
            return _read(tags, key, moment)
    return NO_ACCESS_TAGGED


def access_of(tags: Mapping[str, str], moment: Moment | None = None) -> Access:
    """The code of who may pass: a word that is not understood is ``UNCLEAR``, so that somebody is asked; untagged is ``UNKNOWN``."""
    found = read_access(tags, moment)
    if found.value is not None:
        return found.value
    return Access.UNCLEAR if found.problem else Access.UNKNOWN


def passing_of(access: Access | None, granted: frozenset[Access] = frozenset()) -> Passing:
    """What an access value means for a person: ``granted`` are the kinds that this person was given (a permit, a key, being a customer)."""
    if access is None or access <= Access.DESTINATION or access in granted:
        return Passing.OPEN
    return Passing.STOPS


def _read(tags: Mapping[str, str], key: str, moment: Moment | None) -> Reading[Access]:
    values, condition_problem = possible_values(tags, key, moment)
    below = tags.get("access", "yes") if key == "foot" else "yes"  # what holds where only a conditional value is tagged
    readings = [_access(value or below) for value in values] or [_access(below)]
    text = tags.get(f"{key}:conditional") if moment is not None and f"{key}:conditional" in tags else tags.get(key)
    problems = [for_key(r, key).problem for r in readings if r.problem] + [condition_problem]
    problem = "; ".join(p for p in problems if p) or None
    known = [r.value for r in readings if r.value is not None]
    if len(known) < len(readings) and Access.NO not in known:
        return Reading(None, Rank.UNKNOWN, text, problem)
    return Reading(max(known), Rank.TAG_WORD, text, problem)


@lru_cache(CACHE_SIZE)
def _access(text: str) -> Reading[Access]:
    tidied = tidy(text)
    if tidied in {"unknown", "undefined", "fixme"}:
        return Reading(Access.UNKNOWN, Rank.UNKNOWN, text)
    found = [WORDS.get(part) for part in split_values(tidied)]
    known = [access for access in found if access is not None]
    if not known or len(known) < len(found):
        return not_understood(text, "not a known kind of access")
    # A list names several groups that may pass; each of them may.
    return Reading(min(known), Rank.TAG_WORD, text)
