"""What the tags of one way say about all of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from rollroute.network.facts.numbers import read_grade, read_length_m, read_mass_kg
from rollroute.network.kinds import CARRIAGEWAY_KINDS, PAVED_KINDS, STREET_KINDS, WayKind, read_speed_kmh
from rollroute.network.network import Flag
from rollroute.network.ranks import Rank
from rollroute.network.surfaces import smoothness_code, surface_code

Tags = Mapping[str, str]
NAN = math.nan

ACCESS_OPEN, ACCESS_STATED, ACCESS_LIMITED, ACCESS_CLOSED = 0, 1, 2, 3
"""OSM wiki, Key:access: nothing said; open to people on foot; customers or residents; closed."""

_ACCESS = {
    "yes": ACCESS_STATED, "designated": ACCESS_STATED, "official": ACCESS_STATED, "permissive": ACCESS_STATED, "public": ACCESS_STATED,
    "customers": ACCESS_LIMITED, "destination": ACCESS_LIMITED, "residents": ACCESS_LIMITED, "permit": ACCESS_LIMITED,
    "use_sidepath": ACCESS_LIMITED, "discouraged": ACCESS_LIMITED,
    "private": ACCESS_CLOSED, "no": ACCESS_CLOSED, "delivery": ACCESS_CLOSED, "agricultural": ACCESS_CLOSED, "forestry": ACCESS_CLOSED,
    "military": ACCESS_CLOSED,
}  # fmt: skip
WHEELCHAIR_YES, WHEELCHAIR_LIMITED, WHEELCHAIR_NO = 1, 2, 3
_WHEELCHAIR = {"yes": WHEELCHAIR_YES, "designated": WHEELCHAIR_YES, "limited": WHEELCHAIR_LIMITED, "no": WHEELCHAIR_NO}
_SIDES = ("both", "left", "right")
_CONDITIONAL = ("access:conditional", "foot:conditional", "wheelchair:conditional")


@dataclass(slots=True)
class WayFacts:
    """One way's facts, in the codes of ``Pieces``; grades in the direction of the way. ``problems``: (key, value) not understood."""

    kind: WayKind
    flags: int = 0
    width_m: float = NAN
    width_rank: Rank = Rank.UNKNOWN
    surface: int = 0
    surface_rank: Rank = Rank.UNKNOWN
    smoothness: int = 0
    grade: float = NAN
    grade_rank: Rank = Rank.UNKNOWN
    cross_slope: float = NAN
    levels: tuple[float, ...] = ()
    speed_kmh: float = NAN
    lanes: int = 0
    access: int = ACCESS_OPEN
    wheelchair: int = 0
    mass_limit_kg: float = NAN
    is_straight: bool = False
    problems: list[tuple[str, str]] = field(default_factory=list)


def read_way(tags: Tags, kind: WayKind) -> WayFacts:
    """Read everything that ``tags`` say of a way of this kind."""
    facts = WayFacts(kind)
    _read_sidewalk(tags, facts)
    _read_width(tags, facts)
    _read_surface(tags, facts)
    _read_grade(tags, facts)
    _read_levels(tags, facts)
    _read_access(tags, facts)
    _read_marks(tags, facts)
    return facts


def _read_sidewalk(tags: Tags, facts: WayFacts) -> None:
    """OSM wiki, Key:sidewalk. A sidewalk that is mapped as a way of its own counts as none here: the way itself is the carriageway."""
    if facts.kind not in STREET_KINDS | {WayKind.LIVING_STREET, WayKind.SERVICE}:
        return
    values = {tags[key] for key in ("sidewalk", *(f"sidewalk:{side}" for side in _SIDES)) if key in tags}
    if values & {"both", "left", "right", "yes"}:
        facts.flags |= Flag.STREET_SIDEWALK
    elif values & {"no", "none", "separate"}:
        facts.flags |= Flag.NO_SIDEWALK


def _read_width(tags: Tags, facts: WayFacts) -> None:
    """OSM wiki, Key:width, Key:est_width, Key:maxwidth:physical; the width of a street is not that of its sidewalk."""
    is_street = facts.kind in CARRIAGEWAY_KINDS
    keys = [f"sidewalk:{side}:width" for side in _SIDES] + ["sidewalk:width"] if facts.flags & Flag.STREET_SIDEWALK else ["width"]
    found: list[tuple[float, Rank]] = []
    for key, rank in [*((key, Rank.TAG_NUMBER) for key in keys), ("maxwidth:physical", Rank.TAG_NUMBER), ("est_width", Rank.TAG_WORD)]:
        if key not in tags or (key == "est_width" and found):
            continue
        number = read_length_m(tags[key])
        if number is None or not 0.1 <= number.value <= 100:
            facts.problems.append((key, tags[key]))
        else:
            found.append((number.value, Rank.TAG_WORD if number.is_rough else rank))
    if found:
        facts.width_m, facts.width_rank = min(found)
    elif is_street and not facts.flags & Flag.STREET_SIDEWALK:
        facts.width_m, facts.width_rank = 2.5, Rank.INFERRED  # assumption: a carriageway that a car can drive


def _read_surface(tags: Tags, facts: WayFacts) -> None:
    """OSM wiki, Key:surface and Key:smoothness; those of a street are not those of its sidewalk."""
    has_sidewalk = bool(facts.flags & Flag.STREET_SIDEWALK)
    keys = [*(f"sidewalk:{side}:surface" for side in _SIDES), "sidewalk:surface"] if has_sidewalk else ["surface"]
    codes = [surface_code(tags[key]) for key in keys if key in tags]
    facts.problems += [(key, tags[key]) for key in keys if key in tags and not surface_code(tags[key])]
    if any(codes):
        facts.surface, facts.surface_rank = max(codes), Rank.TAG_WORD
    elif facts.kind in PAVED_KINDS or tags.get("tracktype") == "grade1":
        facts.surface, facts.surface_rank = surface_code("paving_stones"), Rank.INFERRED  # assumption: made streets are paved
    elif facts.kind in (WayKind.CORRIDOR, WayKind.ELEVATOR, WayKind.RAMP):
        facts.surface, facts.surface_rank = surface_code("tiles"), Rank.INFERRED
    if "smoothness" in tags and not facts.flags & Flag.STREET_SIDEWALK:
        facts.smoothness = smoothness_code(tags["smoothness"])
        if not facts.smoothness:
            facts.problems.append(("smoothness", tags["smoothness"]))


def _read_grade(tags: Tags, facts: WayFacts) -> None:
    """OSM wiki, Key:incline (sign in the direction of the way) and Key:incline:across."""
    text = tags.get("incline")
    if text is not None:
        number = read_grade(text)
        if number is not None:
            facts.grade, facts.grade_rank = number.value, Rank.TAG_WORD if number.is_rough else Rank.TAG_NUMBER
        elif text.strip().lower() not in ("up", "down", "yes", "no"):
            facts.problems.append(("incline", text))
    across = tags.get("incline:across") or tags.get("cross_slope")
    if across is not None:
        number = read_grade(across)
        if number is None:
            facts.problems.append(("incline:across", across))
        else:
            facts.cross_slope = abs(number.value)


def read_levels(text: str) -> tuple[float, ...] | None:
    """Levels as in the OSM wiki, Key:level: ``0``, ``0;1``, ``-1``, ``0.5``, ``0-3``; ``None`` if not understood."""
    levels: list[float] = []
    for part in text.split(";"):
        first, dash, last = part.strip().lstrip("-").partition("-")
        sign = -1.0 if part.strip().startswith("-") else 1.0
        try:
            begin = sign * float(first)
            levels += [begin] if not dash else [begin + i for i in range(int(float(last) - begin) + 1)]
        except ValueError:
            return None
    return tuple(levels)


def _read_levels(tags: Tags, facts: WayFacts) -> None:
    if "level" in tags:
        levels = read_levels(tags["level"])
        if levels is None:
            facts.problems.append(("level", tags["level"]))
        else:
            facts.levels = levels
    is_indoor = facts.kind in (WayKind.CORRIDOR, WayKind.ELEVATOR) or tags.get("indoor") not in (None, "no")
    is_passage = tags.get("tunnel") not in (None, "no") or tags.get("covered") == "yes"
    if is_indoor:
        facts.flags |= Flag.INDOOR
    if is_passage:
        facts.flags |= Flag.TUNNEL
    if tags.get("bridge") not in (None, "no"):
        facts.flags |= Flag.BRIDGE
    facts.is_straight = is_indoor or tags.get("tunnel") not in (None, "no") or bool(facts.flags & Flag.BRIDGE)
    facts.is_straight |= tags.get("layer", "0") not in ("0", "")


def _read_access(tags: Tags, facts: WayFacts) -> None:
    """OSM wiki, Key:access: ``foot`` outranks ``access``. A rule that depends on the time is a question until it is evaluated."""
    for key in ("foot", "access"):
        if key in tags:
            facts.access = _ACCESS.get(tags[key], ACCESS_OPEN)
            if tags[key] not in _ACCESS and tags[key] != "unknown":
                facts.problems.append((key, tags[key]))
            break
    facts.wheelchair = _WHEELCHAIR.get(tags.get("wheelchair", ""), 0)
    if any(key in tags for key in _CONDITIONAL):
        facts.flags |= Flag.CONDITIONAL
    oneway = tags.get("oneway:foot") or (tags.get("oneway") if facts.kind is WayKind.ESCALATOR else None)
    if oneway in ("yes", "1"):
        facts.flags |= Flag.FORWARD_ONLY
    elif oneway == "-1":
        facts.flags |= Flag.BACKWARD_ONLY


def _read_marks(tags: Tags, facts: WayFacts) -> None:
    if "lit" in tags:
        facts.flags |= Flag.UNLIT if tags["lit"] == "no" else Flag.LIT
    if facts.kind is WayKind.CONSTRUCTION or tags.get("construction") not in (None, "no", "minor"):
        facts.flags |= Flag.CONSTRUCTION
    if facts.kind is WayKind.STEPS and tags.get("ramp:wheelchair") == "yes":
        facts.flags |= Flag.STEPS_RAMP
    if tags.get("crossing") == "traffic_signals" or tags.get("crossing:signals") == "yes":
        facts.flags |= Flag.CROSSES_SIGNALS
    if "maxweight" in tags and facts.kind not in CARRIAGEWAY_KINDS:
        number = read_mass_kg(tags["maxweight"])
        if number is None:
            facts.problems.append(("maxweight", tags["maxweight"]))
        else:
            facts.mass_limit_kg = number.value
    speed = read_speed_kmh(tags)
    facts.speed_kmh = NAN if speed is None else speed
    lanes = tags.get("lanes", "")
    facts.lanes = int(lanes) if lanes.isdigit() and int(lanes) < 20 else 0
