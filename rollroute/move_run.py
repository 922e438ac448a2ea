"""One move from its folder to its plan: open the folder, build the network, plan, audit, write; no clicks, no arithmetic.

What is written beside each other: ``plan.json`` (schema in ``planning.plan``) and ``travel.json`` (the estimates that it rests on).
``plan.move["folder"]`` is the folder of the inputs relative to the plan, ``plan.move["inputs"]`` the SHA-256 of every file that was read,
so that ``audit_file`` needs nothing but files.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from rollroute.errors import InputError
from rollroute.inputs.move_folder import FolderReading, Move, read_folder, read_move
from rollroute.planning.audit import Violation, audit
from rollroute.planning.plan import Plan, read_plan, write_plan
from rollroute.planning.travel import TravelTable, read_travel, write_travel

if TYPE_CHECKING:
    from rollroute.network.network import Network
    from rollroute.output.words import Words
    from rollroute.planning.calls import Call
    from rollroute.planning.network_travel import NetworkTravel

Progress = Callable[[str], None]
Stop = Callable[[], bool]
ADDRESSES = "address_points.csv"  # read where it lies in the folder and move.toml names no other
PLAN_FILE, TRAVEL_FILE = "plan.json", "travel.json"
MOST_PROCESSES = 4  # for papers: each holds the network once more
TABLE_ENDINGS = (".csv", ".xlsx", ".ods", ".geojson")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What else is asked for. ``earlier``: the plan to go on from, as things stand at the clock time ``now``.

    ``rehearse``: runs; ``fails_one``: let every unverified place and every van fail alone; ``None``: for moves that are solved exactly.
    """

    earlier: Path | None = None
    now: str | None = None
    rehearse: int = 0
    fails_one: bool | None = None


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """A plan with everything that papers are made from; ``provider.finder`` makes each roll's journey again.

    ``said``: what rehearsal and failures of one thing say, in lines.
    """

    move: Move
    plan: Plan
    travel: TravelTable
    network: Network
    provider: NetworkTravel
    violations: tuple[Violation, ...]
    said: tuple[str, ...] = ()


def input_files(move: Move, network_file: Path | None = None) -> list[Path]:
    """Every file that a plan of this move is made from, as far as it exists."""
    files, folder = move.settings.files, move.folder
    named = [files.riders, files.shelters, files.vans, files.escorts, files.hazards, files.map, files.heights]
    named += [files.field_facts, files.passages]
    named += [files.addresses or ADDRESSES, *(files.alerts or sorted(p.name for p in folder.glob("*.cap.xml")))]
    found = [folder / "move.toml"]
    for name in (n for n in named if n):
        path = folder / name
        if not path.exists():  # the same table under another ending, as read_folder takes it
            path = next((p for p in sorted(folder.glob(f"{path.stem}.*")) if p.suffix.lower() in TABLE_ENDINGS), path)
        if path.exists() and path not in found:
            found.append(path)
    return found if network_file is None else [*found, network_file]


def fingerprints(files: Sequence[Path], base: Path) -> dict[str, str]:
    """SHA-256 of each file, by its path relative to ``base``."""
    return {os.path.relpath(f, base).replace(os.sep, "/"): hashlib.sha256(f.read_bytes()).hexdigest() for f in files}


def network_of(move: Move, network_file: Path | None = None) -> Network:
    """The network that ``move.toml`` names, or one built before; field facts of the move are laid over it.

    Raises
    ------
    InputError
        If the move names no map and no network is given.
    """
    from rollroute.assembly import build_from_files
    from rollroute.inputs.field_facts import read_field_facts
    from rollroute.network.network import Network
    from rollroute.network.overlay import lay_facts
    from rollroute.network.power import with_power

    files, folder = move.settings.files, move.folder
    if network_file is not None:
        network = Network.load(network_file)
    elif files.map is None:
        raise InputError(f'{folder / "move.toml"}: [files] names no map. Add map = "town.osm.pbf", or give --network.')
    else:
        addresses = folder / (files.addresses or ADDRESSES)
        heights = [] if files.heights is None else [folder / files.heights]
        network = build_from_files(folder / files.map, heights, addresses=addresses if addresses.exists() or files.addresses else None)
    network = with_power(network, move.settings.ways.powered)
    if files.field_facts is None:
        return network
    laid, _ = lay_facts(network, read_field_facts(folder / files.field_facts), move.start.date())
    return laid


def plan_move(
    folder: Path,
    out: Path,
    *,
    network_file: Path | None = None,
    wishes: Wishes | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> PlannedMove:
    """Read, estimate, plan and audit a move; ``out`` is where the plan will stand. Nothing is written.

    Raises
    ------
    InputError
        With every bad row at once.
    """
    from rollroute.planning.audit_travel import travel_violations
    from rollroute.planning.make_plan import needs_of
    from rollroute.planning.network_travel import NetworkTravel
    from rollroute.planning.onward import with_onward

    move, wishes = read_move(folder), wishes or Wishes()
    earlier = None if wishes.earlier is None else read_plan(wishes.earlier)
    needs, wrong = needs_of(move)
    if wrong:
        raise InputError("\n".join(wrong))
    if progress is not None:
        progress("map")
    network = network_of(move, network_file)
    provider = NetworkTravel(network, progress=progress)
    travel = provider.estimate(move, needs)
    if earlier is not None and provider.finder is not None:
        travel = with_onward(travel, provider.finder, earlier, needs, _minute_of(move, wishes.now))
    plan = place_of_inputs(_plan(move, travel, earlier, wishes.now, progress, stop), move, out, network_file)
    plan, said = _tried(plan, move, travel, wishes, progress)
    if progress is not None:
        progress("audit")
    violations = (*audit(plan, move, travel), *travel_violations(plan, move, travel, network))
    return PlannedMove(move, plan, travel, provider.network, provider, violations, tuple(said))


def _plan(move: Move, travel: TravelTable, earlier: Plan | None, now: str | None, progress: Progress | None, stop: Stop | None) -> Plan:
    from rollroute.planning.changes import replan
    from rollroute.planning.make_plan import make_plan

    if earlier is None:
        return make_plan(move, travel, progress=progress, stop=stop)
    return replan(earlier, move, travel, now=_minute_of(move, now), progress=progress, stop=stop)


def _minute_of(move: Move, now: str | None) -> int | None:
    """The minute of the news, told on the command line or in ``move.toml``; ``None``: nothing has happened yet."""
    from rollroute.planning.changes import now_minute

    clock = now or move.settings.now
    return None if clock is None else now_minute(move, clock)


def _tried(plan: Plan, move: Move, travel: TravelTable, wishes: Wishes, progress: Progress | None) -> tuple[Plan, list[str]]:
    """The plan with what failures and chance do to it, and the same in words."""
    from rollroute.planning.fail_one import fail_one, fail_one_document, fail_one_lines
    from rollroute.planning.rehearse import rehearsal_document, rehearsal_lines, rehearse

    extra = dict(plan.extra)
    said: list[str] = []
    is_small = len(move.riders) <= move.settings.effort.exact_units
    if plan.is_complete and (is_small if wishes.fails_one is None else wishes.fails_one):
        failures = fail_one(plan, move, travel, progress=progress)
        extra["fail_one"] = fail_one_document(failures)
        said += ["", *fail_one_lines(failures)]
    if wishes.rehearse:
        rehearsal = rehearse(plan, move, travel, runs=wishes.rehearse, seed=move.settings.effort.seed, progress=progress)
        extra["rehearsal"] = rehearsal_document(rehearsal)
        said += ["", *rehearsal_lines(rehearsal)]
    return replace(plan, extra=extra), said


def place_of_inputs(plan: Plan, move: Move, out: Path, network_file: Path | None = None) -> Plan:
    """``plan`` with the folder of its inputs relative to ``out`` and the fingerprints of its files."""
    folder = os.path.relpath(move.folder.resolve(), out.resolve()).replace(os.sep, "/")
    known = {"folder": folder, "inputs": fingerprints(input_files(move, network_file), move.folder)}
    return replace(plan, move={**plan.move, **known})


def write_planned(
    planned: PlannedMove,
    out: Path,
    *,
    words: Words | None = None,
    paper: str = "a4",
    plan_only: bool = False,
    progress: Progress | None = None,
) -> list[Path]:
    """Write the papers, ``plan.json`` and ``travel.json``: all are made before the first is put in place, and Ctrl-C leaves all or none."""
    from rollroute.output.folder import make_folder, put_in_place
    from rollroute.output.undisturbed import undisturbed

    make_folder(out)
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        write_travel(planned.travel, work / TRAVEL_FILE)
        write_plan(planned.plan, work / PLAN_FILE)
        if not plan_only:
            return _papers(planned, out, words, paper, progress, beside=work)
        with undisturbed():
            return put_in_place(work, out)


def _papers(planned: PlannedMove, out: Path, words: Words | None, paper: str, progress: Progress | None, *, beside: Path) -> list[Path]:
    from rollroute.output.move import PaperOptions, write_move_folder
    from rollroute.planning.calls import call_list
    from rollroute.planning.make_plan import needs_of

    move, travel = planned.move, planned.travel
    calls = call_list(move, needs_of(move)[0], travel)
    now = dt.datetime.now(move.start.tzinfo).isoformat(timespec="minutes")
    options = PaperOptions(paper=paper, made_at=now, processes=min(MOST_PROCESSES, os.cpu_count() or 1))
    return write_move_folder(
        planned.plan, move, travel, out, finder=planned.provider.finder, calls=calls, words=words, options=options,
        progress=progress, beside=beside,
    )  # fmt: skip


def check_variants(texts: Sequence[str], folder: Path) -> None:
    """Refuse a variant that can't be read, before any work is done.

    Raises
    ------
    InputError
        With the spellings that are known.
    """
    from rollroute.planning.what_if import check_names, parse_variant

    variants = [parse_variant(text) for text in texts if text.strip().lower() != "usual"]
    if variants:
        check_names(read_folder(folder).move, variants)


def compare_variants(planned: PlannedMove, texts: Sequence[str], *, progress: Progress | None = None) -> list[str]:
    """What each variant would change, one line each; nothing where none is asked for."""
    from rollroute.planning.what_if import read_variants, what_if, what_if_lines

    if not texts:
        return []
    if progress is not None:
        progress("what if")
    variants = read_variants(texts, planned.move, planned.plan)
    result = what_if(planned.move, planned.travel, variants, base=planned.plan, progress=progress)
    return ["", "What if", *(f"  {line}" for line in what_if_lines(result))]


@dataclass(frozen=True, slots=True)
class AuditReport:
    """What an audit of a plan file found, and which of its inputs are not what they were."""

    violations: tuple[Violation, ...]
    changed: tuple[str, ...]


def audit_file(plan_file: Path, *, network_file: Path | None = None) -> AuditReport:
    """Check a plan from files alone: its inputs, the travel estimates beside it, and the map where it is there.

    Raises
    ------
    InputError
        If the plan, its folder or its travel estimates can't be read.
    """
    plan = read_plan(plan_file)
    folder = plan_file.parent / str(plan.move.get("folder", ""))
    if not (folder / "move.toml").is_file():
        raise InputError(f"{plan_file}: its inputs are not at {folder}. Put the folder back, or edit move.folder in the plan.")
    move = read_move(folder)
    travel = read_travel(plan_file.parent / TRAVEL_FILE)
    found = audit(plan, move, travel)
    if network_file is not None or _has_map(move):
        from rollroute.planning.audit_travel import travel_violations

        found += travel_violations(plan, move, travel, network_of(move, network_file))
    return AuditReport(tuple(found), tuple(_changed(plan, folder)))


def _has_map(move: Move) -> bool:
    return move.settings.files.map is not None and (move.folder / move.settings.files.map).is_file()


def _changed(plan: Plan, folder: Path) -> list[str]:
    """Inputs that are gone or not what they were when the plan was made."""
    lines = []
    for name, digest in dict(plan.move.get("inputs", {})).items():
        path = folder / name
        if not path.is_file():
            lines.append(f"{name} was read for this plan and is no longer there")
        elif hashlib.sha256(path.read_bytes()).hexdigest() != digest:
            lines.append(f"{name} has changed since this plan was made")
    return lines


@dataclass(frozen=True, slots=True)
class Checked:
    """What ``check`` has to say: the reading with its bad rows, riders that can't be read, and the call list.

    ``is_weighed``: the calls are in the order of what they would change; without a map they are in the order of the tables.
    """

    reading: FolderReading
    wrong: tuple[str, ...]  # chairs, charges and places that can't be read or found
    calls: tuple[Call, ...]
    is_weighed: bool
    not_weighed_for: str = ""


def check_move(folder: Path, *, network_file: Path | None = None, progress: Progress | None = None) -> Checked:
    """Read every row of a move and ask what is not known; bad rows do not keep the others from being read."""
    from rollroute.network.network import Network
    from rollroute.planning.calls import call_list
    from rollroute.planning.make_plan import needs_of
    from rollroute.planning.network_travel import NetworkTravel
    from rollroute.planning.places import NOWHERE

    if network_file is not None:  # without a map the rows can still be read; a network that was asked for is to be used
        Network.load(network_file)
    reading = read_folder(folder)
    needs, wrong = needs_of(reading.move)
    why = ""
    travel = TravelTable()
    try:
        travel = NetworkTravel(network_of(reading.move, network_file), progress=progress).estimate(reading.move, needs)
    except InputError as error:
        why = str(error)
    wrong += [note for note in travel.notes if not note.endswith(NOWHERE)]
    return Checked(reading, tuple(wrong), tuple(call_list(reading.move, needs, travel)), not why, why)
