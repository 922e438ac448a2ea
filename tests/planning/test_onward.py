"""Ways on from the next place of a path, on the bundled town's map: R09 rolls from Tannery Hall to the school from 18:40, 33 minutes."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.planning.audit import audit
from rollroute.planning.audit_travel import travel_violations
from rollroute.planning.changes import replan
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.onward import _Ahead, with_onward
from rollroute.planning.plan import Plan
from rollroute.planning.roll_ways import RollFinder
from rollroute.planning.travel import TravelTable

SCHOOL, TANNERY, SPORTS = "North Quay School", "Tannery Hall", "Ropewalk Sports Hall"
NOW = 10
Evening = tuple[Move, Network, TravelTable, Plan]


@pytest.fixture(scope="module")
def evening(quillhaven: Network) -> Evening:
    """R09 alone, with everybody who can walk along and no van."""
    found = read_move(data_dir() / "quillhaven")
    rider = next(r for r in found.riders if r.id == "R09").model_copy(update={"life_support_min": float("inf")})
    move = replace(found, riders=(rider,), vans=())
    town = with_power(quillhaven, move.settings.ways.powered)
    travel = NetworkTravel(town).estimate(move, needs_of(move)[0])
    plan = make_plan(move, travel)
    assert (plan.rider("R09").way, plan.rider("R09").shelter) == ("roll", SCHOOL)
    return move, town, travel, plan


def _estimate(move: Move, town: Network) -> tuple[TravelTable, RollFinder]:
    provider = NetworkTravel(town)
    travel = provider.estimate(move, needs_of(move)[0])
    assert provider.finder is not None
    return travel, provider.finder


def _news(evening: Evening, move: Move) -> tuple[TravelTable, RollFinder]:
    travel, finder = _estimate(move, evening[1])
    return with_onward(travel, finder, evening[3], needs_of(move)[0], NOW), finder


def _with_open_sports_hall(move: Move, **school: object) -> Move:
    """The sports hall is open and has fuel; ``school``: what has changed at the school."""
    shelters = []
    for s in move.shelters:
        s = replace(s, **school) if s.name == SCHOOL else s
        shelters.append(replace(s, opens=move.start, generator_fuel_h=20.0) if s.name == SPORTS else s)
    return replace(move, shelters=tuple(shelters))


def test_without_news_the_way_is_the_way_that_was_sent(evening: Evening):
    """The path still holds: its row of the estimates is untouched, and the plan made anew says nothing new."""
    move, _, travel, plan = evening
    table, _ = _news(evening, move)
    assert table.rolls["R09", SCHOOL] == travel.rolls["R09", SCHOOL]
    assert replan(plan, move, table, now=NOW).changes == ()


def test_a_full_goal_turns_the_rider_at_the_next_place_and_the_auditor_drives_along(evening: Evening):
    """The school is full at 18:50: R09, who has left, goes on to the next node of the map and from there to the sports hall.

    The path begins with pieces of the path that was sent; the auditor, with arithmetic of its own, finds time, charge and doubt as told.
    """
    move, town, _, plan = evening
    news = _with_open_sports_hall(move, accessible_places=0)
    table, finder = _news(evening, news)

    later = replan(plan, news, table, now=NOW)

    line, before, way = later.rider("R09"), plan.rider("R09"), table.rolls["R09", SPORTS]
    assert (line.way, line.shelter, line.leave) == ("roll", SPORTS, before.leave)
    assert way.from_min is not None
    assert NOW + 1 <= way.from_min < NOW + 6
    shared = [a == b for a, b in zip(line.path[0].edges, before.path[0].edges, strict=False)]
    assert all(shared[:3])
    assert audit(later, news, table) == []
    assert travel_violations(later, news, table, town) == []
    hurried = replace(line, arrive=(dt.datetime.fromisoformat(line.arrive or "") - dt.timedelta(minutes=2)).isoformat())
    assert {v.rule for v in travel_violations(replace(later, riders=(hurried,)), news, table, town)} == {"rolling"}

    journey = finder.journey(needs_of(news)[0][0], SPORTS, 0.0)  # the sheet begins where the rider is turned
    assert journey.trip.start.node is not None
    assert (journey.trip.conditions.departure - news.start).total_seconds() / 60.0 == pytest.approx(way.from_min)


def test_a_way_that_closes_ahead_is_left_at_the_next_place(evening: Evening):
    """An area half way along closes at once: the way that was sent is gone, and the new one goes round it or there is none."""
    move, town, travel, plan = evening
    edges = travel.rolls["R09", SCHOOL].path[0].edges
    lon, lat = town.node_place(int(town.edge_head[edges[len(edges) * 3 // 4]]))
    ring = tuple((lon + x * 0.0003, lat + y * 0.0002) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)))
    hazard = Hazard(label="news", kind="closed", rings=(ring,), starts=move.start + dt.timedelta(minutes=NOW))
    news = replace(_with_open_sports_hall(move), hazards=(*move.hazards, hazard))

    table, _ = _news(evening, news)
    later = replan(plan, news, table, now=NOW)

    way = table.rolls.get(("R09", SCHOOL))
    assert way is None or (way.from_min is not None and way.path != plan.rider("R09").path)
    assert audit(later, news, table) == []
    assert travel_violations(later, news, table, town) == []


def test_a_kerb_that_was_only_driven_down_is_no_way_home(evening: Evening):
    """A driven edge over which coming back is not sure (``weights.way_back``): no charge that is set aside makes the next place a refuge.

    Nor is it one where the way there was clear and the way back asks something: what was driven has not answered that.
    """
    move, _, _, plan = evening
    _, finder = _estimate(move, evening[1])
    ahead = _Ahead(finder, needs_of(move)[0][0], plan.rider("R09"), 0.0, NOW)
    assert ahead.place is not None
    ahead.trip = replace(ahead.trip, start_is_refuge=True)
    graph, edge = ahead.posed.graph, int(ahead.edges[0])
    sure = np.ones(graph.n_edges, np.bool_)
    ahead.posed = replace(ahead.posed, graph=replace(graph, is_back_sure=sure))
    driven = ahead.edges[: ahead.place.after]
    assert ahead._way_home() == pytest.approx(graph.energy_wh[driven ^ 1].sum() / ahead.posed.scenario.planned_full_wh)

    down_only = sure.copy()
    down_only[edge] = False
    ahead.posed = replace(ahead.posed, graph=replace(graph, is_back_sure=down_only))
    assert math.isinf(ahead._way_home())

    asks_more = graph.is_unverified.copy()
    asks_more[edge], asks_more[edge ^ 1] = False, True
    ahead.posed = replace(ahead.posed, graph=replace(graph, is_back_sure=None, is_unverified=asks_more))
    assert math.isinf(ahead._way_home())


def test_before_leaving_and_after_arriving_nobody_is_under_way(evening: Evening):
    """No minute of the news, or one after the arrival: the estimates stay as they are."""
    move, town, travel, plan = evening
    _, finder = _estimate(move, town)
    for now in (None, 60):
        assert with_onward(travel, finder, plan, needs_of(move)[0], now) is not None
        assert with_onward(travel, finder, plan, needs_of(move)[0], now).rolls == travel.rolls
