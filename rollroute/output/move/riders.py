"""The papers of whoever rolls: route files, sheet, link with its twins, and messages, in a folder of their own."""

from __future__ import annotations

import shutil
from pathlib import Path

from rollroute.output.folder import write_route_folder
from rollroute.output.itinerary import Itinerary
from rollroute.output.move.facts import MoveFacts, file_stems


def write_papers_of(facts: MoveFacts, rider: str, route: Itinerary, folder: Path, paper: str) -> list[Path]:
    """Write ``<rider>/`` for a route; nothing in it says more of the rider than their id on the folder."""
    from rollroute.output.link import write_link
    from rollroute.output.sheet import write_sheet
    from rollroute.output.sms import messages

    words, own = facts.words, folder / file_stems([r.id for r in facts.plan.riders])[rider]
    made = write_route_folder(route, own, words)
    write_sheet(route, own / "sheet.pdf", words=words, paper=paper)
    made += [own / "sheet.pdf", *write_link(route, own / "link.html", words=words)]
    shutil.copyfile(own / "sheet.pdf", own / "link.pdf")  # the link's twin on paper shows the same way: from the door
    (own / "messages.txt").write_text("\n".join(messages(route, words)) + "\n", encoding="utf-8")
    return [*made, own / "link.pdf", own / "messages.txt"]
