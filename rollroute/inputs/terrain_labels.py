"""What a height raster says about itself: vertical unit, vertical datum, noise, surface or ground.

Everything here works on plain values (strings and tag tables), so that each rule can be tested without a file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from rollroute.errors import InputError
from rollroute.units import M_PER_FOOT, M_PER_US_SURVEY_FOOT

if TYPE_CHECKING:
    from pyproj import CRS

UNIT_SPELLINGS: dict[str, float] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot", "foot (international)"), M_PER_FOOT),
    **dict.fromkeys(("us survey foot", "us survey feet", "us-ft", "ftus", "us_survey_foot", "foot_us", "us foot"), M_PER_US_SURVEY_FOOT),
}
"""Metres per vertical unit, by the spellings that band units, tags and coordinate systems use."""

SURFACE_NAMES = frozenset(
    ["dsm", "surface", "glo30", "glo90", "cop30", "copernicus", "srtm", "nasadem", "aster", "astgtm", "aw3d", "aw3d30", "alos", "tandem"]
)
"""Words in a file name that mean a surface model: radar and stereo heights see roofs and tree tops.

Copernicus GLO-30 is a surface model that includes buildings and vegetation (Copernicus DEM entry of the AWS open data
registry); for the others: from memory.
"""

COARSE_CELL_M = 15.0
"""Cells above this get a warning: the window of three cells is then longer than a block (assumption)."""

# Cell size up to which a noise value is assumed [m], the value [m], where it comes from.
ASSUMED_SIGMA: tuple[tuple[float, float, str], ...] = (
    (3.0, 0.10, "lidar quality level 2: vertical RMSE <= 0.10 m on open ground (USGS Lidar Base Specification, from memory)"),
    (COARSE_CELL_M, 0.82, "3DEP 1/3 arc-second: RMSE 0.82 m against about 25 000 survey points (USGS 3DEP accuracy FAQ, 2022)"),
    (50.0, 2.43, "Copernicus GLO-30: LE90 < 4 m, divided by 1.645 (product handbook, from memory)"),
    (float("inf"), 5.67, "SRTM: RMSE 5.67 m against GNSS in Malaysia (SFU journal article 2979)"),
)


def metres_per_unit(spelling: str, *, where: str) -> float:
    """Metres in one vertical unit.

    Parameters
    ----------
    spelling
        As a file or a user writes it: "metre", "ft", "US survey foot", … (:data:`UNIT_SPELLINGS`).
    where
        File or option, for the message.

    Raises
    ------
    InputError
        The spelling is not known.

    Examples
    --------
    >>> metres_per_unit("foot", where="here")
    0.3048
    """
    factor = UNIT_SPELLINGS.get(spelling.strip().lower())
    if factor is None:
        raise InputError(f"{where}: vertical unit {spelling!r} is not known. Give metre, foot or US survey foot.")
    return factor


def find_unit(band_unit: str | None, crs: CRS, tags: Mapping[str, str], given: str | None, *, where: str) -> float:
    """Metres per vertical unit from the labels, or from the user where there is no label.

    Raises
    ------
    InputError
        No label and nothing given; or two of them that contradict each other (a factor of 3.28 turns a gentle street
        into stairs or stairs into a gentle street, so this is never decided silently).
    """
    said = {
        "band unit": band_unit,
        "VERTICAL_UNIT tag": tags.get("VERTICAL_UNIT"),
        "coordinate system": _vertical_axis_unit(crs),
        "unit given": given,
    }
    factors = {label: metres_per_unit(text, where=f"{where} ({label})") for label, text in said.items() if text}
    if not factors:
        raise InputError(
            f"{where}: the raster does not say whether its heights are metres or feet. "
            "Give unit='metre', 'foot' or 'US survey foot', or set the tag VERTICAL_UNIT."
        )
    values = list(factors.values())
    if max(values) > 1.01 * min(values):  # the two feet differ by 2 parts in a million: no contradiction
        listed = ", ".join(f"{label} {said[label]!r}" for label in factors)
        raise InputError(f"{where}: labels of the vertical unit contradict each other ({listed}). Correct the wrong one.")
    return values[0]


def find_datum(crs: CRS, tags: Mapping[str, str], given: str | None) -> str | None:
    """Name of the vertical datum: the tag VERTICAL_DATUM, the coordinate system's, or the user's; None if nobody says."""
    tag = tags.get("VERTICAL_DATUM")
    return tag or _vertical_name(crs) or given


def datum_key(name: str) -> str:
    """Reduce a datum's name to what tells datums apart, whatever its unit or spelling.

    Examples
    --------
    >>> datum_key("NAVD88 height (ftUS)") == datum_key("navd 88")
    True
    """
    if re.fullmatch(r"EPSG:\d+", name.strip(), re.IGNORECASE):
        name = _epsg_name(name.strip())
    name = re.sub(r"\(ft(us)?\)|\bheight\b", "", name.lower())
    key = re.sub(r"[^a-z0-9]", "", name)
    return {"northamericanverticaldatum1988": "navd88", "normaalamsterdamspeil": "nap", "wgs84": "ellipsoidwgs84"}.get(key, key)


def is_surface_model(file_name: str, tags: Mapping[str, str]) -> bool:
    """Whether the raster shows roofs and tree tops, by its MODEL tag or else by a known word in its name.

    Examples
    --------
    >>> is_surface_model("Copernicus_DSM_10_N34_00.tif", {}), is_surface_model("town.tif", {"MODEL": "surface"})
    (True, True)
    >>> is_surface_model("dsm.tif", {"MODEL": "terrain"})
    False
    """
    model = tags.get("MODEL", "").strip().lower()
    if model:
        return model == "surface"
    return not SURFACE_NAMES.isdisjoint(re.split(r"[^a-z0-9]+", file_name.lower()))


def find_sigma(cell_m: float, tags: Mapping[str, str], given: float | None, *, where: str) -> tuple[float, str]:
    """Standard deviation of one cell's height error [m] and where it comes from: given > tag > assumed by cell size."""
    tag = tags.get("HEIGHT_SIGMA_M")
    for value, source in ((given, "given by the user"), (tag, "tag HEIGHT_SIGMA_M")):
        if value is not None:
            return _non_negative(value, where=f"{where} ({source})"), source
    return next((sigma, f"assumed: {source}") for limit, sigma, source in ASSUMED_SIGMA if cell_m <= limit)


def _non_negative(value: float | str, *, where: str) -> float:
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    if not 0.0 <= number < float("inf"):
        raise InputError(f"{where}: height noise must be a number of metres >= 0, got {value!r}.")
    return number


def _vertical_axis_unit(crs: CRS) -> str | None:
    for part in (crs, *crs.sub_crs_list):
        for axis in part.axis_info:
            if axis.direction == "up":
                return str(axis.unit_name)
    return None


def _vertical_name(crs: CRS) -> str | None:
    for part in crs.sub_crs_list:
        if part.is_vertical:
            return str(part.name)
    is_ellipsoidal = any(axis.direction == "up" for axis in crs.axis_info) and not crs.sub_crs_list
    return f"ellipsoid {crs.ellipsoid.name}" if is_ellipsoidal and crs.ellipsoid else None


def _epsg_name(code: str) -> str:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return str(CRS.from_user_input(code).name)
    except CRSError:
        return code
