"""Networks that several tests share, built once."""

from __future__ import annotations

import datetime as dt

import pytest
from helsinki import helsinki_pbf

from rollroute.assembly import build_from_files
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network

TOWN = data_dir() / "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))


@pytest.fixture(scope="session")
def quillhaven() -> Network:
    """The bundled invented town, with heights."""
    return build_from_files(TOWN / "town.osm.pbf", [TOWN / "heights.tif"], addresses=TOWN / "address_points.csv")


@pytest.fixture(scope="session")
def helsinki() -> Network:
    """Central Helsinki as mapped in 2019, without heights."""
    return build_from_files(helsinki_pbf())
