r"""How fast a battery fills at a socket: constant current to a knee, then an exponential taper, as a concave piecewise-linear table.

With full energy :math:`E`, knee :math:`k E` and charging power :math:`P` (all counted in usable watt hours),

.. math:: E(t) = P t \text{ up to } kE, \quad E(t) = kE + (1-k) E (1 - e^{-(t - t_k)/\tau}) \text{ after}, \quad \tau = (1-k) E / P.

Loads that run while charging are fed first and taken off :math:`P`. The charge balance fixes :math:`\tau`: the power is continuous at the
knee. No measured :math:`\tau` was found (derived; the place of the knee from vendors' pages). The table joins points of the curve, so
between them it lies below: it never promises charge that the curve does not give.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.battery import chemistry_row
from rollroute.inputs.chair import Chair
from rollroute.inputs.tables import load_table
from rollroute.units import J_PER_WH

__all__ = ["ChargeTable", "Outlet", "charge_table", "charging_current_a", "charging_power_w", "why_no_charging"]

Floats = npt.NDArray[np.float64]

TABLE_ERROR_SHARE = 0.002  # greatest gap between table and curve, as a share of the full energy


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """One socket as it will be used. A share of a circuit or generator in watts limits it too; ``None`` is no stated limit there.

    ``has_power``, ``is_open``: ``None`` is unknown and counts as no.
    """

    volts: float
    amps: float
    share_w: float | None = None
    has_power: bool | None = True
    is_open: bool | None = True
    has_charger: bool | None = None  # a charger that fits this chair is at the stop
    charger_a: float | None = None  # its current

    def __post_init__(self) -> None:
        for name, value, high in (("volts", self.volts, 480.0), ("amps", self.amps, 125.0)):
            if not (math.isfinite(value) and 0.0 < value <= high):
                raise InputError(f"outlet: {name} must be above 0 and at most {high:g}, got {value!r}. A US outlet is 120 V, 15 A.")
        if self.share_w is not None and not self.share_w >= 0.0:
            raise InputError(f"outlet: share_w must be 0 or more, got {self.share_w!r}. Give this chair's share in watts.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeTable:
    """Charge after a time at the socket, from empty; concave and never falling.

    breakpoints_s, breakpoints_wh : (n,) float64   n >= 2; from (0, 0); before, between and after: straight, flat after the last
    max_error_wh                                   the curve lies above the table by at most this [Wh]
    full_wh                                        energy of the full battery; the table ends short of it, where the charger stops
    """

    breakpoints_s: Floats
    breakpoints_wh: Floats
    max_error_wh: float
    full_wh: float

    def charge_after_wh(self, start_wh: float, seconds: float) -> float:
        """Charge after ``seconds`` from ``start_wh`` [Wh]; a battery fuller than the table's end stays as it is."""
        top = float(self.breakpoints_wh[-1])
        if start_wh >= top:
            return start_wh
        start_s = float(np.interp(start_wh, self.breakpoints_wh, self.breakpoints_s))
        return float(np.interp(start_s + seconds, self.breakpoints_s, self.breakpoints_wh))

    def seconds_to_wh(self, start_wh: float, goal_wh: float) -> float:
        """Time to charge from ``start_wh`` to ``goal_wh`` [s]; inf if the charger stops below the goal."""
        if goal_wh <= start_wh:
            return 0.0
        if goal_wh > float(self.breakpoints_wh[-1]):
            return math.inf
        ends = np.interp([start_wh, goal_wh], self.breakpoints_wh, self.breakpoints_s)
        return float(ends[1] - ends[0])


def why_no_charging(chair: Chair, outlet: Outlet, *, temperature_c: float | None) -> str | None:
    """Why this chair can't be promised charge here: a reason word, or ``None`` if it can. Unknown counts as no.

    ``closed``, ``power``, ``charger missing``, ``charger unknown``, ``cold``, ``temperature unknown``, ``share``.
    """
    if outlet.is_open is not True:
        return "closed"
    if outlet.has_power is not True:
        return "power"
    if chair.charger.place not in ("on board", "with the rider") and outlet.has_charger is not True:
        return "charger missing" if chair.charger.place == "missing" or outlet.has_charger is False else "charger unknown"
    coldest_c = float(chemistry_row(chair.battery.chemistry)["charge_min_c"])
    if temperature_c is None and chair.battery.chemistry in (None, "lithium"):
        return "temperature unknown"
    if temperature_c is not None and temperature_c < coldest_c:
        return "cold"
    return "share" if charging_power_w(chair, outlet) <= chair.loads_w else None


def charging_current_a(chair: Chair, outlet: Outlet) -> float:
    """Current into the battery [A]: the charger's, never more than outlet, circuit or generator share give.

    A charger whose current is unknown counts as a small one. Outlets are loaded to 80 % (from memory, US practice).
    """
    defaults = load_table("batteries")["charger"]
    uses_own = chair.charger.place in ("on board", "with the rider")
    rated_a = chair.charger.current_a if uses_own else outlet.charger_a
    charger_a = float(defaults["current_a"]) if rated_a is None else rated_a
    wall_w = outlet.volts * outlet.amps * float(defaults["continuous_share"])
    if outlet.share_w is not None:
        wall_w = min(wall_w, outlet.share_w)
    return min(charger_a, wall_w * float(defaults["wall_efficiency"]) / chair.battery.nominal_v)


def charging_power_w(chair: Chair, outlet: Outlet) -> float:
    """Usable energy gained per time below the knee [W]: current × nominal volts × charge efficiency of the chemistry."""
    efficiency = float(chemistry_row(chair.battery.chemistry)["charge_efficiency"])
    return charging_current_a(chair, outlet) * chair.battery.nominal_v * efficiency


def charge_table(full_wh: float, power_w: float, *, chemistry: str | None, loads_w: float = 0.0) -> ChargeTable:
    r"""Table of the curve in the module's docstring, from empty to where the current falls to the charger's end share.

    Parameters
    ----------
    full_wh
        Energy of the full battery as it is today, planned or expected (:func:`rollroute.inputs.battery.full_wh`) [Wh].
    power_w
        Usable energy gained per time below the knee (:func:`charging_power_w`), before ``loads_w`` are taken off [W].

    Raises
    ------
    InputError
        If nothing would be gained: the loads take all of the power.

    Notes
    -----
    Chords of :math:`f` over a step :math:`h` lie at most :math:`h^2 \max|f''| / 8` below it; on the taper :math:`|f''|` is greatest at the
    left end, which sets each step. The rate of gain at the knee is that before it, so the table is concave.
    """
    if not (full_wh > 0.0 and power_w > loads_w >= 0.0):
        raise InputError(f"charging: {power_w:g} W into {full_wh:g} Wh with {loads_w:g} W of loads gains nothing. Ask for another outlet.")
    knee_wh = float(chemistry_row(chemistry)["knee_soc"]) * full_wh
    rest_wh = full_wh - knee_wh
    gain_w = power_w - loads_w
    tau_s = rest_wh / gain_w * J_PER_WH
    end_share = float(load_table("batteries")["charger"]["end_share"])
    taper_s = _taper_steps(-tau_s * math.log(end_share), tau_s, rest_wh, TABLE_ERROR_SHARE * full_wh)
    times = np.concatenate(([0.0], knee_wh / gain_w * J_PER_WH + taper_s))
    charge = np.concatenate(([0.0], knee_wh - rest_wh * np.expm1(-taper_s / tau_s)))
    for column in (times, charge):
        column.flags.writeable = False
    return ChargeTable(breakpoints_s=times, breakpoints_wh=charge, max_error_wh=TABLE_ERROR_SHARE * full_wh, full_wh=full_wh)


def _taper_steps(end_s: float, tau_s: float, rest_wh: float, error_wh: float) -> Floats:
    """Times after the knee, from 0 to ``end_s``, whose chords miss the taper by at most ``error_wh`` each."""
    times = [0.0]
    while times[-1] < end_s:
        step = tau_s * math.sqrt(8.0 * error_wh / rest_wh) * math.exp(times[-1] / (2.0 * tau_s))
        times.append(min(end_s, times[-1] + step))
    return np.array(times)
