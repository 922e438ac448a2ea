"""Weighing a whole city again for another chair or other conditions: time at a million directed edges, and bytes that the answer takes.

    python tests/benchmarks/reweigh.py [--check] [--edges 1000000]

The real centre of Helsinki is built with an invented raster, so that every grade has a posterior, and repeated until it has enough edges.
Each change is what a coordinator would do: another chair, wet, dark, mains off, a preset, another limit. The first call of each limit
also works out the chance of every piece to be over it, and the first of each preset its long runs; later calls keep them. Both are
shown, the later ones are judged. Nothing runs in parallel: seconds are those of one core (CPU time, so that a busy machine does not
count), beside those of the clock.
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

sys.path.pop(0)  # this folder: a module of it must not hide an installed one
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helsinki import helsinki_pbf
from towns.hand_drawn import a_chair, noon

from rollroute.inputs.osm import read_map
from rollroute.inputs.terrain import HeightGrid, Terrain
from rollroute.network.build import build_network
from rollroute.network.network import Incidence, Network, Nodes, Pieces, Places
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import EdgeWeights, weigh

MOST_S = 0.25
MOST_BYTES = 10.0
ROUNDS = 5
FACTORS = PlannedFactors(time=1.2, energy=1.3, usable=0.8)


def rough_ground(network: Network) -> Terrain:
    """Hills of a few per cent under the city, 10 m cells."""
    from pyproj import CRS, Transformer

    lon, lat = network.nodes.lon, network.nodes.lat
    crs = CRS.from_user_input(f"+proj=tmerc +lat_0={lat.mean()} +lon_0={lon.mean()} +k=1 +datum=WGS84 +units=m")
    east, north = Transformer.from_crs("OGC:CRS84", crs, always_xy=True).transform(lon, lat)
    cell = 10.0
    x, y = np.arange(east.min() - 100, east.max() + 100, cell), np.arange(north.min() - 100, north.max() + 100, cell)
    heights = 12 * np.sin(x[None, :] / 170) * np.sin(y[:, None] / 210) + np.random.default_rng(3).normal(0, 0.3, (len(y), len(x)))
    from_crs = (1 / cell, 0.0, -x[0] / cell, 0.0, 1 / cell, -y[0] / cell)
    grid = HeightGrid(
        name="invented", height_m=heights, crs=crs, from_crs=from_crs, cell_m=cell, sigma_m=0.3, sigma_source="simulated",
        metres_per_unit=1.0, datum="invented", is_surface=False,
    )  # fmt: skip
    return Terrain(grids=(grid,))


def repeated(network: Network, times: int) -> Network:
    """The same city several times over, side by side and not joined."""

    def stack(part: Any, kind: type[Any], shift: dict[str, int]) -> Any:
        columns = {}
        for field in dataclasses.fields(kind):
            column = getattr(part, field.name)
            step = shift.get(field.name, 0)
            columns[field.name] = np.concatenate([column + np.asarray(k * step).astype(column.dtype) for k in range(times)])
        return kind(**columns)

    n_nodes, n_pieces, n_places = network.n_nodes, network.n_pieces, len(network.places.kind)
    return dataclasses.replace(
        network,
        nodes=stack(network.nodes, Nodes, {}),
        pieces=stack(network.pieces, Pieces, {"tail": n_nodes, "head": n_nodes}),
        places=stack(network.places, Places, {}),
        incidence=stack(network.incidence, Incidence, {"piece": n_pieces, "place": n_places}),
    )


def times_s(run: Callable[[], EdgeWeights]) -> tuple[float, float, float, EdgeWeights]:
    """(CPU seconds of the first call, the median of a few more, the same by the clock, the answer)."""
    cpu, clock = [], []
    for _ in range(ROUNDS + 1):
        begin, cpu_begin = time.perf_counter(), time.process_time()
        answer = run()
        cpu.append(time.process_time() - cpu_begin)
        clock.append(time.perf_counter() - begin)
    return cpu[0], float(np.median(cpu[1:])), float(np.median(clock[1:])), answer


def bytes_per_edge_and_column(weights: EdgeWeights) -> float:
    """Of the arrays that stay."""
    rows = [getattr(weights, f.name) for f in dataclasses.fields(weights)]
    columns = [row for row in rows if row is not None and len(row) == len(weights.reasons)]
    return float(sum(c.nbytes for c in columns) / len(columns) / len(columns[0]))


def main() -> int:
    """Print the table; with ``--check`` exit 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--edges", type=int, default=1_000_000)
    args = parser.parse_args()
    extract = read_map(helsinki_pbf())
    town = build_network(extract, rough_ground(build_network(extract)))
    network = repeated(town, -(-args.edges // (2 * town.n_pieces)))
    print(f"{2 * network.n_pieces} directed edges, {len(network.places.kind)} places")
    wide = a_chair(width_m=0.70, rated_obstacle_m=0.06, wheel="outdoor")
    changes: dict[str, tuple[Any, Any, Weighing | None]] = {
        "this chair, dry noon": (a_chair(), noon(), None),
        "another chair": (wide, noon(), None),
        "wet, dark, cold": (a_chair(), noon(is_wet=True, is_dark=True, temperature_c=-5.0), None),
        "mains off after a storm": (a_chair(), noon(has_mains=False, after_storm=True), None),
        "a chair rated 3 degrees": (a_chair(rated_grade=0.0524), noon(), None),
        "preset prowag-2023": (a_chair(), noon(), Weighing(standard=load_standard("prowag-2023"))),
    }
    worst_s = worst_bytes = 0.0
    for name, (chair, conditions, rules) in changes.items():
        drive = calibrate(chair)
        again = partial(weigh, network, chair, drive, FACTORS, conditions, rules=rules)
        first_s, again_s, clock_s, answer = times_s(again)
        size = bytes_per_edge_and_column(answer)
        worst_s, worst_bytes = max(worst_s, again_s), max(worst_bytes, size)
        print(f"{name:28} first {first_s:.3f} s, again {again_s:.3f} s (clock {clock_s:.3f} s), {size:.1f} bytes per edge and column")
    missed = worst_s * 1e6 / (2 * network.n_pieces) >= MOST_S or worst_bytes >= MOST_BYTES
    print(f"worst again: {worst_s:.3f} s (bar {MOST_S} s at 1 000 000 edges), {worst_bytes:.1f} bytes (bar {MOST_BYTES:.0f})")
    return 1 if args.check and missed else 0


if __name__ == "__main__":
    sys.exit(main())
