"""The plan as a workbook: overview, riders, outlets, escorts, and a sheet for each van and each shelter."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollroute.output.move import rows
from rollroute.output.move.book_words import VALUES, cell, heading
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.planner_words import tell
from rollroute.output.move.rows import Row
from rollroute.output.plain_text import plain
from rollroute.output.words import Words
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import Tier

LONGEST_SHEET = 31  # letters of a sheet's name (Excel's own limit)
MOMENT_COLUMNS = {"leave", "load", "loaded", "unload", "arrive", "latest", "start", "end", "meet", "back"}
ZIP_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP file can hold: the same plan gives the same bytes
_FORBIDDEN = re.compile(r"[\[\]:*?/\\']")
_MODIFIED = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
WIDEST = 60


def write_book(facts: MoveFacts, path: Path) -> None:
    """Write the workbook. Text stays text: no cell is a formula, whatever a name begins with."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    taken: set[str] = set()

    def sheet(title: str, columns: Sequence[str], found: Sequence[Row]) -> None:
        _fill(book.create_sheet(_sheet_name(title, taken)), columns, found, facts.words)

    plan, say = facts.plan, facts.words.say
    sheet(say("Plan"), ("what", "value"), _overview(facts))
    sheet(say("Riders"), rows.RIDER_COLUMNS, rows.rider_rows(facts))
    sheet(say("Outlets"), rows.OUTLET_COLUMNS, [row for s in plan.shelters for row in rows.outlet_rows(s)])
    sheet(say("Escorts"), rows.ESCORT_COLUMNS, rows.escort_rows(facts))
    for van in facts.used_vans:
        sheet(say("Van {van}", van=van.id), rows.VAN_COLUMNS, rows.van_rows(facts, van))
    for shelter in facts.used_shelters:
        sheet(say("At {shelter}", shelter=shelter.name), rows.SHELTER_COLUMNS, rows.shelter_rows(facts, shelter))
    _save(book, path, facts.made_at)


def _overview(facts: MoveFacts) -> list[Row]:
    plan, words = facts.plan, facts.words
    say = words.say
    counts = {status: sum(r.status == status for r in plan.riders) for status in VALUES["status"]}
    facts_of_plan = {
        say("move"): plain(str(plan.move.get("name", ""))),
        say("start"): str(plan.move.get("start", "")),
        say("made"): facts.made_at,
        say("complete"): say("yes") if plan.is_complete else say("no: interrupted, the best plan so far"),
        say("estimates from"): plain(tell(words, str(plan.move.get("basis", "")))),
        **{say("riders {status}", status=cell("status", status, words)): count for status, count in counts.items()},
        **{say("tier {n}: {name}", n=n, name=tell(words, t.name)): _figure(t, words) for n, t in enumerate(plan.tiers, 1)},
    }
    return [{"what": what, "value": value} for what, value in facts_of_plan.items()]


def _figure(tier: Tier, words: Words) -> str:
    if tier.is_proven:
        return words.say("{value} (bound {bound}, proven)", value=tier.value, bound=tier.bound)
    return words.say("{value} (bound {bound})", value=tier.value, bound=tier.bound)


def _sheet_name(title: str, taken: set[str]) -> str:
    """A name that spreadsheets take: at most 31 letters, none of their signs, no two alike."""
    base = _FORBIDDEN.sub(" ", plain(title)).strip()[:LONGEST_SHEET].strip() or "sheet"
    name, n = base, 1
    while name.lower() in taken:
        n += 1
        name = f"{base[: LONGEST_SHEET - len(str(n)) - 1].strip()} {n}"
    taken.add(name.lower())
    return name


def _fill(sheet: Any, columns: Sequence[str], found: Sequence[Row], words: Words) -> None:
    from openpyxl.styles import Alignment, Font

    for x, name in enumerate(columns, start=1):
        sheet.cell(1, x, heading(name, words)).font = Font(bold=True)
    for y, row in enumerate(found, start=2):
        for x, name in enumerate(columns, start=1):
            _put(sheet.cell(y, x), name, cell(name, row[name], words))
            sheet.cell(y, x).alignment = Alignment(wrap_text=True, vertical="top")
    for x, name in enumerate(columns, start=1):
        longest = max([len(heading(name, words)), *(len(str(row[name] or "")) for row in found if name not in MOMENT_COLUMNS)])
        sheet.column_dimensions[sheet.cell(1, x).column_letter].width = min(WIDEST, longest + 3)
    sheet.freeze_panes = "B2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"


def _put(at: Any, name: str, value: Any) -> None:
    if isinstance(value, str) and name in MOMENT_COLUMNS and value:
        at.value = read_moment(value).replace(tzinfo=None)  # spreadsheets know no zones; the clock is that of the move
        at.number_format = "hh:mm"
    elif isinstance(value, str):
        at.value = value
        at.data_type = "s"  # never a formula
        at.quotePrefix = True
    else:
        at.value = value


def _save(book: Any, path: Path, made_at: str) -> None:
    """Save with the plan's own dates instead of the clock's."""
    moment = read_moment(made_at).astimezone(dt.UTC).replace(tzinfo=None)
    raw = io.BytesIO()
    book.save(raw)
    stamp = moment.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for item in source.infolist():
            content = source.read(item)
            if item.filename == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp, content)
            entry = zipfile.ZipInfo(item.filename, ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, content)
