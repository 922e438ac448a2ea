"""Places and their incidence as columns, from the rows in which they were found."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rollroute.network.assemble import Skeleton
from rollroute.network.facts.points import PlaceFacts, PlaceFlag, PlaceKind
from rollroute.network.network import Incidence, Places
from rollroute.standards import load_doubts
from rollroute.units import M_PER_DEGREE

CROWDED_M = 1.22 + 0.61  # 2010 ADA Standards 403.5.1: pinch points of up to 610 mm are 1220 mm apart


def places_of(rows: list[tuple[PlaceFacts, int]], skeleton: Skeleton) -> Places:
    """The columns of places; ``rows``: (facts, node) of each."""
    nodes = np.array([node for _, node in rows], np.int64)
    facts = [f for f, _ in rows]
    _mark_crowded(facts, nodes, skeleton)
    kinds = {kind: code for code, kind in enumerate(load_doubts().kinds)}
    return Places(
        kind=np.array([f.kind for f in facts], np.uint8),
        lon=skeleton.node_lon[nodes] if len(rows) else np.empty(0),
        lat=skeleton.node_lat[nodes] if len(rows) else np.empty(0),
        osm_id=skeleton.node_id[nodes] if len(rows) else np.empty(0, np.int64),
        word=np.array([f.word for f in facts], np.uint8),
        height_m=np.array([f.height_m for f in facts], np.float32),
        height_rank=np.array([f.height_rank for f in facts], np.uint8),
        width_m=np.array([f.width_m for f in facts], np.float32),
        width_rank=np.array([f.width_rank for f in facts], np.uint8),
        length_m=np.array([f.length_m for f in facts], np.float32),
        mass_limit_kg=np.array([f.mass_limit_kg for f in facts], np.float32),
        ramp_grade=np.array([f.ramp_grade for f in facts], np.float32),
        counter_slope=np.array([f.counter_slope for f in facts], np.float32),
        access=np.array([f.access for f in facts], np.uint8),
        flags=np.array([f.flags for f in facts], np.uint16),
        doubt=np.array([kinds[f.doubt] for f in facts], np.uint8),
    )


def _mark_crowded(facts: list[PlaceFacts], nodes: npt.NDArray[np.int64], skeleton: Skeleton) -> None:
    """Barriers so near to each other that neither is a pinch point."""
    from scipy.spatial import cKDTree

    rows = [i for i, f in enumerate(facts) if f.kind is PlaceKind.BARRIER]
    if len(rows) < 2:
        return
    scale = np.array([np.cos(np.radians(skeleton.node_lat.mean())), 1.0]) * M_PER_DEGREE
    tree = cKDTree(np.column_stack([skeleton.node_lon[nodes[rows]], skeleton.node_lat[nodes[rows]]]) * scale)
    for pair in tree.query_pairs(CROWDED_M):
        for i in pair:
            facts[rows[i]].flags |= PlaceFlag.CROWDED


def incidence_of(rows: list[tuple[int, int, float, int, int]]) -> Incidence:
    """The columns of incidence; ``rows``: piece, place, share, rises, at_head of each entry."""
    entries = np.array(rows, np.float64).reshape(-1, 5)
    return Incidence(
        piece=entries[:, 0].astype(np.int32),
        place=entries[:, 1].astype(np.int32),
        share=entries[:, 2].astype(np.float32),
        rises=entries[:, 3].astype(np.int8),
        at_head=entries[:, 4].astype(np.uint8),
    )
