"""Play a route again on the plain lists of a ``World``: what it costs, which rule it breaks, and who is stranded if a guess was bad.

Shares no code with rollroute: it reads a route's edges and uses of stops and nothing that the route says about itself.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from worlds import Outlet, World

EPS = 1e-6


@dataclass
class Played:
    """What became of a trip: seconds, watt-hours, cost, and everything that went wrong."""

    time: float = 0.0
    cost: float = 0.0
    charge: float = 0.0
    energy: float = 0.0
    doubt: float = 0.0
    wrong: list[str] = field(default_factory=list)


def replay(world: World, route: Any) -> Played:
    """Drive ``route`` from the first to the last edge, as planned, by the rules of the contract."""
    played = Played(charge=world.charge)
    for kind, node, thing in _moves(world, route):
        if kind == "plug":
            _plug(world, played, node, world.outlets[thing.stop], float(thing.charge_s))
        else:
            _drive(world, played, node, thing)
    at = _place(world, route, len(route.edges))
    if at not in world.goals:
        played.wrong.append(f"ends at {at}, no goal")
    if played.time > world.latest + EPS:
        played.wrong.append(f"arrives at {played.time}, later than {world.latest}")
    return played


def _moves(world: World, route: Any) -> Iterator[tuple[str, int, Any]]:
    """What is done in order: ("plug", node, use of a stop) or ("drive", node, edge)."""
    for i in range(len(route.edges) + 1):
        for use in route.stop_uses:
            if use.before_edge == i:
                yield "plug", _place(world, route, i), use
        if i < len(route.edges):
            yield "drive", _place(world, route, i), int(route.edges[i])


def _place(world: World, route: Any, i: int) -> int:
    return world.start if i == 0 else world.pieces[int(route.edges[i - 1])].v


def _plug(world: World, played: Played, node: int, outlet: Outlet, seconds: float) -> None:
    if outlet.node != node:
        played.wrong.append(f"charges at {outlet.node} while at {node}")
    begins = max(played.time, outlet.opens) + outlet.setup
    charge, left = played.charge, seconds
    for upto, s_per_wh in outlet.stretches:
        gain = max(0.0, min(min(upto, world.capacity) - charge, left / s_per_wh))
        charge, left = charge + gain, left - gain * s_per_wh
    if begins + seconds > outlet.closes + EPS:
        played.wrong.append(f"charges until {begins + seconds}, the outlet closes at {outlet.closes}")
    played.cost += begins + seconds - played.time
    played.time, played.charge = begins + seconds, charge


def _drive(world: World, played: Played, node: int, index: int) -> None:
    piece = world.pieces[index]
    if piece.u != node or not piece.passable:
        played.wrong.append(f"piece {index} does not begin at {node}, or nobody may drive it")
    played.time += piece.time
    played.cost += piece.time + piece.extra
    played.charge -= piece.energy
    played.energy += piece.energy
    played.doubt += piece.doubt
    if played.charge < world.reserve - EPS:
        played.wrong.append(f"after piece {index}: {played.charge} Wh, under the reserve")
    if played.time > piece.closes + EPS:
        played.wrong.append(f"piece {index} closes at {piece.closes}, passed at {played.time}")


@dataclass
class BadGuesses:
    """Of the unverified pieces of a route, played bad one at a time: how many, and who was stranded by how many watt-hours."""

    n_played: int = 0
    stranded: list[tuple[int, float]] = field(default_factory=list)
    n_tight: int = 0  # with less than a tenth of a watt-hour to spare: shows that the rule decides


def fail_one(world: World, route: Any) -> BadGuesses:
    """N − 1: every unverified piece of ``route`` found bad at its far end, the others as hoped.

    The chair stands at the far end, which it can't leave forwards. It comes back over the piece and takes the thriftiest way to a
    refuge over what is known to be good: clear pieces that stay open, and pieces that it has driven itself, the other way round,
    where that way is allowed. Driving at planned consumption, it must be there with the reserve untouched.
    """
    found = BadGuesses()
    known = _Known(world)
    played = Played(charge=world.charge)
    for kind, node, thing in _moves(world, route):
        if kind == "plug":
            _plug(world, played, node, world.outlets[thing.stop], float(thing.charge_s))
            continue
        piece = world.pieces[thing]
        back = _energy_back(world, thing)
        if piece.unverified:
            found.n_played += 1
            spare = played.charge - world.reserve - piece.energy - back - known.to_refuge[node]
            if not spare >= -EPS:
                found.stranded.append((thing, -spare))
            found.n_tight += spare < 0.1
        played.charge -= piece.energy
        known.learn(piece.v, piece.u, back)
    return found


def _energy_back(world: World, index: int) -> float:
    """Energy over the piece just driven, the other way round; inf where that is not allowed or may have closed."""
    piece = world.pieces[index]
    if piece.back < 0:
        return math.inf
    other = world.pieces[piece.back]
    is_known = piece.back_sure if piece.back_sure is not None else (not other.unverified or piece.unverified)
    return other.energy if is_known and other.passable and other.closes >= world.retreats_until else math.inf


class _Known:
    """What is known to be good, and the least energy from everywhere over it to a refuge; grows as the chair drives."""

    def __init__(self, world: World) -> None:
        self.into: dict[int, list[tuple[int, float]]] = {}
        self.to_refuge = [math.inf] * world.n
        for piece in world.pieces:
            if piece.passable and not piece.unverified and piece.closes >= world.retreats_until:
                self.into.setdefault(piece.v, []).append((piece.u, piece.energy))
        self._spread([(0.0, v) for v in world.refuges])

    def learn(self, u: int, v: int, energy: float) -> None:
        """The way from ``u`` to ``v`` is good."""
        self.into.setdefault(v, []).append((u, energy))
        self._spread([(self.to_refuge[v] + energy, u)])

    def _spread(self, heap: list[tuple[float, int]]) -> None:
        while heap:
            energy, at = heapq.heappop(heap)
            if energy < self.to_refuge[at]:
                self.to_refuge[at] = energy
                for u, more in self.into.get(at, ()):
                    heapq.heappush(heap, (energy + more, u))
