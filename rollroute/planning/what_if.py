"""What would change with one thing different: each variant is planned afresh and compared with the plan as it is.

``parse_variant(text) -> Variant`` reads the spellings of the command line (``rollroute move MOVE_DIR --what-if TEXT``, repeatable):

- ``one more van``: a second van like the one that takes most riders, from the same place, in the same hours;
- ``closed: NAME``: nobody goes to that shelter;
- ``later: 20``: nobody and no van starts before 20 minutes after the start, closings stay where they are;
- ``outlets: NAME 4``: that shelter has 4 powered outlets in all;
- ``usual``: all of the above that make sense for this move (``usual_variants(move, plan)``).

``what_if(move, travel, variants, base=plan) -> WhatIf`` plans each; ``WhatIf.rows[0]`` is the plan as it is.
``what_if_lines(result) -> list[str]`` is the table in words. What is compared: people served, people left, the worst margin to a hard
limit, the minute at which the last one is inside, outlet hours missing, and how many riders' lines differ.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import Circuit, Shelter
from rollroute.inputs.move_vehicles import Escort, Van
from rollroute.planning.audit import audit
from rollroute.planning.earlier_plan import schedule_of
from rollroute.planning.exact import ExactResult, solve_exactly
from rollroute.planning.make_plan import ROUNDS_BEFORE_EXACT, bounded, make_plan, needs_of, write_up
from rollroute.planning.objective import tiers
from rollroute.planning.options import build_problem
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.problem import Problem, Schedule
from rollroute.planning.search_schedule import search_schedule
from rollroute.planning.travel import TravelTable

SPELLINGS = "one more van; closed: NAME; later: 20; outlets: NAME 4; usual"
USUAL_LATER_MIN, USUAL_MORE_OUTLETS = 20, 2
PARTIES_PUT_IN, LEAST_ROUNDS = 60_000, 100  # work of the search on large moves: rounds times parties
EXACT_WORK = 1.0  # deterministic units of the solver for each figure of a variant; the plan as it is has its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One thing that is different. ``kind``: ``van``, ``closed``, ``later`` or ``outlets``; ``number``: minutes or outlets."""

    kind: str
    name: str = ""
    number: int = 0

    @property
    def words(self) -> str:
        """The variant as it is written on the command line."""
        spelled = {
            "van": "one more van",
            "closed": f"closed: {self.name}",
            "later": f"later: {self.number}",
            "outlets": f"outlets: {self.name} {self.number}",
        }
        return spelled[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a plan achieves. ``worst_margin_min``: ``None`` where nobody has a hard limit; ``finish``: ``None`` where nobody moves."""

    words: str
    served: int
    left: tuple[str, ...]
    worst_margin_min: int | None
    worst_margin_rider: str | None
    finish: str | None
    missing_outlet_h: float
    late_min: int
    changed: tuple[str, ...]  # riders whose line differs from the plan as it is
    plan: Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """The plan as it is (first) and every variant."""

    rows: tuple[Outcome, ...]


def parse_variant(text: str) -> Variant:
    """Read one variant; see the module for the spellings.

    Raises
    ------
    InputError
        If it is none of them.
    """
    words = re.sub(r"\s+", " ", text).strip()
    if words.lower() in ("one more van", "van", "+van"):
        return Variant(kind="van")
    kind, _, rest = (part.strip() for part in words.partition(":"))
    if kind.lower() == "closed" and rest:
        return Variant(kind="closed", name=rest)
    if kind.lower() == "later" and (found := re.fullmatch(r"(\d+)(?: ?min(?:utes)?)?", rest)):
        return Variant(kind="later", number=int(found[1]))
    if kind.lower() == "outlets" and (found := re.fullmatch(r"(.+?) (\d+)", rest)):
        return Variant(kind="outlets", name=found[1], number=int(found[2]))
    raise InputError(f"--what-if {text!r}: not understood. Write one of: {SPELLINGS}.")


def usual_variants(move: Move, base: Plan | None = None) -> list[Variant]:
    """One more van, every shelter in use closed or with two more outlets, and 20 minutes later.

    In use: somebody goes there in ``base``; without a plan, open with places.
    """
    goals = {r.shelter for r in base.riders} if base is not None else {s.name for s in move.shelters}
    used = [s for s in move.shelters if s.accessible_places and s.opens is not None and s.name in goals]
    variants = [Variant(kind="van")] if move.vans else []
    variants += [Variant(kind="closed", name=s.name) for s in used]
    variants.append(Variant(kind="later", number=USUAL_LATER_MIN))
    return variants + [Variant(kind="outlets", name=s.name, number=_outlets(s) + USUAL_MORE_OUTLETS) for s in used]


def read_variants(texts: Sequence[str], move: Move, base: Plan | None = None) -> list[Variant]:
    """The variants of the command line; ``usual`` stands for ``usual_variants``."""
    variants: list[Variant] = []
    for text in texts:
        variants += usual_variants(move, base) if text.strip().lower() == "usual" else [parse_variant(text)]
    return list(dict.fromkeys(variants))


def check_names(move: Move, variants: Sequence[Variant]) -> None:
    """Raise ``InputError`` for a variant of a shelter that the move does not have."""
    for variant in variants:
        if variant.kind not in ("van", "later"):
            _find_shelter(move, variant.name)


def varied(move: Move, travel: TravelTable, variant: Variant, base: Plan | None = None) -> tuple[Move, TravelTable]:
    """The move and its travel estimates with ``variant``.

    Raises
    ------
    InputError
        If the shelter is not in the move, or no van is there to be copied.
    """
    if variant.kind == "van":
        return _one_more_van(move, travel, base)
    if variant.kind == "later":
        return _later(move, variant.number), _charged_meanwhile(travel, variant.number)
    shelter = _find_shelter(move, variant.name)
    changed = replace(shelter, accessible_places=0) if variant.kind == "closed" else _with_outlets(shelter, variant.number)
    return replace(move, shelters=tuple(changed if s is shelter else s for s in move.shelters)), travel


def what_if(
    move: Move, travel: TravelTable, variants: Sequence[Variant], *, base: Plan | None = None, progress: Callable[[str], None] | None = None
) -> WhatIf:
    """Plan every variant afresh. ``base``: the plan as it is, made here where it is not given."""
    plan = make_plan(move, travel) if base is None else base
    rows = [_outcome("as it is", plan, plan)]
    for number, variant in enumerate(variants):
        if progress is not None:
            progress(f"what if {number}/{len(variants)}")
        rows.append(_outcome(variant.words, plan_near(*varied(move, travel, variant, plan), plan), plan))
    return WhatIf(rows=tuple(rows))


def plan_near(move: Move, travel: TravelTable, base: Plan) -> Plan:
    """A plan from scratch that starts its work from ``base`` where that still holds, so that nothing differs without a gain."""
    needs, _ = needs_of(move)
    problem, effort = build_problem(move, needs, travel), move.settings.effort
    is_small = len(problem.parties) <= effort.exact_units
    rounds = min(effort.search_rounds, ROUNDS_BEFORE_EXACT if is_small else max(LEAST_ROUNDS, PARTIES_PUT_IN // len(problem.parties)))
    found = [search_schedule(problem, rounds=rounds, seed=effort.seed)]
    kept = schedule_of(base, problem, move.start)
    as_kept = write_up(move, needs, travel, problem, _plainly(problem, kept), explains=False)
    if not audit(as_kept, move, travel):
        found.insert(0, kept)  # first among equals
    best = min(found, key=lambda s: tiers(problem, s))
    if is_small:
        result = solve_exactly(problem, hint=best, work=min(EXACT_WORK, effort.exact_work), seed=effort.seed)
    else:
        result = bounded(problem, best)
    return write_up(move, needs, travel, problem, result, explains=False)


def _plainly(problem: Problem, schedule: Schedule) -> ExactResult:
    """A schedule of which nothing is proven."""
    values = tiers(problem, schedule)
    return ExactResult(schedule=schedule, tiers=values, bounds=(0,) * len(values), is_proven=(False,) * len(values))


def what_if_lines(result: WhatIf) -> list[str]:
    """One line per variant, differences to the plan as it is in brackets."""
    first = result.rows[0]
    lines = []
    for row in result.rows:
        more = row.served - first.served
        served = f"{row.served} served" + (f" ({more:+d})" if more else "")
        left = f", left: {', '.join(row.left)}" if row.left else ""
        margin = "no hard limit" if row.worst_margin_min is None else f"worst margin {row.worst_margin_min} min ({row.worst_margin_rider})"
        finish = "nobody moves" if row.finish is None else f"last one inside {row.finish[11:16]}"
        outlets = f"{row.missing_outlet_h:.1f} outlet hours missing"
        others = f"other way, place or time for {', '.join(row.changed)}" if row.changed else "nobody's way, place or time changes"
        moved = "" if row is first else f"; {others}"
        lines.append(f"{row.words}: {served}{left}; {margin}; {finish}; {row.late_min} min late; {outlets}{moved}")
    return lines


def best_van(move: Move, base: Plan | None = None) -> Van:
    """The van that takes most riders in ``base``; without a plan, or among equals, the one with most positions and the strongest lift."""
    loads = {v.id: sum(len(s.riders) for s in v.stops if s.kind == "load") for v in base.vans} if base is not None else {}
    return max(move.vans, key=lambda v: (loads.get(v.id, 0), v.positions or 1, v.lift_rating_kg or 0.0))


def _one_more_van(move: Move, travel: TravelTable, base: Plan | None) -> tuple[Move, TravelTable]:
    if not move.vans:
        raise InputError(f"{move.settings.files.vans}: no van that one more could be like. Add the van to the table instead.")
    best = best_van(move, base)
    taken = {v.id for v in move.vans}
    new_id = next(name for n in range(2, len(taken) + 3) if (name := f"{best.id}/{n}") not in taken)
    nodes = dict(travel.van_nodes)
    if best.id in nodes:
        nodes[new_id] = nodes[best.id]
    return replace(move, vans=(*move.vans, best.model_copy(update={"id": new_id}))), replace(travel, van_nodes=nodes)


def _later(move: Move, minutes: int) -> Move:
    """Nobody, no van and no escort starts before ``minutes``; carried power runs on meanwhile, so its minutes stay as they are."""
    first = move.start + dt.timedelta(minutes=minutes)
    assumed = move.start + dt.timedelta(minutes=move.settings.assume.van_first_min)

    def rider(r: Rider) -> Rider:
        return r.model_copy(update={"ready_from": first if r.ready_from is None else max(first, r.ready_from)})

    def van(v: Van) -> Van:
        return v.model_copy(update={"available_from": max(first, assumed if v.available_from is None else v.available_from)})

    def escort(e: Escort) -> Escort:
        return e.model_copy(update={"available_from": first if e.available_from is None else max(first, e.available_from)})

    return replace(
        move, riders=tuple(map(rider, move.riders)), vans=tuple(map(van, move.vans)), escorts=tuple(map(escort, move.escorts))
    )  # fmt: skip


def _charged_meanwhile(travel: TravelTable, minutes: int) -> TravelTable:
    """Who has to charge before setting off goes on charging while waiting."""
    rolls = {key: replace(way, charge_first_min=max(0.0, way.charge_first_min - minutes)) for key, way in travel.rolls.items()}
    return replace(travel, rolls=rolls)


def _find_shelter(move: Move, name: str) -> Shelter:
    found = [s for s in move.shelters if s.name.casefold() == name.casefold()]
    found = found or [s for s in move.shelters if s.name.casefold().startswith(name.casefold())]
    if len(found) != 1:
        names = ", ".join(s.name for s in (found or move.shelters))
        raise InputError(f"--what-if: shelter {name!r} is {'more than one' if found else 'none'} of this move's. Write one of: {names}.")
    return found[0]


def _outlets(shelter: Shelter) -> int:
    return sum(c.outlets or 0 for c in shelter.circuits)


def _with_outlets(shelter: Shelter, number: int) -> Shelter:
    """``number`` outlets in all, dealt out to the circuits that there are; a shelter without circuits gets one of unknown rating."""
    circuits = shelter.circuits or (Circuit(name="A", outlets=0, amps=None),)
    share, rest = divmod(number, len(circuits))
    return replace(shelter, circuits=tuple(replace(c, outlets=share + (n < rest)) for n, c in enumerate(circuits)))


def _outcome(words: str, plan: Plan, base: Plan) -> Outcome:
    moved = [r for r in plan.riders if r.way is not None]
    margins = sorted((r.margin_min, r.id) for r in moved if r.margin_min is not None)
    before = {r.id: _doing(r) for r in base.riders}
    return Outcome(
        words=words,
        served=len(moved),
        left=tuple(r.id for r in plan.not_served),
        worst_margin_min=margins[0][0] if margins else None,
        worst_margin_rider=margins[0][1] if margins else None,
        finish=max((r.arrive for r in moved if r.arrive), key=dt.datetime.fromisoformat, default=None),
        missing_outlet_h=round(sum(s.missing_h for s in plan.shelters), 2),
        late_min=sum(r.late_min for r in moved),
        changed=tuple(r.id for r in plan.riders if before.get(r.id) != _doing(r)),
        plan=plan,
    )


def _doing(line: RiderPlan) -> tuple[str | None, ...]:
    """What a rider would notice."""
    return line.status, line.way, line.shelter, line.van, line.leave, line.arrive
