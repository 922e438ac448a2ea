"""The auditor's look at the vans: order, driving, lift, platform, door, positions, seats, hours, ride and outdoor limits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rollroute.inputs.move_vehicles import Van
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.plan import RiderPlan, Stop, VanPlan
from rollroute.planning.travel import LoadingZone

# The least that the rules ask of a lift vehicle stands in for what nobody knows (49 CFR 38.23; 36 CFR 1192 (2016) T502.2.2).
LEAST = {"lift_rating_kg": 272.0, "platform_width_cm": 76.0, "platform_length_cm": 122.0, "door_height_cm": 142.0}
SECUREMENT_WIDTH_CM, SECUREMENT_LENGTH_CM = 76.2, 122.0  # 30 x 48 in, 49 CFR 38.23(d)(2) (from memory)
CLEARANCE_CM = 289.0  # ADA 503.5: 2895 mm


def van_violations(book: Book) -> list[Violation]:
    """Every rule that a van's round breaks."""
    found: list[Violation] = []
    loads: Counter[str] = Counter()
    for van_plan in book.plan.vans:
        van = book.vans.get(van_plan.id)
        if van is None:
            found.append(Violation("vans", van_plan.id, "is not in the vans' table"))
            continue
        found += _round(book, van, van_plan)
        loads.update(i for s in van_plan.stops if s.kind == "load" for i in s.riders)
    for line in book.plan.riders:
        wanted = 1 if line.way in ("van", "apart") or line.id in book.carried else 0
        if loads[line.id] != wanted:
            found.append(Violation("vans", line.id, f"is loaded {loads[line.id]} times, {wanted} is right"))
    return found


def _round(book: Book, van: Van, van_plan: VanPlan) -> Iterator[Violation]:
    first, last = book.van_hours(van)
    node, minute = book.travel.van_nodes.get(van.id, ""), first
    aboard: set[str] = set()
    for stop in van_plan.stops:
        arrive, start, end = book.time(stop.arrive), book.time(stop.start), book.time(stop.end)
        known = node in book.travel.nodes and stop.node in book.travel.nodes
        drive = book.travel.drive_min(node, stop.node, minute) if known else float("inf")
        if arrive - minute < drive - book.SLACK and start > book.now:
            yield Violation("driving", van.id, f"{arrive - minute:.1f} min to {stop.place}, {drive:.1f} are needed (or the road is closed)")
        if start < arrive - book.SLACK:
            yield Violation("driving", van.id, f"works at {stop.place} before it is there")
        lines = list(_timed_lines(book, stop))
        for rider_id in set(_untimed(stop, lines)) - set(book.carried):
            yield Violation("vans", rider_id, f"is at a stop of van {van.id}, and the own line has not all its times")
        if stop.kind == "load":
            aboard |= set(stop.riders)
            yield from _load(book, van, stop, lines, start, end)
        else:
            if not set(stop.riders) <= aboard:
                yield Violation("vans", van.id, f"unloads {', '.join(stop.riders)} who is not aboard")
            aboard -= set(stop.riders)
            yield from _unload(book, van, stop, lines, start, end)
        yield from _room(book, van, aboard)
        node, minute = stop.node, end
    if van_plan.stops and minute > last + book.SLACK and book.time(van_plan.stops[-1].start) > book.now:
        yield Violation("hours", van.id, "works after its hours or fuel")
    left = sorted(i for i in aboard if book.carried.get(i) != van.id)
    if left:
        yield Violation("vans", van.id, f"ends with {', '.join(left)} aboard")


def _timed_lines(book: Book, stop: Stop) -> Iterator[RiderPlan]:
    """Lines of a stop's riders who are in the tables and whose line has every time of a ride; the others can't be measured."""
    for line in (book.lines[i] for i in stop.riders if i in book.lines and i in book.riders):
        if None not in (line.leave, line.load, line.loaded, line.unload, line.arrive):
            yield line


def _untimed(stop: Stop, lines: list[RiderPlan]) -> list[str]:
    return [i for i in stop.riders if i not in {line.id for line in lines}]


def _room(book: Book, van: Van, aboard: set[str]) -> Iterator[Violation]:
    blocks = 2 if van.large_chair_blocks is None else van.large_chair_blocks
    positions = seats = 0
    for rider_id in aboard & set(book.riders):
        rider = book.riders[rider_id]
        width, length, *_ = book.chair_size(rider)
        positions += blocks if width > SECUREMENT_WIDTH_CM or length > SECUREMENT_LENGTH_CM else 1
        seats += rider.companions + (rider_id in book.lines and book.lines[rider_id].way == "apart")
    if positions > (1 if van.positions is None else van.positions):
        yield Violation("positions", van.id, f"{positions} positions taken by {', '.join(sorted(aboard))}")
    if seats > (van.companion_seats or 0):
        yield Violation("seats", van.id, f"{seats} companion seats taken")


def _load(book: Book, van: Van, stop: Stop, lines: list[RiderPlan], start: float, end: float) -> Iterator[Violation]:
    each = book.settings.loading.load_min if van.load_min is None else van.load_min
    if end - start < each * len(stop.riders) - book.SLACK:
        yield Violation("loading", van.id, f"{end - start:.0f} min to load {', '.join(stop.riders)}")
    for line in lines:
        yield from _fit(book, van, line)
        zone = _zone(book.travel.pickups.get(line.id, ()), stop.node)
        if line.van != van.id or book.time(line.load) != start or book.time(line.loaded) != end:
            yield Violation("vans", line.id, f"the rider's line and van {van.id}'s stops do not agree")
        if zone is None or not _takes(zone, van):
            yield Violation("loading zone", line.id, f"{stop.place}: not a place that this chair and van {van.id} can both use")
            continue
        if start - book.time(line.leave) < zone.roll_min - book.SLACK:
            yield Violation("loading zone", line.id, "too little time to get to the loading zone")
        rules = book.settings.escorts
        helpers = 2 if zone.carried else 0
        if not zone.carried and zone.roll_min > 3.0:
            dark = book.settings.weather.dark_from is not None
            helpers = (rules.per_roll_dark_or_road if dark else rules.per_roll) * len(stop.riders)
        if len(set(line.escorts)) < helpers:
            yield Violation("escorts", line.id, f"{len(set(line.escorts))} on the way to the loading zone, {helpers} are needed")
        if zone.carried and not (book.riders[line.id].may_transfer and line.way == "apart"):
            yield Violation("transfer", line.id, "person and chair apart without the rider's word")


def _fit(book: Book, van: Van, line: RiderPlan) -> Iterator[Violation]:
    width, length, height, chair_kg, occupied_kg = book.chair_size(book.riders[line.id])
    limits = {name: least if getattr(van, name) is None else getattr(van, name) for name, least in LEAST.items()}
    mass = chair_kg if line.way == "apart" else occupied_kg
    if mass > limits["lift_rating_kg"] + 1e-6:
        yield Violation("lift rating", line.id, f"{mass:.0f} kg on van {van.id}'s lift, rated {limits['lift_rating_kg']:.0f} kg")
    if width > limits["platform_width_cm"] + 1e-6 or length > limits["platform_length_cm"] + 1e-6:
        yield Violation("platform", line.id, f"chair {width:.0f} x {length:.0f} cm on van {van.id}'s platform")
    if line.way != "apart" and height > limits["door_height_cm"] + 1e-6:
        yield Violation("door", line.id, f"sits {height:.0f} cm high, van {van.id}'s door is {limits['door_height_cm']:.0f} cm")


def _unload(book: Book, van: Van, stop: Stop, lines: list[RiderPlan], start: float, end: float) -> Iterator[Violation]:
    each = book.settings.loading.unload_min if van.unload_min is None else van.unload_min
    if end - start < each * len(stop.riders) - book.SLACK:
        yield Violation("unloading", van.id, f"{end - start:.0f} min to unload {', '.join(stop.riders)}")
    for line in lines:
        rider = book.riders[line.id]
        ride = rider.longest_ride_min if rider.longest_ride_min is not None else book.settings.assume.longest_ride_min
        if end - book.time(line.loaded) > ride + book.SLACK:
            yield Violation("ride", line.id, f"{end - book.time(line.loaded):.0f} min aboard, {ride:.0f} is the limit")
        zone = _zone(book.travel.dropoffs.get((line.id, line.shelter or ""), ()), stop.node)
        if zone is None or not _takes(zone, van):
            yield Violation("loading zone", line.id, f"{stop.place}: not a place to unload this chair from van {van.id}")
            continue
        if book.time(line.arrive) < end + zone.roll_min - book.SLACK or book.time(line.unload) != start:
            yield Violation("unloading", line.id, "is inside sooner than the way in allows, or line and stop do not agree")
        pickup_roll = max((z.roll_min for z in book.travel.pickups.get(line.id, ()) if z.label == line.pickup), default=0.0)
        load = book.time(line.loaded) - book.time(line.load)
        limit = book.settings.assume.longest_outdoors_min if rider.longest_outdoors_min is None else rider.longest_outdoors_min
        outdoors = pickup_roll + (load + end - start) / len(stop.riders) + zone.roll_min
        if outdoors > limit + book.SLACK:
            yield Violation("outdoors", line.id, f"{outdoors:.0f} min outdoors at the stops, {limit:.0f} is the limit")


def _zone(zones: tuple[LoadingZone, ...], node: str) -> LoadingZone | None:
    return next((z for z in zones if z.node == node), None)


def _takes(zone: LoadingZone, van: Van) -> bool:
    height = CLEARANCE_CM if van.vehicle_height_cm is None else van.vehicle_height_cm
    is_low = zone.clearance_cm is not None and zone.clearance_cm < height
    return not is_low and (zone.side is None or van.lift_side in (None, "rear", zone.side))
