"""Arithmetic on piecewise-linear charge curves."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right

from rollroute.search.problem import ChargeCurve


class Curve:
    """One charge curve cut off at the battery's capacity; times are counted from an empty battery."""

    __slots__ = ("charge_wh", "end_s", "rate", "time_s", "top_wh")

    def __init__(self, curve: ChargeCurve, capacity_wh: float) -> None:
        self.time_s = curve.time_s
        self.charge_wh = curve.charge_wh
        self.rate = [
            (c1 - c0) / (t1 - t0)
            for t0, t1, c0, c1 in zip(curve.time_s, curve.time_s[1:], curve.charge_wh, curve.charge_wh[1:], strict=False)
        ]
        self.top_wh = min(capacity_wh, curve.charge_wh[-1])
        self.end_s = self.when(self.top_wh)

    def charge(self, at_s: float) -> float:
        """Charge ``at_s`` seconds along the curve; flat after its end."""
        if at_s >= self.end_s:
            return self.top_wh
        i = min(max(bisect_right(self.time_s, at_s) - 1, 0), len(self.rate) - 1)
        return self.charge_wh[i] + self.rate[i] * (at_s - self.time_s[i])

    def when(self, charge_wh: float) -> float:
        """The earliest time along the curve at which it reaches ``charge_wh``; inf above its top."""
        if charge_wh > self.charge_wh[-1]:
            return math.inf
        i = max(bisect_left(self.charge_wh, charge_wh) - 1, 0)
        if self.rate[i] == 0.0:
            return self.time_s[i]
        return min(self.time_s[i] + max(charge_wh - self.charge_wh[i], 0.0) / self.rate[i], self.time_s[i + 1])
