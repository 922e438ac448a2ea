"""What everybody does when, as lanes of bars: riders, vans, escorts, outlets. Drawn by ``timeline``, told by ``events``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rollroute.output.move.facts import MoveFacts
from rollroute.output.plain_text import plain
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import EscortPlan, Plug, RiderPlan, ShelterPlan, VanPlan

BarKind = Literal["go", "stand", "ride", "roll", "plug", "held"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """Somebody doing something from ``start`` to ``end``. ``go``: on the way alone; ``stand``: loading or unloading."""

    start: dt.datetime
    end: dt.datetime
    kind: BarKind
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One line of the drawing; ``latest`` is the limit that binds."""

    label: str
    bars: tuple[Bar, ...]
    latest: dt.datetime | None = None


def rider_lanes(facts: MoveFacts) -> list[Lane]:
    """Riders who go, in the order of leaving."""
    going = sorted((r for r in facts.plan.riders if r.leave and r.arrive), key=lambda r: (read_moment(r.leave or ""), r.id))
    return [_rider(facts, r) for r in going]


def _rider(facts: MoveFacts, r: RiderPlan) -> Lane:
    say = facts.words.say
    latest = read_moment(r.latest) if r.latest else None
    if r.way == "roll":
        bars = _roll_bars(facts, r)
    else:
        unload = facts.stop_of(r.id, "unload")
        bars = [
            _bar(r.leave, r.load, "go", ""),
            _bar(r.load, r.loaded, "stand", say("load")),
            _bar(r.loaded, r.unload, "ride", ""),
            _bar(r.unload, unload.end if unload else r.arrive, "stand", say("out")),
            _bar(unload.end if unload else None, r.arrive, "go", ""),
        ]
    label = f"{plain(r.id)} · {plain(r.van)}" if r.van else plain(r.id)
    return Lane(label=label, bars=_there(bars), latest=latest)


def _roll_bars(facts: MoveFacts, r: RiderPlan) -> list[Bar | None]:
    """The roll from halt to halt, and each halt at an outlet."""
    say, bars, since = facts.words.say, list[Bar | None](), r.leave
    halts = [(p.start, p.end, s.name) for s in facts.plan.shelters for p in s.halts if p.rider == r.id]
    for start, end, shelter in sorted(halts, key=lambda h: read_moment(h[0])):
        bars += [
            _bar(since, start, "roll", f"\N{RIGHTWARDS ARROW} {plain(shelter)}"),
            _bar(start, end, "plug", plain(shelter)),
        ]
        since = end
    goal = f"\N{RIGHTWARDS ARROW} {plain(r.shelter)}" if bars else say("rolls to {shelter}", shelter=plain(r.shelter))
    return [*bars, _bar(since, r.arrive, "roll", goal)]


def van_lanes(facts: MoveFacts) -> list[Lane]:
    """Vans that drive, in the order of the table."""
    return [_van(v) for v in facts.used_vans]


def _van(van: VanPlan) -> Lane:
    bars: list[Bar | None] = []
    for stop in van.stops:
        arrive = read_moment(stop.arrive)
        bars.append(_bar((arrive - dt.timedelta(minutes=stop.drive_min)).isoformat(), stop.arrive, "go", ""))
        sign = "+" if stop.kind == "load" else "\N{MINUS SIGN}"
        bars.append(_bar(stop.start, stop.end, "stand", " ".join(f"{sign}{plain(i)}" for i in stop.riders)))
    return Lane(label=plain(van.id), bars=_there(bars))


def escort_lanes(facts: MoveFacts) -> list[Lane]:
    """Escorts with a job."""
    return [_escort(e) for e in facts.plan.escorts if e.jobs]


def _escort(escort: EscortPlan) -> Lane:
    bars: list[Bar | None] = []
    for job in escort.jobs:
        bars += [
            _bar(job.leave, job.meet, "go", ""),
            _bar(job.meet, job.end, "roll", " ".join(plain(i) for i in job.riders)),
            _bar(job.end, job.back, "go", ""),
        ]
    return Lane(label=plain(escort.id), bars=_there(bars))


def outlet_lanes(facts: MoveFacts, shelter: ShelterPlan) -> list[Lane]:
    """Outlets of a shelter that are used; those kept all night say so, and so do those of riders who roll on to another shelter."""
    lanes: list[Lane] = []
    for circuit, outlet in sorted({(p.circuit, p.outlet) for p in (*shelter.plugs, *shelter.halts)}):
        used = [p for p in (*shelter.plugs, *shelter.halts) if (p.circuit, p.outlet) == (circuit, outlet)]
        plugs = sorted(used, key=lambda p: read_moment(p.start))
        texts = [_plug_text(facts, p, is_passing=p in shelter.halts) for p in plugs]
        bars = [_bar(p.start, p.end, "held" if p.is_held else "plug", text) for p, text in zip(plugs, texts, strict=True)]
        lanes.append(Lane(label=f"{plain(circuit)} {outlet}", bars=_there(bars)))
    return lanes


def _plug_text(facts: MoveFacts, plug: Plug, *, is_passing: bool) -> str:
    rider = plain(plug.rider)
    if is_passing:
        return facts.words.say("{rider}, on the way", rider=rider)
    return f"{rider}, {facts.words.say('all night')}" if plug.is_held else rider


def _bar(start: str | None, end: str | None, kind: BarKind, text: str) -> Bar | None:
    if not start or not end:
        return None
    begin, finish = read_moment(start), read_moment(end)
    return Bar(start=begin, end=finish, kind=kind, text=text) if finish > begin else None


def _there(bars: Sequence[Bar | None]) -> tuple[Bar, ...]:
    return tuple(b for b in bars if b is not None)
