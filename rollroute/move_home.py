"""The way home from files to files: a plan and the answers about homes become a move folder like any other.

What is written: the folder's tables (see ``inputs.write_folder``), ``home.csv`` to be filled in (kept where it is there already),
and ``things.txt``, what travels with whom.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from rollroute.errors import InputError
from rollroute.inputs.csv_cells import write_csv
from rollroute.inputs.move_fields import parse_moment
from rollroute.inputs.move_folder import read_move
from rollroute.inputs.move_home import FILE, read_home_answers
from rollroute.inputs.write_folder import write_folder
from rollroute.output.undisturbed import undisturbed
from rollroute.planning.plan import read_plan
from rollroute.planning.travel import read_travel
from rollroute.planning.way_home import WayHome, question_rows, way_home, way_home_lines

THINGS_FILE = "things.txt"


@dataclass(frozen=True, slots=True)
class HomeFolder:
    """The move back and the files that were written."""

    home: WayHome
    files: tuple[Path, ...]


def turn_round(plan_file: Path, out: Path, *, start: str, answers: Path | None = None) -> HomeFolder:
    """Write the folder of the way home. ``answers``: a ``home.csv``; by default the one in ``out``, else the one beside the inputs.

    Raises
    ------
    InputError
        If the plan, its inputs or the answers can't be read, or the start is no time after the start of the move.
    """
    plan = read_plan(plan_file)
    inputs = plan_file.parent / str(plan.move.get("folder", ""))
    if not (inputs / "move.toml").is_file():
        raise InputError(f"{plan_file}: its inputs are not at {inputs}. Put the folder back, or edit move.folder in the plan.")
    if out.resolve() == inputs.resolve():
        raise InputError(f"{out}: the inputs of the plan are there. Give another folder for the way home.")
    move = read_move(inputs)
    try:
        moment = parse_moment(start, move.start)
    except ValueError as error:
        raise InputError(f"--start {start!r}: {error}") from error
    if moment is None:
        raise InputError(f"--start {start!r}: give the day and time of the return, for example 2026-03-02T10:00.")
    given = answers or next((p for p in (out / FILE, inputs / FILE) if p.exists()), out / FILE)
    if answers is not None and not answers.exists():
        raise InputError(f"{answers}: not there. Leave --answers out to get an empty table.")
    travel_file = plan_file.parent / "travel.json"
    places = read_travel(travel_file).places if travel_file.exists() else {}
    home = way_home(move, plan, read_home_answers(given, moment), start=moment, places=places)
    with undisturbed():  # Ctrl-C waits until the tables fit each other
        files = write_folder(home.move, out, inputs=inputs)
        if not (out / FILE).exists():
            header, *rows = question_rows(plan)
            files.append(write_csv(out / FILE, header, rows) if not given.exists() else Path(shutil.copy(given, out / FILE)))
        (out / THINGS_FILE).write_text("\n".join(way_home_lines(home)) + "\n", encoding="utf-8")
    return HomeFolder(home, (*files, out / THINGS_FILE))
