"""Random news for a random move: what a coordinator hears while the plan is under way."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

from move_worlds import START, line_travel, rider

from rollroute.inputs.move_folder import Move
from rollroute.planning.plan import Plan
from rollroute.planning.travel import TravelTable


def random_news(seed: int, move: Move, travel: TravelTable, plan: Plan, now: int) -> tuple[Move, TravelTable, str]:
    """The move and its estimates with one piece of news, and what it is. Rows are kept: hours end, places go to 0.

    An escort who goes ends the job that has begun.
    """
    rng = random.Random(seed)
    kinds = ["shelter full", "rider declines", "rider has less time", "escort goes", "van is slow", "new rider"]
    kinds += ["van ends"] * 3 if move.vans else []
    kind = rng.choice(kinds)
    moment = START + dt.timedelta(minutes=now)
    busy_until = {
        e.id: max([moment, *(dt.datetime.fromisoformat(j.back) for j in e.jobs if dt.datetime.fromisoformat(j.leave) <= moment)])
        for e in plan.escorts
    }
    if kind == "van ends":
        k = rng.randrange(len(move.vans))
        return replace(move, vans=_changed(move.vans, k, {"available_to": moment})), travel, kind
    if kind == "shelter full":
        j = rng.randrange(len(move.shelters))
        shelters = tuple(replace(s, accessible_places=0) if n == j else s for n, s in enumerate(move.shelters))
        return replace(move, shelters=shelters), travel, kind
    if kind in ("rider declines", "rider has less time"):
        changes = (
            {"consent": "declined"} if kind == "rider declines" else {"latest_arrival": moment + dt.timedelta(minutes=rng.randint(0, 40))}
        )
        return replace(move, riders=_changed(move.riders, rng.randrange(len(move.riders)), changes)), travel, kind
    if kind == "escort goes" and move.escorts:
        e = rng.randrange(len(move.escorts))
        return replace(move, escorts=_changed(move.escorts, e, {"available_to": busy_until.get(move.escorts[e].id, moment)})), travel, kind
    if kind == "new rider":
        return (*_with_new_rider(rng, move, travel), kind)
    phases = tuple(replace_phase(p, 1.3) for p in travel.phases)
    return move, replace(travel, phases=phases), "van is slow"


def replace_phase(phase, factor):
    """A phase in which every drive takes longer."""
    return type(phase)(phase.ends_min, phase.minutes * factor)


def _changed(rows, number, changes):
    return tuple(row.model_copy(update=changes) if n == number else row for n, row in enumerate(rows))


def _with_new_rider(rng: random.Random, move: Move, travel: TravelTable) -> tuple[Move, TravelTable]:
    """Somebody at a random kilometre whom nobody knew of; all others' estimates stay."""
    bigger = replace(move, riders=(*move.riders, rider("NEW", chair_length_cm=115)))
    where = {name: lon for name, (lon, _) in travel.places.items()} | {"NEW": rng.uniform(-5, 5)}
    where |= {v.id: 0.0 for v in move.vans if v.id not in where} | {e.id: 0.0 for e in move.escorts if e.id not in where}
    table = line_travel(bigger, where)
    old = [n for n in table.nodes if n in travel.nodes]
    rows = [table.nodes.index(n) for n in old]
    their_rows = [travel.nodes.index(n) for n in old]
    phases = []
    for phase in travel.phases:
        minutes = table.phases[0].minutes.copy()
        for a, b in zip(rows, their_rows, strict=True):
            minutes[a, rows] = phase.minutes[b, their_rows]
        phases.append(type(phase)(phase.ends_min, minutes))
    merged = replace(
        travel,
        nodes=table.nodes,
        phases=tuple(phases),
        places={**travel.places, "NEW": table.places["NEW"]},
        pickups={**travel.pickups, "NEW": table.pickups["NEW"]},
        dropoffs={**travel.dropoffs, **{key: z for key, z in table.dropoffs.items() if key[0] == "NEW"}},
    )
    return bigger, merged
