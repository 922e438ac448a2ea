"""Text from strangers (street names, labels, field reports) made fit to print: no control signs, no tricks of direction."""

from __future__ import annotations

import re
import unicodedata

# XML 1.0, section 2.2, lists the characters a document may hold; the rest would make a GPX or KML file unreadable.
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# Embeddings, overrides and isolates (Unicode Standard Annex 9) can turn the text after a name around; names need none of their own.
_DIRECTION = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_SPACES = re.compile(r"\s+")
LONGEST = 200  # characters of one name; a longer one is no name


def plain(text: str | None, *, longest: int = LONGEST) -> str:
    r"""Give ``text`` in one line of printable characters, cut at ``longest``; nothing for ``None``.

    A name that runs from right to left stands between left-to-right marks (Unicode Standard Annex 9): else the metres and grid references
    that follow it in a sentence would be drawn before it, in another order. The isolates made for this are in few fonts, on paper a box.

    Examples
    --------
    >>> plain("Mill\x00 Street\n\u202e12")
    'Mill Street 12'
    """
    line = _SPACES.sub(" ", _DIRECTION.sub("", _FORBIDDEN.sub("", text or ""))).strip()
    line = re.sub("[\x7f-\x9f]", "", line)
    line = line if len(line) <= longest else line[: longest - 1] + "…"
    return f"\u200e{line}\u200e" if any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in line) else line
