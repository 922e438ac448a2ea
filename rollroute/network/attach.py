"""Join places off the mapped ways to the network by straight lines that nobody has checked."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.network.network import Flag, Incidence, Network, Nodes, Pieces
from rollroute.units import M_PER_DEGREE

ON_THE_WAY_M = 1.0  # a place nearer than this is on the way
SNAP_TO_NODE_M = 0.5
SPARE_M = 100.0  # a first look round a place is wider by this than what may be joined


@dataclass(frozen=True, slots=True)
class Joint:
    """Where a place joins the network: on ``piece`` at ``fraction`` from its tail, ``off_m`` away."""

    piece: int
    fraction: float
    off_m: float


def joint_at(network: Network, node: int) -> Joint:
    """The joint of a place that is a node already, such as a room."""
    at_tail = np.flatnonzero(network.pieces.tail == node)
    if len(at_tail):
        return Joint(int(at_tail[0]), 0.0, 0.0)
    return Joint(int(np.flatnonzero(network.pieces.head == node)[0]), 1.0, 0.0)


def nearest_joint(network: Network, lon: float, lat: float, *, limit_m: float, usable: npt.NDArray[np.bool_]) -> Joint:
    """The nearest point of a usable piece.

    Parameters
    ----------
    usable
        (n_pieces,) pieces that may be joined.

    Raises
    ------
    InputError
        If no usable piece lies within ``limit_m``.
    """
    nodes, pieces = network.nodes, network.pieces
    scale = np.array([np.cos(np.radians(lat)) * M_PER_DEGREE, M_PER_DEGREE])
    reach_m = 2 * limit_m + SPARE_M + pieces.length_m  # a long piece may pass near the place though its tail is far away
    east_m, north_m = (nodes.lon[pieces.tail] - lon) * scale[0], (nodes.lat[pieces.tail] - lat) * scale[1]
    near = usable & (np.abs(east_m) < reach_m) & (np.abs(north_m) < reach_m)
    rows = np.flatnonzero(near)
    if not len(rows):
        is_swapped = _is_inside(nodes, lat, lon) and not _is_inside(nodes, lon, lat)
        raise InputError(_too_far(lon, lat, None, limit_m) + (" Latitude comes first: are the two swapped?" if is_swapped else ""))
    here = np.array([lon, lat])
    a = (np.column_stack([nodes.lon[pieces.tail[rows]], nodes.lat[pieces.tail[rows]]]) - here) * scale
    b = (np.column_stack([nodes.lon[pieces.head[rows]], nodes.lat[pieces.head[rows]]]) - here) * scale
    along = b - a
    fraction = np.clip(-(a * along).sum(1) / np.maximum((along**2).sum(1), 1e-12), 0.0, 1.0)
    distance_m = np.hypot(*(a + fraction[:, None] * along).T)
    best = int(np.lexsort((rows, np.round(distance_m, 3)))[0])
    if distance_m[best] > limit_m:
        raise InputError(_too_far(lon, lat, float(distance_m[best]), limit_m))
    return Joint(int(rows[best]), float(fraction[best]), float(distance_m[best]))


def _is_inside(nodes: Nodes, lon: float, lat: float) -> bool:
    """Whether a place lies in the rectangle round all nodes."""
    return bool(nodes.lon.min() <= lon <= nodes.lon.max() and nodes.lat.min() <= lat <= nodes.lat.max())


def _too_far(lon: float, lat: float, distance_m: float | None, limit_m: float) -> str:
    found = "no mapped way is near" if distance_m is None else f"the nearest way is {distance_m:.0f} m off"
    return (
        f"place {lat:.5f},{lon:.5f}: {found}, more than the {limit_m:.0f} m that can be joined. "
        "Give a place nearer to a street, or check that the map covers it."
    )


def attach(network: Network, places: list[tuple[float, float, Joint]]) -> tuple[Network, list[int]]:
    """Return a network with each place as a node, and those node numbers.

    The piece at each joint is split there, which changes neither its facts nor its doubt;
    a place further than ``ON_THE_WAY_M`` gets a piece of its own, flagged ``OFF_MAP``, about which nothing is known.
    """
    numbers = []
    for lon, lat, joint in places:
        found = _split_again(network, lon, lat, joint)
        network, node = split_piece(network, found.piece, found.fraction)
        if joint.off_m > ON_THE_WAY_M:
            network, node = _add_line(network, node, lon, lat, joint)
        numbers.append(node)
    return network, numbers


def _split_again(network: Network, lon: float, lat: float, joint: Joint) -> Joint:
    """Find the joint anew: an earlier place may have split the same piece."""
    usable = (network.pieces.flags & Flag.OFF_MAP) == 0
    usable &= network.pieces.way == network.pieces.way[joint.piece]
    return nearest_joint(network, lon, lat, limit_m=joint.off_m + 1.0, usable=usable)


def split_piece(network: Network, piece: int, fraction: float) -> tuple[Network, int]:
    """Cut ``piece`` in two at ``fraction`` of its length from its tail; returns the node between them.

    The first part keeps the number ``piece``, the second becomes the last piece.
    Places at its head move to the second part. Near an end no cut is made and the end is returned.
    """
    nodes, pieces = network.nodes, network.pieces
    length_m = float(pieces.length_m[piece])
    tail, head = int(pieces.tail[piece]), int(pieces.head[piece])
    if fraction * length_m < SNAP_TO_NODE_M:
        return network, tail
    if (1 - fraction) * length_m < SNAP_TO_NODE_M:
        return network, head
    lon = nodes.lon[tail] + fraction * (nodes.lon[head] - nodes.lon[tail])
    lat = nodes.lat[tail] + fraction * (nodes.lat[head] - nodes.lat[tail])
    height_m = nodes.height_m[tail] + fraction * (nodes.height_m[head] - nodes.height_m[tail])
    between = network.n_nodes
    row = {f.name: getattr(pieces, f.name)[piece] for f in dataclasses.fields(Pieces)}
    second = row | {"tail": between, "length_m": (1 - fraction) * length_m}
    columns = _with_row(pieces, second)
    columns["head"][piece] = between
    columns["length_m"][piece] = fraction * length_m
    moved = (network.incidence.piece == piece) & (network.incidence.at_head == 1)
    incidence = dataclasses.replace(network.incidence, piece=np.where(moved, network.n_pieces, network.incidence.piece).astype(np.int32))
    node_row = {"lon": lon, "lat": lat, "osm_id": 0, "height_m": height_m}
    cut = dataclasses.replace(network, nodes=Nodes(**_with_row(nodes, node_row)), pieces=Pieces(**columns), incidence=incidence)
    return cut, between


def _add_line(network: Network, node: int, lon: float, lat: float, joint: Joint) -> tuple[Network, int]:
    """Add a straight unverified piece from a new node at the place to ``node``."""
    pieces = network.pieces
    place = network.n_nodes
    row: dict[str, Any] = {f.name: _unknown(getattr(pieces, f.name)) for f in dataclasses.fields(Pieces)}
    row |= {
        "tail": place,
        "head": node,
        "way": pieces.way[joint.piece],
        "length_m": joint.off_m,
        "kind": pieces.kind[joint.piece],
        "flags": Flag.OFF_MAP,
        "stretch_m": joint.off_m,
        "grade_window_m": joint.off_m,
    }
    nodes = Nodes(**_with_row(network.nodes, {"lon": lon, "lat": lat, "osm_id": 0, "height_m": np.nan}))
    return dataclasses.replace(network, nodes=nodes, pieces=Pieces(**_with_row(pieces, row))), place


def _unknown(column: npt.NDArray[Any]) -> Any:
    return np.nan if column.dtype.kind == "f" else 0


def _with_row(struct: Nodes | Pieces | Incidence, row: dict[str, Any]) -> dict[str, Any]:
    """The columns of ``struct``, copied, with ``row`` at the end."""
    columns = {}
    for field in dataclasses.fields(struct):
        column = getattr(struct, field.name)
        columns[field.name] = np.append(column, np.array([row[field.name]]).astype(column.dtype))
    return columns
