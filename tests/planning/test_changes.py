"""A plan made anew: the past stays, nothing changes without need, what changes is said and is as little as can be."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import asdict, replace

import pytest
from every_plan import FAR, TooManyError, _Search
from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van
from random_moves import random_move
from random_news import random_news

from rollroute.errors import InputError
from rollroute.planning.audit import audit
from rollroute.planning.change_prices import Prices
from rollroute.planning.changes import difference, now_minute, replan
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.options import build_problem

DOINGS = ("id", "status", "way", "shelter", "van", "leave", "load", "loaded", "unload", "arrive", "pickup", "dropoff")


def clock(minute: float) -> str:
    return (START + dt.timedelta(minutes=minute)).isoformat(timespec="minutes")


def minute(text: str) -> float:
    return (dt.datetime.fromisoformat(text) - START).total_seconds() / 60


@pytest.mark.parametrize("block", range(4))
def test_without_news_nothing_changes(block: int):
    """At any moment of 16 random moves, also of those without a full solution."""
    for seed in range(4 * block, 4 * block + 4):
        a_move, travel = random_move(seed)
        plan = make_plan(a_move, travel)
        for now in (None, 0, 40, 90):
            again = replan(plan, a_move, travel, now=now)

            assert difference(plan, again) == [], (seed, now)
            assert audit(again, a_move, travel) == [], (seed, now)
            assert again.extra["changes"]["price"] == 0


@pytest.mark.parametrize("block", range(4))
def test_with_news_every_rule_and_the_past_are_kept(block: int):
    """28 random moves and news at two moments: 0 violations; who has set off keeps all that has happened, or is told about."""
    for seed in range(200 + 10 * block, 207 + 10 * block):
        a_move, travel = random_move(seed)
        plan = make_plan(a_move, travel)
        for now in (15, 50):
            changed, table, kind = random_news(seed + now, a_move, travel, plan, now)

            later = replan(plan, changed, table, now=now)

            assert [str(v) for v in audit(later, changed, table)] == [], (seed, now, kind)
            assert replan(later, changed, table, now=now).changes == (), (seed, now, kind)  # nothing new: nothing changes again
            happened = later.extra["changes"]["happened"]
            for line in later.riders:
                _check_line(plan, line, happened.get(line.id), now)


def _check_line(plan, line, state, now):
    if state is None:
        assert line.leave is None or minute(line.leave) >= now  # nobody leaves in the past
        return
    before = plan.rider(line.id)
    if line.way is None:  # under way, and there is nowhere to go: what to do is said first
        assert line.status == "not served"
        assert state == "committed" or "plan on from there" in line.reasons[0]
        return
    for name in ("leave", "load", "loaded", "unload", "arrive"):
        moment = getattr(before, name)
        if moment is not None and minute(moment) <= now:
            assert getattr(line, name) == moment, (line.id, name)
    if state in ("aboard", "done"):
        assert (line.way, line.van) == (before.way, before.van)
    if state in ("rolling", "done"):
        assert line.shelter == before.shelter
        assert line.escorts == before.escorts


def test_before_the_start_as_many_are_served_as_by_a_plan_from_scratch():
    """The first three tiers come before the price of changes."""
    for seed in range(400, 408):
        a_move, travel = random_move(seed)
        plan = make_plan(a_move, travel)
        changed, table, kind = random_news(seed, a_move, travel, plan, 0)

        again, fresh = replan(plan, changed, table), make_plan(changed, table)

        assert [t.value for t in again.tiers[:3]] == [t.value for t in fresh.tiers[:3]], (seed, kind)


def test_the_price_is_the_least_among_all_plans():
    """Against brute force: every choice of ways that serves most, priced by this test's own sums (minutes and escorts free of charge)."""
    prices = Prices(minute=0, escort=0)
    compared = 0
    for seed in range(600, 630):
        a_move, travel = random_move(seed, most_riders=3)
        plan = make_plan(a_move, travel)
        changed, table, kind = random_news(seed, a_move, travel, plan, 0)
        problem = build_problem(changed, needs_of(changed)[0], table)
        try:
            service, price = _least_price(problem, plan, prices)
        except TooManyError:
            continue

        again = replan(plan, changed, table, prices=prices)

        assert tuple(t.value for t in again.tiers[:3]) == service, (seed, kind)
        assert again.extra["changes"]["price"] == price, (seed, kind)
        assert again.extra["changes"]["is_proven"]
        compared += 1
    assert compared >= 24


def _least_price(problem, plan, prices):
    """(service tiers, price) of the best plan, over all choices of ways."""
    search = _Search(problem, 20_000)
    best = ((FAR,) * 3, FAR)
    for ways in itertools.product(*([*search.ways[u], None] for u in range(search.n))):
        chosen = [(u, w) for u, w in enumerate(ways) if w is not None]
        figures = search._evaluate(chosen, left=[u for u, w in enumerate(ways) if w is None])
        if figures is not None:
            best = min(best, (figures[:3], sum(_own_price(problem, plan, u, w, prices) for u, w in chosen)))
    return best


def _own_price(problem, plan, u, way, prices):
    party = problem.parties[u]
    old = [r for r in plan.riders if r.id == party.riders[0]]
    together = {i for r in old for i in (r.id, *r.together)}
    if not old or old[0].way is None or together != set(party.riders):
        return 0
    rolls = way[0] == "roll"
    name = problem.shelters[problem.rolls[way[1]].shelter if rolls else way[2]].name
    van = None if rolls else problem.vans[way[1]].id
    price = prices.call if (van, name) != (old[0].van, old[0].shelter) else 0
    price += prices.way if rolls != (old[0].way == "roll") else 0
    price += prices.shelter if name != old[0].shelter else 0
    if not rolls and old[0].way != "roll" and van != old[0].van:
        price += prices.van
    return party.size * price


@pytest.fixture
def two_vans():
    """R1 at kilometre 3 and R2 at 4, shelter N at 0, vans V1 and V2 at 0; every van takes one chair, 2 min per km.

    V1 or V2 loads R1 at minute 6 or R2 at minute 8.
    """
    riders = [rider("R1", chair_length_cm=120), rider("R2", chair_length_cm=120)]
    a_move = move(riders, [shelter("N"), shelter("S")], [van("V1", positions=1), van("V2", positions=1)])
    travel = line_travel(a_move, {"R1": 3, "R2": 4, "N": 0, "S": -20, "V1": 0, "V2": 0})
    plan = make_plan(a_move, travel)
    assert {plan.rider("R1").van, plan.rider("R2").van} == {"V1", "V2"}
    return a_move, travel, plan


def test_a_van_that_fails_before_the_start_is_replaced_and_the_words_say_so(two_vans):
    """The other van keeps its rider at its time and comes a second time: only one rider hears something new, with the reason."""
    a_move, travel, plan = two_vans
    own = plan.rider("R1").van
    other = plan.rider("R2").van
    vans = tuple(v.model_copy(update={"available_to": START}) if v.id == own else v for v in a_move.vans)

    later = replan(plan, replace(a_move, vans=vans), travel)

    # The other van: R2 loaded 8-18, at N 26, unloaded by 31, at R1 37.
    assert later.rider("R2") == plan.rider("R2")
    assert later.rider("R1").load == clock(37)
    assert later.changes[0] == f"R1 now rides with {other} at 19:17 instead of {own} at 18:46, because {own} has to end at 18:40"
    assert later.extra["changes"]["price"] == 30 + 40 + (37 - 6 - 10)  # call, van, 31 min later, 10 of them free
    assert later.extra["changes"]["is_proven"]


def test_a_van_that_fails_with_somebody_aboard_leaves_a_call_not_a_guess(two_vans):
    """At minute 12 R1 is being loaded; the van is told to stop. Nobody knows where R1 is next: that is said first."""
    a_move, travel, plan = two_vans
    own = plan.rider("R1").van
    vans = tuple(v.model_copy(update={"available_to": START + dt.timedelta(minutes=12)}) if v.id == own else v for v in a_move.vans)

    later = replan(plan, replace(a_move, vans=vans), travel, now=12)

    assert later.rider("R1").status == "not served"
    assert later.rider("R1").reasons[0].startswith(f"is aboard {own} since 18:46")
    assert later.rider("R2") == plan.rider("R2")


def test_whoever_is_aboard_goes_to_another_shelter_when_the_first_closes(two_vans):
    """N closes at minute 20, while R1 (loaded by 16) is on the way to N, where the van would be at 22.

    On to kilometre 0 and 40 min to S: 62. Turning back first (4 min to kilometre 3, 46 from there): 20 + 4 + 46 = 70. Inside at 67.
    """
    a_move, travel, plan = two_vans
    shelters = tuple(replace(s, accessible_places=0) if s.name == "N" else s for s in a_move.shelters)

    later = replan(plan, replace(a_move, shelters=shelters), travel, now=20)

    line = later.rider("R1")
    assert (line.van, line.load, line.shelter, line.arrive) == (plan.rider("R1").van, plan.rider("R1").load, "S", clock(67))
    assert "because N can't be used (no accessible place is known)" in later.changes[0]


def test_an_idle_van_is_where_it_is():
    """NEW is 20 km away; V1 has stood at kilometre 0 since the start. Told at minute 30 it loads at 30 + 40, not at 40."""
    a_move = move([rider("OLD", consent="declined")], [shelter("N")], [van("V1")])
    where = {"OLD": 1, "N": 0, "V1": 0, "NEW": 20}
    plan = make_plan(a_move, line_travel(a_move, where))
    bigger = replace(a_move, riders=(*a_move.riders, rider("NEW", chair_length_cm=120)))
    travel = line_travel(bigger, where)

    later = replan(plan, bigger, travel, now=30)

    assert later.rider("NEW").load == clock(70)
    assert later.changes[0] == "NEW is new: rides with V1 to N at 19:50"


def test_whoever_has_arrived_stays_and_a_full_shelter_says_so(two_vans):
    """At minute 60 both are inside N; with 1 place one of them has to be asked on, and nobody is moved on paper."""
    a_move, travel, plan = two_vans
    shelters = tuple(replace(s, accessible_places=1) if s.name == "N" else s for s in a_move.shelters)

    later = replan(plan, replace(a_move, shelters=shelters), travel, now=60)

    left = later.not_served
    assert len(left) == 1
    assert left[0].reasons[0].startswith("is at N since")
    assert {r.shelter for r in later.riders} == {"N", None}


def test_an_escort_on_the_way_and_a_rider_on_the_way_are_left_in_peace():
    """A rolls 0-15 with E1; at minute 5 a rider comes up who needs E1: E1 is back at 27 and walks then."""
    a_move = move([rider("A")], [shelter("N")], [], [escort("E1")])
    where = {"A": 1, "B": 1, "N": 0, "E1": 1}
    rolls = {("A", "N"): roll_way(15), ("B", "N"): roll_way(15)}
    plan = make_plan(a_move, line_travel(a_move, where, rolls=rolls))
    bigger = replace(a_move, riders=(*a_move.riders, rider("B")))

    later = replan(plan, bigger, line_travel(bigger, where, rolls=rolls), now=5)

    assert later.rider("A") == plan.rider("A")
    assert (later.rider("B").leave, later.rider("B").escorts) == (clock(15 + 12), ("E1",))


@pytest.mark.parametrize("name", DOINGS[1:])
def test_every_doing_of_a_rider_that_differs_is_said(two_vans, name):
    """One line at least, with the rider's id."""
    _, _, plan = two_vans
    line = plan.rider("R1")
    other = {"status": "undecided", "way": "apart", "shelter": "S", "van": "V9"}.get(name) or clock(99)
    changed = replace(plan, riders=tuple(replace(r, **{name: other}) if r is line else r for r in plan.riders))

    assert any(words.startswith("R1 now ") for words in difference(plan, changed))


def test_the_difference_is_empty_if_and_only_if_people_do_the_same():
    """Against the plans' own JSON with everything left out that nobody does (reasons, margins, figures), on pairs of random plans."""
    plans = []
    for seed in range(700, 712):
        a_move, travel = random_move(seed)
        plan = make_plan(a_move, travel)
        changed, table, _ = random_news(seed, a_move, travel, plan, 30)
        plans.append((plan, replan(plan, changed, table, now=30)))
    for earlier, later in plans:
        for one, two in ((earlier, later), (earlier, earlier), (later, earlier)):
            assert (difference(one, two) == []) == (_doings(one) == _doings(two))


def _doings(plan):
    riders = [{k: asdict(r)[k] for k in (*DOINGS, "escorts", "together", "retreat")} for r in plan.riders]
    vans = {
        v["id"]: [(s["kind"], s["riders"], s["place"], s["arrive"], s["start"], s["end"]) for s in v["stops"]] for v in asdict(plan)["vans"]
    }
    plugs = {s.name: [{k: v for k, v in asdict(p).items() if k != "watts"} for p in s.plugs] for s in plan.shelters}
    return sorted(riders, key=lambda r: r["id"]), vans, {e.id: asdict(e)["jobs"] for e in plan.escorts}, plugs


def test_large_moves_keep_the_plan_by_search(two_vans):
    """Above ``exact_units`` no proof is claimed, the past is kept all the same."""
    a_move, travel, plan = two_vans
    effort = a_move.settings.effort.model_copy(update={"exact_units": 0, "search_rounds": 50})
    own = plan.rider("R1").van
    vans = tuple(v.model_copy(update={"available_to": START}) if v.id == own else v for v in a_move.vans)
    big = replace(a_move, settings=a_move.settings.model_copy(update={"effort": effort}), vans=vans)

    later = replan(plan, big, travel)

    assert later.rider("R2") == plan.rider("R2")
    assert later.rider("R1").load == clock(37)
    assert not later.extra["changes"]["is_proven"]


def test_what_can_not_be_continued_is_refused(two_vans):
    """Another start, a van that is gone with people who have used it, a moment before the start."""
    a_move, travel, plan = two_vans
    moved = replace(plan, move={**plan.move, "start": clock(20)})
    with pytest.raises(InputError, match="Leave the start"):
        replan(moved, a_move, travel)
    own = plan.rider("R1").van
    with pytest.raises(InputError, match="end its hours"):
        replan(plan, replace(a_move, vans=tuple(v for v in a_move.vans if v.id != own)), travel, now=60)
    with pytest.raises(InputError, match="before the start"):
        now_minute(a_move, "18:39")
    assert now_minute(a_move, "19:20") == 40


def test_the_auditor_takes_driven_drives_as_facts_and_no_others(two_vans):
    """All drives are slower now. Up to the moment of the news they took what they took; a drive after it is still too short."""
    a_move, travel, plan = two_vans
    slow = replace(travel, phases=tuple(type(p)(p.ends_min, 1.5 * p.minutes) for p in travel.phases))

    def told(now):
        return replace(plan, extra={"changes": {"now": clock(now)}})

    assert {v.rule for v in audit(plan, a_move, slow)} == {"driving"}
    assert audit(told(60), a_move, slow) == []
    assert {v.rule for v in audit(told(10), a_move, slow)} == {"driving"}


def test_people_who_have_walked_to_a_rider_meet_that_rider():
    """A's zone is 6 min away, E1 walks 12 min to A; when a new rider comes up meanwhile, A is met and loaded as told."""
    a_move = move([rider("A", chair_length_cm=120)], [shelter("N")], [van("V1")], [escort("E1")])
    where = {"A": 5, "B": 5.5, "N": 0, "V1": 0, "E1": 4}
    travel = line_travel(a_move, where)
    travel = replace(travel, pickups={"A": tuple(replace(z, roll_min=6.0) for z in travel.pickups["A"])})
    plan = make_plan(a_move, travel)
    # E1: 12 min to A; A: 6 min to the zone; the van is there at 10. Loaded from 18.
    assert (plan.rider("A").load, plan.escorts[0].jobs[0].leave) == (clock(18), clock(0))
    bigger = replace(a_move, riders=(*a_move.riders, rider("B", chair_length_cm=120)))
    table = line_travel(bigger, where)

    later = replan(plan, bigger, replace(table, pickups={**table.pickups, **travel.pickups}), now=8)

    assert later.rider("A").load == clock(18)
    assert later.escorts == plan.escorts
    assert later.extra["changes"]["happened"] == {"A": "committed"}


def test_whoever_is_lost_is_not_sent_from_home_by_the_next_plan(two_vans):
    """R1 was aboard a van that had to stop. The next plans leave R1 out with the same words, until the table gives another place."""
    a_move, travel, plan = two_vans
    own = plan.rider("R1").van
    vans = tuple(v.model_copy(update={"available_to": START + dt.timedelta(minutes=12)}) if v.id == own else v for v in a_move.vans)
    stopped = replace(a_move, vans=vans)
    first = replan(plan, stopped, travel, now=12)

    second = replan(first, stopped, travel, now=30)

    assert second.rider("R1").status == "not served"
    assert second.rider("R1").reasons[0] == first.rider("R1").reasons[0]
    assert second.extra["changes"]["happened"]["R1"] == "aboard"

    found = tuple(r.model_copy(update={"place": "at the corner of Mill Lane"}) if r.id == "R1" else r for r in a_move.riders)
    third = replan(second, replace(stopped, riders=found), travel, now=30)
    assert third.rider("R1").van == plan.rider("R2").van
    assert third.extra["changes"]["stuck"] == {}


def test_the_search_for_large_moves_keeps_every_rule_and_the_past():
    """The same news without the exact solver."""
    for seed in range(250, 262):
        a_move, travel = random_move(seed)
        plan = make_plan(a_move, travel)
        changed, table, kind = random_news(seed, a_move, travel, plan, 30)
        effort = changed.settings.effort.model_copy(update={"exact_units": 0, "search_rounds": 60})
        changed = replace(changed, settings=changed.settings.model_copy(update={"effort": effort}))

        later = replan(plan, changed, table, now=30)

        assert [str(v) for v in audit(later, changed, table)] == [], (seed, kind)
        for line in later.riders:
            _check_line(plan, line, later.extra["changes"]["happened"].get(line.id), 30)


def test_a_spoilt_record_of_the_news_is_no_record(two_vans):
    """A plan edited by hand: the auditor, the difference and the next plan read what is there, and nothing where it makes no sense."""
    a_move, travel, plan = two_vans
    for spoilt in (["x"], "19:20", {"now": 20, "because": None, "stuck": None}):
        edited = replace(plan, extra={"changes": spoilt})

        assert audit(edited, a_move, travel) == []
        assert difference(plan, edited) == []
        assert replan(edited, a_move, travel).changes == ()
