"""Kernels for one label's charge as a function of the seconds charged at its last stop (see ``search.labels``)."""

from __future__ import annotations

import numpy as np

from rollroute.search.compiled.kernel import part

SLACK = 1e-9


@part
def curve_charge(stops, s, at):  # type: ignore[no-untyped-def]
    """Charge ``at`` seconds along the curve of stop ``s``; flat after its end."""
    if at >= stops.end[s]:
        return stops.top[s]
    i = 0
    while i + 2 < stops.n_points[s] and stops.time[s, i + 1] <= at:
        i += 1
    rate = (stops.charge[s, i + 1] - stops.charge[s, i]) / (stops.time[s, i + 1] - stops.time[s, i])
    return stops.charge[s, i] + rate * (at - stops.time[s, i])


@part
def curve_when(stops, s, charge):  # type: ignore[no-untyped-def]
    """The earliest time along the curve at which it reaches ``charge``; inf above its top."""
    last = stops.n_points[s] - 1
    if charge > stops.charge[s, last]:
        return np.inf
    i = 0
    while i + 1 < last and stops.charge[s, i + 1] < charge:
        i += 1
    gained = stops.charge[s, i + 1] - stops.charge[s, i]
    if gained == 0.0:
        return stops.time[s, i]
    width = stops.time[s, i + 1] - stops.time[s, i]
    return min(stops.time[s, i] + max(charge - stops.charge[s, i], 0.0) * (width / gained), stops.time[s, i + 1])


@part
def charge_at(stops, s, along, used, x):  # type: ignore[no-untyped-def]
    """Charge at the label's node after ``x`` seconds at its last stop ``s`` (−1: before the first)."""
    if s < 0:
        return along - used
    return curve_charge(stops, s, along + x) - used


@part
def least_x(stops, s, along, used, x_lo, x_hi, need):  # type: ignore[no-untyped-def]
    """The least ``x`` in range that leaves ``need`` at the node; inf where none does."""
    if charge_at(stops, s, along, used, x_lo) >= need - SLACK:
        return x_lo
    if s < 0 or charge_at(stops, s, along, used, x_hi) < need - SLACK:
        return np.inf
    return min(max(x_lo, curve_when(stops, s, need + used) - along), x_hi)


@part
def dominates(stops, rules, values, numbers, i, j):  # type: ignore[no-untyped-def]
    """Whether label ``i`` makes label ``j`` superfluous; the proof is at ``search.labels.Dominance``."""
    if rules.way_back and values[i, 6] > values[j, 6]:
        return False
    shift = values[j, 1] - values[i, 1]
    if rules.has_openings and shift < 0.0:
        return False
    if rules.time_matters:
        shift = min(shift, 0.0)
    gap = values[j, 0] - values[i, 0] + shift  # x1 = x2 + gap
    if values[i, 2] > values[j, 2] + gap:
        return False
    a, b = np.int64(numbers[i, 1]), np.int64(numbers[j, 1])
    low, high = values[j, 2], values[j, 3]
    if charge_at(stops, a, values[i, 4], values[i, 5], min(low + gap, values[i, 3])) < charge_at(stops, b, values[j, 4], values[j, 5], low):
        return False
    if b < 0 or high <= low:
        return True
    if charge_at(stops, a, values[i, 4], values[i, 5], min(high + gap, values[i, 3])) < charge_at(
        stops, b, values[j, 4], values[j, 5], high
    ):
        return False
    for k in range(stops.n_points[b]):
        x = stops.time[b, k] - values[j, 4]
        if low < x < high and charge_at(stops, a, values[i, 4], values[i, 5], min(x + gap, values[i, 3])) < charge_at(
            stops, b, values[j, 4], values[j, 5], x
        ):
            return False
    return True


@part
def decisions(stops, values, numbers, i, s, out):  # type: ignore[no-untyped-def]
    """The values of ``x`` of label ``i`` worth deciding on when stop ``s`` begins (``search.labels.decisions_at``). Returns how many."""
    low, high = values[i, 2], values[i, 3]
    out[0] = low
    old = np.int64(numbers[i, 1])
    if old < 0 or high <= low:
        return 1
    out[1] = high
    n = 2
    for k in range(stops.n_points[old]):
        x = stops.time[old, k] - values[i, 4]
        if low < x < high:
            out[n] = x
            n += 1
    for k in range(stops.n_points[s]):
        x = curve_when(stops, old, stops.charge[s, k] + values[i, 5]) - values[i, 4]
        if low < x < high:
            out[n] = x
            n += 1
    x = stops.opens[s] - values[i, 0]
    if low < x < high:
        out[n] = x
        n += 1
    return n
