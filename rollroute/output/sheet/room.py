"""How much of a page blocks take, about: enough to size the overview map so that it ends where the first page ends."""

from __future__ import annotations

import math

from rollroute.output.sheet.blocks import Block
from rollroute.output.sheet.fonts import advance_em

BODY_PT, TRACKING_PT = 12.0, -0.2  # as in ``sheet.typ``
LINE_PT, CHARGE_LINE_PT = 14.4, 18.4  # from one line to the next, measured on a printed page like those below
TITLE_PT, HEADING_PT, TICKS_PT, WRITE_IN_PT, GAP_PT = 25.2, 16.6, 23.5, 21.6, 4.5
FULL = 0.98  # of a line: what figures glued to their units leave empty at its end
BOLD = 1.12  # labels are bold, which is wider


def height_pt(blocks: list[Block], width_pt: float) -> float:
    """The height of ``blocks`` at ``width_pt``, points; good to a line or two."""
    return sum(_height_pt(block, width_pt) for block in blocks)


def lines_pt(text: str, width_pt: float, label: str = "") -> float:
    """The height of a paragraph, its words set one after the other."""
    lines, x = 1, run_pt(label) * BOLD
    for word in text.split(" "):
        wide = run_pt(word)
        if x > 0 and x + wide > width_pt * FULL:
            lines, x = lines + 1, 0.0
        x += wide + run_pt(" ")
    return lines * LINE_PT


def run_pt(text: str) -> float:
    """The width of unbroken text."""
    return sum(advance_em(letter) * BODY_PT + TRACKING_PT for letter in text)


def _height_pt(block: Block, width_pt: float) -> float:
    kind = block["kind"]
    if kind in {"title", "heading", "ticks"}:
        return {"title": TITLE_PT, "heading": HEADING_PT, "ticks": TICKS_PT}[kind]
    if kind == "write_in":
        return math.ceil(len(block["items"]) / len(block["columns"])) * WRITE_IN_PT
    if kind == "facts":
        return GAP_PT + sum(lines_pt(text, width_pt, f"{label}: ") for label, text in block["rows"])
    if kind == "charges":
        lines = sum(lines_pt(row["text"], width_pt - row["width"], f"{row['label']}: ") for row in block["rows"])
        return lines + len(block["rows"]) * (CHARGE_LINE_PT - LINE_PT)
    texts = [block["text"]] if kind == "para" else block.get("items", [])
    return GAP_PT + sum(lines_pt(text, width_pt - BODY_PT) for text in texts)
