"""Page and map of a move in a real browser: no request, no error, readable for everybody, on paper and without a program."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from move_papers import Papers

pytestmark = pytest.mark.browser
SMALL_PHONE, PHONE, DESKTOP = (320, 640), (390, 844), (1280, 800)
SCREENS = [(SMALL_PHONE, "dark"), (DESKTOP, "light")]
NAMES = [f"{size[0]}-{scheme}" for size, scheme in SCREENS]
FILES = ("index.html", "move-map.html")
WCAG = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}, "resultTypes": ["violations"]}
Visit = Callable[..., Any]


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("which", ["town", "hostile"])
def test_nothing_is_asked_of_anybody(request: pytest.FixtureRequest, visit: Visit, which: str, name: str):
    """Zero requests, zero console errors, no dialog from any name; on a dark phone and a light desk."""
    papers: Papers = request.getfixturevalue(which)
    for size, scheme in SCREENS:
        seen = visit(papers.folder / name, size, scheme)
        seen.page.wait_for_timeout(150)
        assert seen.external == []
        assert seen.errors == []
        assert seen.dialogs == []


@pytest.mark.parametrize(("size", "scheme"), SCREENS, ids=NAMES)
@pytest.mark.parametrize("name", FILES)
def test_no_violation_of_wcag(town: Papers, visit: Visit, name: str, size: tuple[int, int], scheme: str):
    """Axe-core finds nothing against WCAG 2.2 A and AA, with everything folded open."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed").Axe()
    page = visit(town.folder / name, size, scheme).page
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    found = axe.run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE, DESKTOP], ids=str)
@pytest.mark.parametrize(("which", "name"), list(itertools.product(("town", "hostile"), FILES)))
def test_nothing_is_wider_than_the_screen(request: pytest.FixtureRequest, visit: Visit, which: str, name: str, size: tuple[int, int]):
    """WCAG 2.2, 1.4.10: at 320 px nobody scrolls the page sideways; wide tables scroll by themselves, by keyboard too."""
    papers: Papers = request.getfixturevalue(which)
    page = visit(papers.folder / name, size).page
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    wide = page.evaluate(
        "[...document.querySelectorAll('*')].filter((e) => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX === 'auto'"
        " && e.tabIndex < 0).map((e) => e.outerHTML.slice(0, 80))"
    )
    assert wide == []


def test_who_is_not_served_is_seen_without_scrolling(town: Papers, visit: Visit):
    """On a desk and on a phone, the first card begins on the first screen."""
    for size in (PHONE, DESKTOP):
        page = visit(town.folder / "index.html", size).page
        assert page.locator("#left .card").first.bounding_box()["y"] < size[1]


def test_the_page_needs_no_program(town: Papers, visit: Visit):
    """With scripts off, everything of the page is there; and the map shows its still picture and its list."""
    page = visit(town.folder / "index.html", DESKTOP, java_script_enabled=False).page
    assert page.locator("svg.timeline").count() >= 4
    assert page.locator("svg.townmap").is_visible()
    still = visit(town.folder / "move-map.html", DESKTOP, java_script_enabled=False).page
    assert still.locator("noscript svg.townmap, svg.townmap").first.is_visible()
    assert still.get_by_text("Everybody and everything").is_visible()


def test_on_paper_everything_of_use_is_open_and_nothing_else(town: Papers, visit: Visit, tmp_path: Path):
    """Printed: reasons are unfolded, the long tail of questions stays off, links are no blue; the PDF has a few pages, not thirty."""
    import pikepdf

    page = visit(town.folder / "index.html", DESKTOP).page
    page.emulate_media(media="print")
    assert page.locator("#left details li").first.is_visible()
    assert not page.locator("#calls details").first.is_visible()
    assert not page.locator("nav").is_visible()
    page.pdf(path=str(tmp_path / "page.pdf"), format="A4")
    with pikepdf.open(tmp_path / "page.pdf") as pdf:
        assert len(pdf.pages) <= 12


def test_marks_of_the_map_open_by_keyboard(town: Papers, visit: Visit):
    """Tab reaches a rider, Enter opens the card, Escape closes it, the focus is back."""
    page = visit(town.folder / "move-map.html", DESKTOP).page
    mark = page.locator(".mark-left").first
    title = mark.get_attribute("aria-label")
    mark.press("Enter")
    card = page.get_by_role("dialog")
    assert card.get_attribute("aria-label") == title
    page.keyboard.press("Escape")
    assert card.count() == 0
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == title


def test_a_van_can_be_switched_off_and_a_place_be_shown(town: Papers, visit: Visit):
    """The box of a van hides its tour and its riders; "Show" brings a place to the middle and opens it, also one that is hidden."""
    page = visit(town.folder / "move-map.html", DESKTOP).page
    tours = page.locator("path.move-tour")
    before = tours.count()
    page.get_by_role("checkbox", name="van V1").uncheck()
    assert tours.count() < before
    page.get_by_role("checkbox", name="van V1").check()
    assert tours.count() == before
    page.get_by_role("button", name="Show").first.click()
    assert page.get_by_role("dialog").is_visible()


def test_two_riders_at_one_door_are_both_seen(town: Papers, visit: Visit):
    """R08 and R09 wait at Tannery Hall, a shelter: three marks of one place, none on top of another."""
    page = visit(town.folder / "move-map.html", DESKTOP).page
    names = ("R08", "R09", "Tannery Hall")
    boxes = [page.locator(".leaflet-marker-pane .mark-icon", has_text=name).first.bounding_box() for name in names]
    middles = sorted(box["y"] + box["height"] / 2 for box in boxes)
    assert min(b - a for a, b in itertools.pairwise(middles)) >= 24


def test_hostile_marks_say_their_names_as_text(hostile: Papers, visit: Visit):
    """Every mark of the hostile map is opened: the attack is read, and nothing happens."""
    seen = visit(hostile.folder / "move-map.html", DESKTOP)
    marks = seen.page.locator(".leaflet-marker-pane [role=button]")
    assert marks.count() >= 4
    for n in range(marks.count()):
        marks.nth(n).dispatch_event("keydown", {"key": "Enter", "bubbles": True})
        assert "alert(2)" in seen.page.get_by_role("dialog").inner_text()
    assert seen.dialogs == []
    assert seen.errors == []
    assert seen.external == []
