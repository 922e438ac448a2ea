"""How much of a town can still be answered for when its map forgets, and does a bad guess strand anybody? This measures it.

    python tests/benchmarks/degraded_maps.py [--check] [--pairs 500] [--seeds 3] [--town quillhaven|other]

The bundled invented town is drawn again with its ground truth; tags that state facts are deleted at 0, 50, 90 and 99 %, several times
over. Pairs of places that the chair can drive in truth are asked for; every route is then driven in truth, by the town's own plain rules,
which share no code with the planner. Where the truth stops the chair it turns round: it is stranded where its charge, down to the
reserve, does not cover the piece found bad, there and back, and the way back to where it started. That is judged twice: with the planned
energies, and with those that the true grades and surfaces ask for on the same unlucky day.
``--town other`` draws a second town: the same ground and main streets, everything else from another seed.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import dataclasses
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.pop(0)  # this folder: a module of it must not hide an installed one
for folder in (ROOT / "tests", ROOT / "data" / "quillhaven"):
    sys.path.insert(0, str(folder))

import make_town  # noqa: E402
from town import check, write  # noqa: E402
from towns.hand_drawn import a_chair, noon  # noqa: E402

from rollroute.inputs.osm import MapExtract, read_map  # noqa: E402
from rollroute.inputs.tables import data_dir  # noqa: E402
from rollroute.inputs.terrain import Terrain, read_terrain  # noqa: E402
from rollroute.journey import PREFERENCES, search_graph  # noqa: E402
from rollroute.network.build import build_network  # noqa: E402
from rollroute.network.kinds import WayKind  # noqa: E402
from rollroute.network.network import Flag, Network  # noqa: E402
from rollroute.network.tags import Surface  # noqa: E402
from rollroute.search.compiled.engine import search  # noqa: E402
from rollroute.search.drive import drive as drive_route  # noqa: E402
from rollroute.search.fields import distance_to  # noqa: E402
from rollroute.search.problem import SearchGraph, SearchQuery  # noqa: E402
from rollroute.weights.energy import calibrate  # noqa: E402
from rollroute.weights.scenario import PlannedFactors  # noqa: E402
from rollroute.weights.weigh import EdgeWeights, weigh  # noqa: E402

SHARES = (0.0, 0.5, 0.9, 0.99)
KEPT = {  # what a thing is and where it is, as against what is known of it
    "highway", "footway", "path", "cycleway", "service", "indoor", "level", "repeat_on", "area", "bridge", "tunnel", "layer", "building",
    "name", "entrance", "door", "barrier", "railway", "public_transport", "construction",
}  # fmt: skip
OTHER_SEED = 41
GOALS_PER_START = 4
RANGE_M = 4000.0  # what the charge lasts for, planned, above the reserve
LEAST_ANSWERED = 0.60  # the bar, at 90 % deleted
FACTORS = PlannedFactors(time=1.2, energy=1.3, usable=0.8)
LIMITS = check.Limits(kerb_m=0.05, grade=1 / 12, width_m=0.80, opening_m=0.70)
CHAIR = a_chair()


@dataclass
class Row:
    """Counts of one line of the table, over all seeds."""

    asked: int = 0
    answered: int = 0
    least_answered: float = 1.0  # share, of the worst seed
    met_bad: int = 0
    doubt: float = 0.0  # what the planner itself gave for meeting something bad, added up over answers
    stranded: int = 0  # by the planned energies
    stranded_in_truth: int = 0  # by the true ones
    falsely_excluded_m: float = 0.0
    places_to_scout: float = 0.0


def degrade(extract: MapExtract, share: float, seed: int) -> MapExtract:
    """A copy whose tags that state facts are deleted one by one with the chance ``share``."""
    random, worse = Random(seed), copy.copy(extract)

    def left(tags: dict[str, str]) -> dict[str, str]:
        is_kerb = tags.get("barrier") == "kerb"
        return {k: v for k, v in tags.items() if (k in KEPT and not (is_kerb and k == "barrier")) or random.random() >= share}

    worse.node_tags = {i: kept for i, tags in extract.node_tags.items() if (kept := left(tags))}
    worse.ways = [dataclasses.replace(way, tags=left(way.tags)) for way in extract.ways]
    return worse


class Truth:
    """What really stops the chair, by the town's own plain rules, and what the ways are really like."""

    def __init__(self, town: Any) -> None:
        self.town = town
        self.edges = check.graph(self.town, LIMITS)
        self.ways = {way.id: way for way in self.town.ways}

    def at(self, way_id: int, a: int, b: int) -> tuple[Any, int, int] | None:
        """The way, the number of its piece between two nodes, and +1 where ``a`` comes first in it."""
        way = self.ways.get(way_id)
        if way is None or way.truth is None:
            return None
        for k, pair in enumerate(zip(way.refs, way.refs[1:], strict=False)):
            if set(pair) == {a, b}:
                return way, k, 1 if pair[0] == a else -1
        return None

    def stops(self, way_id: int, a: int, b: int, *, on_road: bool) -> bool:
        """Whether the chair can't go from node ``a`` to node ``b``. ``on_road``: it steps off no sidewalk there."""
        way = self.ways.get(way_id)
        if way is None or way.truth is None:
            return False
        beside = way.truth.get("sidewalk") in ("both", "left", "right") and not on_road
        if any(node in self.town.nodes and check.node_stops(self.town, node, LIMITS, beside) for node in (a, b)):
            return True
        found = None if way.truth.get("area") else self.at(way_id, a, b)
        return found is not None and check.piece_stops(way, found[1], LIMITS) is not None

    def surface(self, way_id: int, a: int, b: int) -> tuple[float, int]:
        """(grade from ``a`` to ``b``, code of the surface); NaN and 0 where the truth says nothing."""
        found = self.at(way_id, a, b)
        if found is None:
            return np.nan, 0
        way, k, sign = found
        grades = way.truth.get("grades") or ()
        code = getattr(Surface, str(way.truth.get("surface", "")).upper(), 0)
        return (sign * grades[k] if k < len(grades) else np.nan), int(code)


def edge_ends(network: Network) -> tuple[np.ndarray, np.ndarray]:
    """For every piece the mapped nodes (OSM ids) that it lies between: pieces cut shorter belong to their segment."""
    ids, p = network.nodes.osm_id, network.pieces
    first, last = ids[p.tail].copy(), ids[p.head].copy()
    for i in range(1, len(first)):
        if first[i] == 0:
            first[i] = first[i - 1]
    for i in range(len(last) - 2, -1, -1):
        if last[i] == 0:
            last[i] = last[i + 1]
    return first, last


def truth_by_piece(network: Network, truth: Truth) -> tuple[np.ndarray, Network]:
    """(n_pieces,) whether the truth stops the chair there; and the network with its true grades and surfaces where they are told."""
    first, last = edge_ends(network)
    p = network.pieces
    on_road = (p.kind == WayKind.RESIDENTIAL) & ((p.flags & Flag.STREET_SIDEWALK) == 0)
    keys = list(zip(network.ways.osm_id[p.way].tolist(), first.tolist(), last.tolist(), on_road.tolist(), strict=True))
    stops = {key: truth.stops(*key[:3], on_road=key[3]) for key in set(keys)}
    ground = {key[:3]: truth.surface(*key[:3]) for key in set(keys)}
    grade, surface = p.grade.copy(), p.surface.copy()
    for i, key in enumerate(keys):
        true_grade, code = ground[key[:3]]
        grade[i] = grade[i] if np.isnan(true_grade) else true_grade
        surface[i] = code or surface[i]
    true_pieces = dataclasses.replace(p, grade=grade, surface=surface)
    return np.array([stops[k] for k in keys]), dataclasses.replace(network, pieces=true_pieces)


def choose_pairs(truth: Truth, network: Network, n_pairs: int) -> list[tuple[int, int]]:
    """Pairs of mapped nodes between which the chair can drive in truth: a few goals for every start."""
    random = Random(7)
    nodes = sorted({int(i) for i in network.nodes.osm_id if i} & set(truth.edges))
    pairs: list[tuple[int, int]] = []
    while len(pairs) < n_pairs:
        start = random.choice(nodes)
        reach = sorted(check.reachable(truth.edges, start) & set(nodes) - {start})
        if len(reach) > len(nodes) / 10:  # not a place that is cut off from the town
            pairs += [(start, goal) for goal in random.sample(reach, GOALS_PER_START)]
    return pairs[:n_pairs]


@dataclass(frozen=True)
class Drawn:
    """One degraded map made ready for questions."""

    network: Network
    graph: SearchGraph
    weights: EdgeWeights
    true_wh: np.ndarray
    is_bad: np.ndarray
    charge_wh: float


def prepare(extract: MapExtract, terrain: Terrain, truth: Truth) -> Drawn:
    """Build, weigh, and look up the truth once for all pairs."""
    network = build_network(extract, terrain)
    drive = calibrate(CHAIR)
    weights = weigh(network, CHAIR, drive, FACTORS, noon())
    is_bad, true_network = truth_by_piece(network, truth)
    true_wh = weigh(true_network, CHAIR, drive, FACTORS, noon()).planned_energy_wh
    p, passable = network.pieces, weights.is_passable.reshape(-1, 2).any(axis=1)
    wh_per_m = float(np.median((weights.planned_energy_wh[0::2] / p.length_m)[passable]))
    graph = search_graph(network, weights, PREFERENCES["surest"])
    return Drawn(network, graph, weights, true_wh, is_bad, RANGE_M * wh_per_m)


def ask_all(drawn: Drawn, pairs: list[tuple[int, int]], row: Row, *, way_back: bool) -> None:
    """Ask for every pair, drive every answer in truth, and add up."""
    network, p = drawn.network, drawn.network.pieces
    number = {int(i): n for n, i in enumerate(network.nodes.osm_id) if i}
    truly_open = ~drawn.is_bad & ((p.flags & (Flag.OFF_MAP | Flag.LINK)) == 0) & (network.ways.osm_id[p.way] > 0)
    passable = drawn.weights.is_passable.reshape(-1, 2).any(axis=1)
    row.falsely_excluded_m += float(p.length_m[truly_open & ~passable].sum())
    asked: set[tuple[int, int]] = set()
    answered = 0
    for a, b in pairs:
        query = SearchQuery(
            start=number[a], goals=(number[b],), charge_wh=drawn.charge_wh, reserve_wh=0.0, capacity_wh=drawn.charge_wh,
            refuges=(number[a],), needs_way_back=way_back,
        )  # fmt: skip
        verdict = search(drawn.graph, query)
        if verdict.steps is not None:
            answered += 1
            edges = drive_route(drawn.graph, query, verdict).edges
            row.doubt += float(-np.expm1(-drawn.weights.surprisal[edges].sum()))
            _drive_in_truth(row, edges, drawn, number[a])
            asked |= {(int(p.way[e // 2]), int(bit)) for e in edges for bit in _bits(int(drawn.weights.questions[e]))}
    row.asked += len(pairs)
    row.answered += answered
    row.least_answered = min(row.least_answered, answered / len(pairs))
    row.places_to_scout += len(asked)


def _bits(word: int) -> list[int]:
    return [i for i in range(32) if word >> i & 1]


def _drive_in_truth(row: Row, edges: np.ndarray, drawn: Drawn, start: int) -> None:
    """Drive to the first piece that the truth stops and back again; without one, to the goal."""
    bad = np.flatnonzero(drawn.is_bad[edges // 2])
    there = edges[: int(bad[0]) + 1] if len(bad) else edges
    row.met_bad += bool(len(bad))
    row.stranded += _runs_out(drawn, there, drawn.weights.planned_energy_wh, start, turns_back=bool(len(bad)))
    row.stranded_in_truth += _runs_out(drawn, there, drawn.true_wh, start, turns_back=bool(len(bad)))


def _runs_out(drawn: Drawn, there: np.ndarray, energy_wh: np.ndarray, start: int, *, turns_back: bool) -> bool:
    """Whether the charge does not cover the way there, and back the same way or by the cheapest way that map and truth leave open."""
    used_wh = energy_wh[there].sum()
    if not turns_back:
        return bool(used_wh > drawn.charge_wh + 1e-9)
    if used_wh + energy_wh[there ^ 1].sum() <= drawn.charge_wh + 1e-9:
        return False
    used_wh += energy_wh[there[-1] ^ 1]
    is_open = drawn.weights.is_passable & ~np.repeat(drawn.is_bad, 2) & ~drawn.weights.is_unverified
    graph = dataclasses.replace(drawn.graph, is_passable=is_open)
    turned = int(drawn.graph.tail[there[-1]])
    back_wh = float(distance_to(graph, energy_wh, [start])[turned])
    return bool(used_wh + back_wh > drawn.charge_wh + 1e-9)


def measure(extract: MapExtract, terrain: Terrain, truth: Truth, pairs: list[tuple[int, int]], seeds: int) -> dict[tuple[float, bool], Row]:
    """Every row of the table; a map of which nothing was deleted is the same for every seed."""
    table = {(share, way_back): Row() for share in SHARES for way_back in (True, False)}
    for share in SHARES:
        for seed in range(seeds if share else 1):
            drawn = prepare(degrade(extract, share, seed=11 + seed), terrain, truth)
            for way_back in (True, False):
                ask_all(drawn, pairs, table[share, way_back], way_back=way_back)
    return table


def lines_of(table: dict[tuple[float, bool], Row], pairs: int) -> Iterator[str]:
    """The table in Markdown."""
    yield (
        "| tags deleted | way-back rule | answered (worst seed) | met something bad (its own doubt) | stranded, planned / true energies "
        "| falsely excluded | to scout |"
    )
    yield "|---|---|---|---|---|---|---|"
    for (share, way_back), row in table.items():
        n, runs = max(1, row.answered), max(1, round(row.asked / pairs))
        stranded = " / ".join("0" if not k else f"{k / n:.1%} ({k})" for k in (row.stranded, row.stranded_in_truth))
        yield (
            f"| {share:.0%} | {'yes' if way_back else 'no'} | {row.answered / row.asked:.1%} ({row.least_answered:.1%}) "
            f"| {row.met_bad / n:.1%} ({row.doubt / n:.0%}) | {stranded} "
            f"| {row.falsely_excluded_m / runs / 1000:.1f} km | {row.places_to_scout / runs:.0f} |"
        )


def misses_of(table: dict[tuple[float, bool], Row]) -> list[str]:
    """Bars that are missed: answers at 90 %, and nobody stranded by a single bad guess."""
    least = table[0.9, True].least_answered
    misses = [f"answered {least:.1%} at 90 %, bar {LEAST_ANSWERED:.0%}"] if least < LEAST_ANSWERED else []
    for field, words in (("stranded", "by the planned energies"), ("stranded_in_truth", "by the true energies")):
        misses += [
            f"{getattr(row, field)} stranded {words} at {share:.0%} deleted, with the way-back rule"
            for (share, way_back), row in table.items()
            if way_back and getattr(row, field)
        ]
    return misses


def bundled() -> tuple[MapExtract, Terrain, Truth]:
    """The town that travels with the package; its map, its heights, and its truth drawn anew."""
    folder = data_dir() / "quillhaven"
    return read_map(folder / "town.osm.pbf"), read_terrain([folder / "heights.tif"]), Truth(make_town.draw()[0])


def other() -> tuple[MapExtract, Terrain, Truth]:
    """A second town: the same ground and main streets; minor streets, houses, kerbs, widths and tags from another seed."""
    make_town.SEED = OTHER_SEED
    with tempfile.TemporaryDirectory() as name, contextlib.redirect_stdout(None):
        folder, town = Path(name), make_town.draw()[0]
        write.write_map(town, folder / "town.osm.pbf")
        write.write_heights(folder / "heights.tif", OTHER_SEED)
        return read_map(folder / "town.osm.pbf"), read_terrain([folder / "heights.tif"]), Truth(town)


def main() -> int:
    """Print the table; with ``--check`` exit 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--pairs", type=int, default=500)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--town", choices=("quillhaven", "other"), default="quillhaven")
    args = parser.parse_args()
    began = time.monotonic()
    extract, terrain, truth = bundled() if args.town == "quillhaven" else other()
    pairs = choose_pairs(truth, build_network(extract), args.pairs)
    table = measure(extract, terrain, truth, pairs, args.seeds)
    print("\n".join(lines_of(table, len(pairs))))
    print(f"{len(pairs)} pairs that can be driven in truth, {args.seeds} deletions of each share, charge for {RANGE_M / 1000:.0f} km")
    print(f"town: {args.town}; {time.monotonic() - began:.0f} s")
    misses = misses_of(table)
    for miss in misses:
        print(f"bar missed: {miss}", file=sys.stderr)
    return 1 if args.check and misses else 0


if __name__ == "__main__":
    sys.exit(main())
