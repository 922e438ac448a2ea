"""The coordinator's page: who is left comes first with reason and fix, nothing hostile lives, nothing private leaves."""

from __future__ import annotations

import copy
import dataclasses
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import html
from move_papers import HOSTILE, OWN_POWER_MIN, Papers, pick, small_move

from rollroute.output.move.facts import gather
from rollroute.output.move.first import grouped
from rollroute.output.move.page import move_page
from rollroute.output.move.rolls import make_rolls
from rollroute.output.words import Words
from rollroute.planning.calls import Call


def page_of(papers: Papers, **changes: object) -> html.HtmlElement:
    """The page of a plan with some of its fields changed, as a tree."""
    plan = dataclasses.replace(papers.plan, **changes)  # type: ignore[arg-type]
    facts = gather(plan, papers.move, papers.travel, words=Words())
    return html.fromstring(move_page(facts, make_rolls(facts, None, Path())))


BLOCKS = {"dt", "dd", "li", "p", "td", "th", "h1", "h2", "h3", "summary", "caption", "figcaption"}


def words_of(tree: html.HtmlElement, selector: str = "body") -> str:
    """What is read, with a space where a block ends."""
    own = copy.deepcopy(tree)
    for element in own.iter():
        if element.tag in BLOCKS:
            element.tail = " " + (element.tail or "")
    found = pick(own, selector) if selector != own.tag else [own]
    return " ".join(" ".join(e.text_content() for e in found).split())


@pytest.fixture(scope="module")
def tree(small: Papers) -> html.HtmlElement:
    return html.fromstring((small.folder / "index.html").read_text(encoding="utf-8"))


def test_who_is_not_served_comes_first_with_reason_and_fallback(tree: html.HtmlElement):
    """The first section under the heading is about D: the platform is 90 cm wide, the chair 120 cm."""
    first = pick(tree, "main > section")[0]
    text = words_of(first, "article")
    assert first.get("id") == "left"
    assert "1 person can't be served" in words_of(first, "h2")
    assert text.startswith("D, ")
    assert "What binds van V1: platform 90 cm wide, the chair 120 cm" in text
    assert "Until then another agency with a lift vehicle" in text


def test_the_plan_stands_in_one_line(tree: html.HtmlElement):
    """Three of four have a way: one rolls, two ride; C is in last, at 19:44; B has 20:27 - 19:20 = 67 min in hand."""
    assert (
        words_of(tree, ".figures") == "3 of 4 have a way · 1 rolls · 2 ride in vans · everybody who goes is inside by 19:44 · "
        "least time in hand 1 h 7 min (B)"
    )


def test_sections_come_in_the_order_of_need(tree: html.HtmlElement):
    """Whom to help, whom to call, what closes; then the time line; then tables; then papers."""
    found = [s.get("id") for s in pick(tree, "main > section")]
    assert found == [
        "left", "calls", "undecided", "closings", "timeline", "events", "map", "riders", "vans", "escorts", "shelters", "papers", "proof",
    ]  # fmt: skip


def test_an_open_alert_and_what_changed_are_shown_before_the_time_line(small: Papers):
    """Both only where there are any."""
    tree = page_of(small, open_alerts=("flood warning 7: decide",), changes=("R1: by van V2 instead of V1",))
    found = [s.get("id") for s in pick(tree, "main > section")]
    assert found[:3] == ["left", "changes", "alerts"]
    assert "flood warning 7: decide" in words_of(tree, "#alerts")
    assert "R1: by van V2 instead of V1" in words_of(tree, "#changes")


def test_an_interrupted_plan_says_so_before_anything_else(small: Papers):
    """A best plan so far must not be taken for a finished one."""
    tree = page_of(small, is_complete=False)
    assert words_of(tree, "header .caution").startswith("The work was interrupted")
    assert not pick(page_of(small), "header .caution")


def test_everybody_served_is_said_too(small: Papers):
    """No empty place where somebody looks first."""
    tree = page_of(small, riders=tuple(r for r in small.plan.riders if r.id != "D"))
    assert "Everybody has a way in this plan." in words_of(tree, "#left")


def test_the_evening_is_told_in_order_of_time(tree: html.HtmlElement):
    """By hand from the plan; the first and the last lines before the outlets."""
    rows = [[" ".join(c.text_content().split()) for c in row][:3] for row in pick(tree, "#events tbody tr")]
    assert rows == sorted(rows, key=lambda r: ("0" if r[0] > "12:00" else "1") + r[0])
    assert ["18:52", "V1", "loads B at kerb at B"] in rows
    assert ["19:04", "C", "sets off for East Hall with E1"] in rows
    assert ["20:44", "E1", "is back"] in rows
    assert ["19:20", "B", "plug in: outlet A 1 at East Hall"] in rows


def test_whoever_has_not_agreed_is_listed(tree: html.HtmlElement):
    """The rider decides: C was asked and has not answered."""
    assert words_of(tree, "#undecided li") == "C: asked, no answer yet"


def test_calls_say_what_a_good_answer_could_change(small: Papers):
    """The list of the planner, in its order, with its worth in words."""
    calls = (
        Call(whom="rider D", field="chair_width_cm", question="How wide is it?", people=1.0, minutes=0.0, meanwhile="the widest"),
        Call(whom="van V1", field="positions", question="How many?", people=0.0, minutes=12.0, meanwhile="one chair"),
        Call(whom="rider A", field="charger", question="Where?", people=0.0, minutes=0.0, meanwhile="no charging"),
    )
    facts = gather(small.plan, small.move, small.travel, words=Words(), calls=calls)
    tree = html.fromstring(move_page(facts, make_rolls(facts, None, Path())))
    rows = [[" ".join(c.text_content().split()) for c in row] for row in pick(tree, "#calls > div tbody tr")]
    assert rows == [
        ["rider D", "How wide is it?", "serve 1 person more", "the widest"],
        ["van V1", "How many?", "get people inside 12 min sooner in all", "one chair"],
    ]
    assert "Where?" in words_of(tree, "#calls details")


def test_every_link_leads_to_a_file(small: Papers, town: Papers):
    """A dead link at 2 am sends somebody to look for a paper that never was."""
    for papers in (small, town):
        tree = html.fromstring((papers.folder / "index.html").read_text(encoding="utf-8"))
        addresses = [a.get("href") for a in pick(tree, "a")]
        ids = {e.get("id") for e in pick(tree, "[id]")}
        assert len(addresses) > 10
        for address in addresses:
            assert address[1:] in ids if address.startswith("#") else (papers.folder / address).is_file(), address


def test_every_paper_is_linked(town: Papers):
    """Sheets, links, messages, maps, tables: nobody has to look into folders."""
    tree = html.fromstring((town.folder / "index.html").read_text(encoding="utf-8"))
    linked = {a.get("href") for a in pick(tree, "a")}
    wanted = {p.relative_to(town.folder).as_posix() for p in town.folder.rglob("*.pdf") if p.name != "link.pdf"}
    wanted |= {p.relative_to(town.folder).as_posix() for p in (town.folder / "manifests").iterdir()}
    assert wanted <= linked


# --- nothing hostile lives ----------------------------------------------------------------------------------------------------------


def is_tame(tree: html.HtmlElement) -> bool:
    """No element that the page does not make, no handler, no address but files and fragments."""
    tags = {e.tag for e in tree.iter() if isinstance(e.tag, str)}
    names = {name for e in tree.iter() if isinstance(e.tag, str) for name in e.attrib}
    addresses = [a.get("href") for a in pick(tree, "a")]
    return (
        not tags & {"script", "img", "iframe", "object", "form"}
        and not any(n.startswith("on") for n in names)
        and "style" not in names
        and not any(re.match(r"\w+:", a) for a in addresses)
    )


def test_hostile_names_are_text(hostile: Papers):
    """The attack stands on the page, to be read, and makes no element."""
    tree = html.fromstring((hostile.folder / "index.html").read_text(encoding="utf-8"))
    assert is_tame(tree)
    assert HOSTILE in words_of(tree)
    for script in pick(html.fromstring((hostile.folder / "move-map.html").read_text(encoding="utf-8")), "script"):
        assert script.get("nonce")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(st.text(min_size=1, max_size=40), st.text(max_size=40))
def test_any_text_in_a_plan_stays_text(small: Papers, name: str, reason: str):
    """A plan can be edited by hand: whatever stands in its words, the page keeps its elements and nothing more."""
    riders = tuple(
        dataclasses.replace(r, reasons=(reason, name), fix=reason, fallback=name, retreat=name, unverified=(reason,))
        for r in small.plan.riders
    )
    tree = page_of(small, riders=riders, open_alerts=(name,), claims=(reason,), changes=(name,), command=reason)
    assert is_tame(tree)
    assert len(pick(tree, "main > section")) >= 13


def test_the_policy_allows_no_program_and_no_request(tree: html.HtmlElement):
    """Nothing by default; one sheet of styles by its hash; pictures only from the page itself."""
    policy = pick(tree, "meta[http-equiv]")[0].get("content")
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy
    assert "script" not in policy


# --- nothing private leaves ----------------------------------------------------------------------------------------------------------


def text_of(path: Path) -> str:
    """Everything readable of a file."""
    if path.suffix == ".pdf":
        import pdfplumber

        with pdfplumber.open(path) as document:
            return " ".join(page.extract_text() or "" for page in document.pages)
    if path.suffix == ".xlsx":
        import openpyxl

        return " ".join(str(c) for sheet in openpyxl.load_workbook(path) for row in sheet.iter_rows(values_only=True) for c in row if c)
    return path.read_bytes().decode("utf-8", errors="replace")


def test_only_the_coordinators_page_says_who_depends_on_power(small: Papers):
    """B's own power lasts 137 min, to 20:57. The page says it by id; no sheet, table, map or layer does.

    The plan itself, which the planner writes, holds a flag and no more.
    """
    assert OWN_POWER_MIN == 137.0
    page = (small.folder / "index.html").read_text(encoding="utf-8")
    assert "own power to 20:57" in page
    others = [p for p in small.folder.rglob("*") if p.is_file() and p.name not in ("index.html", "plan.json")]
    assert len(others) > 8
    for path in others:
        text = text_of(path)
        assert "20:57" not in text, path
        assert not re.search(r"own power|life.support|is_priority|ventilator|oxygen", text, re.IGNORECASE), path


def test_a_reason_stands_on_the_coordinators_page_only(small: Papers):
    """A reason can tell a need ("needs a socket that nobody can promise"), so maps and tables that travel carry none."""
    for path in (p for p in small.folder.rglob("*") if p.is_file() and p.name not in ("index.html", "plan.json")):
        assert "platform 90 cm wide" not in text_of(path), path


def test_titles_and_file_names_name_nobody(small: Papers, town: Papers):
    """A title is seen in a task bar, a file name in a mail."""
    for papers in (small, town):
        for name in ("index.html", "move-map.html"):
            title = pick(html.fromstring((papers.folder / name).read_text(encoding="utf-8")), "title")[0].text
            assert title in ("Plan of the move", "Map of the move")
        names = " ".join(p.relative_to(papers.folder).as_posix() for p in papers.folder.rglob("*"))
        assert not re.search(r"road|terrace|alder|power", names, re.IGNORECASE)


def test_a_riders_own_link_knows_no_rider(town: Papers):
    """What is sent to a volunteer's phone: no id, no need."""
    for path in town.folder.glob("riders/*/link.html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\bR\d\d\b", text)
        assert not re.search(r"own power|life.support", text, re.IGNORECASE)


def test_reasons_of_the_same_words_are_put_together():
    """Fifteen lines that say one thing hide the one that says another."""
    assert grouped(("no charge", "van V1: too small", "van V2: too small", "van V1: too late")) == [
        "no charge", "van V1, van V2: too small", "van V1: too late",
    ]  # fmt: skip


def test_the_page_speaks_the_readers_language(small: Papers):
    """The same plan in Spanish: headings and sentences of the page, and its language tag."""
    facts = gather(small.plan, small.move, small.travel, words=Words(language="es"))
    tree = html.fromstring(move_page(facts, make_rolls(facts, None, Path())))
    assert tree.get("lang") == "es"
    assert "1 persona sin atender" in words_of(tree, "#left h2")


def test_the_small_move_is_what_these_tests_say():
    """Guards the fixture: four riders, two shelters, one van."""
    made, _ = small_move()
    assert (len(made.riders), len(made.shelters), len(made.vans)) == (4, 2, 1)


def test_a_plan_made_anew_shows_where_the_evening_is(small: Papers):
    """Made anew at 18:55: a line on the time line, a row among the events, and how far everybody is. B was being fetched, A is aboard."""
    changes = {"now": "2026-03-01T18:55+01:00", "happened": {"A": "aboard", "B": "committed"}}
    tree = page_of(small, extra={"changes": changes})
    assert len(tree.xpath("//*[@class='tl-now']")) == 3  # riders, vans, escorts; the outlets have the night's clock
    rows = [[" ".join(c.text_content().split()) for c in row][:3] for row in pick(tree, "#events tbody tr")]
    place = rows.index(["18:55", "now", "what stands above has happened or is under way"])
    assert rows[place - 1][0] <= "18:55" <= rows[place + 1][0]
    how = {row[0].text_content(): " ".join(row[2].text_content().split()) for row in pick(tree, "#riders tbody tr")}
    assert how["A"] == "van V1, is aboard"
    assert how["B"] == "van V1, is being fetched"


@pytest.mark.parametrize("damaged", [None, 3, "x", [], {"now": 7, "happened": 3}, {"now": "soon", "happened": ["A"]}])
def test_damaged_news_do_no_harm(small: Papers, damaged: object):
    """A plan edited by hand: no line is better than a wrong one."""
    assert not page_of(small, extra={"changes": damaged}).xpath("//*[@class='tl-now']")
