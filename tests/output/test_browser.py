"""Map and link in a real browser: no request, no error, every mark by keyboard, nothing hostile alive, readable for everybody."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sample_itinerary import sample

from rollroute.output.steps import build_steps

pytestmark = pytest.mark.browser
PHONE, SMALL_PHONE, DESKTOP = (390, 844), (320, 640), (1280, 800)
PAGES = ("map", "link")
SCREENS = list(itertools.product((SMALL_PHONE, PHONE, DESKTOP), ("light", "dark")))
NAMES = [f"{size[0]}-{scheme}" for size, scheme in SCREENS]
# Axe-core's names for the rules of WCAG 2.0 to 2.2, levels A and AA.
WCAG = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}, "resultTypes": ["violations"]}


@pytest.mark.parametrize("name", [*PAGES, "hostile_map", "hostile_link", "corner_link", "spanish_map"])
def test_nothing_is_asked_of_anybody(pages: dict[str, Path], visit: Callable[..., Any], name: str):
    """Zero requests and zero console errors on phone and desktop, with light and dark pages."""
    for size, scheme in SCREENS:
        seen = visit(pages[name], size, scheme)
        seen.page.wait_for_timeout(150)
        assert seen.external == []
        assert seen.errors == []
        assert seen.dialogs == []


def test_the_policy_would_stop_a_request(pages: dict[str, Path], visit: Callable[..., Any]):
    """The zero above is enforced, not hoped for: a planted image and a planted inline script are both refused."""
    for name in PAGES:
        seen = visit(pages[name])
        seen.page.evaluate("""() => {
            const image = document.createElement('img'); image.src = 'https://example.invalid/x.png'; document.body.append(image);
            document.body.insertAdjacentHTML('beforeend', '<img src="data:," onerror="window.planted = 1">');
        }""")
        seen.page.wait_for_timeout(200)
        assert seen.page.evaluate("window.planted") is None
        assert any("Content Security Policy" in error for error in seen.errors)


@pytest.mark.parametrize(("size", "scheme"), SCREENS, ids=NAMES)
@pytest.mark.parametrize("name", PAGES)
def test_no_violation_of_wcag(pages: dict[str, Path], visit: Callable[..., Any], name: str, size: tuple[int, int], scheme: str):
    """Axe-core finds nothing against WCAG 2.2 A and AA, with the legend open and a mark opened."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed").Axe()
    page = visit(pages[name], size, scheme).page
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    _marks(page, name, "Charging stop").first.press("Enter")
    found = axe.run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE, DESKTOP], ids=str)
@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_wider_than_the_screen(pages: dict[str, Path], visit: Callable[..., Any], name: str, size: tuple[int, int]):
    """WCAG 2.2, 1.4.10: at 320 px nobody scrolls sideways."""
    page = visit(pages[name], size).page
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("name", PAGES)
def test_the_legend_opens_by_keyboard(pages: dict[str, Path], visit: Callable[..., Any], name: str):
    """Found by its word, opened with Enter, and it names the charging stop."""
    page = visit(pages[name], PHONE).page
    summary = page.locator("details.legend > summary")
    assert summary.inner_text() == "Legend"
    summary.press("Enter")
    assert page.locator("details.legend").get_attribute("open") is not None
    assert page.get_by_text("Charging stop: charge on arrival").is_visible()


@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE, DESKTOP], ids=str)
def test_a_charging_stop_opens_by_keyboard_on_the_map(pages: dict[str, Path], visit: Callable[..., Any], size: tuple[int, int]):
    """Tab reaches it, Enter opens it, the card has the charge in words, Escape closes it and the focus is back on the mark."""
    page = visit(pages["map"], size).page
    for _ in range(60):
        page.keyboard.press("Tab")
        if (page.evaluate("document.activeElement.getAttribute('aria-label')") or "").startswith("Charging stop"):
            break
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Charging stop: Old Station Library"
    page.keyboard.press("Enter")
    card = page.get_by_role("dialog")
    assert "2 outlets, 15 A circuit, generator" in card.inner_text()
    assert "18:40" in card.inner_text()
    assert page.evaluate("document.activeElement.tagName") == "H3"
    page.keyboard.press("Escape")
    assert card.count() == 0
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Charging stop: Old Station Library"


def test_a_charging_stop_opens_by_keyboard_on_the_link(pages: dict[str, Path], visit: Callable[..., Any]):
    """The same on the small page."""
    page = visit(pages["link"], PHONE).page
    mark = page.get_by_role("button", name="Charging stop: Old Station Library")
    mark.press("Enter")
    card = page.locator("#card")
    assert "2 outlets, 15 A circuit, generator" in card.inner_text()
    page.keyboard.press("Escape")
    assert card.is_hidden()
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Charging stop: Old Station Library"


def test_every_question_is_a_mark_with_its_number(pages: dict[str, Path], visit: Callable[..., Any]):
    """What is not known must be reachable, one mark for each question, on both pages."""
    for name in PAGES:
        page = visit(pages[name], DESKTOP).page
        for question in sample().questions:
            assert _marks(page, name, f"{question.number}: ").count() == 1, question.number


def test_a_piece_of_the_way_says_what_is_known(pages: dict[str, Path], visit: Callable[..., Any]):
    """A click on the way opens the facts of the piece under it, with their ranks."""
    page = visit(pages["map"], DESKTOP).page
    page.get_by_role("button", name="Show step 5 on the map").click()
    card = page.get_by_role("dialog").inner_text()
    assert "Chandler Lane" in card
    assert "4.5 ± 1.0 % up" in card
    assert "(survey)" in card
    page.keyboard.press("Escape")
    box = page.locator(".folium-map").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2 + 1, box["y"] + box["height"] / 2 - 40)  # 40 px up the lane, which runs north
    assert "Chandler Lane" in page.get_by_role("dialog").inner_text()


def test_every_piece_of_the_way_is_reached_without_a_mouse(pages: dict[str, Path], visit: Callable[..., Any]):
    """From the first step one key after another leads along the way; closing leads back to the step. Narrow screen."""
    page = visit(pages["map"], PHONE).page
    page.get_by_role("button", name="Show step 1 on the map").press("Enter")
    titles = []
    for _ in sample().pieces:
        dialog = page.get_by_role("dialog")
        titles.append(dialog.get_attribute("aria-label"))
        assert page.evaluate("document.activeElement.closest('[role=dialog]') !== null")
        after = dialog.get_by_role("button", name="The piece after")
        if after.count():
            after.press("Enter")
    assert len(titles) == len(sample().pieces)
    assert page.get_by_role("dialog").get_by_role("button", name="The piece after").count() == 0
    assert page.get_by_role("dialog").get_by_role("button", name="The piece before").count() == 1
    page.get_by_role("dialog").get_by_role("button", name="Close").click(trial=True, timeout=3000)  # nothing lies over it
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Show step 1 on the map"


def test_hostile_names_do_nothing(pages: dict[str, Path], visit: Callable[..., Any]):
    """Every mark of the hostile pages is opened: no dialog, no error, and the names stand there as text."""
    for name in ("hostile_map", "hostile_link"):
        seen = visit(pages[name], DESKTOP)
        page = seen.page
        marks = page.locator(".leaflet-marker-pane [role=button]") if name == "hostile_map" else page.locator("svg.route [role=button]")
        text = ""
        for n in range(marks.count()):
            marks.nth(n).dispatch_event("keydown", {"key": "Enter", "bubbles": True})
            text += (page.get_by_role("dialog") if name == "hostile_map" else page.locator("#card")).inner_text()
        assert "<script>alert(9)</script>" in text
        assert "${x}`" in text
        assert seen.dialogs == []
        assert seen.errors == []
        assert seen.external == []


def test_the_ground_is_drawn_in_both_themes(pages: dict[str, Path], visit: Callable[..., Any]):
    """The canvas under the way is not empty, and it is dark when the reader's system is."""
    brightness = {}
    for scheme in ("light", "dark"):
        page = visit(pages["map"], DESKTOP, scheme).page
        values = page.evaluate("""() => {
            const canvas = document.querySelector('.leaflet-overlay-pane canvas');
            const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            let count = 0, sum = 0;
            for (let n = 0; n < data.length; n += 4) if (data[n + 3] > 200) { count += 1; sum += data[n] + data[n + 1] + data[n + 2]; }
            return [count, sum / 3 / count];
        }""")
        assert values[0] > 5000
        brightness[scheme] = values[1]
    assert brightness["light"] > 150 > 100 > brightness["dark"]


def test_levels_of_a_building_can_be_chosen(pages: dict[str, Path], visit: Callable[..., Any]):
    """Choosing the upper floor shows its room and fades the way on the ground floor."""
    page = visit(pages["map"], DESKTOP).page
    page.get_by_label("floor 1").check()
    assert page.locator("path.room").count() == 1
    assert page.get_by_text("Room 2.04", exact=True).count() == 1
    assert page.locator("path.faded").count() > 0
    page.get_by_label("Outdoors").check()
    assert page.locator("path.room").count() == page.locator("path.faded").count() == 0


def test_zoomed_in_nothing_small_is_hidden_for_ever(pages: dict[str, Path], visit: Callable[..., Any]):
    """Marks left out for lack of room come back when there is room."""
    page = visit(pages["map"], PHONE).page
    hidden = page.locator(".leaflet-marker-pane .mark-icon[hidden]").count()
    assert hidden > 0
    for _ in range(4):
        page.get_by_role("button", name="Zoom in").click()
    assert page.locator(".leaflet-marker-pane .mark-icon[hidden]").count() < hidden


@pytest.mark.parametrize("name", PAGES)
def test_without_a_program_steps_and_picture_are_there(pages: dict[str, Path], visit: Callable[..., Any], name: str):
    """JavaScript off, as in many previews: the picture is visible, and so is every step."""
    page = visit(pages[name], PHONE, java_script_enabled=False).page
    assert page.locator("svg.picture, svg.route").first.is_visible()
    assert page.locator("ol").first.locator("> li").count() == len(build_steps(sample()))
    assert page.locator("ol").first.locator("> li").last.is_visible()
    assert not page.get_by_role("button").first.is_visible() if page.get_by_role("button").count() else True


def test_steps_tick_off_and_stay_ticked(pages: dict[str, Path], visit: Callable[..., Any]):
    """A phone that reloads the page must not lose the place; a new tab begins anew, since nothing is kept beyond the tab."""
    seen = visit(pages["link"], PHONE)
    first = seen.page.locator(".steps input").first
    first.check()
    seen.page.reload()
    assert seen.page.locator(".steps input").first.is_checked()
    assert seen.page.evaluate("localStorage.length") == 0
    assert not visit(pages["link"], PHONE).page.locator(".steps input").first.is_checked()


def _at(index: int) -> dict[str, float]:
    lon, lat = sample().pieces[index].coordinates[1]
    return {"latitude": lat, "longitude": lon, "accuracy": 8.0}


def test_where_am_i_works_over_https_only(pages: dict[str, Path], visit: Callable[..., Any]):
    """Over HTTPS the page says how far along the way the reader is; from a file there is no such button."""
    assert visit(pages["link"], PHONE).page.get_by_role("button", name="Where am I?").count() == 0
    piece = sample().pieces[6]
    seen = visit(pages["link"], PHONE, url="https://link.example/k7", geolocation=_at(6), permissions=["geolocation"])
    seen.page.get_by_role("button", name="Where am I?").click()
    status = seen.page.locator("#here")
    status.get_by_text("along the way").wait_for()
    metres = round((piece.from_m + piece.to_m) / 2 / 5) * 5
    next_step = next(step for step in build_steps(sample()) if step.at_m > (piece.from_m + piece.to_m) / 2)
    assert f"About {metres} m along the way. Step {next_step.number} begins in" in status.inner_text()
    assert "Position good to 10 m." in status.inner_text()
    assert seen.page.locator(".here-mark").count() == 2
    assert seen.external == []


def test_far_from_the_way_it_says_how_far(pages: dict[str, Path], visit: Callable[..., Any]):
    """500 m south of (195, 25) is (195, -475); the nearest place of the way is (130, 12): sqrt(65^2 + 487^2) = 491 m, said as 490 m."""
    place = _at(6) | {"latitude": _at(6)["latitude"] - 500 / 111_140}
    seen = visit(pages["link"], PHONE, url="https://link.example/k7", geolocation=place, permissions=["geolocation"])
    seen.page.get_by_role("button", name="Where am I?").click()
    seen.page.locator("#here").get_by_text("away from the way").wait_for()
    assert "About 490 m away" in seen.page.locator("#here").inner_text()


def test_an_expired_link_says_so(pages: dict[str, Path], visit: Callable[..., Any], tmp_path: Path):
    """Yesterday's way may be under water."""
    old = tmp_path / "old.html"
    old.write_text(pages["link"].read_text(encoding="utf-8").replace("2099-03-15", "2020-03-15"), encoding="utf-8")
    assert visit(old, PHONE).page.locator(".valid").inner_text() == "This link is no longer valid. Ask for a new one."


def test_moving_and_zooming_the_link_keeps_marks_their_size(pages: dict[str, Path], visit: Callable[..., Any]):
    """Zoomed in, the drawing grows but a mark does not; the arrow keys move it, 0 shows the whole again."""
    page = visit(pages["link"], PHONE).page
    mark = page.get_by_role("button", name="Charging stop: Old Station Library").locator("rect").nth(1)
    whole, before = page.locator("svg.route").get_attribute("viewBox"), mark.bounding_box()
    page.get_by_role("button", name="Zoom in").click()
    assert mark.bounding_box()["width"] == pytest.approx(before["width"], rel=0.02)
    assert float(page.locator("svg.route").get_attribute("viewBox").split()[2]) < float(whole.split()[2])
    page.locator(".window").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("0")
    assert page.locator("svg.route").get_attribute("viewBox") == whole


def test_print_shows_every_step_with_a_box(pages: dict[str, Path], visit: Callable[..., Any]):
    """Printing the link gives a sheet: no buttons, steps with boxes, dark ink on light paper even for a dark screen."""
    page = visit(pages["link"], PHONE, "dark").page
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate("getComputedStyle(document.querySelector('svg.route')).getPropertyValue('--k')") == "1"  # not a phone's big marks
    page.emulate_media(media="print", color_scheme="dark")
    assert not page.get_by_role("button", name="Whole route").is_visible()
    assert page.locator(".steps input").last.is_visible()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(17, 17, 17)"


def _marks(page: Any, name: str, begins: str) -> Any:
    pane = ".leaflet-marker-pane" if name == "map" else "svg.route"
    return page.locator(f"{pane} [role=button][aria-label^={json.dumps(begins)}]")
