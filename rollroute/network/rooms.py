"""Rooms and levels of buildings: which building an indoor way belongs to, and where a room is reached.

OSM wiki, Simple Indoor Tagging: a room, corridor or area is a closed way with ``indoor=*`` and ``level=*`` inside its building's outline.
A room is written ``building:room``, a level ``building:level 1``, a room whose name several levels have ``building:room:level 1``.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.osm import MapExtract, RawWay
from rollroute.network.areas import inside_id
from rollroute.network.gazetteer import plain
from rollroute.network.tags import read_levels
from rollroute.units import M_PER_DEGREE

if TYPE_CHECKING:
    from rollroute.network.network import Network

SPACES = ("room", "corridor", "area")
NEAR_BUILDING_M = 5.0  # assumption: an entrance lies on the outline of its building, or this near to it
SHORTEST = 3  # letters of a name that are enough to mean it
LEVEL_WORDS = re.compile(r"\s*(?:level|nivel)\s*([+-]?\d+(?:\.\d+)?)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Room:
    """A room, corridor or area on one level.

    ``node``: where it is reached; ``None`` where the map shows no way in. ``row``: its ring in ``Network.backdrop["room"]``.
    """

    building: int
    level: float
    name: str
    kind: str
    node: int | None
    lon: float
    lat: float
    area_m2: float
    row: int


@dataclass(frozen=True, slots=True)
class Building:
    """A building with something mapped inside. ``row``: its ring in ``Network.backdrop["building"]``."""

    name: str | None
    row: int


def indoor_table(extract: MapExtract, node_ids: set[int]) -> dict[str, Any]:
    """What a network remembers of the insides of buildings, as plain lists.

    ``buildings``: [name, ring]; ``rooms``: [building, level, name, kind, way, node, lon, lat, m², ring]; ``ways``: {way: building}.
    ``node_ids`` are the nodes of the network: a room that no way reaches has none.
    """
    ways = [w for w in extract.ways if w.tags.get("indoor", "no") != "no" or w.tags.get("highway") in ("corridor", "elevator")]
    if not ways:
        return {"buildings": [], "rooms": [], "ways": {}}
    owners = _owners(extract, ways)
    rings = sorted({ring for ring in owners if ring >= 0})
    number = {ring: i for i, ring in enumerate(rings)} | {-1: -1}
    names = {id(ring): tags.get("name") for kind, tags, ring in extract.area_names if kind == "building"}
    spaces = [(way, number[ring]) for way, ring in zip(ways, owners, strict=True) if way.is_closed and way.tags.get("indoor") in SPACES]
    rooms = [[*cells, row] for row, (way, building) in enumerate(spaces) for cells in _room_rows(way, building, node_ids)]
    return {
        "buildings": [[names.get(id(extract.areas["building"][ring])), ring] for ring in rings],
        "rooms": rooms,
        "ways": {str(way.way_id): number[ring] for way, ring in zip(ways, owners, strict=True) if ring >= 0},
    }


def _owners(extract: MapExtract, ways: list[RawWay]) -> list[int]:
    """For every way the building ring that its middle lies in, the smallest of several; −1 where there is none."""
    from shapely import Point, Polygon, STRtree

    shapes = [Polygon(ring) if len(ring) > 3 else Polygon() for ring in extract.areas["building"]]
    middles = [Point(sum(w.lons) / len(w.lons), sum(w.lats) / len(w.lats)) for w in ways]
    owners = [-1] * len(ways)
    for way, shape in zip(*STRtree(shapes).query(middles, predicate="intersects"), strict=True):
        if owners[way] < 0 or shapes[shape].area < shapes[owners[way]].area:
            owners[way] = int(shape)
    return owners


def _room_rows(way: RawWay, building: int, node_ids: set[int]) -> Iterator[list[Any]]:
    from shapely import Polygon

    shape = Polygon(zip(way.lons, way.lats, strict=True))
    area_m2 = shape.area * M_PER_DEGREE**2 * float(np.cos(np.radians(way.lats[0])))
    node = inside_id(way.way_id) if inside_id(way.way_id) in node_ids else 0
    name = way.tags.get("name") or way.tags.get("ref") or ""
    for level in read_levels(way.tags).value or (0.0,):
        middle = shape.centroid
        yield [building, level, name, way.tags["indoor"], way.way_id, node, round(middle.x, 7), round(middle.y, 7), round(area_m2, 1)]


def buildings_of(network: Network) -> list[Building]:
    """Buildings with something mapped inside."""
    return [Building(name, int(row)) for name, row in network.about.get("indoor", {}).get("buildings", [])]


def rooms_of(network: Network) -> list[Room]:
    """Every room of every building, level by level."""
    rows = network.about.get("indoor", {}).get("rooms", [])
    wanted = {int(row[5]) for row in rows if row[5]}
    ids = network.nodes.osm_id
    at = {int(ids[n]): int(n) for n in np.flatnonzero(ids < 0) if int(ids[n]) in wanted}
    return [Room(int(r[0]), float(r[1]), r[2], r[3], at.get(int(r[5])), float(r[6]), float(r[7]), float(r[8]), int(r[9])) for r in rows]


def building_of_pieces(network: Network) -> dict[int, int]:
    """Building by row of ``Network.ways``, for indoor ways."""
    owners = network.about.get("indoor", {}).get("ways", {})
    if not owners:
        return {}
    found = np.isin(network.ways.osm_id, np.array([int(i) for i in owners], np.int64))
    return {int(row): int(owners[str(int(network.ways.osm_id[row]))]) for row in np.flatnonzero(found)}


class RoomFinder:
    """Finds rooms by what people call them."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.buildings = buildings_of(network)
        self.rooms = rooms_of(network)

    def building_named(self, name: str) -> int | None:
        """The building that the map calls so; ``None`` where none or several are called so."""
        fits = [i for i, b in enumerate(self.buildings) if b.name and plain(b.name) == plain(name)]
        return fits[0] if len(fits) == 1 else None

    def building_at(self, lon: float, lat: float) -> int | None:
        """The building around a position, or whose outline is within ``NEAR_BUILDING_M`` of it."""
        from shapely import Point, Polygon

        squeeze = np.array([np.cos(np.radians(lat)), 1.0]) * M_PER_DEGREE
        here = Point(0.0, 0.0)
        lines = self.network.backdrop["building"]
        away = {}
        for i, building in enumerate(self.buildings):
            ring = np.asarray(lines.points[lines.offsets[building.row] : lines.offsets[building.row + 1]])
            away[i] = Polygon((ring - [lon, lat]) * squeeze).distance(here)
        best = min(away, key=lambda i: away[i], default=None)
        return best if best is not None and away[best] <= NEAR_BUILDING_M else None

    def find(self, text: str, building: int | None, label: str, words: Iterable[str]) -> Room:
        """The room that ``words`` (a name, a level, or both) mean in a building; for a level, its largest corridor or hall.

        Raises
        ------
        InputError
            Where no room fits, several do, or the map shows no way into it; with the rooms that are known.
        """
        here = [r for r in self.rooms if building is not None and r.building == building]
        if not here:
            raise InputError(f"place {text!r}: the map shows no rooms of {label}. Give {label!r} alone: the way then ends at its entrance.")
        fits, names = here, []
        for word in words:
            match = LEVEL_WORDS.fullmatch(word)
            if match:
                fits = [r for r in fits if r.level == float(match[1])]
            else:
                names.append(plain(word))
        room = self._named(text, label, fits, names[-1]) if names else self._largest(fits)
        if room is None:
            raise InputError(f"place {text!r}: {label} has no such {'room' if names else 'level'}. {_known(here, names)}")
        if room.node is None:
            raise InputError(f"place {text!r}: the map shows no door or way into that room. {_known(here, [])}")
        return room

    @staticmethod
    def _named(text: str, label: str, fits: list[Room], name: str) -> Room | None:
        """By the whole name, else by its beginning, else by whole words in it."""
        exact = [r for r in fits if plain(r.name) == name]
        begins = [r for r in fits if len(name) >= SHORTEST and plain(r.name).startswith(name)]
        within = [r for r in fits if len(name) >= SHORTEST and f" {name} " in f" {plain(r.name)} "]
        found = exact or begins or within
        if len(found) > 1:
            both = ", ".join(f"{label}:{r.name}:level {r.level:g}" for r in found)
            raise InputError(f"place {text!r}: fits {both}. Give more of the name, or the level too.")
        return found[0] if found else None

    @staticmethod
    def _largest(fits: list[Room]) -> Room | None:
        """Of a level its largest corridor or hall, else its largest room: where somebody arrives."""
        return max(fits, key=lambda r: (r.node is not None, r.kind != "room", r.area_m2), default=None)


def _known(rooms: list[Room], names: list[str]) -> str:
    """The rooms of a building level by level, and the nearest spelling."""
    levels = sorted({r.level for r in rooms})
    named = {level: sorted({r.name for r in rooms if r.level == level and r.name}) for level in levels}
    lists = [f"level {level:g}: {', '.join(named[level]) or 'no names'}" for level in levels]
    spelt = {plain(r.name): r.name for r in rooms if r.name}
    near = difflib.get_close_matches(names[-1], spelt, n=1, cutoff=0.6) if names else []
    hint = f" Did you mean {spelt[near[0]]}?" if near else ""
    return f"The map has {'; '.join(lists)}.{hint}"
