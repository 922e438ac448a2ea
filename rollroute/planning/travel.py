"""Travel estimates that a plan rests on: who can roll where, where a van can stop, and how long it drives.

A ``TravelProvider`` makes a ``TravelTable`` from a network; tests write tables by hand.
All minutes are *planned* minutes (the 95 % case) unless a name says *expected*. What is not in a table is not possible.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError

if TYPE_CHECKING:
    from rollroute.inputs.move_folder import Move
    from rollroute.planning.needs import Needs

FORMAT, FORMAT_VERSION = "rollroute-travel", 1
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathLeg:
    """Part of a roll, from the rider's place or the last halt ``to`` the next halt or the goal, a shelter by name.

    ``edges``: directed edges of the network before any place is joined to it (``2 p`` along piece ``p``, ``2 p + 1`` against it), in order;
    the first and the last may be driven in part, and the straight lines from and to doors are not among them.
    ``arrive_min``: planned minutes after setting off. What is spent there: ``wait_min`` until it opens, ``setup_min`` to plug in and out,
    ``charge_min``; all 0 at the goal.
    """

    to: str
    edges: tuple[int, ...]
    arrive_min: float
    wait_min: float = 0.0
    setup_min: float = 0.0
    charge_min: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RollWay:
    """One rider's way to one shelter in their own chair, behind the gates of the route search.

    ``latest_departure_min``: last minute of the move to set off before something on the way closes; ``None``: nothing does.
    ``leave_area_min``: minutes after setting off until the closing area round the start is left; ``None``: only on arrival.
    ``charge_first_min``: minutes at a socket at the start before setting off.
    ``from_min``: of somebody who is rolling already, the minute of the move at which this way leaves the one they were sent; all other
    figures are those of the whole way, from the start. ``None``: nobody is on the way.
    """

    minutes: float
    minutes_expected: float
    soc_arrival: float  # planned
    doubt: float  # sum of surprisals of the questions on the way
    on_carriageway: bool = False
    latest_departure_min: float | None = None
    leave_area_min: float | None = None
    charge_first_min: float = 0.0
    unverified: tuple[str, ...] = ()  # places, in words
    retreat: str | None = None  # refuge that the way-back rule promises
    route: str | None = None  # folder or file of the route
    path: tuple[PathLeg, ...] = ()  # where it goes; empty in tables made by hand
    from_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadingZone:
    """A place where a van can stop and a chair can be loaded, with this rider's way to it (or from it to the entrance).

    ``is_level``: flatter than 1:48 (ADA 503.4) where known; ``None`` is marked *to check*.
    ``clearance_cm``: least height on the van's way in and out; ``None``: no limit is known.
    """

    node: str  # row and column of the driving matrix; one of its own for vans that drive other roads, see ``plain_node``
    label: str
    lon: float
    lat: float
    roll_min: float
    doubt: float = 0.0
    clearance_cm: float | None = None
    side: str | None = None  # side of the vehicle at the kerb: "left", "right"; None: any or not known
    is_level: bool | None = None
    carried: bool = False  # the chair can't come out with its rider: person and chair apart


@dataclass(frozen=True, slots=True)
class Phase:
    """Driving minutes while every road of this phase is open; a drive must end by ``ends_min``.

    minutes : (n_nodes, n_nodes) float64   inf = no way
    """

    ends_min: float  # inf for the last phase
    minutes: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelTable:
    """Estimates for one move. Keys are ids of riders, names of shelters, ids of vans and escorts."""

    rolls: Mapping[tuple[str, str], RollWay] = field(default_factory=dict)
    no_roll: Mapping[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)  # why not
    pickups: Mapping[str, tuple[LoadingZone, ...]] = field(default_factory=dict)  # rider -> zones, best first
    no_pickup: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    dropoffs: Mapping[tuple[str, str], tuple[LoadingZone, ...]] = field(default_factory=dict)  # (rider, shelter) -> zones
    no_dropoff: Mapping[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)  # (rider, shelter) -> why there is none
    van_nodes: Mapping[str, str] = field(default_factory=dict)  # van -> node of its start
    nodes: tuple[str, ...] = ()
    phases: tuple[Phase, ...] = ()
    places: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # rider or shelter -> lon, lat, where found
    exit_min: Mapping[str, float] = field(default_factory=dict)  # rider -> driving minutes from the zone out of the closing area
    approach_min: Mapping[tuple[str, str], float] = field(default_factory=dict)  # (escort, rider)
    back_min: Mapping[tuple[str, str], float] = field(default_factory=dict)  # (escort, shelter)
    basis: str = "hand-made table"
    notes: tuple[str, ...] = ()

    def drive_min(self, start: str, end: str, depart_min: float) -> float:
        """Minutes of the first phase in which the drive ends in time; inf where there is none."""
        a, b = self.nodes.index(start), self.nodes.index(end)
        for phase in self.phases:
            minutes = float(phase.minutes[a, b])
            if depart_min + minutes <= phase.ends_min:
                return minutes
        return math.inf

    def node_for(self, van: str, node: str) -> str:
        """The node of the same place for a van that may drive other roads; the node itself where that place is none of its stops."""
        start = self.van_nodes.get(van, "")
        own = plain_node(node) + start[len(plain_node(start)) :]
        return own if own in self.nodes else node


def plain_node(node: str) -> str:
    """The name of a node without the height of the vans whose roads lead to it: ``n12@250`` is ``n12`` as vans of 250 cm get to it."""
    return node.partition("@")[0]


class TravelProvider(Protocol):
    """Anything that can estimate travel for a move."""

    def estimate(self, move: Move, needs: Sequence[Needs]) -> TravelTable:
        """Travel estimates for every rider, shelter, van and escort of ``move``."""


def write_travel(table: TravelTable, path: Path) -> None:
    """Write the estimates beside the plan, so that its claims can be checked without the map."""
    document: dict[str, Any] = {"format": FORMAT, "version": FORMAT_VERSION}
    for name in ("rolls", "no_roll", "dropoffs", "no_dropoff", "approach_min", "back_min"):
        document[name] = [[*key, _plain(value)] for key, value in getattr(table, name).items()]
    for name in ("pickups", "no_pickup", "exit_min"):
        document[name] = {key: _plain(value) for key, value in getattr(table, name).items()}
    document["places"] = {key: list(value) for key, value in table.places.items()}
    document |= {"van_nodes": dict(table.van_nodes), "nodes": list(table.nodes), "basis": table.basis, "notes": list(table.notes)}
    document["phases"] = [{"ends_min": _finite(p.ends_min), "minutes": [[_finite(v) for v in r] for r in p.minutes]} for p in table.phases]
    path.write_text(json.dumps(document, ensure_ascii=False, allow_nan=False), encoding="utf-8")


def read_travel(path: Path) -> TravelTable:
    """Read what ``write_travel`` wrote.

    Raises
    ------
    InputError
        If it is not a travel table of this version.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        if (document["format"], document["version"]) != (FORMAT, FORMAT_VERSION):
            raise InputError(f"{path}: not travel estimates of version {FORMAT_VERSION}. Make the plan again.")
        return _table(document)
    except FileNotFoundError as error:
        raise InputError(f"{path}: not there. The plan beside it rests on it: put it back, or make the plan again.") from error
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise InputError(f"{path}: not readable travel estimates ({error}). Make the plan again.") from error


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {k: _finite(v) for k, v in dataclasses.asdict(value).items()}
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    return _finite(value)


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else float(value) if isinstance(value, np.floating) else value


def _roll(value: dict[str, Any]) -> RollWay:
    return RollWay(**{**value, "unverified": tuple(value["unverified"]), "path": read_path(value.get("path", ()))})


def read_path(legs: Sequence[dict[str, Any]]) -> tuple[PathLeg, ...]:
    """The legs of a path as they stand in JSON."""
    return tuple(PathLeg(**{**leg, "edges": tuple(leg["edges"])}) for leg in legs)


def _zones(values: list[dict[str, Any]]) -> tuple[LoadingZone, ...]:
    return tuple(LoadingZone(**v) for v in values)


def _table(d: dict[str, Any]) -> TravelTable:
    def inf(v: float | None) -> float:
        return math.inf if v is None else float(v)

    return TravelTable(
        rolls={(a, b): _roll(v) for a, b, v in d["rolls"]},
        no_roll={(a, b): tuple(v) for a, b, v in d["no_roll"]},
        pickups={k: _zones(v) for k, v in d["pickups"].items()},
        no_pickup={k: tuple(v) for k, v in d["no_pickup"].items()},
        dropoffs={(a, b): _zones(v) for a, b, v in d["dropoffs"]},
        no_dropoff={(a, b): tuple(v) for a, b, v in d["no_dropoff"]},
        places={k: (float(v[0]), float(v[1])) for k, v in d["places"].items()},
        van_nodes=d["van_nodes"],
        nodes=tuple(d["nodes"]),
        phases=tuple(Phase(inf(p["ends_min"]), np.array([[inf(v) for v in row] for row in p["minutes"]])) for p in d["phases"]),
        exit_min={k: inf(v) for k, v in d["exit_min"].items()},
        approach_min={(a, b): inf(v) for a, b, v in d["approach_min"]},
        back_min={(a, b): inf(v) for a, b, v in d["back_min"]},
        basis=d["basis"],
        notes=tuple(d["notes"]),
    )
