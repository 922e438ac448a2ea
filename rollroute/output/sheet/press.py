"""Make a PDF of blocks: tagged for PDF/UA-1, the same bytes for the same input, and never lost for want of a letter."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.output.folder import ready_to_write
from rollroute.output.sheet.blocks import Block, paragraph
from rollroute.output.sheet.fonts import FAMILIES, fonts, in_the_system, missing_letters, without_missing
from rollroute.output.words import Words
from rollroute.output.words.words import read_moment
from rollroute.whole import write_whole

PAPERS = {"a4": ("a4", 210.0, 297.0), "letter": ("us-letter", 215.9, 279.4)}  # typst's name, millimetres
SIDE_MARGIN_MM, GAP_PT = 10.0, 14.0  # as in sheet.typ
PT_PER_MM = 72.0 / 25.4
MOST_SHOWN = 12  # letters named in a line about letters
LONGEST_RUN = 28  # bold letters that fit beside a small map
# A figure keeps its unit on its line, and the two halves of a grid reference stay together.
_GLUED = re.compile(r"(?<=\d) (?=(?:m|km|ft|mi|cm|in|min|h|s|%|kg|lb|N|lbf)\b|%)|(?<=\b\d{4}) (?=\d{4}\b)")
_LONG_RUN = re.compile(rf"\S{{{LONGEST_RUN}}}(?=\S)")
_PAGE = re.compile(rb"/Type\s*/Page[^s]")
_BOX = re.compile(rb"/MediaBox\s*\[\s*0 0 [\d.]+ ([\d.]+)")
STANDARD = "ua-1"
TEMPLATE = Path(__file__).with_name("sheet.typ")


def text_width_pt(paper: str) -> float:
    """Width between the margins, points."""
    return (check_paper(paper)[1] - 2 * SIDE_MARGIN_MM) * PT_PER_MM


def column_pt(width_pt: float) -> float:
    """Width of each of two columns on a text width of ``width_pt``, points."""
    return (width_pt - GAP_PT) / 2


def check_paper(paper: str) -> tuple[str, float, float]:
    """The paper's typst name, width and height.

    Raises
    ------
    InputError
        If the size is not known.
    """
    if paper not in PAPERS:
        raise InputError(f"paper must be one of {', '.join(PAPERS)}, got {paper!r}.")
    return PAPERS[paper]


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """What all pages of one document share. ``made_at`` (ISO 8601) is the time that stands in the file."""

    title: str
    header: str
    made_at: str
    paper: str
    words: Words

    def print(self, blocks: list[Block], path: Path) -> None:
        """Write ``blocks`` to ``path``; lines stand a little closer where that saves a page."""
        self.place(self.fewest_pages(blocks), path)

    def fewest_pages(self, blocks: list[Block]) -> bytes:
        """``blocks`` as PDF, with lines a little closer where that saves a page."""
        pdf = self.pdf(blocks)
        if n_pages(pdf) == 1:
            return pdf
        closer = self.pdf(blocks, is_tight=True)
        return closer if n_pages(closer) < n_pages(pdf) else pdf

    def pdf(self, blocks: list[Block], *, is_tight: bool = False, is_one_long_page: bool = False) -> bytes:
        """``blocks`` as PDF, tagged for PDF/UA-1.

        Letters that our fonts lack are taken from fonts of the system; where those lack them too, a rectangle stands for each
        and a line says so. The tags stay in every case but a failure of the tagging itself, which is then said on the page.
        """
        moment = read_moment(self.made_at)
        document = {
            "title": self.title,
            "header": self.header,
            "language": self.words.language,
            "fonts": list(FAMILIES),
            "paper": check_paper(self.paper)[0],
            "timestamp": [moment.year, moment.month, moment.day],
            "tight": is_tight,
            "long": is_one_long_page,
            "blocks": [_breakable(block) for block in blocks],
        }
        return _pdf(document, int(moment.timestamp()), self.words)

    def room_pt(self, blocks: list[Block]) -> float:
        """How much of a page, points, ``blocks`` leave free: they are printed on a page as long as they need, and that is measured."""
        box = _BOX.search(self.pdf(blocks, is_one_long_page=True))
        if box is None:
            raise InputError("sheet: the page came out without a size. Check the route's file.")
        return check_paper(self.paper)[2] * PT_PER_MM - float(box[1])

    def place(self, pdf: bytes, path: Path) -> None:
        """Put a finished file where it belongs: complete or not at all."""
        ready_to_write(path)
        write_whole(path, pdf)


def n_pages(pdf: bytes) -> int:
    """Pages of a PDF as typst writes it: page objects are not compressed."""
    return len(_PAGE.findall(pdf))


def _breakable(value: Any, key: str = "") -> Any:
    """Let unbroken text over ``LONGEST_RUN`` letters break, by zero-width spaces; keep figure and unit, or a grid reference, together."""
    if isinstance(value, dict):
        return {k: _breakable(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [_breakable(v, key) for v in value]
    if isinstance(value, str) and key not in {"svg", "alt"}:
        return _LONG_RUN.sub("\\g<0>\u200b", _GLUED.sub("\u00a0", value))
    return value


def _pdf(document: dict[str, Any], timestamp: int, words: Words) -> bytes:
    import typst

    missing = missing_letters(json.dumps(document, ensure_ascii=False, allow_nan=False))
    there = in_the_system(missing) if missing else set()
    for is_bare in (False, True):
        shown = _with_bare_maps(document, words) if is_bare else document
        for borrowed in (there, set[str]()) if there else (there,):
            try:
                return _compile(_with_letters(shown, borrowed, missing - borrowed, words), timestamp, include_system=bool(borrowed))
            except typst.TypstError:
                continue
    line = words.say("This file could not be tagged for screen readers.")
    untagged = _with_letters(_with_line(document, line), set(), missing, words)
    return _compile(untagged, timestamp, include_system=False, standard=[])


def _with_letters(document: dict[str, Any], borrowed: set[str], lost: set[str], words: Words) -> dict[str, Any]:
    """Say which letters come from other fonts, and which no font has: for those a rectangle stands everywhere."""
    if borrowed:
        shown = " ".join(sorted(borrowed)[:MOST_SHOWN])
        line = words.say("Letters that our fonts lack are set in other fonts of this machine: {letters}", letters=shown)
        document = _with_line(document, line)
    if lost:
        named = ", ".join(f"U+{ord(c):04X}" for c in sorted(lost)[:MOST_SHOWN])
        line = words.say(
            "A small rectangle stands for a letter that no font here has ({letters}); ask for the name at the place.", letters=named
        )
        document = _with_line(document, line)
        text = without_missing(json.dumps(document, ensure_ascii=False, allow_nan=False), lost)
        document = json.loads(text)
    return document


def _with_bare_maps(document: dict[str, Any], words: Words) -> dict[str, Any]:
    """Leave marks above and below letters (Thai, Devanagari) off the maps: typst can't tag such letters in a picture. A line says so."""
    line = words.say("On the maps names stand without the marks above and below their letters; in the words they are whole.")
    return {**document, "blocks": _bare(_with_line(document, line)["blocks"])}


def _bare(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {k: _bare(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [_bare(v, key) for v in value]
    if isinstance(value, str) and key == "svg" and not value.isascii():
        return "".join(c for c in unicodedata.normalize("NFC", value) if unicodedata.category(c) not in {"Mn", "Mc"})
    return value


def _with_line(document: dict[str, Any], line: str) -> dict[str, Any]:
    return {**document, "blocks": [*document["blocks"], paragraph(line)]}


def _compile(document: dict[str, Any], timestamp: int, *, include_system: bool, standard: Sequence[str] = (STANDARD,)) -> bytes:
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    compiler = _compiler(include_system)
    pdf = compiler.compile(sys_inputs={"data": text}, format="pdf", pdf_standards=list(standard), timestamp=timestamp)
    if not isinstance(pdf, bytes):
        raise InputError("sheet: the page came out empty. Check the route's file.")
    return pdf


@lru_cache(maxsize=2)
def _compiler(include_system: bool) -> Any:
    """One compiler for many sheets: fonts and template are read once."""
    import typst

    return typst.Compiler(TEMPLATE, root=TEMPLATE.parent, font_paths=fonts(include_system=include_system))
