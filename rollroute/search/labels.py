"""The label of the search without compilation: a way to a node, with the charging at its last stop still open.

A label stands for the ways that follow the same edges and stops and differ only in ``x``, the seconds charged at the last stop,
``x_lo <= x <= x_hi``. On arrival at the label's node

    time(x)   = time0 + x
    cost(x)   = time0 + x + extra         extra: what cost has more than time (preference, doubt); waiting and charging cost their time
    charge(x) = curve(along + x) − used   ``along``: where on the curve charging began; ``used``: driven since
    b                                     the retreat, which does not depend on x

Before the first stop x is 0 and ``charge = along − used``, ``along`` being the charge at departure.
A label of this kind is the charge-function label of Baum, Dibbelt, Gemsa, Wagner and Zündorf ("Shortest Feasible Paths with Charging Stops
for Battery Electric Vehicles"; from memory), with the retreat and absolute time added.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollroute.search.curves import Curve
from rollroute.search.problem import SLACK, Step


@dataclass(slots=True)
class Label:
    """See the module's docstring; ``curve`` is ``None`` before the first stop."""

    node: int
    time0: float
    extra: float
    x_lo: float
    x_hi: float
    curve: Curve | None
    along: float
    used: float
    b: float
    stop: int  # the last stop, −1 before the first
    via: int  # the edge that led here, −1 for a label that begins at its stop or at the start
    parent: Label | None
    parent_x: float  # what was decided for the parent's x when a new stop began

    @property
    def cost(self) -> float:
        """The least cost of the label."""
        return self.time0 + self.x_lo + self.extra

    def charge(self, x: float) -> float:
        """Charge at the node after charging ``x`` seconds at the last stop."""
        return (self.along if self.curve is None else self.curve.charge(self.along + x)) - self.used

    def least_x(self, need_wh: float) -> float:
        """The least ``x`` in range that leaves ``need_wh`` at the node; inf where none does."""
        if self.charge(self.x_lo) >= need_wh - SLACK:
            return self.x_lo
        if self.curve is None or self.charge(self.x_hi) < need_wh - SLACK:
            return math.inf
        return min(max(self.x_lo, self.curve.when(need_wh + self.used) - self.along), self.x_hi)

    def breakpoints(self) -> list[float]:
        """``x_lo``, ``x_hi`` and the kinks of the curve between them."""
        if self.curve is None or self.x_hi <= self.x_lo:
            return [self.x_lo]
        inner = [t - self.along for t in self.curve.time_s if self.x_lo < t - self.along < self.x_hi]
        return [self.x_lo, *inner, self.x_hi]

    def steps(self) -> tuple[Step, ...]:
        """Edges and uses of stops from the start to here, charging as little as will do at the last stop."""
        steps: list[Step] = []
        label: Label | None = self
        x = self.x_lo
        while label is not None:
            if label.via >= 0:
                steps.append(label.via)
            elif label.parent is not None:
                steps.append((label.stop, x))
                x = label.parent_x
            label = label.parent
        return tuple(reversed(steps))


@dataclass(frozen=True, slots=True)
class Dominance:
    """When one label at a node makes another one superfluous.

    ``L1`` dominates ``L2`` when for every ``x2`` of ``L2`` there is an ``x1`` of ``L1`` with

        cost1 <= cost2,  time1 <= time2,  charge1 >= charge2,  b1 <= b2.

    **Proof.** Let ``P`` be any continuation of ``L2`` with ``x2`` to a goal that keeps every rule; drive ``P`` after ``L1`` with ``x1``,
    leaving each stop with the charge with which ``P`` leaves it, or the charge on arrival if that is more already.
    By induction over the steps of ``P`` the four relations stay true, and every rule is kept:

    * *edge e.* Time grows by the same, so the closing holds; charge falls by the same, so the reserve holds. If ``e`` is unverified,
      ``charge1 − reserve >= charge2 − reserve >= energy(e) + back(e) + b2 >= energy(e) + back(e) + b1``.
      Afterwards ``min(r(v), b1 + back(e)) <= min(r(v), b2 + back(e))``: b falls under the same map, and that map is monotone.
      (This is why b can be a component of the label at all: it depends on the way only through its own last value.)
    * *stop.* Arriving no later, with no less charge: charging from a higher to the same leave-charge takes no longer on the same
      curve, and with waiting allowed the chair leaves no later. b does not change.
      Cost: waiting and charging cost their time, so write ``cost = time + extra``.
      Without a wait for an opening, the stop costs L1 no more than L2. A chair that comes earlier may wait longer for an opening,
      though, by at most ``time2 − time1``; so where a stop opens after departure, ``extra1 <= extra2`` is asked for in place of
      ``cost1 <= cost2``: then time and extra are both no larger at the end, and so is the cost.
      (``time1 <= time2`` with ``cost1 <= cost2`` alone is wrong there.)

    **Without stops** less is enough: in place of ``b1 <= b2``, ``charge1 − b1 >= charge2 − b2``. The charges then fall by the same on every
    edge, so their difference stays; ``b -> min(r, b + back)`` never widens a difference, so ``b1 − b2 <= charge1 − charge2`` stays; and
    the way-back rule reads ``charge − b`` alone. (A stop could close the lead in charge and leave the lag in b.)

    Time is compared only where closings, opening hours or a latest arrival make it matter, b only under the way-back rule:
    a component that no rule reads can't break one.
    """

    time_matters: bool
    has_openings: bool
    needs_way_back: bool
    has_stops: bool

    def holds(self, one: Label, two: Label) -> bool:
        """Whether ``one`` dominates ``two`` (both at the same node)."""
        if self.needs_way_back and one.b > two.b and (self.has_stops or one.charge(0.0) - one.b < two.charge(0.0) - two.b):
            return False
        shift = two.extra - one.extra  # one may be looked up this much later than two
        if self.has_openings and shift < 0.0:
            return False
        if self.time_matters:
            shift = min(shift, 0.0)
        if one.time0 + one.x_lo > two.time0 + two.x_lo + shift:
            return False
        # At a given time the best that ``one`` has is concave in x2 and ``two`` is linear between its kinks: compare at the kinks.
        for x2 in two.breakpoints():
            # Summed so that equal labels give x1 = x2 to the last bit: else round trips that cost nothing would never end.
            x1 = min(x2 + (two.time0 - one.time0) + shift, one.x_hi)
            if one.charge(x1) < two.charge(x2):
                return False
        return True


def decisions_at(label: Label, curve: Curve, opens_s: float) -> Sequence[float]:
    """The values of ``x`` worth deciding on when a stop with ``curve`` begins at the label's node.

    For a given charge on leaving the new stop, the time of leaving is
    ``max(time0 + x, opens) + setup + when(charge) − when(charge(x))``: piecewise linear in x, so least at a kink or at an end of the range.
    Kinks: where the old curve bends, where the charge on arrival meets a bend of the new curve, where the stop opens.
    """
    if label.curve is None or label.x_hi <= label.x_lo:
        return [label.x_lo]
    found = set(label.breakpoints())
    found.update(label.curve.when(charge + label.used) - label.along for charge in curve.charge_wh)
    found.add(opens_s - label.time0)
    return sorted(x for x in found if label.x_lo <= x <= label.x_hi)
