"""A sheet for everybody who walks along: whom to meet where and when, what to do there, and the way back."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from rollroute.output.itinerary import Itinerary
from rollroute.output.move.facts import MoveFacts, file_stems
from rollroute.output.move.sheets import closings
from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import Block, bullets, facts, heading, paragraph, title
from rollroute.output.sheet.press import Press
from rollroute.output.sms import place_reference
from rollroute.planning.plan import EscortPlan, Job

NARROW_M = 1.5  # below this nobody walks beside a chair: the chair's own width and a person's


def write_escort_sheets(move: MoveFacts, routes: Mapping[str, Itinerary], folder: Path, paper: str) -> list[Path]:
    """Write ``<escort>.pdf`` for everybody with a job."""
    stems = file_stems([e.id for e in move.plan.escorts])
    made = []
    for escort in (e for e in move.plan.escorts if e.jobs):
        folder.mkdir(parents=True, exist_ok=True)
        made.append(folder / f"{stems[escort.id]}.pdf")
        name = move.words.say("Escort {code}", code=plain(escort.id))
        blocks = escort_blocks(move, escort, routes)
        Press(title=name, header=name, made_at=move.made_at, paper=paper, words=move.words).print(blocks, made[-1])
    return made


def escort_blocks(move: MoveFacts, escort: EscortPlan, routes: Mapping[str, Itinerary]) -> list[Block]:
    """The sheet's content. Riders by id and door; no need and no reason of a rider."""
    say = move.words.say
    blocks = [title(say("Escort {code}", code=plain(escort.id)))]
    blocks += [paragraph(line, strong=True) for line in closings(move)]
    for n, job in enumerate(escort.jobs, start=1):
        blocks += _job(move, n, job, routes)
    cautions = [
        say("Ask the rider before you touch the chair, and do what the rider says."),
        say(
            "Walk beside the chair, where the rider sees you. Where the path is under {width} wide, walk ahead of it uphill and behind it "
            "downhill: never stand downhill of it.",
            width=move.words.size(NARROW_M),
        ),
        say("If you are late, or the way is blocked: call the coordinator before you turn back."),
        say("A code stands for a rider; ask for it at the door, and give it to the shelter."),
    ]
    return [*blocks, heading(say("Cautions")), bullets(cautions)]


def _job(move: MoveFacts, n: int, job: Job, routes: Mapping[str, Itinerary]) -> list[Block]:
    words, say = move.words, move.words.say
    riders = words.listing([plain(i) for i in job.riders])
    others = dict.fromkeys(e for i in job.riders for e in move.plan.rider(i).escorts)
    rows = [
        (say("Leave at"), words.time_of_day(job.leave)),
        *((say("Meet {rider} at {time}", rider=plain(i), time=words.time_of_day(job.meet)), _door(move, i)) for i in job.riders),
        (say("Go to"), _goal(move, job)),
        (say("Done at"), words.time_of_day(job.end)),
        (say("Back at"), words.time_of_day(job.back)),
    ]
    if len(others) > 1:
        rows.append((say("Together"), words.listing([plain(e) for e in others])))
    what = {
        "roll": say("walk with {riders} to the shelter", riders=riders),
        "to van": say("walk with {riders} to the van", riders=riders),
        "stairs": say("bring {riders} down the stairs", riders=riders),
    }.get(job.kind, riders)
    codes = [say("The way of {rider} is on the sheet of route {code}.", rider=plain(i), code=plain(routes[i].code))
             for i in job.riders if i in routes]  # fmt: skip
    return [heading(f"{n}. {words.time_of_day(job.leave)}: {what}"), facts(rows), *(paragraph(line) for line in codes)]


def _door(move: MoveFacts, rider_id: str) -> str:
    place = move.rider_place(rider_id)
    return f"{move.address(rider_id)} ({place_reference(*place)})" if place else move.address(rider_id)


def _goal(move: MoveFacts, job: Job) -> str:
    rider = move.plan.rider(job.riders[0])
    if job.kind == "roll":
        return plain(rider.shelter)
    stop = move.stop_of(rider.id, "load")
    if stop is None:
        return move.words.say("not known")
    place = move.node_place(stop.node)
    name = move.words.say("van {van}, {place}", van=plain(rider.van), place=move.stop_name(stop))
    return f"{name} ({place_reference(*place)})" if place else name
