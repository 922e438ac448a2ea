"""The link as a file: small, closed, private, and whole without a program."""

from __future__ import annotations

import base64
import dataclasses
import gzip
import hashlib
import json
import re
from html import unescape
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import html
from sample_itinerary import hostile, sample

from rollroute.errors import InputError
from rollroute.output.itinerary import write_itinerary
from rollroute.output.link import link_page, write_link
from rollroute.output.link.corner import LEAST_HIDDEN_M, start_at_corner
from rollroute.output.map.way import distance_m
from rollroute.output.steps import build_steps
from rollroute.output.words import Words
from rollroute.output.words.cautions import always_cautions, charging_cautions, drive_cautions, transfer_cautions, trip_cautions
from rollroute.output.words.sentences import step_sentence

WORDS = Words()


@pytest.fixture(scope="module")
def page() -> str:
    """The sample's link."""
    return link_page(sample(), WORDS)


@pytest.fixture(scope="module")
def corner_page() -> str:
    """The sample's link from the corner on."""
    shown, offset = start_at_corner(sample(), WORDS)
    return link_page(shown, WORDS, offset=offset)


def test_it_is_small(page: str):
    """Bars of the project: under 600 kB, and 220 kB compressed, for a 2 km urban route."""
    content = page.encode()
    assert len(content) < 600_000
    assert len(gzip.compress(content)) < 220_000


def test_a_dense_quarter_stays_small():
    """4000 buildings of eight corners within the window: more than the densest quarter that is drawn around a 2 km way."""
    itinerary = sample()
    place = itinerary.pieces[20].coordinates[0]
    ring = [(place[0] + 1e-4 * (n % 3), place[1] + 1e-4 * (n % 4)) for n in range(8)]
    rings = [[(lon + 1e-5 * (n % 60), lat + 1e-5 * (n // 60)) for lon, lat in ring] for n in range(4000)]
    crowded = dataclasses.replace(itinerary, backdrop=dataclasses.replace(itinerary.backdrop, buildings=rings))
    content = link_page(crowded, WORDS).encode()
    assert len(content) < 600_000
    assert len(gzip.compress(content)) < 220_000


def test_the_content_policy_knows_script_and_style_by_hash(page: str):
    """CSP Level 3: the hashes are those of the very text in the elements, computed here a second time."""
    tree = html.fromstring(page)
    policy = tree.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")[0]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    for tag, text in (("script", tree.xpath("//script[not(@type)]")[0].text), ("style", tree.xpath("//style")[0].text)):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert len(tree.xpath("//script[not(@type)]")) == len(tree.xpath("//style")) == 1
    assert not tree.xpath("//*[@style]")


def test_the_steps_are_the_steps(page: str):
    """Every sentence of every step, in order, each with a box to tick."""
    tree = html.fromstring(page)
    said = [node.text_content() for node in tree.xpath("//ol[@class='steps']/li//*[@class='sentence']")]
    assert said == [step_sentence(step, WORDS) for step in build_steps(sample())]
    assert len(tree.xpath("//ol[@class='steps']/li//input[@type='checkbox']")) == len(said)


def test_no_address_in_title_or_metadata(page: str):
    """Previews of a chat show the title and the metadata to everybody."""
    tree = html.fromstring(page)
    assert tree.xpath("//title/text()") == ["Route K7"]
    metadata = " ".join(tree.xpath("//meta/@content | //link/@href"))
    assert "Mill Street" not in metadata
    assert "Eastfield" not in metadata
    assert not tree.xpath("//meta[starts-with(@property, 'og:')]")


def test_nothing_of_the_chair_or_rider_is_in_it(page: str):
    """A chair's mass, class and battery say more about a person than a link may."""
    chair = sample().chair
    for secret in (chair.label, chair.chemistry, f"{chair.total_mass_kg:.0f} kg", sample().command):
        assert secret is not None
        assert secret not in page


def test_from_the_corner_nothing_leads_to_the_door(corner_page: str):
    """The door's address and every coordinate of the way before the corner are gone, in words and in the data of the page."""
    itinerary = sample()
    shown, _ = start_at_corner(itinerary, WORDS)
    assert itinerary.start.label not in corner_page
    kept = {place for piece in shown.pieces for place in piece.coordinates}
    hidden = {place for piece in itinerary.pieces for place in piece.coordinates} - kept
    assert hidden
    data = json.loads(html.fromstring(corner_page).xpath("//script[@id='data']/text()")[0])
    door_x = (itinerary.start.lon - data["west"]) * data["perLon"]
    door_y = (data["north"] - itinerary.start.lat) * data["perLat"]
    assert all(((x - door_x) ** 2 + (y - door_y) ** 2) ** 0.5 > LEAST_HIDDEN_M * data["scale"] for x, y, _ in data["way"])


def test_the_corner_route_leaves_nothing_of_the_door_behind(tmp_path: Path):
    """The whole itinerary that twins are made from, written as JSON, does not hold the door's words or place."""
    itinerary = sample()
    shown, _ = start_at_corner(itinerary, WORDS)
    write_itinerary(shown, tmp_path / "route.json")
    text = (tmp_path / "route.json").read_text(encoding="utf-8")
    assert itinerary.start.label not in text
    door = (itinerary.start.lon, itinerary.start.lat)
    assert min(distance_m(door, place) for piece in shown.pieces for place in piece.coordinates) >= LEAST_HIDDEN_M
    assert shown.pieces[0].from_m == 0.0


def test_step_numbers_are_those_of_the_sheet(corner_page: str):
    """Replies such as "K7 B12" name steps by the number on paper: the link may begin later, but must not count anew."""
    whole = {step.number: step_sentence(step, WORDS) for step in build_steps(sample())}
    items = html.fromstring(corner_page).xpath("//ol[@class='steps']/li")
    for item in items[1:]:
        number = int(item.xpath("string(.//*[@class='number'])"))
        said = item.xpath("string(.//*[@class='sentence'])")
        assert said.split(",")[0].rstrip(".") == whole[number].split(",")[0].rstrip(".")  # distances after a landmark may have lost theirs


def test_sums_from_the_corner_by_hand():
    """What was left out is taken off length, time, energy and climb: kept + left out = whole."""
    itinerary = sample()
    shown, _ = start_at_corner(itinerary, WORDS)
    left_out = itinerary.pieces[: len(itinerary.pieces) - len(shown.pieces)]
    metres = sum(piece.to_m - piece.from_m for piece in left_out)
    assert shown.length_m + metres == pytest.approx(itinerary.length_m)
    assert shown.time_s.planned + sum(p.time_s.planned for p in left_out) == pytest.approx(itinerary.time_s.planned)
    assert shown.energy_wh.expected + sum(p.energy_wh.expected for p in left_out) == pytest.approx(itinerary.energy_wh.expected)
    assert shown.soc_start == left_out[-1].soc_after
    assert shown.soc_goal == itinerary.soc_goal


def test_a_way_without_a_corner_is_refused():
    """Better no link than one that says it hides the door and does not."""
    itinerary = sample()
    short = dataclasses.replace(itinerary, pieces=itinerary.pieces[:3], halts=[], points=[], questions=[])
    with pytest.raises(InputError, match="no corner"):
        start_at_corner(short, WORDS)


def test_valid_until_is_shown_and_needs_a_zone():
    """A phone may be in another zone than the dispatcher."""
    from datetime import datetime

    text = link_page(sample(), WORDS, valid_until=datetime.fromisoformat("2026-03-15T06:00:00-03:00"))
    assert "Valid until 06:00 on 2026-03-15" in text
    with pytest.raises(InputError, match="zone"):
        write_link(sample(), Path("never.html"), valid_until="2026-03-15T06:00:00")
    with pytest.raises(InputError, match="ISO 8601"):
        write_link(sample(), Path("never.html"), valid_until="tomorrow")


def test_hostile_names_never_become_markup():
    """As many elements of each kind as the harmless page has."""
    tame, wild = html.fromstring(link_page(sample(), WORDS)), html.fromstring(link_page(hostile(), WORDS))
    for tag in ("script", "img", "style", "a", "i", "title", "input"):
        assert len(wild.xpath(f"//{tag}")) == len(tame.xpath(f"//{tag}")), tag
    assert not wild.xpath("//*[@onerror or @onload or @onclick]")


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=60))
def test_any_name_stays_text(name: str):
    """Whatever a place is called, the page has as many scripts and styles as before."""
    itinerary = sample()
    odd = dataclasses.replace(itinerary, refuges=[dataclasses.replace(itinerary.refuges[0], label=name)])
    text = link_page(odd, WORDS)
    assert text.count("<script") == 2
    assert len(re.findall("<style", text)) == 1


def test_twins_are_written_beside_it(tmp_path: Path):
    """Many gateways strip HTML: the picture comes along, and the sheet if somebody writes one, made of what the link shows."""
    handed: list[str] = []

    def sheet(itinerary, path: Path) -> None:
        handed.append(itinerary.start.label)
        path.write_bytes(b"%PDF-")

    files = write_link(sample(), tmp_path / "k7.html", hide_start=True, sheet=sheet)
    assert [file.name for file in files] == ["k7.html", "k7.png", "k7.pdf"]
    assert sorted(file.name for file in tmp_path.iterdir()) == ["k7.html", "k7.pdf", "k7.png"]
    assert handed == ["the corner on Mill Street"]


def test_same_route_gives_same_bytes():
    """Two runs, one file."""
    assert link_page(sample(), WORDS) == link_page(sample(), WORDS)


def test_the_link_says_what_the_sheet_says_beside_the_steps(pages: dict[str, Path]):
    """Printed, it is the sheet: cautions, drive, charging, a chair that stops, and what else goes wrong, in the same sentences."""
    text = unescape(pages["link"].read_text(encoding="utf-8"))
    words, route = Words(), sample()
    lines = [*trip_cautions(route, words), *always_cautions(route, words), *drive_cautions(words), *charging_cautions(route, words)]

    assert [line for line in [*lines, *transfer_cautions(words)] if line not in text] == []
    for line in ("Joystick wet", "Battery low", "Crossing takes 10 s at this chair's pace.", "Coordinator's number: ____"):
        assert line in text
