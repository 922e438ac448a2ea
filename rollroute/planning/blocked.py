"""Why a chair does not get in at a door, or out of it: what the ways round it are excluded for, in words."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.sparse.csgraph import dijkstra

from rollroute.network.network import Network
from rollroute.planning.loading_zones import LONGEST_TO_ZONE_MIN, ChairWays
from rollroute.weights.reasons import Reason, names
from rollroute.weights.weigh import EdgeWeights

FEW_NODES = 40  # beyond that the chair does get about, and it is the vans that don't
WORDS = {
    Reason.STEPS: "steps",
    Reason.GRADE: "a way that is too steep",
    Reason.GRADE_ESTIMATED: "a way that is too steep, by the heights",
    Reason.KERB: "a kerb that is too high",
    Reason.WIDTH: "a way that is too narrow",
    Reason.SURFACE: "a surface that the chair can't take",
    Reason.GATE: "a gate or barrier that it can't pass",
    Reason.ACCESS: "a way that is private or closed to people on foot",
    Reason.TRAFFIC: "a carriageway that is too fast or too busy",
    Reason.DARK: "a carriageway without light",
    Reason.POWER: "a door or lift that needs power, and the mains are off",
    Reason.DOOR: "a door that is too narrow, locked, or has a step",
    Reason.LIFT_SIZE: "a lift that is too small",
    Reason.WORKS: "a street that is dug up",
    Reason.CLOSED: "an area that is closed",
    Reason.MEASURED: "a place that somebody has found blocked",
}
CURES = {Reason.POWER: "if a generator feeds it or somebody opens it by hand, name it under [ways] powered in move.toml"}


def why_cut_off(network: Network, weights: EdgeWeights, ways: ChairWays, door: int) -> tuple[str, ...]:
    """What keeps the chair from getting away from ``door`` (ways turned round: from getting to it); empty where it does."""
    reached = np.isfinite(dijkstra(ways.minutes, indices=door, limit=LONGEST_TO_ZONE_MIN))
    if int(reached.sum()) > FEW_NODES:
        return ()
    bits = _reasons_at_the_edge(network, weights, reached)
    flags = [flag for flag in Reason if bits & flag]
    if not flags:
        return ("no mapped way leads there",)
    said = [WORDS.get(flag) or names(int(flag), Reason)[0].replace("_", " ") for flag in flags]
    cures = [CURES[flag] for flag in flags if flag in CURES]
    return (f"the chair does not pass {', or '.join(said)}" + "".join(f" ({cure})" for cure in cures),)


def _reasons_at_the_edge(network: Network, weights: EdgeWeights, reached: npt.NDArray[np.bool_]) -> int:
    """All reasons of pieces that lead out of what was reached, either way round."""
    tail, head = network.edge_tail, network.edge_head
    out = (reached[tail] != reached[head]) & ~weights.is_passable
    return int(np.bitwise_or.reduce(weights.reasons[out], initial=0))
