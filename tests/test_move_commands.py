"""``check``, ``move`` and ``audit``: exit codes, spreadsheets as people keep them, and nothing lost by a failed or interrupted command."""

from __future__ import annotations

import json
import shutil
import signal
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from rollroute.cli import main
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.planning import make_plan
from rollroute.planning.plan import read_plan

TOWN = data_dir() / "quillhaven"
QUICK = "\n[effort]\nexact_work = 0.2\nsearch_rounds = 50\n"
RIDERS = """id,place,chair,charge,rider_mass_kg,charger,life_support_min,longest_roll_min,consent,chair_length_cm,seated_height_cm
A,14 Weaver Street,en12184-b,full,87,on board,none,60,yes,115,135
B,Tannery Hall,en12184-b,60%,79,with rider,180,45,yes,118,134
C,16 Shingle Row,en12184-b,,,,,,,,
"""


@pytest.fixture(scope="session")
def town_net(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("move-net") / "town.net"
    quillhaven.save(path)
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The bundled evening with three riders, so that a plan takes a second."""
    move = tmp_path / "evening"
    move.mkdir()
    for name in ("move.toml", "shelters.csv", "vans.csv", "escorts.csv", "hazards.geojson", "address_points.csv"):
        shutil.copy(TOWN / name, move / name)
    (move / "move.toml").write_text((TOWN / "move.toml").read_text(encoding="utf-8") + QUICK, encoding="utf-8")
    (move / "riders.csv").write_text(RIDERS, encoding="utf-8")
    return move


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def _move(folder: Path, out: Path, town_net: Path) -> Result:
    return _run("move", folder, "--out", out, "--network", town_net, "--plan-only")


@pytest.fixture
def planned(folder: Path, town_net: Path) -> Path:
    result = _move(folder, folder.parent / "out", town_net)
    assert result.exit_code == 0, result.output
    return folder.parent / "out"


def test_check_prints_the_call_list(folder: Path, town_net: Path) -> None:
    """Nothing bad in the tables: exit 0. C, of whom little is known, is the first to call; the line says what is planned meanwhile."""
    result = _run("check", folder, "--network", town_net)
    assert result.exit_code == 0, result.output
    calls = [line for line in result.output.splitlines() if ". rider " in line or ". van " in line or ". shelter " in line]
    assert calls[0].startswith("  1. rider C:")
    assert "Until then:" in calls[0]


def test_check_reports_every_bad_row_at_once(folder: Path, town_net: Path) -> None:
    """Three bad cells in two files: all are there, each with file, row, column, value and what to do. Exit code 2."""
    text = RIDERS.replace("60%,79", "60%,heavy").replace("none,60,yes", "none,sixty,yes")
    (folder / "riders.csv").write_text(text, encoding="utf-8")
    vans = (TOWN / "vans.csv").read_text(encoding="utf-8").replace("18:30", "half six", 1)
    (folder / "vans.csv").write_text(vans, encoding="utf-8")
    result = _run("check", folder, "--network", town_net)
    assert result.exit_code == 2
    assert "riders.csv, row 3, rider_mass_kg: 'heavy': not understood. Give for example 82 kg" in result.output
    assert "riders.csv, row 2, longest_roll_min: 'sixty': not understood. Give for example 45 min" in result.output
    assert "vans.csv, row 2, available_from: 'half six'" in result.output
    assert "Call list" in result.output


def test_check_names_an_address_that_is_not_on_the_map(folder: Path, town_net: Path) -> None:
    """A typing error in an address would leave a rider behind: it counts as a bad cell."""
    (folder / "riders.csv").write_text(RIDERS.replace("14 Weaver Street", "14 Weever Road"), encoding="utf-8")
    result = _run("check", folder, "--network", town_net)
    assert result.exit_code == 2
    assert "rider A" in result.output
    assert "Weever" in result.output


def _messy_workbook(path: Path) -> None:
    """A title, a date, a header in two merged rows, units in the header, pounds, odd spellings, an empty row, notes below."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Chairs in the evening shift - DRAFT 3"])
    sheet.append(["printed", "14 March"])
    sheet.append([])
    sheet.append(
        ["Rider", "Address", "Wheelchair", "Battery", "Weight", "Chair", "", "Head height", "Charger where", "Life support", "Agreed"]
    )
    sheet.append(["", "", "", "", "(lb)", "length (in)", "width (in)", "(cm)", "", "", ""])
    sheet.merge_cells("F4:G4")
    sheet.append(["A", "14 Weaver Street", "en12184-b", "full", 191, 45.3, 25, 135, "On board", "none", "Yes"])
    sheet.append([])
    sheet.append(["B", "Tannery Hall", "en12184-b", "3 of 5 bars", 174, 46.5, "?", 134, "carried", "3 h", "x"])
    sheet.append(["C", "16 Shingle Row", "en12184-b", "unknown", "tbc", "", "", "n/k", "", "", "not asked"])
    book.save(path)


def test_a_messy_spreadsheet_is_read_with_no_hand_edits(folder: Path, town_net: Path) -> None:
    """Riders come as they were kept in a workbook: three riders, pounds and inches understood, exit code 0."""
    (folder / "riders.csv").unlink()
    _messy_workbook(folder / "riders.xlsx")
    result = _run("check", folder, "--network", town_net)
    assert result.exit_code == 0, result.output
    assert "read: 3 riders" in result.output
    out = folder.parent / "out"
    assert _move(folder, out, town_net).exit_code == 0
    plan = read_plan(out / "plan.json")
    assert plan.rider("A").status == "planned"
    assert plan.rider("B").is_priority
    assert "riders.xlsx" in plan.move["inputs"]


def test_a_plan_says_first_who_is_left_and_audits_itself(planned: Path, folder: Path, town_net: Path) -> None:
    """C can't be promised a van without a length and a weight, so C stands before everybody who has a way."""
    result = _move(folder, planned, town_net)
    lines = result.output.splitlines()
    assert lines.index("Not served: 1 of 3") < lines.index("Riders, by the time they leave")
    assert any(line.startswith("  C: ") for line in lines)
    assert _run("audit", planned / "plan.json", "--network", town_net).output.startswith("0 violations")


def test_same_input_same_plan(planned: Path, folder: Path, town_net: Path) -> None:
    """Limits are work units and seeds, so the bytes are the same."""
    before = {p.name: p.read_bytes() for p in planned.iterdir()}
    assert _move(folder, planned, town_net).exit_code == 0
    assert {p.name: p.read_bytes() for p in planned.iterdir()} == before


def test_a_plan_edited_by_hand_is_audited_line_by_line(planned: Path, town_net: Path) -> None:
    """A is sent to a shelter that nobody has confirmed to open: exit code 1, a line for each violation."""
    document = json.loads((planned / "plan.json").read_text(encoding="utf-8"))
    line = next(r for r in document["riders"] if r["id"] == "A")
    line["shelter"] = "Ferrow Library"
    (planned / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    result = _run("audit", planned / "plan.json", "--network", town_net)
    assert result.exit_code == 1
    found = result.output.splitlines()
    assert len(found) > 1
    assert all(text.startswith("violation: ") for text in found)
    assert any("Ferrow Library" in text for text in found)


def test_an_audit_needs_only_files_also_where_they_were_moved(planned: Path, folder: Path, town_net: Path, tmp_path: Path) -> None:
    """Folder and plan keep their place to each other; the machine that made them is not needed."""
    elsewhere = tmp_path / "stick"
    elsewhere.mkdir()
    shutil.move(folder, elsewhere / folder.name)
    shutil.move(planned, elsewhere / planned.name)
    result = _run("audit", elsewhere / planned.name / "plan.json", "--network", town_net)
    assert result.exit_code == 0, result.output


def test_an_audit_says_which_input_has_changed(planned: Path, folder: Path, town_net: Path) -> None:
    """A shelter that closes after all is caught by the audit, and the file that changed is named."""
    text = (folder / "shelters.csv").read_text(encoding="utf-8").replace(",6,8,3,15,A", ",0,8,3,15,A")
    (folder / "shelters.csv").write_text(text, encoding="utf-8")
    result = _run("audit", planned / "plan.json", "--network", town_net)
    assert result.exit_code == 1
    assert "shelters.csv has changed" in result.stderr
    assert "0 accessible places" in result.output


def test_a_plan_without_its_folder_is_refused_with_a_remedy(planned: Path, folder: Path) -> None:
    """Exit code 2: nothing can be checked without the inputs."""
    shutil.rmtree(folder)
    result = _run("audit", planned / "plan.json")
    assert result.exit_code == 2
    assert "Put the folder back" in result.stderr


def test_a_failed_move_leaves_earlier_files_as_they_were(planned: Path, folder: Path, town_net: Path) -> None:
    """A bad row stops the second run with exit code 2; the first plan is still there, byte for byte."""
    before = {p.name: p.read_bytes() for p in planned.iterdir()}
    (folder / "riders.csv").write_text(RIDERS.replace("60%,79", "60%,heavy"), encoding="utf-8")
    result = _move(folder, planned, town_net)
    assert result.exit_code == 2
    assert "'heavy'" in result.stderr
    assert {p.name: p.read_bytes() for p in planned.iterdir()} == before


def test_a_move_without_a_map_says_how_to_give_one(folder: Path) -> None:
    """Exit code 2 and a remedy, no traceback."""
    text = (folder / "move.toml").read_text(encoding="utf-8").replace('map = "town.osm.pbf"\n', "")
    (folder / "move.toml").write_text(text, encoding="utf-8")
    result = _run("move", folder, "--out", folder.parent / "out")
    assert result.exit_code == 2
    assert "--network" in result.stderr
    assert not (folder.parent / "out").exists()


def test_ctrl_c_leaves_the_best_plan_so_far_marked(folder: Path, town_net: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while the first schedule is made: the plan is written, keeps every rule, and says that it is not complete."""
    search = make_plan.search_schedule

    def interrupted(*args: object, **kwargs: object) -> object:
        signal.raise_signal(signal.SIGINT)
        return search(*args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(make_plan, "search_schedule", interrupted)
    out = folder.parent / "out"
    result = _move(folder, out, town_net)
    assert result.exit_code == 0, result.output
    assert "INCOMPLETE" in result.output
    assert not read_plan(out / "plan.json").is_complete
    assert _run("audit", out / "plan.json", "--network", town_net).exit_code == 0


def test_the_papers_and_the_comparison_come_with_the_plan(folder: Path, town_net: Path) -> None:
    """One folder holds the page, the tables and the sheets; what one more van would change stands in a table in words."""
    out = folder.parent / "out"
    result = _run("move", folder, "--out", out, "--network", town_net, "--what-if", "one more van")
    assert result.exit_code == 0, result.output
    names = {str(p.relative_to(out)) for p in out.rglob("*") if p.is_file()}
    assert {"index.html", "plan.json", "travel.json", "plan.xlsx", "plan.gpkg", "manifests/riders.csv"} <= names
    lines = result.output.splitlines()
    assert lines[lines.index("What if") + 1].startswith("  as it is: 2 served")
    assert lines[lines.index("What if") + 2].startswith("  one more van: ")


def test_a_variant_that_is_not_understood_writes_nothing(folder: Path, town_net: Path) -> None:
    """The words are read before the work begins: exit code 2, with the spellings."""
    out = folder.parent / "out"
    result = _run("move", folder, "--out", out, "--network", town_net, "--what-if", "more luck")
    assert result.exit_code == 2
    assert "one more van" in result.stderr
    assert not out.exists()


def test_a_plan_goes_on_from_an_earlier_one_with_news(planned: Path, folder: Path, town_net: Path) -> None:
    """One minute later and no news: the plan is kept to the letter, says so, and still passes its audit."""
    before = read_plan(planned / "plan.json")
    out = folder.parent / "later"
    same = _run("move", folder, "--out", out, "--network", town_net, "--plan-only", "--from", planned / "plan.json", "--now", "18:41")
    assert same.exit_code == 0, same.output
    assert "Against the earlier plan" in same.output
    assert [r.arrive for r in read_plan(out / "plan.json").riders] == [r.arrive for r in before.riders]
    assert _run("audit", out / "plan.json", "--network", town_net).exit_code == 0


def test_a_rehearsal_and_failures_stand_in_the_plan_and_in_words(folder: Path, town_net: Path) -> None:
    """Asked for on the command line; both are in plan.json for whoever reads it later."""
    out = folder.parent / "out"
    result = _run("move", folder, "--out", out, "--network", town_net, "--plan-only", "--rehearse", "20", "--fail-one")
    assert result.exit_code == 0, result.output
    assert "of 20 runs" in result.output
    assert "One thing failing" in result.output
    assert set(read_plan(out / "plan.json").extra) >= {"rehearsal", "fail_one"}
