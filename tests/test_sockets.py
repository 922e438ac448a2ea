"""What a list of shelters promises of power: what it leaves open takes the bad side (``inputs.move_shelters.BAD_SIDE``)."""

from __future__ import annotations

import datetime as dt

import pytest

from rollroute.inputs.conditions import Conditions
from rollroute.inputs.move_shelters import ALIASES, read_shelters
from rollroute.inputs.tabular import Table
from rollroute.sockets import Socket, sockets_of

EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))
HALL = {"name": "Hall", "lat": "45.2", "lon": "-37.3", "opens": "18:00", "outlets": "4", "outlet_amps": "15"}
GENERATOR = {"generator_watts": "3000", "generator_fuel_h": "3"}


def sockets(*rows: dict[str, str], has_mains: bool) -> list[Socket]:
    """The sockets of a list, with public mains on or off."""
    shelters, problems = read_shelters(Table("s.csv", list(enumerate(rows, start=2)), tuple(ALIASES), ()), EVENING)
    assert problems == []
    return sockets_of(shelters, Conditions(departure=EVENING, has_mains=has_mains), [])


@pytest.mark.parametrize(
    "left_open",
    [{"outlets": ""}, {"outlets": "0"}, {"opens": ""}, {"has_mains": "no"}, {"has_mains": "no", "generator_watts": "3000"}],
)
def test_what_is_not_known_is_not_promised(left_open: dict[str, str]):
    """Outlets that nobody counted, an opening that nobody gave, a generator whose fuel nobody knows."""
    assert len(sockets(HALL, has_mains=True)) == 1
    assert sockets(HALL | left_open, has_mains=True) == []


def test_of_several_circuits_the_weakest_counts():
    """Nobody knows which outlet will be free: 20 A on one circuit and 15 A on the other are 15 A."""
    (socket,) = sockets(HALL | {"outlet_amps": "20"}, HALL | {"outlet_amps": "15", "circuit": "B"}, has_mains=True)
    assert socket.outlet is not None
    assert socket.outlet.amps == 15.0


@pytest.mark.parametrize(("has_mains", "share_w"), [(True, None), (False, 750.0)])
def test_a_generator_is_shared_by_all_outlets_and_mains_are_not(has_mains: bool, share_w: float | None):
    """3000 W on four outlets: 750 W each."""
    (socket,) = sockets(HALL | GENERATOR, has_mains=has_mains)
    assert socket.outlet is not None
    assert socket.outlet.share_w == share_w


@pytest.mark.parametrize(
    ("closes", "has_mains", "ends"),
    [("", True, None), ("22:00", True, 22), ("", False, 21), ("20:00", False, 20), ("22:00", False, 21)],
)
def test_charging_ends_with_the_hours_or_the_fuel_whichever_is_first(closes: str, has_mains: bool, ends: int | None):
    """Three hours of fuel from 18:00 on end at 21:00."""
    (socket,) = sockets(HALL | GENERATOR | {"closes": closes}, has_mains=has_mains)
    assert (None if socket.closes is None else socket.closes.hour) == ends
