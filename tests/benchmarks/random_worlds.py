"""Ten thousand and more random small worlds: both solvers against a brute force that shares no code, every route played again.

    python tests/benchmarks/random_worlds.py                     10 200 worlds, 3 264 of them with charging, way back and closings
    python tests/benchmarks/random_worlds.py --worlds 30000 --seed 7 --check
    python tests/benchmarks/random_worlds.py --towns 60000       and as many towns of up to 150 nodes, one solver against the other

Columns: worlds that brute force decided; routes; proofs that there is none; worlds where both solvers gave the brute force's cost and the
route, played again, kept every rule; the largest difference of a cost; routes that charge; worlds whose answer changes when the way back,
or every time, is dropped (a rule that never decides is not tested); pieces played bad one at a time, and how often that stranded a chair.
With --check it exits 1 on any difference, on any stranded chair, and on too few worlds.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "search"))

from replay import fail_one
from test_many_worlds import KINDS, Compared, compare, compare_in_town
from worlds import World, graph_of, query_of, varied_town, varied_world

from rollroute.search import simple
from rollroute.search.drive import drive

ALL_RULES = (True, True, True)
SHARE_OF_ALL_RULES = 0.32
LEAST_OF_ALL_RULES = 3000
LEAST_WORLDS = 10_000


@dataclass
class Row:
    """What the worlds of one kind gave."""

    name: str
    n_decided: int = 0
    n_given_up: int = 0
    n_routes: int = 0
    n_none: int = 0
    n_equal: int = 0
    worst: float = 0.0
    n_charge: int = 0
    n_charge_twice: int = 0
    way_back_decides: int = 0
    times_decide: int = 0
    n_bad_guesses: int = 0
    n_stranded: int = 0

    def add(self, world: World, compared: Compared) -> None:
        """Count one world."""
        if math.isnan(compared.expected):
            self.n_given_up += 1
            return
        self.n_decided += 1
        self.n_equal += not compared.differences
        self.worst = max(self.worst, compared.worst)
        route = compared.route
        self.n_none += route is None
        cost = math.inf
        if route is not None:
            cost = route.cost_s
            self.n_routes += 1
            self.n_charge += bool(route.stop_uses)
            self.n_charge_twice += len(route.stop_uses) > 1
            if world.way_back:
                bad = fail_one(world, route)
                self.n_bad_guesses += bad.n_played
                self.n_stranded += len(bad.stranded)
        if world.way_back:
            self.way_back_decides += _cost(replace(world, way_back=False)) < cost - 1e-9
        self.times_decide += _cost(_timeless(world)) < cost - 1e-9


def _cost(world: World) -> float:
    verdict = simple.search(graph_of(world), query_of(world))
    return math.inf if verdict.steps is None else drive(graph_of(world), query_of(world), verdict).cost_s


def _timeless(world: World) -> World:
    """The world without a closing, an opening hour or a latest arrival; what retreats may use stays as it was."""
    kept = [replace(p, closes=math.inf if p.closes >= world.retreats_until else p.closes + 1e6) for p in world.pieces]
    until = world.retreats_until if math.isinf(world.retreats_until) else world.retreats_until + 1e6
    outlets = [replace(o, opens=0.0, closes=math.inf) for o in world.outlets]
    return replace(world, pieces=kept, outlets=outlets, latest=math.inf, retreats_until=until)


def play(n_worlds: int, seed: int, progress: Iterator[None]) -> list[Row]:
    """Play about ``n_worlds``; prints each difference as it is found."""
    rows = []
    for kind in KINDS:
        name = " + ".join(what for what, on in zip(("charging", "way back", "closings"), kind, strict=True) if on) or "energy alone"
        share = SHARE_OF_ALL_RULES if kind == ALL_RULES else (1.0 - SHARE_OF_ALL_RULES) / 7
        row = Row(name)
        for i in range(math.ceil(n_worlds * share)):
            next(progress)
            world = varied_world(seed + i, charging=kind[0], way_back=kind[1], closings=kind[2])
            compared = compare(world)
            row.add(world, compared)
            for difference in compared.differences:
                print(f"DIFFERENCE {name}, seed {seed + i}: {difference}", file=sys.stderr, flush=True)
        rows.append(row)
    return rows


def play_towns(n_towns: int, seed: int) -> tuple[str, bool]:
    """Compare the two solvers in towns; one line of figures, and whether anything differed."""
    n_routes = n_charge = n_bad = n_differ = 0
    for i in range(n_towns):
        kind = KINDS[i % len(KINDS)]
        world = varied_town(seed + i, charging=kind[0], way_back=kind[1], closings=kind[2])
        compared = compare_in_town(world)
        for difference in compared.differences:
            print(f"DIFFERENCE in town {kind}, seed {seed + i}: {difference}", file=sys.stderr, flush=True)
        n_differ += bool(compared.differences)
        if compared.route is not None:
            n_routes += 1
            n_charge += bool(compared.route.stop_uses)
            n_bad += fail_one(world, compared.route).n_played if world.way_back else 0
    said = f"{n_towns} towns: {n_routes} routes, {n_charge} with charging, {n_bad} bad guesses played; {n_differ} towns differ"
    return said, n_differ > 0


def _ticks(n: int) -> Iterator[None]:
    began = time.perf_counter()
    for i in range(10 * n + 100):
        if i and i % 2000 == 0:
            print(f"{i} worlds, {time.perf_counter() - began:.0f} s", file=sys.stderr, flush=True)
        yield


def total(rows: list[Row]) -> Row:
    """All kinds in one row."""
    names = [f for f in vars(rows[0]) if f.startswith(("n_", "way", "times"))]
    return Row("all", worst=max(r.worst for r in rows), **{f: sum(getattr(r, f) for r in rows) for f in names})


def show(rows: list[Row]) -> str:
    """The table in Markdown."""
    heads = ["worlds with", "decided", "given up", "route", "proven none", "equal", "worst difference, s", "charges", "twice or more"]
    heads += ["way back decides", "times decide", "bad guesses", "stranded"]
    lines = ["| " + " | ".join(heads) + " |", "|---" + "|---:" * (len(heads) - 1) + "|"]
    for r in rows:
        cells = [r.name, r.n_decided, r.n_given_up, r.n_routes, r.n_none, r.n_equal, f"{r.worst:.1e}", r.n_charge, r.n_charge_twice]
        cells += [r.way_back_decides, r.times_decide, r.n_bad_guesses, r.n_stranded]
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines)


def missed(rows: list[Row]) -> list[str]:
    """What falls short of the bar."""
    whole = total(rows)
    found = []
    if whole.n_decided < LEAST_WORLDS:
        found.append(f"{whole.n_decided} worlds decided, at least {LEAST_WORLDS} wanted")
    if rows[-1].n_decided < LEAST_OF_ALL_RULES:
        found.append(f"{rows[-1].n_decided} worlds with all rules together, at least {LEAST_OF_ALL_RULES} wanted")
    if whole.n_equal != whole.n_decided:
        found.append(f"{whole.n_decided - whole.n_equal} worlds differ")
    if whole.n_stranded:
        found.append(f"{whole.n_stranded} bad guesses strand somebody")
    return found


def main() -> int:
    """Play, print, check."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--worlds", type=int, default=10_200)
    parser.add_argument("--towns", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--check", action="store_true")
    asked = parser.parse_args()
    out = os.fdopen(os.dup(1), "w")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # HiGHS prints a line of its own innards now and then
    began = time.perf_counter()
    rows = play(asked.worlds, asked.seed, _ticks(asked.worlds))
    out.write(f"seed {asked.seed}, {time.perf_counter() - began:.0f} s\n\n{show([*rows, total(rows)])}\n")
    towns, differ = play_towns(asked.towns, asked.seed)
    out.write(f"\n{towns}\n")
    short = missed(rows) + (["towns differ"] if differ else [])
    out.writelines(f"MISSED: {what}\n" for what in short)
    out.flush()
    return 1 if asked.check and short else 0


if __name__ == "__main__":
    sys.exit(main())
