"""Building a network of a real extract, against ``osmnx.graph_from_xml`` with its defaults on the same data, in one run.

    python tests/benchmarks/build.py [--check]

osmnx reads XML only, so the extract is written as ``.osm`` once, outside the clock; both then start from a file and end with a network.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.pop(0)  # this folder: a module of it must not hide an installed one
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helsinki import helsinki_pbf

LEAST_TIMES = 4.0
ROUNDS = 3


def best_s(run: Callable[[], object]) -> float:
    """The quickest of a few rounds."""
    times = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        run()
        times.append(time.perf_counter() - begin)
    return min(times)


def write_xml(pbf: Path, path: Path) -> None:
    """The same data as XML, without ways that the edge of the extract cuts: osmnx refuses a file that has any."""
    import osmium

    nodes: set[int] = set()
    with osmium.SimpleWriter(str(path)) as writer:
        for item in osmium.FileProcessor(str(pbf), osmium.osm.NODE | osmium.osm.WAY):
            if item.is_node():
                nodes.add(item.id)
            elif not all(ref.ref in nodes for ref in item.nodes):
                continue
            writer.add(item)


def main() -> int:
    """Print both times; with ``--check`` exit 1 below the bar."""
    import osmnx

    from rollroute.inputs.osm import read_map
    from rollroute.network.build import build_network

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    is_check = parser.parse_args().check
    with tempfile.TemporaryDirectory() as folder:
        xml = Path(folder) / "helsinki.osm"
        write_xml(helsinki_pbf(), xml)
        from_pbf = best_s(lambda: build_network(read_map(helsinki_pbf())))
        from_xml = best_s(lambda: build_network(read_map(xml)))
        theirs = best_s(lambda: osmnx.graph_from_xml(xml))
    print(f"osmnx.graph_from_xml          {theirs:6.2f} s")
    print(f"rollroute, the same .osm      {from_xml:6.2f} s   {theirs / from_xml:.1f} times faster")
    print(f"rollroute, .osm.pbf           {from_pbf:6.2f} s   {theirs / from_pbf:.1f} times faster")
    return 1 if is_check and theirs / from_xml < LEAST_TIMES else 0


if __name__ == "__main__":
    sys.exit(main())
