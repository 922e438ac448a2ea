"""Variables and rules of the constraint program for a whole move.

Van k's nodes: 0 its start, 1 + u loading party u, 1 + n + u unloading it.
A loop at a node leaves it out; the loop at 0 leaves the van idle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from rollroute.planning.objective import INTAKE_WINDOW_MIN, outlet_points, outlet_room, service_weights, tour_drives
from rollroute.planning.problem import NEVER, Problem, RideLeg, RollLeg, Schedule

Literal = Any  # OR-Tools: a Boolean variable or its negation
Variable = Any
Expression = Any


@dataclass
class ExactModel:
    """The constraint program and the variables that a schedule is read from."""

    problem: Problem
    cp: cp_model.CpModel
    rolls: list[Literal] = field(default_factory=list)
    departs: list[Variable] = field(default_factory=list)
    roll_escorts: dict[tuple[int, int], Literal] = field(default_factory=dict)
    rides: dict[tuple[int, int, int], Literal] = field(default_factory=dict)
    aboard: dict[tuple[int, int], Literal] = field(default_factory=dict)
    ride_escorts: dict[tuple[int, int, int], Literal] = field(default_factory=dict)
    loads: list[Variable] = field(default_factory=list)
    unloads: list[Variable] = field(default_factory=list)
    arrivals: list[Variable] = field(default_factory=list)
    outs: list[Variable] = field(default_factory=list)
    lefts: list[Literal] = field(default_factory=list)
    drives: dict[int, Variable] = field(default_factory=dict)  # node -> minutes of the drive that ends there
    arcs: list[dict[tuple[int, int], Literal]] = field(default_factory=list)
    below: list[Variable] = field(default_factory=list)
    late: list[Variable] = field(default_factory=list)
    shortage: list[Variable] = field(default_factory=list)
    tiers: list[Expression] = field(default_factory=list)

    def set_hint(self, schedule: Schedule) -> None:
        """Start the search from ``schedule``."""
        self.cp.clear_hints()  # type: ignore[no-untyped-call]
        chosen_rolls = {leg.roll: leg for leg in schedule.legs if isinstance(leg, RollLeg)}
        for r, literal in enumerate(self.rolls):
            self.cp.add_hint(literal, r in chosen_rolls)
            if r in chosen_rolls:
                self.cp.add_hint(self.departs[r], chosen_rolls[r].depart)
        for (e, r), literal in self.roll_escorts.items():
            self.cp.add_hint(literal, r in chosen_rolls and e in chosen_rolls[r].escorts)
        for (u, k, j), literal in self.rides.items():
            leg = schedule.legs[u]
            self.cp.add_hint(literal, isinstance(leg, RideLeg) and (leg.van, leg.shelter) == (k, j))
        for (u, k), literal in self.aboard.items():
            leg = schedule.legs[u]
            self.cp.add_hint(literal, isinstance(leg, RideLeg) and leg.van == k)
        for u, leg in enumerate(schedule.legs):
            if isinstance(leg, RideLeg):
                self.cp.add_hint(self.loads[u], leg.load)
                self.cp.add_hint(self.unloads[u], leg.unload)
        self._hint_tours(schedule)

    def _hint_tours(self, schedule: Schedule) -> None:
        n = len(self.problem.parties)
        all_drives = tour_drives(self.problem, schedule)
        for arcs, tour, drives in zip(self.arcs, schedule.tours, all_drives, strict=True):
            nodes = [0, *(1 + u if is_pickup else 1 + n + u for u, is_pickup in tour), 0]
            used = set(pairwise(nodes)) if tour else {(0, 0)}
            for (a, b), literal in arcs.items():
                if a != b or a == 0:  # the other loops are hinted as ``aboard``
                    self.cp.add_hint(literal, (a, b) in used)
            for node, minutes in zip(nodes[1:], drives, strict=False):
                self.cp.add_hint(self.drives[node], minutes)


def build_model(problem: Problem) -> ExactModel:
    """The constraint program of ``problem``, with its tiers in order."""
    model = ExactModel(problem, cp_model.CpModel())
    _choices(model)
    _rolls(model)
    _rides(model)
    for van in range(len(problem.vans)):
        _tour(model, van)
    _shelters(model)
    _escorts(model)
    _limits(model)
    _tiers(model)
    return model


def _minutes(model: ExactModel, name: str) -> Variable:
    return model.cp.new_int_var(0, model.problem.horizon, name)


def _choices(model: ExactModel) -> None:
    """One way per party, or none."""
    problem, cp = model.problem, model.cp
    model.rolls = [cp.new_bool_var(f"roll{r}") for r in range(len(problem.rolls))]
    model.rides = {key: cp.new_bool_var(f"ride{key}") for key in problem.dropoffs if key[:2] in problem.pickups}
    model.aboard = {key: cp.new_bool_var(f"aboard{key}") for key in problem.pickups}
    for u in range(len(problem.parties)):
        left = cp.new_bool_var(f"left{u}")
        ways = [x for r, x in zip(problem.rolls, model.rolls, strict=True) if r.party == u]
        ways += [x for key, x in model.rides.items() if key[0] == u]
        cp.add_exactly_one([left, *ways])
        model.lefts.append(left)
        for name, into in (("load", model.loads), ("unload", model.unloads), ("inside", model.arrivals), ("out", model.outs)):
            into.append(_minutes(model, f"{name}{u}"))
    for (u, k), literal in model.aboard.items():
        cp.add(sum(x for key, x in model.rides.items() if key[:2] == (u, k)) == literal)


def _rolls(model: ExactModel) -> None:
    for r, (roll, chosen) in enumerate(zip(model.problem.rolls, model.rolls, strict=True)):
        depart = _minutes(model, f"depart{r}")
        model.departs.append(depart)
        u = roll.party
        model.cp.add(depart >= roll.first_departure).only_enforce_if(chosen)
        model.cp.add(depart <= roll.last_departure).only_enforce_if(chosen)
        model.cp.add(model.arrivals[u] == depart + roll.minutes).only_enforce_if(chosen)
        model.cp.add(model.outs[u] >= depart + roll.leave_area).only_enforce_if(chosen)


def _rides(model: ExactModel) -> None:
    problem, cp = model.problem, model.cp
    for (u, k), literal in model.aboard.items():
        pickup, van = problem.pickups[u, k], problem.vans[k]
        loaded = model.loads[u] + pickup.load
        cp.add(model.loads[u] >= max(problem.parties[u].ready + pickup.roll, pickup.load_from)).only_enforce_if(literal)
        if pickup.load_by < NEVER:
            cp.add(model.loads[u] <= pickup.load_by).only_enforce_if(literal)
        cp.add(model.outs[u] >= loaded + pickup.exit).only_enforce_if(literal)
        cp.add(model.unloads[u] + pickup.unload <= van.ends).only_enforce_if(literal)
        cp.add(model.unloads[u] + pickup.unload - loaded <= problem.ride_limit[u]).only_enforce_if(literal)
    for (u, k, j), literal in model.rides.items():
        pickup, dropoff = problem.pickups[u, k], problem.dropoffs[u, k, j]
        cp.add(model.arrivals[u] == model.unloads[u] + pickup.unload + dropoff.roll).only_enforce_if(literal)
        if dropoff.inside_from > 0:
            cp.add(model.arrivals[u] >= dropoff.inside_from).only_enforce_if(literal)
        if dropoff.inside_by < NEVER:
            cp.add(model.arrivals[u] <= dropoff.inside_by).only_enforce_if(literal)
        direct = min(int(problem.drive[p, pickup.node, dropoff.node]) for p in range(len(problem.phase_ends)))
        cp.add(model.unloads[u] >= model.loads[u] + pickup.load + direct).only_enforce_if(literal)


def _tour(model: ExactModel, k: int) -> None:
    """Van ``k``'s round: order, time, positions and seats."""
    problem, cp, n = model.problem, model.cp, len(model.problem.parties)
    parties = [u for u in range(n) if (u, k) in model.aboard]
    idle = cp.new_bool_var(f"idle{k}")
    arcs: dict[tuple[int, int], Literal] = {(0, 0): idle}
    for u in parties:
        arcs[1 + u, 1 + u] = ~model.aboard[u, k]
        arcs[1 + n + u, 1 + n + u] = ~model.aboard[u, k]
    nodes = [0, *(1 + u for u in parties), *(1 + n + u for u in parties)]
    for a in nodes:
        for b in nodes:
            if _may_follow(problem, k, a, b):
                arcs[a, b] = cp.new_bool_var(f"arc{k}:{a}-{b}")
    cp.add_circuit([(a, b, literal) for (a, b), literal in arcs.items()])
    model.arcs.append(arcs)
    for name, room in (("positions", problem.vans[k].positions), ("seats", problem.vans[k].seats)):
        _capacity(model, k, arcs, name, room)
    for (a, b), literal in arcs.items():
        if a != b and b != 0:
            _drive(model, k, a, b, literal)


def _may_follow(problem: Problem, k: int, a: int, b: int) -> bool:
    n = len(problem.parties)
    if a == b:
        return False
    if a == 0:
        return b <= n  # the first stop loads
    if b == 0:
        return a > n  # the last stop unloads
    if a > n and b == a - n:
        return False  # nobody is loaded again
    if a <= n and b <= n:
        pair = (problem.pickups[a - 1, k], problem.pickups[b - 1, k])
        van = problem.vans[k]
        return sum(p.positions for p in pair) <= van.positions and sum(p.seats for p in pair) <= van.seats
    return True


def _capacity(model: ExactModel, k: int, arcs: dict[tuple[int, int], Literal], name: str, room: int) -> None:
    """What is aboard after each stop, carried along the arcs."""
    n = len(model.problem.parties)
    taken = {a: model.cp.new_int_var(0, room, f"{name}{k}:{a}") for a, b in arcs if a != 0 and a == b}
    for (a, b), literal in arcs.items():
        if a == b or b == 0:
            continue
        u = b - 1 if b <= n else b - 1 - n
        change = int(getattr(model.problem.pickups[u, k], name)) * (1 if b <= n else -1)
        model.cp.add(taken[b] >= (taken[a] if a else 0) + change).only_enforce_if(literal)


def _ends(model: ExactModel, k: int, node: int) -> list[tuple[list[Literal], int]]:
    """Places that a node of van ``k`` can be at, each with the choice that puts it there."""
    problem, n = model.problem, len(model.problem.parties)
    if node == 0:
        return [([], problem.vans[k].node)]
    if node <= n:
        return [([], problem.pickups[node - 1, k].node)]
    by_place: dict[int, list[int]] = {}
    u = node - 1 - n
    for j in problem.shelters_for(u, k):
        by_place.setdefault(problem.dropoffs[u, k, j].node, []).append(j)
    if len(by_place) == 1:
        return [([], next(iter(by_place)))]
    return [([model.rides[u, k, j]], place) for place, shelters in by_place.items() for j in shelters]


def _drive(model: ExactModel, k: int, a: int, b: int, literal: Literal) -> None:
    """Time and driving minutes along one arc, for every place that its ends can be at."""
    problem, n = model.problem, len(model.problem.parties)
    if b not in model.drives:
        model.drives[b] = _minutes(model, f"drive{b}")
    leaves: Expression
    if a == 0:
        leaves = problem.vans[k].starts
    elif a <= n:
        leaves = model.loads[a - 1] + problem.pickups[a - 1, k].load
    else:
        leaves = model.unloads[a - 1 - n] + problem.pickups[a - 1 - n, k].unload
    reaches = model.loads[b - 1] if b <= n else model.unloads[b - 1 - n]
    if 0 < a <= n and b <= n and problem.parties[a - 1].area == problem.parties[b - 1].area >= 0:
        model.cp.add(model.outs[a - 1] >= model.outs[b - 1]).only_enforce_if(literal)
    for choice_a, place_a in _ends(model, k, a):
        for choice_b, place_b in _ends(model, k, b):
            _drive_between(model, [literal, *choice_a, *choice_b], (place_a, place_b), leaves, reaches, model.drives[b])


def _drive_between(
    model: ExactModel, when: Sequence[Literal], places: tuple[int, int], leaves: Expression, reaches: Expression, driven: Variable
) -> None:
    problem, cp = model.problem, model.cp
    phases: dict[int, int] = {}  # driving minutes -> end of the last phase that offers them
    for p, end in enumerate(problem.phase_ends):
        minutes = int(problem.drive[p, places[0], places[1]])
        if minutes < NEVER:
            phases[minutes] = max(phases.get(minutes, 0), int(end))
    open_phases = list(phases.items())
    if not open_phases:
        cp.add_bool_or([~x for x in when])
        return
    picks = [cp.new_bool_var("phase") for _ in open_phases] if len(open_phases) > 1 else [None]
    if len(open_phases) > 1:
        cp.add_bool_or([*picks, *(~x for x in when)])
    for (minutes, end), pick in zip(open_phases, picks, strict=True):
        literals = [*when, pick] if pick is not None else list(when)
        cp.add(reaches >= leaves + minutes).only_enforce_if(literals)
        cp.add(driven >= minutes).only_enforce_if(literals)
        if end < NEVER:
            cp.add(leaves + minutes <= end).only_enforce_if(literals)


def _inside(model: ExactModel, u: int, j: int) -> list[Literal]:
    rolled = [x for r, x in zip(model.problem.rolls, model.rolls, strict=True) if (r.party, r.shelter) == (u, j)]
    return rolled + [x for key, x in model.rides.items() if (key[0], key[2]) == (u, j)]


def _shelters(model: ExactModel) -> None:
    problem, cp = model.problem, model.cp
    for j, shelter in enumerate(problem.shelters):
        places, sockets, hours, intervals, sizes = [], [], [], [], []
        for u, party in enumerate(problem.parties):
            ways = _inside(model, u, j)
            if not ways:
                continue
            present = cp.new_bool_var(f"inside{u}:{j}")
            cp.add(sum(ways) == present)
            cp.add(model.arrivals[u] >= shelter.opens).only_enforce_if(present)
            cp.add(model.arrivals[u] <= shelter.closes).only_enforce_if(present)
            places.append(party.size * present)
            sockets.append(party.n_sockets * present)
            hours.append(outlet_points(problem, u) * present)
            intervals.append(cp.new_optional_fixed_size_interval_var(model.arrivals[u], INTAKE_WINDOW_MIN, present, f"intake{u}:{j}"))
            sizes.append(party.size)
        cp.add(sum(places) <= shelter.places)
        cp.add(sum(sockets) <= shelter.sockets)
        if intervals:
            cp.add_cumulative(intervals, sizes, shelter.per_hour)
        most = sum(outlet_points(problem, u) for u in range(len(problem.parties)))
        shortage = cp.new_int_var(0, max(0, most), f"shortage{j}")
        cp.add(shortage >= sum(hours) - outlet_room(problem, j))
        model.shortage.append(shortage)


def _escorts(model: ExactModel) -> None:
    """Everybody who walks along comes from their place and gets back to it before the next job."""
    problem, cp = model.problem, model.cp
    jobs: list[list[Any]] = [[] for _ in problem.escorts]
    for r, roll in enumerate(problem.rolls):
        for e, escort in enumerate(problem.escorts):
            literal = cp.new_bool_var(f"walks{e}:{r}")
            model.roll_escorts[e, r] = literal
            approach, after = escort.approach[roll.party], roll.minutes + escort.back[roll.shelter]
            _job(model, jobs, e, literal, model.departs[r] - approach, approach + after)
        cp.add(sum(model.roll_escorts[e, r] for e in range(len(problem.escorts))) == roll.escorts * model.rolls[r])
    for (u, k), pickup in problem.pickups.items():
        if not pickup.escorts:
            continue
        trained = [e for e, x in enumerate(problem.escorts) if x.is_stair_trained or not pickup.needs_stair_crew]
        for e in trained:
            literal = model.ride_escorts[e, u, k] = cp.new_bool_var(f"helps{e}:{u}:{k}")
            approach = problem.escorts[e].approach[u]
            start = model.loads[u] - pickup.roll - approach
            _job(model, jobs, e, literal, start, approach + pickup.roll + pickup.load + approach)
        cp.add(sum(model.ride_escorts[e, u, k] for e in trained) == pickup.escorts * model.aboard[u, k])
    for intervals in jobs:
        cp.add_no_overlap(intervals)


def _job(model: ExactModel, jobs: list[list[Any]], e: int, literal: Literal, start: Expression, minutes: int) -> None:
    escort = model.problem.escorts[e]
    if escort.ends - escort.starts < minutes:
        model.cp.add(literal == 0)
        return
    model.cp.add(start >= escort.starts).only_enforce_if(literal)
    model.cp.add(start + minutes <= escort.ends).only_enforce_if(literal)
    jobs[e].append(model.cp.new_optional_fixed_size_interval_var(start, minutes, literal, f"job{e}"))


def _limits(model: ExactModel) -> None:
    cp = model.cp
    for u, party in enumerate(model.problem.parties):
        served = ~model.lefts[u]
        for limit, minute in ((party.close, model.outs[u]), (party.arrive_by, model.arrivals[u]), (party.socket_by, model.arrivals[u])):
            if limit < 0:
                cp.add(model.lefts[u] == 1)
            elif limit < NEVER:
                cp.add(minute <= limit).only_enforce_if(served)
                below = cp.new_int_var(0, max(0, model.problem.comfort), "below")
                cp.add(below >= model.problem.comfort - limit + minute).only_enforce_if(served)
                model.below.append(party.size * below)
        if party.due < NEVER:
            late = _minutes(model, f"late{u}")
            cp.add(late >= model.outs[u] - party.due).only_enforce_if(served)
            model.late.append(party.size * late)


def _tiers(model: ExactModel) -> None:
    problem = model.problem
    service: list[Expression] = [0, 0, 0]
    for u, (tier, weight) in enumerate(service_weights(problem)):
        service[tier] += weight * model.lefts[u]
    short = sum(r.charge_short * x for r, x in zip(problem.rolls, model.rolls, strict=True))
    doubt = sum(r.doubt * x for r, x in zip(problem.rolls, model.rolls, strict=True))
    doubt += sum(problem.pickups[u, k].doubt * x for (u, k), x in model.aboard.items())
    doubt += sum(problem.dropoffs[key].doubt * x for key, x in model.rides.items())
    time = sum(p.size * a for p, a in zip(problem.parties, model.arrivals, strict=True)) + sum(model.drives.values())
    model.tiers = [*service, sum(model.late), sum(model.below) + sum(model.shortage) + short, doubt, time]
