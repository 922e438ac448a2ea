"""A move's folder as coordinators keep it: spreadsheets, alerts, areas; what is unknown stays unknown, what is wrong is all listed."""

from __future__ import annotations

import datetime as dt
import json
import math
from pathlib import Path

import openpyxl
import pytest
from pyproj import Geod

from rollroute.errors import InputError
from rollroute.inputs.move_fields import parse_length_cm, parse_life_support, parse_mass_kg, parse_minutes
from rollroute.inputs.move_folder import read_folder, read_move
from rollroute.inputs.tables import data_dir
from rollroute.move_words import reading_lines

TOWN = data_dir() / "quillhaven"

TOML = 'start = "2026-03-14T18:40"\ntimezone = "Etc/GMT+2"\n'
RIDERS = "id,place,charge,consent\nA,1 Mill Road,80%,yes\n"
SHELTERS = "name,lat,lon,accessible_places,opens\nNorth,45.0,-37.0,10,always\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "move.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "riders.csv").write_text(RIDERS, encoding="utf-8")
    (tmp_path / "shelters.csv").write_text(SHELTERS, encoding="utf-8")
    return tmp_path


def test_empty_and_unknown_are_not_known_and_never_zero(folder: Path) -> None:
    """Empty, unknown, ?, n/k, tbc: None in every field, so that the bad side is taken knowingly."""
    (folder / "riders.csv").write_text(
        "id,charge,rider_mass_kg,life_support_min,longest_roll_min,securable,consent\nA,,unknown,?,n/k,tbc,-\n", encoding="utf-8"
    )
    rider = read_move(folder).riders[0]
    assert [rider.charge, rider.rider_mass_kg, rider.life_support_min, rider.longest_roll_min, rider.securable, rider.consent] == [None] * 6


@pytest.mark.parametrize(
    ("text", "kg"), [("180 lb", 180 * 0.45359237), ("82", 82.0), ("82 kg", 82.0), ("82,5", 82.5), ("191 lbs", 191 * 0.45359237)]
)
def test_masses_in_pounds_and_kilograms(text: str, kg: float) -> None:
    """The international avoirdupois pound is 0.45359237 kg exactly."""
    assert parse_mass_kg(text) == pytest.approx(kg)


def test_lengths_and_minutes_as_they_are_said() -> None:
    """Inches are 2.54 cm exactly; one hour and a half may be written in three ways; none is no need, 0 is ambiguous and refused."""
    assert parse_length_cm("48 in") == pytest.approx(121.92)
    assert parse_length_cm('30"') == pytest.approx(76.2)
    assert {parse_minutes(t) for t in ("1.5 h", "1 h 30", "90 min", "90")} == {90.0}
    assert parse_life_support("none") == math.inf
    with pytest.raises(ValueError, match="Write none, or the minutes"):
        parse_life_support("0")


@pytest.mark.parametrize(("encoding", "delimiter"), [("utf-8-sig", ";"), ("cp1252", ";"), ("utf-16", "\t"), ("utf-8", "|")])
def test_tables_as_different_offices_save_them(folder: Path, encoding: str, delimiter: str) -> None:
    """A byte order mark, an old code page, tabs: the same rider with an accent in the street."""
    rows = [["Rider", "Address", "Battery", "Agreed"], ["007", "12 Rue Café", "3 of 5 bars", "x"]]
    (folder / "riders.csv").write_bytes("\r\n".join(delimiter.join(r) for r in rows).encode(encoding))
    rider = read_move(folder).riders[0]
    assert (rider.id, rider.place, rider.charge, rider.consent) == ("007", "12 Rue Café", "3 of 5 bars", "agreed")


def test_a_workbook_with_times_and_numbers_as_cells(folder: Path) -> None:
    """A clock time kept as a time, a mass kept as a number, an id kept as text with leading zeros."""
    (folder / "riders.csv").unlink()
    book = openpyxl.Workbook()
    book.active.append(["Evening of the 14th"])
    book.active.append(["id", "address", "weight (lb)", "latest", "stay with"])
    book.active.append(["01", "1 Mill Road", 180, dt.time(21, 30), None])
    book.save(folder / "riders.xlsx")
    rider = read_move(folder).riders[0]
    assert rider.id == "01"
    assert rider.rider_mass_kg == pytest.approx(81.65, abs=0.01)
    assert rider.latest_arrival is not None
    assert rider.latest_arrival.strftime("%H:%M") == "21:30"


def test_every_bad_cell_is_listed_with_its_place_and_remedy(folder: Path) -> None:
    """Two cells of one row, one id used twice, one shelter's hours, one misspelt setting: five at once, nothing guessed."""
    (folder / "move.toml").write_text(TOML + "[gates]\nlongest_rol_min = 40\n", encoding="utf-8")
    (folder / "riders.csv").write_text("id,rider_mass_kg,consent\nA,heavy,maybe\nB,80,yes\nB,90,yes\n", encoding="utf-8")
    (folder / "shelters.csv").write_text("name,lat,lon,opens\nNorth,45.0,-37.0,soonish\n", encoding="utf-8")
    problems = read_folder(folder).problems
    where = {(p.file, p.row, p.column) for p in problems}
    assert {("riders.csv", 2, "rider_mass_kg"), ("riders.csv", 2, "consent"), ("riders.csv", 3, "id"), ("riders.csv", 4, "id")} <= where
    assert ("shelters.csv", 2, "opens") in where
    assert any(p.file == "move.toml" and "longest_rol_min" in p.column for p in problems)
    assert all(p.message for p in problems)
    with pytest.raises(InputError, match="rider_mass_kg: 'heavy'"):
        read_move(folder)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[file]\nriders = 'r.csv'\n", "move.toml, file: 'a section': unknown name, so it changes nothing. Did you mean files?"),
        ("[files]\nrider = 'r.csv'\n", "move.toml, files.rider: 'r.csv': unknown name, so it changes nothing. Did you mean riders?"),
        ("[files]\nqqq = 'r.csv'\n", "Known here: riders, shelters"),
        ("colour = 'red'\n", "move.toml, colour: 'red': unknown name"),
    ],
)
def test_a_misspelt_name_in_move_toml_is_told_with_what_it_may_mean(folder: Path, text: str, says: str) -> None:
    (folder / "move.toml").write_text(f'start = "2026-03-14T18:40-02:00"\n{text}', encoding="utf-8")

    assert any(says in str(problem) for problem in read_folder(folder).problems)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('strat = "2026-03-14T18:40-02:00"\n', "start is missing. Give start = "),
        ("start = yes\n", r"not TOML \(Invalid value \(at line 1.*Correct the line named"),
        (None, r"can't be read \(No such file"),
    ],
)
def test_a_move_toml_that_cant_be_used_is_told_in_one_line(folder: Path, text: str | None, says: str) -> None:
    file = folder / "move.toml"
    file.unlink() if text is None else file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_move(folder)


def test_riders_without_an_id_are_told_before_their_rows_move(folder: Path) -> None:
    """A row's number names somebody else as soon as the table is sorted between a plan and the next."""
    (folder / "riders.csv").write_text("id,place\nR01,1 Mill Street\n,2 Mill Street\n,3 Mill Street\n", encoding="utf-8")
    reading = read_folder(folder)

    assert reading.called_by_row == {"riders.csv": 2}
    assert [r.id for r in reading.move.riders] == ["R01", "row3", "row4"]
    assert any("riders.csv: 2 rows without an id" in line for line in reading_lines(reading, []))
    assert read_folder(TOWN).called_by_row == {}


def test_a_merged_cell_is_asked_for_in_every_row(folder: Path) -> None:
    """A spreadsheet keeps the value of merged cells in the first; what the others mean is for the coordinator to say."""
    import openpyxl

    book = openpyxl.Workbook()
    for row in (("name", "lat", "lon", "outlets"), ("Hall", 45.2, -37.3, 2), (None, None, None, 4)):
        book.active.append(row)
    book.active.merge_cells("A2:A3")
    book.save(folder / "shelters.xlsx")
    (folder / "move.toml").write_text('start = "2026-03-14T18:40-02:00"\n[files]\nshelters = "shelters.xlsx"\n', encoding="utf-8")
    told = [str(problem) for problem in read_folder(folder).problems]

    assert any("shelters.xlsx, row 3, name: '': is needed in every row; of merged cells only the first row has it" in t for t in told)


def test_a_start_without_a_zone_is_refused(folder: Path) -> None:
    """No clock time of the folder would mean anything."""
    (folder / "move.toml").write_text('start = "2026-03-14T18:40"\n', encoding="utf-8")
    with pytest.raises(InputError, match="no time zone"):
        read_move(folder)


@pytest.mark.parametrize(
    ("zone", "start"),
    [
        ("Europe/Madrid", "2026-03-28T22:00"),  # 2026-03-29 02:00 becomes 03:00 (IANA time zone database)
        ("Europe/Madrid", "2026-03-29T01:30"),
        ("America/New_York", "2026-10-31T20:00"),  # 2026-11-01 02:00 becomes 01:00
        ("America/New_York", "2026-11-01T07:00"),
    ],
)
def test_a_move_over_a_change_of_the_clocks_asks_for_an_offset(folder: Path, zone: str, start: str) -> None:
    """Times of one zone are subtracted as they stand on the wall: an area that closes at 03:30 would have stayed open an hour too long."""
    (folder / "move.toml").write_text(f'start = "{start}"\ntimezone = "{zone}"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"clocks of .* change .*Give start = 2026"):
        read_move(folder)
    (folder / "move.toml").write_text(f'start = "{start}:00+01:00"\ntimezone = "{zone}"\n', encoding="utf-8")
    assert read_move(folder).start.utcoffset() == dt.timedelta(hours=1)


def test_a_move_on_the_days_around_a_change_of_the_clocks_is_read(folder: Path) -> None:
    """Only the nights that need it are refused: 40 h before the change, and 13 h after it."""
    for start in ("2026-03-27T10:00", "2026-03-29T16:00"):
        (folder / "move.toml").write_text(f'start = "{start}"\ntimezone = "Europe/Madrid"\n', encoding="utf-8")
        assert f"{read_move(folder).start:%Y-%m-%dT%H:%M}" == start


def test_an_outline_in_metres_is_refused(folder: Path) -> None:
    """RFC 7946, section 4: degrees only. An area in metres lies nowhere on the map and would close nothing."""
    ring = [[-4151000.0, 5655000.0], [-4150000.0, 5655000.0], [-4150000.0, 5656000.0], [-4151000.0, 5655000.0]]
    area = {"type": "Feature", "properties": {"kind": "closed"}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "hazards.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [area]}), encoding="utf-8")
    assert any("not in degrees" in p.message for p in read_folder(folder).problems)


def test_shelters_may_come_as_points_on_a_map(folder: Path) -> None:
    """GeoJSON points, longitude first, give the same shelter as a row."""
    (folder / "shelters.csv").unlink()
    point = {"type": "Feature", "geometry": {"type": "Point", "coordinates": [-37.0, 45.0]},
             "properties": {"name": "North", "accessible_places": 10, "opens": "always"}}  # fmt: skip
    (folder / "shelters.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [point]}), encoding="utf-8")
    (shelter,) = read_move(folder).shelters
    assert (shelter.name, shelter.lat, shelter.lon, shelter.accessible_places) == ("North", 45.0, -37.0, 10)


CAP = """<?xml version="1.0" encoding="UTF-8"?>
<alert xmlns="urn:oasis:names:tc:emergency:cap:1.2">
 <identifier>{identifier}</identifier><sender>office@example.org</sender><sent>2026-03-14T18:{minute}:00-02:00</sent>
 <status>Actual</status><msgType>{kind}</msgType><scope>Public</scope>{references}
 <info><category>Met</category><event>Flood</event><urgency>Expected</urgency><severity>Severe</severity><certainty>Likely</certainty>
  <expires>2026-03-14T20:00:00-02:00</expires><headline>High water</headline>
  <area><areaDesc>low quarter</areaDesc>{outline}</area></info>
</alert>"""
POLYGON = "<polygon>45.0,-37.01 45.0,-37.0 45.01,-37.0 45.01,-37.01 45.0,-37.01</polygon>"


def _alert(folder: Path, name: str, **parts: str) -> None:
    given = {"identifier": "A1", "minute": "05", "kind": "Alert", "references": "", "outline": POLYGON} | parts
    (folder / name).write_text(CAP.format(**given), encoding="utf-8")


def test_an_alert_is_nothing_until_the_coordinator_has_decided(folder: Path) -> None:
    """CAP 1.2: read, listed as undecided, and no area closes; decided, it closes from the coordinator's time on, not to its ``expires``."""
    _alert(folder, "one.cap.xml")
    move = read_move(folder)
    assert (len(move.hazards), [a.identifier for a in move.undecided_alerts]) == (0, ["A1"])
    (folder / "move.toml").write_text(TOML + '[alerts.A1]\nas = "closed"\nfrom = "20:30"\n', encoding="utf-8")
    move = read_move(folder)
    (hazard,) = move.hazards
    assert (hazard.kind, hazard.starts.strftime("%H:%M"), hazard.ends) == ("closed", "20:30", None)
    assert hazard.contains(-37.005, 45.005)
    assert not hazard.contains(-37.02, 45.005)
    assert move.undecided_alerts == ()


def test_updates_replace_and_cancels_end_an_alert(folder: Path) -> None:
    """CAP 1.2, msgType and references: the update stands, the first one is gone; a cancel leaves nothing to decide."""
    _alert(folder, "one.cap.xml")
    first = "<references>office@example.org,A1,2026-03-14T18:05:00-02:00</references>"
    _alert(folder, "two.cap.xml", identifier="A2", minute="20", kind="Update", references=first)
    assert [a.identifier for a in read_move(folder).undecided_alerts] == ["A2"]
    second = "<references>office@example.org,A2,2026-03-14T18:20:00-02:00</references>"
    _alert(folder, "three.cap.xml", identifier="A3", minute="30", kind="Cancel", references=second)
    assert read_move(folder).undecided_alerts == ()


def test_a_circle_is_never_drawn_too_small(folder: Path) -> None:
    """2 km round 45, -37, by pyproj's geodesic: every bearing at 1.999 km is inside, at 2.1 km outside."""
    _alert(folder, "one.cap.xml", outline="<circle>45.0,-37.0 2</circle>")
    (folder / "move.toml").write_text(TOML + '[alerts.A1]\nas = "closed"\n', encoding="utf-8")
    (hazard,) = read_move(folder).hazards
    for bearing in range(0, 360, 15):
        for metres, expected in ((1999.0, True), (2100.0, False)):
            lon, lat, _ = Geod(ellps="WGS84").fwd(-37.0, 45.0, bearing, metres)
            assert hazard.contains(lon, lat) is expected


def test_a_road_drawn_as_a_line_closes_the_road_and_not_the_houses(folder: Path) -> None:
    """A line gets a small width; it is a road, so nobody who lives beside it lies in a closing area."""
    line = {"type": "Feature", "properties": {"kind": "closed", "from": "20:30", "label": "Low Road"},
            "geometry": {"type": "LineString", "coordinates": [[-37.01, 45.0], [-37.0, 45.0]]}}  # fmt: skip
    (folder / "hazards.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [line]}), encoding="utf-8")
    (hazard,) = read_move(folder).hazards
    assert hazard.is_road
    assert hazard.contains(-37.005, 45.0)
    assert not hazard.contains(-37.005, 45.0005)


def test_zones_close_by_their_letter(folder: Path) -> None:
    """Zone B is drawn as a watch; the coordinator closes B from 19:30."""
    ring = [[-37.01, 45.0], [-37.0, 45.0], [-37.0, 45.01], [-37.01, 45.0]]
    zone = {"type": "Feature", "properties": {"kind": "watch", "zone": "b"}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "hazards.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [zone]}), encoding="utf-8")
    (folder / "move.toml").write_text(TOML + '[zones.B]\nas = "closed"\nfrom = "19:30"\n', encoding="utf-8")
    (hazard,) = read_move(folder).hazards
    assert (hazard.kind, hazard.starts.strftime("%H:%M")) == ("closed", "19:30")
