"""An auditor of the papers: it reads only the files, and counts. CSV, workbook, GeoPackage, page and plan must tell one evening."""

from __future__ import annotations

import csv
import datetime as dt
import json
import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pyogrio
import pytest
from lxml import html
from move_papers import Papers

Row = dict[str, str]


def rows_of(path: Path) -> list[Row]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def moment(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


class Files:
    """A folder of papers as somebody finds it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.plan: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        self.riders = rows_of(folder / "manifests" / "riders.csv")
        self.outlets = rows_of(folder / "manifests" / "outlets.csv")
        self.escorts = rows_of(folder / "manifests" / "escorts.csv")
        self.vans = {p.stem: rows_of(p) for p in sorted((folder / "manifests").glob("van-*.csv"))}
        self.shelters = {p.stem: rows_of(p) for p in sorted((folder / "manifests").glob("shelter-*.csv"))}

    def layer(self, name: str) -> Any:
        return pyogrio.read_dataframe(self.folder / "plan.gpkg", layer=name)

    def stays(self) -> Iterator[tuple[str, set[str], str, dt.datetime, dt.datetime]]:
        """Each stay aboard: rider, positions, van, from the end of loading to the start of unloading."""
        for van, rows in self.vans.items():
            for row in (r for r in rows if r["kind"] == "load"):
                out = next(r for r in rows if r["kind"] == "unload" and r["rider"] == row["rider"])
                yield row["rider"], set(row["positions"].split()), van, moment(row["start"]), moment(out["end"])


@pytest.fixture(params=["small", "town"])
def files(request: pytest.FixtureRequest) -> Files:
    papers: Papers = request.getfixturevalue(request.param)
    return Files(papers.folder)


def test_every_rider_is_in_every_list_once(files: Files):
    """Plan, CSV, workbook and GeoPackage know the same riders with the same status."""
    plan = [(r["id"], r["status"]) for r in files.plan["riders"]]
    sheet = list(openpyxl.load_workbook(files.folder / "plan.xlsx")["Riders"].iter_rows(min_row=2, values_only=True))
    layer = files.layer("riders")
    assert [(r["rider"], r["status"]) for r in files.riders] == plan
    assert [(row[0], row[1]) for row in sheet] == plan
    assert list(zip(layer["rider"], layer["status"], strict=True)) == plan


def test_whoever_goes_arrives_at_one_shelter_and_nobody_else_does(files: Files):
    """The shelters' manifests together are the riders who have a way, each once, at the shelter and minute of their own row."""
    arrivals = {row["rider"]: row for rows in files.shelters.values() for row in rows}
    going = {r["rider"]: r for r in files.riders if r["way"]}
    assert Counter(row["rider"] for rows in files.shelters.values() for row in rows) == Counter(list(going))
    for rider, row in going.items():
        assert (arrivals[rider]["shelter"], arrivals[rider]["arrive"]) == (row["shelter"], row["arrive"])


def test_every_ride_is_loaded_once_and_unloaded_once_after(files: Files):
    """By the vans' manifests alone: one load, one unload, in this order, in the van of the rider's row."""
    riding = {r["rider"]: r for r in files.riders if r["way"] in ("van", "apart")}
    events = [(row["rider"], row["kind"]) for rows in files.vans.values() for row in rows]
    assert Counter(events) == Counter((rider, kind) for rider in riding for kind in ("load", "unload"))
    for rider, _, van, loaded, unloaded in files.stays():
        assert loaded < unloaded
        assert re.sub(r"[^a-z0-9]+", "-", riding[rider]["van"].lower()) == van.removeprefix("van-")
        assert moment(riding[rider]["leave"]) <= loaded
        assert unloaded <= moment(riding[rider]["arrive"])


def test_no_position_holds_two_chairs_at_once(files: Files):
    """Two stays that overlap in one van share no position, and every chair has one."""
    stays = list(files.stays())
    for n, (rider, positions, van, start, end) in enumerate(stays):
        assert positions, rider
        for _, other_positions, other_van, other_start, other_end in stays[:n]:
            if van == other_van and start < other_end and other_start < end:
                assert not positions & other_positions


def test_positions_taken_are_those_that_the_plan_counts(files: Files):
    """After each stop, the positions of whoever is aboard by the manifest are as many as the row says."""
    for rows in files.vans.values():
        aboard: dict[str, int] = {}
        for row, following in pairwise([*rows, {"stop": "end"}]):
            if row["kind"] == "load":
                aboard[row["rider"]] = len(row["positions"].split())
            else:
                del aboard[row["rider"]]
            if row["stop"] != following["stop"]:
                assert sum(aboard.values()) == int(row["aboard"])


def test_no_lift_is_overloaded_and_no_van_is_in_two_places(files: Files):
    """Mass against rating where both are known; arrive, start and end of the stops of a van never go back."""
    for rows in files.vans.values():
        for row in rows:
            if row["mass_kg"] and row["lift_rating_kg"]:
                assert float(row["mass_kg"]) <= float(row["lift_rating_kg"])
        times = [moment(row[name]) for row in rows for name in ("arrive", "start", "end") if row["stop"] != "?"]
        stops = {row["stop"]: [moment(row[name]) for name in ("arrive", "start", "end")] for row in rows}
        assert [t for stop in stops.values() for t in stop] == sorted(t for stop in stops.values() for t in stop)
        assert len(times) == 3 * len(rows)


def test_no_outlet_holds_two_plugs_at_once(files: Files):
    """By the table of outlets alone; and only guests of a shelter are plugged in there, not before they are in."""
    guests = {(row["shelter"], row["rider"]): moment(row["arrive"]) for rows in files.shelters.values() for row in rows}
    by_outlet: dict[tuple[str, str, str], list[Row]] = {}
    for row in files.outlets:
        by_outlet.setdefault((row["shelter"], row["circuit"], row["outlet"]), []).append(row)
        assert guests[row["shelter"], row["rider"]] <= moment(row["start"]) < moment(row["end"])
    for rows in by_outlet.values():
        for a, b in pairwise(sorted(rows, key=lambda r: moment(r["start"]))):
            assert moment(a["end"]) <= moment(b["start"])


def test_escorts_are_with_whoever_names_them(files: Files):
    """Each escort in a rider's row has a job with that rider, and no job overlaps another of the same person."""
    jobs = {(row["escort"], rider) for row in files.escorts for rider in row["riders"].split("; ")}
    named = {(e, r["rider"]) for r in files.riders for e in r["escorts"].split("; ") if e}
    assert jobs == named
    for escort in {row["escort"] for row in files.escorts}:
        own = sorted((moment(r["leave"]), moment(r["back"])) for r in files.escorts if r["escort"] == escort)
        assert all(a[1] <= b[0] for a, b in pairwise(own))


def test_the_layers_hold_what_the_tables_hold(files: Files):
    """Zones by rider and kind with the manifests' coordinates; tours one line per stop; routes one per roll that has papers."""
    zones = files.layer("zones")
    found = {(z.rider, z.kind): (z.geometry.x, z.geometry.y) for z in zones.itertuples()}
    rows = {(r["rider"], r["kind"]): (float(r["lon"]), float(r["lat"])) for rows in files.vans.values() for r in rows}
    assert found == rows
    tours = files.layer("tours")
    stops = [(row["van"], row["stop"]) for rows in files.vans.values() for row in rows]
    assert {(t.van, str(t.leg)) for t in tours.itertuples()} <= set(stops)
    routes = files.layer("routes")
    sheets = {p.parent.name for p in files.folder.glob("riders/*/sheet.pdf")}
    assert {r.lower() for r in routes["rider"]} == sheets
    assert zones.crs.to_epsg() == 4326


def test_the_layers_are_the_five_that_are_promised(files: Files):
    """Also where one is empty: a script need not ask."""
    names = [name for name, _ in pyogrio.list_layers(files.folder / "plan.gpkg")]
    assert names == ["riders", "shelters", "routes", "zones", "tours"]


def test_the_page_shows_each_riders_times(files: Files):
    """The table of riders on the page against the CSV file: shelter, leaving, inside."""
    tree = html.fromstring((files.folder / "index.html").read_text(encoding="utf-8"))
    page = {}
    for row in tree.xpath("//*[@id='riders']//tbody/tr"):
        cells = [" ".join(c.text_content().split()) for c in row]
        page[cells[0]] = (cells[3], cells[4], cells[5])
    assert page == {r["rider"]: (r["shelter"], r["leave"][11:16], r["arrive"][11:16]) for r in files.riders}


def test_a_route_has_the_time_and_goal_of_its_rider(town: Papers):
    """The route file of whoever rolls leaves and arrives when the plan says, to the minute that the plan rounds up to."""
    files = Files(town.folder)
    rolling = [r for r in files.riders if r["way"] == "roll"]
    assert rolling
    for row in rolling:
        route = json.loads((town.folder / "riders" / row["rider"].lower() / "route.json").read_text(encoding="utf-8"))
        planned = dt.timedelta(seconds=route["time_s"]["planned"])
        assert moment(route["conditions"]["departure"]) == moment(row["leave"])
        assert route["goal"]["label"] == row["shelter"]
        assert dt.timedelta(0) <= moment(row["arrive"]) - (moment(row["leave"]) + planned) < dt.timedelta(minutes=1)
