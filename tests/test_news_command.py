"""``rollroute move --from``: the moment of the news from move.toml or the command line."""

from __future__ import annotations

import shutil
from pathlib import Path

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


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_the_moment_of_the_news_stands_in_the_folder_or_on_the_command_line(quillhaven: Network, tmp_path: Path) -> None:
    """``now`` in move.toml holds what has happened; --now outranks it; a rider who leaves the table is said to be gone."""
    folder, out, net = tmp_path / "evening", tmp_path / "out", tmp_path / "town.net"
    quillhaven.save(net)
    folder.mkdir()
    for name in ("shelters.csv", "vans.csv", "escorts.csv", "hazards.geojson", "address_points.csv"):
        shutil.copy(TOWN / name, folder / name)
    settings = (TOWN / "move.toml").read_text(encoding="utf-8") + QUICK
    (folder / "move.toml").write_text(settings, encoding="utf-8")
    (folder / "riders.csv").write_text(RIDERS, encoding="utf-8")
    words = ("--network", net, "--plan-only", "--no-fail-one")
    assert _run("move", folder, "--out", out, *words).exit_code == 0

    (folder / "move.toml").write_text(settings.replace('finish_by = "23:30"', 'finish_by = "23:30"\nnow = "22:00"'), encoding="utf-8")
    later = _run("move", folder, "--out", tmp_path / "later", *words, "--from", out / "plan.json")

    assert later.exit_code == 0, later.output
    news = read_plan(tmp_path / "later" / "plan.json").extra["changes"]
    assert news["now"] == "2026-03-14T22:00-02:00"
    assert news["happened"] == {"A": "done", "B": "done"}

    (folder / "riders.csv").write_text("\n".join(RIDERS.splitlines()[:2]) + "\n", encoding="utf-8")
    gone = _run("move", folder, "--out", tmp_path / "gone", *words, "--from", out / "plan.json", "--now", "18:41")

    assert gone.exit_code == 0, gone.output
    plan = read_plan(tmp_path / "gone" / "plan.json")
    assert plan.extra["changes"]["now"] == "2026-03-14T18:41-02:00"
    assert plan.changes[0] == "B is no longer in the move"
