"""Check a plan from the inputs and the travel estimates alone.

Shares no code with the solvers, the options or the write-up: own arithmetic in fractions of minutes, own reading of what unknown means.
A plan edited by hand is checked the same way.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_shelters import shelter_violations
from rollroute.planning.audit_vans import van_violations
from rollroute.planning.plan import Job, Plan, RiderPlan
from rollroute.planning.travel import TravelTable

__all__ = ["Violation", "audit"]


def audit(plan: Plan, move: Move, travel: TravelTable) -> list[Violation]:
    """Every rule that ``plan`` breaks; an empty list if there is none."""
    book = Book(plan, move, travel)
    found = list(_table_violations(book))
    if book.unreadable:
        return found + book.unreadable
    for line in plan.riders:
        if line.way is not None and line.id in book.riders:
            found += _rider_violations(book, line)
    found += van_violations(book)
    found += shelter_violations(book)
    found += _escort_violations(book)
    found += _figure_violations(book)
    return found


def _table_violations(book: Book) -> Iterator[Violation]:
    counts = Counter(line.id for line in book.plan.riders)
    for rider_id in book.riders:
        if counts[rider_id] != 1:
            yield Violation("everybody once", rider_id, f"stands {counts[rider_id]} times in the plan")
    for line in book.plan.riders:
        if line.id not in book.riders:
            yield Violation("everybody once", line.id, "is not in the riders' table")
            continue
        consent = book.riders[line.id].consent
        if (line.way is not None) != (line.status in ("planned", "undecided")):
            yield Violation("status", line.id, f"status {line.status!r} does not go with way {line.way!r}")
        if consent == "declined" and line.way is not None:
            yield Violation("the rider decides", line.id, "has declined and must not be moved by the plan")
        if line.status == "planned" and consent != "agreed":
            yield Violation("the rider decides", line.id, f"shows as planned, but the answer is {consent or 'not known'}")
        if line.way is None and line.status == "not served" and not line.fallback:
            yield Violation("nobody is forgotten", line.id, "is not served and has no fallback")


def _rider_violations(book: Book, line: RiderPlan) -> Iterator[Violation]:
    rider = book.riders[line.id]
    if line.way not in ("roll", "van", "apart"):
        yield Violation("way", line.id, f"{line.way!r} is no way")
        return
    leave, arrive = book.time(line.leave), book.time(line.arrive)
    if line.shelter not in book.shelters:
        yield Violation("shelter", line.id, f"{line.shelter!r} is not in the shelters' table")
        return
    if rider.only_to is not None and line.shelter.casefold() != rider.only_to.casefold():
        yield Violation("the rider decides", line.id, f"goes to {line.shelter}, asked for {rider.only_to} only")
    if leave < book.minute(rider.ready_from, 0.0) - book.SLACK and leave > book.now:
        yield Violation("ready", line.id, "leaves before being ready")
    yield from _limit_violations(book, line, rider, arrive)
    yield from _together_violations(book, line, rider)
    if line.way == "roll" and arrive > book.now:
        yield from _roll_violations(book, line, rider, leave, arrive)


def _limit_violations(book: Book, line: RiderPlan, rider: Rider, arrive: float) -> Iterator[Violation]:
    """Latest times and device power: hard limits."""
    if arrive > book.minute(rider.latest_arrival, float("inf")) + book.SLACK:
        yield Violation("latest time", line.id, "arrives after the latest time")
    if arrive > book.socket_by(rider) + book.SLACK:
        yield Violation("priority limit", line.id, "reaches a socket later than the margin allows")
    closes = book.closes(rider.id)
    out = book.out_minute(line)
    if out > closes + book.SLACK:
        yield Violation("closed area", line.id, f"is out at minute {out:.0f}, the area closes at minute {closes:.0f}")


def _together_violations(book: Book, line: RiderPlan, rider: Rider) -> Iterator[Violation]:
    for other_id in rider.stay_with:
        other = book.lines.get(other_id)
        if other is None or other_id not in book.riders or book.riders[other_id].consent == "declined":
            continue
        if (other.way, other.shelter, other.van, other.leave, other.load) != (line.way, line.shelter, line.van, line.leave, line.load):
            yield Violation("stay together", line.id, f"does not go together with {other_id}")


def _roll_violations(book: Book, line: RiderPlan, rider: Rider, leave: float, arrive: float) -> Iterator[Violation]:
    way = book.travel.rolls.get((line.id, line.shelter or ""))
    if way is None:
        yield Violation("rolling", line.id, f"no route to {line.shelter} is known to keep the rules")
        return
    if arrive - leave < way.minutes - book.SLACK:
        yield Violation("rolling", line.id, f"{arrive - leave:.0f} min for a way of {way.minutes:.1f} planned minutes")
    if leave < book.minute(rider.ready_from, 0.0) + way.charge_first_min - book.SLACK:
        yield Violation("rolling", line.id, "leaves before the charge for the way is in")
    if way.latest_departure_min is not None and leave > way.latest_departure_min + book.SLACK:
        yield Violation("closed way", line.id, "sets off too late to be through before the way closes")
    gate = min(book.settings.gates.longest_roll_min, rider.longest_roll_min or book.settings.gates.longest_roll_min)
    outdoors = book.settings.assume.longest_outdoors_min if rider.longest_outdoors_min is None else rider.longest_outdoors_min
    if way.minutes > min(gate, outdoors) + book.SLACK:
        yield Violation("rolling", line.id, f"{way.minutes:.0f} min is longer than the rider's or coordinator's limit")
    for words in book.bad_weather():
        yield Violation("rolling", line.id, f"nobody rolls: {words}")
    is_dark = book.is_dark(leave, arrive)
    if is_dark and not book.settings.gates.roll_in_dark:
        yield Violation("rolling", line.id, "rolls in the dark")
    rules = book.settings.escorts
    wanted = rules.per_roll_dark_or_road if is_dark or way.on_carriageway else rules.per_roll
    if len(set(line.escorts)) < wanted * (1 + len(line.together)):
        yield Violation("escorts", line.id, f"{len(set(line.escorts))} escorts, {wanted * (1 + len(line.together))} are needed")


def _escort_violations(book: Book) -> Iterator[Violation]:
    """Everybody who walks along gets there, walks along, gets back, one job after the other, within their hours."""
    known = {e.id: e for e in book.move.escorts}
    jobs_of: dict[str, set[str]] = {}
    for escort in book.plan.escorts:
        if escort.id not in known:
            yield Violation("escorts", escort.id, "is not in the escorts' table")
            continue
        free_from = book.minute(known[escort.id].available_from, 0.0)
        ends = book.minute(known[escort.id].available_to, book.settings.horizon_min)
        for job in sorted(escort.jobs, key=lambda j: book.time(j.leave)):
            jobs_of.setdefault(escort.id, set()).update(job.riders)
            if book.time(job.leave) < free_from - book.SLACK or book.time(job.back) > ends + book.SLACK:
                yield Violation("escorts", escort.id, f"job with {', '.join(job.riders)} overlaps another or the hours")
            free_from = book.time(job.back)
            if job.kind == "stairs" and not known[escort.id].stairs_trained:
                yield Violation("stairs", escort.id, "is not known to be trained for stairs")
            yield from _job_violations(book, escort.id, job)
    for line in book.plan.riders:
        for escort_id in line.escorts:
            if line.id not in jobs_of.get(escort_id, set()):
                yield Violation("escorts", line.id, f"{escort_id} has no such job")


def _job_violations(book: Book, escort_id: str, job: Job) -> Iterator[Violation]:
    leave, meet, end, back = (book.time(t) for t in (job.leave, job.meet, job.end, job.back))
    lines = [book.lines[i] for i in job.riders if i in book.lines]
    approach = max((book.approach(escort_id, i) for i in job.riders), default=0.0)
    after = approach if job.kind != "roll" else max((book.back(escort_id, x.shelter or "") for x in lines), default=0.0)
    if meet - leave < approach - book.SLACK or back - end < after - book.SLACK:
        yield Violation("escorts", escort_id, f"too little time to get to {', '.join(job.riders)} or back")
    for line in lines:
        last = line.arrive if job.kind == "roll" else line.loaded
        if line.leave is None or last is None:
            yield Violation("escorts", escort_id, f"walks with {line.id}, who does not go that way")
        elif meet > book.time(line.leave) + book.SLACK or end < book.time(last) - book.SLACK:
            yield Violation("escorts", escort_id, f"does not walk along all the way with {line.id}")


def _figure_violations(book: Book) -> Iterator[Violation]:
    """The plan's own counts of who is left."""
    left = [line for line in book.plan.riders if line.status == "not served" and line.id in book.riders]
    classes = Counter(0 if book.has_socket_limit(x.id) else 1 if book.closes(x.id) < float("inf") else 2 for x in left)
    tiers = book.plan.tiers
    for number, place in ((0, 0), (2, 2)):
        if len(tiers) > place and tiers[place].value != classes[number] + _joined(book, left, number):
            yield Violation("figures", tiers[place].name, f"says {tiers[place].value}, counted {classes[number]}")
    for tier in tiers:
        if tier.bound > tier.value:
            yield Violation("figures", tier.name, f"bound {tier.bound} is worse than the value {tier.value}")
        if tier.is_proven and tier.bound != tier.value:
            yield Violation("figures", tier.name, f"is called proven with value {tier.value} and bound {tier.bound}")


def _joined(book: Book, left: list[RiderPlan], number: int) -> int:
    """Riders counted in another class because a party takes the most urgent class of its members."""

    def own(rider_id: str) -> int:
        return 0 if book.has_socket_limit(rider_id) else 1 if book.closes(rider_id) < float("inf") else 2

    def joint(line: RiderPlan) -> int:
        return min(own(i) for i in (line.id, *line.together) if i in book.riders)

    return sum(joint(x) == number for x in left) - sum(own(x.id) == number for x in left)
