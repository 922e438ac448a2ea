"""Grid references on a sheet: the square is told once, then figures alone, as users of the grid do within one area (FGDC-STD-011-2001)."""

from __future__ import annotations

from rollroute.output.itinerary import Itinerary
from rollroute.output.sms import place_reference


def home_square(itinerary: Itinerary) -> str:
    """The square of the start ("24T XR"), which holds for every reference without letters; empty outside the grid."""
    parts = place_reference(itinerary.start.lon, itinerary.start.lat).split()
    return " ".join(parts[:2]) if len(parts) == 4 else ""


def short_reference(itinerary: Itinerary, lon: float, lat: float) -> str:
    """A place to 10 m: its figures alone where it lies in the square of the start, else in full."""
    full, square = place_reference(lon, lat), home_square(itinerary)
    return full.removeprefix(f"{square} ") if square else full
