"""The ``Network``: pieces of way between nodes, with ranked facts, and the places on them.

A **piece** runs straight between two nodes and is travelled in both directions:
directed edge ``2 p`` goes from ``tail[p]`` to ``head[p]``, edge ``2 p + 1`` goes back, so the edge back over ``e`` is ``e ^ 1``.
Pieces are no longer than the window in which a grade can be told, so one grade holds for all of a piece.

A **place** is a kerb, barrier, door, lift or entrance.
It touches pieces through the incidence table: entry ``i`` says that place ``incidence.place[i]`` is met on piece ``incidence.piece[i]``,
with ``share`` of it (a place at a node where several ways meet is shared out, half on the way in and half on the way out)
and ``rises`` = +1 where travelling tail to head goes **up** it, −1 where down, 0 where the map does not tell.

Facts have a value and a rank (``rollroute.network.ranks.Rank``). A missing number is NaN, a missing word is code 0. Neither means "none".
"""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.network.storage import read_arrays, write_arrays

Floats = npt.NDArray[np.floating[Any]]
Ints = npt.NDArray[np.integer[Any]]
FORMAT_VERSION = 4


class Flag:
    """Bits of ``Pieces.flags``."""

    BRIDGE = 1
    TUNNEL = 2  # also a passage through a building
    INDOOR = 4
    STREET_SIDEWALK = 8  # a street drawn as one line whose tags say that it has a sidewalk
    NO_SIDEWALK = 16  # a street whose tags say that it has none
    LIT = 32
    UNLIT = 64
    CONSTRUCTION = 128
    CROSSES_SIGNALS = 256
    FORWARD_ONLY = 512  # on foot too
    BACKWARD_ONLY = 1024
    OVER_AREA = 2048  # a line across a square or a room, drawn by us
    STEPS_RAMP = 4096  # steps whose tags promise a wheelchair ramp
    OFF_MAP = 8192  # a straight line from a place off the mapped ways
    LINK = 32768  # a line of ours that joins a sidewalk across a change of mapping
    CONDITIONAL = 16384  # open or closed by a rule with a time in it
    PORTABLE_RAMP = 65536  # steps for which the map promises a ramp that somebody lays out
    UNDERPASS = 131072  # outdoors, below ground: fills with water where pumps stand still
    BLOCKED = 262144  # somebody found it blocked
    ISLAND = 1048576  # a traffic island in the middle of a road
    NARROW_SHORT = 524288  # the width is that of one narrow spot no longer than a pinch point


@dataclass(frozen=True, slots=True)
class Nodes:
    """(n_nodes,) arrays."""

    lon: Floats  # degrees, float64
    lat: Floats
    osm_id: Ints  # int64; 0 for nodes that we made
    height_m: Floats  # float32, NaN where no raster tells


@dataclass(frozen=True, slots=True)
class Pieces:
    """(n_pieces,) arrays; grades are seen from tail to head."""

    tail: Ints  # int32 node numbers
    head: Ints
    way: Ints  # int32 row in ``Ways``
    length_m: Floats  # float64, geodesic, > 0
    kind: Ints  # uint8, ``WayKind``
    flags: Ints  # uint32, ``Flag``
    width_m: Floats  # float32, NaN unknown
    width_rank: Ints  # uint8, ``Rank``
    surface: Ints  # uint8, ``Surface``, 0 unknown
    surface_rank: Ints
    smoothness: Ints  # uint8, ``Smoothness``, 0 unknown
    grade: Floats  # float32, rise over run, NaN unknown
    grade_sd: Floats  # float32, 0 where tagged with a number, NaN where unknown
    grade_rank: Ints
    grade_rise: Floats  # float32, expected rise per metre tail to head, E[max(grade, 0)]; less ``grade`` it is the fall; NaN unknown
    grade_steepest: Floats  # float32, the grade at the place of the piece that is likeliest over 1:12
    grade_measured: Floats  # float32, what the raster says there, before the town's own grades are weighed in; NaN where tagged
    grade_measured_sd: Floats  # float32
    grade_inner: Floats  # float32, see ``GradePosterior.inner``
    grade_window_m: Floats  # float32, the length of way that the grade was read from; NaN where tagged or unknown
    cross_slope: Floats  # float32, NaN unknown
    level: Floats  # float32; NaN outdoors where the map names no level
    speed_kmh: Floats  # float32, posted speed of a road, NaN unknown
    lanes: Ints  # uint8, 0 unknown
    access: Ints  # uint8, ``rollroute.network.tags.Access``
    wheelchair: Ints  # uint8, 0 unknown, 1 yes, 2 limited, 3 no
    mass_limit_kg: Floats  # float32, NaN no limit known
    stretch_m: Floats  # float32, length of the way that the piece is part of: a missing fact of the way is one question, shared out


@dataclass(frozen=True, slots=True)
class Places:
    """(n_places,) arrays."""

    kind: Ints  # uint8, ``PlaceKind``
    lon: Floats
    lat: Floats
    osm_id: Ints  # int64: node id, or 0 for a place that we infer
    word: Ints  # uint8, kind-specific word code (``KerbWord``, ``BarrierKind``, ``DoorKind``), 0 unknown
    height_m: Floats  # float32: kerb or threshold; NaN unknown
    height_rank: Ints
    width_m: Floats  # float32: opening of a barrier, door or lift; NaN unknown
    width_rank: Ints
    length_m: Floats  # float32: depth of a lift car; NaN unknown
    mass_limit_kg: Floats  # float32: load of a lift; NaN unknown
    ramp_grade: Floats  # float32: running slope of the ramp at a kerb, no sign; NaN unknown
    counter_slope: Floats  # float32: slope of gutter or road against that ramp, no sign; NaN unknown
    access: Ints  # uint8, ``Access``: who may pass a gate or door
    flags: Ints  # uint16, ``PlaceFlag``
    doubt: Ints  # uint8, row of ``data/doubts.toml``


@dataclass(frozen=True, slots=True)
class Incidence:
    """(n_entries,) arrays."""

    piece: Ints  # int32
    place: Ints  # int32
    share: Floats  # float32, 0 .. 1
    rises: Ints  # int8
    at_head: Ints  # uint8, 1 where the place is at the head of the piece, 0 at its tail


@dataclass(frozen=True, slots=True)
class Ways:
    """One row per way: its OSM id, name and tags. Texts are UTF-8 in one buffer each, row ``i`` at ``offsets[i]:offsets[i+1]``."""

    osm_id: Ints  # int64
    name_bytes: npt.NDArray[np.uint8]
    name_offsets: Ints
    tags_bytes: npt.NDArray[np.uint8]
    tags_offsets: Ints

    def name(self, row: int) -> str | None:
        """The name of a way, or ``None``."""
        text = bytes(self.name_bytes[self.name_offsets[row] : self.name_offsets[row + 1]]).decode()
        return text or None

    def tags(self, row: int) -> dict[str, str]:
        """The tags of a way as mapped."""
        text = bytes(self.tags_bytes[self.tags_offsets[row] : self.tags_offsets[row + 1]]).decode()
        return dict(json.loads(text)) if text else {}


@dataclass(frozen=True, slots=True)
class Lines:
    """Many lines or rings in one array: line ``i`` is ``points[offsets[i]:offsets[i+1]]`` (lon, lat)."""

    points: Floats  # (n_points, 2) float64
    offsets: Ints  # (n_lines + 1,) int64
    label: Ints  # (n_lines,) int32, row of ``Network.labels`` or -1


@dataclass(frozen=True)
class Network:
    """Everything that the map says about the ways of a town, and how well it says it."""

    nodes: Nodes
    pieces: Pieces
    places: Places
    incidence: Incidence
    ways: Ways
    backdrop: dict[str, Lines]  # building, water, green, waterway, road, path, room
    about: dict[str, Any]  # map_date, sources, warnings, report, addresses, landmarks, labels, grade prior

    @property
    def n_nodes(self) -> int:
        """Number of nodes."""
        return len(self.nodes.lon)

    @property
    def n_pieces(self) -> int:
        """Number of pieces; there are twice as many directed edges."""
        return len(self.pieces.tail)

    @cached_property
    def edge_tail(self) -> npt.NDArray[np.int32]:
        """(2 n_pieces,) tail of every directed edge."""
        return _interleave(self.pieces.tail, self.pieces.head).astype(np.int32, copy=False)

    @cached_property
    def edge_head(self) -> npt.NDArray[np.int32]:
        """(2 n_pieces,) head of every directed edge."""
        return _interleave(self.pieces.head, self.pieces.tail).astype(np.int32, copy=False)

    @cached_property
    def incidence_of_piece(self) -> tuple[Ints, Ints]:
        """``(offsets, entries)``: the incidence entries of piece ``p`` are ``entries[offsets[p]:offsets[p+1]]``."""
        order = np.argsort(self.incidence.piece, kind="stable")
        offsets = np.searchsorted(self.incidence.piece[order], np.arange(self.n_pieces + 1))
        return offsets, order

    @cached_property
    def chances_over_limit(self) -> dict[float, tuple[Floats, Floats]]:
        """What ``rollroute.weights.piece_rules.grade_doubt`` found for a limit: it depends on nothing else, and most chairs share one."""
        return {}

    @cached_property
    def passages_known(self) -> dict[Any, tuple[Any, ...]]:
        """What ``rollroute.weights.passages`` found for tracks and a day: it depends on nothing else."""
        return {}

    @cached_property
    def long_runs(self) -> dict[str, tuple[npt.NDArray[np.bool_], npt.NDArray[np.float64]]]:
        """What ``rollroute.weights.run_rules`` found for a preset, by its name: it depends on nothing else."""
        return {}

    def node_place(self, node: int) -> tuple[float, float]:
        """``(lon, lat)`` of a node."""
        return float(self.nodes.lon[node]), float(self.nodes.lat[node])

    def save(self, path: Path) -> None:
        """Write one file; a failed write leaves an earlier file as it was."""
        arrays: dict[str, npt.NDArray[Any]] = {}
        for part in ("nodes", "pieces", "places", "incidence", "ways"):
            for field in dataclasses.fields(getattr(self, part)):
                arrays[f"{part}.{field.name}"] = getattr(getattr(self, part), field.name)
        for name, lines in self.backdrop.items():
            arrays.update({f"backdrop.{name}.{f.name}": getattr(lines, f.name) for f in dataclasses.fields(Lines)})
        about = json.dumps({"version": FORMAT_VERSION, **self.about}, ensure_ascii=False, separators=(",", ":")).encode()
        arrays["about"] = np.frombuffer(about, np.uint8)
        write_arrays(path, arrays)

    @classmethod
    def load(cls, path: Path) -> Network:
        """Open a saved network; arrays are mapped from the file, not read.

        Raises
        ------
        InputError
            If the file is missing, damaged, or of another version.
        """
        arrays, about = read_arrays(path, version=FORMAT_VERSION)

        def part(kind: type[Any], prefix: str) -> Any:
            return kind(**{f.name: arrays[f"{prefix}.{f.name}"] for f in dataclasses.fields(kind)})

        names = sorted({key.split(".")[1] for key in arrays if key.startswith("backdrop.")})
        return cls(
            nodes=part(Nodes, "nodes"),
            pieces=part(Pieces, "pieces"),
            places=part(Places, "places"),
            incidence=part(Incidence, "incidence"),
            ways=part(Ways, "ways"),
            backdrop={name: part(Lines, f"backdrop.{name}") for name in names},
            about=about,
        )


def _interleave(first: Ints, second: Ints) -> Ints:
    both = np.empty(2 * len(first), first.dtype)
    both[0::2], both[1::2] = first, second
    return both
