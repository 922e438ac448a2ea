"""The bars, held by the very files that ``rollroute demo`` writes: sizes, no request, no error, readable for everybody, no address."""

from __future__ import annotations

import gzip
import itertools
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pdfplumber
import pikepdf
import pytest
from PIL import Image

from rollroute.assembly import Asked, find_itinerary
from rollroute.demo import EVENING, STORIES, run_demo
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.output.itinerary import read_itinerary
from rollroute.output.link import MARGIN_PX, WIDTH_PX, write_link
from rollroute.output.map.plane import Plane
from rollroute.output.sheet import write_sheet
from rollroute.output.steps import build_steps
from rollroute.output.words import Words
from rollroute.output.words.sentences import step_sentence

TOWN = data_dir() / "quillhaven"
FOLDERS = [story.folder for story in STORIES]
PHONE, SMALL_PHONE, DESKTOP = (390, 844), (320, 640), (1280, 800)
PAGES = ("route.html", "link.html")
SCREENS = [*itertools.product((SMALL_PHONE, DESKTOP), ("light", "dark")), (PHONE, "dark")]
WCAG = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}, "resultTypes": ["violations"]}


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's folder, written once."""
    folder = tmp_path_factory.mktemp("demo")
    list(run_demo(folder, Words()))
    return folder


@pytest.mark.parametrize("folder", FOLDERS)
def test_what_is_sent_is_small(demo: Path, folder: str):
    """Issue bars for a route of about 2 km: page under 600 kB (220 kB as sent, gzip), PDF under 300 kB, picture as small as the PDF."""
    page = (demo / folder / "link.html").read_bytes()

    assert len(page) < 600_000
    assert len(gzip.compress(page)) < 220_000
    assert (demo / folder / "link.pdf").stat().st_size < 300_000
    assert (demo / folder / "link.png").stat().st_size <= 300_000
    assert (demo / folder / "sheet.pdf").stat().st_size < 300_000


@pytest.mark.parametrize(("folder", "most"), [("over-the-river", 3), ("with-a-charge", 4)])
@pytest.mark.parametrize(("paper", "language", "units"), [("a4", "en", "metric"), ("letter", "en", "us"), ("a4", "es", "metric")])
def test_pages_are_few(demo: Path, tmp_path: Path, folder: str, most: int, paper: str, language: str, units: str):
    """2.3 km, 16 steps and 14 open questions on three pages; 3.1 km with a charge and 32 steps on two leaves, printed on both sides."""
    itinerary = read_itinerary(demo / folder)
    write_sheet(itinerary, tmp_path / "s.pdf", words=Words(language=language, units=units), paper=paper, phone="555 0100")
    with pikepdf.open(tmp_path / "s.pdf") as pdf:
        assert len(pdf.pages) <= most


def test_a_way_with_few_questions_is_one_leaf(tmp_path: Path, quillhaven: Network):
    """1.3 km over the bundled town, 13 steps, 3 open questions: front and back of one leaf, with everything on it, in letters as large."""
    asked = Asked(
        start="Tannery Hall", goal="North Quay School", chair_name=str(TOWN / "demo-chair.toml"), charge="5 of 5 bars", temperature_c=6.0,
        shelters=TOWN / "shelters.csv", hazards=TOWN / "hazards.geojson",
    )  # fmt: skip
    itinerary = find_itinerary(quillhaven, asked, now=EVENING)
    write_sheet(itinerary, tmp_path / "s.pdf", words=Words())
    with pdfplumber.open(tmp_path / "s.pdf") as document:
        text = " ".join(column_text(page) for page in document.pages)
        sizes = {round(c["size"], 1) for page in document.pages for c in page.chars}
        n_pages = len(document.pages)

    assert n_pages == 2
    assert all(f"{step.number}. {step_sentence(step, Words())}" in text for step in build_steps(itinerary))
    assert all(f"◇{question.number}" in text for question in itinerary.questions)
    assert "promise: look before every step" in text
    assert 12.0 in sizes
    assert 16.0 in sizes


def column_text(page: Any) -> str:
    """The words of a page in two columns, the left one first, a space between any two; those on its maps are smaller and left out."""
    body = page.filter(lambda drawn: drawn["object_type"] == "char" and drawn["size"] > 11.0)
    words = sorted(body.extract_words(), key=lambda w: (w["x0"] > page.width / 2, round(w["bottom"]), w["x0"]))
    return " ".join(w["text"] for w in words).replace("\u00a0", " ")


def test_page_one_decides_and_page_two_walks(demo: Path):
    """Page 1: yes, who, cautions and the whole map; page 2: every step of the shorter story and the checkpoints."""
    itinerary = read_itinerary(demo / "over-the-river")
    steps = build_steps(itinerary)
    with pdfplumber.open(demo / "over-the-river" / "sheet.pdf") as document:
        first, second = (column_text(page) for page in document.pages[:2])

    assert all(heading in first for heading in ("The rider decides", "Who goes where, and when", "Cautions for this trip", "Overview"))
    assert "National Grid, 24T XR." in first  # the end of the map's legend
    assert all(f"{step.number}. " in second for step in steps)
    assert "You have arrived" in second
    assert "Checkpoints: read the gauge" in second
    after = second[second.index("Checkpoints: read the gauge") :]
    assert all(Words().distance(check.at_m) in after.replace("\u00a0", " ") for check in itinerary.checkpoints)


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_address_stands_in_a_title_or_in_metadata(demo: Path, folder: str):
    """Titles show in task bars, histories and search results; the front door belongs on the page at most."""
    itinerary = read_itinerary(demo / folder)
    held = []
    for name in PAGES:
        text = (demo / folder / name).read_text(encoding="utf-8")
        held += [*re.findall(r"<title>(.*?)</title>", text), *re.findall(r"<meta[^>]*>", text)]
    for name in ("sheet.pdf", "link.pdf"):
        with pikepdf.open(demo / folder / name) as pdf:
            held += [str(pdf.docinfo), bytes(pdf.Root.Metadata.read_bytes()).decode()]
            held += [str(item.title) for item in pdf.open_outline().root]
    with Image.open(demo / folder / "link.png") as picture:
        held.append(json.dumps({k: str(v) for k, v in picture.info.items()}))
    held.append(re.sub(r"(?s)<(wpt|trk|rte)\b.*", "", (demo / folder / "route.gpx").read_text(encoding="utf-8")))

    assert any("Route" in text for text in held)
    for text in held:
        assert itinerary.start.label not in text
        assert itinerary.goal.label not in text
    assert all(itinerary.start.label.split()[0] not in path.name for path in (demo / folder).iterdir())


@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("folder", FOLDERS)
def test_nothing_is_asked_of_anybody(demo: Path, visit: Callable[..., Any], folder: str, name: str):
    """Zero requests, zero console errors, nothing wider than the screen, at 320, 390 and 1280 px, light and dark."""
    for size, scheme in SCREENS:
        seen = visit(demo / folder / name, size, scheme)
        seen.page.wait_for_timeout(100)
        assert seen.external == []
        assert seen.errors == []
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= size[0]


MARK_BOXES = """() => {
    const seen = [];
    for (const one of document.querySelectorAll('svg.route g[data-m], svg.route g[data-i], .mark-icon')) {
        if (one.closest('[hidden]')) continue;
        const parts = [...one.querySelectorAll('path, rect, circle, .beside')].filter((part) => !part.closest('[hidden]'));
        const groups = Map.groupBy(parts, (part) => part.closest('.beside, svg g[transform] g[transform], .mark-box g[transform]') || one);
        seen.push([...groups.values()].map((group) => {
            const boxes = group.map((part) => part.getBoundingClientRect()).filter((box) => box.width);
            return [Math.min(...boxes.map((b) => b.left)), Math.min(...boxes.map((b) => b.top)),
                    Math.max(...boxes.map((b) => b.right)), Math.max(...boxes.map((b) => b.bottom))];
        }));
    }
    return seen;
}"""


@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("folder", FOLDERS)
def test_no_mark_hides_another(demo: Path, visit: Callable[..., Any], folder: str, name: str):
    """Marks, their words, arrowheads and figures as the browser has drawn them: no two share more than a pixel, at three sizes."""
    for size in (SMALL_PHONE, PHONE, DESKTOP):
        page = visit(demo / folder / name, size).page
        page.wait_for_timeout(100)
        seen = page.evaluate(MARK_BOXES)
        assert len(seen) > 12
        for one, other in itertools.combinations(seen, 2):
            for a, b in itertools.product(one, other):
                shared = [min(a[n + 2], b[n + 2]) - max(a[n], b[n]) for n in (0, 1)]
                assert min(shared) <= 1, (size, a, b)


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), list(itertools.product((SMALL_PHONE, DESKTOP), ("light", "dark"))))
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("folder", FOLDERS)
def test_no_violation_of_wcag(demo: Path, visit: Callable[..., Any], folder: str, name: str, size: tuple[int, int], scheme: str):
    """Axe-core finds nothing against WCAG 2.2 A and AA, with everything that folds unfolded."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed").Axe()
    page = visit(demo / folder / name, size, scheme).page
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    found = axe.run(page, options=WCAG)

    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("folder", FOLDERS)
def test_without_a_program_steps_and_picture_are_there(demo: Path, visit: Callable[..., Any], folder: str, name: str):
    """JavaScript off, as in many previews: the picture is visible, and so is every step."""
    steps = build_steps(read_itinerary(demo / folder))
    page = visit(demo / folder / name, PHONE, java_script_enabled=False).page

    assert page.locator("svg.picture, svg.route").first.is_visible()
    assert page.locator("ol").first.locator("> li").count() == len(steps)
    assert page.locator("ol").first.locator("> li").last.is_visible()


@pytest.mark.browser
@pytest.mark.parametrize("medium", ["screen", "print"])
@pytest.mark.parametrize("has_program", [True, False])
@pytest.mark.parametrize("folder", FOLDERS)
def test_the_scale_of_the_link_is_true(demo: Path, visit: Callable[..., Any], folder: str, has_program: bool, medium: str):
    """On a phone, printed, with and without JavaScript: so many metres are as long as the bar says, and nothing scrolls sideways."""
    page = visit(demo / folder / "link.html", PHONE, java_script_enabled=has_program).page
    page.emulate_media(media=medium)
    bar, drawing = (page.locator(name).first.bounding_box()["width"] for name in (".scale-bar", "svg.route"))
    shown = float((page.locator("svg.route").get_attribute("viewBox") or "").split()[2])
    told_m = float(page.locator(".scale-words").inner_text().split()[0])
    places = [place for piece in read_itinerary(demo / folder).pieces for place in piece.coordinates]
    scale = Plane.around(places, width=WIDTH_PX, margin=MARGIN_PX).scale

    assert bar / drawing * shown / scale == pytest.approx(told_m, rel=0.02)
    assert page.locator("main").bounding_box()["width"] <= PHONE[0]
    assert page.locator(".scale").bounding_box()["width"] <= PHONE[0]


@pytest.mark.browser
@pytest.mark.parametrize("folder", FOLDERS)
def test_print_from_the_link_gives_the_sheet(demo: Path, visit: Callable[..., Any], folder: str, tmp_path: Path):
    """Printed to A4 by the browser: every step with its metre and sentence, a box to tick, cautions and open questions, no button."""
    import pdfplumber

    words, itinerary = Words(), read_itinerary(demo / folder)
    page = visit(demo / folder / "link.html", PHONE, "dark").page
    page.pdf(path=str(tmp_path / "printed.pdf"), format="A4")
    with pdfplumber.open(tmp_path / "printed.pdf") as document:
        text = re.sub(r"\s+", "", "".join(p.extract_text() or "" for p in document.pages))

    for step in build_steps(itinerary):
        assert words.distance(step.at_m).replace(" ", "") in text
    for sentence in (
        "The rider decides",
        "Not known: look first",
        "Checkpoints",
        "If the chair stops or shows an error",
        "Keep the drive engaged",
    ):
        assert sentence.replace(" ", "") in text
    assert "Whole route".replace(" ", "") not in text
    page.emulate_media(media="print")
    assert page.locator(".steps input").last.is_visible()


@pytest.mark.browser
def test_where_am_i_works_over_https_only(demo: Path, visit: Callable[..., Any]):
    """On the demo's own link: a button over HTTPS that says how far along, none from a file."""
    link, itinerary = demo / FOLDERS[0] / "link.html", read_itinerary(demo / FOLDERS[0])
    assert visit(link, PHONE).page.get_by_role("button", name="Where am I?").count() == 0
    lon, lat = itinerary.pieces[len(itinerary.pieces) // 2].coordinates[0]
    place = {"latitude": lat, "longitude": lon, "accuracy": 8.0}
    seen = visit(link, PHONE, url="https://link.example/x", geolocation=place, permissions=["geolocation"])
    seen.page.get_by_role("button", name="Where am I?").click()
    status = seen.page.locator("#here")
    status.get_by_text("along the way").wait_for()
    metres = itinerary.pieces[len(itinerary.pieces) // 2].from_m

    assert f"About {Words().distance(metres)} along the way" in status.inner_text()


@pytest.mark.browser
def test_a_link_that_runs_out_says_until_when(demo: Path, visit: Callable[..., Any], tmp_path: Path):
    """Valid until stands on the page, in the zone that it was given in."""
    write_link(read_itinerary(demo / FOLDERS[0]), tmp_path / "l.html", valid_until="2099-03-15T06:00:00-02:00")
    page = visit(tmp_path / "l.html", PHONE).page

    assert page.locator(".valid").inner_text() == "Valid until 06:00 on 2099-03-15. After that ask for a new one."


def test_the_paper_twin_says_until_when_too(demo: Path, tmp_path: Path):
    """Twins travel alone: without the page nobody would know that the way is old. Without an end nothing is said."""

    def first_page(**more: str) -> str:
        paper = lambda shown, path: write_sheet(shown, path, words=Words())  # noqa: E731
        write_link(read_itinerary(demo / FOLDERS[0]), tmp_path / "l.html", sheet=paper, **more)  # type: ignore[arg-type]
        with pdfplumber.open(tmp_path / "l.pdf") as document:
            return column_text(document.pages[0])

    assert "Valid until 06:00 on 2099-03-15." in first_page(valid_until="2099-03-15T06:00:00-02:00")
    assert "Valid until" not in first_page()


def test_a_link_from_the_corner_holds_no_front_door(demo: Path, tmp_path: Path):
    """Neither page nor paper twin names the door, and no line of the way begins there."""
    itinerary = read_itinerary(demo / "over-the-river")
    files = write_link(itinerary, tmp_path / "l.html", hide_start=True, sheet=lambda shown, path: write_sheet(shown, path, words=Words()))
    page = files[0].read_text(encoding="utf-8")
    pdf = next(file for file in files if file.suffix == ".pdf")
    with pdfplumber.open(pdf) as document:
        text = " ".join(column_text(p) for p in document.pages)

    assert itinerary.start.label not in page
    assert itinerary.start.label not in text
    last = build_steps(itinerary)[-1].number  # replies by text name steps: page and paper count as the whole sheet does
    assert f"{last}. You have arrived" in text.replace("\u00a0", " ")
    assert f'id="step-{last}"' in page
    assert itinerary.goal.label in text
