"""Find where a place is, without internet: a position, a shelter by name, an address from the map or a list, or a room in any of these.

A name that fits nothing is refused with the nearest spellings; a name that fits several places is refused with all of them.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollroute.errors import InputError

if TYPE_CHECKING:
    from rollroute.network.rooms import RoomFinder

POSITION = re.compile(r"\s*([+-]?\d{1,2}(?:\.\d+)?)(?:\s*[,;]\s*|\s+)([+-]?\d{1,3}(?:\.\d+)?)\s*")
SAME_PLACE_DEG = 0.002  # about 200 m
HOUSE_FIRST = re.compile(r"^\s*(\d+\s?[a-zA-Z]?)\s+(.*\D.*)$")
HOUSE_LAST = re.compile(r"^(.*\D)\s*,?\s+(\d+\s?[a-zA-Z]?)\s*$")


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A place on the ground. ``kind``: ``position``, ``address``, ``shelter``, or ``room`` for a room of a shelter.

    ``node``: where a room is reached in the network; ``None`` for places that are joined to the nearest way.
    ``opens``, ``closes``: of a shelter, where its list tells them.
    """

    label: str
    lon: float
    lat: float
    kind: str
    level: float | None = None
    node: int | None = None
    opens: dt.datetime | None = None
    closes: dt.datetime | None = None

    @property
    def is_shelter(self) -> bool:
        """Whether it is a shelter, or a room of one."""
        return self.kind in ("shelter", "room")


def find_place(
    text: str, *, addresses: Iterable[tuple[str, str, float, float]], shelters: Iterable[Any] = (), rooms: RoomFinder | None = None
) -> FoundPlace:
    """Find ``text``: ``lat,lon`` first, then the name of a shelter, then a room (``shelter:room``, ``shelter:level 1``), then an address.

    Parameters
    ----------
    addresses
        ``(street, number, lon, lat)``.
    shelters
        Anything with ``name``, ``lon`` and ``lat``.
    rooms
        The rooms that the map shows; without them no room is found.

    Raises
    ------
    InputError
        If nothing fits, or more than one place does.
    """
    match = POSITION.fullmatch(text)
    if match:
        return _position(text, float(match[1]), float(match[2]))
    shelter = _find_shelter(text, list(shelters))
    if shelter is not None:
        return shelter
    house, *words = text.split(":")
    if rooms is not None and words and all(word.strip() for word in (house, *words)):
        return _find_room(text, words, rooms, addresses=list(addresses), shelters=list(shelters))
    return _find_address(text, list(addresses), [s.name for s in shelters])


def _find_room(
    text: str, words: list[str], rooms: RoomFinder, *, addresses: list[tuple[str, str, float, float]], shelters: list[Any]
) -> FoundPlace:
    """A room of the building that carries the name before the colon, or that stands at the place that it names."""
    house = text.split(":")[0].strip()
    building, label, kind = rooms.building_named(house), house, "position"
    hours: tuple[dt.datetime | None, dt.datetime | None] = (None, None)
    try:
        place = find_place(house, addresses=addresses, shelters=shelters)
    except InputError:
        if building is None:
            raise
    else:
        label, kind, hours = place.label, "room" if place.kind == "shelter" else place.kind, (place.opens, place.closes)
        named = rooms.building_named(label)
        building = rooms.building_at(place.lon, place.lat) if named is None else named
    room = rooms.find(text, building, label, words)
    lon, lat = rooms.network.node_place(room.node) if room.node is not None else (room.lon, room.lat)
    return FoundPlace(f"{label}: {room.name or f'level {room.level:g}'}", lon, lat, kind, room.level, room.node, *hours)


def _position(text: str, lat: float, lon: float) -> FoundPlace:
    if abs(lat) > 90 or abs(lon) > 180:
        raise InputError(f"place {text!r}: not a position on Earth. Give latitude first, then longitude, for example 45.2011,-37.3004.")
    return FoundPlace(f"{lat:.5f}, {lon:.5f}", lon, lat, "position")


def _find_shelter(text: str, shelters: list[Any]) -> FoundPlace | None:
    wanted = plain(text)
    exact = [s for s in shelters if plain(s.name) == wanted]
    fits = exact or [s for s in shelters if plain(s.name).startswith(wanted) and len(wanted) >= 4]
    if len(fits) > 1:
        raise InputError(f"place {text!r}: fits {', '.join(repr(s.name) for s in fits)}. Give more of the name.")
    if not fits:
        return None
    fit = fits[0]
    more = (getattr(fit, name, None) for name in ("level", "node", "opens", "closes"))
    return FoundPlace(fit.name, float(fit.lon), float(fit.lat), "shelter", *more)


def _find_address(text: str, addresses: list[tuple[str, str, float, float]], names: list[str]) -> FoundPlace:
    match = HOUSE_FIRST.match(text)
    street, number = (match[2], match[1]) if match else ("", "")
    if not match and (match := HOUSE_LAST.match(text)):
        street, number = match[1], match[2]
    key = (plain(street), plain(number))
    fits = [a for a in addresses if (plain(a[0]), plain(a[1])) == key]
    if not fits:
        raise InputError(_not_found(text, plain(street), addresses, names))
    lons, lats = [a[2] for a in fits], [a[3] for a in fits]
    if max(lons) - min(lons) > SAME_PLACE_DEG or max(lats) - min(lats) > SAME_PLACE_DEG:  # two streets of one name
        where = "; ".join(f"{a[3]:.5f},{a[2]:.5f}" for a in fits[:5])
        raise InputError(f"place {text!r}: the map has it {len(fits)} times ({where}). Give the position instead.")
    return FoundPlace(f"{fits[0][0]} {fits[0][1]}", fits[0][2], fits[0][3], "address")


def _not_found(text: str, street: str, addresses: list[tuple[str, str, float, float]], names: list[str]) -> str:
    known = {plain(a[0]): a[0] for a in addresses} | {plain(n): n for n in names}
    if street in known:
        numbers = sorted({a[1] for a in addresses if plain(a[0]) == street}, key=_number_key)
        return f"place {text!r}: the map has no such number; it has {', '.join(numbers[:12])}. Give one of them, or a position lat,lon."
    near = difflib.get_close_matches(street or plain(text), known, n=3, cutoff=0.6)
    hint = f" Did you mean {', '.join(known[n] for n in near)}?" if near else ""
    return f"place {text!r}: not found among {len(addresses)} addresses and {len(names)} shelters.{hint} A position lat,lon works too."


def _number_key(number: str) -> tuple[int, str]:
    digits = re.match(r"\d+", number)
    return (int(digits[0]) if digits else 0, number)


@lru_cache(maxsize=65_536)  # a town's streets and numbers, folded once for all riders
def plain(text: str) -> str:
    """Fold case, accents, punctuation and blanks away, so that spellings meet."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[^\w]+", " ", "".join(c for c in folded if not unicodedata.combining(c))).strip()


def read_address_points(path: Path) -> list[tuple[str, str, float, float]]:
    """Read a list of address points: CSV with the columns street, housenumber, lat, lon.

    Raises
    ------
    InputError
        Naming the file, the row and the column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not a readable list of addresses ({error}). Give a CSV with street, housenumber, lat, lon.") from error
    points = []
    for number, row in enumerate(rows, start=2):
        try:
            points.append((row["street"], row["housenumber"], float(row["lon"]), float(row["lat"])))
        except (KeyError, TypeError, ValueError) as error:
            raise InputError(f"{path}, row {number}: {error}. Each row needs street, housenumber, lat, lon in degrees.") from error
    return points
