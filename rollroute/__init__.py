"""Routes for power wheelchairs in an emergency: can this chair drive the way, on this charge, and what is not known.

Nouns and verbs, in the order of their use; names are loaded when they are first used, so that importing the package stays quick.

>>> import rollroute as rr
>>> town = rr.data_dir() / "quillhaven"
>>> network = rr.build_network(rr.read_map(town / "town.osm.pbf"), rr.read_terrain([town / "heights.tif"]))
>>> chair = rr.find_chair("en12184-b")
>>> trip = rr.Trip(
...     start=rr.find_place("11 Larkmount Road", addresses=network.about["addresses"]),
...     goal=rr.find_place("45.20144,-37.29588", addresses=[]),
...     chair=chair,
...     reading=rr.parse_charge("90%", chair.gauge),
...     conditions=rr.Conditions(departure=rr.parse_departure("2026-03-14T18:40-02:00", None), temperature_c=6.0),
... )
>>> journey = rr.plan_journey(network, trip)
>>> journey.route.is_proven, bool(journey.route.charge_end_wh > journey.query.reserve_wh)
(True, True)
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rollroute.errors import DataGapError as DataGapError
    from rollroute.errors import InputError as InputError
    from rollroute.errors import NoRouteError as NoRouteError
    from rollroute.errors import RollrouteError as RollrouteError
    from rollroute.inputs.chair import Chair as Chair
    from rollroute.inputs.chair import find_chair as find_chair
    from rollroute.inputs.chair import read_chair as read_chair
    from rollroute.inputs.charge import parse_charge as parse_charge
    from rollroute.inputs.conditions import Conditions as Conditions
    from rollroute.inputs.conditions import parse_departure as parse_departure
    from rollroute.inputs.osm import read_map as read_map
    from rollroute.inputs.tables import data_dir as data_dir
    from rollroute.inputs.terrain import read_terrain as read_terrain
    from rollroute.journey import Journey as Journey
    from rollroute.journey import Trip as Trip
    from rollroute.journey import plan_journey as plan_journey
    from rollroute.network.build import build_network as build_network
    from rollroute.network.gazetteer import find_place as find_place
    from rollroute.network.network import Network as Network
    from rollroute.network.tables import edges as edges
    from rollroute.network.tables import from_osmnx as from_osmnx
    from rollroute.network.tables import to_networkx as to_networkx
    from rollroute.output.compose import Stamp as Stamp
    from rollroute.output.compose import compose_itinerary as compose_itinerary
    from rollroute.output.folder import write_route_folder as write_route_folder
    from rollroute.output.itinerary import Itinerary as Itinerary
    from rollroute.output.itinerary import read_itinerary as read_itinerary
    from rollroute.output.words import Words as Words
    from rollroute.weights.weigh import EdgeWeights as EdgeWeights
    from rollroute.weights.weigh import weigh as weigh

__version__ = "0.1.0"

_HOMES = {
    "rollroute.errors": ("DataGapError", "InputError", "NoRouteError", "RollrouteError"),
    "rollroute.inputs.chair": ("Chair", "find_chair", "read_chair"),
    "rollroute.inputs.charge": ("parse_charge",),
    "rollroute.inputs.conditions": ("Conditions", "parse_departure"),
    "rollroute.inputs.osm": ("read_map",),
    "rollroute.inputs.tables": ("data_dir",),
    "rollroute.inputs.terrain": ("read_terrain",),
    "rollroute.journey": ("Journey", "Trip", "plan_journey"),
    "rollroute.network.build": ("build_network",),
    "rollroute.network.gazetteer": ("find_place",),
    "rollroute.network.network": ("Network",),
    "rollroute.network.tables": ("edges", "from_osmnx", "to_networkx"),
    "rollroute.output.compose": ("Stamp", "compose_itinerary"),
    "rollroute.output.folder": ("write_route_folder",),
    "rollroute.output.itinerary": ("Itinerary", "read_itinerary"),
    "rollroute.output.words": ("Words",),
    "rollroute.weights.weigh": ("EdgeWeights", "weigh"),
}
_HOME_OF = {name: module for module, names in _HOMES.items() for name in names}
__all__ = sorted(_HOME_OF)


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'rollroute' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
