"""What a plan is judged by, in order, with saturation (model: the move)."""

from __future__ import annotations

from collections.abc import Sequence

from rollroute.planning.problem import NEVER, Problem, RideLeg, RollLeg, Schedule

TIER_NAMES = (
    "people with device power at stake not served",
    "people in a closing area not served, earliest closing first",
    "other people not served",
    "minutes late while the area is still open",
    "minutes and points below comfort (time, charge, outlets)",
    "doubt, in thousandths",
    "minutes until everybody is inside, and van driving",
)
N_SERVICE_TIERS = 3
INTAKE_WINDOW_MIN = 60  # arrivals are counted in every hour, not in every clock hour
OUTLET_POINTS_PER_H = 6  # one hour of a missing outlet counts as much as six minutes of margin (assumption)


def service_weights(problem: Problem) -> list[tuple[int, int]]:
    """(service tier, weight) of leaving each party behind.

    A person in an area that closes weighs so much that numbers come first and, among equal numbers, the earliest closing.
    """
    closings = sorted({p.close for p in problem.parties if p.close < NEVER}, reverse=True)
    scale = 1 + sum(len(closings) * p.size for p in problem.parties)
    weights = []
    for party in problem.parties:
        if party.socket_by < NEVER:
            weights.append((0, party.size))
        elif party.close < NEVER:
            weights.append((1, party.size * (scale + closings.index(party.close))))
        else:
            weights.append((2, party.size))
    return weights


def out_minutes(problem: Problem, schedule: Schedule) -> list[int]:
    """Minute at which each party is out of its closing area; ``NEVER`` where it is not served.

    In a van: loaded, plus the drive out; where the next stop is another pick-up in the same area, not before that party is out.
    """
    out = [NEVER] * len(problem.parties)
    for u, leg in enumerate(schedule.legs):
        if isinstance(leg, RollLeg):
            out[u] = leg.depart + problem.rolls[leg.roll].leave_area
    for van, tour in enumerate(schedule.tours):
        for (u, is_pickup), following in reversed(list(zip(tour, [*tour[1:], None], strict=False))):
            leg = schedule.legs[u]
            if not is_pickup or not isinstance(leg, RideLeg):
                continue
            pickup = problem.pickups[u, van]
            out[u] = leg.load + pickup.load + pickup.exit
            if following is not None and following[1] and problem.parties[following[0]].area == problem.parties[u].area >= 0:
                out[u] = max(out[u], out[following[0]])
    return out


def arrival_minutes(problem: Problem, schedule: Schedule) -> list[int]:
    """Minute at which each party is inside its shelter; ``NEVER`` where it is not served."""
    arrivals = []
    for u, leg in enumerate(schedule.legs):
        if isinstance(leg, RollLeg):
            arrivals.append(leg.depart + problem.rolls[leg.roll].minutes)
        elif isinstance(leg, RideLeg):
            arrivals.append(leg.unload + problem.pickups[u, leg.van].unload + problem.dropoffs[u, leg.van, leg.shelter].roll)
        else:
            arrivals.append(NEVER)
    return arrivals


def tiers(problem: Problem, schedule: Schedule) -> tuple[int, ...]:
    """The seven figures of ``TIER_NAMES``; smaller is better, the first difference decides."""
    service = [0] * N_SERVICE_TIERS
    for (tier, weight), leg in zip(service_weights(problem), schedule.legs, strict=True):
        service[tier] += weight if leg is None else 0
    arrivals, out = arrival_minutes(problem, schedule), out_minutes(problem, schedule)
    late = margin = doubt = time = 0
    for u, (party, leg) in enumerate(zip(problem.parties, schedule.legs, strict=True)):
        if leg is None:
            continue
        late += party.size * max(0, out[u] - party.due) if party.due < NEVER else 0
        margin += party.size * _below_comfort(problem, u, arrivals[u], out[u])
        time += party.size * arrivals[u]
        if isinstance(leg, RollLeg):
            margin += problem.rolls[leg.roll].charge_short
            doubt += problem.rolls[leg.roll].doubt
        else:
            doubt += problem.pickups[u, leg.van].doubt + problem.dropoffs[u, leg.van, leg.shelter].doubt
    margin += sum(outlet_shortage(problem, schedule))
    return (*service, late, margin, doubt, time + van_minutes(problem, schedule))


def _below_comfort(problem: Problem, u: int, arrival: int, out: int) -> int:
    party = problem.parties[u]
    limits = ((party.close, out), (party.arrive_by, arrival), (party.socket_by, arrival))
    return sum(max(0, problem.comfort - (limit - when)) for limit, when in limits if limit < NEVER)


def shelter_of(problem: Problem, leg: RollLeg | RideLeg) -> int:
    """The shelter a leg ends at."""
    return problem.rolls[leg.roll].shelter if isinstance(leg, RollLeg) else leg.shelter


def outlet_points(problem: Problem, party: int) -> int:
    """A party's need of outlet hours, in points."""
    return round(problem.parties[party].refill_h * OUTLET_POINTS_PER_H)


def outlet_room(problem: Problem, shelter: int) -> int:
    """A shelter's outlet hours, in points."""
    return int(problem.shelters[shelter].outlet_h * OUTLET_POINTS_PER_H)


def outlet_shortage(problem: Problem, schedule: Schedule) -> list[int]:
    """Points of outlet hours that each shelter lacks."""
    need = [0] * len(problem.shelters)
    for u, leg in enumerate(schedule.legs):
        if leg is not None:
            need[shelter_of(problem, leg)] += outlet_points(problem, u)
    return [max(0, n - outlet_room(problem, j)) for j, n in enumerate(need)]


def van_minutes(problem: Problem, schedule: Schedule) -> int:
    """Minutes that all vans drive."""
    return sum(sum(d) for d in tour_drives(problem, schedule))


def tour_drives(problem: Problem, schedule: Schedule) -> list[list[int]]:
    """Driving minutes before each stop of each van, leaving each stop as soon as its work is done."""
    result: list[list[int]] = []
    for k, tour in enumerate(schedule.tours):
        node, minute, drives = problem.vans[k].node, problem.vans[k].starts, []
        for u, is_pickup in tour:
            leg = schedule.legs[u]
            assert isinstance(leg, RideLeg)
            pickup = problem.pickups[u, k]
            following = pickup.node if is_pickup else problem.dropoffs[u, k, leg.shelter].node
            drives.append(problem.drive_min(node, following, minute))
            node = following
            minute = leg.load + pickup.load if is_pickup else leg.unload + pickup.unload
        result.append(drives)
    return result


def people_served(problem: Problem, schedule: Schedule) -> int:
    """How many people have a way."""
    return sum(party.size for party, leg in zip(problem.parties, schedule.legs, strict=True) if leg is not None)


def better(first: Sequence[int], second: Sequence[int]) -> bool:
    """Whether ``first`` comes before ``second`` in the order of the tiers."""
    return tuple(first) < tuple(second)
