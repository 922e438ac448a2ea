"""Sheets for a van's driver and for a charging stop."""

from __future__ import annotations

import re
from pathlib import Path

import pikepdf
import pytest

from rollroute.output.move.planner_words import tell
from rollroute.output.plain_text import LONGEST
from rollroute.output.sheet import StopSheet, VanSheet, VanStop, write_stop_sheet, write_van_sheet
from rollroute.output.words import Words
from rollroute.planning.things import BAG, CHAIR, CHARGER_THERE, SLING, SLING_IF_USED, THE_REST

MADE = "2026-03-14T16:05:00-03:00"


def squeezed_text(pdf: Path) -> str:
    import pdfplumber

    with pdfplumber.open(pdf) as document:
        return re.sub(r"\s+", "", "".join(c["text"] for page in document.pages for c in page.chars))


def van_stop(**more: object) -> VanStop:
    known: dict[str, object] = {
        "place": "Bridge Street, bus bay", "lon": -37.2944, "lat": 45.2015, "arrive": "2026-03-14T18:40:00-03:00",
        "leave": "2026-03-14T18:50:00-03:00", "action": "load", "riders": ["K7", "B2", "C3"], "positions": ["1", "2 and 3"],
        "chair_mass_kg": [235.0, 320.0, None], "zone_note": "kerb side, 3.1 m high",
    }  # fmt: skip
    return VanStop(**{**known, **more})  # type: ignore[arg-type]


def test_a_drivers_sheet_sets_mass_against_the_lift(tmp_path: Path):
    """By hand: 235 kg is within 300 kg, 320 kg is over it, and an unknown mass never counts as within."""
    van = VanSheet(code="V1", vehicle="van with rear lift", lift_rating_kg=300.0, made_at=MADE, stops=[van_stop()])
    write_van_sheet(van, tmp_path / "v.pdf", words=Words())
    text = squeezed_text(tmp_path / "v.pdf")

    assert "K71235kgwithintherating" in text
    assert "B22and3320kgOVERTHERATING:donotlift" in text
    assert "C3notknownnotknownnotknown:weighoraskbeforelifting" in text
    assert "kerbside,3.1mhigh" in text


def test_an_unknown_lift_rating_is_never_enough(tmp_path: Path):
    """Missing is never the best case."""
    van = VanSheet(code="V1", vehicle="van", lift_rating_kg=None, made_at=MADE, stops=[van_stop(chair_mass_kg=[100.0, 100.0, 100.0])])
    write_van_sheet(van, tmp_path / "v.pdf", words=Words())

    assert "withintherating" not in squeezed_text(tmp_path / "v.pdf")


def test_a_charging_stops_sheet_lists_who_when_and_where(tmp_path: Path):
    """The host of a stop knows neither chairs nor riders: codes, times, outlet, charger, and the cautions."""
    rows = [("K7", "2026-03-14T18:40:00-03:00", "2026-03-14T20:15:00-03:00", "2", "with the rider", "")]
    stop = StopSheet(
        code="L1",
        place="Old Station Library",
        lon=-37.29,
        lat=45.2035,
        made_at=MADE,
        outlets="2 on one 15 A circuit",
        has_mains=False,
        rows=rows,
    )
    write_stop_sheet(stop, tmp_path / "s.pdf", words=Words(clock="12"))
    text = squeezed_text(tmp_path / "s.pdf")

    assert "K76:40pm8:15pm2withtherider" in text
    assert "nomains:generatororbatteryonly" in text
    assert "wetmainscankill" in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_these_sheets_are_tagged_too(tmp_path: Path, paper: str):
    """Drivers and hosts may be readers of tags as well."""
    van = VanSheet(code="V1", vehicle="河 van", lift_rating_kg=300.0, made_at=MADE, stops=[van_stop(), van_stop(action="unload")])
    write_van_sheet(van, tmp_path / "v.pdf", words=Words(language="es"), paper=paper)
    with pikepdf.open(tmp_path / "v.pdf") as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert str(pdf.Root.Lang).startswith("es")


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_must_come_along_is_never_cut_off(tmp_path: Path, language: str):
    """The longest list of things to ask for at a door stands whole: its last words name what devices run on."""
    words = Words(language)
    things = dict.fromkeys((CHAIR, *CHARGER_THERE.values(), SLING_IF_USED, SLING, BAG, *THE_REST))
    note = words.say("Ask at the door for: {things}.", things="; ".join(tell(words, t) for t in things))
    assert len(note) > LONGEST
    van = VanSheet(code="V1", vehicle="van", lift_rating_kg=None, made_at=MADE, stops=[van_stop()], notes=[note])
    write_van_sheet(van, tmp_path / "v.pdf", words=words)

    assert re.sub(r"\s+", "", note) in squeezed_text(tmp_path / "v.pdf")
