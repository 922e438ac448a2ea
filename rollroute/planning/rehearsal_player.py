"""One evening played: the plan's doings in their order, each as late as chance makes it. Shares no code with the solvers.

Nobody plans anew in a rehearsal: a rider whose way is blocked has not arrived, a van that fails brings nobody any more.
Vans wait for riders and riders for vans; nobody leaves before the time that they were told.
A delay is put down to what made it: the rider, the escort, the van, or the place.
In a plan made anew, chance begins at the moment of the news: what has happened went as the plan says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from rollroute.inputs.chair import find_chair
from rollroute.inputs.charge import parse_charge
from rollroute.inputs.move_folder import Move
from rollroute.planning.audit_book import Book
from rollroute.planning.plan import Plan, RiderPlan, Stop
from rollroute.planning.rehearsal_odds import NO_NOISE, Odds, spread
from rollroute.planning.travel import LoadingZone, RollWay, TravelTable

CHARGE_LOST_MIN = 30.0  # minutes of a planned plug that may be lost before somebody counts as not charged (assumption)


@dataclass(frozen=True, slots=True, order=True)
class Cause:
    """What broke somebody's evening. ``kind``: rider, van, escort, outlet, shelter or place."""

    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Evening:
    """One run: riders who did not arrive in time and charged, each with the cause; empty where everybody did."""

    broken: Mapping[str, Cause]


@dataclass
class _VanNow:
    node: str
    minute: float
    fails: float
    cause: Cause
    aboard: set[str] = field(default_factory=set)


@dataclass
class _EscortNow:
    free: float
    cause: Cause


@dataclass(frozen=True, slots=True)
class _Doing:
    """A roll or a van's stop, in the order of its planned time."""

    planned: float
    riders: tuple[str, ...]
    van: str | None = None
    stop: Stop | None = None


class Player:
    """Plays a plan again and again; everything that does not depend on chance is read once."""

    def __init__(self, plan: Plan, move: Move, travel: TravelTable, odds: Odds) -> None:
        self.plan, self.move, self.travel, self.odds = plan, move, travel, odds
        self.book = Book(plan, move, travel)
        self.lines = {r.id: r for r in plan.riders if r.way is not None}
        self.doings = sorted([*self._rolls(), *self._stops()], key=lambda d: d.planned)
        self.limit = {i: min(self.book.socket_by(r), self._minute(r.latest_arrival)) for i, r in self.book.riders.items()}
        self.closes = {i: self.book.closes(i) for i in self.lines}
        self.areas = {i: self.book.closing_area(i) for i in self.lines}
        self.low = {i: self._low(i) for i, x in self.lines.items() if x.way == "roll"}
        self.meets = {(e.id, i): self.book.time(j.meet) for e in plan.escorts for j in e.jobs for i in j.riders}

    def _minute(self, moment: object) -> float:
        return self.book.minute(moment, math.inf)  # type: ignore[arg-type]

    def _low(self, rider_id: str) -> float:
        rider = self.book.riders[rider_id]
        chair = find_chair(rider.chair or "unknown")
        return parse_charge(rider.charge or "unknown", chair.gauge, battery_age_years=chair.battery.age_years).low

    def _rolls(self) -> list[_Doing]:
        found: dict[tuple[str, ...], _Doing] = {}
        for line in self.lines.values():
            if line.way == "roll":
                riders = tuple(sorted({line.id, *line.together}))
                found[riders] = _Doing(self.book.time(line.leave), riders)
        return list(found.values())

    def _stops(self) -> list[_Doing]:
        return [_Doing(self.book.time(s.start), s.riders, v.id, s) for v in self.plan.vans for s in v.stops]

    def play(self, rng: np.random.Generator) -> Evening:
        """One evening."""
        return _Run(self, rng).evening()


class _Run:
    """The state of one evening."""

    def __init__(self, player: Player, rng: np.random.Generator) -> None:
        self.player, self.rng, self.odds, self.book = player, rng, player.odds, player.book
        self.broken: dict[str, Cause] = {}
        self.luck: dict[str, float] = {}
        self.arrived: dict[str, float] = {}
        self.delayed_by: dict[str, Cause] = {}
        self.loads: list[tuple[str, tuple[str, ...], float]] = []  # van, riders, minute out if nobody else is fetched there
        self.vans = {v.id: self._van(v.id) for v in player.plan.vans}
        self.escorts = {e.id: self._escort(e.id) for e in player.plan.escorts}

    def _van(self, van_id: str) -> _VanNow:
        first, _ = self.book.van_hours(self.book.vans[van_id])
        late = self._maybe(self.odds.van_late, self.odds.van_late_mean_min)
        stops = next(v.stops for v in self.player.plan.vans if v.id == van_id)
        late = 0.0 if stops and self.book.time(stops[0].arrive) <= self.book.now else late
        last = self.book.time(stops[-1].start) if stops else -math.inf
        first_failing = max(first, self.book.now)
        moment = float(self.rng.uniform(first_failing, last)) if last > first_failing else math.inf
        fails = moment if self._happens(self.odds.van_fails) else math.inf
        return _VanNow(self.player.travel.van_nodes.get(van_id, ""), first + late, fails, Cause("van", van_id))

    def _escort(self, escort_id: str) -> _EscortNow:
        jobs = next(e.jobs for e in self.player.plan.escorts if e.id == escort_id)
        has_come = any(self.book.time(j.leave) <= self.book.now for j in jobs)
        free = math.inf if self._happens(self.odds.escort_absent) and not has_come else -math.inf
        return _EscortNow(free, Cause("escort", escort_id))

    # Chance

    def _happens(self, chance: float) -> bool:
        return bool(self.rng.random() < chance)

    def _maybe(self, chance: float, mean_min: float) -> float:
        draw, minutes = self.rng.random(), float(self.rng.exponential(mean_min))
        return minutes if draw < chance else 0.0

    def _factor(self, median: float) -> float:
        return float(median * math.exp(spread(median) * self.rng.standard_normal()))

    def _is_blocked(self, place: str, surprisal: float) -> bool:
        """Whether a place turns out bad. Questions belong to places: one place, one answer in one evening, for everybody."""
        luck = self.luck.setdefault(place, float(self.rng.random()))
        return luck < -math.expm1(-surprisal * self.odds.doubt_share)

    # The evening

    def evening(self) -> Evening:
        """Play every doing, then look at limits and outlets."""
        for doing in self.player.doings:
            self.odds = NO_NOISE if doing.planned <= self.book.now else self.player.odds
            if doing.stop is None:
                self._roll(doing.riders, doing.planned)
            elif set(doing.riders) <= set(self.book.carried):
                van = self.vans[doing.van or ""]  # loaded before the news and still aboard: where the van was then is a fact
                van.node, van.minute = doing.stop.node, self.book.time(doing.stop.end)
            elif doing.stop.kind == "load":
                self._load(doing, doing.stop)
            else:
                self._unload(doing, doing.stop)
        self.odds = self.player.odds
        self._areas_in_time()
        for rider_id, line in self.player.lines.items():
            if rider_id not in self.arrived and rider_id not in self.broken:
                self._break(rider_id, Cause("van", line.van) if line.van else Cause("rider", rider_id))
            elif self.arrived.get(rider_id, -math.inf) > self.player.limit[rider_id] + Book.SLACK:
                self._break(rider_id, self.delayed_by[rider_id])
        self._outlets()
        return Evening(self.broken)

    def _break(self, rider_id: str, cause: Cause) -> None:
        self.broken.setdefault(rider_id, cause)

    def _leave(self, riders: Sequence[str], planned: float) -> tuple[float, Cause]:
        """When riders and whoever walks along are all at the door, and who came last."""
        latest, cause = planned, Cause("rider", riders[0])
        for rider_id in riders:
            ready = planned + self._maybe(self.odds.rider_late, self.odds.rider_late_mean_min)
            if ready > latest:
                latest, cause = ready, Cause("rider", rider_id)
        for escort_id in self._walkers(riders):
            escort = self.escorts[escort_id]
            approach = max(self.book.approach(escort_id, i) for i in riders)
            there = max(self.player.meets[escort_id, riders[0]], escort.free + approach)
            if there > latest:
                latest, cause = there, escort.cause
        return latest, cause

    def _walkers(self, riders: Sequence[str]) -> list[str]:
        walkers = {e for i in riders if i in self.player.lines for e in self.player.lines[i].escorts}
        return sorted(e for e in walkers if e in self.escorts and (e, riders[0]) in self.player.meets)

    def _release(self, riders: Sequence[str], minute: float, cause: Cause) -> None:
        """Escorts are free again from ``minute``."""
        for escort_id in self._walkers(riders):
            escort = self.escorts[escort_id]
            if math.isfinite(escort.free) or escort.free < 0:
                self.escorts[escort_id] = _EscortNow(minute, cause)

    def _roll(self, riders: tuple[str, ...], planned: float) -> None:
        lines = [self.player.lines[i] for i in riders]
        leave, cause = self._leave(riders, planned)
        if not math.isfinite(leave):
            for i in riders:
                self._break(i, cause)
            return
        ways = [self.player.travel.rolls[x.id, x.shelter or ""] for x in lines]
        took = max(w.minutes * self._pace(w) for w in ways)
        shelter = self.book.shelters[lines[0].shelter or ""]
        arrive = max(leave + took, self.book.minute(shelter.opens, leave + took))
        for line, way in zip(lines, ways, strict=True):
            self.delayed_by[line.id] = cause if leave - planned > 0.0 else Cause("rider", line.id)
            self._drive(line, way, leave, took, arrive)
        after = max(self.book.back(e, lines[0].shelter or "") for e in self._walkers(riders)) if self._walkers(riders) else 0.0
        is_back = any(i in self.broken for i in riders)
        self._release(riders, leave + 2 * took if is_back else arrive + after, cause)

    def _pace(self, way: RollWay) -> float:
        drawn = self._factor(min(1.0, max(0.05, way.minutes_expected / way.minutes))) if way.minutes > 0 else 1.0
        return 1.0 if self.odds.keeps_roll_pace else drawn

    def _drive(self, line: RiderPlan, way: RollWay, leave: float, took: float, arrive: float) -> None:
        """One rider's roll: closed behind them, blocked, out of charge, or inside."""
        if self._is_blocked(f"way {sorted({line.id, *line.together})} {line.shelter}", way.doubt):
            weakest = line.unverified or way.unverified or (f"the way of {line.id} to {line.shelter}",)
            self._break(line.id, Cause("place", weakest[int(self.rng.integers(len(weakest)))]))
        elif way.latest_departure_min is not None and leave > way.latest_departure_min + Book.SLACK:
            self._break(line.id, self.delayed_by[line.id])
        elif self._is_empty(line.id, way):
            self._break(line.id, Cause("rider", line.id))
        else:
            leaves_area = took if way.leave_area_min is None else way.leave_area_min * took / way.minutes
            if leave + leaves_area > self.player.closes[line.id] + Book.SLACK:
                self._break(line.id, self.delayed_by[line.id])
            self.arrived[line.id] = arrive

    def _is_empty(self, rider_id: str, way: RollWay) -> bool:
        """Whether the battery gives out: planned use of charge, more or less of it, from a battery that may hold less."""
        low = self.player.low[rider_id]
        used = max(0.0, low - way.soc_arrival) * self._factor(self.odds.energy_median)
        health = self.rng.uniform(self.odds.weak_health_least, 1.0) if self._happens(self.odds.weak_battery) else 1.0
        return used > low * health + 1e-9 and way.charge_first_min <= 0.0

    def _travel_to(self, van: _VanNow, node: str) -> bool:
        """Drive to ``node``; false where no road is open any more."""
        table, factor = self.player.travel, self._factor(self.odds.drive_median)
        if van.node not in table.nodes or node not in table.nodes:
            return False
        a, b = table.nodes.index(van.node), table.nodes.index(node)
        for phase in table.phases:
            minutes = float(phase.minutes[a, b]) * factor
            if van.minute + minutes <= phase.ends_min:
                van.node, van.minute = node, van.minute + minutes
                return True
        return False

    def _work(self, minutes: float) -> float:
        return minutes * self._factor(self.odds.handling_median) + self._maybe(self.odds.snag, self.odds.snag_mean_min)

    def _reach(self, doing: _Doing, stop: Stop, riders: Sequence[str]) -> _VanNow | None:
        """The van at its stop, or ``None``: it has failed, is cut off, or has nobody to work with there."""
        van = self.vans[doing.van or ""]
        if not riders or van.minute >= van.fails:
            return None
        if not self._travel_to(van, stop.node) or van.minute >= van.fails:
            if van.minute < van.fails:
                van.cause = Cause("place", f"road to {stop.place}")
            van.fails = min(van.fails, van.minute)
            for i in {*riders, *van.aboard}:
                self._break(i, van.cause if van.cause.kind == "place" else Cause("van", doing.van or ""))
            return None
        return van

    def _load(self, doing: _Doing, stop: Stop) -> None:
        riders = [i for i in stop.riders if i in self.player.lines]
        planned_leave = min(self.book.time(self.player.lines[i].leave) for i in riders)
        leave, cause = self._leave(riders, planned_leave)
        zones = [_zone(self.player.travel.pickups.get(i, ()), stop.node) for i in riders]
        out = max((z.roll_min for z in zones if z is not None), default=0.0)
        blocked = [z for z in zones if z is not None and self._is_blocked(f"zone {stop.node}", z.doubt)]
        for i in riders:
            if blocked or not math.isfinite(leave):
                self._break(i, Cause("place", stop.place) if blocked else cause)
        coming = [i for i in riders if i not in self.broken]
        van = self._reach(doing, stop, coming)
        if van is None:
            return
        at_zone = leave + out
        start = max(doing.planned, van.minute, at_zone)
        if at_zone >= start > doing.planned:
            van.cause = cause
        elif start <= doing.planned + Book.SLACK:
            van.cause = Cause("van", doing.van or "")
        van.minute = start + self._work(self.book.time(stop.end) - doing.planned)
        van.aboard |= set(coming)
        self._release(riders, van.minute + max((self.book.approach(e, riders[0]) for e in self._walkers(riders)), default=0.0), van.cause)
        exits = [self.player.travel.exit_min.get(i, math.nan) for i in coming]
        exit_min = max(exits) if not any(math.isnan(x) for x in exits) else self._far(stop.node)
        self.loads.append((doing.van or "", tuple(coming), van.minute + exit_min))
        for i in coming:
            self.delayed_by[i] = van.cause

    def _far(self, node: str) -> float:
        table = self.player.travel
        row = table.nodes.index(node)
        return max((float(m) for p in table.phases for m in p.minutes[row] if math.isfinite(m)), default=0.0)

    def _unload(self, doing: _Doing, stop: Stop) -> None:
        van_id = doing.van or ""
        riders = [i for i in stop.riders if i in self.vans[van_id].aboard and i not in self.broken]
        van = self._reach(doing, stop, riders)
        if van is None:
            return
        self.loads.append((van_id, (), 0.0))  # the round has left the pick-ups behind
        start = max(doing.planned, van.minute)
        if start <= doing.planned + Book.SLACK:
            van.cause = Cause("van", van_id)
        van.minute = start + self._work(self.book.time(stop.end) - doing.planned)
        van.aboard -= set(riders)
        for i in riders:
            line = self.player.lines[i]
            zone = _zone(self.player.travel.dropoffs.get((i, line.shelter or ""), ()), stop.node)
            if zone is not None and self._is_blocked(f"zone {stop.node}", zone.doubt):
                self._break(i, Cause("place", stop.place))
                continue
            inside = van.minute + (0.0 if zone is None else zone.roll_min)
            shelter = self.book.shelters[line.shelter or ""]
            self.arrived[i] = max(inside, self.book.minute(shelter.opens, inside))
            self.delayed_by[i] = van.cause

    def _areas_in_time(self) -> None:
        """Whoever is fetched first in an area is out only once the van has left it with the last one."""
        out: dict[str, tuple[float, str | None]] = {}
        for van_id, riders, minute in reversed(self.loads):
            if not riders:
                out.pop(van_id, None)
                continue
            area = next((self.player.areas[i] for i in riders if self.player.areas[i] is not None), None)
            last, same = out.get(van_id, (-math.inf, None))
            leaves = max(minute, last) if area is not None and area == same else minute
            out[van_id] = (leaves, area)
            for i in riders:
                if leaves > self.player.closes[i] + Book.SLACK:
                    self._break(i, self.delayed_by[i])

    def _outlets(self) -> None:
        """Everybody who is to be plugged in is, about as long as planned."""
        for shelter in self.player.plan.shelters:
            has_failed = self._happens(self.odds.power_fails)
            dead = {key: self._happens(self.odds.outlet_dead) for key in sorted({(p.circuit, p.outlet) for p in shelter.plugs})}
            for plug in shelter.plugs:
                lost = self.arrived.get(plug.rider, math.inf) - self.book.time(plug.start)
                if has_failed:
                    self._break(plug.rider, Cause("shelter", f"power at {shelter.name}"))
                elif dead[plug.circuit, plug.outlet]:
                    self._break(plug.rider, Cause("outlet", f"{shelter.name}, {plug.circuit} {plug.outlet}"))
                elif lost > CHARGE_LOST_MIN and not plug.is_held:
                    self._break(plug.rider, self.delayed_by.get(plug.rider, Cause("rider", plug.rider)))


def _zone(zones: Sequence[LoadingZone], node: str) -> LoadingZone | None:
    return next((z for z in zones if z.node == node), None)
