"""People under way when the news comes: nobody aboard is planned away, and whoever rolls is turned at the next place, not at home."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van

from rollroute.planning.audit import audit
from rollroute.planning.changes import replan
from rollroute.planning.make_plan import make_plan
from rollroute.planning.rehearse import rehearse


def clock(minute: float) -> str:
    return (START + dt.timedelta(minutes=minute)).isoformat(timespec="minutes")


@pytest.fixture
def one_van():
    """R1 at kilometre 3, R2 at 6, shelter N at 0 and the van at 0, two positions; 2 min per km, 10 to load, 5 to unload.

    R2 wants to go to M only, at kilometre 8. R1 goes to N only and is loaded 6-16; R2 can be on at 6 + 10 + 6 = 22.
    """
    riders = [rider("R1", chair_length_cm=120, only_to="N"), rider("R2", chair_length_cm=120, only_to="M")]
    a_move = move(riders, [shelter("N"), shelter("M")], [van("V1")])
    travel = line_travel(a_move, {"R1": 3, "R2": 6, "N": 0, "M": 8, "V1": 0})
    plan = make_plan(a_move, travel)
    assert audit(plan, a_move, travel) == []
    assert (plan.rider("R1").load, plan.rider("R2").way) == (clock(6), "van")
    return a_move, travel, plan


def _full(a_move, name):
    return replace(a_move, shelters=tuple(replace(s, accessible_places=0) if s.name == name else s for s in a_move.shelters))


def test_whoever_is_aboard_and_can_be_taken_nowhere_stays_aboard(one_van):
    """N is full at minute 12, while R1 is being loaded: not served, and still in V1, which fetches R2 with one position less.

    V1 stands at kilometre 3 until 16 and is at R2's door at 22. R2 was told 39 and is told nothing new for 10 min less: loaded 29-39, at M
    (kilometre 8) at 43. The stops say how many positions are taken: by R1 alone, by both, by R1.
    """
    a_move, travel, plan = one_van

    later = replan(plan, _full(a_move, "N"), travel, now=12)

    assert later.rider("R1").status == "not served"
    assert later.rider("R1").reasons[0].startswith("is aboard V1 since 18:46")
    stops = later.vans[0].stops
    assert [(s.kind, s.riders, s.start, s.aboard) for s in stops] == [
        ("load", ("R1",), clock(6), 1),
        ("load", ("R2",), clock(29), 2),
        ("unload", ("R2",), clock(43), 1),
    ]
    assert (stops[1].arrive, stops[1].drive_min) == (clock(22), 6)
    assert audit(later, _full(a_move, "N"), travel) == []
    assert later.extra["changes"]["stuck"]["R1"]["van"] == "V1"


def test_a_van_that_is_full_of_those_who_stay_aboard_fetches_nobody(one_van):
    """The same with one position in V1: nobody else can be loaded before R1 is set down."""
    a_move, travel, _ = one_van
    small = replace(a_move, vans=tuple(v.model_copy(update={"positions": 1}) for v in a_move.vans))
    plan = make_plan(small, travel)
    assert plan.rider("R1").way == plan.rider("R2").way == "van"
    first = min(("R1", "R2"), key=lambda i: plan.rider(i).load)
    news = _full(small, plan.rider(first).shelter)

    later = replan(plan, news, travel, now=12)

    other = "R2" if first == "R1" else "R1"
    assert [later.rider(i).status for i in (first, other)] == ["not served", "not served"]
    assert [s.riders for s in later.vans[0].stops] == [(first,)]
    assert audit(later, news, travel) == []


def test_they_stay_aboard_in_the_next_plan_and_the_one_after(one_van):
    """Nothing new: nothing changes. Once the table says where R1 was set down, R1 is fetched from there, and the position is free again."""
    a_move, travel, plan = one_van
    news = _full(a_move, "N")
    first = replan(plan, news, travel, now=12)

    second = replan(first, news, travel, now=12)
    third = replan(second, news, travel, now=30)

    assert second.changes == () == third.changes
    assert third.vans == first.vans
    assert audit(third, news, travel) == []

    down = tuple(r.model_copy(update={"place": "with the driver at M", "only_to": None}) if r.id == "R1" else r for r in a_move.riders)
    found = replace(news, riders=down)
    fourth = replan(third, found, travel, now=60)
    assert (fourth.rider("R1").shelter, fourth.rider("R1").van) == ("M", "V1")
    assert audit(fourth, found, travel) == []


def test_the_auditor_sees_who_is_still_aboard(one_van):
    """R1 aboard is one position: in a van of one position the same plan loads R2 into a full van. Without word of it R1 is left over."""
    a_move, travel, plan = one_van
    news = _full(a_move, "N")
    later = replan(plan, news, travel, now=12)
    small = replace(news, vans=tuple(v.model_copy(update={"positions": 1}) for v in news.vans))

    assert "positions" in {v.rule for v in audit(later, small, travel)}
    told = {"changes": {**later.extra["changes"], "stuck": {}}}
    assert "vans" in {v.rule for v in audit(replace(later, extra=told), news, travel)}


def test_a_plan_with_somebody_still_aboard_can_be_rehearsed(one_van):
    """The player of rehearsals meets a loading without an unloading."""
    a_move, travel, plan = one_van
    later = replan(plan, _full(a_move, "N"), travel, now=12)

    result = rehearse(later, _full(a_move, "N"), travel, runs=5, seed=1)

    assert result.runs == 5


@pytest.fixture
def rolling():
    """A rolls to N, 40 min from minute 0, with E1, whose home is at kilometre 0. S is the other shelter, from home out of reach."""
    a_move = move([rider("A")], [shelter("N"), shelter("S")], [], [escort("E1")])
    travel = line_travel(a_move, {"A": 0, "N": 2, "S": 1, "E1": 0}, rolls={("A", "N"): roll_way(40)})
    return a_move, travel, make_plan(a_move, travel)


def _turn(travel, minutes):
    """From minute 22, the next place on the way at minute 20, S is reached ``minutes`` after setting off."""
    return replace(travel, rolls={**travel.rolls, ("A", "S"): roll_way(minutes, from_min=22.0)})


def test_whoever_rolls_keeps_going_where_that_leads_somewhere(rolling):
    """S is nearer from the next place; but nothing has changed for N, so nobody calls A."""
    a_move, travel, plan = rolling

    later = replan(plan, a_move, _turn(travel, 30), now=20)

    assert later.rider("A") == plan.rider("A")
    assert later.changes == ()


def test_whoever_rolls_is_turned_at_the_next_place_when_the_goal_is_full(rolling):
    """N is full at minute 20. A turns at the place of minute 22 for S: 30 min in all, with E1, who walks back 12."""
    a_move, travel, plan = rolling
    table = _turn(travel, 30)

    later = replan(plan, _full(a_move, "N"), table, now=20)

    line = later.rider("A")
    assert (line.way, line.shelter, line.leave, line.arrive, line.escorts) == ("roll", "S", clock(0), clock(30), ("E1",))
    assert later.escorts[0].jobs[0].back == clock(30 + 12)
    assert later.changes[0].startswith("A now rolls to S")
    assert "because N can't be used" in later.changes[0]
    assert audit(later, _full(a_move, "N"), table) == []


def test_an_escort_of_somebody_who_is_turned_is_free_only_after_the_longer_way(rolling):
    """B comes up at minute 20 and needs E1, who would have been back from N at 40 + 24 = 64, and is from S at 50 + 12: the later counts."""
    a_move, _, plan = rolling
    bigger = replace(_full(a_move, "N"), riders=(*a_move.riders, rider("B")))
    table = line_travel(bigger, {"A": 0, "B": 0, "N": 2, "S": 1, "E1": 0}, rolls={("B", "S"): roll_way(10)})
    table = replace(_turn(table, 50), rolls={**_turn(table, 50).rolls, ("A", "N"): roll_way(40)})

    later = replan(plan, bigger, table, now=20)

    assert (later.rider("A").shelter, later.rider("A").arrive) == ("S", clock(50))
    assert later.escorts[0].jobs[0].back == clock(62)
    assert later.rider("B").leave == clock(64)
    assert audit(later, bigger, table) == []


def test_without_a_way_from_the_next_place_somebody_is_called(rolling):
    """As before: what to do is said first, and a way to S from home is none for whoever is under way."""
    a_move, travel, plan = rolling
    table = replace(travel, rolls={**travel.rolls, ("A", "S"): roll_way(30)})

    later = replan(plan, _full(a_move, "N"), table, now=20)

    assert later.rider("A").status == "not served"
    assert "reach them by phone" in later.rider("A").reasons[0]
