"""Files: the map extract, the heights and the ground truth."""

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np
import osmium
import rasterio

from .model import EPSG, ORIGIN_E, ORIGIN_N, Town, lonlat
from .terrain import HEIGHT_M, WIDTH_M, height_m

MAP_DATE = "2026-03-01T00:00:00Z"
CELL_M, MARGIN_M, SIGMA_M, NODATA = 5.0, 60.0, 0.10, -9999.0
HOLE = (1240.0, 560.0, 28.0, 22.0)  # x, y, width, height of a place the survey flight missed (local metres)
DATUM = "Quillhaven town datum (invented), metres above the mean level of the Quill"


def write_map(town: Town, path: Path) -> None:
    """The OSM extract; the same bytes every time."""
    header = osmium.io.Header()
    header.set("generator", "quillhaven make_town")
    header.set("osmosis_replication_timestamp", MAP_DATE)
    header.set("timestamp", MAP_DATE)
    corners = [lonlat(0, 0), lonlat(WIDTH_M, HEIGHT_M)]
    header.add_box(osmium.osm.Box(osmium.osm.Location(*corners[0]), osmium.osm.Location(*corners[1])))
    used = {r for w in town.ways for r in w.refs} | {i for i, n in town.nodes.items() if n.tags}
    path.unlink(missing_ok=True)
    with osmium.SimpleWriter(str(path), header=header) as out:
        stamp: dict[str, Any] = {"version": 1, "timestamp": MAP_DATE, "changeset": 1}
        for ident in sorted(used):
            node = town.nodes[ident]
            out.add_node(osmium.osm.mutable.Node(id=ident, location=lonlat(node.x, node.y), tags=node.tags, **stamp))
        for way in town.ways:
            out.add_way(osmium.osm.mutable.Way(id=way.id, nodes=way.refs, tags=way.tags, **stamp))


def true_heights() -> np.ndarray:
    """The surface at the middle of every cell, without noise; row 0 is the north."""
    columns, rows = int((WIDTH_M + 2 * MARGIN_M) / CELL_M), int((HEIGHT_M + 2 * MARGIN_M) / CELL_M)
    top = HEIGHT_M + MARGIN_M
    return np.array([[height_m(-MARGIN_M + (c + 0.5) * CELL_M, top - (r + 0.5) * CELL_M) for c in range(columns)] for r in range(rows)])


def write_heights(path: Path, seed: int) -> None:
    """Noisy heights as GeoTIFF, with a hole."""
    surface = true_heights()
    noisy = np.round(surface + np.random.default_rng(seed).normal(0.0, SIGMA_M, surface.shape), 3).astype("float32")
    x, y, w, h = HOLE
    top = HEIGHT_M + MARGIN_M
    noisy[int((top - y - h) / CELL_M) : int((top - y) / CELL_M), int((x + MARGIN_M) / CELL_M) : int((x + w + MARGIN_M) / CELL_M)] = NODATA
    profile = {
        "driver": "GTiff",
        "height": noisy.shape[0],
        "width": noisy.shape[1],
        "count": 1,
        "dtype": "float32",
        "crs": f"EPSG:{EPSG}",
        "transform": rasterio.Affine(CELL_M, 0.0, ORIGIN_E - MARGIN_M, 0.0, -CELL_M, ORIGIN_N + top),
        "nodata": NODATA,
        "compress": "deflate",
        "predictor": 3,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
    }
    with rasterio.open(path, "w", **profile) as out:
        out.write(noisy, 1)
        out.set_band_unit(1, "metre")
        out.set_band_description(1, "height of the ground")
        out.update_tags(HEIGHT_SIGMA_M=f"{SIGMA_M:.2f}", VERTICAL_DATUM=DATUM, MODEL="terrain", SURVEY_DATE="2025-10-12")


def write_truth(town: Town, path: Path) -> None:
    """The ground truth; schema in ``make_town.py``."""
    ways = {str(w.id): w.truth for w in town.ways if w.truth is not None}
    used = {r for w in town.ways if w.truth is not None for r in w.refs}
    nodes: dict[str, Any] = {str(i): {"ele_m": round(town.ele_m(i), 3), **town.nodes[i].truth} for i in sorted(used)}
    whole = {"schema": 1, "crs": f"EPSG:{EPSG}", "origin_m": [ORIGIN_E, ORIGIN_N], "nodes": nodes, "ways": ways}
    packed = gzip.compress(json.dumps(whole, separators=(",", ":"), ensure_ascii=False).encode(), mtime=0)
    path.write_bytes(packed)
