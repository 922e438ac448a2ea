"""The picture that a network carries: buildings, water, green, streets and rooms as lines with names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from rollroute.inputs.osm import MapExtract, RawWay
from rollroute.network.facts.ways import WayFacts
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind
from rollroute.network.network import Lines

_ALSO_ROADS = {"motorway", "motorway_link"}


def pack_texts(texts: Sequence[str]) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.int64]]:
    """Texts as one UTF-8 buffer and the (n + 1,) offsets of its rows."""
    encoded = [text.encode() for text in texts]
    offsets = np.zeros(len(encoded) + 1, np.int64)
    np.cumsum([len(e) for e in encoded], out=offsets[1:])
    return np.frombuffer(b"".join(encoded), np.uint8), offsets


def pack_lines(lines: Iterable[tuple[int, npt.NDArray[np.float64]]]) -> Lines:
    """Lines from (label row or −1, (n, 2) points)."""
    rows = list(lines)
    offsets = np.zeros(len(rows) + 1, np.int64)
    np.cumsum([len(points) for _, points in rows], out=offsets[1:])
    points = np.concatenate([points for _, points in rows]) if rows else np.empty((0, 2))
    return Lines(points=points, offsets=offsets, label=np.array([label for label, _ in rows], np.int32))


def backdrop_of(extract: MapExtract, ways: list[RawWay], facts: list[WayFacts], labels: dict[str, int]) -> dict[str, Lines]:
    """All classes of the picture. ``labels`` collects names; its order gives their rows."""

    def label(name: str | None) -> int:
        return -1 if not name else labels.setdefault(name, len(labels))

    roads: list[tuple[int, npt.NDArray[np.float64]]] = []
    paths: list[tuple[int, npt.NDArray[np.float64]]] = []
    for way, fact in zip(ways, facts, strict=True):
        if fact.kind is WayKind.CORRIDOR:
            continue
        target = roads if fact.kind in CARRIAGEWAY_KINDS else paths
        target.append((label(way.tags.get("name")), np.column_stack([way.lons, way.lats])))
    motorways = [way for way in extract.ways if way.tags.get("highway") in _ALSO_ROADS]
    roads += [(label(way.tags.get("name")), np.column_stack([way.lons, way.lats])) for way in motorways]
    rooms = [
        (label(_room_label(way)), np.column_stack([way.lons, way.lats]))
        for way in extract.ways
        if way.is_closed and way.tags.get("indoor") in ("room", "corridor", "area")
    ]
    return {
        "building": pack_lines((-1, ring) for ring in extract.areas["building"]),
        "water": pack_lines((-1, ring) for ring in extract.areas["water"]),
        "green": pack_lines((-1, ring) for ring in extract.areas["green"]),
        "waterway": pack_lines((-1, line) for line in extract.waterways),
        "road": pack_lines(roads),
        "path": pack_lines(paths),
        "room": pack_lines(rooms),
    }


def _room_label(way: RawWay) -> str:
    """``level|name``: rooms keep their level in their label."""
    return f"{way.tags.get('level', '0')}|{way.tags.get('name') or way.tags.get('ref') or ''}"
