"""What the tags of one way say about all of it, in the codes of ``Pieces``; the reading itself is done by ``rollroute.network.tags``."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from rollroute.network import tags as read
from rollroute.network.kinds import CARRIAGEWAY_KINDS, INDOOR_KINDS, PAVED_KINDS, STREET_KINDS, WayKind
from rollroute.network.network import Flag
from rollroute.network.ranks import Rank
from rollroute.network.tags import CrossingKind, Reading, Smoothness, Surface, Wheelchair
from rollroute.standards import CEILING_GRADE

Tags = Mapping[str, str]
NAN = math.nan
RISER_MOST_M = 0.18  # 2010 ADA Standards 504.2: risers are 100 to 180 mm; the bad side counts
LANE_WIDTH_M = 2.5  # assumption: a carriageway that a car can drive
_SAYS_NOTHING = (
    "name", "addr:", "alt_name", "old_name", "official_name", "loc_name", "ref", "source", "wiki", "note", "fixme", "check_date",
    "operator", "created_by", "website", "description", "image", "start_date", "HFCS", "tiger:",
)  # fmt: skip
"""Keys that no reader looks at: ways that differ only in these share their facts."""


@dataclass(frozen=True, slots=True)
class WayFacts:
    """One way's facts; grades in the direction of the way. ``problems``: (key, value) not understood."""

    kind: WayKind
    flags: int = 0
    width_m: float = NAN
    width_rank: Rank = Rank.UNKNOWN
    surface: int = 0
    surface_rank: Rank = Rank.UNKNOWN
    smoothness: int = 0
    grade: float = NAN
    grade_rank: Rank = Rank.UNKNOWN
    incline_sign: int = 0  # where only up (+1) or down (−1) is tagged
    cross_slope: float = NAN
    levels: tuple[float, ...] = ()
    speed_kmh: float = NAN
    lanes: int = 0
    access: int = 0
    wheelchair: int = 0
    mass_limit_kg: float = NAN
    is_straight: bool = False
    problems: tuple[tuple[str, str], ...] = ()


def read_way(tags: Tags, kind: WayKind) -> WayFacts:
    """Read everything that ``tags`` say of a way of this kind."""
    return _read(tuple((k, v) for k, v in tags.items() if not k.startswith(_SAYS_NOTHING)), kind)


@lru_cache(1 << 15)
def _read(items: tuple[tuple[str, str], ...], kind: WayKind) -> WayFacts:
    tags = dict(items)
    structure = read.read_structure(tags)
    sidewalk = _sidewalk_flag(tags, kind)
    flags = sidewalk | _flags(tags, kind, structure)
    width, surface, smoothness = _of_walking_part(tags, kind, bool(sidewalk & Flag.STREET_SIDEWALK))
    slope, across = read.read_incline(tags), read.read_cross_slope(tags)
    incline = slope.grade
    speed, lanes, levels = read.read_maxspeed_kmh(tags).value, read.read_lanes(tags).value, read.read_levels(tags).value
    is_indoor = structure.is_indoor or kind in INDOOR_KINDS
    facts = WayFacts(
        kind,
        flags=flags,
        smoothness=int(smoothness.value or Smoothness.UNKNOWN),
        grade=_or_nan(incline.value),
        grade_rank=_rank(incline),
        incline_sign=slope.sign if incline.value is None else 0,
        cross_slope=_or_nan(across.value),
        levels=() if levels is None else tuple(levels),
        speed_kmh=_or_nan(speed),
        lanes=lanes or 0,
        access=int(read.access_of(tags)),
        wheelchair=int(read.read_wheelchair(tags).word.value or Wheelchair.UNKNOWN),
        mass_limit_kg=NAN if kind in CARRIAGEWAY_KINDS else _or_nan(read.read_mass_limit_kg(tags).value),
        is_straight=is_indoor or structure.is_tunnel or structure.is_bridge or structure.layer != 0,
        problems=tuple((key, text) for key, text, _ in read.problems_of(tags)),
    )
    return _with_surface(_with_width(facts, width), surface)


def _or_nan(value: float | None) -> float:
    return NAN if value is None else float(value)


def _rank(reading: Reading[float]) -> Rank:
    """A figure that is only about right counts as a word."""
    return Rank.UNKNOWN if reading.value is None else Rank.TAG_WORD if reading.is_approximate else reading.rank


def _sidewalk_flag(tags: Tags, kind: WayKind) -> int:
    """A sidewalk that is mapped as a way of its own counts as none here: the line itself is then the carriageway."""
    if kind not in STREET_KINDS | {WayKind.LIVING_STREET, WayKind.SERVICE}:
        return 0
    sidewalk = read.read_sidewalk(tags)
    if sidewalk.is_on_line:
        return Flag.STREET_SIDEWALK
    return 0 if sidewalk.text is None else Flag.NO_SIDEWALK


def _flags(tags: Tags, kind: WayKind, structure: read.StructureFact) -> int:
    steps = read.read_steps(tags) if kind in (WayKind.STEPS, WayKind.ESCALATOR) else None
    crossing = read.read_crossing(tags) if kind is WayKind.CROSSING else None
    lit = read.read_lit(tags).value
    marks = {
        Flag.BRIDGE: structure.is_bridge,
        Flag.TUNNEL: structure.is_tunnel or structure.is_covered,
        Flag.UNDERPASS: structure.is_tunnel and not structure.is_passage and kind not in INDOOR_KINDS,
        Flag.INDOOR: structure.is_indoor or kind in INDOOR_KINDS,
        Flag.LIT: lit is True,
        Flag.UNLIT: lit is False,
        Flag.CONSTRUCTION: kind is WayKind.CONSTRUCTION or tags.get("construction", "no") not in ("no", "minor"),
        Flag.CONDITIONAL: read.has_conditional(tags),
        Flag.STEPS_RAMP: steps is not None and bool(steps.has_wheelchair_ramp) and not steps.is_ramp_separate,
        Flag.PORTABLE_RAMP: steps is not None and _portable_ramp_may_do(steps),
        Flag.ISLAND: "traffic_island" in (tags.get("footway"), tags.get("path"), tags.get("cycleway")),
        Flag.CROSSES_SIGNALS: crossing is not None and crossing.kind.value is CrossingKind.SIGNALS,
    }
    return sum(flag for flag, is_set in marks.items() if is_set) | _one_way(tags, kind)


def _portable_ramp_may_do(steps: read.StepsFact) -> bool:
    """Whether a portable ramp is promised that is not known to be too short for 1:12 (2010 ADA Standards 405.2)."""
    if not steps.has_portable_ramp:
        return False
    if steps.portable_length.value is None or steps.step_count.value is None:
        return True
    rise_m = steps.step_count.value * (steps.step_height.value or RISER_MOST_M)
    return rise_m / steps.portable_length.value <= CEILING_GRADE if steps.portable_length.value else False


def _one_way(tags: Tags, kind: WayKind) -> int:
    """OSM wiki, Key:oneway:foot; people on foot may go either way along a street that is one-way for cars."""
    text = tags.get("oneway:foot") or (tags.get("oneway") if kind is WayKind.ESCALATOR else None)
    return Flag.FORWARD_ONLY if text in ("yes", "1") else Flag.BACKWARD_ONLY if text == "-1" else 0


def _of_walking_part(tags: Tags, kind: WayKind, has_sidewalk: bool) -> tuple[Reading[float], Reading[Surface], Reading[Smoothness]]:
    """Width, surface and smoothness of where the chair drives: on a street with sidewalks that of the worse of them."""
    if not has_sidewalk:
        width = _lift_width(tags) if kind is WayKind.ELEVATOR else read.read_width(tags)
        return width, read.read_surface(tags), read.read_smoothness(tags)
    fact = read.read_sidewalk(tags)
    there = (read.SideWord.YES, read.SideWord.SOME)
    sides = [side for side, word in (("left", fact.left), ("right", fact.right)) if word in there]
    widths = [w for side in sides if (w := read.read_width(tags, side)).value is not None]
    surfaces = [s for side in sides if (s := read.read_surface(tags, side)).value is not None]
    levels = [level for side in sides if (level := read.read_smoothness(tags, side)).value is not None]
    nothing: Reading[float] = Reading(None, Rank.UNKNOWN)
    return (
        min(widths, key=lambda r: r.value or 0.0, default=nothing),
        _worst_surface(surfaces),
        max(levels, key=lambda r: int(r.value or 0), default=Reading(None, Rank.UNKNOWN)),
    )


def _worst_surface(surfaces: list[Reading[Surface]]) -> Reading[Surface]:
    worst: Reading[Surface] = Reading(None, Rank.UNKNOWN)
    for found in surfaces:
        if found.value is not None and (worst.value is None or read.is_worse(found.value, worst.value)):
            worst = found
    return worst


def _lift_width(tags: Tags) -> Reading[float]:
    """The tightest tagged part of a lift."""
    lift = read.read_lift(tags)
    known = [r for r in (lift.width, lift.door_width) if r.value is not None]
    return min(known, key=lambda r: r.value or 0.0, default=lift.width)


def _with_width(facts: WayFacts, width: Reading[float]) -> WayFacts:
    if width.value is not None:
        return replace(facts, width_m=width.value, width_rank=_rank(width))
    if facts.kind in CARRIAGEWAY_KINDS and not facts.flags & Flag.STREET_SIDEWALK:
        return replace(facts, width_m=LANE_WIDTH_M, width_rank=Rank.INFERRED)
    return facts


def _with_surface(facts: WayFacts, surface: Reading[Surface]) -> WayFacts:
    """Streets are paved and floors are hard, unless the map says otherwise (assumptions, rank ``INFERRED``)."""
    if surface.value:
        return replace(facts, surface=int(surface.value), surface_rank=surface.rank)
    if facts.kind in PAVED_KINDS:
        return replace(facts, surface=int(Surface.PAVING_STONES), surface_rank=Rank.INFERRED)
    if facts.kind in INDOOR_KINDS or facts.kind is WayKind.RAMP:
        return replace(facts, surface=int(Surface.HARD_FLOOR), surface_rank=Rank.INFERRED)
    return facts
