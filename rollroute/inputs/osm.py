"""Read an OpenStreetMap file into a ``MapExtract``: ways with their nodes, tagged nodes, areas for the picture, addresses.

Reads ``.osm``, ``.osm.gz``, ``.osm.bz2`` and ``.osm.pbf`` through osmium.
Nothing is interpreted here beyond choosing what to keep; tags stay as they are tagged.
"""

from __future__ import annotations

import datetime as dt
import logging
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError

log = logging.getLogger(__name__)

Tags = dict[str, str]
Ring = npt.NDArray[np.float64]  # (n_points, 2) lon, lat; first point = last point

NO_COORDINATE = 2**31 - 1  # what osmium stores for a node that is not in the file
COORDINATES_PER_DEGREE = 1e7  # OSM keeps seven decimals; osmium hands them out as integers, which is quicker than asking for degrees
ROUTED_KEYS = ("highway", "indoor", "railway", "public_transport", "barrier")
AREA_KEYS = ("building", "building:part", "natural", "waterway", "leisure", "landuse", "water")
GREEN = {"park", "garden", "pitch", "grass", "meadow", "recreation_ground", "wood", "forest", "village_green", "playground", "cemetery"}
LANDMARK_KEYS = ("shop", "amenity", "tourism", "historic", "man_made", "highway", "leisure", "natural")
LANDMARK_VALUES = {"bus_stop", "bench", "post_box", "fountain", "tree", "tower", "mast", "monument", "memorial", "drinking_water"}


@dataclass(slots=True)
class RawWay:
    """One OSM way: its id, tags, node ids and node places (degrees)."""

    way_id: int
    tags: Tags
    node_ids: list[int]
    lons: list[float]
    lats: list[float]

    @property
    def is_closed(self) -> bool:
        """Whether the way ends where it began."""
        return len(self.node_ids) > 3 and self.node_ids[0] == self.node_ids[-1]


@dataclass(frozen=True, slots=True)
class Address:
    """A street and house number and where it stands."""

    street: str
    number: str
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class Landmark:
    """Something with a name, or plain to see, that helps somebody find the way."""

    kind: str
    name: str | None
    lon: float
    lat: float


@dataclass(slots=True)
class MapExtract:
    """What an OSM file says about ways, places on them, and the picture around them.

    ``ways`` are candidates for the network (highways, indoor elements, kerbs and barriers drawn as lines).
    ``node_tags`` holds tagged nodes only.
    ``areas`` are outer rings by class (``building``, ``water``, ``green``, ``room``); ``waterways`` are lines.
    ``map_date`` is the newest date that the file states, or ``None``.
    """

    source: str
    ways: list[RawWay] = field(default_factory=list)
    node_tags: dict[int, Tags] = field(default_factory=dict)
    node_places: dict[int, tuple[float, float]] = field(default_factory=dict)
    areas: dict[str, list[Ring]] = field(default_factory=lambda: {"building": [], "water": [], "green": []})
    area_names: list[tuple[str, Tags, Ring]] = field(default_factory=list)
    waterways: list[Ring] = field(default_factory=list)
    addresses: list[Address] = field(default_factory=list)
    landmarks: list[Landmark] = field(default_factory=list)
    map_date: str | None = None
    n_incomplete_ways: int = 0


def read_map(path: Path) -> MapExtract:
    """Read ``path`` into a ``MapExtract``.

    Raises
    ------
    InputError
        If the file is missing, is not OpenStreetMap data, or holds no way that anybody could travel.
    """
    if not path.is_file():
        raise InputError(f"{path}: no such map file. Give an OpenStreetMap file (.osm, .osm.gz, .osm.bz2 or .osm.pbf).")
    extract = MapExtract(source=path.name)
    try:
        _read_objects(path, extract)
    except (RuntimeError, OSError, ValueError) as error:
        advice = "Give a .osm, .osm.gz, .osm.bz2 or .osm.pbf file."
        raise InputError(f"{path}: not readable as OpenStreetMap data ({error}). {advice}") from error
    if not any("highway" in way.tags or "indoor" in way.tags for way in extract.ways):
        raise InputError(f"{path}: holds no street or path at all. Check that the extract covers the town and was not filtered.")
    return extract


def _header_date(header: Any) -> str | None:
    """The replication date of the file, if its header states one."""
    for key in ("osmosis_replication_timestamp", "timestamp"):
        text = header.get(key, "")
        if text:
            return str(text)[:10]
    return None


def _read_objects(path: Path, extract: MapExtract) -> None:
    """Fill nodes, ways and multipolygon areas in one pass over the objects (osmium reads relations once before it)."""
    import osmium

    wanted = osmium.filter.KeyFilter(*AREA_KEYS)
    objects = osmium.FileProcessor(str(path)).with_locations().with_areas(wanted)
    newest: dt.datetime | None = None
    for item in objects.with_filter(osmium.filter.EmptyTagFilter()):
        if isinstance(item, osmium.osm.Node):
            _take_node(item, extract)
        elif isinstance(item, osmium.osm.Way):
            _take_way(item, extract)
            stamp = item.timestamp
            newest = stamp if stamp.year > 1970 and (newest is None or stamp > newest) else newest
        elif isinstance(item, osmium.osm.Area) and not item.from_way():
            _take_multipolygon(item, extract)
    extract.map_date = _header_date(objects.header) or (None if newest is None else newest.date().isoformat())


def _take_multipolygon(area: Any, extract: MapExtract) -> None:
    """An area that is drawn as a relation; areas of single ways are taken with the ways."""
    tags = dict(area.tags)
    for outer in area.outer_rings():
        _take_ring(tags, np.array([(ref.lon, ref.lat) for ref in outer]), extract)


def _take_node(node: Any, extract: MapExtract) -> None:
    tags = dict(node.tags)
    lon, lat = node.location.lon, node.location.lat
    extract.node_tags[node.id] = tags
    extract.node_places[node.id] = (lon, lat)
    _take_address(tags, lon, lat, extract)
    landmark = landmark_of(tags, lon, lat)
    if landmark is not None:
        extract.landmarks.append(landmark)


def _take_way(item: Any, extract: MapExtract) -> None:
    tags = dict(item.tags)
    is_routed = any(key in tags for key in ROUTED_KEYS)
    is_area = any(key in tags for key in AREA_KEYS)
    if not is_routed and not is_area and "addr:housenumber" not in tags:
        return
    ids: list[int] = []
    lons: list[float] = []
    lats: list[float] = []
    n_refs = 0
    for ref in item.nodes:
        n_refs += 1
        place = ref.location
        x = place.x
        if x != NO_COORDINATE:
            ids.append(ref.ref)
            lons.append(x / COORDINATES_PER_DEGREE)
            lats.append(place.y / COORDINATES_PER_DEGREE)
    if n_refs != len(ids):
        extract.n_incomplete_ways += 1  # cut off at the edge of the extract
    if len(ids) < 2:
        return
    way = RawWay(item.id, tags, ids, lons, lats)
    if is_routed:
        extract.ways.append(way)
    if is_area:
        _take_area_way(way, extract)
    if "addr:housenumber" in tags:
        _take_address(tags, float(np.mean(lons[:-1] or lons)), float(np.mean(lats[:-1] or lats)), extract)


def _take_area_way(way: RawWay, extract: MapExtract) -> None:
    line = np.column_stack([way.lons, way.lats])
    if way.is_closed:
        _take_ring(way.tags, line, extract)
    elif "waterway" in way.tags:
        extract.waterways.append(line)


def _take_ring(tags: Tags, ring: Ring, extract: MapExtract) -> None:
    kind = area_class(tags)
    if kind is not None:
        extract.areas[kind].append(ring)
        if kind == "building" and ("name" in tags or "amenity" in tags):
            extract.area_names.append((kind, tags, ring))


def area_class(tags: Tags) -> str | None:
    """``building``, ``water``, ``green`` or ``None``, from an area's tags."""
    if tags.get("building", "no") != "no":
        return "building"
    if tags.get("natural") == "water" or "water" in tags or tags.get("waterway") == "riverbank":
        return "water"
    if tags.get("leisure") in GREEN or tags.get("landuse") in GREEN or tags.get("natural") in GREEN:
        return "green"
    return None


def _take_address(tags: Tags, lon: float, lat: float, extract: MapExtract) -> None:
    number = tags.get("addr:housenumber")
    street = tags.get("addr:street") or tags.get("addr:place")
    if number and street:
        extract.addresses.append(Address(street, number, lon, lat))


def landmark_of(tags: Tags, lon: float, lat: float) -> Landmark | None:
    """A landmark if the node is something that a person on the street can see or ask for."""
    for key in LANDMARK_KEYS:
        value = tags.get(key)
        if value is None or value == "no":
            continue
        if value in LANDMARK_VALUES or (key in ("shop", "amenity", "tourism", "historic") and "name" in tags):
            return Landmark(value, tags.get("name"), lon, lat)
    return None
