"""Jobs as text messages: short enough, numbered, nothing lost, nothing private."""

from __future__ import annotations

import re

import pytest
from move_papers import Papers

from rollroute.output.gsm import SEPTETS_PER_MESSAGE, is_lossy, septets


def messages(papers: Papers, name: str) -> list[str]:
    return (papers.folder / name).read_text(encoding="utf-8").splitlines()


def test_a_drivers_messages_hold_every_stop(small: Papers):
    """By hand: the closing, then four stops with minute, rider, door or shelter, place and grid reference."""
    text = " ".join(re.sub(r"^V1 \d/\d ", "", m) for m in messages(small, "vans/v1.txt"))
    assert text.startswith("Mill Stream closed from 18:40; 1 at 18:40 load A of ")
    assert "2 at 18:52 load B of 7 Alder Row: kerb at B, grid " in text
    assert "3 at 19:10 unload A for East Hall: kerb at East Hall, grid " in text
    assert text.count("; ") == 4
    assert text.endswith(".")


def test_an_escorts_messages_hold_every_job(small: Papers):
    """E1 meets C at 19:04 and goes to East Hall."""
    text = " ".join(messages(small, "escorts/e1.txt"))
    assert re.search(r"1 at 19:04 meet C at .*, grid .*, go to East Hall\.", text)


@pytest.mark.parametrize("which", ["small", "town", "hostile"])
def test_every_message_fits_and_is_numbered(request: pytest.FixtureRequest, which: str):
    """At most 160 places of the GSM 7-bit alphabet (3GPP TS 23.038), headed by who it is for and n of how many."""
    papers: Papers = request.getfixturevalue(which)
    files = [*papers.folder.glob("vans/*.txt"), *papers.folder.glob("escorts/*.txt")]
    assert files
    for path in files:
        lines = path.read_text(encoding="utf-8").splitlines()
        for n, line in enumerate(lines, start=1):
            assert septets(line) <= SEPTETS_PER_MESSAGE
            assert not is_lossy(line)
            assert f" {n}/{len(lines)} " in line


def test_a_deadline_is_no_closing(town: Papers):
    """The riverside is to be left by 20:00 and closes by no word of anybody; Low Road closes at 20:30; smoke is no order."""
    van = next(v for v in town.plan.vans if v.stops)
    text = " ".join(messages(town, f"vans/{van.id.lower()}.txt"))
    assert "River over Low Road closed from 20:30" in text
    assert "out by 20:00" in text
    assert "Smoke" not in text


def test_a_town_vans_messages_name_its_riders(town: Papers):
    """Each rider of the van stands in its messages, once to load and once to unload."""
    van = next(v for v in town.plan.vans if v.stops)
    text = " ".join(messages(town, f"vans/{van.id.lower()}.txt"))
    for rider in {i for s in van.stops for i in s.riders}:
        assert len(re.findall(rf"\b{rider}\b", text)) == 2
