"""The itinerary: everything that a map, a sheet, a link or a text message needs of one route, in plain data.

One file, ``route.json`` in a route's folder, carries it, so that paper and links can be made later, on another machine,
without the network.
It holds facts and kinds, never sentences: words belong to ``rollroute.output.words``, in the reader's language and units.
It names places, a class of chair and its charge; it holds no name, no diagnosis and no need of the rider.

Distances ``at_m``, ``from_m`` and ``to_m`` count from the start along the way.
A state of charge ``soc`` runs from 0 (flat) to 1 (full) of the battery as it is today.
``expected`` is the middle estimate, ``planned`` the 95 % case that all promises rest on.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.weights.fact import Fact
from rollroute.whole import write_whole

FORMAT = "rollroute-itinerary"
FORMAT_VERSION = 1
LonLat = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One quantity in both cases."""

    expected: float
    planned: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A start, goal, refuge or landmark. ``kind``: ``address``, ``position``, ``shelter``, ``room``, or a landmark's own kind."""

    label: str
    lon: float
    lat: float
    kind: str
    level: float | None = None
    at_m: float | None = None  # where the way passes it, if it does
    off_way_m: float = 0.0  # how far from the way it lies


@dataclass(frozen=True, slots=True, kw_only=True)
class ChairFacts:
    """What paper and map need to know of the chair: a class, never a person."""

    label: str
    width_m: float
    length_m: float | None
    total_mass_kg: float  # chair, rider and bags, as planned with
    speed_m_s: float
    rated_grade: float
    rated_obstacle_m: float
    gauge_kind: str  # "percent" or "bars"
    gauge_bars: int | None
    chemistry: str | None
    crr_hard_floor: float
    battery_age_years: float | None = None  # for the words of the gauge; unknown counts as old
    rated_obstacle_down_m: float | None = None
    wheel: str | None = None
    not_stated: list[str] = field(default_factory=list)  # figures of a passage that nobody stated of this very chair


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The moment and the weather planned for."""

    departure: str  # ISO 8601 with offset
    temperature_c: float | None
    is_wet: bool
    is_dark: bool
    has_mains: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A missing fact that could stop the chair, at one place.

    ``kind``: ``kerb``, ``width``, ``surface``, ``grade``, ``gate``, ``bollard``, ``cycle_barrier``, ``door``, ``threshold``, ``lift``,
    ``access``, ``crossing``, ``carriageway``, ``apron``, ``off_map``, ``other``.
    ``probability`` is the chance that it turns out bad; ``detail`` holds what is known (for example ``{"kerb": "lowered"}``).
    """

    number: int  # as printed on map and sheet, 1 .. n along the way
    kind: str
    at_m: float
    length_m: float  # 0 for a point
    lon: float
    lat: float
    probability: float
    is_weakest: bool = False
    scout_first: bool = False  # beyond a busy road: somebody should look before anybody sets out
    street: str | None = None
    detail: dict[str, str | float | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A row of the table of doubts that checks in the town have moved: chances of a stop where nobody knows, ``before`` and ``after``."""

    fact: str  # as ``Question.kind``
    place: str  # what kind of place, in the table's own words
    good: int
    bad: int
    before: float
    after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Something passed on the way that a volunteer must see: kerb, crossing, door, gate, bollard, lift, ramp, narrow.

    ``direction``: ``up``, ``down`` or ``None`` for kerbs.
    ``rank`` names where the fact comes from: ``rider``, ``measured``, ``survey``, ``tag_number``, ``tag_word``, ``inferred``, ``unknown``.
    """

    kind: str
    at_m: float
    lon: float
    lat: float
    value: float | None = None  # metres for kerbs, widths, thresholds
    word: str | None = None  # the map's own word, for example "lowered"
    rank: str = "unknown"
    direction: str | None = None
    question: int | None = None  # number of the question it raises


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of way as driven, start to end.

    ``way_kind`` is one of: footway, sidewalk, crossing, path, pedestrian, cycleway, steps, ramp, elevator, corridor, platform,
    living_street, residential, service, driveway, parking_aisle, track, busy_road, off_map, area.
    ``grade`` is rise over run in the direction of travel, ``None`` if unknown; its rank is ``estimated`` where a raster gave it.
    ``soc_after`` is the state of charge at its end.
    """

    coordinates: list[LonLat]
    from_m: float
    to_m: float
    way_id: int
    way_kind: str
    name: str | None
    verdict: str  # "clear" or "unverified"
    grade: float | None
    grade_sd: float | None
    grade_rank: str
    cross_slope: float | None
    width_m: float | None
    width_rank: str
    surface: str | None
    surface_rank: str
    level: float | None
    building: str | None
    is_bridge: bool
    is_tunnel: bool
    is_lit: bool | None
    time_s: Spread
    energy_wh: Spread
    soc_after: Spread
    questions: list[int]
    road_width_m: float | None = None  # carriageway crossed, for crossing seconds
    side: str | None = None  # "left"/"right" sidewalk of the named street, where known
    facts: list[Fact] = field(default_factory=list)  # all that is known besides, and the verdict both ways


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingHalt:
    """A halt at a socket."""

    label: str
    lon: float
    lat: float
    at_m: float
    arrive_soc: Spread
    leave_soc: Spread
    setup_s: float
    charge_s: float
    wait_s: float
    arrive_time: str  # ISO 8601, planned
    leave_time: str
    outlet: str | None  # in words: "2 outlets, 15 A circuit, generator"
    charger: str | None  # where the charger is: "on board", "with the rider", "at the stop", "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """At ``at_m``: with less than ``least_soc`` on the gauge turn back to ``turn_back_to``, ``turn_back_m`` metres from there.

    ``leave_way_m``: where one leaves the way for it. ``is_ahead``: no refuge behind is nearer than ``turn_back_to``, which lies ahead.
    """

    at_m: float
    lon: float
    lat: float
    least_soc: float
    turn_back_to: str
    turn_back_m: float | None
    leave_way_m: float | None = None
    is_ahead: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """A piece near the way that this chair may not take, where somebody might take it by mistake."""

    coordinates: list[LonLat]
    reasons: list[str]  # "steps", "grade", "kerb", "width", "surface", "gate", "closed", "power", "access", ...
    name: str | None = None
    facts: list[Fact] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """An area with a time. ``kind``: ``closed``, ``deadline`` or ``watch``."""

    kind: str
    label: str
    rings: list[list[LonLat]]
    starts: str | None  # ISO 8601
    ends: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Backdrop:
    """The map's own buildings, water, green and streets near the way, for a map without tiles."""

    buildings: list[list[LonLat]] = field(default_factory=list)  # outer rings
    water: list[list[LonLat]] = field(default_factory=list)
    green: list[list[LonLat]] = field(default_factory=list)
    waterways: list[list[LonLat]] = field(default_factory=list)
    roads: list[tuple[str | None, list[LonLat]]] = field(default_factory=list)  # name, line
    paths: list[tuple[str | None, list[LonLat]]] = field(default_factory=list)
    rooms: list[tuple[float, str | None, list[LonLat]]] = field(default_factory=list)  # level, name, ring


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanMark:
    """A door or lift of a level. ``kind``: ``door`` or ``lift``; ``word``: the kind of door, such as ``sliding``."""

    kind: str
    lon: float
    lat: float
    width_m: float | None
    word: str | None
    needs_power: bool
    is_on_way: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPlan:
    """One level of a building that the way uses: outline, rooms, doors, lifts, stairs, and the stretches driven on it."""

    building: str | None
    level: float
    outline: list[LonLat]
    rooms: list[tuple[str, str | None, list[LonLat]]]  # room, corridor or area; name; ring
    marks: list[PlanMark]
    stairs: list[list[LonLat]]
    ramps: list[list[LonLat]]
    way: list[list[LonLat]]
    way_m: list[tuple[float, float]]  # metres of the whole way where each stretch begins and ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Itinerary:
    """One route, ready for paper, map and message."""

    code: str  # short, radio-safe, for example "K7"
    start: Spot
    goal: Spot
    chair: ChairFacts
    conditions: Conditions
    length_m: float
    climb_m: float
    descent_m: float
    unverified_m: float
    time_s: Spread
    energy_wh: Spread
    soc_start: Spread  # planned = the low end of the gauge reading
    soc_goal: Spread
    reserve_soc: float
    usable_wh: Spread  # energy from soc_start down to the reserve
    arrive_time: Spread | None  # epoch seconds
    doubt: float  # 1 - exp(-sum of surprisal)
    is_proven: bool
    gap: float | None
    pieces: list[Piece]
    questions: list[Question]
    points: list[Point]
    halts: list[ChargingHalt]
    checkpoints: list[Checkpoint]
    refuges: list[Spot]
    van_spots: list[Spot]  # places near the way where a lift van may be able to stop
    rest_spots: list[Spot]  # "possibly level: look before touching the levers"
    landmarks: list[Spot]
    barred: list[Barred]
    hazards: list[Hazard]
    backdrop: Backdrop
    map_date: str | None  # date of the map data
    made_at: str  # ISO 8601
    command: str
    sources: list[str]  # "© OpenStreetMap contributors (ODbL)", "heights: …"
    notes: list[str] = field(default_factory=list)  # kinds of notes: "escort_needed", "on_carriageway", "coarse_heights", …
    plans: list[LevelPlan] = field(default_factory=list)  # levels of buildings that the way uses, in the order of the way
    prior_checks: float | None = None  # how many checks an assumed chance counts as: its prior strength
    checked: list[Checked] = field(default_factory=list)


def write_itinerary(itinerary: Itinerary, path: Path) -> None:
    """Write ``itinerary`` as JSON: complete or not at all."""
    document = {"format": FORMAT, "version": FORMAT_VERSION, **dataclasses.asdict(itinerary)}
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    write_whole(path, text)


def read_itinerary(path: Path) -> Itinerary:
    """Read a route's ``route.json``, or the ``route.json`` in the folder ``path``.

    Raises
    ------
    InputError
        If there is no such file or it is not an itinerary of this version.
    """
    file = path / "route.json" if path.is_dir() else path
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(f"{file}: not a readable route ({error}). Give the folder that `rollroute route --out` wrote.") from error
    if not isinstance(document, dict) or document.pop("format", None) != FORMAT or document.pop("version", None) != FORMAT_VERSION:
        raise InputError(f"{file}: not a route of format version {FORMAT_VERSION}. Make it again with `rollroute route`.")
    try:
        return typing.cast(Itinerary, _build(Itinerary, document))
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise InputError(f"{file}: damaged route ({error}). Make it again with `rollroute route`.") from error


@cache
def _hints(kind: type) -> dict[str, Any]:
    """Types of the fields of ``kind``; asked for once, since a route has thousands of places."""
    return typing.get_type_hints(kind)


def _build(kind: Any, value: Any) -> Any:
    """Turn plain JSON ``value`` into ``kind``: dataclasses, lists, tuples and unions with None."""
    if dataclasses.is_dataclass(kind):
        hints = _hints(typing.cast(type, kind))
        return kind(**{name: _build(hints[name], item) for name, item in value.items()})  # type: ignore[operator]
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        inner = [a for a in arguments if a is not type(None)]
        return None if value is None else _build(inner[0], value) if len(inner) == 1 else value
    if origin is list:
        return [_build(arguments[0], item) for item in value]
    if origin is tuple:
        return tuple(_build(a, item) for a, item in zip(arguments, value, strict=True))
    return value
