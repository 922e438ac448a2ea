"""Sheets of vans and shelters of a planned move, read back from the PDF."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import pytest
from move_papers import HOSTILE, Papers
from move_worlds import rider
from sample_itinerary import sample

from rollroute.output.move.events import events
from rollroute.output.move.facts import gather, positions_by_stop
from rollroute.output.move.sheets import shelter_sheet, van_sheet, zone_sentences
from rollroute.output.words import Words
from rollroute.planning.plan import Stop, VanPlan
from rollroute.planning.travel import LoadingZone


def text_of(pdf: Path) -> str:
    import pdfplumber

    with pdfplumber.open(pdf) as document:
        return " ".join(" ".join(page.extract_text() or "" for page in document.pages).split())


def test_a_driver_reads_stops_positions_and_mass(small: Papers):
    """By hand: off at 18:40; B is fetched at 7 Alder Row from 18:52, takes position 2, and has no tie-down points."""
    text = text_of(small.folder / "vans" / "v1.pdf")
    assert "Drive off at: 18:40" in text
    assert "Lift rated for: 400 kg" in text
    assert "2. 18:52–19:02: kerb at B, load" in text
    assert "Fetch B: 7 Alder Row" in text
    assert "B: The chair has no tie-down points: offer a seat, never require it; it is no reason to refuse." in text
    assert "Must be there by 20:27." in text
    assert "Ask at the door for: chair with headrest, footrests, cushion and joystick cover; charger and its cable; sling" in text
    assert "Mill Stream: closed from 18:40. Be out of it before." in text


def test_a_shelter_reads_arrivals_and_outlets(small: Papers):
    """Who comes when and how, and where each is plugged in; the kept outlet says not to unplug, never why."""
    text = text_of(small.folder / "shelters" / "east-hall.pdf")
    assert text.index("19:15 A van V1") < text.index("19:20 B van V1") < text.index("19:44 C rolls")
    assert re.search(r"B 19:20 07:00 A 1 .*keep in", text)
    assert "circuit A: 4 outlets, 20 A" in text


def test_whoever_has_not_agreed_is_not_fetched_without_a_call(small: Papers):
    """The rider decides: a driver reads it beside the id."""
    riders = tuple(dataclasses.replace(r, status="undecided") if r.id == "A" else r for r in small.plan.riders)
    facts = gather(dataclasses.replace(small.plan, riders=riders), small.move, small.travel, words=Words())
    notes = van_sheet(facts, facts.used_vans[0]).notes
    assert any(n.startswith("A: ") and "Has not agreed yet: call the coordinator before driving there." in n for n in notes)


def test_a_hostile_name_is_printed(hostile: Papers):
    """The sheets are made and hold the name as text."""
    made = [*hostile.folder.glob("vans/*.pdf"), *hostile.folder.glob("shelters/*.pdf")]
    assert len(made) == 2
    for path in made:
        assert re.sub(r"\s", "", HOSTILE)[:20] in re.sub(r"[\s\u200b]", "", text_of(path))


def test_a_large_chair_takes_the_positions_that_it_blocks(small: Papers):
    """A 130 cm chair is longer than 122 cm: with ``large_chair_blocks`` = 2 it takes both, and the next stop finds them free again."""
    riders = (rider("A", chair_length_cm=130), rider("B", chair_length_cm=110))
    vans = (small.move.vans[0].model_copy(update={"large_chair_blocks": 2}),)
    facts = gather(small.plan, dataclasses.replace(small.move, riders=riders, vans=vans), small.travel, words=Words())
    tour = [stop(k, r, n) for k, r, n in (("load", "A", 2), ("unload", "A", 0), ("load", "B", 1), ("unload", "B", 0))]
    assert positions_by_stop(facts, VanPlan(id="V1", stops=tuple(tour))) == [[(1, 2)], [(1, 2)], [(1,)], [(1,)]]


def test_a_plan_that_does_not_fit_its_van_claims_no_position(small: Papers):
    """Edited by hand: three small chairs in a van for two. The third has none, and nobody is put on another's place."""
    riders = tuple(rider(i, chair_length_cm=110) for i in "ABC")
    facts = gather(small.plan, dataclasses.replace(small.move, riders=riders), small.travel, words=Words())
    van = VanPlan(id="V1", stops=tuple(stop("load", i, min(n, 2)) for n, i in enumerate("ABC", start=1)))
    assert positions_by_stop(facts, van) == [[(1,)], [(2,)], [()]]


def stop(kind: str, rider_id: str, aboard: int) -> Stop:
    time = "2026-03-01T19:00+01:00"
    return Stop(kind=kind, riders=(rider_id,), place="x", node="A", drive_min=0, arrive=time, start=time, end=time, aboard=aboard)


@pytest.mark.parametrize(
    ("is_level", "said"),
    [(True, "Flatter than 1:48 as far as estimated"), (False, "Steeper than 1:48"), (None, "Slope not known")],
)
def test_a_zone_says_what_is_known_of_its_slope(is_level: bool | None, said: str):
    """ADA 503.4: no steeper than 1:48; what is not known is to be looked at, never a promise."""
    zone = LoadingZone(node="A", label="x", lon=0.0, lat=0.0, roll_min=0.0, is_level=is_level, clearance_cm=300.0, side="left")
    text = " ".join(zone_sentences(zone, Words(), height_cm=None))
    assert said in text
    assert "look" in text
    assert "Height limit 300 cm, this van not known." in text
    assert "The kerb is on the left." in text


def test_us_units_reach_the_sheets(small: Papers):
    """90 cm is 35 in, 145 cm 57 in, the door of 160 cm 63 in (2.54 cm each)."""
    facts = gather(small.plan, small.move, small.travel, words=Words(units="us"))
    assert van_sheet(facts, facts.used_vans[0]).vehicle == "Platform 35 in × 57 in, door 63 in, lift side: rear"


def test_a_guest_without_an_outlet_is_named_to_the_shelter(small: Papers):
    """Nobody is forgotten because the timetable has no row for them."""
    shelters = tuple(dataclasses.replace(s, plugs=tuple(p for p in s.plugs if p.rider != "C")) for s in small.plan.shelters)
    facts = gather(dataclasses.replace(small.plan, shelters=shelters), small.move, small.travel, words=Words())
    assert "C has no outlet in this plan: ask when the gauge was last read." in shelter_sheet(facts, facts.used_shelters[0]).notes


def test_everybody_who_walks_along_has_a_sheet(small: Papers, town: Papers):
    """E1 leaves at 18:40 to meet C at 19:04, is done at 19:44 and back at 20:44 (12 min per km from 5 km off); E2 has no job, no sheet.

    In the town, the sheet of whoever walks a roll names the code of its route.
    """
    assert [p.name for p in (small.folder / "escorts").glob("*.pdf")] == ["e1.pdf"]
    text = text_of(small.folder / "escorts" / "e1.pdf")
    assert "1. 18:40: walk with C to the shelter" in text
    assert "Meet C at 19:04" in text
    assert "Go to: East Hall Done at: 19:44 Back at: 20:44" in text
    job = next((e.id, j) for e in town.plan.escorts for j in e.jobs if j.kind == "roll")
    route = json.loads((town.folder / "riders" / job[1].riders[0].lower() / "route.json").read_text(encoding="utf-8"))
    assert f"on the sheet of route {route['code']}" in text_of(town.folder / "escorts" / f"{job[0].lower()}.pdf")


def test_at_an_unloading_stop_the_driver_reads_who_comes_out_from_where(small: Papers):
    """Stop 3: A from position 1; the mass stood at the stop where A came aboard."""
    text = text_of(small.folder / "vans" / "v1.pdf")
    assert "Out: A from position 1." in text
    assert "Out: B from position 2." in text


def test_every_sheet_of_a_move_is_tagged(town: Papers):
    """The package pdfua checks a part of ISO 14289-1 (no proof of it): nothing found in the sheets of van, shelter and escort."""
    import pdfua

    for folder in ("vans", "shelters", "escorts"):
        sheet = next((town.folder / folder).glob("*.pdf"))
        report = pdfua.validate(str(sheet))
        found = [f for f in report.findings if f.severity in {pdfua.Severity.ERROR, pdfua.Severity.WARNING}]
        assert [f"{f.rule_id}: {f.message}" for f in found] == [], folder


def test_a_shelter_knows_who_charges_there_on_the_way(small: Papers):
    """C's route halts at West Hall, where nobody stays: the shelter has a sheet, an outlet to keep free, and no arrival."""
    halt = dataclasses.replace(sample().halts[0], label="West Hall")
    route = dataclasses.replace(sample(), halts=[halt])
    facts = gather(small.plan, small.move, small.travel, words=Words()).with_halts({"C": route})
    assert [s.name for s in facts.used_shelters] == ["East Hall", "West Hall"]
    sheet = shelter_sheet(facts, facts.used_shelters[1])
    assert sheet.arrivals == []
    assert [(row[0], row[1], row[2]) for row in sheet.rows] == [("C", halt.arrive_time, halt.leave_time)]
    assert sheet.rows[0][5] == "charges on the way, then goes on: keep an outlet free"
    told = [e.what for e in events(facts) if e.who == "C"]
    assert "charges on the way at West Hall" in told
    assert "goes on from West Hall" in told
