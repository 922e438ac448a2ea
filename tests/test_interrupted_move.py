"""Ctrl-C for true: the program runs on a terminal of its own and is sent the signal, while it plans and while it makes papers."""

from __future__ import annotations

import hashlib
import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.planning.plan import read_plan

TOWN = data_dir() / "quillhaven"
LONGEST_S = 120.0  # without a word: then something hangs
CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


@pytest.fixture(scope="module")
def evening(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bundled evening with one van, so that R09 rolls, and its network built before."""
    folder = tmp_path_factory.mktemp("evening")
    for name in ("move.toml", "riders.csv", "shelters.csv", "escorts.csv", "hazards.geojson", "address_points.csv"):
        shutil.copy(TOWN / name, folder / name)
    vans = (TOWN / "vans.csv").read_text(encoding="utf-8").splitlines()[:2]
    (folder / "vans.csv").write_text("\n".join(vans) + "\n", encoding="utf-8")
    quillhaven.save(folder / "town.net")
    return folder


def _on_a_terminal(evening: Path, out: Path, stop_at: str) -> tuple[int, str]:
    """Run ``rollroute move`` on a terminal, send SIGINT once the progress bar says ``stop_at``; exit code, and all that was shown.

    The bar shows each new word at once, so the signal can't come too late for what it names.
    """
    near, far = pty.openpty()
    words = [sys.executable, "-m", "rollroute", "move", str(evening), "--out", str(out), "--network", str(evening / "town.net")]
    program = subprocess.Popen(
        [*words, "--no-fail-one"], stdin=far, stdout=far, stderr=far, env={**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    )
    os.close(far)
    shown, is_sent = "", False
    while select.select([near], [], [], LONGEST_S)[0]:
        try:
            shown += os.read(near, 65536).decode(errors="replace")
        except OSError:  # the terminal of a program that has ended
            break
        if not is_sent and stop_at in CONTROL.sub("", shown):
            program.send_signal(signal.SIGINT)
            is_sent = True
    os.close(near)
    assert is_sent, shown
    if program.poll() is None:
        try:
            program.wait(10)
        except subprocess.TimeoutExpired:
            program.kill()
    return program.wait(), CONTROL.sub("", shown)


def _digests(folder: Path) -> dict[str, str]:
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()}


def test_the_signal_leaves_the_best_plan_so_far_and_then_nothing_half_done(evening: Path, tmp_path: Path):
    """While it plans: a plan that says it is not complete, on the page too, with every paper. While it makes papers: all as it was.

    The progress bar is what the test waits for, so it is there.
    """
    out = tmp_path / "out"

    code, shown = _on_a_terminal(evening, out, "first schedule")

    assert code in (0, 1), shown  # 1 where the plan so far breaks a rule, which is then told
    assert "the best plan so far is written and marked so" in shown
    assert not read_plan(out / "plan.json").is_complete
    assert "interrupted" in (out / "index.html").read_text(encoding="utf-8").lower()
    assert (out / "papers.json").exists()

    before = _digests(out)
    code, shown = _on_a_terminal(evening, out, "papers of riders")

    assert code != 0
    assert "nothing was written" in shown
    assert _digests(out) == before
