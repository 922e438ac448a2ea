"""The whole evening in order of time: who does what when. The page's longest table, and the one that a coordinator ticks off."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from rollroute.output.move.facts import MoveFacts
from rollroute.output.plain_text import plain
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import Job


@dataclass(frozen=True, slots=True, order=True)
class Event:
    """One thing that happens; ``who`` is a rider, van, escort or outlet."""

    moment: dt.datetime
    who: str
    what: str


def events(facts: MoveFacts) -> list[Event]:
    """Everything of the plan, in order of time, then of who."""
    return sorted([*_rolls(facts), *_vans(facts), *_escorts(facts), *_closings(facts), *_outlets(facts)])


def _rolls(facts: MoveFacts) -> list[Event]:
    say = facts.words.say
    found = []
    for r in facts.rollers:
        if r.leave and r.arrive:
            escorts = facts.words.listing([plain(e) for e in r.escorts])
            go = say("sets off for {shelter} with {escorts}", shelter=plain(r.shelter), escorts=escorts)
            alone = say("sets off for {shelter}", shelter=plain(r.shelter))
            found.append(Event(read_moment(r.leave), plain(r.id), go if escorts else alone))
            found.append(Event(read_moment(r.arrive), plain(r.id), say("is at {shelter}", shelter=plain(r.shelter))))
    return found


def _vans(facts: MoveFacts) -> list[Event]:
    say, found = facts.words.say, []
    for van in facts.used_vans:
        first = van.stops[0]
        off = read_moment(first.arrive) - dt.timedelta(minutes=first.drive_min)
        found.append(Event(off, plain(van.id), say("drives off to {place}", place=facts.stop_name(first))))
        for stop in van.stops:
            riders = facts.words.listing([plain(i) for i in stop.riders])
            where = facts.stop_name(stop)
            if stop.kind == "load":
                found.append(Event(read_moment(stop.start), plain(van.id), say("loads {riders} at {place}", riders=riders, place=where)))
            else:
                shelter = plain(facts.plan.rider(stop.riders[0]).shelter)
                text = say("unloads {riders} at {place} for {shelter}", riders=riders, place=where, shelter=shelter)
                found.append(Event(read_moment(stop.start), plain(van.id), text))
    return found


def _escorts(facts: MoveFacts) -> list[Event]:
    say = facts.words.say
    found = []
    for escort in facts.plan.escorts:
        for job in escort.jobs:
            riders = facts.words.listing([plain(i) for i in job.riders])
            found.append(Event(read_moment(job.leave), plain(escort.id), say("leaves to meet {riders}", riders=riders)))
            found.append(Event(read_moment(job.meet), plain(escort.id), _job(facts, job, riders)))
            found.append(Event(read_moment(job.back), plain(escort.id), say("is back")))
    return found


def _job(facts: MoveFacts, job: Job, riders: str) -> str:
    say = facts.words.say
    return {
        "roll": say("walks with {riders}", riders=riders),
        "to van": say("walks with {riders} to the van", riders=riders),
        "stairs": say("brings {riders} down the stairs", riders=riders),
    }.get(job.kind, riders)


def _closings(facts: MoveFacts) -> list[Event]:
    say = facts.words.say
    kinds = {"closed": say("closes"), "deadline": say("everybody out"), "watch": say("watch begins")}
    found = [Event(h.starts, plain(h.label), kinds[h.kind]) for h in facts.move.hazards if h.starts is not None]
    if facts.now is not None:
        found.append(Event(facts.now, say("now"), say("what stands above has happened or is under way")))
    return found


def _outlets(facts: MoveFacts) -> list[Event]:
    say, found = facts.words.say, []
    for halt in facts.halts:
        who, where = plain(halt.rider), plain(halt.shelter)
        found.append(Event(read_moment(halt.arrive), who, say("charges on the way at {shelter}", shelter=where)))
        found.append(Event(read_moment(halt.leave), who, say("goes on from {shelter}", shelter=where)))
    for shelter in facts.plan.shelters:
        for p in shelter.plugs:
            where = say("outlet {outlet} at {shelter}", outlet=f"{plain(p.circuit)} {p.outlet}", shelter=plain(shelter.name))
            found.append(Event(read_moment(p.start), plain(p.rider), say("plug in: {outlet}", outlet=where)))
            end = say("stays in until morning: {outlet}", outlet=where) if p.is_held else say("full: {outlet}", outlet=where)
            found.append(Event(read_moment(p.end), plain(p.rider), end))
    return found
