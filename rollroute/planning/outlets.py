"""The night's outlets as a timetable: who is plugged in where, from when to when.

Outlets that somebody needs all night are given first and held; then those of riders who halt on their way to another shelter, since they
can't wait. The others charge one after the other, longest need first among those who are there; nobody is unplugged for somebody else in
the quiet hours unless staff is named.
This is a list schedule: it keeps every rule and says what is missing; it is not proven to be the best one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_shelters import Shelter
from rollroute.planning.needs import Needs
from rollroute.planning.rooms import night_end_min, outlet_watts, powered_until_min, shared_watts


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugTime:
    """Minutes from the start of the move."""

    rider: str
    circuit: str
    outlet: int
    start: float
    end: float
    watts: float
    is_held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NightTable:
    """A shelter's plugs and the outlet hours that it lacks, by rider. ``refused``: who halts there and finds no outlet for all of it."""

    plugs: tuple[PlugTime, ...]
    missing_h: dict[str, float]
    halts: tuple[PlugTime, ...] = ()
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Outlet:
    circuit: str
    number: int
    circuit_watts: float


def night_table(
    move: Move, shelter: Shelter, guests: Sequence[tuple[Needs, float]], halts: Sequence[tuple[Needs, float, float]] = ()
) -> NightTable:
    """Plug in ``guests`` (needs, arrival minute): held outlets first, ``halts`` (needs, from, to), then by arrival and longest need."""
    end = min(night_end_min(move), powered_until_min(move, shelter))
    outlets = _outlets(move, shelter)
    taken: list[PlugTime] = []  # by guests and halts
    missing: dict[str, float] = {}
    quiet, shared = _quiet(move), shared_watts(move, shelter)
    order = sorted(guests, key=lambda g: (not g[0].keeps_socket, g[1], -g[0].refill_h, g[0].id))
    n_held = sum(needs.keeps_socket for needs, _ in order)

    def plug_in(needs: Needs, arrival: float) -> None:
        minutes = math.inf if needs.keeps_socket else needs.refill_h * 60.0
        if minutes <= 0:
            return
        plug = _best_plug(needs, arrival, minutes, outlets, taken, end, shared, quiet)
        if plug is not None:
            taken.append(plug)
        lacking = (end - arrival if needs.keeps_socket else minutes) - (0.0 if plug is None else plug.end - plug.start)
        if lacking > 1.0:
            missing[needs.id] = lacking / 60.0

    for guest in order[:n_held]:
        plug_in(*guest)
    at_halts, refused = _halt_plugs(halts, outlets, taken, end, shared, quiet)
    for guest in order[n_held:]:
        plug_in(*guest)
    by_outlet = sorted(taken, key=lambda p: (p.circuit, p.outlet, p.start))
    plugs = tuple(p for p in by_outlet if p not in at_halts)
    return NightTable(plugs=plugs, missing_h=missing, halts=tuple(p for p in by_outlet if p in at_halts), refused=tuple(refused))


def first_free(move: Move, shelter: Shelter, night: NightTable, needs: Needs, start: float, minutes: float) -> float | None:
    """The first minute from ``start`` on at which somebody can halt for ``minutes``; guests who are not held give way."""
    taken = [p for p in (*night.plugs, *night.halts) if p.is_held or p in night.halts]
    end = min(night_end_min(move), powered_until_min(move, shelter))
    quiet, shared = _quiet(move), shared_watts(move, shelter)
    for moment in sorted({start, *(p.end for p in taken if p.end > start)}):
        if _halt_plugs([(needs, moment, moment + minutes)], _outlets(move, shelter), list(taken), end, shared, quiet)[0]:
            return moment
    return None


def _outlets(move: Move, shelter: Shelter) -> list[_Outlet]:
    return [_Outlet(name, i + 1, watts) for name, n, watts in outlet_watts(move, shelter) for i in range(n)]


def _halt_plugs(
    halts: Sequence[tuple[Needs, float, float]],
    outlets: Sequence[_Outlet],
    taken: list[PlugTime],
    end: float,
    shared: float,
    quiet: tuple[float, float] | None,
) -> tuple[list[PlugTime], list[str]]:
    """Outlets for halts, first come first served, added to ``taken``; and who finds none for the whole halt."""
    found: list[PlugTime] = []
    refused: list[str] = []
    for needs, start, stop in sorted(halts, key=lambda h: (h[1], h[2], h[0].id)):
        for outlet in outlets if stop <= end else ():
            is_swap = quiet is not None and _is_swap(outlet, start, stop, taken, quiet)
            if not is_swap and _is_free(outlet, start, stop, needs, taken, shared):
                found.append(_plug(needs, outlet, start, stop))
                taken.append(found[-1])
                break
        else:
            refused.append(needs.id)
    return found, refused


def _quiet(move: Move) -> tuple[float, float] | None:
    """Minutes between which nobody is there to swap plugs; ``None`` where staff is named."""
    night = move.settings.night
    if night.staff.strip():
        return None
    first = move.settings.minute(move.settings.moment(night.quiet_from))
    last = move.settings.minute(move.settings.later_moment(night.quiet_to))
    return (first, last) if first < last else (first - 24 * 60, last)


def _best_plug(
    needs: Needs,
    arrival: float,
    minutes: float,
    outlets: Sequence[_Outlet],
    plugs: Sequence[PlugTime],
    end: float,
    shared: float,
    quiet: tuple[float, float] | None,
) -> PlugTime | None:
    """The plug that gives the most minutes, then the earliest."""
    best: PlugTime | None = None
    for outlet in outlets:
        for start in _start_times(arrival, plugs, quiet):
            stop = min(end, start + minutes)
            while stop - start > 1.0 and not _is_free(outlet, start, stop, needs, plugs, shared):
                stop = max((p.start for p in plugs if start < p.start < stop), default=start)
            if stop - start <= 1.0 or (quiet and _is_swap(outlet, start, stop, plugs, quiet)):
                continue
            if best is None or (round(stop - start, 3), -start) > (round(best.end - best.start, 3), -best.start):
                best = _plug(needs, outlet, start, stop, is_held=needs.keeps_socket)
    return best


def _plug(needs: Needs, outlet: _Outlet, start: float, end: float, *, is_held: bool = False) -> PlugTime:
    circuit, number, watts = outlet.circuit, outlet.number, needs.charger_w
    return PlugTime(rider=needs.id, circuit=circuit, outlet=number, start=start, end=end, watts=watts, is_held=is_held)


def _start_times(arrival: float, plugs: Sequence[PlugTime], quiet: tuple[float, float] | None) -> list[float]:
    """Moments at which a plug may start: on arrival, when another ends, when the quiet hours end."""
    after_quiet = [quiet[1]] if quiet is not None and quiet[1] > arrival else []
    return sorted({arrival, *(p.end for p in plugs if p.end > arrival), *after_quiet})


def _is_swap(outlet: _Outlet, start: float, stop: float, plugs: Sequence[PlugTime], quiet: tuple[float, float]) -> bool:
    """Whether somebody would have to change a plug of this outlet in the quiet hours: to this one, or from it to the next."""
    own = [p for p in plugs if (p.circuit, p.outlet) == (outlet.circuit, outlet.number)]
    is_second = quiet[0] < start < quiet[1] and any(p.end <= start for p in own)
    return is_second or any(stop <= p.start and quiet[0] < p.start < quiet[1] for p in own)


def _is_free(outlet: _Outlet, start: float, stop: float, needs: Needs, plugs: Sequence[PlugTime], shared: float) -> bool:
    """Whether the outlet is empty and its circuit and the generator carry one more load, all the time."""
    overlap = [p for p in plugs if p.start < stop and start < p.end]
    if any((p.circuit, p.outlet) == (outlet.circuit, outlet.number) for p in overlap):
        return False
    for moment in {start, *(p.start for p in overlap if p.start > start)}:
        now = [p for p in overlap if p.start <= moment < p.end]
        if sum(p.watts for p in now if p.circuit == outlet.circuit) + needs.charger_w > outlet.circuit_watts + 1e-6:
            return False
        if sum(p.watts for p in now) + needs.charger_w > shared + 1e-6:
            return False
    return True
