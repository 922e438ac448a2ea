"""The map as a file: nothing asks for anything, names are text, the same route gives the same bytes."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import folium
import pytest
from lxml import html
from sample_itinerary import HOSTILE_NAMES, hostile, sample

from rollroute.errors import InputError
from rollroute.output.crowd import Crowd
from rollroute.output.itinerary import Checked
from rollroute.output.map import assets, map_page, write_map
from rollroute.output.map.assets import guard, leaflet_assets
from rollroute.output.map.drawing import draw_scene, scale_bar, standalone
from rollroute.output.map.plane import Plane
from rollroute.output.map.scene import set_scene
from rollroute.output.map.script_json import script_json
from rollroute.output.words import Words
from rollroute.output.words.known import fact_row
from rollroute.weights.fact import Fact

WORDS = Words()
WAY = [place for piece in sample().pieces for place in piece.coordinates]


@pytest.fixture(scope="module")
def page() -> str:
    """The sample's map."""
    return map_page(sample(), WORDS)


def test_it_is_a_folium_map_without_foreign_files():
    """Folium's own lists name ten files on other servers; ours are empty."""
    from rollroute.output.map.offline import OfflineMap

    assert issubclass(OfflineMap, folium.Map)
    assert OfflineMap.default_js == OfflineMap.default_css == []


def test_no_element_points_outside(page: str):
    """No src, no stylesheet, no import: the only addresses are links that a person would follow, and data: URIs."""
    tree = html.fromstring(page)
    assert [e.get("src") for e in tree.iter() if e.get("src") and not e.get("src").startswith("data:")] == []
    assert [e.get("href") for e in tree.iter("link") if not e.get("href").startswith("data:")] == []
    styles = "".join(e.text or "" for e in tree.iter("style"))
    assert "@import" not in styles
    assert all(url.startswith(("data:", "#")) for url in re.findall(r"url\(['\"]?([^'\")]*)", styles))


def test_the_content_policy_refuses_every_request(page: str):
    """default-src 'none', scripts and styles by nonce only, no 'unsafe-inline' (CSP Level 3)."""
    policy = html.fromstring(page).xpath("//meta[@http-equiv='Content-Security-Policy']/@content")[0]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "http" not in policy
    nonces = set(re.findall(r"'nonce-([0-9a-f]{32})'", policy))
    assert len(nonces) == 1
    tags = html.fromstring(page).xpath("//script | //style")
    assert {tag.get("nonce") for tag in tags} == nonces


def test_the_title_is_the_code_only(page: str):
    """No address in title or metadata: a file name and a tab are seen by others."""
    tree = html.fromstring(page)
    assert tree.xpath("//title/text()") == ["Route K7"]
    metadata = " ".join(tree.xpath("//meta/@content"))
    for label in (sample().start.label, sample().goal.label):
        assert label not in metadata


def test_command_and_mass_stay_out(page: str):
    """The command names the start; the mass of chair and rider is nobody's business on a map."""
    assert sample().command not in page
    assert sample().command not in html.fromstring(page).text_content()
    assert "235 kg" not in page
    assert sample().chair.label not in page


def test_same_route_gives_same_bytes():
    """Folium names its elements at random; ours are counted. The nonce hangs on the content."""
    assert map_page(sample(), WORDS) == map_page(sample(), WORDS)
    other = dataclasses.replace(sample(), code="K8")
    assert re.search("nonce-([0-9a-f]+)", map_page(other, WORDS))[1] != re.search("nonce-([0-9a-f]+)", map_page(sample(), WORDS))[1]  # type: ignore[index]


def test_hostile_names_never_become_markup():
    """As many scripts as the harmless page, and no element that a name brought along."""
    tame, wild = html.fromstring(map_page(sample(), WORDS)), html.fromstring(map_page(hostile(), WORDS))
    for tag in ("script", "img", "style", "a", "i"):
        assert len(wild.xpath(f"//{tag}")) == len(tame.xpath(f"//{tag}")), tag
    assert not wild.xpath("//*[@onerror or @onload or @onclick]")


@pytest.mark.parametrize("name", [*HOSTILE_NAMES, "<!--<script>", "\u2028\u2029", "]]>"])
def test_json_in_a_script_can_not_end_it(name: str):
    """The HTML standard ends a script at "</script" and hides ends behind "<!--": neither may appear. JSON reads back the same."""
    text = str(script_json({"name": name}))
    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == {"name": name}


def test_every_piece_says_all_it_knows():
    """Clicking a piece shows each fact with its rank, and says of what is missing that it is not known."""
    scene = set_scene(sample(), WORDS)
    rows = {what: (value, rank) for what, value, rank in scene.piece_rows[0][1]}
    assert rows["Width"][0] == "not known"
    assert rows["Grade"][0] == "not known"
    rows = {what: (value, rank) for what, value, rank in scene.piece_rows[8][1]}
    assert rows["Grade"][0] == "6.2 ± 1.0 % up"
    assert rows["Verdict"][0] == "not verified"


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_what_strangers_wrote_about_a_piece_stays_text(name: str):
    """Tags of a way are shown to whoever opens a piece; they can't end the script that carries them."""
    route = sample()
    fact = Fact(what="map", kind="text", text=f"name={name}")
    route = dataclasses.replace(route, pieces=[dataclasses.replace(piece, facts=[fact]) for piece in route.pieces])
    text = map_page(route, WORDS)
    assert "name=" in text
    assert name not in text or not set(name) & set("<>&\u2028\u202e")


def test_facts_stand_in_the_readers_words():
    """12 kg in pounds, 83 mm in inches, a grade with its error, an unknown height said to be unknown, a verdict with its reasons."""
    spanish, american = Words("es"), Words(units="us")
    assert fact_row(Fact(what="mass_limit", kind="mass", figure=12.0, source="map"), american) == ("Carries", "26 lb", "map")
    assert fact_row(Fact(what="height", kind="small_length", figure=0.083, at="node/7"), american)[:2] == ("Height (node/7)", "3.3 in")
    assert fact_row(Fact(what="ramp_grade", kind="grade", figure=0.0815, spread=0.004), WORDS)[1] == "8.2 ± 0.4 %"
    assert fact_row(Fact(what="height", kind="small_length"), spanish)[:2] == ("Altura", "no se sabe")
    assert fact_row(Fact(what="this_way", kind="reasons", text="width,kerb"), WORDS)[1] == "too narrow, kerb too high"
    doubtful = fact_row(Fact(what="this_way", kind="questions", text="kerb", figure=0.004, source="assumption"), WORDS)
    assert doubtful == ("This way", "not verified: Kerb: height not known. Chance that it stops the chair: under 1 %", "assumption")


def test_the_legend_explains_what_is_drawn_and_nothing_else(page: str):
    """A route without charging has no socket in its legend."""
    legend = html.fromstring(page).xpath("string(//details[@class='legend'])")
    assert "Charging stop" in legend
    bare = dataclasses.replace(sample(), halts=[], hazards=[])
    legend = html.fromstring(map_page(bare, WORDS)).xpath("string(//details[@class='legend'])")
    assert "Charging stop" not in legend
    assert "Hazard" not in legend


def test_credit_and_dates_are_on_the_page(page: str):
    """ODbL asks for the credit; the reader needs the dates of data and map."""
    credit = html.fromstring(page).xpath("string(//*[@class='credit'])")
    assert credit == "© OpenStreetMap contributors · data 2026-03-01 · map 2026-03-14"


def test_without_a_program_the_picture_and_the_steps_are_there(page: str):
    """Mail and chat previews run no scripts."""
    tree = html.fromstring(page)
    assert tree.xpath("//noscript//svg[@role='img']")
    assert len(tree.xpath("//li[@class='step']")) > 10


def test_spanish_page_says_so():
    """A screen reader chooses its voice by the language of the page."""
    tree = html.fromstring(map_page(sample(), Words(language="es")))
    assert tree.get("lang") == "es"
    assert tree.xpath("string(//details/summary)") == Words(language="es").say("Legend") != "Legend"


def test_the_file_is_small_enough_to_send(page: str):
    """Leaflet weighs about 150 kB; the rest must not weigh more (ours, for a 1.7 km route with its ground)."""
    assert len(page.encode()) < 400_000


def test_written_complete_or_not_at_all(tmp_path: Path):
    """No half file is left where a dispatcher would send it."""
    write_map(sample(), tmp_path / "route.html")
    assert [file.name for file in tmp_path.iterdir()] == ["route.html"]


def test_leaflet_stands_complete_with_its_licence():
    """The images are inside, the licence header too, and nothing is fetched by developer tools."""
    leaflet = leaflet_assets()
    assert "Leaflet 1.9" in leaflet.script[:200]
    assert "sourceMappingURL" not in leaflet.script + leaflet.style
    assert "url(images" not in leaflet.style
    assert leaflet.icon.startswith("data:image/png;base64,")


def test_a_missing_leaflet_is_told(monkeypatch: pytest.MonkeyPatch):
    """What is missing, and what to do about it."""
    monkeypatch.setattr(assets, "DISTRIBUTION", "no-such-distribution")
    assets.leaflet_assets.cache_clear()
    with pytest.raises(InputError, match="pip install"):
        assets.leaflet_assets()
    monkeypatch.undo()
    assets.leaflet_assets.cache_clear()


def test_guarded_text_can_not_close_its_element():
    """Inlined programs may hold the letters that end a script."""
    assert "</script" not in guard("a</script>b").lower()
    assert "</STYLE" not in guard("a</STYLE>b")


def test_plane_keeps_distances():
    """One scale in both directions: 100 m east and 100 m north are as many pixels, by pyproj's geodesic within 0.5 %."""
    from pyproj import Geod

    plane = Plane.around(WAY, width=640, margin=50)
    geod = Geod(ellps="WGS84")
    lon, lat = WAY[0]
    for azimuth in (0, 90):
        far = geod.fwd(lon, lat, azimuth, 500)[:2]
        (x0, y0), (x1, y1) = plane.at((lon, lat)), plane.at(far)
        assert abs(x1 - x0) + abs(y1 - y0) == pytest.approx(500 * plane.scale, rel=0.005, abs=0.3)


def test_the_scale_bar_is_as_long_as_it_says():
    """200 m in words are 200 m of the drawing; in feet likewise."""
    plane = Plane.around(WAY, width=640, margin=50)
    pixels, text = scale_bar(plane, Words())
    assert pixels / plane.scale == pytest.approx(float(text.split()[0]))
    pixels, text = scale_bar(plane, Words(units="us"))
    assert pixels / plane.scale / 0.3048 == pytest.approx(float(text.split()[0]))


def test_words_do_not_lie_on_words():
    """A box that meets another or leaves the page is refused."""
    crowd = Crowd(100, 100)
    assert crowd.claim(50, 50, 20, 20)
    assert not crowd.claim(60, 60, 20, 20)
    assert crowd.claim(80, 50, 20, 20)
    assert not crowd.is_free(95, 10, 20, 10)


def test_drawing_holds_every_question_and_no_foreign_markup():
    """The still picture is all that some readers get."""
    itinerary = hostile()
    plane = Plane.around(WAY, width=640, margin=50)
    drawing = html.fragment_fromstring(draw_scene(set_scene(itinerary, WORDS), WORDS, plane), create_parent="svg")
    assert {e.tag for e in drawing.iter()} <= {"svg", "g", "path", "rect", "circle", "text", "defs", "pattern"}
    numbers = [text for text in drawing.xpath("//text[contains(@class,'t')]/text()") if text.isdigit()]
    assert sorted(int(number) for number in numbers) == [question.number for question in itinerary.questions]


def test_a_standalone_drawing_needs_no_custom_property():
    """The typesetter that makes the picture knows neither var() nor calc(): none may be left, in either theme."""
    plane = Plane.around(WAY, width=640, margin=50)
    inside = draw_scene(set_scene(sample(), WORDS), WORDS, plane)
    for theme in ("light", "dark"):
        text = standalone(inside, plane, theme)
        assert "var(" not in text
        assert "calc(" not in text


def test_a_checkpoint_speaks_in_the_gauge_s_own_words():
    """A gauge of bars shows no per cent: map and link ask for the same reading as the sheet, the least that promises the charge."""
    itinerary = sample()
    rows = [mark.rows[0][1] for mark in set_scene(itinerary, WORDS).marks if mark.kind == "checkpoint"]
    for said, check in zip(rows, itinerary.checkpoints, strict=True):
        assert WORDS.gauge_at_least(check.least_soc, itinerary.chair) in said
        assert "%" not in said


def test_the_page_says_what_chances_rest_on():
    """An assumption and ten checks are not the same: how firm, and what checks in the town have moved."""
    row = Checked(fact="kerb", place="end of a crossing", good=1, bad=3, before=0.2, after=4 / 9)
    plain_page = map_page(dataclasses.replace(sample(), prior_checks=5.0), WORDS)
    moved = map_page(dataclasses.replace(sample(), prior_checks=5.0, checked=[row]), WORDS)

    assert "each as firm as 5 checks would make it" in plain_page
    assert "checks here were bad" not in plain_page
    assert "Kerb: height not known: 3 of 4 checks here were bad; the chance was 20 %, now it is 44 %." in moved
