"""A network as a GeoDataFrame and as a networkx graph in osmnx's conventions, and a network from a graph that a user already has."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from rollroute.errors import InputError
from rollroute.inputs.osm import MapExtract, RawWay
from rollroute.network.build import build_network
from rollroute.network.facts.points import KerbWord, PlaceKind
from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.network.ranks import Rank
from rollroute.network.tags import surface_word

if TYPE_CHECKING:
    import geopandas as gpd
    import networkx as nx

    from rollroute.inputs.terrain import Terrain

CRS = "EPSG:4326"


def edges(network: Network) -> gpd.GeoDataFrame:
    """Every directed edge with its facts: length_m, climb_m, descent_m, grade, surface, width_m, kerb, ranks, OSM way id.

    Row ``e`` is directed edge ``e``. Missing numbers are NaN, missing words ``None``.
    """
    import geopandas as gpd
    import shapely

    pieces = network.pieces
    tail, head = network.edge_tail, network.edge_head
    ends = np.stack([network.nodes.lon[tail], network.nodes.lat[tail], network.nodes.lon[head], network.nodes.lat[head]], axis=1)
    sign = np.where(np.arange(len(tail)) % 2 == 0, 1.0, -1.0)
    grade = np.repeat(pieces.grade, 2) * sign
    length_m = np.repeat(pieces.length_m, 2)
    climb_m = _climbs_m(network)
    rank_names = {int(r): r.name.lower() for r in Rank}
    kind_names = {int(k): k.name.lower() for k in WayKind}
    names = [network.ways.name(row) for row in range(len(network.ways.osm_id))]
    data: dict[str, Any] = {
        "u": tail,
        "v": head,
        "osm_way_id": np.repeat(network.ways.osm_id[pieces.way], 2),
        "name": [names[row] for row in np.repeat(pieces.way, 2)],
        "kind": [kind_names[int(k)] for k in np.repeat(pieces.kind, 2)],
        "length_m": length_m,
        "grade": grade,
        "grade_sd": np.repeat(pieces.grade_sd, 2),
        "grade_rank": [rank_names[int(r)] for r in np.repeat(pieces.grade_rank, 2)],
        "climb_m": climb_m,
        "descent_m": climb_m.reshape(-1, 2)[:, ::-1].ravel(),  # what rises one way falls the other
        "width_m": np.repeat(pieces.width_m, 2),
        "width_rank": [rank_names[int(r)] for r in np.repeat(pieces.width_rank, 2)],
        "surface": [surface_word(int(s)) for s in np.repeat(pieces.surface, 2)],
        "surface_rank": [rank_names[int(r)] for r in np.repeat(pieces.surface_rank, 2)],
        "kerb": _kerb_words(network),
        "kerb_height_m": _kerb_heights(network),
        "level": np.repeat(pieces.level, 2),
    }
    return gpd.GeoDataFrame(data, geometry=shapely.linestrings(ends.reshape(-1, 2, 2)), crs=CRS)


def _climbs_m(network: Network) -> Any:
    """Expected rise of every directed edge: where a grade is an estimate, it may rise here and fall there within its error."""
    p = network.pieces
    rise = np.where(p.grade_sd > 0, p.grade_rise, np.maximum(p.grade, 0.0)).astype(np.float64)
    fall = rise - p.grade
    return np.stack([rise * p.length_m, fall * p.length_m], axis=1).ravel()


def _kerb_rows(network: Network) -> tuple[Any, Any]:
    """(edges, places) of every kerb that an edge meets."""
    touch, places = network.incidence, network.places
    rows = np.flatnonzero(places.kind[touch.place] == PlaceKind.KERB)
    edge = np.concatenate([2 * touch.piece[rows], 2 * touch.piece[rows] + 1])
    return edge, np.concatenate([touch.place[rows], touch.place[rows]])


def _kerb_words(network: Network) -> list[str | None]:
    words: list[str | None] = [None] * (2 * network.n_pieces)
    for edge, place in zip(*_kerb_rows(network), strict=True):
        words[int(edge)] = KerbWord(int(network.places.word[place])).name.lower()
    return words


def _kerb_heights(network: Network) -> Any:
    """The highest kerb that each edge meets; NaN where there is none or nobody knows one of them."""
    height_m = np.full(2 * network.n_pieces, -np.inf)
    edge, place = _kerb_rows(network)
    np.maximum.at(height_m, edge, np.where(np.isnan(network.places.height_m[place]), np.inf, network.places.height_m[place]))
    return np.where(np.isfinite(height_m), height_m, np.nan)


def to_networkx(network: Network, weights: Any | None = None) -> nx.MultiDiGraph:
    """A MultiDiGraph in osmnx's conventions: node ``x``, ``y``; edge ``geometry``, ``length``, ``osmid``; graph ``crs``.

    With ``weights`` (an ``EdgeWeights`` of this network) every edge also carries this chair's numbers: ``time_s``, ``planned_time_s``,
    ``energy_wh``, ``planned_energy_wh``, ``surprisal``, ``is_passable``, ``is_unverified``. Key ``key`` is the edge number's parity.
    """
    import networkx as nx

    graph = nx.MultiDiGraph(crs=CRS, created_with="rollroute", simplified=False)
    nodes = network.nodes
    places = zip(nodes.lon.tolist(), nodes.lat.tolist(), nodes.osm_id.tolist(), strict=True)
    graph.add_nodes_from((i, {"x": x, "y": y, "osmid": osmid}) for i, (x, y, osmid) in enumerate(places))
    table = edges(network)
    fields = ["name", "kind", "grade", "width_m", "surface", "kerb_height_m"]
    columns = {field: table[field].tolist() for field in fields}
    columns |= {"length": table["length_m"].tolist(), "osmid": table["osm_way_id"].tolist(), "geometry": list(table.geometry)}
    columns["edge"] = list(range(len(table)))
    for name in ("time_s", "planned_time_s", "energy_wh", "planned_energy_wh", "surprisal", "is_passable", "is_unverified"):
        if weights is not None:
            columns[name] = getattr(weights, name).tolist()
    keys = list(columns)
    rows = zip(table["u"].tolist(), table["v"].tolist(), zip(*columns.values(), strict=True), strict=True)
    graph.add_edges_from((u, v, dict(zip(keys, row, strict=True))) for u, v, row in rows)
    return graph


def from_osmnx(graph: nx.MultiDiGraph, terrain: Terrain | None = None) -> Network:
    """Build a network from a graph that osmnx made: every edge's attributes are read as the tags of its way.

    Facts that osmnx did not keep (kerbs on nodes, most tags unless ``useful_tags_way`` asked for them) stay unknown.

    Raises
    ------
    InputError
        If the graph is projected, or has no usable edges.
    """
    crs = str(graph.graph.get("crs", CRS)).lower()
    if crs not in ("epsg:4326", "wgs84", "ogc:crs84"):
        raise InputError(f"graph: crs is {graph.graph['crs']}, must be degrees (EPSG:4326). Give the graph before projecting it.")
    extract = MapExtract(source="osmnx graph")
    for node, data in graph.nodes(data=True):
        tags = {k: str(v) for k, v in data.items() if k not in ("x", "y", "street_count", "osmid")}
        if tags:
            extract.node_tags[int(node)] = tags
            extract.node_places[int(node)] = (float(data["x"]), float(data["y"]))
    extract.ways = _ways_of_graph(graph)
    return build_network(extract, terrain)


def _ways_of_graph(graph: nx.MultiDiGraph) -> list[RawWay]:
    ways = []
    seen: set[tuple[Any, ...]] = set()
    made = 0
    for u, v, data in graph.edges(data=True):
        osmid = data.get("osmid", 0)
        identity = (frozenset((u, v)), str(osmid), round(float(data.get("length", 0.0)), 3))
        if identity in seen:
            continue  # the same piece of way, seen from its other end
        seen.add(identity)
        points = list(data["geometry"].coords) if "geometry" in data else [(graph.nodes[n]["x"], graph.nodes[n]["y"]) for n in (u, v)]
        between = [-(made + i + 1) for i in range(len(points) - 2)]
        made += len(between)
        tags = {k: _text(value) for k, value in data.items() if k not in ("geometry", "length", "osmid") and value is not None}
        way_id = int(osmid[0] if isinstance(osmid, list) else osmid)
        ways.append(RawWay(way_id, tags, [int(u), *between, int(v)], [float(p[0]) for p in points], [float(p[1]) for p in points]))
    return ways


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ";".join(str(v) for v in value) if isinstance(value, list) else str(value)
