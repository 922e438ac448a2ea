"""Lifts and automatic doors that keep working when the mains are off: a generator that the coordinator knows of."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

import numpy as np

from rollroute.errors import InputError
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.network import Network
from rollroute.network.rooms import RoomFinder, building_of_pieces


def with_power(network: Network, names: Iterable[str]) -> Network:
    """``network`` whose lifts and doors in the buildings (or at the ``node/ID``) called ``names`` run without mains.

    Raises
    ------
    InputError
        If a name means no building with something mapped inside and no lift or door.
    """
    rows = np.zeros(len(network.places.kind), bool)
    can_run = np.isin(network.places.kind, [int(PlaceKind.LIFT), int(PlaceKind.DOOR)])
    for name in names:
        kind, _, number = name.partition("/")
        is_node = kind == "node" and number.isdigit()
        found = can_run & (network.places.osm_id == int(number) if is_node else _inside(network, name))
        if not found.any():
            known = sorted(b.name for b in RoomFinder(network).buildings if b.name)
            raise InputError(
                f"powered {name!r}: no building of that name with a lift or door mapped inside, and no lift or door of that number. "
                f"Give node/ID, or one of: {', '.join(known[:20]) or 'none on this map'}."
            )
        rows |= found
    flags = np.where(rows, network.places.flags | np.uint16(PlaceFlag.HAS_BACKUP), network.places.flags)
    return dataclasses.replace(network, places=dataclasses.replace(network.places, flags=flags))


def _inside(network: Network, name: str) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """(n_places,) whether a place is met on an indoor way of the building called ``name``."""
    building = RoomFinder(network).building_named(name)
    found = np.zeros(len(network.places.kind), bool)
    if building is not None:
        ways = [row for row, owner in building_of_pieces(network).items() if owner == building]
        touch = network.incidence
        found[touch.place[np.isin(network.pieces.way[touch.piece], ways)]] = True
    return found
