"""Where somebody should look before anybody sets out: kerbs beyond a busy road that nobody has told of, with no apron near.

Whoever finds such a kerb too high stands in the traffic. The way-back rule keeps the charge for coming back across the road;
it does nothing about the cars. So the search gives ``SCOUT_S`` of detour not to need one, and a way that does need one says so first.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import PlaceFlag
from rollroute.weights.case import Case, Tally
from rollroute.weights.reasons import Question

SCOUT_S = 1800.0  # setting: half an hour of detour, about what sending somebody to look takes


def edges_to_scout(case: Case, tally: Tally) -> npt.NDArray[np.int64]:
    """Passable edges that go up, or may go up, a kerb beyond a busy road whose height is a question."""
    touch, places = case.network.incidence, case.network.places
    is_far = (places.flags[touch.place] & np.uint16(PlaceFlag.FAR_SIDE)) != 0
    found = []
    for direction, edge in ((1, 2 * touch.piece), (-1, 2 * touch.piece + 1)):
        rows = edge[is_far & (touch.rises * direction >= 0)].astype(np.int64)
        found.append(rows[(tally.reasons[rows] == 0) & ((tally.questions[rows] & np.uint32(Question.KERB)) != 0)])
    return np.unique(np.concatenate(found))
