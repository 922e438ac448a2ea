"""Sockets at shelters: where this chair may charge on the way, and which places are refuges.

What a list of shelters leaves open takes the bad side: an opening time that nobody gave is not open,
a generator without fuel is not counted on, outlets that nobody counted are none.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rollroute.errors import InputError
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_shelters import ALIASES, Shelter, geojson_table, read_shelters
from rollroute.inputs.tabular import read_table
from rollroute.network.gazetteer import FoundPlace, find_place
from rollroute.network.rooms import RoomFinder
from rollroute.weights.charging import Outlet

MAINS_VOLTS = 120.0  # assumption: a household outlet in the US; a setting of the command line
OUTLET_AMPS = 15.0  # assumption: the usual US circuit (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Socket:
    """A place with power where this chair may charge, and which is a refuge."""

    place: FoundPlace
    outlet: Outlet | None  # None: a refuge without a socket for this chair
    opens: dt.datetime | None = None
    closes: dt.datetime | None = None
    words: str | None = None  # "2 outlets, 15 A"


def load_shelters(path: Path, start: dt.datetime) -> list[Shelter]:
    """Read shelters from CSV, a spreadsheet, or GeoJSON points.

    Raises
    ------
    InputError
        Naming every row and column that can't be read.
    """
    table = geojson_table(path) if path.suffix.lower() in (".geojson", ".json") else read_table(path, ALIASES)
    shelters, problems = read_shelters(table, start)
    if problems:
        raise InputError("\n".join(f"{p.file}, row {p.row}, {p.column}: {p.value!r}: {p.message}" for p in problems))
    return shelters


def place_of(shelter: Shelter, addresses: Sequence[tuple[str, str, float, float]], rooms: RoomFinder | None = None) -> FoundPlace | None:
    """Where a shelter is: the room that its place names, else its position, else its address; ``None`` where the list gives none."""
    names_room = rooms is not None and shelter.place is not None and ":" in shelter.place
    if not names_room and shelter.lat is not None and shelter.lon is not None:
        return FoundPlace(shelter.name, shelter.lon, shelter.lat, "shelter", opens=shelter.opens, closes=shelter.closes)
    if shelter.place is None:
        return None
    found = find_place(shelter.place, addresses=addresses, rooms=rooms)
    return FoundPlace(shelter.name, found.lon, found.lat, "shelter", found.level, found.node, shelter.opens, shelter.closes)


def sockets_of(
    shelters: Iterable[Shelter],
    conditions: Conditions,
    addresses: Sequence[tuple[str, str, float, float]],
    *,
    rooms: RoomFinder | None = None,
    mains_volts: float = MAINS_VOLTS,
) -> list[Socket]:
    """The sockets that shelters promise; shelters without power that can be promised give none."""
    sockets = []
    for shelter in shelters:
        place = place_of(shelter, addresses, rooms)
        n_outlets = sum(c.outlets or 0 for c in shelter.circuits)
        if place is None or n_outlets == 0 or shelter.opens is None:
            continue
        has_mains = shelter.has_mains if shelter.has_mains is not None else conditions.has_mains
        has_generator = bool(shelter.generator_watts and shelter.generator_fuel_h)
        if not has_mains and not has_generator:
            continue
        amps = min((c.amps for c in shelter.circuits if c.outlets and c.amps), default=OUTLET_AMPS)
        share_w = None if has_mains else (shelter.generator_watts or 0.0) / n_outlets
        sockets.append(
            Socket(
                place=place,
                outlet=Outlet(volts=mains_volts, amps=amps, share_w=share_w),
                opens=shelter.opens,
                closes=_closes(shelter, has_mains=has_mains),
                words=f"{n_outlets} × {amps:.0f} A" + ("" if has_mains else ", generator"),
            )
        )
    return sockets


def _closes(shelter: Shelter, *, has_mains: bool) -> dt.datetime | None:
    """When charging must have ended: the shelter closes, or the generator's fuel runs out, counted from opening."""
    ends = [shelter.closes] if shelter.closes is not None else []
    if not has_mains and shelter.generator_fuel_h is not None and shelter.opens is not None:
        ends.append(shelter.opens + dt.timedelta(hours=shelter.generator_fuel_h))
    return min(ends, default=None)
