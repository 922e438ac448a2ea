"""Charging halts on the way hold an outlet: by hand, tampered with, and over random rolls; the auditor shares no code with it."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

import pytest
from move_worlds import escort, line_travel, move, rider, roll_way, shelter

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_shelters import Circuit
from rollroute.move_words import plan_lines
from rollroute.output.move import lanes
from rollroute.output.move.events import events
from rollroute.output.move.facts import gather
from rollroute.output.move.sheets import shelter_sheet
from rollroute.output.words import Words
from rollroute.planning.audit import audit
from rollroute.planning.make_plan import make_plan
from rollroute.planning.plan import Plan, read_plan, write_plan
from rollroute.planning.travel import PathLeg, RollWay, TravelTable

WHERE = {"A": 0, "B": 0, "C": 0, "X": 1, "N": 3, "E1": 0, "E2": 0, "E3": 0}


def _way(*, charge_min: float = 30.0, halt: str = "X", **fields: object) -> RollWay:
    """20 min to the halt, 3 to plug in and out, ``charge_min`` there, 20 to the goal."""
    there = PathLeg(to=halt, edges=(), arrive_min=20.0, setup_min=3.0, charge_min=charge_min)
    return roll_way(43.0 + charge_min, path=(there, PathLeg(to="N", edges=(), arrive_min=43.0 + charge_min)), **fields)


def _world(names: str, outlets: int, way: RollWay, *, amps: float = 20.0, **fields: object) -> tuple[Move, TravelTable]:
    """Riders who can only roll to N, with a halt at X, which has no place for the night."""
    riders = [rider(i, longest_roll_min=200, longest_outdoors_min=200, **fields) for i in names]
    halt = shelter("X", accessible_places=0, circuits=(Circuit(name="A", outlets=outlets, amps=amps),))
    gates = {"gates": {"longest_roll_min": 300}}
    a_move = move(riders, [shelter("N"), halt], [], [escort(f"E{i + 1}") for i in range(3)], settings=gates)
    return a_move, line_travel(a_move, WHERE, rolls={(i, "N"): way for i in names})


def _minute(plan: Plan, a_move: Move, text: str | None) -> float:
    return (dt.datetime.fromisoformat(text or "") - a_move.start).total_seconds() / 60.0


def _rules(plan: Plan, a_move: Move, travel: TravelTable) -> list[str]:
    return [str(v) for v in audit(plan, a_move, travel)]


def test_two_halts_at_one_outlet_come_one_after_the_other() -> None:
    """The first is there from minute 20 to 53; so the second sets off at 33, halts from 53 to 86, and both arrive."""
    a_move, travel = _world("AB", 1, _way())
    plan = make_plan(a_move, travel)

    assert sorted(_minute(plan, a_move, line.leave) for line in plan.riders) == [0, 33]
    halts = next(s for s in plan.shelters if s.name == "X").halts
    assert [(h.circuit, h.outlet, _minute(plan, a_move, h.start), _minute(plan, a_move, h.end)) for h in halts] == [
        ("A", 1, 20, 53),
        ("A", 1, 53, 86),
    ]
    assert _rules(plan, a_move, travel) == []


def test_the_terminal_tells_the_halt_beside_the_night(planned) -> None:  # type: ignore[no-untyped-def]
    """18:40 + 20 min to 18:40 + 53 min, at a shelter where nobody stays."""
    lines = plan_lines(planned[2])
    assert any("19:00-19:33, on the way to another shelter" in line for line in lines)


def test_two_outlets_serve_two_at_a_time() -> None:
    """Nobody waits where an outlet each is there."""
    a_move, travel = _world("AB", 2, _way())
    plan = make_plan(a_move, travel)

    assert [_minute(plan, a_move, line.leave) for line in plan.riders] == [0, 0]
    assert {h.outlet for s in plan.shelters for h in s.halts} == {1, 2}


def test_a_circuit_that_carries_one_charger_carries_one_halt() -> None:
    """5 A at 120 V, of which 80 % may run for hours: 480 W; two chargers of 360 W would be 720 W. The second waits."""
    a_move, travel = _world("AB", 2, _way(), amps=5.0, charger_watts=360)
    plan = make_plan(a_move, travel)

    assert sorted(_minute(plan, a_move, line.leave) for line in plan.riders) == [0, 33]
    assert _rules(plan, a_move, travel) == []


def test_who_can_t_wait_is_left_with_the_reason() -> None:
    """The way closes at minute 10: the second can't set off at 33, and is told why."""
    a_move, travel = _world("AB", 1, _way(latest_departure_min=10.0))
    plan = make_plan(a_move, travel)

    (left,) = plan.not_served
    assert any("no outlet is free at X" in why for why in left.reasons)
    assert _rules(plan, a_move, travel) == []


def test_an_outlet_that_life_support_holds_is_not_lent_to_a_halt() -> None:
    """C keeps X's only outlet from minute 18 on (ready to roll at once, 18 min): A can't halt there, however late."""
    riders = [rider("A", longest_roll_min=200, longest_outdoors_min=200, only_to="N"), rider("C", life_support_min=120, only_to="X")]
    one = (Circuit(name="A", outlets=1, amps=20.0),)
    settings = {"gates": {"longest_roll_min": 300}}
    a_move = move(riders, [shelter("N"), shelter("X", circuits=one)], [], [escort(f"E{i + 1}") for i in range(3)], settings=settings)
    travel = line_travel(a_move, WHERE, rolls={("A", "N"): _way(), ("C", "X"): roll_way(18)})
    plan = make_plan(a_move, travel)

    assert plan.rider("C").shelter == "X"
    assert [line.id for line in plan.not_served] == ["A"]
    assert _rules(plan, a_move, travel) == []


@pytest.fixture(scope="module")
def planned() -> tuple[Move, TravelTable, Plan]:
    a_move, travel = _world("AB", 1, _way())
    plan = make_plan(a_move, travel)
    return a_move, travel, plan


def test_who_waited_for_the_outlet_stands_beside_the_proofs(planned: tuple[Move, TravelTable, Plan]) -> None:
    """Two at one outlet: one of them set off later. With an outlet each nobody does, and nothing is said."""
    (claim,) = planned[2].claims
    assert claim.startswith("put off or left out")
    assert claim.split("rolls of ")[1].split(";")[0] in ("A", "B")
    assert make_plan(*_world("AB", 2, _way())).claims == ()


def test_the_lanes_draw_the_halt(planned: tuple[Move, TravelTable, Plan]) -> None:
    """The rider's lane: 20 min of rolling, 33 at the outlet, 20 of rolling; the outlet's lane: both, one after the other."""
    a_move, travel, plan = planned
    facts = gather(plan, a_move, travel, words=Words())
    for lane in lanes.rider_lanes(facts):
        assert [(b.kind, (b.end - b.start).total_seconds() / 60) for b in lane.bars] == [("roll", 20), ("plug", 33), ("roll", 20)]
        assert [b.text for b in lane.bars] == ["\N{RIGHTWARDS ARROW} X", "X", "\N{RIGHTWARDS ARROW} N"]
    (outlet,) = lanes.outlet_lanes(facts, next(s for s in plan.shelters if s.name == "X"))
    assert outlet.label == "A 1"
    assert {b.text for b in outlet.bars} == {"A, on the way", "B, on the way"}
    assert outlet.bars[0].end <= outlet.bars[1].start
    assert "X" in {s.name for s in facts.used_shelters}
    told = {(e.who, e.what, e.moment) for e in events(facts)}
    for halt in outlet.bars:
        rider = halt.text.split(",")[0]
        assert {(rider, "charges on the way at X", halt.start), (rider, "goes on from X", halt.end)} <= told
    rows = shelter_sheet(facts, next(s for s in plan.shelters if s.name == "X")).rows
    assert [row[3] for row in rows] == ["A 1", "A 1"]


def _halts(plan: Plan, **changes: object) -> Plan:
    return replace(plan, shelters=tuple(replace(s, halts=tuple(replace(h, **changes) for h in s.halts)) for s in plan.shelters))


@pytest.mark.parametrize(
    "tampered",
    [
        lambda p: replace(p, shelters=tuple(replace(s, halts=()) for s in p.shelters)),
        lambda p: _halts(p, end=p.riders[0].leave),
        lambda p: _halts(p, start=p.riders[0].leave),
        lambda p: _halts(p, outlet=2),
        lambda p: _halts(p, rider="N. N."),
    ],
    ids=["none kept", "too short", "both at once", "no such outlet", "for nobody"],
)  # fmt: skip
def test_the_auditor_finds_a_halt_that_is_not_kept(planned, tampered) -> None:  # type: ignore[no-untyped-def]
    """Each edit breaks one rule."""
    a_move, travel, plan = planned

    assert _rules(tampered(plan), a_move, travel) != []


def test_halts_survive_the_file(planned, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """What is written is read again, and a plan from before halts were told has none."""
    plan = planned[2]
    write_plan(plan, tmp_path / "plan.json")
    assert read_plan(tmp_path / "plan.json") == plan


def test_random_halts_never_share_an_outlet() -> None:
    """25 moves of three rolls with halts of 10 to 60 min at one or two outlets: 0 violations, and everybody who can wait arrives."""
    for seed in range(25):
        rng = random.Random(seed)
        a_move, travel = _world("ABC", rng.choice([1, 2]), _way())
        rolls = {(i, "N"): _way(charge_min=float(rng.randint(10, 60))) for i in "ABC"}
        travel = replace(travel, rolls=rolls)
        plan = make_plan(a_move, travel)

        assert _rules(plan, a_move, travel) == [], seed
        assert not plan.not_served, seed
