"""The papers of whoever rolls: route files, sheet, link with its twins, and messages, in a folder of their own."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

from rollroute.output.folder import write_route_folder
from rollroute.output.itinerary import Itinerary
from rollroute.output.move.facts import MoveFacts, file_stems
from rollroute.output.move.rolls import Progress


def write_rider_papers(
    facts: MoveFacts, routes: Mapping[str, Itinerary], folder: Path, paper: str, progress: Progress | None = None
) -> list[Path]:
    """Write ``<rider>/`` for each route; nothing in it says more of the rider than their id on the folder."""
    from rollroute.output.link import write_link
    from rollroute.output.sheet import write_sheet
    from rollroute.output.sms import messages

    words, made = facts.words, []
    stems = file_stems([r.id for r in facts.plan.riders])

    for rider, route in routes.items():
        if progress is not None:
            progress(f"papers of {rider}")
        own = folder / stems[rider]
        made += write_route_folder(route, own, words)
        write_sheet(route, own / "sheet.pdf", words=words, paper=paper)
        made += [own / "sheet.pdf", *write_link(route, own / "link.html", words=words)]
        shutil.copyfile(own / "sheet.pdf", own / "link.pdf")  # the link's twin on paper shows the same way: from the door
        made.append(own / "link.pdf")
        (own / "messages.txt").write_text("\n".join(messages(route, words)) + "\n", encoding="utf-8")
        made.append(own / "messages.txt")
    return made
