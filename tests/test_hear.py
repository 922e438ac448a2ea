"""Replies come back: what a helper texts is in the next route, end to end on the bundled town."""

from __future__ import annotations

import itertools
import json
import math
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rollroute.cli import main
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.output.itinerary import Itinerary, read_itinerary
from rollroute.output.steps import build_steps

TOWN = data_dir() / "quillhaven"
WAY = ("11 Larkmount Road", "North Quay School")
M_PER_DEGREE = 111_132.0


@pytest.fixture(scope="module")
def net(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hear") / "town.net"
    quillhaven.save(path)
    return path


def run(*words: object, said: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], input=said)


def route(net: Path, out: Path, *more: object) -> Result:
    return run(
        "route", net, "--from", WAY[0], "--to", WAY[1], "--chair", TOWN / "demo-chair.toml", "--charge", "4 of 5 bars",
        "--shelters", TOWN / "shelters.csv", "--hazards", TOWN / "hazards.geojson",
        "--at", "2026-03-14T18:40-02:00", "--temperature", 6, "--out", out, *more,
    )  # fmt: skip


@pytest.fixture(scope="module")
def first(net: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("first") / "route"
    assert route(net, folder).exit_code == 0
    return folder


def copied(first: Path, to: Path) -> tuple[Path, Itinerary]:
    to.mkdir()
    (to / "route.json").write_bytes((first / "route.json").read_bytes())
    return to, read_itinerary(to)


def stands_on(itinerary: Itinerary, line: list[list[float]]) -> float:
    """Metres of a way that lie within 1 m of a line, counted metre by metre with no code of ours."""
    scale = math.cos(math.radians(line[0][1])) * M_PER_DEGREE
    ground = [(x * scale, y * M_PER_DEGREE) for x, y in line]
    on = 0.0
    for piece in itinerary.pieces:
        for (ax, ay), (bx, by) in itertools.pairwise(piece.coordinates):
            a, b = (ax * scale, ay * M_PER_DEGREE), (bx * scale, by * M_PER_DEGREE)
            length = math.dist(a, b)
            n = max(1, round(length))
            for k in range(n):
                t = (k + 0.5) / n
                at = (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
                if min(_away(at, p, q) for p, q in itertools.pairwise(ground)) < 1.0:
                    on += length / n
    return on


def _away(at: tuple[float, float], p: tuple[float, float], q: tuple[float, float]) -> float:
    dx, dy = q[0] - p[0], q[1] - p[1]
    t = max(0.0, min(1.0, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / ((dx * dx + dy * dy) or 1.0)))
    return math.dist(at, (p[0] + t * dx, p[1] + t * dy))


def test_a_reply_that_the_way_is_blocked_sends_the_next_route_elsewhere(net: Path, first: Path, tmp_path: Path):
    """B9: no metre of steps 8 and 9 is driven again, and the way round has a code of its own."""
    folder, before = copied(first, tmp_path / "a")
    heard = run("hear", folder, f"{before.code} B9 19:12")
    assert heard.exit_code == 0, heard.output
    line = json.loads((folder / "found.geojson").read_text())["features"][0]["geometry"]["coordinates"]
    assert stands_on(before, line) == pytest.approx(build_steps(before)[9].at_m - build_steps(before)[7].at_m, rel=0.02)

    again = route(net, tmp_path / "b", "--facts", folder / "found.geojson")
    assert again.exit_code == 0, again.output
    after = read_itinerary(tmp_path / "b")
    assert stands_on(after, line) < 3.0  # it may be crossed, or left at its ends: a metre on either side
    assert after.code != before.code


def test_where_every_way_is_told_to_be_blocked_there_is_proven_none(net: Path, first: Path, tmp_path: Path):
    """Blocked on the last steps of every way that is found, until none is left: exit code 3, never a way through a block."""
    facts, out = tmp_path / "all", []
    folder, itinerary = copied(first, tmp_path / "0")
    for number in range(1, 12):
        last = build_steps(itinerary)[-1].number
        assert run("hear", folder, f"{itinerary.code} B{last}", "--out", facts).exit_code == 0
        folder = tmp_path / f"{number}"
        result = route(net, folder, "--facts", facts / "found.geojson")
        out.append(result.exit_code)
        if result.exit_code:
            break
        itinerary = read_itinerary(folder)

    assert out[-1] == 3
    assert "no passable way leads to a goal" in result.output
    assert set(out[:-1]) <= {0}


def test_a_step_that_was_passed_answers_the_questions_before_it(net: Path, first: Path, tmp_path: Path):
    """Kerbs on Sextant Street that nobody measured: passed by this chair, they are asked no more; those beyond still are."""
    folder, before = copied(first, tmp_path / "a")
    step = next(s for s in build_steps(before) if s.street == "Cider Lane")
    kerbs = [(q.lon, q.lat) for q in before.questions if q.kind == "kerb" and q.at_m < step.at_m - 1]
    beyond = [(q.lon, q.lat) for q in before.questions if q.kind == "kerb" and q.at_m > step.at_m + 1]
    assert len(kerbs) >= 2
    assert beyond
    assert run("hear", folder, said=f"{before.code} P{step.number} 19:01\n\n").exit_code == 0

    assert route(net, tmp_path / "b", "--passages", folder / "passed.geojson").exit_code == 0
    after = read_itinerary(tmp_path / "b")
    asked = {(q.lon, q.lat) for q in after.questions if q.kind == "kerb"}
    assert after.length_m == pytest.approx(before.length_m)
    assert not asked & set(kerbs)
    assert set(beyond) <= asked
    assert after.doubt < before.doubt

    lon, lat = kerbs[0]
    told = run("explain", net, f"{lat},{lon}", "--chair", TOWN / "demo-chair.toml", "--passages", folder / "passed.geojson",
               "--at", "2026-03-15T10:00-02:00")  # fmt: skip
    assert "a chair that asks no less has passed" in told.output


def test_a_larger_chair_learns_nothing_from_it(net: Path, first: Path, tmp_path: Path):
    folder, before = copied(first, tmp_path / "a")
    assert run("hear", folder, f"{before.code} P16").exit_code == 0
    wide = tmp_path / "wide.toml"
    wide.write_text(re.sub(r"width_m = \{ value = 0\.66", "width_m = { value = 0.67", (TOWN / "demo-chair.toml").read_text()))
    routes = [route(net, tmp_path / n, "--chair", wide, *more) for n, more in (("b", ()), ("c", ("--passages", folder / "passed.geojson")))]

    assert [r.exit_code for r in routes] == [0, 0]
    one, other = (read_itinerary(tmp_path / n) for n in "bc")
    assert one.questions == other.questions


@pytest.mark.parametrize("reply", ["K0 B9", "{code} B99", "{code} Z9", "hello", "", "{code} B9 19:5", "{code} P3 25:00"])
def test_a_reply_that_cant_be_understood_ends_with_2_and_writes_nothing(first: Path, tmp_path: Path, reply: str):
    folder, itinerary = copied(first, tmp_path / "a")
    result = run("hear", folder, f"{itinerary.code} P4", reply.format(code=itinerary.code) or " ", f"{itinerary.code} P5")
    if not reply:  # a blank line is no reply
        assert result.exit_code == 0
        return

    assert (result.exit_code, [p.name for p in folder.iterdir()]) == (2, ["route.json"])
    assert "reply: " in result.output


@pytest.mark.parametrize("code", ["north", "K", "K12345", "ÅB1"])
def test_a_code_that_no_reply_can_begin_with_is_refused(net: Path, tmp_path: Path, code: str):
    result = route(net, tmp_path / "a", "--code", code)

    assert result.exit_code == 2
    assert "such as K7" in result.output
