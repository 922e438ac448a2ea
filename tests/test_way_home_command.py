"""``rollroute way-home``: from a plan's files to a move folder that is planned and audited like any other."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rollroute.cli import main
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.planning.plan import read_plan

TOWN = data_dir() / "quillhaven"
QUICK = "\n[effort]\nexact_work = 0.2\nsearch_rounds = 50\n"
RIDERS = """id,place,chair,charge,rider_mass_kg,charger,life_support_min,longest_roll_min,consent,chair_length_cm,seated_height_cm
A,14 Weaver Street,en12184-b,full,87,on board,none,60,yes,115,135
B,Tannery Hall,en12184-b,60%,79,with rider,180,45,yes,118,134
"""
MORNING = "2026-03-15T10:00"


@pytest.fixture(scope="module")
def evening(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """(network, plan) of the bundled evening with two riders."""
    work = tmp_path_factory.mktemp("way-home")
    net, folder = work / "town.net", work / "evening"
    quillhaven.save(net)
    folder.mkdir()
    for name in ("move.toml", "shelters.csv", "vans.csv", "escorts.csv", "hazards.geojson", "address_points.csv"):
        shutil.copy(TOWN / name, folder / name)
    (folder / "move.toml").write_text((TOWN / "move.toml").read_text(encoding="utf-8") + QUICK, encoding="utf-8")
    (folder / "riders.csv").write_text(RIDERS, encoding="utf-8")
    result = _run("move", folder, "--out", work / "out", "--network", net, "--plan-only", "--no-fail-one")
    assert result.exit_code == 0, result.output
    assert not read_plan(work / "out" / "plan.json").not_served
    return net, work / "out" / "plan.json"


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_first_it_asks_then_it_plans_and_the_plan_is_audited(evening: tuple[Path, Path], tmp_path: Path) -> None:
    """Without answers everybody waits, and a table to fill in is there; filled in, A goes home by a plan without a violation.

    B came from a shelter: where home is has to be said, and is not. The hazards of the evening have no end: they get one first.
    """
    net, plan_file = evening
    home = tmp_path / "home"
    asked = _run("way-home", plan_file, "--start", MORNING, "--out", home)
    assert asked.exit_code == 0, asked.output
    assert "0 can go, 2 wait" in asked.output
    assert "Where is home?" in asked.output

    rows = list(csv.DictReader((home / "home.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert [r["id"] for r in rows] == ["A", "B"]
    for row in rows:
        row.update({"mains": "yes", "lift": "not needed", "ramp": "yes", "street": "yes", "agreed": "yes", "charge": "80%"})
    with (home / "home.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    again = _run("way-home", plan_file, "--start", MORNING, "--out", home)
    assert "1 can go, 1 wait" in again.output, again.output
    assert "A to home of A, takes along:" in (home / "things.txt").read_text(encoding="utf-8")

    back = _run("move", home, "--out", tmp_path / "back", "--network", net, "--plan-only", "--no-fail-one")
    assert back.exit_code == 0, back.output
    line = read_plan(tmp_path / "back" / "plan.json").rider("A")
    assert line.shelter == "home of A"
    assert line.leave is not None
    assert line.leave >= MORNING
    assert _run("audit", tmp_path / "back" / "plan.json", "--network", net).output == "0 violations\n"


def test_what_can_not_be_turned_round_is_refused(evening: tuple[Path, Path], tmp_path: Path) -> None:
    """A start before the move, a start that is no time, the folder of the inputs itself, answers that are not there: exit code 2."""
    _, plan_file = evening
    inputs = plan_file.parent.parent / "evening"
    for words in (
        ("--start", "2026-03-13T10:00", "--out", tmp_path / "h"),
        ("--start", "tomorrow", "--out", tmp_path / "h"),
        ("--start", MORNING, "--out", inputs),
        ("--start", MORNING, "--out", tmp_path / "h", "--answers", tmp_path / "none.csv"),
    ):
        result = _run("way-home", plan_file, *words)
        assert result.exit_code == 2, result.output
        assert "rollroute:" in result.output
    assert (inputs / "riders.csv").read_text(encoding="utf-8") == RIDERS
