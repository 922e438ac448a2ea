"""The rehearsal: certain failures break always, no noise breaks never, shares agree with what can be worked out."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace

import pytest
from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van
from random_moves import random_move
from scipy.stats import binomtest

from rollroute.errors import InputError
from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.move_hazards import Hazard
from rollroute.planning.changes import replan
from rollroute.planning.make_plan import make_plan
from rollroute.planning.rehearsal_odds import NO_NOISE, ODDS
from rollroute.planning.rehearse import rehearsal_document, rehearsal_lines, rehearse, share_interval


def rollers(*ways, **fields):
    """Riders A, B ... one kilometre from N, each with an escort, each by the way given."""
    names = "ABCDEF"[: len(ways)]
    a_move = move([rider(n, **fields) for n in names], [shelter("N")], [], [escort(f"E{n}") for n in names])
    where = dict.fromkeys(names, 1.0) | {f"E{n}": 1.0 for n in names} | {"N": 0.0}
    travel = line_travel(a_move, where, rolls={(n, "N"): w for n, w in zip(names, ways, strict=True)})
    return a_move, travel, make_plan(a_move, travel)


def riders_in_vans(**fields):
    """A and B at kilometres 2 and 4, each with an outlet all night; one van with two positions."""
    a_move = move([rider(n, chair_length_cm=120, life_support_min=200, **fields) for n in "AB"], [shelter("N")], [van("V1")])
    travel = line_travel(a_move, {"A": 2, "B": 4, "N": 0, "V1": 0})
    plan = make_plan(a_move, travel)
    assert not plan.not_served
    return a_move, travel, plan


def test_without_noise_nothing_breaks():
    """30 random moves, many with closings, escorts, intake, latest times: a plan that the auditor passes plays to its end."""
    for seed in range(800, 830):
        a_move, travel = random_move(seed)

        played = rehearse(make_plan(a_move, travel), a_move, travel, runs=1, odds=NO_NOISE)

        assert played.breakers == (), seed
        assert played.good == 1


@pytest.mark.parametrize(
    ("chance", "kind", "name"),
    [
        ({"van_fails": 1.0}, "van", "V1"),
        ({"power_fails": 1.0}, "shelter", "power at N"),
        ({"outlet_dead": 1.0}, "outlet", "N, A 1"),
    ],
)
def test_a_certain_failure_breaks_always_and_is_named(chance, kind, name):
    """Nothing else goes wrong: it alone is on the list."""
    a_move, travel, plan = riders_in_vans()

    played = rehearse(plan, a_move, travel, runs=40, odds=replace(NO_NOISE, **chance))

    assert played.good == 0
    assert (played.breakers[0].kind, played.breakers[0].name, played.breakers[0].share) == (kind, name, 1.0)
    assert {b.kind for b in played.breakers} == {kind}


def test_an_escort_who_does_not_come_breaks_the_roll():
    """Both are named, each for the rider who waits."""
    a_move, travel, plan = rollers(roll_way(15), roll_way(15))

    played = rehearse(plan, a_move, travel, runs=10, odds=replace(NO_NOISE, escort_absent=1.0))

    assert played.good == 0
    assert {(b.kind, b.runs) for b in played.breakers} == {("escort", 10)}


def test_two_questions_agree_with_the_product_of_their_chances():
    """Surprisals 0.2 and 0.5: both ways are open with exp(-0.7) = 0.4966; A's is blocked with 0.1813, B's with 0.3935."""
    ways = (roll_way(15, doubt=0.2, unverified=("gate at A",)), roll_way(15, doubt=0.5, unverified=("kerb at B",)))
    a_move, travel, plan = rollers(*ways)
    n = 4000

    played = rehearse(plan, a_move, travel, runs=n, odds=replace(NO_NOISE, doubt_share=1.0))

    def within(share, chance):
        return abs(share - chance) < 4 * math.sqrt(chance * (1 - chance) / n)

    assert within(played.share, math.exp(-0.7))
    assert [b.name for b in played.breakers] == ["kerb at B", "gate at A"]
    assert within(played.breakers[0].share, 1 - math.exp(-0.5))
    assert within(played.breakers[1].share, 1 - math.exp(-0.2))
    assert dict(played.riders) == {"B": played.breakers[0].share, "A": played.breakers[1].share}
    assert played.low < played.share < played.high


def test_a_van_and_a_gate_agree_with_the_product_of_their_chances():
    """The van fails with 0.3, always before the last one is out; A's loading zone is blocked with 1 - exp(-0.4)."""
    a_move, travel, plan = riders_in_vans()
    zones = {**travel.pickups, "A": tuple(replace(z, doubt=0.4) for z in travel.pickups["A"])}
    n = 3000

    played = rehearse(plan, a_move, replace(travel, pickups=zones), runs=n, odds=replace(NO_NOISE, van_fails=0.3, doubt_share=1.0))

    # With A's zone blocked, a van that fails may already have brought B: only the van's failures with A in the plan are certain.
    least, most = 0.7 * math.exp(-0.4), math.exp(-0.4)
    assert least - 4 * math.sqrt(0.25 / n) < played.share < most
    assert abs(played.share - least) < 4 * math.sqrt(least * (1 - least) / n)


def test_planned_minutes_are_the_95_percent_case():
    """One roll that has to be in by exactly its planned minutes: in time in 95 % of runs, whatever the expected minutes are."""
    a_move, travel, plan = rollers(roll_way(40), latest_arrival="19:20")
    n = 4000

    played = rehearse(plan, a_move, travel, runs=n, odds=replace(NO_NOISE, keeps_roll_pace=False))

    assert abs(played.share - 0.95) < 4 * math.sqrt(0.95 * 0.05 / n)
    assert [(b.kind, b.name) for b in played.breakers] == [("rider", "A")]


def test_a_late_rider_is_named_not_the_van_that_waits():
    """A and B have to be inside when the plan has them inside; both are always late, the van is not: riders are on the list alone."""
    a_move, travel, plan = riders_in_vans()
    last = max(r.arrive for r in plan.riders)[11:16]
    tight = replace(a_move, riders=tuple(r.model_copy(update={"latest_arrival": a_move.settings.moment(last)}) for r in a_move.riders))

    played = rehearse(plan, tight, travel, runs=30, odds=replace(NO_NOISE, rider_late=1.0))

    assert played.good < 30
    assert {b.kind for b in played.breakers} == {"rider"}


def test_whoever_is_fetched_first_is_out_only_when_the_van_has_left_the_area():
    """A and B in an area that closes at minute 45; the van loads both, B last. A's snag-free loading does not save A from B's delay."""
    ring = ((1.0, -1.0), (5.0, -1.0), (5.0, 1.0), (1.0, 1.0), (1.0, -1.0))
    hazard = Hazard(label="water", kind="closed", rings=(ring,), starts=START + dt.timedelta(minutes=45))
    a_move = move([rider(n, chair_length_cm=120) for n in "AB"], [shelter("N")], [van("V1")], hazards=[hazard])
    travel = replace(line_travel(a_move, {"A": 2, "B": 4, "N": 0, "V1": 0}), exit_min={"A": 2.0, "B": 6.0})
    plan = make_plan(a_move, travel)
    loads = [s.riders for s in plan.vans[0].stops if s.kind == "load"]
    assert len(plan.vans[0].stops) == 4
    assert [s.kind for s in plan.vans[0].stops] == ["load", "load", "unload", "unload"]

    played = rehearse(plan, a_move, travel, runs=30, odds=replace(NO_NOISE, van_late=1.0, van_late_mean_min=60.0))

    both = [b for b in played.breakers if b.kind == "van"]
    assert set(both[0].riders) == {i for riders in loads for i in riders}


def test_a_weak_battery_gives_out_where_the_plan_is_near_the_reserve():
    """From 30 % to 20 % planned: a battery that holds under a third gives out. Share alike between 0 and 1: with 10/30 of it."""
    a_move, travel, plan = rollers(roll_way(15, soc_arrival=0.20), charge="30%")
    n = 2000
    chair = find_chair("en12184-b")
    low = parse_charge("30%", chair.gauge, battery_age_years=chair.battery.age_years).low

    played = rehearse(plan, a_move, travel, runs=n, odds=replace(NO_NOISE, weak_battery=1.0, weak_health_least=0.0))

    chance = 1 - max(0.0, low - 0.20) / low
    assert abs(played.share - chance) < 4 * math.sqrt(chance * (1 - chance) / n) + 1e-12
    assert {b.kind for b in played.breakers} <= {"rider"}


def test_the_interval_is_wilsons():
    """Against scipy."""
    for good, runs in ((0, 10), (7, 10), (500, 500), (250, 500), (1, 1)):
        theirs = binomtest(good, runs).proportion_ci(0.95, method="wilson")

        assert share_interval(good, runs) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_the_same_seed_plays_the_same_evenings():
    """Also the first runs of a longer rehearsal; another seed plays others. All of it is plain JSON."""
    a_move, travel = random_move(8)
    plan = make_plan(a_move, travel)

    one, two = rehearse(plan, a_move, travel, runs=60), rehearse(plan, a_move, travel, runs=60)

    assert one == two
    assert rehearse(plan, a_move, travel, runs=60, seed=2) != one
    assert json.loads(json.dumps(rehearsal_document(one)))["runs"] == 60
    assert rehearsal_lines(one)[0].startswith("Rehearsal: everybody in the plan arrived in time and charged in ")


def test_more_of_any_trouble_never_helps():
    """Each chance at its assumed value against none, everything else as assumed: the share does not rise beyond chance's own width.

    Two shares near 0.7 of 400 runs differ by less than 0.07 in 95 % of cases; the draws are mostly the same, so that 0.05 is ample.
    """
    a_move, travel, plan = riders_in_vans()
    base = rehearse(plan, a_move, travel, runs=400, odds=ODDS)
    for name in ("snag", "van_late", "van_fails", "outlet_dead", "power_fails", "rider_late"):
        less = rehearse(plan, a_move, travel, runs=400, odds=replace(ODDS, **{name: 0.0}))

        assert less.share >= base.share - 0.05, name


def test_no_run_is_no_rehearsal():
    """--rehearse 0 is refused."""
    a_move, travel, plan = riders_in_vans()

    with pytest.raises(InputError, match="at least one"):
        rehearse(plan, a_move, travel, runs=0)


def test_in_a_plan_made_anew_chance_begins_at_the_news():
    """At minute 60 everybody is inside: nothing on the road can break it any more. At minute 12 A is being loaded: the van still can."""
    a_move, travel, plan = riders_in_vans()
    odds = replace(NO_NOISE, van_fails=1.0, van_late=1.0, rider_late=1.0, snag=1.0)

    assert rehearse(replan(plan, a_move, travel, now=60), a_move, travel, runs=20, odds=odds).good == 20
    assert rehearse(replan(plan, a_move, travel, now=12), a_move, travel, runs=20, odds=odds).good == 0
