"""What may go wrong on the evening, in numbers: every one is an assumption of the rehearsal, with its basis beside it.

Change them with ``dataclasses.replace(ODDS, ...)``; ``NO_NOISE`` plays the plan exactly as planned.
Everything is drawn independently; a town-wide jam or a blackout that hits all vans and shelters at once is not in here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Z_95 = 1.6448536269514722  # 95 % point of the standard normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """Chances and spreads. A *median* is a share of the planned figure, which is the 95 % case (log-normal through both)."""

    doubt_share: float = 1.0  # of each way's and zone's surprisal u: it is blocked with 1 - exp(-u) (definition of the plan's doubt)
    keeps_roll_pace: bool = False  # False: a roll takes its own expected minutes at the median, planned ones at 95 %
    drive_median: float = 0.8  # assumption: as rolls, whose expected time is about 0.8 of the planned one
    handling_median: float = 0.8  # assumption: 10-15 min to load, 5-10 to unload a power chair; plans take the long end
    snag: float = 0.05  # assumption: a strap, a lift that has to be tried again, a bag forgotten
    snag_mean_min: float = 10.0  # assumption, exponential
    rider_late: float = 0.2  # assumption: somebody is not at the door when told
    rider_late_mean_min: float = 5.0  # assumption, exponential
    van_late: float = 0.1  # assumption: a driver starts late
    van_late_mean_min: float = 15.0  # assumption, exponential
    van_fails: float = 0.02  # assumption: a van or its lift fails at some moment of its round, all moments alike
    escort_absent: float = 0.03  # assumption: somebody who was to walk along does not come at all
    energy_median: float = 0.8  # assumption: expected over planned consumption
    weak_battery: float = 0.1  # assumption: an old battery that nobody knew of ...
    weak_health_least: float = 0.5  # ... holds between this and all of its planned charge, all shares alike
    outlet_dead: float = 0.01  # assumption: an outlet that does not work or is taken by somebody else
    power_fails: float = 0.02  # assumption: a shelter's power fails for the night


ODDS = Odds()
NO_NOISE = Odds(
    doubt_share=0.0, keeps_roll_pace=True, drive_median=1.0, handling_median=1.0, snag=0.0, rider_late=0.0, van_late=0.0, van_fails=0.0,
    escort_absent=0.0, energy_median=1.0, weak_battery=0.0, outlet_dead=0.0, power_fails=0.0,
)  # fmt: skip


def spread(median: float) -> float:
    """Standard deviation of the logarithm where the 95 % point is 1 and the median is ``median``."""
    return -math.log(median) / Z_95 if median < 1.0 else 0.0
