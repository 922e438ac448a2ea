"""The blocks that a printed page is made of: plain JSON values that ``sheet.typ`` knows how to set."""

from __future__ import annotations

from typing import Any

Block = dict[str, Any]


def title(text: str, sub: str = "") -> Block:
    """The one title of a document, with smaller words after it on its line."""
    return {"kind": "title", "text": text, "sub": sub}


def heading(text: str) -> Block:
    """A heading; it never stands alone at the foot of a page."""
    return {"kind": "heading", "text": text}


def paragraph(text: str, *, strong: bool = False) -> Block:
    """A paragraph."""
    return {"kind": "para", "text": text, "strong": strong}


def small_print(text: str) -> Block:
    """What nobody needs on the way, such as the sources of the map, in smaller letters."""
    return {"kind": "small", "text": text}


def bullets(items: list[str]) -> Block:
    """A list of sentences."""
    return {"kind": "list", "items": items}


def numbered(items: list[str]) -> Block:
    """A list of things to do in order."""
    return {"kind": "enum", "items": items}


def ticks(items: list[str]) -> Block:
    """Tick boxes in a row."""
    return {"kind": "ticks", "items": items}


def write_in(labels: list[str], *, columns: tuple[float, ...] = (1.0,)) -> Block:
    """Lines to write on, each after its label, in ``columns`` of these shares of the width."""
    return {"kind": "write_in", "items": labels, "columns": list(columns)}


def charges(rows: list[dict[str, Any]]) -> Block:
    """Charges as bars with their words: ``rows`` hold ``label, svg, alt, width, text``."""
    return {"kind": "charges", "rows": rows}


def question_lines(groups: list[tuple[str, list[str]]]) -> Block:
    """What is not known, one kind after the other, each place with a line to write on."""
    return {"kind": "questions", "groups": [{"what": what, "items": items} for what, items in groups]}


def facts(rows: list[tuple[str, str]]) -> Block:
    """Terms and what they are, one a line."""
    return {"kind": "facts", "rows": [list(row) for row in rows]}


def table(head: list[str], rows: list[list[str]], *, widths: list[str] | None = None) -> Block:
    """A table with a header row."""
    return {"kind": "table", "head": head, "rows": rows, "widths": widths or ["1fr"] * len(head)}


def figure(svg: str, alt: str, width_pt: float, legend: str = "") -> Block:
    """A picture with its text alternative, and a legend, if any, that stays on its page."""
    return {"kind": "figure", "svg": svg, "alt": alt, "width": width_pt, "legend": legend}


def step_strip(legend: str, rows: list[dict[str, Any]]) -> Block:
    """The strip of steps: ``rows`` hold ``n, at, next, sentence, notes`` (``where, what``); with a small map also ``svg, alt, width``."""
    return {"kind": "steps", "legend": legend, "rows": rows}


def halves(left: list[Block], right: list[Block]) -> Block:
    """Blocks side by side, each on half of the width; read from left to right."""
    return {"kind": "halves", "left": left, "right": right}


def columns(blocks: list[Block]) -> Block:
    """Blocks that flow in two columns, from where the page stands to its foot, then over the next pages."""
    return {"kind": "columns", "blocks": blocks}


def aside(svg: str, alt: str, width_pt: float, text: str) -> Block:
    """A picture with a paragraph beside it."""
    return {"kind": "aside", "svg": svg, "alt": alt, "width": width_pt, "text": text}


def column_break() -> Block:
    """Begin a new column."""
    return {"kind": "column_break"}


def page_break() -> Block:
    """Begin a new page."""
    return {"kind": "break"}
