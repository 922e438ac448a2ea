"""What has been of a plan by a moment: how far everybody is, where the vans are, and who can't go on. Made by ``happened``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rollroute.planning.plan import RiderPlan
from rollroute.planning.problem import NEVER, Problem, Schedule

SET_OFF = ("done", "rolling", "aboard")
NOTHING_YET = -1  # a moment before the start: nothing has happened


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck:
    """What the plan that holds has come to know of people under way.

    ``lost``: riders for whom nothing is planned; ``carried``: those of them who are aboard, and of which van.
    ``turned``: (rider, shelter) to which somebody who rolls may be turned.
    """

    lost: frozenset[str] = frozenset()
    carried: Mapping[str, str] = field(default_factory=dict)
    turned: frozenset[tuple[str, str]] = frozenset()


@dataclass(frozen=True, slots=True)
class VanState:
    """Where a van is free next (node, minute), and where it is driving meanwhile (node, minute it gets there)."""

    node: int
    free: int
    heading: int | None
    reaches: int

    def first_at(self, problem: Problem, target: int, now: int) -> int:
        """The first minute at which the van can be at ``target``, told at ``now``."""
        at = max(now, self.free)
        if self.heading is None or self.free > now:
            return min(NEVER, at + problem.drive_min(self.node, target, at))
        if target == self.heading:
            return self.reaches
        on = max(now, self.reaches)
        ways = [on + problem.drive_min(self.heading, target, on)]
        if now < self.reaches:
            back = 2 * now - self.free  # it takes as long to turn back as it took to come
            ways.append(back + problem.drive_min(self.node, target, back))
        return min(NEVER, *ways)


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """The earlier plan as far as it concerns this problem. One entry per party.

    ``lines``: the line of the party's first rider, ``None`` where the party is new; ``schedule``: the legs on ``problem``.
    ``told``: the minute that a party waits for: when to leave or, for whoever has left, when the van comes.
    """

    now: int
    states: tuple[str, ...]
    lines: tuple[RiderPlan | None, ...]
    schedule: Schedule
    problem: Problem  # held to what has happened
    vans: tuple[VanState, ...]
    told: tuple[int, ...]
    escorts: Mapping[int, tuple[int, ...]]  # party -> escorts of a leg that is held

    @property
    def held(self) -> frozenset[int]:
        """Parties that have set off."""
        return frozenset(u for u, s in enumerate(self.states) if s in SET_OFF)
