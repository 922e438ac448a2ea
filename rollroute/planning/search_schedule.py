"""A schedule for moves of any size: put in the most urgent first, then take out and put back, keeping what is better.

Ruin and recreate (Schrimpf et al., Journal of Computational Physics 159, 2000; from memory) over rolls and van rounds.
It proves nothing: bounds come from ``assignment`` and, for small moves, from ``exact``.
The number of rounds and the seed decide, not a clock: same input, same schedule.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from rollroute.planning import round_kernel as kernel
from rollroute.planning.draft import Draft
from rollroute.planning.objective import service_weights, tiers
from rollroute.planning.problem import NEVER, Problem, RideLeg, RollLeg, Schedule
from rollroute.planning.round_solver import library_rounds

LARGEST_RUIN = 12
SHELTERS_TRIED = 4  # per party and van, nearest by driving first
Stop = Callable[[], bool]


def search_schedule(
    problem: Problem,
    *,
    rounds: int,
    seed: int,
    start: Schedule | None = None,
    fixed: frozenset[int] = frozenset(),
    stop: Stop | None = None,
    judge: Callable[[Problem, Schedule], tuple[int, ...]] = tiers,
) -> Schedule:
    """The best schedule found in ``rounds`` rounds, as ``judge`` has it: smaller is better, the first difference decides.

    ``start``: a schedule to begin with; ``fixed``: parties whose leg must stay as it is there.
    ``stop`` is asked after each round; a true answer ends the search with the best so far.
    """
    rng = random.Random(seed)
    builder = _Builder(problem, rng)
    draft = Draft(problem)
    if start is not None:
        load_schedule(draft, start)
    builder.fill(draft)
    best = Draft(problem)
    best.copy_from(draft)
    best_tiers = judge(problem, draft.schedule())
    loose = [u for u in range(len(problem.parties)) if u not in fixed]
    for _ in range(rounds if loose else 0):
        builder.ruin(draft, loose)
        builder.fill(draft)
        now = judge(problem, draft.schedule())
        if now <= best_tiers and all(draft.legs[u] is not None for u in fixed):
            best.copy_from(draft)
            best_tiers = now
        else:
            draft.copy_from(best)
        if stop is not None and stop():
            break
    return best.schedule()


def better_rounds(problem: Problem, schedule: Schedule, *, solutions: int, seed: int) -> Schedule:
    """``schedule``, or one with rounds of the routing library where that is better: its rounds played in a draft, the rest put in again."""
    rounds = library_rounds(problem, schedule, solutions=solutions)
    if rounds is None:
        return schedule
    draft = Draft(problem)
    load_schedule(draft, rounds)
    _Builder(problem, random.Random(seed)).fill(draft)
    found = draft.schedule()
    return found if tiers(problem, found) < tiers(problem, schedule) else schedule


def load_schedule(draft: Draft, schedule: Schedule) -> None:
    """Put a known schedule into an empty draft; what no longer holds is left out."""
    for u, leg in enumerate(schedule.legs):
        if isinstance(leg, RollLeg) and draft.put_roll(leg.roll):
            continue
        if isinstance(leg, RideLeg):
            draft.choose_shelter(u, leg.van, leg.shelter)
    for k, tour in enumerate(schedule.tours):
        for u, _ in tour:
            leg = schedule.legs[u]
            if isinstance(leg, RideLeg):
                draft.legs[u] = RideLeg(van=k, shelter=leg.shelter, load=0, unload=0)
        draft.tours[k] = list(tour)
        if tour and not draft.settle(k):
            for u, _ in tour:
                draft.legs[u] = None
            draft.tours[k], draft.costs[k] = [], 0.0


class _Builder:
    """Ways of each party, and the steps of ruin and recreate."""

    def __init__(self, problem: Problem, rng: random.Random) -> None:
        self.problem, self.rng = problem, rng
        n = len(problem.parties)
        self.rolls = [[r for r, roll in enumerate(problem.rolls) if roll.party == u] for u in range(n)]
        self.rides = [self._near(u) for u in range(n)]
        weights = service_weights(problem)
        self.urgency = [(weights[u][0], -weights[u][1], min(p.close, p.socket_by, p.arrive_by)) for u, p in enumerate(problem.parties)]

    def _near(self, u: int) -> list[tuple[int, int]]:
        """(van, shelter) pairs of a party, per van the nearest shelters."""
        pairs = []
        for k in range(len(self.problem.vans)):
            pickup = self.problem.pickups.get((u, k))
            if pickup is None:
                continue
            reach = [
                (int(self.problem.drive[0, pickup.node, self.problem.dropoffs[u, k, j].node]), j)
                for j in self.problem.shelters_for(u, k)
                if self.problem.shelters[j].places
            ]
            pairs += [(k, j) for _, j in sorted(reach)[:SHELTERS_TRIED]]
        return pairs

    def fill(self, draft: Draft) -> None:
        """Put in whoever is out, the most urgent first, each in the cheapest way."""
        waiting = [u for u, leg in enumerate(draft.legs) if leg is None]
        noise = {u: self.rng.random() for u in waiting}
        for u in sorted(waiting, key=lambda u: (*self.urgency[u][:2], self.urgency[u][2] // 30, noise[u])):
            self._put(draft, u)

    def _put(self, draft: Draft, u: int) -> None:
        for _, roll, ride in self._ways(draft, u):
            if roll is not None:
                if draft.put_roll(roll):
                    return
            elif ride is not None and draft.put_ride(u, *ride):
                return

    def _ways(self, draft: Draft, u: int) -> list[tuple[float, int | None, tuple[int, int, int, int] | None]]:
        """(guiding cost, roll, ride) of every way that may work, cheapest first."""
        ways: list[tuple[float, int | None, tuple[int, int, int, int] | None]] = []
        open_rolls = [r for r in self.rolls[u] if draft.has_room(u, self.problem.rolls[r].shelter)]
        ways.extend((self._roll_cost(draft, r), r, None) for r in open_rolls)
        for k, j in self.rides[u]:
            if not draft.has_room(u, j):
                continue
            cost, i, at = draft.best_ride(u, k, j)
            if cost < kernel.REFUSED:
                pickup, dropoff = self.problem.pickups[u, k], self.problem.dropoffs[u, k, j]
                cost += kernel.DOUBT * (pickup.doubt + dropoff.doubt) + kernel.MARGIN * draft.outlet_increase(u, j)
                ways.append((cost, None, (k, j, i, at)))
        ways.sort(key=lambda way: (way[0], way[1] is None))
        return ways

    def _roll_cost(self, draft: Draft, r: int) -> float:
        roll = self.problem.rolls[r]
        party, comfort = self.problem.parties[roll.party], self.problem.comfort
        inside, out = roll.first_departure + roll.minutes, roll.first_departure + roll.leave_area
        short = roll.charge_short + draft.outlet_increase(roll.party, roll.shelter)
        for limit, when in ((party.arrive_by, inside), (party.socket_by, inside), (party.close, out)):
            short += party.size * max(0, comfort - limit + when) if limit < NEVER else 0
        late = party.size * max(0, out - party.due) if party.due < NEVER else 0
        return kernel.LATE * late + kernel.MARGIN * short + kernel.DOUBT * roll.doubt + party.size * inside

    def ruin(self, draft: Draft, loose: Sequence[int]) -> None:
        """Take out a few parties: those near a random one, those of one van, or any."""
        served = [u for u in loose if draft.legs[u] is not None]
        if not served:
            return
        number = self.rng.randint(1, min(LARGEST_RUIN, len(served)))
        kind = self.rng.randrange(3)
        if kind == 0:
            chosen = self._neighbours(self.rng.choice(loose), served)[:number]
        elif kind == 1:
            k = self.rng.randrange(max(1, len(draft.tours)))
            aboard = list(dict.fromkeys(u for u, _ in draft.tours[k] if u in set(served))) if draft.tours else []
            chosen = aboard[: max(number, len(aboard) // 2)] or self.rng.sample(served, number)
        else:
            chosen = self.rng.sample(served, number)
        for u in chosen:
            if draft.legs[u] is not None:
                draft.remove(u)

    def _neighbours(self, u: int, served: Sequence[int]) -> list[int]:
        own = self._pick_node(u)
        if own is None:
            return self.rng.sample(served, len(served))
        far: list[tuple[int, float, int]] = []
        for v in served:
            node = self._pick_node(v)
            far.append((NEVER if node is None else int(self.problem.drive[0, own, node]), self.rng.random(), v))
        return [v for *_, v in sorted(far)]

    def _pick_node(self, u: int) -> int | None:
        return next((self.problem.pickups[u, k].node for k, _ in self.rides[u]), None)
