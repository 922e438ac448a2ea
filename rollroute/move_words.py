"""A plan, a call list and a reading in words for the coordinator's terminal: who can't be served stands first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rollroute.planning.plan import Plan, RiderPlan, ShelterPlan, Tier, VanPlan

if TYPE_CHECKING:
    from rollroute.inputs.move_folder import FolderReading
    from rollroute.planning.calls import Call

UNDECIDED = "has not agreed yet"


def plan_lines(plan: Plan) -> list[str]:
    """The whole plan: not served first, then undecided, the riders by time, vans, escorts, outlets, and what is proven."""
    served = sorted((r for r in plan.riders if r.way is not None), key=lambda r: (r.leave or "", r.id))
    lines = [f"{plan.move.get('name', 'move')}, from {_moment(str(plan.move.get('start', '')))}"]
    if not plan.is_complete:
        lines += ["INCOMPLETE: the work was interrupted; this is the best plan so far."]
    lines += ["", f"Not served: {len(plan.not_served)} of {len(plan.riders)}"]
    for line in sorted(plan.not_served, key=lambda r: r.latest or "9"):  # the nearest limit first
        lines += _left(line)
    open_answers = [r.id for r in plan.riders if r.status == "undecided"]
    if open_answers:
        lines += ["", f"Undecided, planned in case the answer is yes: {', '.join(open_answers)}. The rider decides."]
    lines += [f"Stays, by own decision: {r.id}" for r in plan.riders if r.status == "declined"]
    lines += ["", "Riders, by the time they leave", *(_rider(r) for r in served)]
    lines += ["", "Vans", *(text for van in plan.vans for text in _van(van))]
    lines += ["", "People who walk along", *_escorts(plan)]
    lines += ["", "Outlets", *(text for shelter in plan.shelters for text in _shelter(shelter))]
    lines += ["", "What this plan was judged by, in this order; less is better", *(_tier(t) for t in plan.tiers)]
    lines += [f"  {claim}" for claim in plan.claims]
    lines += [f"Still to decide: {alert}" for alert in plan.open_alerts]
    if "changes" in plan.extra:
        lines += ["", "Against the earlier plan", *(f"  {text}" for text in plan.changes or ("nothing changes",))]
    return [*lines, "", "Times are planned times: most trips take less, some take more. Every rider decides."]


def _clock(moment: str | None) -> str:
    return "?" if moment is None else moment[11:16]


def _moment(moment: str) -> str:
    return f"{moment[11:16]} on {moment[:10]}"


def _left(line: RiderPlan) -> Iterator[str]:
    limit = f"by {_clock(line.latest)}: " if line.latest is not None else ""
    yield f"  {line.id}: {limit}{line.reasons[0] if line.reasons else 'no way is known'}"
    for reason in line.reasons[1:]:
        yield f"      {reason}"
    yield f"      could change it: {line.fix or 'nothing that was tried'}"
    if line.fallback:
        yield f"      until then: {line.fallback}"


def _rider(line: RiderPlan) -> str:
    arrive = f"{line.shelter} {_clock(line.arrive)}"
    if line.way == "roll":
        way = "rolls"
    else:
        apart = ", person and chair apart" if line.way == "apart" else ""
        way = f"van {line.van} loads {_clock(line.load)}-{_clock(line.loaded)} at {line.pickup}{apart}"
    parts = [f"  {_clock(line.leave)} {line.id}: {way}; {arrive}"]
    if line.escorts:
        parts.append(f"with {', '.join(line.escorts)}")
    if line.together:
        parts.append(f"together with {', '.join(line.together)}")
    if line.latest is not None and line.margin_min is not None:
        parts.append(f"{line.margin_min} min before its limit")
    if line.late_min:
        parts.append(f"{line.late_min} min late")
    if line.status == "undecided":
        parts.append(UNDECIDED)
    if line.unverified:
        parts.append(f"nobody has verified: {', '.join(line.unverified)}")
    return "; ".join(parts)


def _van(van: VanPlan) -> Iterator[str]:
    yield f"  {van.id}: " + ("stays where it is" if not van.stops else _count(len(van.stops), "stop"))
    for stop in van.stops:
        yield f"      {_clock(stop.start)}-{_clock(stop.end)} {stop.kind} {', '.join(stop.riders)} at {stop.place}"


def _escorts(plan: Plan) -> Iterator[str]:
    for escort in plan.escorts:
        for job in escort.jobs:
            times = f"leaves {_clock(job.leave)}, meets {_clock(job.meet)}, done {_clock(job.end)}, back {_clock(job.back)}"
            yield f"  {escort.id}: {job.kind} with {', '.join(job.riders)}: {times}"


def _shelter(shelter: ShelterPlan) -> Iterator[str]:
    for reason in shelter.reasons:
        yield f"  {shelter.name}: not used: {reason}"
    if shelter.arrivals or shelter.halts:
        yield f"  {shelter.name}: {len(shelter.arrivals)} {'arrives' if len(shelter.arrivals) == 1 else 'arrive'}"
    for plug in shelter.plugs:
        held = ", kept all night" if plug.is_held else ""
        yield f"      {plug.circuit} {plug.outlet}: {plug.rider} {_clock(plug.start)}-{_clock(plug.end)}{held}"
    for halt in shelter.halts:
        yield f"      {halt.circuit} {halt.outlet}: {halt.rider} {_clock(halt.start)}-{_clock(halt.end)}, on the way to another shelter"
    if shelter.missing_h:
        yield f"      {shelter.missing_h:.1f} outlet hours are missing"


def _tier(tier: Tier) -> str:
    if tier.is_proven:
        return f"  {tier.name}: {tier.value}, proven to be the least"
    return f"  {tier.name}: {tier.value}, at least {tier.bound} in any plan: gap {tier.value - tier.bound}"


def reading_lines(reading: FolderReading, wrong: Sequence[str]) -> list[str]:
    """What was read, then every row that can't be used."""
    move = reading.move
    counts = {"rider": move.riders, "shelter": move.shelters, "van": move.vans, "escort": move.escorts, "hazard": move.hazards}
    lines = [f"read: {', '.join(_count(len(rows), what) for what, rows in counts.items())}"]
    lines += [f"not read, no column is called so: {file}: {', '.join(columns)}" for file, columns in reading.ignored_columns.items()]
    lines += [
        f"{file}: {_count(n, 'row')} without an id, called by the row: once sorted, names mean others. Give each an id before you plan."
        for file, n in reading.called_by_row.items()
    ]
    bad = [*(str(p) for p in reading.problems), *wrong]
    if bad:
        heading = "1 thing can't be used as it stands" if len(bad) == 1 else f"{len(bad)} things can't be used as they stand"
        lines += ["", f"{heading}; rows that fail are not in what follows", *(f"  {text}" for text in bad)]
    alerts = [a.headline or a.identifier for a in move.undecided_alerts]
    return lines + [f"alert, still to decide: closed, deadline, watch or ignore: {a}" for a in alerts]


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def call_lines(calls: Iterable[Call]) -> list[str]:
    """The call list, one question a line, what would change the plan most first; what would change little is told in one line each."""
    lines: list[str] = []
    little: dict[str, list[str]] = {}
    for call in calls:
        if call.people <= 0 and call.minutes < 1:
            little.setdefault(call.whom, []).append(call.field.replace("_", " "))
            continue
        meanwhile = f" Until then: {call.meanwhile}." if call.meanwhile else ""
        lines.append(f"{len(lines) + 1:3}. {call.whom}: {call.question} {_worth(call)}.{meanwhile}")
    if little:
        lines += ["", "Not known either, but would change little", *(f"  {whom}: {', '.join(fields)}" for whom, fields in little.items())]
    return lines


def _worth(call: Call) -> str:
    if call.field == "consent":
        return "Nobody is moved without a yes"
    if call.people >= 1:
        return f"Could serve {call.people:.0f} more"
    if call.people > 0:
        return "Could open a way"
    return f"Could bring people in {call.minutes:.0f} min sooner, all together"
