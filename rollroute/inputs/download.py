"""Fetch a map where there is internet, behind one function, so that everything else works and is tested without it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rollroute.errors import InputError

if TYPE_CHECKING:
    import networkx as nx

Fetcher = Callable[[str | tuple[float, float, float, float]], "nx.MultiDiGraph"]

# Tags of ways that osmnx is asked to keep; what it does not keep stays unknown.
WAY_TAGS = (
    "access", "area", "bridge", "covered", "crossing", "foot", "footway", "highway", "incline", "indoor", "kerb", "layer", "level", "lit",
    "maxspeed", "name", "ramp", "ramp:wheelchair", "service", "sidewalk", "smoothness", "surface", "tunnel", "wheelchair", "width",
)  # fmt: skip
NODE_TAGS = ("access", "automatic_door", "barrier", "crossing", "door", "entrance", "highway", "kerb", "kerb:height", "wheelchair", "width")


def fetch_graph(where: str | tuple[float, float, float, float], fetcher: Fetcher | None = None) -> nx.MultiDiGraph:
    """Fetch the ways of a place (its name) or of a box (west, south, east, north in degrees) as an osmnx graph.

    Parameters
    ----------
    fetcher
        Takes ``where`` and returns the graph; osmnx's own download if not given.

    Raises
    ------
    InputError
        If the box is not a box, or nothing could be fetched.
    """
    if not isinstance(where, str):
        west, south, east, north = where
        if not (-180 <= west < east <= 180 and -90 <= south < north <= 90):
            raise InputError(f"box {where}: give west, south, east, north in degrees, for example -37.32,45.19,-37.28,45.21.")
    try:
        return (fetcher or _from_osmnx)(where)
    except Exception as error:  # whatever a network library raises: the remedy is the same
        raise InputError(f"{where}: nothing could be fetched ({error}). Check the connection, or give a map file.") from error


def _from_osmnx(where: str | tuple[float, float, float, float]) -> Any:
    import osmnx

    kept_ways, kept_nodes = osmnx.settings.useful_tags_way, osmnx.settings.useful_tags_node
    osmnx.settings.useful_tags_way = sorted({*kept_ways, *WAY_TAGS})
    osmnx.settings.useful_tags_node = sorted({*kept_nodes, *NODE_TAGS})
    try:
        if isinstance(where, str):
            return osmnx.graph_from_place(where, network_type="all", simplify=False, retain_all=True)
        return osmnx.graph_from_bbox(where, network_type="all", simplify=False, retain_all=True)
    finally:
        osmnx.settings.useful_tags_way, osmnx.settings.useful_tags_node = kept_ways, kept_nodes
