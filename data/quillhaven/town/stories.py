"""The main story: three ways from the hill to the school, and who has measured what on them."""

from dataclasses import dataclass

from .buildings import Address
from .check import Limits, graph, shortest
from .indoor import Shelter
from .kerbs import surveyed_tags
from .model import Town

HOME_STREET = "Larkmount Road"


@dataclass(frozen=True)
class Story:
    """Lengths in metres of the ways that the main story compares."""

    home: Address
    foot_m: float
    unverified_m: float
    surveyed_m: float


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
    by_id = {w.id: w for w in town.ways}
    for ident in nodes:
        node = town.nodes[ident]
        kerb = node.truth.get("kerb")
        if kerb and kerb["place"] in ("kerb_node", "apron"):
            for key in ("kerb", "kerb:height", "barrier"):
                node.tags.pop(key, None)
            node.tags.update(surveyed_tags(kerb["kind"], kerb["height_m"]))
            if kerb["place"] == "apron":
                node.tags.pop("barrier")
    for ident in set(ways):
        way = by_id[ident]
        if way.truth is None or "indoor" in way.tags:
            continue
        if way.tags.get("service") == "driveway":
            way.tags["incline"] = f"{100 * sum(way.truth['grades']) / len(way.truth['grades']):.0f}%"
        way.tags.update({"surface": way.truth["surface"], "smoothness": way.truth["smoothness"], "width": f"{way.truth['width_m']:g}"})
        if way.truth.get("sidewalk") in ("both", "left", "right", "no"):
            for key in ("sidewalk:left", "sidewalk:right"):
                way.tags.pop(key, None)
            way.tags["sidewalk"] = way.truth["sidewalk"]


def _forget(town: Town, nodes: list[int], keep: set[int]) -> int:
    """Nobody has looked at these kerbs yet; returns how many."""
    n = 0
    for ident in nodes:
        node = town.nodes[ident]
        if ident not in keep and node.truth.get("kerb", {}).get("place") == "kerb_node":
            for key in ("kerb", "kerb:height"):
                node.tags.pop(key, None)
            node.tags["barrier"] = "kerb"
            n += 1
    return n


def tell(town: Town, addresses: list[Address], shelters: list[Shelter]) -> Story:
    """Survey the long way, forget the kerbs of the middle way, and measure all three."""
    home, start = choose_home(town, addresses)
    goal = shelters[0].entrance
    on_foot = shortest(graph(town, None), start, goal)
    middle = shortest(graph(town, Limits(), avoid=("Weir Footbridge", "Mill Bridge")), start, goal)
    long = shortest(graph(town, Limits(), avoid=("Weir Footbridge", "Long Bridge")), start, goal)
    _survey(town, long[1], long[2])
    hidden = _forget(town, middle[1], set(long[1]))
    if not hidden:
        raise ValueError("the middle way of the main story has no unverified kerb")
    return Story(home, on_foot[0], middle[0], long[0])
