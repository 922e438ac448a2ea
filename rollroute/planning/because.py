"""Why somebody's plan had to change, from what is known now; and what to do for whoever is under way and can't go on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from rollroute.planning.past import Past
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.problem import NEVER, Problem, Schedule


def stuck_reasons(past: Past, schedule: Schedule, before: Mapping[str, str]) -> dict[str, str]:
    """Riders who have set off and have no way in the new plan, with what to do; ``before``: what was said of those who are lost."""
    words = {i: before[i] for u, s in enumerate(past.states) if s == "lost" for i in past.problem.parties[u].riders if i in before}
    for u in past.held:
        line = past.lines[u]
        if schedule.legs[u] is not None or line is None:
            continue
        said = {
            "done": f"is at {line.shelter} since {_clock(line.arrive)}, which can't keep them as things are now: "
            f"give {line.shelter} as their place and plan on from there",
            "rolling": f"is on the way to {line.shelter} since {_clock(line.leave)} and can't go in there as things are now: "
            "reach them by phone, give the place where they are, and plan on from there",
            "aboard": f"is aboard {line.van} since {_clock(line.load)} and no shelter can take them in time as things are now: "
            "reach the driver, give the place where the van is, and plan on from there",
        }
        words |= dict.fromkeys(past.problem.parties[u].riders, said[past.states[u]])
    return words


def reasons_of_changes(earlier: Plan, later: Plan, past: Past, problem: Problem, schedule: Schedule) -> dict[str, str]:
    """Rider -> why the earlier way could not stay; only for riders whose line has changed.

    ``problem``: with the news, nothing held.
    """
    old = {r.id: r for r in earlier.riders}
    gained = [r.id for r in later.riders if r.way is not None and (r.id not in old or old[r.id].way is None)]
    found: dict[str, str] = {}
    for u, party in enumerate(problem.parties):
        line = past.lines[u]
        for rider_id in party.riders:
            if line is not None and line.way is not None and _differs(old[rider_id], later.rider(rider_id)):
                found[rider_id] = _why(past, problem, u, line, schedule) or _others(gained)
    return found


def _clock(text: str | None) -> str:
    return "--:--" if text is None else dt.datetime.fromisoformat(text).strftime("%H:%M")


def _differs(before: RiderPlan, now: RiderPlan) -> bool:
    fields = ("status", "way", "shelter", "van", "leave", "load", "loaded", "unload", "arrive", "escorts", "pickup", "dropoff", "together")
    return any(getattr(before, f) != getattr(now, f) for f in fields)


def _others(gained: list[str]) -> str:
    if gained:
        return f"{', '.join(gained)} can be served this way"
    return "others had to change who share vans, escorts or places with them"


def _why(past: Past, problem: Problem, u: int, line: RiderPlan, schedule: Schedule) -> str | None:
    """What makes the earlier way impossible by itself; ``None`` where nothing does."""
    j = next((j for j, s in enumerate(problem.shelters) if s.name == line.shelter), None)
    if j is None:
        return f"{line.shelter} is no longer among the shelters"
    room = problem.shelters[j]
    if room.places == 0:
        why = problem.reasons.get(room.name, ())
        return f"{room.name} can't be used" + (f" ({why[0]})" if why else "")
    if past.states[u] == "free" and past.told[u] <= past.now:
        return "the time they were told has passed"
    why_not = _no_roll(past, problem, u, j) if line.way == "roll" else _no_ride(past, problem, u, j)
    party = problem.parties[u]
    if why_not is None and schedule.legs[u] is None and min(party.close, party.arrive_by, party.socket_by) < NEVER:
        return "no way that is left is in time"
    return why_not


def _no_roll(past: Past, problem: Problem, u: int, j: int) -> str | None:
    line = past.lines[u]
    assert line is not None
    if not any((r.party, r.shelter) == (u, j) for r in problem.rolls):
        said = [w for w in problem.reasons.get(line.id, ()) if w.startswith("rolling")]
        return said[0] if said else f"rolling to {line.shelter} is no longer possible"
    gone = [e for e in line.escorts if e not in {x.id for x in problem.escorts}]
    return f"{', '.join(gone)} can't walk along any more" if gone else None


def _no_ride(past: Past, problem: Problem, u: int, j: int) -> str | None:
    line = past.lines[u]
    assert line is not None
    k = next((k for k, v in enumerate(problem.vans) if v.id == line.van), None)
    if k is None:
        return f"{line.van} is no longer there"
    if (u, k, j) not in problem.dropoffs:
        said = [w for w in problem.reasons.get(line.id, ()) if w.startswith((f"van {line.van}", "van:"))]
        return said[0] if said else f"{line.van} can't take {line.id} any more"
    pickup = past.problem.pickups.get((u, k))
    if pickup is None:
        return f"{line.van} can't get there any more"
    return _not_then(past, problem, u, k, j)


def _not_then(past: Past, problem: Problem, u: int, k: int, j: int) -> str | None:
    """Why the van can't come when it was to come."""
    line, van, pickup = past.lines[u], problem.vans[k], past.problem.pickups[u, k]
    assert line is not None
    load = past.told[u] + (0 if past.states[u] == "committed" else pickup.roll)
    loaded = max(van.starts, load) + pickup.load
    if loaded + problem.drive_min(pickup.node, problem.dropoffs[u, k, j].node, loaded) + pickup.unload > van.ends:
        return f"{line.van} has to end at {_moment(line, van.ends - load)}"
    if van.starts > load:
        return f"{line.van} can't start before {_moment(line, van.starts - load)}"
    if pickup.load_from > load:
        return f"{line.van} can't be there before {_moment(line, pickup.load_from - load)}"
    return None


def _moment(line: RiderPlan, after_load: int) -> str:
    """The clock time so many minutes after the loading that was planned."""
    assert line.load is not None
    return (dt.datetime.fromisoformat(line.load) + dt.timedelta(minutes=after_load)).strftime("%H:%M")
