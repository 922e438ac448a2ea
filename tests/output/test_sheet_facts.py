"""The sheet against the itinerary: every thing that the issue asks of it stands on the page with its own figure.

Text is taken from the PDF by pdfplumber; figures are worked out here from the itinerary, by means of their own.
"""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path
from typing import Any

import mgrs
import pytest
from sample_itinerary import sample

from rollroute.output.itinerary import Itinerary
from rollroute.output.sheet import write_sheet
from rollroute.output.words import Words

LINK, PHONE = "https://example.org/s/AbC-123_xyz", "555 0100"


def squeezed(text: str) -> str:
    """Without spaces and the signs that let a line break."""
    return re.sub(r"[\s\u200b]+", "", text)


def printed(itinerary: Itinerary, path: Path, **more: object) -> str:
    import pdfplumber

    write_sheet(itinerary, path, words=Words(), link=LINK, phone=PHONE, rest_minutes=30.0, **more)  # type: ignore[arg-type]
    with pdfplumber.open(path) as document:
        return squeezed("".join(c["text"] for page in document.pages for c in page.chars))


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    return printed(sample(), tmp_path_factory.mktemp("facts") / "s.pdf")


def says(text: str, *sentences: str) -> bool:
    missing = [s for s in sentences if squeezed(s) not in text]
    assert missing == []
    return True


def metres(at_m: float) -> str:
    """As the rules of the look say: whole metres under 30, fives above."""
    return f"{round(at_m)} m" if at_m < 30 else f"{5 * round(at_m / 5)} m"


def test_the_rider_s_yes(text: str):
    """Asked, agreed, and the rider's own limits, with room to write."""
    assert says(text, "asked", "agreed", "agreed with changes", "said no: stop here", "Rider's name", "Rider's own limits")


def test_who_goes_where_and_when_to_leave(text: str):
    """Start, goal, date, time, arrival in both cases, the chair, and the grid reference of both ends by the mgrs package."""
    route, grid = sample(), mgrs.MGRS()
    for spot in (route.start, route.goal):
        assert says(text, spot.label, grid.toMGRS(spot.lat, spot.lon, MGRSPrecision=4)[5:])
    assert says(text, f"Grid {grid.toMGRS(route.start.lat, route.start.lon, MGRSPrecision=0)}: start")
    assert says(text, "Leave 2026-03-14 at 18:20", "arrive 20:20 expected, 20:40 planned", "66 cm wide", "235 kg with rider and bags")


def test_cautions_of_this_trip(text: str):
    """Every hazard by name and time; wet: the joystick is covered before leaving; dark: light and bright clothes."""
    assert says(text, "River flood: closed from 20:00", "Fallen trees: keep watch", "Cover the joystick and controls before leaving")
    assert says(text, "wear something bright", "Turn back at any water on the way")


def test_dry_weather_still_tells_to_cover_the_joystick_in_rain(tmp_path: Path):
    """Water stops joysticks and controllers: said on every sheet."""
    route = sample()
    dry = dataclasses.replace(route, conditions=dataclasses.replace(route.conditions, is_wet=False))

    assert says(printed(dry, tmp_path / "s.pdf"), "Cover the joystick and controls if rain starts: water stops or moves the chair.")


def test_the_overview_has_north_scale_and_grid(text: str):
    """North arrow, a bar of a round length, and the square of the grid lines."""
    square = mgrs.MGRS().toMGRS(sample().start.lat, sample().start.lon, MGRSPrecision=0)

    assert says(text, "Overview", f"US National Grid, {square[:3]} {square[3:5]}", "START", "GOAL")
    assert re.search(r"(100|200|500)m", text)


def test_every_point_of_the_way_stands_at_its_metre(text: str):
    """Each kerb, bollard, gate, door, lift, ramp, narrow place: its metre, and its height or width or the words that nobody knows."""
    for point in sample().points:
        where = squeezed(metres(point.at_m))
        assert where in text
        if point.question is not None:
            assert f"◇{point.question}" in text
        elif point.value:
            size = f"{round(point.value * 100)} cm" if point.value < 1 else f"{point.value:.1f} m"
            assert squeezed(size) in text


def test_crossing_seconds_at_this_chair_s_pace(text: str):
    """By hand: 1.0 m/s, planned 1.2 times slower, so 8 m take 9.6 s, 10 m 12 s, 12 m 14.4 s, 6 m 7.2 s, rounded up."""
    for seconds in (10, 12, 15, 8):
        assert says(text, f"crossing takes {seconds} s at this chair's pace")


def test_charging_stops_with_charge_minutes_and_outlet(text: str):
    """Arrive and leave with time and planned charge, minutes of charging and of setting up, outlet, charger, and the cautions."""
    halt = sample().halts[0]
    assert says(text, "Arrive 18:40", "Leave 20:15", "1 h 30 min charging, 5 min to set up", "2 outlets, 15 A circuit, generator")
    for soc in (halt.arrive_soc.planned, halt.leave_soc.planned):
        assert says(text, f"{math.ceil(soc * 5)} of 5 bars, about {round(soc * 100)} % planned")
    assert says(
        text, "Dry place, dry hands: wet mains can kill", "Generator outdoors, away from windows", "Lead battery: air it, no flames"
    )


def test_charge_at_start_and_goal_in_both_cases(text: str):
    """The gauge's own units first, then the share; expected beside it; the reserve."""
    route = sample()
    for soc in (route.soc_start, route.soc_goal):
        assert says(text, f"about {round(soc.planned * 100)} % planned; {round(soc.expected * 100)} % expected")
    assert says(text, "Dashed: the reserve, 20 %.")


def test_checkpoints_at_their_metres(text: str):
    """Each at its metre, in bars, with the place to turn back to."""
    for check in sample().checkpoints:
        assert says(
            text, f"At {metres(check.at_m)}: still at", f"turn back to {check.turn_back_to} now ({metres(check.turn_back_m or 0.0)})"
        )
    assert "of5bars?" in text


def test_rest_at_the_interval_asked_for(text: str):
    """In the wording of the contract, and never called level."""
    assert says(text, "The rider asked for a rest every 30 min.", "Possibly level: look before touching the levers.")


def test_where_the_drive_must_not_be_disengaged(text: str):
    """Every piece of 5 % or more lies in a slope that the sections list, none steeper than told; pieces without a grade are named."""
    section = text[text.index(squeezed("Keep the drive engaged")) : text.index(squeezed("If the chair stops"))]
    listed = [(float(a), float(b), float(grade)) for a, b, grade in re.findall(r"(\d+)–(\d+)m\((\d+)%\)", section)]
    for piece in sample().pieces:
        if piece.grade is not None and abs(piece.grade) >= 0.05 and piece.way_kind != "elevator":
            told = [grade for a, b, grade in listed if a - 3 <= piece.from_m and piece.to_m <= b + 3]
            assert max(told, default=0.0) >= abs(piece.grade) * 100 - 0.5, piece.from_m
    assert squeezed("Slope not known: 0–6 m") in section
    assert squeezed("Never disengage the drive on a slope") in section


def test_where_the_helper_walks(text: str):
    """Under 1.5 m, camber over 1:48, and every descent of 5 % or more has its place; never downhill of the chair."""
    section = text[text.index(squeezed("Slopes, and where the helper walks")) : text.index(squeezed("If the chair stops"))]
    stretches = [(float(a), float(b)) for a, b in re.findall(r"(\d+)–(\d+)m", section)]
    for piece in sample().pieces:
        narrow = piece.width_m is not None and piece.width_m < 1.5
        tilted = piece.cross_slope is not None and abs(piece.cross_slope) > 1 / 48
        descends = piece.grade is not None and piece.grade <= -0.05
        if narrow or tilted or descends:
            assert any(a - 3 <= piece.from_m and piece.to_m <= b + 3 for a, b in stretches), piece.from_m
    assert squeezed("Never stand downhill of it.") in section


def test_what_to_do_if_the_chair_stops(text: str):
    """Error code, joystick dead or wet, attendant control, both levers, power off and on, who pushes, and where a van can stop."""
    assert says(
        text,
        "Error code or count of flashes",
        "Joystick wet",
        "Joystick dead",
        "attendant control",
        "Both levers fully in drive",
        "Power off",
    )
    theta = math.atan(0.08)  # the steepest piece of the sample
    flat, slope = 235 * 9.80665 * 0.015, 235 * 9.80665 * (0.015 * math.cos(theta) + math.sin(theta))
    assert says(text, f"flat hard ground: {round(flat)} N, 2 people", f"(8 %): {round(slope)} N, {max(math.ceil(slope / 150), 2)} people")
    for spot in sample().van_spots:
        assert says(text, spot.label, mgrs.MGRS().toMGRS(spot.lat, spot.lon, MGRSPrecision=4)[5:])


def test_what_to_do_if_something_else_goes_wrong(text: str):
    """Battery low, way blocked, unwell; every refuge with its metre, so that one is seen back and one forward; the number to call."""
    assert says(text, "Battery low", "Way blocked", "Rider unwell", f"Call {PHONE}.", "K7 B12", "K7 H for help")
    at = [text.index(squeezed(f"{s.label}: leave the way at {metres(s.at_m or 0.0)}")) for s in sample().refuges]
    assert at == sorted(at)
    for spot in sample().refuges:
        assert says(text, mgrs.MGRS().toMGRS(spot.lat, spot.lon, MGRSPrecision=4)[5:])


def test_without_a_number_there_is_room_for_one(tmp_path: Path):
    """A sheet printed in a hurry still gets a number by hand."""
    import pdfplumber

    write_sheet(sample(), tmp_path / "s.pdf", words=Words())
    with pdfplumber.open(tmp_path / "s.pdf") as document:
        text = squeezed("".join(page.extract_text() for page in document.pages))

    assert says(text, "Coordinator's number: ____")


def test_every_question_has_its_number_its_place_and_a_line(tmp_path: Path):
    """As many lines to write on as questions, each beside its question: counted from the drawn lines of the page."""
    import pdfplumber

    route, path = sample(), tmp_path / "s.pdf"
    text = printed(route, path)
    section = text[text.index(squeezed("Not verified: what did you find?")) :]
    for q in route.questions:
        assert f"◇{q.number}" in section
        assert squeezed(metres(q.at_m).removesuffix(" m")) in section
    with pdfplumber.open(path) as document:
        lines = [(page.page_number, one) for page in document.pages for one in [*page.lines, *page.rects] if one["height"] < 12]
        words = [(read_at(page, w), page.page_number, w) for page in document.pages for w in page.extract_words()]
    start = next(at for at, _, w in words if w["text"] == "found,")
    asked = [(n, w) for at, n, w in words if w["text"].startswith("◇") and at > start]
    assert len(asked) == len(route.questions)
    for n, w in asked:
        beside = [one for m, one in lines if m == n and abs(one["bottom"] - w["bottom"]) < 6 and one["x0"] > w["x0"] and one["width"] > 20]
        assert beside, w["text"]


def read_at(page: Any, word: dict[str, Any]) -> tuple[int, bool, float]:
    """Where a word stands in the order of reading: page, column, height."""
    return page.page_number, word["x0"] > page.width / 2, word["top"]


def test_sources_dates_and_limits_of_trust(text: str):
    """Whose map, of which day, made when, and what a plan is worth."""
    assert says(text, *sample().sources, "Map data of 2026-03-01; made 2026-03-14.", "This is a plan made from a map, not a promise")


def test_nothing_promises(text: str):
    """Never the words safe, level or clear without what they rest on."""
    rest = text.replace(squeezed("Possibly level: look before touching the levers"), "")

    assert not re.search(r"safe|clear", rest, re.IGNORECASE)
    assert "level" not in rest


def test_a_kerb_of_each_rank_says_where_it_comes_from(tmp_path: Path):
    """The rank travels to the printed page: rider's word, measured, survey, map, guessed."""
    route = sample()
    ranks = ["rider", "measured", "survey", "tag_number", "inferred"]
    kerbs = [
        dataclasses.replace(route.points[0], value=0.01 * n, rank=rank, at_m=route.points[0].at_m + n)
        for n, rank in enumerate(ranks, start=1)
    ]
    text = printed(dataclasses.replace(route, points=kerbs), tmp_path / "s.pdf")

    for n, word in enumerate(("the rider's word", "measured", "survey", "map", "guessed"), start=1):
        assert says(text, f"{n} cm high ({word})")
