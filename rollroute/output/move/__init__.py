"""The papers of a planned move, in one folder: the coordinator's page, map, tables, and a sheet for everybody who goes.

``write_move_folder(plan, move, travel, out, *, finder=None, calls=(), words=None, options=None, progress=None, beside=None)`` writes

- ``index.html``: the coordinator's page: who can't be served first, alerts and calls, time line, tables, links to everything else;
- ``move-map.html``: everything on one offline map;
- ``plan.xlsx`` and ``manifests/*.csv``: the same rows for spreadsheets, a sheet per van and per shelter;
- ``plan.gpkg``: layers ``riders``, ``shelters``, ``routes``, ``zones``, ``tours``;
- ``vans/*.pdf``, ``shelters/*.pdf``, ``escorts/*.pdf``: a sheet for each driver, each shelter's outlets, and everybody who walks along;
- ``vans/*.txt``, ``escorts/*.txt``: the same jobs as numbered text messages, fit to be read on a radio;
- ``riders/<id>/``: for whoever rolls: route files, ``sheet.pdf``, ``link.html`` with its twins, ``messages.txt``.

``finder`` is ``NetworkTravel(...).finder`` after ``estimate``: without it nobody's roll can be drawn, which the page then says.
``plan.json`` and ``travel.json`` are the planner's own; what lies in the folder ``beside`` is put in place together with the papers.
Everything is made beside ``out`` before the first file is put in place, which Ctrl-C does not cut in two; papers of an earlier plan that
no longer hold are taken away. The same plan, move and options give the same bytes, on however many processes.

Who reads what: ``index.html`` is the coordinator's and says by id who depends on power and until when. No other file does; none
names a device, an illness or a need. Latest times stand everywhere without their reason.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rollroute.output.words import Words

if TYPE_CHECKING:
    from rollroute.inputs.move_folder import Move
    from rollroute.output.move.facts import MoveFacts
    from rollroute.planning.calls import Call
    from rollroute.planning.plan import Plan
    from rollroute.planning.roll_ways import RollFinder
    from rollroute.planning.travel import TravelTable

PAGE = "index.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperOptions:
    """``paper``: ``a4`` or ``letter``; ``made_at``: ISO 8601 stamp, the start of the move where not given.

    ``processes``: at most so many for the papers of riders. More than one asks for a program whose main module can be imported
    (``if __name__ == "__main__"``), as Python's ``multiprocessing`` says.
    """

    paper: str = "a4"
    made_at: str | None = None
    processes: int = 1


def write_move_folder(
    plan: Plan,
    move: Move,
    travel: TravelTable,
    out: Path,
    *,
    finder: RollFinder | None = None,
    calls: Sequence[Call] = (),
    words: Words | None = None,
    options: PaperOptions | None = None,
    progress: Callable[[str], None] | None = None,
    beside: Path | None = None,
) -> list[Path]:
    """Write all papers of ``plan`` to the folder ``out`` and return where they are (see the module).

    Parameters
    ----------
    finder
        Makes the ways of whoever rolls again, and holds the network that maps are drawn from.
    calls
        Open questions in their order (``rollroute.planning.calls.call_list``).
    progress
        Told in a few words what is being written.
    beside
        A folder of files that are put in place with the papers and are none of them.

    Raises
    ------
    InputError
        If ``out`` can't be made, or the paper's size is not known.
    """
    from rollroute.output.move.facts import gather
    from rollroute.output.move.shelf import put_papers_in_place
    from rollroute.output.sheet.press import check_paper

    options = options or PaperOptions()
    check_paper(options.paper)
    facts = gather(plan, move, travel, words=words or Words(), calls=calls, made_at=options.made_at)
    with tempfile.TemporaryDirectory() as made:
        _write_all(facts, finder, Path(made), options, progress or _quiet)
        return put_papers_in_place(Path(made), out, last=PAGE, beside=beside)


def _quiet(_: str) -> None:
    """Say nothing."""


def _write_all(facts: MoveFacts, finder: RollFinder | None, work: Path, options: PaperOptions, progress: Callable[[str], None]) -> None:
    from rollroute.output.move.book import write_book
    from rollroute.output.move.escort_sheets import write_escort_sheets
    from rollroute.output.move.layers import write_layers
    from rollroute.output.move.live import write_move_map
    from rollroute.output.move.manifests import write_manifests
    from rollroute.output.move.page import write_page
    from rollroute.output.move.radio import write_radio
    from rollroute.output.move.rolls import make_rolls
    from rollroute.output.move.scene import set_move_scene
    from rollroute.output.move.sheets import write_shelter_sheets, write_van_sheets
    from rollroute.output.move.still import still_css, still_map
    from rollroute.output.move.town import extent, ground_of, tour_legs

    paper = options.paper
    rolls = make_rolls(facts, finder, work / "riders", paper, processes=options.processes, progress=progress)
    facts = facts.with_halts(rolls.routes)
    legs = tour_legs(facts, finder.network if finder else None)
    progress("sheets of vans, shelters and escorts")
    write_van_sheets(facts, work / "vans", paper)
    write_shelter_sheets(facts, work / "shelters", paper)
    write_escort_sheets(facts, rolls.routes, work / "escorts", paper)
    write_radio(facts, work)
    progress("tables")
    write_book(facts, work / "plan.xlsx")
    write_manifests(facts, work / "manifests")
    write_layers(facts, rolls.routes, legs, work / "plan.gpkg")
    progress("page and map")
    bounds = extent(facts, list(rolls.routes.values()), legs)
    if bounds is None:
        write_page(facts, rolls, work / PAGE)
        return
    scene = set_move_scene(facts, rolls.routes, legs, ground_of(finder.network if finder else None, bounds), bounds)
    picture, css = still_map(scene, facts.words), still_css(scene)
    write_page(facts, rolls, work / PAGE, drawing=picture, drawing_css=css)
    write_move_map(facts, scene, work / "move-map.html", picture=picture, picture_css=css)
