"""A plan again, with news: what has happened stays, as many people as possible are served, and as little as possible changes.

``replan(earlier, move, travel, now=MINUTE) -> Plan``: ``move`` and ``travel`` with the news in them, ``now`` in minutes from the start of
the move (``None``: nothing has happened yet). ``now_minute(move, "19:20")`` reads a clock time. The result's ``changes`` are
``difference(earlier, later)`` in plain words; ``extra["changes"]`` holds ``now``, ``price``, ``bound``, ``is_proven``, ``because`` and
``happened`` (rider -> done, rolling, aboard, committed) and ``stuck``: riders who are under way and can't go on, with what to do. Nothing
is planned for them, in later plans neither, until the riders' table gives another place for them.

The order of what counts: people served (tiers 1-3), then the price of changes (``change_prices``), then the other tiers of ``objective``.
If the earlier plan still holds and nobody more can be served, it is kept to the letter.
Leave the start of the move as it was, and the rows of vans, shelters and escorts that people have used: end a van's hours,
set a shelter's places to 0. Somebody who is on a job is free when that job ends: give that hour.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.planning.audit import audit
from rollroute.planning.because import reasons_of_changes, stuck_reasons
from rollroute.planning.change_prices import PRICES, Prices, change_price, price_expression
from rollroute.planning.differences import difference
from rollroute.planning.draft import Draft
from rollroute.planning.earlier_plan import Clock, news_of, put_back
from rollroute.planning.exact import ExactResult, Judge, minimise_in_order
from rollroute.planning.exact_model import build_model
from rollroute.planning.happened import hold
from rollroute.planning.make_plan import bounded, needs_of, write_up
from rollroute.planning.needs import Needs
from rollroute.planning.objective import N_SERVICE_TIERS, TIER_NAMES, tiers
from rollroute.planning.options import build_problem
from rollroute.planning.past import NOTHING_YET, Past, Stuck
from rollroute.planning.plan import Job, Plan
from rollroute.planning.plan import Stop as VanStop
from rollroute.planning.problem import Problem, RideLeg, RollLeg, Schedule
from rollroute.planning.search_schedule import search_schedule
from rollroute.planning.travel import RollWay, TravelTable
from rollroute.planning.write_up import Facts, escort_plans, rider_plans, shelter_plans, van_plans

__all__ = ["PRICES", "Prices", "change_price", "difference", "now_minute", "replan"]

Progress = Callable[[str], None]
Stop = Callable[[], bool]
ROUNDS_ROUND_THE_KEPT = 60  # rounds in which only those without a way are put in
PARTIES_PUT_IN, LEAST_ROUNDS = 60_000, 100  # work of the search on large moves: rounds times parties; news can't wait
PRICE_NAME = "price of changes to what people were told"


def now_minute(move: Move, clock: str) -> int:
    """Minutes from the start of the move to a clock time; before the start is an error.

    Raises
    ------
    InputError
        If it is no clock time or lies before the start.
    """
    try:
        moment = move.settings.moment(clock)
    except ValueError as error:
        raise InputError(f"--now {clock!r}: {error} Give a clock time, for example 19:20.") from error
    minute = int(move.settings.minute(moment) // 1)
    if minute < 0:
        raise InputError(f"--now {clock}: before the start of the move, {move.start:%H:%M}. Leave it out if nothing has happened yet.")
    return minute


def replan(
    earlier: Plan,
    move: Move,
    travel: TravelTable,
    *,
    now: int | None = None,
    prices: Prices = PRICES,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The plan that follows ``earlier`` at minute ``now``; see the module.

    Raises
    ------
    InputError
        If a rider can't be read, the start has moved, or a row that people have used is gone.
    """
    needs, wrong = needs_of(move)
    if wrong:
        raise InputError("\n".join(wrong))
    problem = build_problem(move, needs, travel)
    words, stuck = _known_stuck(earlier, move)
    while True:
        past = hold(problem, earlier, travel.nodes, move.start, NOTHING_YET if now is None else now, stuck=stuck)
        writer = _Writer(move, needs, _with_driven_ways(travel, past), problem, past, earlier, words, stuck.carried)
        result = _Replanner(move, past, prices, progress, stop).solve(lambda s, w=writer: not audit(w.plain(s), move, travel))  # type: ignore[misc]
        words, more = _more_stuck(past, result.schedule, travel, words, stuck)
        if more == stuck:
            return writer.plan(result, prices)
        stuck = more


def _known_stuck(earlier: Plan, move: Move) -> tuple[dict[str, str], Stuck]:
    """Who was stuck when last heard of, with what was said, as far as no new place is known of them."""
    words, told = _lost(earlier, move), dict(news_of(earlier).get("stuck") or {})
    carried = {i: str(told[i]["van"]) for i in words if told[i].get("van")}
    return words, Stuck(lost=frozenset(words), carried=carried)


def _more_stuck(past: Past, schedule: Schedule, travel: TravelTable, words: dict[str, str], stuck: Stuck) -> tuple[dict[str, str], Stuck]:
    """What a plan has shown: whoever rolls and can't go in is turned, where that is possible; whoever is aboard stays aboard."""
    lost, carried, turned = set(stuck.lost), dict(stuck.carried), set(stuck.turned)
    said = stuck_reasons(past, schedule, words)
    for u in past.held:
        line, riders = past.lines[u], past.problem.parties[u].riders
        if schedule.legs[u] is not None or line is None:
            continue
        if past.states[u] == "rolling":
            turned |= {key for key, way in travel.rolls.items() if key[0] in riders and way.from_min is not None}
        elif past.states[u] == "aboard" and line.van is not None:
            lost |= set(riders)
            carried |= dict.fromkeys(riders, line.van)
            words = {**words, **{i: said[i] for i in riders}}
    return words, Stuck(lost=frozenset(lost), carried=carried, turned=frozenset(turned))


def _lost(earlier: Plan, move: Move) -> dict[str, str]:
    """Riders who were under way without a way on, and of whom no new place is known; with what was said of them."""
    stuck = dict(news_of(earlier).get("stuck") or {})
    places = {r.id: _place(r) for r in move.riders}
    return {i: str(facts["words"]) for i, facts in stuck.items() if places.get(i) == facts["place"]}


def _place(rider: Rider) -> list[str | float | None]:
    return [rider.place, rider.lon, rider.lat]


@dataclass(frozen=True, slots=True)
class _Result:
    """A schedule on the held problem, with the tiers of a plan and the price apart."""

    schedule: Schedule
    tiers: ExactResult
    price: int
    price_bound: int


class _Replanner:
    """Finds the schedule: the earlier one to the letter, or one that serves as many as possible at the least price."""

    def __init__(self, move: Move, past: Past, prices: Prices, progress: Progress | None, stop: Stop | None) -> None:
        self.effort, self.past, self.prices, self.progress, self.stop = move.settings.effort, past, prices, progress, stop
        self.problem = past.problem
        self.n_open = len(past.states) - len(past.held)
        self.names = (*TIER_NAMES[:N_SERVICE_TIERS], PRICE_NAME, *TIER_NAMES[N_SERVICE_TIERS:])

    def figures(self, problem: Problem, schedule: Schedule) -> tuple[int, ...]:
        """What schedules are judged by."""
        values = tiers(problem, schedule)
        return (*values[:N_SERVICE_TIERS], change_price(self.past, schedule, self.prices), *values[N_SERVICE_TIERS:])

    def solve(self, is_clean: Callable[[Schedule], bool]) -> _Result:
        """``is_clean``: whether the plan of a schedule keeps every rule."""
        earlier = self.past.schedule
        still_holds = self._is_whole(earlier) and is_clean(earlier)
        start = earlier if still_holds else self._repaired()
        if still_holds and not any(self.figures(self.problem, start)[:N_SERVICE_TIERS]):
            return self._result(start, (0,) * (N_SERVICE_TIERS + 1))
        if self.n_open > self.effort.exact_units:
            return self._searched(start, still_holds)
        return self._exact(start, still_holds)

    def _is_whole(self, schedule: Schedule) -> bool:
        """Whether everybody who had a way still has that way, at a time that is still possible."""
        for u, (line, leg) in enumerate(zip(self.past.lines, schedule.legs, strict=True)):
            if line is not None and line.way is not None and leg is None:
                return False
            if isinstance(leg, RideLeg):
                pickup, dropoff = self.problem.pickups[u, leg.van], self.problem.dropoffs[u, leg.van, leg.shelter]
                inside = leg.unload + pickup.unload + dropoff.roll
                if not (pickup.load_from <= leg.load <= pickup.load_by and dropoff.inside_from <= inside <= dropoff.inside_by):
                    return False
        return True

    def _repaired(self) -> Schedule:
        """Everybody in the earlier way at the earlier time as far as that holds; then the others round them."""
        earlier = self.past.schedule
        everybody = frozenset(u for u, leg in enumerate(earlier.legs) if leg is not None)
        draft = Draft(self._as_told(everybody))
        for u in sorted(everybody, key=lambda u: (u not in self.past.held, self.past.told[u])):
            put_back(draft, u, earlier)
        kept = frozenset(u for u in everybody if draft.legs[u] is not None)
        return search_schedule(
            self._as_told(kept), rounds=ROUNDS_ROUND_THE_KEPT, seed=self.effort.seed, start=draft.schedule(), fixed=kept, stop=self.stop,
            judge=self.figures,
        )  # fmt: skip

    def _as_told(self, kept: frozenset[int]) -> Problem:
        """The problem with ``kept`` leaving when they were told, within the tolerance, in the way that they were told."""
        rolls, pickups, slack = list(self.problem.rolls), dict(self.problem.pickups), self.prices.tolerance_min
        for u in kept:
            leg = self.past.schedule.legs[u]
            if isinstance(leg, RollLeg):
                roll, last = rolls[leg.roll], min(rolls[leg.roll].last_departure, leg.depart + slack)
                rolls[leg.roll] = replace(roll, first_departure=max(roll.first_departure, leg.depart), last_departure=last)
            elif isinstance(leg, RideLeg):
                pickup = pickups[u, leg.van]
                first = max(pickup.load_from, min(leg.load, pickup.load_by))
                pickups[u, leg.van] = replace(pickup, load_from=first, load_by=min(pickup.load_by, leg.load + slack))
        return replace(self.problem, rolls=tuple(rolls), pickups=pickups)

    def _searched(self, start: Schedule, is_letter: bool) -> _Result:
        """For large moves: the search judged by the price; service bounded by the assignment, the price not at all."""
        bounds = bounded(self.problem, start).bounds[:N_SERVICE_TIERS]
        if is_letter and bounds == self.figures(self.problem, start)[:N_SERVICE_TIERS]:
            return self._result(start, (*bounds, 0))
        rounds = min(self.effort.search_rounds, max(LEAST_ROUNDS, PARTIES_PUT_IN // max(1, self.n_open)))
        found = search_schedule(
            self.problem, rounds=rounds, seed=self.effort.seed, start=start, fixed=self.past.held, stop=self.stop,
            judge=self.figures,
        )  # fmt: skip
        before, after = self.figures(self.problem, start), self.figures(self.problem, found)
        gains = after[:N_SERVICE_TIERS] < before[:N_SERVICE_TIERS]
        best = found if gains or (after < before and not is_letter) else start
        return self._result(best, (*bounds, 0))

    def _exact(self, start: Schedule, is_letter: bool) -> _Result:
        """First whom can be served; where that is no news for a plan that holds, it stays as it is."""
        model = build_model(self.problem)
        price = price_expression(model, self.past, self.prices)
        everything = [*model.tiers[:N_SERVICE_TIERS], price, *model.tiers[N_SERVICE_TIERS:]]

        def run(first: int, last: int, best: Schedule) -> ExactResult:
            model.tiers = everything[first:last]
            judge = Judge(lambda p, s: self.figures(p, s)[first:last], self.names[first:last])
            return minimise_in_order(
                model, best, judge, work=self.effort.exact_work, seed=self.effort.seed, progress=self.progress, stop=self.stop
            )  # fmt: skip

        service = run(0, N_SERVICE_TIERS, start)
        if is_letter and service.tiers == self.figures(self.problem, start)[:N_SERVICE_TIERS]:
            return self._result(start, (*service.bounds, 0))
        rest = run(N_SERVICE_TIERS, len(self.names), service.schedule)
        return self._result(rest.schedule, (*service.bounds, *rest.bounds))

    def _result(self, schedule: Schedule, bounds: Sequence[int]) -> _Result:
        """``bounds`` of the figures, as far as they are known."""
        values = self.figures(self.problem, schedule)
        known = [min(b, v) for b, v in zip([*bounds, *(0 for _ in values[len(bounds) :])], values, strict=True)]
        proven: list[bool] = []
        for value, bound in zip(values, known, strict=True):
            proven.append(value == bound and all(proven))
        keep = [n for n in range(len(values)) if n != N_SERVICE_TIERS]
        result = ExactResult(
            schedule=schedule,
            tiers=tuple(values[n] for n in keep),
            bounds=tuple(known[n] for n in keep),
            is_proven=tuple(proven[n] for n in keep),
        )
        return _Result(schedule, result, values[N_SERVICE_TIERS], known[N_SERVICE_TIERS])


def _with_driven_ways(travel: TravelTable, past: Past) -> TravelTable:
    """Ways that people have rolled and that nobody would be sent again, for the write-up."""
    rolls = dict(travel.rolls)
    for u, (state, line) in enumerate(zip(past.states, past.lines, strict=True)):
        if state == "done" and line is not None and line.way == "roll":
            took = next(float(r.minutes) for r in past.problem.rolls if r.party == u)
            driven = RollWay(minutes=took, minutes_expected=took, soc_arrival=0.0, doubt=0.0)
            for rider_id in past.problem.parties[u].riders:
                rolls.setdefault((rider_id, line.shelter or ""), driven)
    return replace(travel, rolls=rolls)


@dataclass(frozen=True, slots=True)
class _Writer:
    """Writes schedules of the held problem as plans. ``problem``: with the news, nothing held."""

    move: Move
    needs: Sequence[Needs]
    travel: TravelTable
    problem: Problem
    past: Past
    earlier: Plan
    lost: Mapping[str, str]  # who is stuck, and what is said of them
    carried: Mapping[str, str]  # who of them is aboard which van

    def plain(self, schedule: Schedule) -> Plan:
        """The doings of a schedule, for the auditor: no figures, no explanations."""
        facts = Facts(self.move, {n.id: n for n in self.needs}, self.travel, self.past.problem, self._whole(schedule))
        doings = {"vans": van_plans(facts), "escorts": escort_plans(facts), "shelters": shelter_plans(facts)}
        plan = Plan(move={}, riders=rider_plans(facts), tiers=(), extra=self._now(), **doings)  # type: ignore[arg-type]
        return self._with_carried(self._as_left(plan))

    def _now(self) -> dict[str, Any]:
        """The moment of the news, as the auditor reads it."""
        moment = self.move.start + dt.timedelta(minutes=max(0, self.past.now))
        stuck = {i: {"van": van} for i, van in self.carried.items()}
        return {"changes": {"now": moment.isoformat(timespec="minutes") if self.past.now >= 0 else None, "stuck": stuck}}

    def _whole(self, schedule: Schedule) -> Schedule:
        """The schedule with the escorts of what is held."""
        held = self.past.escorts
        legs = (replace(leg, escorts=held[u]) if leg is not None and u in held else leg for u, leg in enumerate(schedule.legs))
        return Schedule(legs=tuple(legs), tours=schedule.tours)

    def _as_left(self, plan: Plan) -> Plan:
        """Whoever is out on the way to a loading zone left when they left, and so did those who walk along."""
        past, clock = self.past, Clock(self.move.start)
        out = {i: past.lines[u] for u, s in enumerate(past.states) if s == "committed" for i in past.problem.parties[u].riders}
        left = {
            r.id: before.leave
            for r in plan.riders
            if (before := out.get(r.id)) is not None and r.way in ("van", "apart") and set(r.escorts) == set(before.escorts)
        }
        riders = tuple(replace(r, leave=min(r.leave, left[r.id], key=clock.minute)) if r.id in left else r for r in plan.riders)
        earlier = {(e.id, j.riders): j for e in self.earlier.escorts for j in e.jobs}

        def as_met(escort_id: str, job: Job) -> Job:
            old = earlier.get((escort_id, job.riders))
            if old is None or job.riders[0] not in left or clock.minute(old.meet) >= clock.minute(job.meet):
                return job
            return replace(job, leave=old.leave, meet=old.meet)

        escorts = (replace(e, jobs=tuple(as_met(e.id, j) for j in e.jobs)) for e in plan.escorts)
        return replace(plan, riders=riders, escorts=tuple(escorts))

    def _with_carried(self, plan: Plan) -> Plan:
        """Whoever can be taken nowhere stays aboard: the van's stops show when they were loaded, and how full it is since."""
        vans = list(plan.vans)
        for before in self.earlier.vans:
            k = next((k for k, v in enumerate(vans) if v.id == before.id), -1)
            for n, stop in enumerate(before.stops):
                if k >= 0 and stop.kind == "load" and self.carried.get(stop.riders[0]) == before.id:
                    vans[k] = replace(vans[k], stops=self._put_in(vans[k].stops, stop, before.stops[n + 1 :]))
        return replace(plan, vans=tuple(vans))

    def _put_in(self, stops: Sequence[VanStop], load: VanStop, later: Sequence[VanStop]) -> tuple[VanStop, ...]:
        """``stops`` with the loading of somebody who is still aboard; ``later``: what followed it in the earlier plan."""
        clock, nodes = Clock(self.move.start), list(self.travel.nodes)
        u = next(u for u, p in enumerate(self.problem.parties) if load.riders[0] in p.riders)
        k = next(k for k, v in enumerate(self.problem.vans) if v.id == self.carried[load.riders[0]])
        pickup = self.problem.pickups.get((u, k))
        first = [s for s in stops if clock.minute(s.start) <= clock.minute(load.start)]
        after = [
            replace(s, aboard=s.aboard + (pickup.positions if pickup else self.problem.vans[k].positions)) for s in stops[len(first) :]
        ]
        if after:
            old = next((s for s in later if (s.kind, s.riders) == (after[0].kind, after[0].riders)), None)
            begun = old is not None and clock.minute(old.start) <= self.past.now
            drive = self.past.problem.drive_min(nodes.index(load.node), nodes.index(after[0].node), clock.minute(load.end))
            arrive = clock.minute(load.end) + drive
            times = (old.drive_min, old.arrive) if begun and old is not None else (drive, self._clock_at(arrive))
            after[0] = replace(after[0], drive_min=times[0], arrive=times[1])
        return (*first, load, *after)

    def _clock_at(self, minute: int) -> str:
        return (self.move.start + dt.timedelta(minutes=minute)).isoformat(timespec="minutes")

    def _happened(self) -> dict[str, str]:
        """Rider -> how far; of whoever is lost, how far they were when last heard of."""
        past, told = self.past, dict(news_of(self.earlier).get("happened") or {})
        states = {i: s for u, s in enumerate(past.states) if s != "free" for i in past.problem.parties[u].riders}
        return {i: str(told.get(i, "aboard")) if s == "lost" else s for i, s in states.items()}

    def plan(self, result: _Result, prices: Prices) -> Plan:
        """The plan with its changes in words."""
        past = self.past
        judged = replace(result.tiers, schedule=self._whole(result.schedule))
        plan = self._with_carried(self._as_left(write_up(self.move, self.needs, self.travel, past.problem, judged)))
        stuck = stuck_reasons(past, result.schedule, self.lost)
        lines = tuple(replace(r, reasons=(stuck[r.id], *r.reasons)) if r.id in stuck else r for r in plan.riders)
        facts = {
            **self._now()["changes"],
            "price": result.price,
            "bound": result.price_bound,
            "is_proven": result.price == result.price_bound and all(result.tiers.is_proven[:N_SERVICE_TIERS]),
            "prices": {name: getattr(prices, name) for name in Prices.__slots__},
            "happened": self._happened(),
            "stuck": {
                r.id: {"place": _place(r), "words": stuck[r.id], "van": self.carried.get(r.id)} for r in self.move.riders if r.id in stuck
            },
            "because": reasons_of_changes(self.earlier, plan, past, self.problem, result.schedule),
        }
        plan = replace(plan, riders=lines, extra={**plan.extra, "changes": facts})
        return replace(plan, changes=tuple(difference(self.earlier, plan)))
