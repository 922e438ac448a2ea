"""Leaflet from the installed ``xstatic-leaflet`` distribution, made fit to stand inside one page without a single request.

Nothing is copied into this project: the text is read from the installed package whenever a map is written, with its licence header.
"""

from __future__ import annotations

import base64
import mimetypes
import re
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from rollroute.errors import InputError

DISTRIBUTION = "xstatic-leaflet"
FOLDER = "xstatic/pkg/leaflet/data"
_URL = re.compile(r"url\(\s*['\"]?([^'\")]+)['\"]?\s*\)")
_BEHAVIOR = re.compile(r"behavior:\s*url\(#default#VML\);?")  # a call to an old browser's plug-in
_SOURCE_MAP = re.compile(r"//# sourceMappingURL=.*|/\*# sourceMappingURL=.*?\*/")  # developer tools would fetch it


@dataclass(frozen=True, slots=True)
class LeafletAssets:
    """Leaflet's program and its sheet of styles, with every image inside as a ``data:`` URI."""

    script: str
    style: str
    icon: str  # data: URI of the default marker picture
    shadow: str


@cache
def leaflet_assets() -> LeafletAssets:
    """Read Leaflet from the installed distribution.

    Raises
    ------
    InputError
        If the distribution or one of its files is missing.
    """
    folder = _folder()
    style = _BEHAVIOR.sub("", _read(folder / "leaflet.css"))
    style = _URL.sub(lambda match: f"url({data_uri(folder / match.group(1))})", style)
    return LeafletAssets(
        script=guard(_SOURCE_MAP.sub("", _read(folder / "leaflet.js"))),
        style=guard(_SOURCE_MAP.sub("", style)),
        icon=data_uri(folder / "images" / "marker-icon.png"),
        shadow=data_uri(folder / "images" / "marker-shadow.png"),
    )


def data_uri(file: Path) -> str:
    """Give a file as a base64 ``data:`` URI (RFC 2397)."""
    kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
    try:
        content = base64.b64encode(file.read_bytes()).decode("ascii")
    except OSError as error:
        raise InputError(f"{file.name}: missing in the installed {DISTRIBUTION} ({error}). Install {DISTRIBUTION} again.") from error
    return f"data:{kind};base64,{content}"


def guard(text: str) -> str:
    """Keep inlined text from closing its own ``<script>`` or ``<style>`` element."""
    return re.sub(r"</(?=script|style)", r"<\\/", text, flags=re.IGNORECASE)


def _folder() -> Path:
    try:
        return Path(str(distribution(DISTRIBUTION).locate_file(FOLDER)))
    except PackageNotFoundError as error:
        raise InputError(f"{DISTRIBUTION}: not installed, and the map needs Leaflet from it. Run: pip install {DISTRIBUTION}") from error


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{file.name}: missing in the installed {DISTRIBUTION} ({error}). Install {DISTRIBUTION} again.") from error
