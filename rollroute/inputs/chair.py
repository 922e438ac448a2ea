"""A chair, read from a TOML file: its size, what it can climb, what it consumes, its battery, charger and gauge."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from rollroute.errors import InputError
from rollroute.inputs.battery import CHEMISTRIES, Battery
from rollroute.inputs.charge import GAUGE_KINDS, Gauge
from rollroute.inputs.tables import WHEELS, FieldSource, Section, data_dir, read_toml

__all__ = ["CHARGER_PLACES", "Chair", "Charger", "bundled_chairs", "find_chair", "read_chair"]

CHARGER_PLACES = ("on board", "with the rider", "at the stop", "missing", "unknown")

# field: (low, high, remedy); both ends allowed. Wide enough for every chair, narrow enough to catch a wrong unit.
_LIMITS: dict[str, tuple[float, float, str]] = {
    "mass_kg": (20.0, 400.0, "Give the chair with its batteries, without the rider, in kg."),
    "rider_mass_kg": (10.0, 350.0, "Give it in kg, or leave it out for the default."),
    "load_mass_kg": (0.0, 150.0, "Give bags, charger and devices in kg."),
    "width_m": (0.40, 1.20, "Give the widest part in metres: 65 cm is 0.65."),
    "length_m": (0.60, 2.00, "Give it with footrests, in metres."),
    "turning_diameter_m": (0.80, 4.00, "Give the circle needed to turn round, in metres."),
    "ground_clearance_m": (0.005, 0.40, "Give it in metres: 6 cm is 0.06."),
    "seated_height_m": (0.80, 2.00, "Give floor to the top of the seated rider's head, in metres."),
    "rated_obstacle_m": (0.0, 0.30, "Give the highest step that the maker rates, in metres: 5 cm is 0.05."),
    "rated_obstacle_down_m": (0.0, 0.30, "Give it in metres: 5 cm is 0.05."),
    "rated_grade": (0.01, 0.40, "Give rise over run (10 % is 0.10), or rated_slope_deg."),
    "side_clearance_m": (0.0, 0.30, "Give the room to leave on each side, in metres."),
    "speed_m_s": (0.2, 5.0, "Give the cruising speed in metres per second: 6 km/h is 1.67."),
    "crr_hard_floor": (0.005, 0.15, "Leave it out to take it from the range or the class."),
    "drive_efficiency": (0.2, 0.95, "Battery to wheel: 0.65 is usual."),
    "electronics_w": (0.0, 100.0, "Give the controller's own power in watts."),
    "loads_w": (0.0, 500.0, "Give ventilator, seat heating and other loads in watts."),
    "regeneration": (0.0, 0.9, "Share of downhill work that returns to the battery; 0 unless the maker states it."),
    "range_km": (1.0, 150.0, "Give the maker's theoretical range (ISO 7176-4) in km."),
    "range_speed_m_s": (0.2, 5.0, "Give the speed of the range test in m/s."),
    "range_rider_mass_kg": (10.0, 200.0, "Give the test dummy's mass in kg."),
    "log_distance_km": (0.5, 1000.0, "Give the distance driven on the charge used, in km."),
    "log_soc_used": (0.05, 1.0, "Give the share of a full charge used: 40 % is 0.4."),
    "log_speed_m_s": (0.2, 5.0, "Give the usual speed of the drives logged, in m/s."),
}
_OPTIONAL = (
    "length_m", "turning_diameter_m", "ground_clearance_m", "seated_height_m", "range_km", "range_speed_m_s", "range_rider_mass_kg",
    "log_distance_km", "log_soc_used", "log_speed_m_s",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Charger:
    """The chair's charger, listed as a thing: what it gives and where it is.

    An unknown current takes the bad side, an unknown place counts as no charger.
    """

    current_a: float | None = None
    volts: float | None = None
    place: str = "unknown"  # one of CHARGER_PLACES

    def __post_init__(self) -> None:
        if self.place not in CHARGER_PLACES:
            raise InputError(f"charger: place must be one of {', '.join(CHARGER_PLACES)}, got {self.place!r}.")
        for name, value, high in (("current_a", self.current_a, 60.0), ("volts", self.volts, 100.0)):
            if value is not None and not 0.0 < value <= high:
                raise InputError(f"charger: {name} must be above 0 and at most {high:g}, got {value!r}. Read it on the charger's label.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Chair:
    """A class of chair as planned with. ``None`` is unknown: consumers take the bad side or ask, never the best case.

    ``label`` names a class of chair, never a person. ``sources`` says of each field where its value comes from;
    fields with status ``unknown`` were not in the file and hold the bad side of ``data/chairs/unknown.toml``.
    """

    label: str
    source: str = ""
    mass_kg: float  # chair with its batteries
    rider_mass_kg: float
    load_mass_kg: float  # bags, charger, devices
    width_m: float
    length_m: float | None = None
    turning_diameter_m: float | None = None
    ground_clearance_m: float | None = None
    seated_height_m: float | None = None
    rated_obstacle_m: float  # highest step, going up
    rated_obstacle_down_m: float
    rated_grade: float  # rise over run
    side_clearance_m: float  # room left on each side
    speed_m_s: float  # cruise
    wheel: str  # "indoor", "standard" or "outdoor": column of the surface table
    crr_hard_floor: float  # class default of rolling resistance; a log or a range replaces it
    drive_efficiency: float  # battery to wheel
    electronics_w: float
    loads_w: float  # run while waiting too
    regeneration: float = 0.0  # share of downhill work that returns; 0 unless stated
    range_km: float | None = None  # theoretical range of the new chair, ISO 7176-4
    range_speed_m_s: float | None = None  # None: cruise
    range_rider_mass_kg: float | None = None  # None: 100 kg test dummy
    log_distance_km: float | None = None  # the rider's own log: so far on ...
    log_soc_used: float | None = None  # ... this share of a full charge
    log_speed_m_s: float | None = None  # None: cruise
    is_wet_tolerant: bool | None = None  # may be driven in rain, by its maker's word
    battery: Battery
    charger: Charger = field(default_factory=Charger)
    gauge: Gauge = field(default_factory=Gauge)
    sources: tuple[FieldSource, ...] = ()
    is_class: bool = False  # limits of a bundled class: nobody stated anything of this very chair

    def __post_init__(self) -> None:
        for name, (low, high, remedy) in _LIMITS.items():
            value = getattr(self, name)
            if value is None and name in _OPTIONAL:
                continue
            if not (isinstance(value, (int, float)) and math.isfinite(value) and low <= value <= high):
                raise InputError(f"chair {self.label!r}: {name} must be a number from {low:g} to {high:g}, got {value!r}. {remedy}")
        if self.wheel not in WHEELS:
            raise InputError(f"chair {self.label!r}: wheel must be one of {', '.join(WHEELS)}, got {self.wheel!r}.")
        if not self.label.strip():
            raise InputError("chair: label is empty. Name the class of chair, not the person.")
        if (self.log_distance_km is None) != (self.log_soc_used is None):
            raise InputError(f"chair {self.label!r}: a log needs both log_distance_km and log_soc_used. Give both or leave both out.")

    @property
    def total_mass_kg(self) -> float:
        """Chair, rider and bags [kg]."""
        return self.mass_kg + self.rider_mass_kg + self.load_mass_kg

    @property
    def clear_width_m(self) -> float:
        """Width that the chair needs to drive through: its own and the clearance on both sides [m]."""
        return self.width_m + 2.0 * self.side_clearance_m

    @property
    def unknown_fields(self) -> tuple[str, ...]:
        """Fields that the file did not state: on the bad side, or ``None`` (a range or log that nobody gave is no gap)."""
        nothing = tuple(
            f.name for f in dataclasses.fields(self) if getattr(self, f.name) is None and not f.name.startswith(("range_", "log_"))
        )
        return tuple(s.field for s in self.sources if s.status == "unknown") + nothing


def read_chair(path: Path) -> Chair:
    """Read a chair file; what it does not state takes the bad side and is marked so.

    Raises
    ------
    InputError
        Names file, field, value and remedy; also for a misspelt field.
    """
    table = read_toml(path)
    fallback = read_toml(data_dir() / "chairs" / "unknown.toml")
    parts: list[Section] = []

    def section(name: str) -> Section:
        part = Section(where=path.name, values=_mapping(table, name, path), fallback=_mapping(fallback, name, path), prefix=name + ".")
        parts.append(part)
        return part

    top = Section(
        where=path.name,
        values={k: v for k, v in table.items() if k not in ("battery", "charger", "gauge")},
        fallback={k: v for k, v in fallback.items() if k not in ("battery", "charger", "gauge", "label", "source", "length_m")},
    )
    parts.append(top)
    battery, charger, gauge = _read_battery(section("battery")), _read_charger(section("charger")), _read_gauge(section("gauge"))
    fields = _read_body(top)
    for part in parts:
        part.finish()
    sources = tuple(s for part in parts for s in part.sources if s.field not in ("label", "source"))
    is_class = path.resolve().parent == (data_dir() / "chairs").resolve()
    try:
        return Chair(**fields, battery=battery, charger=charger, gauge=gauge, sources=sources, is_class=is_class)
    except InputError as error:
        raise InputError(f"{path.name}: {error}") from error


def _mapping(table: Mapping[str, Any], name: str, path: Path) -> Mapping[str, Any]:
    part = table.get(name, {})
    if not isinstance(part, Mapping):
        raise InputError(f"{path.name}: {name} must be a table, got {part!r}. Write [{name}] on a line of its own.")
    return part


def _read_body(top: Section) -> dict[str, Any]:
    """Fields of the chair itself. A slope in degrees becomes rise over run; the step down defaults to the step up."""
    fields: dict[str, Any] = {"label": top.text("label"), "source": top.text("source")}
    if not fields["label"].strip():
        raise InputError(f"{top.where}: label is missing. Name the class of chair, not the person.")
    is_in_degrees = "rated_slope_deg" in top.values
    if is_in_degrees and "rated_grade" in top.values:
        raise InputError(f"{top.where}: both rated_slope_deg and rated_grade. Keep one.")
    if is_in_degrees:
        fields["rated_grade"] = math.tan(math.radians(top.needed("rated_slope_deg", 0.6, 21.8, "Give degrees: 6 is about 10.5 %.")))
    for name, (low, high, remedy) in _LIMITS.items():
        if name not in fields:
            fields[name] = top.number(name, low, high, remedy)
    if fields["rated_obstacle_down_m"] is None:
        fields["rated_obstacle_down_m"] = fields["rated_obstacle_m"]
        top.sources.append(FieldSource(field="rated_obstacle_down_m", status="unknown", text="the step up"))
    fields["regeneration"] = fields["regeneration"] or 0.0
    fields["wheel"] = top.choice("wheel", WHEELS)
    fields["is_wet_tolerant"] = top.flag("is_wet_tolerant")
    return fields


def _read_battery(part: Section) -> Battery:
    return Battery(
        nominal_v=part.needed("nominal_v", 6.0, 100.0, "Most power chairs have 24."),
        capacity_ah_20h=part.needed("capacity_ah_20h", 4.0, 400.0, "Give the Ah printed on one battery of the pair."),
        chemistry=part.choice("chemistry", CHEMISTRIES),
        peukert_k=part.number("peukert_k", 1.0, 1.8, "Leave it out if unknown."),
        age_years=part.number("age_years", 0.0, 30.0, "Leave it out if unknown."),
        health=part.number("health", 0.05, 1.0, "Give a measured share of the label, or leave it out."),
    )


def _read_charger(part: Section) -> Charger:
    return Charger(
        current_a=part.number("current_a", 0.1, 60.0, "Read it on the charger's label."),
        volts=part.number("volts", 6.0, 100.0, "Read it on the charger's label."),
        place=part.choice("place", CHARGER_PLACES) or "unknown",
    )


def _read_gauge(part: Section) -> Gauge:
    n_bars = part.number("n_bars", 2, 20, "Count the lamps of a full gauge.")
    return Gauge(kind=part.choice("kind", GAUGE_KINDS) or "bars", n_bars=None if n_bars is None else int(n_bars))


@cache
def bundled_chairs() -> tuple[str, ...]:
    """Names of the chair classes that come with rollroute."""
    return tuple(sorted(p.stem for p in (data_dir() / "chairs").glob("*.toml")))


def find_chair(name_or_path: str | Path) -> Chair:
    """A chair file, or the name of a bundled class such as ``en12184-b``."""
    path = Path(name_or_path)
    if path.is_file():
        return read_chair(path)
    if str(name_or_path) in bundled_chairs():
        return read_chair(data_dir() / "chairs" / f"{name_or_path}.toml")
    raise InputError(f"chair {str(name_or_path)!r}: no such file or class. Give a TOML file, or one of {', '.join(bundled_chairs())}.")
