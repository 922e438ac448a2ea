"""The printed sheet: its tags, its words, its pages, and names that try to break it."""

from __future__ import annotations

import dataclasses
import re
import shutil
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pdfua
import pikepdf
import pytest
from sample_itinerary import HOSTILE_NAMES, hostile, sample

from rollroute.errors import InputError
from rollroute.output.itinerary import Spread
from rollroute.output.plain_text import plain
from rollroute.output.sheet import fonts, press, strip, trouble, write_sheet
from rollroute.output.sheet.push import helpers_for, push_force_n, push_on
from rollroute.output.sheet.sections import rest_places
from rollroute.output.sheet.strip import detail_groups
from rollroute.output.steps import build_steps
from rollroute.output.words import Words
from rollroute.output.words.cautions import charging_cautions
from rollroute.output.words.sentences import step_sentence, watch_notes

LINK = "https://example.org/s/AbC-123_xyz"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample's sheet with everything on it."""
    path = tmp_path_factory.mktemp("sheet") / "sheet.pdf"
    write_sheet(sample(), path, words=Words(), link=LINK, phone="555 0100", rest_minutes=30.0)
    return path


def tags(pdf: pikepdf.Pdf) -> Iterator[Any]:
    """Structure elements in reading order."""

    def walk(node: Any) -> Iterator[Any]:
        if isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                yield node
            kids = node.get("/K")
            for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
                yield from walk(kid)

    yield from walk(pdf.Root.StructTreeRoot)


def kids_of(node: Any) -> list[Any]:
    """Structure elements right below ``node``."""
    kids = node.get("/K")
    return [k for k in (kids if isinstance(kids, pikepdf.Array) else [kids]) if isinstance(k, pikepdf.Dictionary) and "/S" in k]


@pytest.fixture(scope="module")
def text(sheet: Path) -> str:
    """The sample's sheet as drawn."""
    return drawn(sheet)


def squeezed(text: str) -> str:
    """Without spaces and hyphens of line ends: what must agree between sentence and page."""
    return re.sub(r"\s+", "", text)


def drawn(pdf: Path, *, least_pt: float = 0.0) -> str:
    """All letters of at least ``least_pt`` in the order in which they are drawn, pictures included, without spaces."""
    import pdfplumber

    with pdfplumber.open(pdf) as document:
        return squeezed("".join(c["text"] for page in document.pages for c in page.chars if c["size"] >= least_pt - 0.01))


def test_tags_language_and_title(sheet: Path):
    """ISO 14289-1 (PDF/UA-1), 7.1 and 7.2: tagged, language given, title shown, claim in the XMP metadata."""
    with pikepdf.open(sheet) as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert str(pdf.Root.Lang).startswith("en")
        assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
        with pdf.open_metadata() as metadata:
            assert metadata["dc:title"] == "Route K7"
            assert str(metadata["pdfuaid:part"]) == "1"


def test_no_address_stands_in_title_or_metadata(sheet: Path):
    """A title shows in task bars and search results: the code alone names the file."""
    with pikepdf.open(sheet) as pdf:
        held = str(pdf.docinfo) + bytes(pdf.Root.Metadata.read_bytes()).decode()

    assert "Mill Street" not in held
    assert "Eastfield" not in held


def test_every_picture_has_words_of_its_own(sheet: Path):
    """ISO 14289-1, 7.3: a figure has an alternative text; ours says what the step says."""
    words = Words()
    with pikepdf.open(sheet) as pdf:
        alts = [str(t.get("/Alt", "")) for t in tags(pdf) if t.S == "/Figure"]
    groups = detail_groups(build_steps(sample()))
    bars, overview, small, charging, code = alts[:2], alts[2], alts[3 : 3 + len(groups)], alts[3 + len(groups) : -1], alts[-1]

    assert overview.startswith("Overview map, north up")
    for group, alt in zip(groups, small, strict=True):
        assert all(step_sentence(step, words) in alt for step in group)
    assert len(charging) == 2 * len(sample().halts)
    assert all(alt.startswith("Charge bar, reserve 20 %") for alt in [*bars, *charging])
    assert LINK in code


def test_every_step_that_is_easy_to_miss_is_on_a_small_map():
    """One map may show two steps that begin within 18 m of each other; none is left out, none is drawn twice."""
    steps = build_steps(sample())
    drawn_ones = [step.number for group in detail_groups(steps) for step in group]

    assert drawn_ones == [step.number for step in steps if step.is_easy_to_miss]
    assert all(group[-1].at_m - group[0].at_m <= 18.0 for group in detail_groups(steps))


def test_reading_order_is_the_order_of_use(text: str):
    """The rider's yes first, then who and when, cautions, map, steps, and what is needed only if something happens."""
    at = [
        text.index(squeezed(heading))
        for heading in (
            "The rider decides",
            "Who goes where, and when",
            "Cautions for this trip",
            "Overview",
            "↓ to the next",
            "Chair off, and stay with it while it charges",
            "Checkpoints: read the gauge",
            "Rest and tilt",
            "Keep the drive engaged",
            "Slopes, and where the helper walks",
            "If the chair stops or shows an error",
            "If something else goes wrong",
            "Not verified: what did you find?",
            "On a phone",
            "Sources, dates, limits of trust",
        )
    ]

    assert at == sorted(at)


def test_headings_and_tables_are_tagged_as_such(sheet: Path):
    """ISO 14289-1, 7.4 and 7.6: one H1 first, H2 below; the steps are one list, an item each."""
    with pikepdf.open(sheet) as pdf:
        found = list(tags(pdf))
        kinds = [str(t.S) for t in found]
        sizes = [sum(str(k.S) == "/LI" for k in kids_of(t)) for t in found if t.S == "/L"]

    assert kinds.count("/H1") == 1
    assert next(k for k in kinds if re.fullmatch(r"/H\d", k)) == "/H1"
    assert kinds.count("/H2") >= 12
    assert len(build_steps(sample())) in sizes


def test_an_independent_checker_finds_nothing(sheet: Path):
    """The package pdfua checks a part of ISO 14289-1 (no proof of it); one of its 12 rules trips over itself and is skipped."""
    report = pdfua.validate(str(sheet))
    checked = [f for f in report.findings if f.severity in {pdfua.Severity.ERROR, pdfua.Severity.WARNING}]

    assert [f"{f.rule_id}: {f.message}" for f in checked] == []
    assert sum(outcome.skipped_reason is None for outcome in report.outcomes) >= 11


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_page_says_exactly_the_steps(tmp_path: Path, language: str, units: str):
    """Text taken from the page equals metre, metres to the next, number, sentence and things to watch for of every step, in order."""
    words, route = Words(language=language, units=units), sample()
    write_sheet(route, tmp_path / "s.pdf", words=words)
    text, at = drawn(tmp_path / "s.pdf"), 0

    for step in build_steps(route):
        onward = f"↓ {words.distance(step.to_next_m)}" if step.to_next_m else ""
        wanted = [words.distance(step.at_m) + onward, f"{step.number}. {step_sentence(step, words)}"]
        wanted += [f"{where} {what}" for where, what in watch_notes(step, words, sign="◇")]
        for part in wanted:
            at = text.index(squeezed(part), at) + 1


def test_body_is_12_points_and_distances_16(sheet: Path):
    """Readable at arm's length: every word of a step in letters of 12 pt or more, so far and to next in 16 pt or more."""
    words = Words()
    body, large, at = drawn(sheet, least_pt=12.0), drawn(sheet, least_pt=16.0), 0
    for step in build_steps(sample()):
        assert squeezed(f"{step.number}. {step_sentence(step, words)}") in body
        assert all(squeezed(f"{where} {what}") in body for where, what in watch_notes(step, words, sign="◇"))
        figures = words.distance(step.at_m) + (f"↓{words.distance(step.to_next_m)}" if step.to_next_m else "")
        at = large.index(squeezed(figures), at) + 1


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.3, 841.9)), ("letter", (612.0, 792.0))])
def test_both_papers(tmp_path: Path, paper: str, size: tuple[float, float]):
    """A4 is 210 x 297 mm, US Letter 8.5 x 11 in; at most four pages for 1.7 km, 21 steps and a charge."""
    write_sheet(sample(), tmp_path / "s.pdf", words=Words(), paper=paper)
    with pikepdf.open(tmp_path / "s.pdf") as pdf:
        box = [float(v) for v in pdf.pages[0].MediaBox]
        n_pages = len(pdf.pages)

    assert (box[2], box[3]) == pytest.approx(size, abs=0.2)
    assert n_pages <= 4


def test_landmarks_along_a_step_are_few_and_apart():
    """Six shops in a row, 20 m apart, on a street of 134 m: two are told, each 60 m or more from the last thing that was told."""
    route = sample()
    step = build_steps(route)[1]
    shops = [dataclasses.replace(route.landmarks[0], label=f"Shop {n}", at_m=step.at_m + 20.0 * n) for n in range(1, 7)]
    told = build_steps(dataclasses.replace(route, landmarks=shops))[1].landmarks
    notes = strip._passed(dataclasses.replace(step, landmarks=told), Words())

    assert [what for _, what in notes] == ["you pass Shop 3", "you pass Shop 6"]


def test_unknown_paper_is_refused(tmp_path: Path):
    """The message names the sizes."""
    with pytest.raises(InputError, match="a4, letter"):
        write_sheet(sample(), tmp_path / "s.pdf", words=Words(), paper="a3")


def test_same_route_same_bytes(tmp_path: Path):
    """The time in the file is the route's, not the clock's."""
    for name in ("one", "two"):
        write_sheet(sample(), tmp_path / name, words=Words(), link=LINK)

    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()


def test_hostile_names_are_printed_as_they_are(tmp_path: Path):
    """Typst, SVG and HTML signs in a street's name are letters; a name in any script never loses the sheet."""
    write_sheet(hostile(), tmp_path / "s.pdf", words=Words())
    text = drawn(tmp_path / "s.pdf")

    for name in ('#panic("x") *bold* $x$ _u_ @ref <lbl>', "</script><script>alert(1)</script>", "'; DROP TABLE x; --"):
        assert name in HOSTILE_NAMES
        assert squeezed(plain(name)) in text


def test_letters_without_a_font_leave_a_mark_and_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """No font of this machine has CJK in this test: rectangles stand for the letters, the page says so, the tags stay."""
    monkeypatch.setattr(press, "fonts", lambda *, include_system: fonts.fonts(include_system=False))
    press._compiler.cache_clear()
    try:
        write_sheet(hostile(), tmp_path / "s.pdf", words=Words())
    finally:
        press._compiler.cache_clear()
    text = drawn(tmp_path / "s.pdf")

    assert "▯▯▯12▯" in text  # 河边路 12 号
    assert squeezed("A small rectangle stands for a letter that no font here has (U+53F7,") in text  # 号, the lowest of them
    with pikepdf.open(tmp_path / "s.pdf") as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)


def test_many_scripts_need_no_other_font():
    """Our two families cover Arabic, Hebrew, Greek, Cyrillic, Georgian, Thai and Devanagari, so those names are set as they are."""
    assert fonts.missing_letters("شارع النهر שלום Ленина Αθήνα თბილისი ถนนสุขุมวิท सड़क") == set()
    assert fonts.missing_letters("河") == {"河"}


@pytest.mark.parametrize("name", ["ถนนสุขุมวิท ที่", "शिवाजी मार्ग", "דרך השלום", "شارع النهر", "თბილისი", "Đường Nguyễn Huệ"])
def test_a_name_in_any_script_is_set_whole_and_tagged(tmp_path: Path, name: str):
    """As goal and refuge, so in the words and on the map: the sheet is never lost, its tags stay, and the words have every letter."""
    route = sample()
    named = dataclasses.replace(
        route,
        refuges=[dataclasses.replace(route.refuges[0], label=name), *route.refuges[1:]],
        goal=dataclasses.replace(route.goal, label=name),
    )
    write_sheet(named, tmp_path / "s.pdf", words=Words())
    with pikepdf.open(tmp_path / "s.pdf") as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
    letters = {c for c in unicodedata.normalize("NFKC", name) if unicodedata.category(c).startswith("L")}  # Arabic is drawn in joined forms

    assert letters - set(unicodedata.normalize("NFKC", drawn(tmp_path / "s.pdf"))) == set()


def test_what_follows_a_name_from_right_to_left_stays_after_it():
    """Unicode Standard Annex 9: left-to-right marks around the name keep the figures after it in their order; other names have none."""
    assert plain("דרך השלום") == "\u200eדרך השלום\u200e"
    assert plain("شارع النهر") == "\u200eشارع النهر\u200e"
    assert plain("Mill Street") == "Mill Street"


def test_push_force_by_hand():
    """235 kg, Crr 0.015, 8 %: theta = atan 0.08, F = 235 * 9.80665 * (0.015 * 0.996815 + 0.079745) = 218.2 N."""
    assert push_force_n(235.0, 0.015, 0.08) == pytest.approx(218.2, abs=0.1)
    assert push_force_n(235.0, 0.015, 0.0) == pytest.approx(235.0 * 9.80665 * 0.015)
    assert helpers_for(218.2) == 2  # two at 150 N each carry 300 N
    push = push_on(sample())
    assert (round(push.slope_n), push.slope_helpers, push.flat_helpers) == (218, 2, 2)


def test_rest_places_follow_the_interval(text: str):
    """The rider asked for every 30 minutes; no place is called level, only possibly so."""
    assert squeezed("The rider asked for a rest every 30 min.") in text
    assert squeezed("Possibly level: look before touching the levers.") in text


def test_no_caution_is_missing(text: str):
    """Water at the socket, free-wheeling, both levers, transfers, lifts, traffic, and who decides."""
    for caution in (
        "wet mains can kill",
        "Never disengage the drive on a slope",
        "nor one side alone",
        "transfers need training",
        "Never use a lift in fire or smoke",
        "Cross only when the road is free",
        "Never stand downhill of it",
        "The rider decides",
    ):
        assert squeezed(caution) in text, caution


def test_lithium_and_unknown_batteries_are_warned_about_freezing():
    """Lithium must not be charged below 0 °C; an unknown battery counts as lithium and as lead."""
    for chemistry, lithium, lead in (
        ("lithium", True, False),
        ("LiFePO4", True, False),
        ("AGM", False, True),
        ("flooded", False, True),
        (None, True, True),
    ):
        chair = dataclasses.replace(sample().chair, chemistry=chemistry)
        lines = " ".join(charging_cautions(dataclasses.replace(sample(), chair=chair), Words()))
        assert ("Lithium battery below 0 °C" in lines) == lithium, chemistry
        assert ("Lead battery" in lines) == lead, chemistry


def test_a_bare_route_still_makes_a_sheet(tmp_path: Path):
    """No halt, question, refuge, spot, backdrop or date: the page says what is not known."""
    empty = dataclasses.replace(
        sample(), halts=[], questions=[], points=[], checkpoints=[], refuges=[], van_spots=[], rest_spots=[], landmarks=[], barred=[],
        hazards=[], backdrop=type(sample().backdrop)(), map_date=None, arrive_time=None, notes=[],
    )  # fmt: skip
    write_sheet(empty, tmp_path / "s.pdf", words=Words())
    text = drawn(tmp_path / "s.pdf")

    assert squeezed("No refuge is known on this way") in text
    assert squeezed("No flat place is known here") in text
    assert squeezed("Map data of not known") in text


def test_rest_places_are_no_further_apart_than_asked_where_places_allow():
    """By hand: planned pace 1/1.2 m/s, so 10 minutes are 500 m. Places every 200 m: after 400, 800, 1200 and 1600 m."""
    route = sample()
    spots = [dataclasses.replace(route.rest_spots[0], at_m=float(m)) for m in range(200, 1700, 200)]
    straight = [
        dataclasses.replace(route.pieces[1], from_m=float(m), to_m=m + 100.0, time_s=Spread(expected=100.0, planned=120.0))
        for m in range(0, 1700, 100)
    ]
    spaced = dataclasses.replace(route, pieces=straight, rest_spots=spots, length_m=1700.0)

    assert [s.at_m for s in rest_places(spaced, 10.0)] == [400.0, 800.0, 1200.0]
    assert rest_places(spaced, None) == spots


def test_another_font_of_the_system_is_used_before_rectangles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A letter that our fonts lack is set in what the machine has, what that lacks too is lost; a third font stands for it."""
    import typst

    folder = fonts.dejavu_folder()
    other = tmp_path / "fonts"
    shutil.copytree(fonts._folder().name, other)
    (other / "STIXGeneral.ttf").symlink_to(folder / "STIXGeneral.ttf")
    letter = "\u2a53"  # a sign of STIX General that our fonts may lack
    if not fonts.missing_letters(letter):
        letter = next(chr(c) for c in _stix_letters(folder) if c not in fonts.letters())
    both = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(other)])
    monkeypatch.setattr(press, "fonts", lambda *, include_system: both if include_system else fonts.fonts(include_system=False))
    monkeypatch.setattr(press, "in_the_system", lambda wanted: {letter} & wanted)
    press._compiler.cache_clear()
    try:
        named = dataclasses.replace(sample(), start=dataclasses.replace(sample().start, label=f"House {letter} 河"))
        write_sheet(named, tmp_path / "s.pdf", words=Words())
    finally:
        press._compiler.cache_clear()
    text = drawn(tmp_path / "s.pdf")

    assert f"House{letter}▯" in text
    assert squeezed(f"Letters that our fonts lack are set in other fonts of this machine: {letter}") in text
    assert squeezed("A small rectangle stands for a letter that no font here has (U+6CB3)") in text


def _stix_letters(folder: Path) -> list[int]:
    from matplotlib.ft2font import FT2Font

    return sorted(FT2Font(str(folder / "STIXGeneral.ttf")).get_charmap())


def test_figures_keep_their_unit_and_long_names_break():
    """A figure alone at a line's end is misread; a name of 120 letters must not run off the page."""
    block = press._breakable({"kind": "para", "text": "At 670–770 m: " + "A" * 60, "svg": "A" * 60})

    assert "770\u00a0m" in block["text"]
    assert max(len(run) for run in re.split("[\\s\u200b]", block["text"])) <= press.LONGEST_RUN
    assert block["svg"] == "A" * 60


def test_a_dense_city_stays_small_and_quick(tmp_path: Path):
    """3000 buildings and 600 streets around the way: outside the window they cost nothing; a twin for mail must stay under 300 kB."""
    route = sample()
    lon, lat = route.start.lon, route.start.lat
    houses = [
        [(lon + x, lat + y), (lon + x + 1e-4, lat + y), (lon + x + 1e-4, lat + y + 1e-4), (lon + x, lat + y)] for x, y in _lattice(3000)
    ]
    roads = [(f"Row {n}", [(lon + x, lat + y), (lon + x + 1e-3, lat + y + 1e-4)]) for n, (x, y) in enumerate(_lattice(600))]
    backdrop = dataclasses.replace(route.backdrop, buildings=houses, roads=[*route.backdrop.roads, *roads])
    write_sheet(dataclasses.replace(route, backdrop=backdrop), tmp_path / "s.pdf", words=Words(), link=LINK)

    assert (tmp_path / "s.pdf").stat().st_size < 300_000


def _lattice(n: int) -> list[tuple[float, float]]:
    side = int(n**0.5)
    return [((k % side) * 0.016 / side - 0.002, (k // side) * 0.011 / side - 0.002) for k in range(n)]


def test_van_places_are_spaced_and_refuges_off_the_way_have_no_metre():
    """Ten places 100 m apart are four at 400 m; a refuge without a metre must not seem to lie at the start."""
    route = sample()
    vans = [dataclasses.replace(route.van_spots[0], at_m=float(m)) for m in range(0, 1300, 100)]
    hall = dataclasses.replace(route.refuges[0], label="Far Hall", at_m=None)
    spread = dataclasses.replace(route, van_spots=vans, refuges=[*route.refuges, hall, route.refuges[0]])
    blocks = trouble.other_section(spread, Words(), None)
    lines = [item for block in blocks for item in block.get("items", [])]

    assert [s.at_m for s in trouble.van_places(spread)] == [0.0, 400.0, 800.0, 1200.0]
    assert "Far Hall" in next(line for line in lines if line.startswith("No checked way is known to: "))
    assert sum(line.startswith("Bridge Street Hall") for line in lines) == 1


def test_the_qr_code_is_read_back_from_a_grey_copy_at_half_size(sheet: Path):
    """An independent reader (zxing-cpp) gets the very link from the printed page, also from a poor grey copy."""
    import pdfplumber

    zxingcpp = pytest.importorskip("zxingcpp")
    with pdfplumber.open(sheet) as document:
        pages = [page.to_image(resolution=150).original.convert("L") for page in document.pages]
    halves = [page.resize((page.width // 2, page.height // 2)) for page in pages]

    assert [code.text for page in pages for code in zxingcpp.read_barcodes(page)] == [LINK]
    assert [code.text for page in halves for code in zxingcpp.read_barcodes(page)] == [LINK]


def test_pages_are_counted_as_an_independent_reader_counts_them(sheet: Path):
    """The count decides whether lines go a little closer: with one page less they do, else they keep their distance."""
    with pikepdf.open(sheet) as pdf:
        assert press.n_pages(sheet.read_bytes()) == len(pdf.pages)


def test_lines_go_closer_only_where_that_saves_a_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Few lines are printed as they are; a number of lines that just misses the page fits after all, a few more make two pages as ever."""
    made: list[tuple[bool, int]] = []
    real = press._pdf

    def spy(document: dict[str, Any], timestamp: int, words: Words) -> bytes:
        pdf = real(document, timestamp, words)
        made.append((document["tight"], press.n_pages(pdf)))
        return pdf

    monkeypatch.setattr(press, "_pdf", spy)

    def pages(n: int) -> int:
        made.clear()
        blocks = [{"kind": "para", "text": "word", "strong": False}] * n
        path = tmp_path / "s.pdf"
        press.Press(title="t", header="t", made_at="2026-03-14T16:05:00-03:00", paper="a4", words=Words()).print(blocks, path)
        return press.n_pages(path.read_bytes())

    assert pages(20) == 1
    assert made == [(False, 1)]
    saved = next(n for n in range(40, 80) if pages(n) == 1 and made == [(False, 2), (True, 1)])
    assert pages(saved + 10) == 2
    assert made == [(False, 2), (True, 2)]
