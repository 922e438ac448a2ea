"""The auditor: plans of random moves keep every rule, and a plan that is tampered with does not get past."""

from __future__ import annotations

from dataclasses import replace

import pytest
from move_worlds import escort, line_travel, move, rider, roll_way, shelter, van
from random_moves import random_move

from rollroute.planning.audit import audit
from rollroute.planning.exact import ExactResult
from rollroute.planning.make_plan import make_plan, needs_of, write_up
from rollroute.planning.objective import tiers
from rollroute.planning.options import build_problem
from rollroute.planning.search_schedule import search_schedule


@pytest.mark.parametrize("block", range(10))
def test_random_moves_break_no_rule(block: int):
    """300 random moves, many without a full solution, by the search: 0 violations."""
    for seed in range(1000 + 30 * block, 1030 + 30 * block):
        a_move, travel = random_move(seed)
        needs, _ = needs_of(a_move)
        problem = build_problem(a_move, needs, travel)
        schedule = search_schedule(problem, rounds=20, seed=seed)
        result = ExactResult(schedule=schedule, tiers=tiers(problem, schedule), bounds=(0,) * 7, is_proven=(False,) * 7)

        found = audit(write_up(a_move, needs, travel, problem, result), a_move, travel)

        assert [str(v) for v in found] == [], seed


def test_plans_of_the_exact_solver_break_no_rule():
    """The same rules for the other solver."""
    for seed in range(2000, 2030):
        a_move, travel = random_move(seed)

        assert [str(v) for v in audit(make_plan(a_move, travel), a_move, travel)] == [], seed


@pytest.fixture(scope="module")
def world():
    """Four riders on a line; A rolls, the others ride; C needs a socket by minute 90."""
    riders = [rider("A"), rider("B", chair_length_cm=120), rider("C", life_support_min=120, chair_length_cm=120), rider("D")]
    shelters = [shelter("N"), shelter("S", has_mains=False, generator_watts=900.0, generator_fuel_h=14.0)]
    a_move = move(riders, shelters, [van("V1"), van("V2")], [escort("E1"), escort("E2")])
    where = {"A": 1, "B": 2, "C": -3, "D": 5, "N": 0, "S": 8, "V1": 0, "V2": 8, "E1": 0, "E2": 8}
    travel = line_travel(a_move, where, rolls={("A", "N"): roll_way(15)})
    plan = make_plan(a_move, travel)
    assert audit(plan, a_move, travel) == []
    assert plan.rider("A").way == "roll"
    return a_move, travel, plan


def _edit_rider(plan, rider_id, **changes):
    return replace(plan, riders=tuple(replace(r, **changes) if r.id == rider_id else r for r in plan.riders))


def _edit_van(plan, van_id, edit):
    return replace(plan, vans=tuple(replace(v, stops=edit(v.stops)) if v.id == van_id else v for v in plan.vans))


def _edit_plugs(plan, edit):
    return replace(plan, shelters=tuple(replace(s, plugs=edit(s.plugs)) for s in plan.shelters))


TAMPERED = {
    "stop order": lambda p: _edit_van(p, "V1", lambda s: tuple(reversed(s))),
    "dropped stop": lambda p: _edit_van(p, "V1", lambda s: s[:-1]),
    "faster drive": lambda p: _edit_van(p, "V1", lambda s: (replace(s[0], arrive="2026-03-01T18:40+01:00"), *s[1:])),
    "short loading": lambda p: _edit_van(p, "V1", lambda s: (replace(s[0], end=s[0].start), *s[1:])),
    "unknown van": lambda p: replace(p, vans=tuple(replace(v, id="V9") if v.id == "V1" else v for v in p.vans)),
    "faster roll": lambda p: _edit_rider(p, "A", arrive=p.rider("A").leave),
    "other shelter": lambda p: _edit_rider(p, "A", shelter="S"),
    "no escort": lambda p: _edit_rider(p, "A", escorts=()),
    "escort without a job": lambda p: replace(p, escorts=tuple(replace(e, jobs=()) for e in p.escorts)),
    "forgotten rider": lambda p: replace(p, riders=p.riders[1:]),
    "twice": lambda p: replace(p, riders=(*p.riders, p.riders[0])),
    "called unserved": lambda p: _edit_rider(p, "A", status="not served"),
    "no time": lambda p: _edit_rider(p, "A", leave=None),
    "not a time": lambda p: _edit_rider(p, "A", leave="soon"),
    "time without zone": lambda p: _edit_rider(p, "A", leave="2026-03-01T18:52"),
    "no outlet for C": lambda p: _edit_plugs(p, lambda plugs: tuple(g for g in plugs if g.rider != "C")),
    "wrong bound": lambda p: replace(p, tiers=(replace(p.tiers[0], bound=5), *p.tiers[1:])),
    "wrong count": lambda p: replace(p, tiers=(replace(p.tiers[0], value=2), *p.tiers[1:])),
    "short plug": lambda p: _edit_plugs(p, lambda plugs: tuple(replace(g, end="2026-03-01T23:00+01:00") for g in plugs)),
}  # fmt: skip


@pytest.mark.parametrize("name", TAMPERED)
def test_a_tampered_plan_does_not_pass(world, name: str):
    """Each edit breaks one rule; a check that lets it through can't fail and is no check."""
    a_move, travel, plan = world

    assert audit(TAMPERED[name](plan), a_move, travel) != []


def _riders(a_move, rider_id=None, **changes):
    kept = (r if rider_id not in (None, r.id) else r.model_copy(update=changes) for r in a_move.riders)
    return replace(a_move, riders=tuple(kept))


def _vans(a_move, **changes):
    return replace(a_move, vans=tuple(v.model_copy(update=changes) for v in a_move.vans))


def _shelters(a_move, **changes):
    return replace(a_move, shelters=tuple(replace(s, **changes) for s in a_move.shelters))


def _rain(a_move):
    weather = a_move.settings.weather.model_copy(update={"is_wet": True})
    return replace(a_move, settings=a_move.settings.model_copy(update={"weather": weather}))


CHANGED_INPUTS = {
    "C declined": lambda m: _riders(m, "C", consent="declined"),
    "C not asked": lambda m: _riders(m, "C", consent=None),
    "weak lift": lambda m: _vans(m, lift_rating_kg=150.0),
    "short platform": lambda m: _vans(m, platform_length_cm=100.0),
    "low door": lambda m: _vans(m, door_height_cm=120.0),
    "van gone": lambda m: _vans(m, available_to=m.start),
    "full shelter": lambda m: _shelters(m, accessible_places=1),
    "slow intake": lambda m: _shelters(m, intake_per_hour=1.0),
    "not open": lambda m: _shelters(m, opens=None),
    "no fuel": lambda m: _shelters(m, has_mains=False),
    "less time for C": lambda m: _riders(m, "C", life_support_min=35.0),
    "short ride": lambda m: _riders(m, longest_ride_min=3.0),
    "short outdoors": lambda m: _riders(m, longest_outdoors_min=3.0),
    "together": lambda m: _riders(m, "A", stay_with=("B",)),
    "rain": _rain,
    "no escorts": lambda m: replace(m, escorts=()),
}


@pytest.mark.parametrize("name", CHANGED_INPUTS)
def test_a_plan_for_other_inputs_does_not_pass(world, name: str):
    """The auditor reads the inputs, not the plan's own word."""
    a_move, travel, plan = world

    assert audit(plan, CHANGED_INPUTS[name](a_move), travel) != []
