"""Energy of an edge beyond driving on what is known: standing, and grades that nobody knows."""

from __future__ import annotations

import numpy as np
import pytest
from towns.hand_drawn import a_chair, network_of, noon

from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import EdgeWeights, weigh

WAY = "highway=footway surface=asphalt width=2"
CHAIR = a_chair(loads_w=40.0)
FACTOR = 1.5


def weighed(text: str) -> EdgeWeights:
    """A map weighed for a chair with 40 W of devices; planned is half as much again."""
    return weigh(network_of(text), CHAIR, calibrate(CHAIR), PlannedFactors(energy=FACTOR, time=1.0, usable=1.0), noon())


@pytest.mark.parametrize(
    ("thing", "seconds", "planned_seconds"), [("entrance=main door=hinged", 10.0, 10.0), ("highway=elevator", 90.0, 240.0)]
)
def test_standing_takes_what_electronics_and_devices_draw(thing: str, seconds: float, planned_seconds: float):
    """P = P_electronics + P_loads for as long as ``weigh`` has one wait; 3600 s are an hour. Energy of the way itself is the same."""
    line = "n1 0,0\nn2 50,0 {}\nn3 100,0\nw1 1,2 " + WAY + " incline=0%\nw2 2,3 highway=corridor indoor=yes level=0 width=2"
    plain, with_thing = weighed(line.format("")), weighed(line.format(thing))
    watts = CHAIR.electronics_w + CHAIR.loads_w
    for way in (0, 1):
        more = with_thing.energy_wh[way::2].sum() - plain.energy_wh[way::2].sum()
        planned = with_thing.planned_energy_wh[way::2].sum() - plain.planned_energy_wh[way::2].sum()
        assert more == pytest.approx(watts * seconds / 3600.0, rel=1e-6)
        assert planned == pytest.approx(FACTOR * watts * planned_seconds / 3600.0, rel=1e-6)


def test_a_grade_that_nobody_knows_is_a_climb_of_one_in_twenty_both_ways():
    """R302.4.1 lets a walk be as steep as 1:20: no free ride, whichever way it turns out."""
    unknown, climb = (weighed(f"n1 0,0\nn2 100,0\nw1 1,2 {WAY} {incline}") for incline in ("", "incline=5%"))
    assert unknown.energy_wh == pytest.approx(np.full(2, climb.energy_wh[0]), rel=1e-6)
    assert climb.energy_wh[0] > climb.energy_wh[1]
