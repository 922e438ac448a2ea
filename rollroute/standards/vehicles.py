"""What law asks of vans, vehicle lifts, ramps, securement, loading zones and parking. The rating on the lift itself decides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from rollroute.errors import InputError
from rollroute.standards.limit import Limit, original_si, read_figure, read_limits, read_status, read_table, table_path


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleLimits:
    """Every figure by name, and the steepest ramp by the height of the floor."""

    label: str
    source: str
    limits: Mapping[str, Limit]
    ramp_by_floor: tuple[tuple[float, float], ...]  # (floor above a 150 mm kerb, at most; grade), lowest first; the last row has inf

    def limit(self, name: str) -> Limit:
        """One limit by its name."""
        if name not in self.limits:
            raise InputError(f"vehicles: no limit {name!r}. Known: {', '.join(self.limits)}.")
        return self.limits[name]

    def max_ramp_grade(self, floor_above_kerb_m: float) -> float:
        """Steepest ramp of a vehicle whose floor is that far above a kerb of 150 mm (6 in) (49 CFR 38.23(c)(5)). NaN gives the gentlest."""
        if math.isnan(floor_above_kerb_m):
            return self.ramp_by_floor[-1][1]
        return next(grade for floor_m, grade in self.ramp_by_floor if floor_above_kerb_m <= floor_m + 1e-9)

    def n_securement_places(self, vehicle_length_m: float) -> int:
        """Securement places that law asks for at least (49 CFR 38.23(a)); of a vehicle of unknown length (NaN) one."""
        return 2 if self.limit("one_securement_vehicle_m").is_met_by(vehicle_length_m) is False else 1


@cache
def load_vehicle_limits() -> VehicleLimits:
    """Read ``data/standards/vehicles.toml``."""
    path = table_path("standards") / "vehicles.toml"
    table = read_table(path)
    rows = []
    for cells in table["ramp_by_floor"]:
        read_status(cells, path.name)
        floor_m = max(float(cells["floor_m"]), original_si(cells["original"])) if "floor_m" in cells else math.inf
        rows.append((floor_m, read_figure(cells["grade"], path.name)))
    limits = MappingProxyType(read_limits(table["limits"], path.name))
    return VehicleLimits(label=table["label"], source=table["source"], limits=limits, ramp_by_floor=tuple(rows))
