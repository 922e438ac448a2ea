"""The main job on the bundled invented town: two riders, two ways, all papers."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rollroute.assembly import Asked, build_from_files, find_itinerary
from rollroute.inputs.tables import data_dir
from rollroute.output.folder import make_folder, write_route_folder
from rollroute.output.itinerary import Itinerary
from rollroute.output.words import Words

TOWN = "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One invented trip of the demo."""

    folder: str
    what: str
    start: str
    goal: str
    charge: str


STORIES = (
    Story(
        folder="over-the-river",
        what="From a house on the hill to a school over the river, before the low road floods",
        start="11 Larkmount Road",
        goal="North Quay School",
        charge="4 of 5 bars",
    ),
    Story(
        folder="with-a-charge",
        what="Right across town on less than half a charge: it has to be topped up on the way",
        start="Ferrow Library",
        goal="Ropewalk Sports Hall",
        charge="45%",
    ),
)


def run_demo(out: Path, words: Words) -> Iterator[str]:
    """Build the town, find both ways, and write maps, sheets, links and messages to ``out``; yields what to tell the user.

    The figures are those of the invented town; nothing in it is real.
    """
    from rollroute.output.text import summary_lines

    begin = time.perf_counter()
    town = data_dir() / TOWN
    make_folder(out)
    network = build_from_files(town / "town.osm.pbf", [town / "heights.tif"], addresses=town / "address_points.csv")
    network.save(out / "town.net")
    yield f"Quillhaven (invented): {network.n_pieces} pieces of way, {network.pieces.length_m.sum() / 1000:.0f} km"
    for story in STORIES:
        asked = Asked(
            start=story.start,
            goal=story.goal,
            chair_name=str(town / "demo-chair.toml"),
            charge=story.charge,
            temperature_c=6.0,
            shelters=town / "shelters.csv",
            hazards=town / "hazards.geojson",
        )
        itinerary = find_itinerary(network, asked, now=EVENING)
        folder = out / story.folder
        write_route_folder(itinerary, folder, words)
        _papers(itinerary, folder, words)
        yield ""
        yield f"{story.what}."
        yield from summary_lines(itinerary, words)
        yield f"Open {folder / 'route.html'}, print {folder / 'sheet.pdf'}, send {folder / 'link.html'}."
    yield ""
    yield f"Done in {time.perf_counter() - begin:.1f} s."


def _papers(itinerary: Itinerary, folder: Path, words: Words) -> None:
    from rollroute.output.link import write_link
    from rollroute.output.sheet import write_sheet
    from rollroute.output.sms import messages

    def paper(shown: Itinerary, path: Path) -> None:
        write_sheet(shown, path, words=words)

    write_sheet(itinerary, folder / "sheet.pdf", words=words, rest_minutes=30)
    write_link(itinerary, folder / "link.html", words=words, sheet=paper)
    (folder / "messages.txt").write_text("\n".join(messages(itinerary, words)) + "\n", encoding="utf-8")
