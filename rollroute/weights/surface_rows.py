"""What the surface table says of every piece, for one chair and one weather."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.inputs.chair import Chair
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.tables import load_surfaces
from rollroute.network.network import Flag, Network

Floats = npt.NDArray[np.float64]


def surface_rows(network: Network, chair: Chair, conditions: Conditions) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """(crr ratio, speed factor, verdict) of every piece; under a roof it stays dry."""
    table = load_surfaces()
    unknown = len(table.names) - 1
    code = np.arange(-1, 255)
    code[0] = unknown
    rows = np.minimum(code, unknown)[network.pieces.surface]
    dry = table.lookup(chair.wheel, is_wet=False)
    if not conditions.is_wet:
        return dry.crr_ratio[rows], dry.speed_factor[rows], dry.verdict[rows]
    wet = table.lookup(chair.wheel, is_wet=True)
    roofed = (network.pieces.flags & np.uint32(Flag.INDOOR)) != 0

    def either(field: str) -> npt.NDArray[Any]:
        return np.asarray(np.where(roofed, getattr(dry, field)[rows], getattr(wet, field)[rows]))

    return either("crr_ratio"), either("speed_factor"), either("verdict").astype(np.int8)
