"""A plain walk over the truth: shows that the stories hold.  Not the product's search, and shares nothing with it."""

import heapq
import math
from dataclasses import dataclass
from itertools import combinations

from .model import Town, Way

NOT_FOR_FEET = {"trunk", "construction"}
BUSY = {"secondary", "tertiary"}
TOO_SOFT = {"grass", "mud", "sand", "gravel", "unhewn_cobblestone"}


@dataclass(frozen=True)
class Limits:
    """What a chair of class B takes (EN 12184 sizes, 1:12)."""

    kerb_m: float = 0.05
    grade: float = 1 / 12
    width_m: float = 0.9
    opening_m: float = 0.8


def node_stops(town: Town, ident: int, limits: Limits, on_sidewalk: bool = False) -> str | None:
    """Why the chair can't pass a node; corners count for those who come along a street's own sidewalk."""
    true = town.nodes[ident].truth
    kerb = true.get("kerb")
    places = ("kerb_node", "apron", "corner") if on_sidewalk else ("kerb_node", "apron")
    if kerb and kerb["place"] in places and kerb["height_m"] > limits.kerb_m:
        return "kerb"
    if true.get("locked"):
        return "locked"
    narrowest = min((v for v in (true.get("opening_m"), true.get("door_width_m")) if v is not None), default=9.0)
    if narrowest < limits.opening_m:
        return "opening"
    return "threshold" if true.get("threshold_m", 0) > limits.kerb_m else None


def piece_stops(way: Way, k: int, limits: Limits) -> str | None:
    """Why the chair can't pass the k-th piece of a way."""
    true = way.truth or {}
    if way.tags.get("highway") in NOT_FOR_FEET or true.get("closed"):
        return "closed"
    if true.get("steps"):
        return "steps"
    if way.tags.get("highway") in BUSY and true.get("sidewalk") in ("no", "separate"):
        return "carriageway"
    if true["width_m"] < limits.width_m:
        return "width"
    if true["surface"] in TOO_SOFT:
        return "surface"
    ends = [true.get("end_kerbs", {}).get(str(r), 0.0) for r in way.refs[k : k + 2]]
    if max(ends) > limits.kerb_m:
        return "kerb"
    return "grade" if abs(true["grades"][k]) > limits.grade else None


def graph(town: Town, limits: Limits | None, avoid: tuple[str, ...] = ()) -> dict[int, list[tuple[int, float, int]]]:
    """Neighbours with length and way id; without limits, what anybody on foot may use."""
    out: dict[int, list[tuple[int, float, int]]] = {}
    for way in town.ways:
        if way.truth is None or way.tags.get("highway") in NOT_FOR_FEET or way.tags.get("bridge:name", way.tags.get("name")) in avoid:
            continue
        beside = way.truth.get("sidewalk") in ("both", "left", "right")
        if way.truth.get("area"):
            pairs = [(a, b, 0) for a, b in combinations(way.refs[:-1], 2)]
        else:
            pairs = [(a, b, k) for k, (a, b) in enumerate(zip(way.refs, way.refs[1:], strict=False))]
        for a, b, k in pairs:
            if limits and (node_stops(town, a, limits, beside) or node_stops(town, b, limits, beside)):
                continue
            if limits and not way.truth.get("area") and piece_stops(way, k, limits):
                continue
            length = math.dist(town.xy(a), town.xy(b))
            out.setdefault(a, []).append((b, length, way.id))
            out.setdefault(b, []).append((a, length, way.id))
    return out


def shortest(edges: dict[int, list[tuple[int, float, int]]], start: int, goal: int) -> tuple[float, list[int], list[int]]:
    """Length, nodes and way ids of the shortest walk; infinite where there is none."""
    best, back, heap = {start: 0.0}, {}, [(0.0, start)]
    while heap:
        d, u = heapq.heappop(heap)
        if u == goal:
            break
        if d > best[u]:
            continue
        for v, length, way in edges.get(u, ()):
            if d + length < best.get(v, math.inf):
                best[v], back[v] = d + length, (u, way)
                heapq.heappush(heap, (d + length, v))
    if goal not in best:
        return math.inf, [], []
    nodes, ways = [goal], []
    while nodes[-1] != start:
        u, way = back[nodes[-1]]
        nodes.append(u)
        ways.append(way)
    return best[goal], nodes[::-1], ways[::-1]


def reachable(edges: dict[int, list[tuple[int, float, int]]], start: int) -> set[int]:
    """All nodes that can be reached."""
    seen, todo = {start}, [start]
    while todo:
        for v, _, _ in edges.get(todo.pop(), ()):
            if v not in seen:
                seen.add(v)
                todo.append(v)
    return seen
