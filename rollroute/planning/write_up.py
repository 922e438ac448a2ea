"""From a schedule in minutes to a plan in words and clock times."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rollroute.inputs.move_folder import Move
from rollroute.planning.halts import night_tables
from rollroute.planning.needs import Needs
from rollroute.planning.objective import arrival_minutes, out_minutes, shelter_of, tour_drives
from rollroute.planning.outlets import PlugTime
from rollroute.planning.plan import EscortPlan, Job, Plug, RiderPlan, ShelterPlan, Stop, VanPlan
from rollroute.planning.problem import NEVER, Problem, RideLeg, RollLeg, Schedule
from rollroute.planning.reason_words import grouped
from rollroute.planning.things import things_to_take
from rollroute.planning.travel import TravelTable

FALLBACK = "another agency with a lift vehicle; until it is there, shelter in place as far from the hazard as the building allows"


@dataclass(frozen=True, slots=True)
class Facts:
    """What the write-up reads."""

    move: Move
    needs: Mapping[str, Needs]
    travel: TravelTable
    problem: Problem
    schedule: Schedule

    def clock(self, minute: float) -> str:
        """ISO 8601 time of a minute of the move."""
        return (self.move.start + dt.timedelta(minutes=minute)).isoformat(timespec="minutes")


def rider_plans(facts: Facts) -> tuple[RiderPlan, ...]:
    """One line per rider, in the order of the table."""
    arrivals, outs = arrival_minutes(facts.problem, facts.schedule), out_minutes(facts.problem, facts.schedule)
    lines: dict[str, RiderPlan] = {}
    for u, party in enumerate(facts.problem.parties):
        for rider_id in party.riders:
            lines[rider_id] = _line(facts, u, rider_id, arrivals[u], outs[u])
    declined = {
        r.id: RiderPlan(id=r.id, status="declined", reasons=("the rider has decided to stay",), fallback="ask again before the area closes")
        for r in facts.move.riders
        if r.id not in lines
    }
    return tuple((lines | declined)[r.id] for r in facts.move.riders)


def _line(facts: Facts, u: int, rider_id: str, arrival: int, out: int) -> RiderPlan:
    needs, party, leg = facts.needs[rider_id], facts.problem.parties[u], facts.schedule.legs[u]
    together = tuple(i for i in party.riders if i != rider_id)
    limits = [(party.close, out), (party.arrive_by, arrival), (party.socket_by, arrival)]
    binding = min((limit for limit, _ in limits), default=NEVER)
    latest = facts.clock(binding) if binding < NEVER else None
    if leg is None:
        return RiderPlan(
            id=rider_id, status="not served", together=together, latest=latest, assumed=needs.assumed, is_priority=needs.keeps_socket,
            reasons=grouped(facts.problem.reasons.get(rider_id, ()), [s.name for s in facts.problem.shelters]), fallback=FALLBACK,
        )  # fmt: skip
    margins = [limit - when for limit, when in limits if limit < NEVER]
    times = _roll_times(facts, leg, rider_id) if isinstance(leg, RollLeg) else _ride_times(facts, leg, u)
    return RiderPlan(
        id=rider_id,
        status="planned" if needs.rider.consent == "agreed" else "undecided",
        arrive=facts.clock(arrival),
        out=facts.clock(out) if party.close < NEVER or party.due < NEVER else None,
        escorts=tuple(facts.problem.escorts[e].id for e in leg.escorts),
        together=together,
        latest=latest,
        margin_min=min(margins) if margins else None,
        late_min=max(0, out - party.due) if party.due < NEVER else 0,
        assumed=needs.assumed,
        is_priority=needs.keeps_socket,
        things=things_to_take(needs.rider),
        **times,  # type: ignore[arg-type]
    )


def _roll_times(facts: Facts, leg: RollLeg, rider_id: str) -> dict[str, object]:
    roll = facts.problem.rolls[leg.roll]
    shelter = facts.problem.shelters[roll.shelter].name
    way = facts.travel.rolls[rider_id, shelter]
    return {
        "way": "roll",
        "shelter": shelter,
        "leave": facts.clock(leg.depart),
        "doubt": round(1.0 - math.exp(-way.doubt), 4),
        "unverified": way.unverified,
        "retreat": way.retreat,
        "path": way.path,
    }


def _ride_times(facts: Facts, leg: RideLeg, u: int) -> dict[str, object]:
    pickup, dropoff = facts.problem.pickups[u, leg.van], facts.problem.dropoffs[u, leg.van, leg.shelter]
    return {
        "way": "apart" if pickup.needs_stair_crew else "van",
        "shelter": facts.problem.shelters[leg.shelter].name,
        "van": facts.problem.vans[leg.van].id,
        "leave": facts.clock(leg.load - pickup.roll),
        "load": facts.clock(leg.load),
        "loaded": facts.clock(leg.load + pickup.load),
        "unload": facts.clock(leg.unload),
        "pickup": pickup.zone,
        "dropoff": dropoff.zone,
        "doubt": round(1.0 - math.exp(-(pickup.doubt + dropoff.doubt) / 1000.0 / facts.problem.parties[u].size), 4),
    }


def van_plans(facts: Facts) -> tuple[VanPlan, ...]:
    """Every van's stops."""
    drives = tour_drives(facts.problem, facts.schedule)
    return tuple(VanPlan(id=van.id, stops=_stops(facts, k, facts.schedule.tours[k], drives[k])) for k, van in enumerate(facts.problem.vans))


def _stops(facts: Facts, k: int, tour: Sequence[tuple[int, bool]], drives: Sequence[int]) -> tuple[Stop, ...]:
    stops, aboard, minute = [], 0, facts.problem.vans[k].starts
    for (u, is_pickup), drive in zip(tour, drives, strict=True):
        leg, pickup = facts.schedule.legs[u], facts.problem.pickups[u, k]
        assert isinstance(leg, RideLeg)
        dropoff = facts.problem.dropoffs[u, k, leg.shelter]
        aboard += pickup.positions if is_pickup else -pickup.positions
        start = leg.load if is_pickup else leg.unload
        end = start + (pickup.load if is_pickup else pickup.unload)
        node = pickup.node if is_pickup else dropoff.node
        stops.append(
            Stop(
                kind="load" if is_pickup else "unload",
                riders=facts.problem.parties[u].riders,
                place=pickup.zone if is_pickup else dropoff.zone,
                node=facts.travel.nodes[node],
                drive_min=drive,
                arrive=facts.clock(minute + drive),
                start=facts.clock(start),
                end=facts.clock(end),
                aboard=aboard,
            )
        )
        minute = end
    return tuple(stops)


def escort_plans(facts: Facts) -> tuple[EscortPlan, ...]:
    """Every escort's jobs in order of time."""
    jobs: list[list[tuple[int, Job]]] = [[] for _ in facts.problem.escorts]
    for u, leg in enumerate(facts.schedule.legs):
        if leg is None:
            continue
        for e in leg.escorts:
            jobs[e].append(_job(facts, u, leg, e))
    return tuple(
        EscortPlan(id=escort.id, jobs=tuple(job for _, job in sorted(found, key=lambda j: j[0])))
        for escort, found in zip(facts.problem.escorts, jobs, strict=True)
    )


def _job(facts: Facts, u: int, leg: RollLeg | RideLeg, e: int) -> tuple[int, Job]:
    escort, riders = facts.problem.escorts[e], facts.problem.parties[u].riders
    approach = escort.approach[u]
    if isinstance(leg, RollLeg):
        kind, meet = "roll", leg.depart
        end = meet + facts.problem.rolls[leg.roll].minutes
        back = end + escort.back[shelter_of(facts.problem, leg)]
    else:
        pickup = facts.problem.pickups[u, leg.van]
        kind, meet, end = "stairs" if pickup.needs_stair_crew else "to van", leg.load - pickup.roll, leg.load + pickup.load
        back = end + approach
    times = {"leave": meet - approach, "meet": meet, "end": end, "back": back}
    return meet, Job(kind=kind, riders=riders, **{name: facts.clock(minute) for name, minute in times.items()})


def _plug(facts: Facts, p: PlugTime) -> Plug:
    start, end = facts.clock(p.start), facts.clock(p.end)
    return Plug(rider=p.rider, circuit=p.circuit, outlet=p.outlet, start=start, end=end, watts=p.watts, is_held=p.is_held)


def shelter_plans(facts: Facts) -> tuple[ShelterPlan, ...]:
    """Every shelter's guests in order of arrival, and the outlets of the night and of halts on the way."""
    tables = night_tables(facts.move, facts.needs, facts.travel, facts.problem, facts.schedule)
    return tuple(
        ShelterPlan(
            name=table.shelter,
            arrivals=table.guests,
            plugs=tuple(_plug(facts, p) for p in table.night.plugs),
            halts=tuple(_plug(facts, p) for p in table.night.halts),
            missing_h=round(sum(table.night.missing_h.values()), 2),
            reasons=facts.problem.reasons.get(table.shelter, ()),
        )
        for table in tables
    )
