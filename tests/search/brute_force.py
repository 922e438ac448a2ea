"""The least cost of a ``World`` by trying every walk, and for each walk the best charging by closed form or by a mixed-integer program.

Shares no code with rollroute: own distances (Bellman-Ford), own rules, scipy's HiGHS for two or more charges on one walk.
A walk may come back to a node only if it has charged since, or if its retreat has become shorter; other loops can't help.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from worlds import Outlet, World

EPS = 1e-7
MOST_CHARGES = 3
MILP_ERROR = 1e-5  # HiGHS keeps limits to 1e-6, so a program's answer counts as better only by more than that


class TooManyWalksError(Exception):
    """More walks than this brute force is willing to try."""


@dataclass
class _Walk:
    """A walk so far; ``cost``, ``time`` and ``charge`` are the least, least and most that any charging on it could give."""

    node: int
    steps: list[tuple[str, int]]  # ("drive", edge) or ("plug", outlet)
    cost: float
    charge: float
    time: float
    b: float
    seen: dict[int, float]  # nodes since the last charge, with the retreat there
    plugs: int


def least_cost(world: World, *, most_walks: int = 200_000) -> float:
    """The least cost, inf where no walk of at most ``MOST_CHARGES`` charges keeps the rules."""
    r = _retreats(world)
    best = math.inf
    n_walks = 0
    stack = [_Walk(world.start, [], 0.0, world.charge, 0.0, r[world.start], {world.start: r[world.start]}, 0)]
    if world.charge < world.reserve - EPS:
        return math.inf
    while stack:
        walk = stack.pop()
        n_walks += 1
        if n_walks > most_walks:
            raise TooManyWalksError
        if walk.cost >= best - 1e-12 or walk.time > world.latest + EPS:
            continue
        if walk.node in world.goals:
            cost = _best_charging(world, walk.steps, r)
            if cost < best - (MILP_ERROR if walk.plugs > 1 else 0.0):
                best = cost
        stack.extend(_driven(world, walk, r))
        stack.extend(_plugged_in(world, walk))
    return best


def _driven(world: World, walk: _Walk, r: list[float]) -> list[_Walk]:
    found = []
    for i, e in enumerate(world.pieces):
        if e.u != walk.node or not e.passable:
            continue
        back = _back(world, i)
        need = e.energy + (back + walk.b if world.way_back and e.unverified else 0.0)
        if walk.charge - world.reserve < need - EPS or walk.time + e.time > e.closes + EPS:
            continue
        b = min(r[e.v], walk.b + back)
        if e.v in walk.seen and not (world.way_back and b < walk.seen[e.v] - 1e-12):
            continue
        cost, seen = walk.cost + e.time + e.extra, {**walk.seen, e.v: b}
        found.append(_Walk(e.v, [*walk.steps, ("drive", i)], cost, walk.charge - e.energy, walk.time + e.time, b, seen, walk.plugs))
    return found


def _plugged_in(world: World, walk: _Walk) -> list[_Walk]:
    found = []
    for i, o in enumerate(world.outlets):
        begins = max(walk.time, o.opens) + o.setup
        is_useless = bool(walk.steps) and walk.steps[-1] == ("plug", i)
        if o.node != walk.node or walk.plugs == MOST_CHARGES or is_useless or begins > o.closes:
            continue
        charge = max(walk.charge, min(o.stretches[-1][0], world.capacity))
        cost = walk.cost + begins - walk.time
        found.append(_Walk(o.node, [*walk.steps, ("plug", i)], cost, charge, begins, walk.b, {o.node: walk.b}, walk.plugs + 1))
    return found


def _retreats(world: World) -> list[float]:
    r = [math.inf] * world.n
    for v in world.refuges:
        r[v] = 0.0
    for _ in range(world.n):
        for e in world.pieces:
            if e.passable and not e.unverified and e.closes >= world.retreats_until:
                r[e.u] = min(r[e.u], e.energy + r[e.v])
    return r


def _back(world: World, i: int) -> float:
    e = world.pieces[i]
    if e.back < 0:
        return math.inf
    other = world.pieces[e.back]
    sure = e.back_sure if e.back_sure is not None else e.unverified or not other.unverified
    return other.energy if other.passable and sure and other.closes >= world.retreats_until else math.inf


def _best_charging(world: World, walk: list[tuple[str, int]], r: list[float]) -> float:
    """The least cost of one walk over all ways to share out the charging; inf where none keeps the rules."""
    legs: list[dict[str, Any]] = [{"outlet": None, "need": world.reserve, "used": 0.0, "time": 0.0, "extra": 0.0, "slack": math.inf}]
    b = r[world.start]
    for kind, i in walk:
        leg = legs[-1]
        if kind == "plug":
            legs.append({"outlet": world.outlets[i], "need": world.reserve, "used": 0.0, "time": 0.0, "extra": 0.0, "slack": math.inf})
            continue
        e = world.pieces[i]
        need = e.energy + (_back(world, i) + b if world.way_back and e.unverified else 0.0)
        leg["need"] = max(leg["need"], leg["used"] + need + world.reserve)  # charge with which the leg must begin
        leg["used"] += e.energy
        leg["time"] += e.time
        leg["extra"] += e.extra
        leg["slack"] = min(leg["slack"], e.closes - leg["time"])  # the leg must begin by then
        b = min(r[e.v], b + _back(world, i))
    legs[-1]["slack"] = min(legs[-1]["slack"], world.latest - legs[-1]["time"])
    first = legs[0]
    if world.charge < first["need"] - EPS or first["slack"] < -EPS:
        return math.inf
    if len(legs) == 1:
        return float(first["time"] + first["extra"])
    extra = sum(leg["extra"] for leg in legs)
    if len(legs) == 2:
        return _one_charge(world, first["time"], world.charge - first["used"], legs[1]) + float(extra)
    return _many_charges(world, legs) + float(extra)


def _seconds_to(outlet: Outlet, charge: float) -> float:
    """Seconds on the outlet from empty to ``charge``."""
    total, low = 0.0, 0.0
    for upto, s_per_wh in outlet.stretches:
        total += max(0.0, min(charge, upto) - low) * s_per_wh
        low = upto
    return total


def _one_charge(world: World, time: float, charge: float, leg: dict[str, Any]) -> float:
    o: Outlet = leg["outlet"]
    top = max(charge, min(o.stretches[-1][0], world.capacity))
    if leg["need"] > top + EPS:
        return math.inf
    leave = min(max(charge, leg["need"]), top)
    leaves = max(time, o.opens) + o.setup + (_seconds_to(o, leave) - _seconds_to(o, charge) if leave > charge else 0.0)
    if leaves > o.closes + EPS or leaves > leg["slack"] + EPS:
        return math.inf
    return float(leaves + leg["time"])


def _many_charges(world: World, legs: list[dict[str, Any]]) -> float:
    """The charges of one walk as a mixed-integer program: arrive in stretch j of the curve (binary), leave above it (convex)."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    names: dict[tuple[Any, ...], int] = {}

    def var(*key: Any) -> int:
        return names.setdefault(key, len(names))

    rows: list[tuple[dict[int, float], float, float]] = []
    binaries: list[int] = []
    horizon = 1e3
    for k, leg in enumerate(legs[1:], 1):
        o: Outlet = leg["outlet"]
        arrive, leave, leaves, begin, position, end = (var(x, k) for x in ("arrive", "leave", "leaves", "begin", "position", "end"))
        before = legs[k - 1]
        if k == 1:
            rows.append(({arrive: 1.0}, world.charge - before["used"], world.charge - before["used"]))
            rows.append(({begin: 1.0}, before["time"], math.inf))
        else:
            rows.append(({arrive: 1.0, var("leave", k - 1): -1.0}, -before["used"], -before["used"]))
            rows.append(({begin: 1.0, var("leaves", k - 1): -1.0}, before["time"], math.inf))
        rows.append(({begin: 1.0}, o.opens, math.inf))
        rows.append(({leave: 1.0}, leg["need"], math.inf))
        rows.append(({leave: 1.0, arrive: -1.0}, 0.0, math.inf))
        rows.append(({leaves: 1.0}, -math.inf, min(o.closes, leg["slack"], horizon)))
        # leaving: begin + setup + end − position, end >= seconds_to(leave), position = seconds_to(arrive)
        rows.append(({leaves: 1.0, begin: -1.0, end: -1.0, position: 1.0}, o.setup, o.setup))
        top = min(o.stretches[-1][0], world.capacity)
        rows.append(({leave: 1.0}, -math.inf, top))
        low, at = 0.0, 0.0
        picks = {}
        for j, (upto, s_per_wh) in enumerate(o.stretches):
            rows.append(({end: 1.0, leave: -s_per_wh}, at - s_per_wh * low, math.inf))
            pick = var("pick", k, j)
            binaries.append(pick)
            picks[pick] = 1.0
            m = 500.0  # over any charge and any time on a curve in these worlds; no larger, since solvers round binaries
            rows.append(({arrive: 1.0, pick: -m}, low - m, math.inf))
            rows.append(({arrive: 1.0, pick: m}, -math.inf, upto + m))
            rows.append(({position: 1.0, arrive: -s_per_wh, pick: -m}, at - s_per_wh * low - m, math.inf))
            rows.append(({position: 1.0, arrive: -s_per_wh, pick: m}, -math.inf, at - s_per_wh * low + m))
            at += (upto - low) * s_per_wh
            low = upto
        rows.append((picks, 1.0, 1.0))
    n = len(names)
    matrix = np.zeros((len(rows), n))
    for i, (row, _, _) in enumerate(rows):
        for j, value in row.items():
            matrix[i, j] = value
    goal = np.zeros(n)
    goal[names["leaves", len(legs) - 1]] = 1.0
    kind = np.zeros(n)
    kind[binaries] = 1
    upper = np.full(n, horizon)
    upper[binaries] = 1
    found = milp(
        goal,
        constraints=LinearConstraint(matrix, [low for _, low, _ in rows], [high for _, _, high in rows]),
        integrality=kind,
        bounds=Bounds(np.zeros(n), upper),
        options={"mip_rel_gap": 0.0},
    )
    return float(found.x[names["leaves", len(legs) - 1]] + legs[-1]["time"]) if found.status == 0 else math.inf
