"""One thing failing alone: who is saved by what, and who is left, worked out by hand and against brute force."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

from every_plan import TooManyError, best_tiers
from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van
from random_moves import random_move

from rollroute.inputs.move_hazards import Hazard
from rollroute.planning.changes import replan
from rollroute.planning.fail_one import fail_one, fail_one_document, fail_one_lines
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.options import build_problem


def ride_world(**fields):
    """R1 at kilometre 3, R2 at 4, shelter N at 0, two vans at 0 that take one chair each; 2 min per km, 10 to load, 5 to unload."""
    riders = [rider(i, chair_length_cm=120, **fields) for i in ("R1", "R2")]
    a_move = move(riders, [shelter("N")], [van("V1", positions=1), van("V2", positions=1)])
    travel = line_travel(a_move, {"R1": 3, "R2": 4, "N": 0, "V1": 0, "V2": 0})
    return a_move, travel, make_plan(a_move, travel)


def flood(west: float, east: float, minute: float) -> Hazard:
    ring = ((west, -1.0), (east, -1.0), (east, 1.0), (west, 1.0), (west, -1.0))
    return Hazard(label="water", kind="closed", rings=(ring,), starts=START + dt.timedelta(minutes=minute))


def roll_world(closes: float, retreat: str | None = None, vans: int = 1):
    """A, 1 km from N in an area that closes at minute ``closes``, rolls 15 min with one unverified gate; V1 stands at N."""
    places, water = [shelter("N"), shelter("M")], [flood(0.5, 1.5, closes)]
    a_move = move([rider("A", chair_length_cm=120)], places, [van("V1")][:vans], [escort("E1")], hazards=water)
    way = roll_way(15, doubt=0.1, unverified=("gate",), retreat=retreat, leave_area_min=8.0)
    travel = line_travel(a_move, {"A": 1, "N": 0, "M": 3, "V1": 0, "E1": 1}, rolls={("A", "N"): way})
    travel = replace(travel, exit_min={"A": 3.0})
    plan = make_plan(a_move, replace(travel, pickups={}))  # as if no van were there: the way that is asked about is the roll
    return a_move, travel, plan


def test_one_van_of_two_can_fail_at_any_moment():
    """Without a limit the other van has time for everybody, also for whoever is aboard where the van stands."""
    a_move, travel, plan = ride_world()

    result = fail_one(plan, a_move, travel)

    assert result.left == ()
    assert [(f.name, f.moment is None) for f in result.failures] == [("V1", True), ("V1", False), ("V2", True), ("V2", False)]
    assert fail_one_lines(result) == [
        "One thing failing: 0 unverified places and 2 vans, each failing alone: "
        "0 riders without an open refuge or a van that has time to fetch them."
    ]
    assert json.loads(json.dumps(fail_one_document(result)))["left"] == []


def test_whoever_is_aboard_is_fetched_where_the_van_stands():
    """V1 has loaded R1 by minute 16 and fails. V2 is at kilometre 4 (loads R2 8-18), brings R2 to N (26-31) and is at R1 at 37."""
    a_move, travel, plan = ride_world()
    own = plan.rider("R1").van

    failure = next(f for f in fail_one(plan, a_move, travel).failures if f.name == own and f.moment is not None)

    other = plan.rider("R2").van
    assert [(s.rider, s.how) for s in failure.saved] == [("R1", f"{other} can load them at 19:17")]


def test_a_limit_that_the_other_van_can_not_keep_leaves_somebody():
    """Inside by 19:20 (minute 40): one van brings R1 by 27 or R2 by 31, both by 58: whichever van fails, one rider is left."""
    a_move, travel, plan = ride_world(latest_arrival="19:20")
    assert not plan.not_served

    result = fail_one(plan, a_move, travel)

    assert all(len(f.left) == 1 for f in result.failures)
    assert "no other van or way has time and room before 19:20" in " ".join(fail_one_lines(result))
    assert fail_one_lines(result)[0].startswith(
        "One thing failing: 0 unverified places and 2 vans, each failing alone: 2 riders can be left:"
    )


def test_a_start_that_stays_open_is_a_refuge():
    """No area closes: whoever meets a shut gate goes home."""
    a_move, travel, plan = roll_world(10_000.0)
    a_move = replace(a_move, hazards=())

    result = fail_one(plan, a_move, travel)

    assert [(f.kind, f.name) for f in result.failures if f.kind == "place"] == [("place", "gate")]
    assert result.failures[0].saved[0].how == "turns back to the start, which stays open"


def test_a_promised_refuge_counts_if_it_is_an_open_shelter():
    """M is open; a shelter without places, or a name that is no shelter of the move, is not counted on."""
    a_move, travel, plan = roll_world(60.0, retreat="M")

    assert fail_one(plan, a_move, travel).failures[0].saved[0].how == "turns back to M, which is open"

    full = replace(a_move, shelters=tuple(replace(s, accessible_places=0) if s.name == "M" else s for s in a_move.shelters))
    assert "turns back to M" not in str(fail_one(plan, full, travel).failures[0])


def test_a_van_has_time_to_fetch_whoever_comes_back_or_has_not():
    """Back at the start by 30; loaded 30-40, out 3 min later: 43. In time for 45, too late for 42."""
    a_move, travel, plan = roll_world(45.0)
    assert fail_one(plan, a_move, travel).failures[0].saved[0].how == "V1 can load them at 19:10"

    a_move, travel, plan = roll_world(42.0)
    result = fail_one(plan, a_move, travel)
    assert result.left == ("A",)
    assert fail_one_lines(result)[1] == "  place gate turns out bad: A: no other van or way has time and room before 19:22"


def test_without_a_van_nobody_can_fetch():
    """The plan says who and why, not nothing."""
    a_move, travel, plan = roll_world(60.0, vans=0)

    assert fail_one(plan, a_move, travel).left == ("A",)


def test_a_van_that_never_comes_leaves_somebody_exactly_where_every_plan_without_it_does():
    """Against brute force over all plans of the move without that van, on random moves."""
    compared = 0
    for seed in range(900, 945):
        a_move, travel = random_move(seed, most_riders=4)
        plan = make_plan(a_move, travel)
        for failure in (f for f in fail_one(plan, a_move, travel).failures if f.kind == "van" and f.moment is None):
            without = replace(a_move, vans=tuple(v for v in a_move.vans if v.id != failure.name))
            try:
                best = best_tiers(build_problem(without, needs_of(without)[0], travel))
            except TooManyError:
                continue

            assert (failure.left == ()) == (best[:3] == tuple(t.value for t in plan.tiers[:3])), (seed, failure)
            compared += 1
    assert compared >= 15


def test_a_failing_van_meets_its_own_riders_and_nobody_else_has_to_be_saved():
    """Before it starts all of them are met; later those who are inside are not."""
    for seed in range(900, 915):
        a_move, travel = random_move(seed, most_riders=4)
        plan = make_plan(a_move, travel)
        for failure in (f for f in fail_one(plan, a_move, travel).failures if f.kind == "van"):
            met = {s.rider for s in (*failure.saved, *failure.left)}
            of_van = {r.id for r in plan.riders if r.van == failure.name}
            inside = {r.id for r in plan.riders if failure.moment is not None and r.arrive is not None and r.arrive <= failure.moment}
            assert {s.rider for s in failure.saved} <= of_van - inside, seed
            assert met & of_van == of_van or failure.moment is not None, seed
            assert not met & inside, seed


def test_in_a_plan_made_anew_only_what_is_still_to_come_can_fail():
    """At minute 12 both are being loaded: each van can fail once more, on the way to N; nobody is met who is inside."""
    a_move, travel, plan = ride_world()

    result = fail_one(replan(plan, a_move, travel, now=12), a_move, travel)

    assert [(f.name, f.moment is None) for f in result.failures] == [("V1", False), ("V2", False)]
    assert result.left == ()
    assert fail_one(replan(plan, a_move, travel, now=60), a_move, travel).failures == ()
