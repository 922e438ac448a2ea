"""Presets: what one published standard asks of a way, as one frozen ``Standard``."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.standards.limit import Limit, Status, original_si, read_figure, read_limits, read_status, read_table, table_path

Floats = npt.NDArray[np.float64]

DEFAULT_STANDARD = "ada-2010"
CEILING_GRADE = 1.0 / 12.0
"""2010 ADA Standards 405.2 (and PROWAG R304.2.1): no ramp run is steeper than 1:12. The default ceiling of every route."""

_SLACK = 1e-6  # grades are kept in 32 bits: 1:12 read back from there is 1:12
_VEHICLES = "vehicles"  # a table of its own, not a preset


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeRow:
    """Up to this grade a run may be ``length_m`` long and rise ``rise_m``; ``None``: no limit is stated."""

    grade: float
    length_m: float | None
    rise_m: float | None
    section: str
    status: Status
    condition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """One published standard. A limit that it does not state is ``None``: nothing is made up for it.

    ``limits`` holds every figure by name; ``grades`` the table of lengths by grade, gentlest first;
    ``existing`` steeper rows that hold at existing sites only and that no route uses.
    """

    name: str
    label: str
    source: str
    limits: Mapping[str, Limit]
    grades: tuple[GradeRow, ...] = ()
    existing: tuple[GradeRow, ...] = ()

    def limit(self, name: str) -> Limit | None:
        """One limit by its name."""
        return self.limits.get(name)

    def bound(self, name: str) -> float | None:
        """The figure of one limit that a measure is compared with, or ``None``."""
        found = self.limits.get(name)
        return None if found is None else found.bound

    @property
    def max_grade(self) -> float:
        """The steepest running grade, rise over run."""
        return self.limits["ramp_grade"].bound

    @property
    def max_walk_grade(self) -> float:
        """The steepest grade that is not a ramp yet."""
        return self.limits["walk_grade"].bound

    @property
    def max_cross_slope(self) -> float | None:
        """The steepest tilt to the side."""
        return self.bound("cross_slope")

    @property
    def min_clear_width_m(self) -> float | None:
        """The least clear width of a way; of a ramp where the standard states only that."""
        width = self.bound("clear_width_m")
        return self.bound("ramp_width_m") if width is None else width

    @property
    def max_level_change_m(self) -> float | None:
        """The highest kerb or edge that is not a ramp: that of a shared crossing where the standard states one, else a bevelled edge."""
        kerb = self.bound("kerb_shared_m")
        return self.bound("level_change_bevelled_m") if kerb is None else kerb

    @property
    def min_pinch_width_m(self) -> float | None:
        """The least width of a short narrow spot; a standard that makes no exception asks its clear width there too."""
        pinch = self.bound("pinch_width_m")
        return self.bound("clear_width_m") if pinch is None else pinch

    @property
    def min_lift_width_m(self) -> float | None:
        """The least width of a lift's tightest part: of an existing car where the standard has a rule for it, else of the door."""
        car = self.bound("lift_existing_width_m")
        return self.bound("lift_door_width_m") if car is None else car

    @property
    def min_lift_depth_m(self) -> float | None:
        """The least depth of a lift car: of an existing one where the standard has a rule for it."""
        depth = self.bound("lift_existing_depth_m")
        return self.bound("lift_car_length_m") if depth is None else depth

    @property
    def min_landing_m(self) -> float | None:
        """The least length of a landing between two runs."""
        landing = self.bound("landing_length_m")
        return self.bound("end_landing_m") if landing is None else landing

    @property
    def turn_circle_m(self) -> float | None:
        """Diameter of the space to turn round."""
        return self.bound("turn_circle_m")

    def max_length_m(self, grade: float) -> float:
        """How long a run of this grade (either sign) may be before a landing: ``inf`` unlimited, 0 where the grade is never allowed.

        A grade between two rows counts as the steeper row. NaN gives NaN.
        """
        return float(self.max_lengths_m(np.array([grade]))[0])

    def max_lengths_m(self, grade: Floats) -> Floats:
        """``max_length_m`` of many grades."""
        size = np.abs(np.asarray(grade, np.float64))
        rise_m, longest_m = self.bound("ramp_rise_m"), self.bound("ramp_length_m")
        length = np.minimum(np.inf if longest_m is None else longest_m, np.inf if rise_m is None else rise_m / np.maximum(size, 1e-9))
        for row in reversed(self.grades):
            length = np.where(size <= row.grade + _SLACK, np.inf if row.length_m is None else row.length_m, length)
        length = np.where(size <= self.max_walk_grade + _SLACK, np.inf, length)
        length = np.where(size > self.max_grade + _SLACK, 0.0, length)
        return np.asarray(np.where(np.isnan(size), np.nan, length), np.float64)

    def allows_width(self, width_m: float | None, pinch_length_m: float | None = None) -> bool | None:
        """Whether a clear width is enough; ``pinch_length_m`` is how long it stays that narrow (``None``: for long).

        The exception for pinch points is that of 2010 ADA Standards 403.5.1; that two of them are far enough apart is for the caller to see
        to (``pinch_apart_m``). ``None`` where the width is unknown, or the standard states none.
        """
        wide = self.limits.get("clear_width_m") or self.limits.get("ramp_width_m")
        if wide is None or width_m is None or math.isnan(width_m):
            return None
        narrow, length = self.limits.get("pinch_width_m"), self.limits.get("pinch_length_m")
        if narrow is None or length is None or pinch_length_m is None or not length.is_met_by(pinch_length_m):
            return wide.is_met_by(width_m)
        return narrow.is_met_by(width_m)

    def allows_turn(self, element_m: float | None, approach_m: float | None, turn_m: float | None) -> bool | None:
        """Whether a chair may turn 180 degrees round an element: its width, the widths before and at the turn (ADA 403.5.2).

        ``None`` where a width that matters is unknown, or the standard has no such rule.
        """
        rules = [self.limits.get(name) for name in ("turn_element_m", "turn_width_m", "turn_approach_m", "turn_wide_m", "clear_width_m")]
        element, turn, approach, wide, clear = rules
        if element is None or turn is None or approach is None or wide is None or clear is None:
            return None
        is_wide_element = None if element_m is None or math.isnan(element_m) else element_m >= element.bound
        round_wide = _both(clear.is_met_by(approach_m), clear.is_met_by(turn_m))
        by_rule = _both(turn.is_met_by(turn_m), approach.is_met_by(approach_m))
        by_exception = _both(wide.is_met_by(turn_m), clear.is_met_by(approach_m))
        round_narrow = _either(by_rule, by_exception)
        if is_wide_element is None:
            return round_narrow if round_narrow == round_wide else None
        return round_wide if is_wide_element else round_narrow


def standard_names() -> tuple[str, ...]:
    """Names of the presets."""
    return tuple(sorted(path.stem for path in table_path("standards").glob("*.toml") if path.stem != _VEHICLES))


@cache
def load_standard(name: str = DEFAULT_STANDARD) -> Standard:
    """One preset of ``data/standards``.

    Raises
    ------
    InputError
        If there is no such preset, or a figure in it has no section or status.
    """
    if name not in standard_names():
        raise InputError(f"standard {name!r}: there is no such preset. Known: {', '.join(standard_names())}.")
    path = table_path("standards") / f"{name}.toml"
    table = read_table(path)
    limits = read_limits(table["limits"], path.name)
    if not {"ramp_grade", "walk_grade"} <= limits.keys():
        raise InputError(f"{path.name}: ramp_grade or walk_grade is missing. A preset must state how steep a way may be.")
    grades, existing = (_rows(table.get(part, ()), f"{path.name}: {part}") for part in ("grades", "existing"))
    if grades and grades[-1].grade > limits["ramp_grade"].bound + 1e-9:
        raise InputError(f"{path.name}: a row of grades is steeper than ramp_grade. A preset is never steeper than what it cites.")
    label, source = str(table["label"]), str(table["source"])
    return Standard(name=name, label=label, source=source, limits=MappingProxyType(limits), grades=grades, existing=existing)


def _rows(table: Sequence[Mapping[str, Any]], where: str) -> tuple[GradeRow, ...]:
    """Rows of lengths by grade, gentlest first."""
    rows = [
        GradeRow(
            grade=read_figure(cells.get("grade"), where),
            length_m=_lenient(cells),
            rise_m=None if "rise_m" not in cells else read_figure(cells["rise_m"], where),
            section=str(cells.get("section", "")),
            status=read_status(cells, where),
            condition=str(cells.get("condition", "")),
        )
        for cells in table
    ]
    return tuple(sorted(rows, key=lambda row: row.grade))


def _lenient(cells: Mapping[str, Any]) -> float | None:
    """The longer of the two printed lengths: both are published."""
    if "length_m" not in cells:
        return None
    return max(float(cells["length_m"]), original_si(cells["original"]) if "original" in cells else 0.0)


def _both(one: bool | None, other: bool | None) -> bool | None:
    return False if one is False or other is False else None if one is None or other is None else True


def _either(one: bool | None, other: bool | None) -> bool | None:
    return True if one or other else None if one is None or other is None else False
