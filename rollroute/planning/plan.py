"""The plan: one JSON document that coordinators, drivers and scripts read (``plan.json``, schema below).

``format`` ``rollroute-plan``, ``version`` 1. All times are ISO 8601 with offset.

- ``move``: name, start, ``folder`` (of the inputs, as given), ``inputs`` (file -> sha256), ``basis`` of the travel estimates.
- ``is_complete``: false where the work was interrupted and this is the best plan so far.
- ``riders``: one per rider, in the order of the table: ``id``, ``status`` (``planned``, ``undecided``, ``not served``, ``declined``),
  ``way`` (``roll``, ``van``, ``apart`` or null), ``shelter``, ``van``, ``leave``, ``load``, ``loaded``, ``unload``, ``arrive``,
  ``out`` (of the closing area), ``pickup`` and ``dropoff`` (labels), ``escorts``, ``together`` (party), ``latest`` (the earliest limit
  that binds, without saying why), ``margin_min``, ``late_min``, ``doubt``, ``unverified``, ``retreat``, ``reasons``, ``fix``,
  ``fallback``, ``assumed`` (fields that stand on the bad side), ``is_priority``, ``things`` (that travel along), ``path`` (of a roll:
  its legs from halt to halt, see ``travel.PathLeg``; the auditor drives along it).
- ``vans``: ``id``, ``stops`` in order: ``kind`` (``load``/``unload``), ``riders``, ``place``, ``node``, ``drive_min``, ``arrive``,
  ``start``, ``end``, ``aboard`` (positions taken after the stop).
- ``escorts``: ``id``, ``jobs``: ``kind`` (``roll``, ``to van``, ``stairs``), ``riders``, ``leave``, ``meet``, ``end``, ``back``.
- ``shelters``: ``name``, ``arrivals``, ``plugs``: ``rider``, ``circuit``, ``outlet``, ``start``, ``end``, ``watts``, ``is_held``;
  ``halts``: the same of riders who charge there on their way to another shelter; ``missing_h``.
- ``tiers``: what the plan was judged by: ``name``, ``value``, ``bound``, ``is_proven``.

No field says what a device, a medicine or an illness is.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.planning.travel import PathLeg, read_path
from rollroute.whole import write_whole

FORMAT, FORMAT_VERSION = "rollroute-plan", 1


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderPlan:
    """One rider's line; see the module for the fields."""

    id: str
    status: str
    way: str | None = None
    shelter: str | None = None
    van: str | None = None
    leave: str | None = None
    load: str | None = None
    loaded: str | None = None
    unload: str | None = None
    arrive: str | None = None
    out: str | None = None
    pickup: str | None = None
    dropoff: str | None = None
    escorts: tuple[str, ...] = ()
    together: tuple[str, ...] = ()
    latest: str | None = None
    margin_min: int | None = None
    late_min: int = 0
    doubt: float = 0.0
    unverified: tuple[str, ...] = ()
    retreat: str | None = None
    reasons: tuple[str, ...] = ()
    fix: str | None = None
    fallback: str | None = None
    assumed: tuple[str, ...] = ()
    is_priority: bool = False
    things: tuple[str, ...] = ()
    path: tuple[PathLeg, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop of a van."""

    kind: str
    riders: tuple[str, ...]
    place: str
    node: str
    drive_min: int
    arrive: str
    start: str
    end: str
    aboard: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VanPlan:
    """A van's stops in order."""

    id: str
    stops: tuple[Stop, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """An escort's way there, along and back. ``kind``: ``roll``, ``to van`` or ``stairs``."""

    kind: str
    riders: tuple[str, ...]
    leave: str
    meet: str
    end: str
    back: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EscortPlan:
    """An escort's jobs in order."""

    id: str
    jobs: tuple[Job, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plug:
    """Somebody plugged in. ``is_held``: the outlet is kept all night."""

    rider: str
    circuit: str
    outlet: int
    start: str
    end: str
    watts: float
    is_held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelterPlan:
    """Who comes to a shelter, and its outlets."""

    name: str
    arrivals: tuple[str, ...]
    plugs: tuple[Plug, ...] = ()
    missing_h: float = 0.0
    reasons: tuple[str, ...] = ()
    halts: tuple[Plug, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tier:
    """One figure that plans are judged by, in order."""

    name: str
    value: int
    bound: int
    is_proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan; see the module for the fields."""

    move: dict[str, Any]
    riders: tuple[RiderPlan, ...]
    vans: tuple[VanPlan, ...]
    escorts: tuple[EscortPlan, ...]
    shelters: tuple[ShelterPlan, ...]
    tiers: tuple[Tier, ...]
    is_complete: bool = True
    claims: tuple[str, ...] = ()
    open_alerts: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    command: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    def rider(self, rider_id: str) -> RiderPlan:
        """The line of one rider."""
        return next(r for r in self.riders if r.id == rider_id)

    @property
    def not_served(self) -> tuple[RiderPlan, ...]:
        """Riders without a way, in the order of the table."""
        return tuple(r for r in self.riders if r.status == "not served")


def plan_document(plan: Plan) -> dict[str, Any]:
    """The plan as plain JSON data."""
    return {"format": FORMAT, "version": FORMAT_VERSION, **asdict(plan)}


def write_plan(plan: Plan, path: Path) -> None:
    """Write ``plan`` as JSON: complete or not at all."""
    write_whole(path, json.dumps(plan_document(plan), ensure_ascii=False, allow_nan=False, indent=1))


def read_plan(path: Path) -> Plan:
    """Read a plan, perhaps edited by hand.

    Raises
    ------
    InputError
        If it is not a plan of this version.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
        if (document.pop("format", None), document.pop("version", None)) != (FORMAT, FORMAT_VERSION):
            raise InputError(f"{path}: not a plan of format version {FORMAT_VERSION}. Make it again with `rollroute move`.")
        plan = _plan(document)
        _check_types(plan)
        return plan
    except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{path}: not a readable plan ({type(error).__name__}: {error}). Undo the last edit, or make it again.") from error


def _check_types(plan: Plan) -> None:
    """Raise ``ValueError`` with the place and the value, where a hand has put text for a number, or the like."""
    from pydantic import TypeAdapter, ValidationError

    try:
        TypeAdapter(Plan).validate_python(asdict(plan))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise ValueError(f"{where}: {first['input']!r}: {first['msg']}") from error


def _tuples(value: dict[str, Any]) -> dict[str, Any]:
    return {k: tuple(v) if isinstance(v, list) else v for k, v in value.items()}


def _path(legs: Any) -> Any:
    """The legs of a path; what a hand has made of them is left for the check of types to name."""
    is_readable = isinstance(legs, list) and all(isinstance(leg, dict) and isinstance(leg.get("edges"), list) for leg in legs)
    return read_path(legs) if is_readable else legs


def _plan(d: dict[str, Any]) -> Plan:
    riders = tuple(RiderPlan(**{**_tuples(r), "path": _path(r.get("path", ()))}) for r in d.pop("riders"))
    vans = tuple(VanPlan(id=v["id"], stops=tuple(Stop(**_tuples(s)) for s in v["stops"])) for v in d.pop("vans"))
    escorts = tuple(EscortPlan(id=e["id"], jobs=tuple(Job(**_tuples(j)) for j in e["jobs"])) for e in d.pop("escorts"))
    shelters = tuple(
        # the plugs are objects, the rest plain lists; plans written before halts were told have none
        ShelterPlan(**{**_tuples(s), **{key: tuple(Plug(**p) for p in s.get(key, ())) for key in ("plugs", "halts")}})
        for s in d.pop("shelters")
    )
    tiers = tuple(Tier(**t) for t in d.pop("tiers"))
    return Plan(riders=riders, vans=vans, escorts=escorts, shelters=shelters, tiers=tiers, **_tuples(d))
