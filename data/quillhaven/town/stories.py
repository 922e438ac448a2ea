"""The main story: three ways from the hill to the school, and who has measured what on them."""

import math
from dataclasses import dataclass

from .buildings import Address
from .check import Limits, graph, shortest
from .indoor import Shelter
from .kerbs import surveyed_tags
from .model import Tags, Town, Way
from .plan import LONG_BRIDGE_X
from .sidewalks import crossings_beside, junctions
from .terrain import DECK_END_OFFSET_M, along_river

HOME_STREET = "Larkmount Road"
Walk = tuple[float, list[int], list[int]]


@dataclass(frozen=True)
class Story:
    """Lengths in metres of the ways that the main story compares."""

    home: Address
    foot_m: float
    unverified_m: float
    surveyed_m: float
    ways: frozenset[int]  # of the middle and the long way


def _street_node(town: Town, address: Address) -> int:
    """The end of the address's driveway, else the street in front."""
    ends = [line.refs[-1] for line in town.lines if line.kind == "driveway"]
    return min(ends, key=lambda r: (town.xy(r)[0] - address.x) ** 2 + (town.xy(r)[1] - address.y) ** 2)


def choose_home(town: Town, addresses: list[Address]) -> tuple[Address, int]:
    """A house high on the winding road, with a driveway and a known number."""
    fits = [a for a in addresses if a.street == HOME_STREET and a.in_map]
    open_ways = graph(town, Limits())
    for address in sorted(fits, key=lambda a: (a.x - 440) ** 2 + (a.y - 560) ** 2):
        node = _street_node(town, address)
        close = (town.xy(node)[0] - address.x) ** 2 + (town.xy(node)[1] - address.y) ** 2 < 300
        if close and node in open_ways:
            return address, node
    raise ValueError("no home for the main story")


def _survey(town: Town, nodes: list[int], ways: list[int]) -> None:
    """Somebody has measured this way: heights of kerbs, widths, surfaces."""
    knots = junctions(town)
    for ident in nodes:
        place = town.nodes[ident].truth.get("kerb", {}).get("place")
        if place in ("kerb_node", "apron"):
            _measure_kerb(town, ident, is_line=place == "kerb_node")
        elif place == "corner":
            for r in crossings_beside(town, ident, knots[ident]) or [ident]:
                _measure_kerb(town, r, is_line=False)
    by_id = {w.id: w for w in town.ways}
    for way in (by_id[i] for i in sorted(set(ways))):
        if way.truth is not None and "indoor" not in way.tags:
            way.tags.update(_measured(way))


def _measure_kerb(town: Town, ident: int, *, is_line: bool) -> None:
    """Tag a kerb with its true kind and height; only a node of its own is tagged as a barrier."""
    node = town.nodes[ident]
    for key in ("kerb", "kerb:height", "kerb:left", "kerb:right", "barrier"):
        node.tags.pop(key, None)
    tags = surveyed_tags(node.truth["kerb"]["kind"], node.truth["kerb"]["height_m"])
    node.tags.update({k: v for k, v in tags.items() if is_line or k != "barrier"})


def _measured(way: Way) -> Tags:
    """Width, surface and, where they are tagged on the street, sidewalks of a way, as they are."""
    true = way.truth or {}
    tags = {"surface": true["surface"], "smoothness": true["smoothness"], "width": f"{true['width_m']:g}"}
    if way.tags.get("service") == "driveway":
        tags["incline"] = f"{100 * sum(true['grades']) / len(true['grades']):.0f}%"
    sides = true.get("sidewalk")
    if sides in ("both", "left", "right", "no"):
        for key in ("sidewalk:left", "sidewalk:right"):
            way.tags.pop(key, None)
        tags["sidewalk"] = sides
        if sides != "no":
            tags.update({f"sidewalk:{sides}:width": f"{true['sidewalk_width_m']:g}", f"sidewalk:{sides}:surface": "asphalt"})
    return tags


def _forget(town: Town, keep: set[int]) -> int:
    """Nobody has looked at the kerbs at the north end of Long Bridge yet; returns how many there are."""
    head = along_river(LONG_BRIDGE_X, DECK_END_OFFSET_M)
    n = 0
    for ident, node in town.nodes.items():
        near = math.dist((node.x, node.y), head) < 45
        if near and ident not in keep and node.truth.get("kerb", {}).get("place") == "kerb_node":
            for key in ("kerb", "kerb:height"):
                node.tags.pop(key, None)
            node.tags["barrier"] = "kerb"
            n += 1
    return n


def _has_unverified(town: Town, nodes: list[int]) -> bool:
    """Whether a kerb on the way has no kerb tag."""
    kerbs = [town.nodes[r] for r in nodes if town.nodes[r].truth.get("kerb", {}).get("place") == "kerb_node"]
    return any("kerb" not in k.tags and "kerb:height" not in k.tags for k in kerbs)


def _meeting(town: Town, first: str, second: str) -> int:
    """The node where two streets meet."""
    on = [{r for line in town.lines if line.name == name for r in line.refs} for name in (first, second)]
    return min(on[0] & on[1])


def _after(first: Walk, then: Walk) -> Walk:
    return first[0] + then[0], first[1] + then[1][1:], first[2] + then[2]


def tell(town: Town, addresses: list[Address], shelters: list[Shelter]) -> Story:
    """Survey the long way, forget the kerbs of the middle way, and measure all three."""
    home, start = choose_home(town, addresses)
    goal = shelters[0].entrance
    foot_m = shortest(graph(town, None), start, goal)[0]
    gate = _meeting(town, HOME_STREET, "Low Road")
    minor = tuple({w.tags["name"] for w in town.ways if "name" in w.tags and w.tags["name"] != HOME_STREET})
    hill = shortest(graph(town, Limits(), avoid=minor), start, gate)
    middle = _after(hill, shortest(graph(town, Limits(), avoid=("Weir Footbridge", "Mill Bridge")), gate, goal))
    long = _after(hill, shortest(graph(town, Limits(), avoid=("Weir Footbridge", "Long Bridge")), gate, goal))
    _survey(town, long[1], long[2])
    hidden = _forget(town, set(long[1]))
    if hidden < 2 or not _has_unverified(town, middle[1]):
        raise ValueError("the middle way of the main story has no unverified kerb")
    return Story(home, foot_m, middle[0], long[0], frozenset(middle[2]) | frozenset(long[2]))
