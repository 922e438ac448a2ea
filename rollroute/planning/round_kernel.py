"""One van's round, played as early as possible; compiled, since a large move tries millions of rounds.

Plain arrays in, plain numbers out.
Intake and helpers are looked at outside: what passes here may still be refused there, never the other way.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
NEVER = 10**6
REFUSED = np.inf
LATE, MARGIN, DOUBT = 1e13, 1e9, 1e5  # weights that guide the search; plans are compared by exact tiers

# Columns of the table of parties as one van sees them (choice of shelter included).
(
    PICK,
    DROP,
    LOAD,
    UNLOAD,
    POSITIONS,
    SEATS,
    EARLIEST,
    RIDE,
    EXIT,
    AREA,
    CLOSE,
    DUE,
    OPENS,
    INSIDE_BY,
    ROLL_IN,
    ARRIVE_BY,
    SOCKET_BY,
    SIZE,
    LOAD_BY,
) = range(19)
N_COLUMNS = 19


@numba.njit(cache=True)
def drive_minutes(drive: Ints, phase_ends: Ints, a: int, b: int, depart: int) -> int:
    """Driving minutes in the first phase that the drive still ends in."""
    for phase in range(phase_ends.shape[0]):
        minutes = drive[phase, a, b]
        if minutes < NEVER and depart + minutes <= phase_ends[phase]:
            return int(minutes)
    return NEVER


@numba.njit(cache=True)
def play_round(
    units: Ints, kinds: Ints, n: int, table: Ints, van: Ints, drive: Ints, phase_ends: Ints, comfort: int, starts: Ints
) -> float:
    """Fill ``starts`` with the start of work at each stop; the guiding cost, or infinity where a rule breaks.

    units, kinds : (>= n,) int64   party and 1 for loading, 0 for unloading, in order
    table : (n_parties, 19) int64  see the columns
    van : (5,) int64               node, starts, ends, positions, seats
    """
    node, minute, positions, seats = van[0], van[1], 0, 0
    loaded_at = np.empty(n, dtype=np.int64)
    cost = 0.0
    for i in range(n):
        u = units[i]
        following = table[u, PICK] if kinds[i] == 1 else table[u, DROP]
        minutes = drive_minutes(drive, phase_ends, node, following, minute)
        if minutes >= NEVER:
            return REFUSED
        cost += minutes
        node, minute = following, minute + minutes
        sign = 1 if kinds[i] == 1 else -1
        positions += sign * table[u, POSITIONS]
        seats += sign * table[u, SEATS]
        if positions > van[3] or seats > van[4]:
            return REFUSED
        if kinds[i] == 1:
            starts[i] = max(minute, table[u, EARLIEST])
            if starts[i] > table[u, LOAD_BY]:
                return REFUSED
            minute = starts[i] + table[u, LOAD]
            loaded_at[i] = minute
        else:
            starts[i] = max(minute, table[u, OPENS] - table[u, UNLOAD] - table[u, ROLL_IN])
            minute = starts[i] + table[u, UNLOAD]
            loaded = _loaded_minute(units, loaded_at, u, i)
            if minute > van[2] or minute + table[u, ROLL_IN] > table[u, INSIDE_BY] or minute - loaded > table[u, RIDE]:
                return REFUSED
            cost += _inside_cost(table, u, minute + table[u, ROLL_IN], comfort)
    total: float = cost + _out_cost(units, kinds, n, table, comfort, starts)
    return total


@numba.njit(cache=True)
def _loaded_minute(units: Ints, loaded_at: Ints, u: int, before: int) -> int:
    for i in range(before):
        if units[i] == u:
            return int(loaded_at[i])
    return -NEVER


@numba.njit(cache=True)
def _inside_cost(table: Ints, u: int, inside: int, comfort: int) -> float:
    """Time, and what is missing of the comfort margins."""
    cost: float = 1.0 * table[u, SIZE] * inside
    for column in (ARRIVE_BY, SOCKET_BY):
        if table[u, column] < NEVER:
            cost += MARGIN * table[u, SIZE] * max(0, comfort - table[u, column] + inside)
    return cost


@numba.njit(cache=True)
def _out_cost(units: Ints, kinds: Ints, n: int, table: Ints, comfort: int, starts: Ints) -> float:
    """Lateness and closing margins; infinity where somebody is still in an area when it closes."""
    cost: float = 0.0
    out = 0
    for i in range(n - 1, -1, -1):
        if kinds[i] != 1:
            continue
        u = units[i]
        own = starts[i] + table[u, LOAD] + table[u, EXIT]
        is_chain = i + 1 < n and kinds[i + 1] == 1 and table[u, AREA] >= 0 and table[units[i + 1], AREA] == table[u, AREA]
        out = max(own, out) if is_chain else own
        if out > table[u, CLOSE]:
            return REFUSED
        if table[u, CLOSE] < NEVER:
            cost += MARGIN * table[u, SIZE] * max(0, comfort - table[u, CLOSE] + out)
        if table[u, DUE] < NEVER:
            cost += LATE * table[u, SIZE] * max(0, out - table[u, DUE])
    return cost


@numba.njit(cache=True)
def best_insertion(
    units: Ints, kinds: Ints, n: int, u: int, table: Ints, van: Ints, drive: Ints, phase_ends: Ints, comfort: int
) -> tuple[float, int, int]:
    """(guiding cost of the whole round, position of loading, position of unloading) of the cheapest place for party ``u``."""
    best, best_i, best_j = REFUSED, -1, -1
    trial_units, trial_kinds = np.empty(n + 2, dtype=np.int64), np.empty(n + 2, dtype=np.int64)
    starts = np.empty(n + 2, dtype=np.int64)
    for i in range(n + 1):
        for j in range(i, n + 1):
            at = 0
            for s in range(n + 1):
                if s == i:
                    trial_units[at], trial_kinds[at] = u, 1
                    at += 1
                if s == j:
                    trial_units[at], trial_kinds[at] = u, 0
                    at += 1
                if s < n:
                    trial_units[at], trial_kinds[at] = units[s], kinds[s]
                    at += 1
            cost = play_round(trial_units, trial_kinds, n + 2, table, van, drive, phase_ends, comfort, starts)
            if cost < best:
                best, best_i, best_j = cost, i, j
    return best, best_i, best_j


def as_arrays(tour: Any) -> tuple[Ints, Ints]:
    """A round as arrays of parties and kinds."""
    units = np.array([u for u, _ in tour], dtype=np.int64)
    return units, np.array([1 if is_pickup else 0 for _, is_pickup in tour], dtype=np.int64)
