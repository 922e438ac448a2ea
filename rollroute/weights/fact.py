"""One fact about a piece of way, as plain values: what, how much, who says so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """``what`` is a code (``rollroute.weights.known``); ``kind`` says how to read the value.

    kind : ``length``, ``small_length``, ``grade``, ``share``, ``mass``, ``speed``, ``number``: ``figure``, ``None`` if not known;
        ``text``: ``text`` as a map or a survey has it, empty if not known; ``codes``: codes in ``text`` joined by commas;
        ``reasons``, ``questions``, ``clear``: a verdict, its codes in ``text``, and the chance of a stop in ``figure``
    spread : standard deviation of ``figure`` where one is known
    source : a rank (such as ``tag_number``), or where else the value comes from; may be empty
    at : the map's number of the place that it belongs to, such as ``node/12``; empty for the piece itself
    """

    what: str
    kind: str
    figure: float | None = None
    spread: float | None = None
    text: str = ""
    source: str = ""
    at: str = ""
