"""Papers that several tests read, written once: the small move, its hostile twin, and the bundled town with its map."""

from __future__ import annotations

import dataclasses

import pytest
from move_papers import Papers, hostile_move, small_move, write

from rollroute.inputs.move_folder import read_move
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.planning.make_plan import needs_of
from rollroute.planning.network_travel import NetworkTravel

TOWN = data_dir() / "quillhaven"


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Papers:
    """The small move's papers."""
    return write(*small_move(), tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Papers:
    """The hostile move's papers."""
    return write(*hostile_move(), tmp_path_factory.mktemp("hostile"))


@pytest.fixture(scope="session")
def town(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Papers:
    """The bundled move with one van, so that somebody rolls; little work for the solver, since its papers are what is looked at."""
    made = read_move(TOWN)
    effort = made.settings.effort.model_copy(update={"exact_work": 0.2, "search_rounds": 50})
    made = dataclasses.replace(made, vans=made.vans[:1], settings=made.settings.model_copy(update={"effort": effort}))
    provider = NetworkTravel(with_power(quillhaven, made.settings.ways.powered))
    travel = provider.estimate(made, needs_of(made)[0])
    return write(made, travel, tmp_path_factory.mktemp("town"), finder=provider.finder)
