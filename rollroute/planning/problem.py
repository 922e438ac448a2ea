"""The move in whole minutes, as the solvers read it.

A *party* is one rider, or the riders who must stay together; it moves as one.
Minutes count from the start of the move; durations are rounded up and limits down, so that a plan that holds here holds in fractions too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Minutes = npt.NDArray[np.int64]
NEVER = 10**6  # minutes: no limit, or no way


def up(minutes: float) -> int:
    """Whole minutes of a duration, rounded up; infinity is ``NEVER``."""
    return NEVER if not math.isfinite(minutes) else min(NEVER, math.ceil(minutes - 1e-9))


def down(minutes: float) -> int:
    """Whole minutes of a limit, rounded down; infinity is ``NEVER``."""
    return NEVER if not math.isfinite(minutes) else min(NEVER, math.floor(minutes + 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """One rider, or riders who stay together.

    ``close``: out of the area by then, hard. ``due``: better out by then. ``socket_by``, ``arrive_by``: inside by then, hard.
    """

    riders: tuple[str, ...]
    ready: int = 0
    close: int = NEVER
    due: int = NEVER
    socket_by: int = NEVER
    arrive_by: int = NEVER
    n_sockets: int = 0  # held all night for devices
    refill_h: float = 0.0
    area: int = -1  # number of the closing area the party starts in; -1 = none

    @property
    def size(self) -> int:
        """Number of riders."""
        return len(self.riders)


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """A party driving to a shelter in their own chairs: the slowest sets the pace."""

    party: int
    shelter: int
    minutes: int
    escorts: int
    first_departure: int  # ready, and charged where it must be
    last_departure: int
    leave_area: int  # minutes after departure until out of the closing area
    charge_short: int  # points below the comfort level on arrival
    doubt: int  # thousandths


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """A party loaded into one van at a loading zone. ``load_from``, ``load_by``: loading starts no sooner and no later.

    ``doubt``, as of drop-offs and rolls: thousandths, each rider's own added up.
    """

    node: int
    roll: int  # minutes from home to the zone
    positions: int
    seats: int
    load: int
    unload: int
    exit: int  # driving minutes after loading until out of the closing area
    escorts: int = 0
    needs_stair_crew: bool = False
    doubt: int = 0
    zone: str = ""
    load_from: int = 0
    load_by: int = NEVER


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropoff:
    """A party unloaded at a shelter: where the van stops, and the way in. Inside from ``inside_from``, by ``inside_by``."""

    node: int
    roll: int
    doubt: int = 0
    zone: str = ""
    inside_from: int = 0
    inside_by: int = NEVER


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelterRoom:
    """What a shelter can take. ``outlet_h``: outlet hours of the night left for chairs once held sockets are taken off."""

    name: str
    places: int
    per_hour: int
    opens: int
    closes: int
    sockets: int  # that hold power all night
    outlet_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VanRoom:
    """What a van can do, and when."""

    id: str
    node: int
    starts: int
    ends: int
    positions: int
    seats: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EscortTime:
    """When somebody can walk along; ``approach`` by party, ``back`` by shelter, in minutes."""

    id: str
    starts: int
    ends: int
    approach: tuple[int, ...]
    back: tuple[int, ...]
    is_stair_trained: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything a solver needs; see ``objective.tiers`` for what is minimised.

    drive : (n_phases, n_nodes, n_nodes) int64   minutes; ``NEVER`` = no way
    phase_ends : (n_phases,) int64               a drive of phase p ends by phase_ends[p]; the last is ``NEVER``
    """

    parties: tuple[Party, ...]
    shelters: tuple[ShelterRoom, ...]
    vans: tuple[VanRoom, ...]
    escorts: tuple[EscortTime, ...]
    rolls: tuple[Roll, ...]
    pickups: Mapping[tuple[int, int], Pickup]  # (party, van)
    dropoffs: Mapping[tuple[int, int, int], Dropoff]  # (party, van, shelter)
    ride_limit: tuple[int, ...]  # per party, loaded to unloaded
    drive: Minutes
    phase_ends: Minutes
    horizon: int
    comfort: int
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # rider -> why an option is missing

    def drive_min(self, start: int, end: int, depart: int) -> int:
        """Driving minutes when leaving ``start`` at ``depart``: the first phase in which the drive still ends in time."""
        for phase in range(len(self.phase_ends)):
            minutes = int(self.drive[phase, start, end])
            if minutes < NEVER and depart + minutes <= self.phase_ends[phase]:
                return minutes
        return NEVER

    def shelters_for(self, party: int, van: int) -> list[int]:
        """Shelters that ``van`` can take ``party`` to."""
        return [j for j in range(len(self.shelters)) if (party, van, j) in self.dropoffs]


@dataclass(frozen=True, slots=True, kw_only=True)
class RollLeg:
    """A party rolls by ``Problem.rolls[roll]``, setting off at ``depart`` with ``escorts``."""

    roll: int
    depart: int
    escorts: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RideLeg:
    """A party rides: loading starts at ``load``, unloading at ``unload``."""

    van: int
    shelter: int
    load: int
    unload: int
    escorts: tuple[int, ...] = ()


Leg = RollLeg | RideLeg


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A solution: a leg per party (``None``: not served) and each van's stops in order: (party, is_pickup)."""

    legs: tuple[Leg | None, ...]
    tours: tuple[tuple[tuple[int, bool], ...], ...]
