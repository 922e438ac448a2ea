"""Alerts in the Common Alerting Protocol, version 1.2 (OASIS, 1 July 2010).

An alert is never taken as a fact: the coordinator turns each into *closed*, *deadline* or *watch* in ``move.toml``.
Its ``expires`` is the end of the message, not of the danger.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rollroute.errors import InputError

NAMESPACE = "{urn:oasis:names:tc:emergency:cap:1.2}"
LonLat = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """One alert message. ``rings``: polygons as lon, lat; ``circles``: lon, lat, radius in km."""

    file: str
    identifier: str
    sender: str
    sent: dt.datetime
    status: str  # Actual, Exercise, System, Test, Draft
    message_type: str  # Alert, Update, Cancel, Ack, Error
    references: tuple[tuple[str, str], ...]  # (sender, identifier) of the messages that this one updates or cancels
    headline: str
    area: str
    rings: tuple[tuple[LonLat, ...], ...]
    circles: tuple[tuple[float, float, float], ...]
    onset: dt.datetime | None
    expires: dt.datetime | None


def read_alert(path: Path, *, language: str | None = None) -> Alert:
    """Read one CAP 1.2 file. Polygons stand there as ``lat,lon`` pairs; entities, DTDs and the network are refused.

    Raises
    ------
    InputError
        If it is not CAP 1.2 or lacks a field that the standard requires.
    """
    from lxml import etree

    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        document = etree.parse(str(path), parser)
        if document.docinfo.doctype:
            raise InputError(f"{path}: a CAP message has no DOCTYPE. It was not read.")
        return _alert(document.getroot(), path, language)
    except (OSError, etree.XMLSyntaxError) as error:
        raise InputError(f"{path}: not readable as XML ({error}).") from error
    except (ValueError, IndexError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{path}: a value is not as CAP 1.2 writes it ({error}).") from error


def _alert(root: Any, path: Path, language: str | None) -> Alert:
    if root.tag != NAMESPACE + "alert":
        raise InputError(f"{path}: not a CAP 1.2 alert (namespace urn:oasis:names:tc:emergency:cap:1.2).")
    for name in ("identifier", "sender", "sent", "status", "msgType"):
        if not _value(root, name):
            raise InputError(f"{path}: <{name}> is missing. CAP 1.2 requires it.")
    infos = root.findall(NAMESPACE + "info")
    info = next((i for i in infos if language and _value(i, "language").lower().startswith(language.lower())), infos[0] if infos else None)
    areas = [] if info is None else info.findall(NAMESPACE + "area")
    return Alert(
        file=path.name,
        identifier=_value(root, "identifier"),
        sender=_value(root, "sender"),
        sent=_moment(_value(root, "sent"), path),
        status=_value(root, "status"),
        message_type=_value(root, "msgType"),
        references=tuple(_reference(r) for r in _value(root, "references").split()),
        headline=("" if info is None else _value(info, "headline") or _value(info, "event")),
        area="; ".join(_value(a, "areaDesc") for a in areas),
        rings=tuple(_ring(p.text or "", path) for a in areas for p in a.findall(NAMESPACE + "polygon")),
        circles=tuple(_circle(c.text or "") for a in areas for c in a.findall(NAMESPACE + "circle")),
        onset=None if info is None or not _value(info, "onset") else _moment(_value(info, "onset"), path),
        expires=None if info is None or not _value(info, "expires") else _moment(_value(info, "expires"), path),
    )


def _value(element: Any, name: str) -> str:
    return (element.findtext(NAMESPACE + name) or "").strip()


def _moment(text: str, path: Path) -> dt.datetime:
    moment = dt.datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise InputError(f"{path}: time {text!r} has no offset. CAP writes 2026-03-01T20:30:00-00:00 for UTC.")
    return moment


def _reference(text: str) -> tuple[str, str]:
    """``sender,identifier,sent`` of an earlier message."""
    parts = text.split(",")
    return (parts[0], parts[1] if len(parts) > 1 else "")


def _ring(text: str, path: Path) -> tuple[LonLat, ...]:
    ring = []
    for pair in text.split():
        lat, lon = (float(p) for p in pair.split(","))
        if not (-90 <= lat <= 90 and -180 <= lon <= 180):
            raise InputError(f"{path}: polygon corner {pair!r} is not lat,lon.")
        ring.append((lon, lat))
    if len(ring) < 4 or ring[0] != ring[-1]:
        raise InputError(f"{path}: a polygon needs at least 4 corners and the last must equal the first; this one has {len(ring)}.")
    return tuple(ring)


def _circle(text: str) -> tuple[float, float, float]:
    centre, radius_km = text.split()
    lat, lon = (float(p) for p in centre.split(","))
    return lon, lat, float(radius_km)


def alerts_in_force(alerts: Iterable[Alert], *, with_exercises: bool = False) -> list[Alert]:
    """Messages that still stand: updates replace and cancels remove what they refer to, chains included; drafts and tests drop out.

    An ``expires`` in the past removes nothing: the message has ended, the danger may not have.
    """
    wanted = {"Actual"} | ({"Exercise"} if with_exercises else set())
    messages: Sequence[Alert] = sorted((a for a in alerts if a.status in wanted), key=lambda a: (a.sent, a.identifier))
    gone = {ref for a in messages if a.message_type in ("Update", "Cancel") for ref in a.references}
    return [a for a in messages if a.message_type in ("Alert", "Update") and (a.sender, a.identifier) not in gone]
