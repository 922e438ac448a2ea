"""Two plans side by side, in plain words: what riders, drivers, escorts and the people at the outlets do differently."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping

from rollroute.planning.earlier_plan import news_of
from rollroute.planning.plan import EscortPlan, Plan, Plug, RiderPlan, ShelterPlan, VanPlan


def difference(earlier: Plan, later: Plan) -> list[str]:
    """One sentence for everybody whose doing differs; empty if and only if all people do the same at the same time and place.

    Why a rider's line had to change stands in ``later.extra["changes"]["because"]``, where ``replan`` has made the plan.
    """
    because = dict(news_of(later).get("because") or {})
    old, new = {r.id: r for r in earlier.riders}, {r.id: r for r in later.riders}
    lines = [f"{i} is no longer in the move" for i in old if i not in new]
    for rider_id, line in new.items():
        before = old.get(rider_id)
        words = f"{rider_id} is new: {_doing(line, None)}" if before is None else _rider(before, line)
        if words:
            lines.append(words + (f", because {because[rider_id]}" if rider_id in because else ""))
    lines += _each({v.id: v for v in earlier.vans}, {v.id: v for v in later.vans}, _stops, "drives as before")
    lines += _each({e.id: e for e in earlier.escorts}, {e.id: e for e in later.escorts}, _jobs, "walks as before")
    return lines + _each({s.name: s for s in earlier.shelters}, {s.name: s for s in later.shelters}, _outlets, "outlets as before")


def _clock(text: str | None) -> str:
    return "--:--" if text is None else dt.datetime.fromisoformat(text).strftime("%H:%M")


def _list(names: tuple[str, ...]) -> str:
    return ", ".join(names) if names else "nobody"


def _doing(line: RiderPlan, other: RiderPlan | None) -> str:
    """What a rider does; the shelter only where ``other`` goes to another one or does not go."""
    if line.way is None:
        return {"declined": "stays by own decision"}.get(line.status, "has no way yet")
    asked = "" if other is None or other.status == line.status or other.way is None else f" ({line.status})"
    goal = "" if other is not None and other.way is not None and other.shelter == line.shelter else f" to {line.shelter}"
    how = "rolls" if line.way == "roll" else f"rides with {line.van}" + (", chair apart," if line.way == "apart" else "")
    return f"{how}{goal} at {_clock(line.leave if line.way == 'roll' else line.load)}{asked}"


def _rider(before: RiderPlan, line: RiderPlan) -> str | None:
    """The first difference that the rider would notice, or ``None``."""

    def whole(x: RiderPlan) -> tuple[object, ...]:
        return x.status, x.way, x.shelter, x.van, _clock(x.leave if x.way == "roll" else x.load)

    if whole(before) != whole(line):
        return f"{line.id} now {_doing(line, before)} instead of {_instead(before, line)}"
    details = [
        f"{words} {new} instead of {old}"
        for words, old, new in (
            ("leaves at", _clock(before.leave), _clock(line.leave)),
            ("is aboard at", _clock(before.loaded), _clock(line.loaded)),
            ("is unloaded from", _clock(before.unload), _clock(line.unload)),
            ("is inside at", _clock(before.arrive), _clock(line.arrive)),
            ("is fetched at", before.pickup, line.pickup),
            ("is set down at", before.dropoff, line.dropoff),
            ("is walked with by", _list(before.escorts), _list(line.escorts)),
            ("goes together with", _list(before.together), _list(line.together)),
            ("turns back, if need be, to", before.retreat, line.retreat),
        )
        if old != new
    ]
    return f"{line.id} now {'; '.join(details)}" if details else None


def _instead(before: RiderPlan, line: RiderPlan) -> str:
    """What was planned, said as briefly as it can be."""
    if before.way in ("van", "apart") and line.way == before.way:
        goal = "" if before.shelter == line.shelter else f" to {before.shelter}"
        asked = "" if before.status == line.status else f" ({before.status})"
        return f"{before.van}{goal} at {_clock(before.load)}{asked}"
    words = _doing(before, line)
    for verb, noun in (("rolls", "rolling"), ("rides", "riding"), ("stays", "staying"), ("has", "having")):
        if words.startswith(verb):
            return noun + words[len(verb) :]
    return words


Thing = VanPlan | EscortPlan | ShelterPlan


def _each(old: Mapping[str, Thing], new: Mapping[str, Thing], words: Callable[[Thing], tuple[str, ...]], same: str) -> list[str]:
    """One line for each van, escort or shelter whose list differs."""
    lines = []
    for name in [*old, *(n for n in new if n not in old)]:
        before = words(old[name]) if name in old else ()
        after = words(new[name]) if name in new else ()
        if before == after:
            continue
        kept = next((n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), min(len(before), len(after)))
        first = f"{same} up to: {after[kept - 1]}; then" if kept else "now"
        lines.append(f"{name}: {first} {'; '.join(after[kept:]) or 'nothing'} (was: {'; '.join(before[kept:]) or 'nothing'})")
    return lines


def _stops(van: Thing) -> tuple[str, ...]:
    assert isinstance(van, VanPlan)
    return tuple(
        f"{'loads' if s.kind == 'load' else 'unloads'} {_list(s.riders)} at {s.place} {_clock(s.start)}-{_clock(s.end)}"
        + (f" (there {_clock(s.arrive)})" if s.arrive != s.start else "")
        for s in van.stops
    )


def _jobs(escort: Thing) -> tuple[str, ...]:
    assert isinstance(escort, EscortPlan)
    kinds = {"roll": "walks with", "to van": "walks to the van with", "stairs": "carries down"}
    return tuple(
        f"{kinds.get(j.kind, j.kind)} {_list(j.riders)}, leaves {_clock(j.leave)}, meets {_clock(j.meet)}, until {_clock(j.end)},"
        f" back {_clock(j.back)}"
        for j in escort.jobs
    )


def _outlets(shelter: Thing) -> tuple[str, ...]:
    assert isinstance(shelter, ShelterPlan)
    return tuple(_plug(p) for p in shelter.plugs)


def _plug(p: Plug) -> str:
    return f"{p.rider} at outlet {p.circuit} {p.outlet} {_clock(p.start)}-{_clock(p.end)}" + (" (held)" if p.is_held else "")
