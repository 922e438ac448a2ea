"""Which tagged values are not understood, key by key: the list that ``build`` prints with the ids of the elements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from functools import lru_cache, partial

from rollroute.network.tags.access import read_access
from rollroute.network.tags.barriers import read_barrier
from rollroute.network.tags.conditional import Moment, possible_values, read_in_season, read_open
from rollroute.network.tags.crossings import read_crossing
from rollroute.network.tags.doors import THRESHOLD_KEYS, read_door
from rollroute.network.tags.inclines import read_counter_slope, read_cross_slope, read_incline
from rollroute.network.tags.kerbs import read_kerb
from rollroute.network.tags.lengths import read_width
from rollroute.network.tags.levels import read_levels
from rollroute.network.tags.lifts import read_lift
from rollroute.network.tags.numbers import CACHE_SIZE
from rollroute.network.tags.roads import read_lanes, read_mass_limit_kg, read_maxspeed_kmh
from rollroute.network.tags.sidewalks import read_sidewalk
from rollroute.network.tags.steps import read_steps
from rollroute.network.tags.structures import read_lit, read_structure
from rollroute.network.tags.surfaces import read_smoothness, read_surface
from rollroute.network.tags.wheelchair import read_wheelchair

Tags = Mapping[str, str]
# A moment at which every season, the weather and daylight are decided: what then stays undecided was not understood.
_CLEAR_DAY = Moment(dt.datetime(2025, 1, 15, 12, 0), is_wet=False, is_snowy=False)
_CONDITIONAL = ("access", "foot", "wheelchair")


def _conditional(base: str, tags: Tags) -> str | None:
    return possible_values(tags, base, _CLEAR_DAY)[1]


_READERS: dict[str, Callable[[Tags], str | None]] = {
    **dict.fromkeys(("width", "est_width", "maxwidth:physical"), lambda t: read_width(t).problem),
    "incline": lambda t: read_incline(t).grade.problem,
    **dict.fromkeys(("incline:across", "cross_slope"), lambda t: read_cross_slope(t).problem),
    **dict.fromkeys(("counter_slope", "kerb:counter_slope", "gutter:incline"), lambda t: read_counter_slope(t).problem),
    **dict.fromkeys(("kerb", "kerb:height", "kerb:both", "sloped_curb"), lambda t: read_kerb(t).problem),
    "kerb:left": lambda t: _side_problem(t, 0),
    "kerb:left:height": lambda t: _side_problem(t, 0),
    "kerb:right": lambda t: _side_problem(t, 1),
    "kerb:right:height": lambda t: _side_problem(t, 1),
    **dict.fromkeys(("surface", "footway:surface", "crossing:surface", "tracktype"), lambda t: read_surface(t).problem),
    **dict.fromkeys(("smoothness", "footway:smoothness"), lambda t: read_smoothness(t).problem),
    "barrier": lambda t: read_barrier(t).problem,
    **dict.fromkeys(("door", "door:width", "entrance", "automatic_door", *THRESHOLD_KEYS[:-1]), lambda t: read_door(t).problem),
    **dict.fromkeys(("access", "foot"), lambda t: read_access(t).problem),
    "wheelchair": lambda t: read_wheelchair(t).word.problem,
    **{f"{base}:conditional": partial(_conditional, base) for base in _CONDITIONAL},
    "opening_hours": lambda t: read_open(t, _CLEAR_DAY).problem,
    "seasonal": lambda t: read_in_season(t, _CLEAR_DAY).problem,
    **dict.fromkeys(("sidewalk", "sidewalk:left", "sidewalk:right", "sidewalk:both"), lambda t: read_sidewalk(t).problem),
    **dict.fromkeys(("step_count", "ramp", "ramp:wheelchair", "ramp:portable:length", "conveying"), lambda t: read_steps(t).problem),
    "crossing": lambda t: read_crossing(t).problem,
    **dict.fromkeys(("level", "repeat_on"), lambda t: read_levels(t).problem),
    "lit": lambda t: read_lit(t).problem,
    "layer": lambda t: read_structure(t).problem,
    **dict.fromkeys(("maxspeed", "maxspeed:forward", "maxspeed:backward"), lambda t: read_maxspeed_kmh(t).problem),
    "lanes": lambda t: read_lanes(t).problem,
    "maxweight": lambda t: read_mass_limit_kg(t).problem,
    **dict.fromkeys(("elevator:width", "elevator:length", "elevator:door:width"), lambda t: read_lift(t).problem),
}
for _side in ("left", "right", "both"):
    _READERS[f"sidewalk:{_side}:width"] = lambda t: read_width(t, "left").problem or read_width(t, "right").problem
    _READERS[f"sidewalk:{_side}:surface"] = lambda t: read_surface(t, "left").problem or read_surface(t, "right").problem

USED_KEYS = frozenset(_READERS)
"""Every key whose values are read and can be wrong."""


@lru_cache(CACHE_SIZE)
def problem_of(key: str, text: str) -> str | None:
    """Why this value of this key is not understood; ``None`` where it is, and for keys that are not used."""
    reader = _READERS.get(key)
    return None if reader is None else reader({key: text})


def problems_of(tags: Tags) -> list[tuple[str, str, str]]:
    """``(key, value, problem)`` for every value of one element that is not understood."""
    found = ((key, text, problem_of(key, text)) for key, text in tags.items() if key in USED_KEYS)
    return [(key, text, problem) for key, text, problem in found if problem is not None]


def _side_problem(tags: Tags, side: int) -> str | None:
    fact = read_kerb(tags)
    kerb = (fact.left, fact.right)[side]
    return None if kerb is None else kerb.problem
