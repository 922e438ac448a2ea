"""A large move, from its folder to an audited plan: 200 riders, 12 shelters, 15 vans on a network of about 117 000 nodes.

    python tests/benchmarks/move.py [--check] [--tiles 4] [--riders 200]

The city is real topology, tiled (``move_city``); the network is built first, its time is told apart.
``--check`` ends with exit code 1 where the bars are missed: 3 minutes, 2 GB, 0 violations. Papers are not part of it.
"""

from __future__ import annotations

import argparse
import collections
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import move_city
import numpy as np

BAR_S, BAR_GB = 180.0, 2.0


def main() -> int:
    """Build the city, plan the move, tell what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--tiles", type=int, default=4)
    parser.add_argument("--riders", type=int, default=200)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        network_file = build_city(folder, asked.tiles, asked.riders)
        return plan_it(folder, network_file, is_check=asked.check)


def build_city(folder: Path, tiles: int, riders: int) -> Path:
    """Write map, heights, network and the move's tables; riders are at road nodes of the largest part that vans reach."""
    from scipy.sparse.csgraph import connected_components

    from rollroute.assembly import build_from_files
    from rollroute.planning.loading_zones import road_stops
    from rollroute.planning.roads import road_graph

    box = move_city.write_city(folder / "city.osm.pbf", tiles)
    move_city.write_heights(folder / "heights.tif", box)
    begin = time.perf_counter()
    network = build_from_files(folder / "city.osm.pbf", [folder / "heights.tif"])
    print(f"network     {time.perf_counter() - begin:6.1f} s   {network.n_nodes} nodes, {network.n_pieces} pieces")
    network.save(folder / "city.net")
    roads = road_graph(network)
    _, part = connected_components(roads.matrix(), connection="strong")
    stops = road_stops(network, roads).node
    nodes = stops[part[stops] == np.bincount(part).argmax()]
    move_city.write_move(folder, np.column_stack([network.nodes.lon[nodes], network.nodes.lat[nodes]]), riders=riders)
    return folder / "city.net"


def plan_it(folder: Path, network_file: Path, *, is_check: bool) -> int:
    """Plan as the command line does, tell the stages apart, and hold the whole against the bars."""
    from rollroute.move_run import plan_move

    begin = last = time.perf_counter()
    stage = "files"

    def progress(words: str) -> None:
        nonlocal last, stage
        name = words.rpartition(" ")[0] if "/" in words else words
        if name != stage:
            print(f"{stage:16}{time.perf_counter() - last:6.1f} s, memory {_peak_gb():.2f} GB", flush=True)
            last, stage = time.perf_counter(), name

    planned = plan_move(folder, folder / "out", network_file=network_file, progress=progress)
    print(f"{stage:16}{time.perf_counter() - last:6.1f} s, memory {_peak_gb():.2f} GB   (to the end of the audit)")
    took = time.perf_counter() - begin
    peak = _peak_gb()
    ways = collections.Counter(str(r.way) for r in planned.plan.riders)
    print(f"in all      {took:6.1f} s, {time.process_time():.1f} s of processor with the network; most memory {peak:.2f} GB")
    print(f"riders: {dict(ways)}; {len(planned.travel.rolls)} rolls known; {len(planned.violations)} violations")
    for tier in planned.plan.tiers:
        print(f"  {tier.name}: {tier.value}, bound {tier.bound}, gap {tier.value - tier.bound}{', proven' if tier.is_proven else ''}")
    is_good = took < BAR_S and peak < BAR_GB and not planned.violations
    return 0 if is_good or not is_check else 1


def _peak_gb() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


if __name__ == "__main__":
    sys.exit(main())
