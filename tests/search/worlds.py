"""Random small worlds as plain lists, for the search and for the brute force that shares nothing with it."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

from rollroute.search.problem import ChargeCurve, ChargingStop, SearchGraph, SearchQuery


@dataclass
class Piece:
    """One directed edge."""

    u: int
    v: int
    time: float
    extra: float  # cost beyond time
    energy: float
    doubt: float = 0.0
    unverified: bool = False
    passable: bool = True
    closes: float = math.inf
    back: int = -1  # the edge the other way
    back_sure: bool | None = None  # whether driving it surely leaves the way back open; None: by the rule of the contract


@dataclass
class Outlet:
    """A charging stop: seconds per Wh in each stretch of charge, as [(up to Wh, s per Wh), ...]."""

    node: int
    stretches: list[tuple[float, float]]
    setup: float = 0.0
    opens: float = 0.0
    closes: float = math.inf


@dataclass
class World:
    """A graph and a question."""

    n: int
    pieces: list[Piece]
    start: int
    goals: list[int]
    charge: float
    reserve: float = 0.0
    capacity: float = 1e6
    outlets: list[Outlet] = field(default_factory=list)
    refuges: list[int] = field(default_factory=list)
    way_back: bool = False
    latest: float = math.inf
    retreats_until: float = math.inf  # retreats use only what is open until then


def graph_of(world: World) -> SearchGraph:
    p = world.pieces
    sure = None
    if any(e.back_sure is not None for e in p):
        assert all(e.back_sure is not None for e in p), "give back_sure for every piece or for none"
        sure = [bool(e.back_sure) for e in p]
    return SearchGraph(
        n_nodes=world.n,
        tail=[e.u for e in p],
        head=[e.v for e in p],
        time_s=[e.time for e in p],
        cost_s=[e.time + e.extra for e in p],
        energy_wh=[e.energy for e in p],
        surprisal=[e.doubt for e in p],
        is_passable=[e.passable for e in p],
        is_unverified=[e.unverified for e in p],
        closes_s=[e.closes for e in p],
        reverse=[e.back for e in p],
        is_back_sure=sure,
    )


def query_of(world: World, **changes: object) -> SearchQuery:
    stops = []
    for o in world.outlets:
        times, charges, t, c = [0.0], [0.0], 0.0, 0.0
        for upto, s_per_wh in o.stretches:
            t += (upto - c) * s_per_wh
            c = upto
            times.append(t)
            charges.append(c)
        stops.append(ChargingStop(o.node, ChargeCurve(tuple(times), tuple(charges)), o.setup, o.opens, o.closes))
    fields = {
        "start": world.start,
        "goals": tuple(world.goals),
        "charge_wh": world.charge,
        "reserve_wh": world.reserve,
        "capacity_wh": world.capacity,
        "stops": tuple(stops),
        "refuges": tuple(world.refuges),
        "needs_way_back": world.way_back,
        "latest_arrival_s": world.latest,
        "retreats_until_s": world.retreats_until,
    }
    return SearchQuery(**{**fields, **changes})  # type: ignore[arg-type]


def random_world(seed: int, *, charging: bool, way_back: bool, closings: bool, whole_numbers: bool = False) -> World:
    """A connected-ish world of 4-7 nodes. ``whole_numbers`` makes ties and limits met exactly common."""
    rng = random.Random(seed)
    n = rng.randint(4, 7)

    def draw(low: float, high: float) -> float:
        return float(rng.randint(math.ceil(low), math.floor(high))) if whole_numbers else rng.uniform(low, high)

    pieces: list[Piece] = []
    wanted = [(i, rng.randrange(i)) for i in range(1, n)] + [(rng.randrange(n), rng.randrange(n)) for _ in range(rng.randint(1, 4))]
    for u, v in wanted:
        k = len(pieces)
        doubtful = rng.random() < (0.45 if way_back else 0.2)
        closes = draw(5, 60) if closings and rng.random() < 0.3 else math.inf
        for a, b, other in ((u, v, k + 1), (v, u, k)):
            pieces.append(
                Piece(
                    a,
                    b,
                    time=draw(1, 10),
                    extra=draw(0, 6) if rng.random() < 0.6 else 0.0,
                    energy=draw(0, 10),
                    doubt=rng.random() if doubtful else 0.0,
                    unverified=doubtful if rng.random() < 0.9 else not doubtful,
                    passable=rng.random() < 0.93,
                    closes=closes,
                    back=other,
                )
            )
    start, goal = rng.sample(range(n), 2)
    world = World(n, pieces, start, [goal], charge=draw(4, 12 if charging else 30), reserve=draw(0, 2))
    world.capacity = max(draw(12, 30), world.charge)
    if rng.random() < 0.2:
        world.goals.append(rng.randrange(n))
    if closings and rng.random() < 0.4:
        world.latest = draw(15, 90)
    if charging:
        for _ in range(rng.randint(1, 4)):
            knee = draw(5, 20)
            slow = draw(1, 3)
            outlet = Outlet(rng.randrange(n), [(knee, slow), (knee + draw(1, 20), slow + draw(0, 4))], setup=draw(0, 4))
            if closings and rng.random() < 0.5:
                outlet.opens = draw(0, 25)
                outlet.closes = outlet.opens + draw(5, 60)
            world.outlets.append(outlet)
    if way_back or rng.random() < 0.3:
        world.refuges = rng.sample(range(n), rng.randint(1, 2))
        world.way_back = way_back
    return world


def varied_world(seed: int, *, charging: bool, way_back: bool, closings: bool) -> World:
    """``random_world`` with what it lacks: retreats that end with the plan, given ways back, bends, dead weight, a start that is a goal.

    A third in whole numbers, where ties and limits met exactly are common.
    """
    world = random_world(seed, charging=charging, way_back=way_back, closings=closings, whole_numbers=seed % 3 == 0)
    rng = random.Random(seed + 0.5)
    if closings and rng.random() < 0.3:
        world.retreats_until = float(rng.randint(20, 70))
    if way_back and rng.random() < 0.15:
        for piece in world.pieces:
            other = world.pieces[piece.back]
            piece.back_sure = other.passable and rng.random() < 0.7
    if rng.random() < 0.1:
        for piece in rng.sample(world.pieces, 2):
            piece.time = piece.extra = piece.energy = 0.0
    if rng.random() < 0.02:
        world.goals.append(world.start)
    if way_back and rng.random() < 0.6:
        world.refuges = [*{*world.refuges, world.start}]
    _tighten(world, rng)
    return world


def _tighten(world: World, rng: random.Random) -> None:
    """Rules that never decide are not tested: earlier closings, less charge, smaller batteries, in many of the worlds."""
    earlier = rng.choice([1.0, 0.4, 0.15])
    for piece in world.pieces:
        piece.closes = float(math.ceil(piece.closes * earlier)) if math.isfinite(piece.closes) else math.inf
    world.latest = float(math.ceil(world.latest * max(earlier, 0.3))) if math.isfinite(world.latest) else math.inf
    if rng.random() < 0.5:
        world.charge = max(float(math.ceil(world.charge * 0.6)), world.reserve)
    if world.outlets and rng.random() < 0.5:
        world.capacity = max(float(math.ceil(world.capacity * 0.6)), world.charge)


def random_town(seed: int, *, charging: bool, way_back: bool, closings: bool, side: int = 5, bends: int = 2) -> World:
    """Streets between ``side`` × ``side`` crossings, each street with up to ``bends`` bends: chains, clusters of doubt, dead ends."""
    rng = random.Random(seed)
    pieces, n = _streets(rng, side, bends, closings)
    start, goal = rng.sample(range(n), 2)
    world = World(n, pieces, start, [goal], charge=rng.uniform(8, 40), reserve=1.0)
    world.capacity = max(rng.uniform(15, 40), world.charge)
    if charging:
        world.charge = rng.uniform(4, 15)
        for _ in range(4):
            knee, slow = rng.uniform(8, 25), rng.uniform(2, 5)
            outlet = Outlet(rng.randrange(n), [(knee, slow), (knee + 8, slow * 2)], setup=rng.uniform(0, 20))
            if closings and rng.random() < 0.5:
                outlet.opens = rng.uniform(0, 60)
                outlet.closes = outlet.opens + rng.uniform(30, 300)
            world.outlets.append(outlet)
    if closings and rng.random() < 0.4:
        world.latest = rng.uniform(60, 300)
    if way_back:
        world.refuges = rng.sample(range(n), 4)
        world.way_back = True
    return world


def varied_town(seed: int, *, charging: bool, way_back: bool, closings: bool) -> World:
    """``random_town`` with what it lacks: pieces of no length, given ways back, retreats that end, several goals, a tight charge."""
    rng = random.Random(seed + 0.25)
    side, bends = rng.randint(3, 7), rng.randint(0, 3)
    world = random_town(seed, charging=charging, way_back=way_back, closings=closings, side=side, bends=bends)
    for i in rng.sample(range(0, len(world.pieces), 2), len(world.pieces) // 20):
        for piece in world.pieces[i : i + 2]:
            piece.time = piece.extra = piece.energy = 0.0
    if closings and rng.random() < 0.4:
        world.retreats_until = rng.uniform(50.0, 250.0)
    if way_back and rng.random() < 0.3:
        for piece in world.pieces:
            piece.back_sure = world.pieces[piece.back].passable and rng.random() < 0.9
    world.goals += rng.sample(range(world.n), rng.randint(0, 2))
    if world.outlets:
        world.outlets.append(replace(world.outlets[0], setup=rng.uniform(0.0, 9.0)))
        world.charge *= rng.uniform(0.4, 1.0)
    else:
        world.charge = max(world.charge * rng.uniform(0.5, 1.0), 1.0)
    if way_back and rng.random() < 0.6:
        world.refuges.append(world.start)
    world.charge = max(world.charge, world.reserve)
    return world


def _streets(rng: random.Random, side: int, bends: int, closings: bool) -> tuple[list[Piece], int]:
    pieces: list[Piece] = []
    n = side * side
    cluster = [(rng.randrange(side), rng.randrange(side)) for _ in range(2)]
    for i, j, di, dj in product(range(side), range(side), (0, 1), (0, 1)):
        if di == dj or i + di >= side or j + dj >= side or rng.random() < 0.12:
            continue
        inner = list(range(n, n + rng.randint(0, bends)))
        n += len(inner)
        doubtful = any(abs(i - a) + abs(j - b) <= 1 for a, b in cluster) and rng.random() < 0.8
        closes = rng.uniform(20, 300) if closings and rng.random() < 0.1 else math.inf
        rough = rng.choice([1.0, 1.0, 1.5, 3.0])
        for u, v in pairwise([i * side + j, *inner, (i + di) * side + j + dj]):
            pieces += _both_ways(rng, len(pieces), (u, v), rough, doubtful != (rng.random() < 0.05), closes)
    return pieces, n


def _both_ways(rng: random.Random, k: int, ends: tuple[int, int], rough: float, doubtful: bool, closes: float) -> list[Piece]:
    found = []
    for (a, b), other in ((ends, k + 1), (ends[::-1], k)):
        time = rng.uniform(3, 9)
        extra, energy = time * rng.uniform(0, 0.6) * (rough - 1), time * rng.choice([0.05, 0.2, 0.6]) * rough
        odd = doubtful if rng.random() < 0.97 else not doubtful
        found.append(Piece(a, b, time, extra, energy, 0.1 if doubtful else 0.0, odd, rng.random() < 0.97, closes, other))
    return found
