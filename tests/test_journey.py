"""One trip through the stages: with and without charging on the way."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from rollroute.assembly import Asked, goal_warnings, trip_of
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.tables import data_dir
from rollroute.journey import plan_journey, pose
from rollroute.network.network import Network
from rollroute.output.compose import Stamp, compose_itinerary
from rollroute.output.words import Words
from rollroute.output.words.cautions import trip_cautions
from rollroute.search.find import find_route
from rollroute.search.problem import ProvenNoRouteError

TOWN = data_dir() / "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))
SCHOOL, HALL = "North Quay School", "Ropewalk Sports Hall"


def _asked(goal: str, charge: str) -> Asked:
    return Asked(
        start=SCHOOL, goal=goal, chair_name=str(TOWN / "demo-chair.toml"), charge=charge, temperature_c=6.0, shelters=TOWN / "shelters.csv"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("goal", "charge", "stops"),
    [
        ("Tannery Hall", "45%", 0),  # planned to charge, it would wait at a socket for nothing: 2377 against 2731 s of cost
        (HALL, "50%", 0),
        ("Ferrow Library", "45%", 1),  # the battery is enough, but only by less sure ways
        (HALL, "40%", 1),  # the battery is not enough
    ],
)
def test_nobody_waits_at_a_socket_without_need(quillhaven: Network, goal: str, charge: str, stops: int):
    """The way that is taken costs no more than the best way without charging, nor than the best with it."""
    trip = trip_of(quillhaven, _asked(goal, charge), now=EVENING)
    journey = plan_journey(quillhaven, trip)
    costs = []
    for charges in (False, True):
        posed = pose(journey.network, journey.place_nodes, trip, charges=charges)
        try:
            costs.append(find_route(posed.graph, posed.query).cost_s)
        except ProvenNoRouteError:
            assert not charges
    assert journey.route.cost_s == min(costs)
    assert len(journey.route.stop_uses) == stops


def test_what_may_charge_is_planned_with_more_energy(quillhaven: Network):
    """A socket gives energy, it does not mend a weak battery: use and battery are covered each alone, so the factor of use is larger."""
    trip = trip_of(quillhaven, _asked(HALL, "50%"), now=EVENING)
    journey = plan_journey(quillhaven, trip)
    without, charging = (pose(journey.network, journey.place_nodes, trip, charges=charges) for charges in (False, True))
    assert charging.scenario.factors.energy > without.scenario.factors.energy
    assert not without.query.stops
    assert set(without.query.refuges) == set(charging.query.refuges)


def test_a_goal_where_nobody_can_stay_is_said(quillhaven: Network):
    """The hall opens at 19:30; a goal in an area that closes later is reached, but not to stay in."""
    goal = dataclasses.replace(trip_of(quillhaven, _asked(HALL, "100%"), now=EVENING).goal)
    ring = tuple((goal.lon + x, goal.lat + y) for x, y in ((-1e-4, -1e-4), (1e-4, -1e-4), (1e-4, 1e-4), (-1e-4, 1e-4), (-1e-4, -1e-4)))
    flood = Hazard(label="flood", kind="closed", rings=(ring,), starts=EVENING + dt.timedelta(hours=6))
    trip = dataclasses.replace(trip_of(quillhaven, _asked(HALL, "100%"), now=EVENING), hazards=[flood])
    journey = plan_journey(quillhaven, trip)
    early, in_flood = goal_warnings(journey)
    assert "opens at 2026-03-14 19:30" in early
    assert "closes at 2026-03-15 00:40: flood" in in_flood
    papers = compose_itinerary(journey, Stamp(made_at=EVENING, command="test", code="K7"))
    told = trip_cautions(papers, Words())
    assert "Ask at the goal before leaving: it opens only after the planned arrival." in told
    assert "Do not plan to stay at the goal: it lies in an area that closes." in told
    later = trip_of(quillhaven, _asked(HALL, "100%"), now=EVENING + dt.timedelta(hours=1))
    assert list(goal_warnings(plan_journey(quillhaven, later))) == []


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ({"is_wet": True}, {"is_wet": True}),
        ({"is_dark": True}, {"is_dark": True}),
        ({"no_mains": True}, {"has_mains": False}),
        ({"alone": True}, {"has_escort": False}),
        ({"after_storm": True}, {"after_storm": True}),
        ({"temperature_c": -3.0}, {"temperature_c": -3.0}),
    ],
)
def test_every_condition_that_is_typed_reaches_the_trip(quillhaven: Network, said: dict[str, Any], meant: dict[str, Any]):
    """An option that is read and lost changes no answer, and nobody sees it."""
    plain = trip_of(quillhaven, _asked(HALL, "50%"), now=EVENING)
    trip = trip_of(quillhaven, dataclasses.replace(_asked(HALL, "50%"), **said), now=EVENING)
    assert trip.conditions == dataclasses.replace(plain.conditions, **meant)
    assert trip.conditions != plain.conditions


def test_who_says_that_the_start_is_no_refuge_is_believed(quillhaven: Network):
    """Then no way back may end there."""
    trip = trip_of(quillhaven, dataclasses.replace(_asked(HALL, "100%"), start_is_no_refuge=True), now=EVENING)
    joined = plan_journey(quillhaven, trip)
    alone = dataclasses.replace(trip, sockets=())
    nodes = [joined.start_node, joined.goal_node]
    assert joined.start_node not in pose(joined.network, nodes, alone, charges=False).query.refuges
    assert joined.start_node in pose(joined.network, nodes, dataclasses.replace(alone, start_is_refuge=True), charges=False).query.refuges
