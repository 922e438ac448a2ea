"""The jobs of drivers and escorts as numbered text messages, for when paper can't reach them any more."""

from __future__ import annotations

from pathlib import Path

from rollroute.output.gsm import to_gsm
from rollroute.output.itinerary import LonLat
from rollroute.output.move.facts import MoveFacts, file_stems
from rollroute.output.plain_text import plain
from rollroute.output.sms import numbered, place_reference
from rollroute.planning.plan import EscortPlan, Job, Stop, VanPlan

LONGEST = 40  # letters of one name in a message


def write_radio(facts: MoveFacts, folder: Path) -> list[Path]:
    """Write ``vans/<van>.txt`` and ``escorts/<escort>.txt``, one message a line."""
    stems = file_stems([v.id for v in facts.plan.vans])
    made = [_write(folder / "vans" / f"{stems[v.id]}.txt", van_messages(facts, v)) for v in facts.used_vans]
    stems = file_stems([e.id for e in facts.plan.escorts])
    made += [_write(folder / "escorts" / f"{stems[e.id]}.txt", escort_messages(facts, e)) for e in facts.plan.escorts if e.jobs]
    return made


def van_messages(facts: MoveFacts, van: VanPlan) -> list[str]:
    """Closings, then every stop: minute, riders, place and grid reference."""
    return numbered(_name(van.id), _ended([*_closings(facts), *(_stop(facts, n, s) for n, s in enumerate(van.stops, start=1))]))


def escort_messages(facts: MoveFacts, escort: EscortPlan) -> list[str]:
    """Closings, then every job: whom to meet, where and when, and what then."""
    return numbered(_name(escort.id), _ended([*_closings(facts), *(_job(facts, n, j) for n, j in enumerate(escort.jobs, start=1))]))


def _write(path: Path, lines: list[str]) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _ended(parts: list[str]) -> list[str]:
    texts = [to_gsm(part) for part in parts]
    return [f"{text};" for text in texts[:-1]] + [f"{texts[-1]}."]


def _name(text: str | None) -> str:
    return plain(text, longest=LONGEST).replace(";", ",")


def _grid(place: LonLat | None) -> str:
    return place_reference(*place) if place else "?"


def _closings(facts: MoveFacts) -> list[str]:
    words, said = facts.words, []
    for hazard in facts.move.hazards:
        what, time = _name(hazard.label), words.time_of_day(hazard.starts or facts.move.start)
        if hazard.kind == "closed":
            said.append(words.say("{what} closed from {time}", what=what, time=time))
        elif hazard.kind == "deadline":
            said.append(words.say("{what} out by {time}", what=what, time=time))
    return said


def _stop(facts: MoveFacts, n: int, stop: Stop) -> str:
    words = facts.words
    riders, time = " ".join(_name(i) for i in stop.riders), words.time_of_day(stop.start)
    place, grid = _name(facts.stop_name(stop)), _grid(facts.node_place(stop.node))
    if stop.kind == "load":
        doors = ", ".join(dict.fromkeys(_name(facts.address(i)) for i in stop.riders))
        return words.say("{n} at {time} load {riders} of {doors}: {place}, grid {grid}", n=n, time=time, riders=riders, doors=doors,
                         place=place, grid=grid)  # fmt: skip
    shelter = _name(facts.plan.rider(stop.riders[0]).shelter)
    return words.say("{n} at {time} unload {riders} for {shelter}: {place}, grid {grid}", n=n, time=time, riders=riders, shelter=shelter,
                     place=place, grid=grid)  # fmt: skip


def _job(facts: MoveFacts, n: int, job: Job) -> str:
    words, rider = facts.words, facts.plan.rider(job.riders[0])
    riders, time = " ".join(_name(i) for i in job.riders), words.time_of_day(job.meet)
    door, grid = _name(facts.address(rider.id)), _grid(facts.rider_place(rider.id))
    stop = facts.stop_of(rider.id, "load")
    goal = _name(rider.shelter) if job.kind == "roll" or stop is None else f"{_name(rider.van)}, {_name(facts.stop_name(stop))}"
    return words.say("{n} at {time} meet {riders} at {door}, grid {grid}, go to {goal}", n=n, time=time, riders=riders, door=door,
                     grid=grid, goal=goal)  # fmt: skip
