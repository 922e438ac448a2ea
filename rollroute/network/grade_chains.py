"""Lay the ways of one street end to end, so that its grade is fitted across the places where mappers cut it.

A way of a few metres between two changes of tags is too short to tell a grade from: the noise of the heights hides it.
Where it goes on straight into another way of the same kind and name, both are one line on the ground, and short pieces borrow from
their neighbours on the same street. Bridges, tunnels, passages and floors run straight between their own ends and are never joined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from rollroute.network.assemble import Skeleton
from rollroute.network.facts.ways import WayFacts
from rollroute.network.grades import WayGrades, WayProfileInput

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
STRAIGHT_ON_COS = 0.7  # assumption: a street that turns by more than about 45 degrees is taken as two
START, END = 0, 1


@dataclass(frozen=True, slots=True)
class Laid:
    """Ways in the order of their chains: ``way[i]`` belongs to chain ``chain[i]``, begins ``offset_m[i]`` along it, drawn back where so."""

    way: Ints
    chain: Ints
    is_back: npt.NDArray[np.bool_]
    offset_m: Floats


def lay_ways(skeleton: Skeleton, facts: Sequence[WayFacts], names: Sequence[str | None]) -> Laid:
    """Chains of all ways that have pieces; the same whatever the direction in which a way was drawn."""
    rows, first = np.unique(skeleton.way, return_index=True)
    last = np.append(first[1:], len(skeleton.way)) - 1
    link = _links(skeleton, rows, first, last, [(facts[w].kind, names[w]) if not facts[w].is_straight else None for w in rows])
    place = np.stack([skeleton.node_lon, skeleton.node_lat], axis=1)
    ends = np.stack([place[skeleton.tail[first]], place[skeleton.head[last]]], axis=1)  # (ways, 2 sides, lon and lat)
    chains = [_from_west(chain, ends) for chain in _chains(link)]
    at = np.array([i for chain in chains for i, _ in chain], np.int64)
    is_back = np.array([back for chain in chains for _, back in chain], bool)
    count = np.array([len(chain) for chain in chains], np.int64)
    length_m = skeleton.way_length_m[rows[at]]
    total = np.cumsum(length_m) - length_m
    offset_m = total - np.repeat(total[np.cumsum(count) - count], count)
    return Laid(rows[at], np.repeat(np.arange(len(chains)), count), is_back, offset_m)


def _chains(link: Ints) -> list[list[tuple[int, bool]]]:
    """Ways that follow each other, and whether each is met from its end; rings begin anywhere."""
    chains: list[list[tuple[int, bool]]] = []
    seen = np.zeros(len(link), bool)
    free = np.flatnonzero((link < 0).any(axis=1))
    for i in [*free.tolist(), *range(len(link))]:  # those with a free end first; what is left runs in a ring
        if seen[i]:
            continue
        side = START if link[i, START] < 0 else END if link[i, END] < 0 else START
        chain: list[tuple[int, bool]] = []
        beyond = 2 * i + side
        while beyond >= 0 and not seen[beyond // 2]:
            way, side = divmod(beyond, 2)
            seen[way] = True
            chain.append((way, side == END))
            beyond = int(link[way, 1 - side])
        chains.append(chain)
    return chains


def _from_west(chain: list[tuple[int, bool]], ends: Floats) -> list[tuple[int, bool]]:
    """The chain so that it begins at its western end, however its ways were drawn."""
    (first, first_back), (last, last_back) = chain[0], chain[-1]
    begin, end = ends[first, END if first_back else START], ends[last, START if last_back else END]
    if tuple(begin) <= tuple(end):
        return chain
    return [(way, not back) for way, back in reversed(chain)]


def _links(skeleton: Skeleton, rows: Ints, first: Ints, last: Ints, likeness: list[object]) -> Ints:
    """(n, 2) for both ends of every way the end ``2 way + side`` that it goes on into; −1 none. Of several the straightest."""
    link = np.full((len(rows), 2), -1, np.int64)
    node = np.stack([skeleton.tail[first], skeleton.head[last]], axis=1)
    out = np.stack([_heading(skeleton, first, outward=False), _heading(skeleton, last, outward=True)], axis=1)
    flat = node.ravel()
    order = np.argsort(flat, kind="stable")
    starts = np.flatnonzero(np.diff(flat[order], prepend=-1))
    for group in np.split(order, starts[1:]):
        if len(group) < 2:
            continue
        pairs = []
        for k, one in enumerate(group):
            for other in group[k + 1 :]:
                like = likeness[one // 2]
                straight = -float(out[one // 2, one % 2] @ out[other // 2, other % 2])
                if like is not None and like == likeness[other // 2] and one // 2 != other // 2 and straight >= STRAIGHT_ON_COS:
                    pairs.append((-straight, int(one), int(other)))
        for _, one, other in sorted(pairs):
            if link[one // 2, one % 2] < 0 and link[other // 2, other % 2] < 0:
                link[one // 2, one % 2], link[other // 2, other % 2] = other, one
    return link


def _heading(skeleton: Skeleton, piece: Ints, *, outward: bool) -> Floats:
    """(n, 2) unit vectors that point out of a way at its end: along its last piece, or against its first."""
    tail, head = skeleton.tail[piece], skeleton.head[piece]
    north = skeleton.node_lat[head] - skeleton.node_lat[tail]
    east = (skeleton.node_lon[head] - skeleton.node_lon[tail]) * np.cos(np.radians(skeleton.node_lat[tail]))
    vector = np.stack([east, north], axis=1) * (1.0 if outward else -1.0)
    return np.asarray(vector / np.maximum(np.hypot(east, north), 1e-12)[:, None])


def profile_of(skeleton: Skeleton, facts: Sequence[WayFacts], laid: Laid) -> WayProfileInput:
    """What ``measure_grades`` asks for: the vertices of every chain, and where the pieces lie on it."""
    rows, first = np.unique(skeleton.way, return_index=True)
    count = np.diff(np.append(first, len(skeleton.way)))
    row = np.searchsorted(rows, laid.way)  # position of each laid way among those that have pieces
    # vertices of one way: the tail of its first piece, then the head of every piece; drawn back in reverse
    n_vertices = count[row] + 1
    begin = np.concatenate([[0], np.cumsum(n_vertices)])
    step = np.arange(begin[-1]) - np.repeat(begin[:-1], n_vertices)
    step = np.where(np.repeat(laid.is_back, n_vertices), np.repeat(n_vertices, n_vertices) - 1 - step, step)
    piece = np.repeat(first[row], n_vertices) + step - 1
    at_start = step == 0
    node = np.where(at_start, skeleton.tail[np.maximum(piece, np.repeat(first[row], n_vertices))], skeleton.head[np.maximum(piece, 0)])
    along_m = np.where(at_start, 0.0, skeleton.to_m[np.maximum(piece, 0)])
    length_m = np.repeat(skeleton.way_length_m[laid.way], n_vertices)
    back = np.repeat(laid.is_back, n_vertices)
    s_m = np.where(back, length_m - along_m, along_m) + np.repeat(laid.offset_m, n_vertices)
    starts = np.flatnonzero(np.diff(laid.chain, prepend=-1))
    where = np.empty(len(rows), np.int64)  # of each way with pieces its position among the laid
    where[row] = np.arange(len(row))
    of_piece = where[np.repeat(np.arange(len(rows)), count)]
    length_m, back, offset_m = skeleton.way_length_m[skeleton.way], laid.is_back[of_piece], laid.offset_m[of_piece]
    first_vertex = np.append(begin[starts], begin[-1])
    return WayProfileInput(
        first_vertex=first_vertex,
        vertex_s_m=_never_falling(s_m, first_vertex),
        vertex_lon=skeleton.node_lon[node],
        vertex_lat=skeleton.node_lat[node],
        is_straight=np.array([facts[w].is_straight for w in laid.way[starts]], bool),
        kind=np.array([facts[w].kind for w in laid.way[starts]], np.uint8),
        piece_chain=laid.chain[of_piece],
        piece_from_m=offset_m + np.where(back, length_m - skeleton.to_m, skeleton.from_m),
        piece_to_m=offset_m + np.where(back, length_m - skeleton.from_m, skeleton.to_m),
    )


def _never_falling(s_m: Floats, first_vertex: Ints) -> Floats:
    """``s_m`` without the falls, each a rounding error of a sum over ways, where one way ends and the next begins."""
    s_m = s_m.copy()
    is_first = np.zeros(len(s_m) + 1, bool)
    is_first[first_vertex] = True
    for i in (np.flatnonzero(np.diff(s_m) < 0) + 1).tolist():
        while not is_first[i] and s_m[i] < s_m[i - 1]:  # what is raised may stand above what comes next
            s_m[i] = s_m[i - 1]
            i += 1
    return s_m


def in_way_direction(grades: WayGrades, laid: Laid, skeleton: Skeleton) -> WayGrades:
    """Grades of pieces in the direction of their own ways, from those in the direction of their chains."""
    back = np.zeros(len(skeleton.way_length_m), bool)
    back[laid.way] = laid.is_back
    turned = back[skeleton.way]
    sign = np.where(turned, np.float32(-1), np.float32(1))
    return replace(
        grades,
        grade=grades.grade * sign,
        steepest_grade=grades.steepest_grade * sign,
        raw_grade=grades.raw_grade * sign,
        climb_m=np.where(turned, grades.descent_m, grades.climb_m),
        descent_m=np.where(turned, grades.climb_m, grades.descent_m),
        posterior=replace(grades.posterior, measured=grades.posterior.measured * sign),
    )
