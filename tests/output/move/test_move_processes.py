"""Papers of riders on several processes: the same files, byte for byte, as on one."""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
import signal
from pathlib import Path

import pytest
from move_papers import Papers

from rollroute.inputs.move_folder import Move
from rollroute.output.move import PaperOptions, rolls, write_move_folder
from rollroute.output.undisturbed import deaf_children, undisturbed
from rollroute.planning.make_plan import needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.plan import Plan, RiderPlan

SCHOOL = "North Quay School"


def _twins(town: Papers) -> tuple[Move, NetworkTravel, Plan, object]:
    """Two riders of the bundled move's R09, who set off one minute after the other."""
    one = next(r for r in town.move.riders if r.id == "R09")
    move = dataclasses.replace(town.move, riders=tuple(one.model_copy(update={"id": i}) for i in ("T1", "T2")), vans=(), escorts=())
    provider = NetworkTravel(town.finder.network)
    travel = provider.estimate(move, needs_of(move)[0])

    def line(n: int, rider: str) -> RiderPlan:
        way = travel.rolls[rider, SCHOOL]
        leave, arrive = (move.start + dt.timedelta(minutes=m) for m in (n, n + way.minutes))
        times = {"leave": leave.isoformat(), "arrive": arrive.isoformat()}
        return RiderPlan(id=rider, status="planned", way="roll", shelter=SCHOOL, path=way.path, **times)

    lines = tuple(line(n, rider) for n, rider in enumerate(("T1", "T2")))
    plan = Plan(move={"name": "twins", "start": move.start.isoformat()}, riders=lines, vans=(), escorts=(), shelters=(), tiers=())
    return move, provider, plan, travel


def test_two_processes_write_what_one_writes(town: Papers, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A task knows of no other task, so nothing may depend on who does it when."""
    move, provider, plan, travel = _twins(town)
    monkeypatch.setattr(rolls, "WORTH_A_PROCESS", 1)
    for processes in (1, 2):
        options = PaperOptions(processes=processes)
        write_move_folder(plan, move, travel, tmp_path / str(processes), finder=provider.finder, options=options)
    files = [{p.relative_to(tmp_path / n): p.read_bytes() for p in (tmp_path / n).rglob("*") if p.is_file()} for n in ("1", "2")]
    assert files[0] == files[1]
    assert (tmp_path / "2" / "riders" / "t2" / "sheet.pdf").exists()


def _codes(plan: Plan, riders: tuple[RiderPlan, ...], move: Move, provider: NetworkTravel, travel: object) -> dict[str, str]:
    facts = rolls.MoveFacts(
        plan=dataclasses.replace(plan, riders=riders), move=move, travel=travel, words=None, needs={n.id: n for n in needs_of(move)[0]},
        calls=(), made_at="", is_stamped=False,
    )  # fmt: skip
    return rolls.route_codes(facts, provider.finder)


def test_codes_of_one_move_are_all_different(town: Papers):
    """Twins who leave the same door in the same minute for the same shelter: a reply by code must not name two of them."""
    move, provider, plan, travel = _twins(town)
    same = tuple(dataclasses.replace(r, leave=plan.riders[0].leave) for r in plan.riders)

    assert len(set(_codes(plan, same, move, provider, travel).values())) == 2


def test_another_way_at_the_same_minute_has_another_code(town: Papers):
    """A new plan may send a rider another way: steps have other places, so a reply by the old code must not be read on it."""
    move, provider, plan, travel = _twins(town)
    first = plan.riders[0]
    (leg,) = first.path
    other = dataclasses.replace(first, path=(dataclasses.replace(leg, edges=leg.edges[:-1]),))
    codes = [_codes(plan, (rider,), move, provider, travel)[first.id] for rider in (first, other, first)]

    assert codes[0] == codes[2] != codes[1]


def test_ctrl_c_waits_until_the_work_is_done():
    """The signal is heard inside the block and answered after it; in a block for children nobody hears it."""
    done = []

    def work() -> None:
        with undisturbed():
            os.kill(os.getpid(), signal.SIGINT)
            done.append("all of it")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done
    with deaf_children():
        os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
