"""Plans of the floors that a way uses, on map and paper: rooms, doors with their width, lifts, and the way's metres."""

from __future__ import annotations

import dataclasses
import datetime as dt
import gzip
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pdfplumber
import pytest
from lxml import html

from rollroute.assembly import Asked, find_itinerary
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.output.folder import write_route_folder
from rollroute.output.itinerary import Itinerary, read_itinerary
from rollroute.output.level_plan import draw_level_plan, plan_title, plan_words
from rollroute.output.link import link_page
from rollroute.output.sheet import write_sheet
from rollroute.output.sheet.sections import floor_section
from rollroute.output.words import Words

TOWN = data_dir() / "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))
EN = Words()


def way(network: Network, start: str, goal: str) -> Itinerary:
    asked = Asked(
        start=start, goal=goal, chair_name=str(TOWN / "demo-chair.toml"), charge="80%", temperature_c=6.0, shelters=TOWN / "shelters.csv"
    )  # fmt: skip
    return find_itinerary(network, asked, now=EVENING)


@pytest.fixture(scope="module")
def indoors(quillhaven: Network) -> Itinerary:
    return way(quillhaven, "Tannery Hall:Meeting room", "North Quay School:Gym")


def test_every_floor_of_the_way_has_a_plan_in_the_order_of_the_way(indoors: Itinerary):
    """From a room upstairs by the lift to the ground, out, into the school, and up the ramp to the gym's half floor."""
    assert [(p.building, p.level) for p in indoors.plans] == [
        ("Tannery Hall", 1.0), ("Tannery Hall", 0.0), ("North Quay School", 0.0), ("North Quay School", 0.5),
    ]  # fmt: skip


def test_doors_on_the_way_carry_the_width_of_the_map(indoors: Itinerary):
    """Meeting room 0.9 m; hall's door 1.0; school's entrance 1.2 and opening 1.4; gym 1.6 (as the town's maker draws them).

    The ramp to the gym belongs to both floors that it joins, so the door at its top stands on both plans.
    """
    widths = [[m.width_m for m in p.marks if m.is_on_way and m.kind == "door"] for p in indoors.plans]
    assert [sorted(w) for w in widths] == [[0.9], [1.0], [1.2, 1.4, 1.6], [1.6]]
    assert any(m.kind == "lift" and m.is_on_way for m in indoors.plans[0].marks)


def test_the_metres_begin_at_the_start_and_end_at_the_goal(indoors: Itinerary):
    """Stretches on the floors lie within the way, in order, and the first and last are its ends."""
    stretches = [ab for p in indoors.plans for ab in p.way_m]
    assert stretches == sorted(stretches)
    assert stretches[0][0] == pytest.approx(0.0, abs=0.5)
    assert stretches[-1][1] == pytest.approx(indoors.length_m, abs=0.5)


def test_a_way_outdoors_has_no_plan(quillhaven: Network):
    """Nothing is drawn of buildings that the way does not enter."""
    assert way(quillhaven, "11 Larkmount Road", "25 Ash Terrace").plans == []


def test_a_plan_is_a_drawing_with_words(indoors: Itinerary):
    """The SVG parses, holds the figures of the doors on the way, and its words name the rooms."""
    for plan in indoors.plans:
        svg, alt = draw_level_plan(plan, EN, width_pt=480.0, most_height_pt=200.0)
        ET.fromstring(svg)
        assert alt == plan_words(plan, EN)
        assert all(name in alt for _, name, _ in plan.rooms if name)


def test_a_hostile_room_name_stays_a_name(indoors: Itinerary, tmp_path: Path):
    """Names come from a map that anybody can edit."""
    bad = '</script><img src=x onerror=alert(1)>"&'
    plan = indoors.plans[0]
    rooms = [(kind, bad, ring) for kind, _, ring in plan.rooms]
    hostile = dataclasses.replace(indoors, plans=[dataclasses.replace(plan, rooms=rooms), *indoors.plans[1:]])
    ET.fromstring(draw_level_plan(hostile.plans[0], EN, width_pt=480.0, most_height_pt=200.0)[0])
    write_route_folder(hostile, tmp_path / "way", EN)
    assert "<img src=x" not in (tmp_path / "way" / "route.html").read_text(encoding="utf-8")


def test_plans_come_back_from_the_file_and_stand_on_map_and_paper(indoors: Itinerary, tmp_path: Path):
    """What is written is read back equal; the map offers each floor; the sheet names each."""
    write_route_folder(indoors, tmp_path / "way", EN)
    assert read_itinerary(tmp_path / "way").plans == indoors.plans
    assert json.loads((tmp_path / "way" / "route.json").read_text(encoding="utf-8"))
    page = (tmp_path / "way" / "route.html").read_text(encoding="utf-8")
    assert len(re.findall(r'value="plan:\d"', page)) == len(indoors.plans)
    write_sheet(indoors, tmp_path / "sheet.pdf", words=EN)
    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        text = " ".join((p.extract_text() or "").replace("\n", " ") for p in pdf.pages)
    assert text.count("Plan, north up:") == len(indoors.plans)


def test_on_paper_every_floor_is_as_wide_as_its_column(indoors: Itinerary, tmp_path: Path):
    """The sheet runs in two columns: no plan is wider than the one it stands in; its words stay under its drawing, at 12 pt."""
    write_sheet(indoors, tmp_path / "four.pdf", words=EN)
    begins, sizes = [], set()
    with pdfplumber.open(tmp_path / "four.pdf") as pdf:
        for number, page in enumerate(pdf.pages):
            for found in page.search("Plan, north up:"):
                begins.append((number, found["x0"] > page.width / 2, found["top"]))
                sizes |= {round(letter["size"], 1) for letter in found["chars"]}

    assert len(begins) == len(indoors.plans) == 4
    assert sizes == {12.0}
    widths = {block["width"] for block in floor_section(indoors, EN, width_pt=250.0) if block["kind"] == "figure"}
    assert widths == {250.0}


def test_the_link_draws_every_floor_with_its_words_and_stays_small(indoors: Itinerary):
    """A dispatcher's page holds the plans of the paper, named for who can't see them; 600 kB and 220 kB gzipped are the bars."""
    text = link_page(indoors, EN)
    figures = html.fromstring(text).xpath("//figure[*[local-name()='svg'][@role='img']]")

    assert [f.xpath("string(*[local-name()='svg']/@aria-label)") for f in figures] == [plan_title(p, EN) for p in indoors.plans]
    assert [f.xpath("string(figcaption)") for f in figures] == [plan_words(p, EN) for p in indoors.plans]
    assert len(text.encode()) < 600_000
    assert len(gzip.compress(text.encode())) < 220_000
    assert "<figure>" not in link_page(dataclasses.replace(indoors, plans=[]), EN)


def test_names_of_buildings_and_rooms_never_become_markup_in_the_link(indoors: Itinerary):
    rooms = [(1.0, "<b>&", ring) for *_, ring in indoors.plans[0].rooms]
    plan = dataclasses.replace(indoors.plans[0], building='"><script>x</script>', rooms=rooms)
    text = link_page(dataclasses.replace(indoors, plans=[plan]), EN)

    assert "<script>x" not in text
    assert "<b>&" not in text
