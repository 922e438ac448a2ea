"""Places as short text: geo: URIs that a phone opens in its own map, and grid references read over a radio."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from rollroute.errors import InputError

DECIMALS = 6  # about 0.1 m of latitude
GRID_DIGITS = {1.0: 5, 10.0: 4, 100.0: 3, 1000.0: 2}  # precision in metres -> digits for easting and for northing


def geo_uri(lon: float, lat: float, *, uncertainty_m: float | None = None) -> str:
    """Write a place as a ``geo:`` URI: latitude first, WGS 84, uncertainty in metres.

    Sources: RFC 5870, section 3.3 (syntax), 3.4.2 (a pole has longitude 0), 3.4.3 (``u`` in metres; from memory), 3.4.4 (-180 equals 180).

    Raises
    ------
    InputError
        If the place is not on the globe or the uncertainty is negative.

    Examples
    --------
    >>> geo_uri(16.3695, 48.2010, uncertainty_m=40)
    'geo:48.201,16.3695;u=40'
    """
    _check(lon, lat)
    if abs(lat) == 90.0:
        lon = 0.0
    elif lon == -180.0:
        lon = 180.0
    place = f"geo:{_number(lat, DECIMALS)},{_number(lon, DECIMALS)}"
    if uncertainty_m is None:
        return place
    if not (math.isfinite(uncertainty_m) and uncertainty_m >= 0):
        raise InputError(f"geo: URI: uncertainty_m must be 0 or more, got {uncertainty_m!r}. Leave it out if it is unknown.")
    return f"{place};u={_number(uncertainty_m, 1)}"


def grid_reference(lon: float, lat: float, *, precision_m: float = 10.0) -> str:
    """Write a place as a US National Grid (MGRS) reference with spaces, cut, not rounded, to ``precision_m``.

    Source: FGDC-STD-011-2001; the cutting of digits, so that a reference names the square it lies in, is common practice.

    Raises
    ------
    InputError
        If the place is not on the globe, or the precision is not 1, 10, 100 or 1000 m.

    Examples
    --------
    >>> grid_reference(-77.0352, 38.8895)
    '18S UJ 2348 0648'
    """
    _check(lon, lat)
    digits = GRID_DIGITS.get(float(precision_m))
    if digits is None:
        raise InputError(f"grid reference: precision_m must be one of {sorted(GRID_DIGITS)}, got {precision_m!r}.")
    text = str(_converter().toMGRS(lat, lon, MGRSPrecision=digits))
    numbers = text[-2 * digits :]
    square = text[: -2 * digits]
    return f"{square[:-2].lstrip('0')} {square[-2:]} {numbers[:digits]} {numbers[digits:]}".strip()


def _check(lon: float, lat: float) -> None:
    if not (-180.0 <= lon <= 180.0 and -90.0 <= lat <= 90.0):
        raise InputError(f"place: longitude {lon!r}, latitude {lat!r} is not on the globe. Give degrees, longitude first.")


def _number(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@cache
def _converter() -> Any:
    import mgrs

    return mgrs.MGRS()
