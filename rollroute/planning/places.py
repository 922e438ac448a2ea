"""Where riders, shelters, vans and escorts are on the map, and which could not be found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import Shelter
from rollroute.inputs.move_vehicles import Escort, Van
from rollroute.network.gazetteer import FoundPlace, find_place
from rollroute.network.network import Network
from rollroute.network.rooms import RoomFinder

NOWHERE = "nobody has said where"


@dataclass(frozen=True, slots=True)
class Located:
    """Places by ``(kind, id)``: kind is ``rider``, ``shelter``, ``van`` or ``escort``; ``wrong`` says why others are missing."""

    found: Mapping[tuple[str, str], FoundPlace]
    wrong: Mapping[tuple[str, str], str]


@dataclass(frozen=True, slots=True)
class _Named:
    name: str
    lon: float
    lat: float
    level: float | None = None
    node: int | None = None


def locate(move: Move, network: Network) -> Located:
    """Find every place of ``move``: by position, by a shelter's name or entrance, or by address."""
    addresses = [tuple(a) for a in network.about.get("addresses", [])]
    rooms = RoomFinder(network)
    found: dict[tuple[str, str], FoundPlace] = {}
    wrong: dict[tuple[str, str], str] = {}

    def put(kind: str, name: str, lon: float | None, lat: float | None, text: str | None, known: list[_Named]) -> None:
        try:
            if lon is not None and lat is not None:
                found[kind, name] = FoundPlace(text or name, lon, lat, "position")
            elif text is None:
                wrong[kind, name] = NOWHERE
            else:
                found[kind, name] = find_place(text, addresses=addresses, shelters=known, rooms=rooms)
        except InputError as error:
            wrong[kind, name] = str(error)

    named: list[_Named] = []
    for shelter in move.shelters:
        lon, lat = (None, None) if _names_room(shelter) else _entrance(shelter, network)
        put("shelter", shelter.name, lon, lat, shelter.place, [])
        if ("shelter", shelter.name) in found:
            place = found["shelter", shelter.name]
            found["shelter", shelter.name] = FoundPlace(
                shelter.name, place.lon, place.lat, "shelter", place.level, place.node, shelter.opens, shelter.closes
            )
            named.append(_Named(shelter.name, place.lon, place.lat, place.level, place.node))
    for kind, things in (("rider", move.riders), ("van", move.vans), ("escort", move.escorts)):
        for thing in things:
            lon, lat = _position(thing)
            put(kind, thing.id, lon, lat, thing.place, named)
    return Located(found, wrong)


def _position(thing: Rider | Van | Escort) -> tuple[float | None, float | None]:
    return (thing.start_lon, thing.start_lat) if isinstance(thing, Van) else (thing.lon, thing.lat)


def _names_room(shelter: Shelter) -> bool:
    return shelter.place is not None and ":" in shelter.place


def _entrance(shelter: Shelter, network: Network) -> tuple[float | None, float | None]:
    """The entrance that the table names as ``node/ID``, else the shelter's point."""
    kind, _, number = (shelter.entrance or "").partition("/")
    if kind == "node" and number.isdigit():
        rows = np.flatnonzero(network.nodes.osm_id == int(number))
        if len(rows):
            return network.node_place(int(rows[0]))
    return shelter.lon, shelter.lat
