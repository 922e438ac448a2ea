"""Loading zones, securement and lifts: the figures stand as published, and zones mean what they say on the bundled town's map."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Flag, Network
from rollroute.planning import audit_vans, loading_zones, needs, options, van_fit
from rollroute.planning.loading_zones import carried_zone, zones_near
from rollroute.planning.make_plan import needs_of
from rollroute.planning.places import locate
from rollroute.planning.town import Town

CM_PER_INCH, KG_PER_LB = 2.54, 0.45359237


@pytest.fixture(scope="module")
def move() -> Move:
    return read_move(data_dir() / "quillhaven")


@pytest.fixture(scope="module")
def town(move: Move, quillhaven: Network) -> Town:
    return Town(quillhaven, move, locate(move, quillhaven))


def test_figures_of_the_standards_stand_as_published() -> None:
    """Stand-ins are rounded to the bad side, or by less than 1 cm or 1 kg.

    2010 ADA Standards 503.4 (1:48) and 503.5 (114 in); 49 CFR 38.23(b)(1) (600 lb), (b)(6) and (d)(2) (30 x 48 in);
    36 CFR 1192 (2016) T502.2.2 (56 in, door of a small vehicle).
    """
    assert pytest.approx(1 / 48) == loading_zones.LEVEL_GRADE
    assert 0 <= 114 * CM_PER_INCH - audit_vans.CLEARANCE_CM < 1
    assert 0 <= 600 * KG_PER_LB - van_fit.LIFT_RATING_KG < 1
    assert 0 <= 30 * CM_PER_INCH - van_fit.PLATFORM_WIDTH_CM < 1
    assert abs(48 * CM_PER_INCH - van_fit.PLATFORM_LENGTH_CM) < 1
    assert 0 <= 56 * CM_PER_INCH - van_fit.DOOR_HEIGHT_CM < 1
    assert pytest.approx(30 * CM_PER_INCH) == needs.LARGE_WIDTH_CM
    assert abs(48 * CM_PER_INCH - needs.LARGE_LENGTH_CM) < 1


def test_the_auditor_keeps_the_same_figures_of_its_own() -> None:
    """Written down twice, so that a slip in one place is seen."""
    assert audit_vans.LEAST == {
        "lift_rating_kg": van_fit.LIFT_RATING_KG,
        "platform_width_cm": van_fit.PLATFORM_WIDTH_CM,
        "platform_length_cm": van_fit.PLATFORM_LENGTH_CM,
        "door_height_cm": van_fit.DOOR_HEIGHT_CM,
    }
    assert (audit_vans.SECUREMENT_WIDTH_CM, audit_vans.SECUREMENT_LENGTH_CM) == (needs.LARGE_WIDTH_CM, needs.LARGE_LENGTH_CM)
    assert options.DRIVER_REACH_MIN == 3.0


def test_level_is_said_only_with_two_standard_errors_to_spare(town: Town) -> None:
    """ADA 503.4: over 1:48 is not level; under it by less than twice the error is to be checked; a slope that is not known as well."""
    stops = town.roads[0].stops
    for s in range(len(stops.node)):
        slope, sd = stops.slope[s], stops.slope_sd[s]
        said = loading_zones._is_level(stops, s)
        if math.isnan(slope):
            assert said is None
        elif slope > 1 / 48:
            assert said is False
        else:
            assert said is (True if slope + 2 * sd < 1 / 48 else None)


def test_the_steepest_piece_and_the_lowest_bridge_at_a_stop_count(town: Town) -> None:
    """A van stands on all pieces that meet there."""
    pieces, stops = town.network.pieces, town.roads[0].stops
    for s in range(0, len(stops.node), 97):
        here = [p for p in np.unique(town.roads[0].graph.piece) if stops.node[s] in (pieces.tail[p], pieces.head[p])]
        grades = [abs(float(pieces.grade[p])) for p in here if int(pieces.kind[p]) in [int(k) for k in loading_zones.STOPPING_KINDS]]
        assert math.isnan(stops.slope[s]) or stops.slope[s] == pytest.approx(max(grades), abs=1e-6)
        heights = [town.network.ways.tags(int(pieces.way[p])).get("maxheight") for p in here]
        if not any(heights):
            assert math.isnan(stops.clearance_cm[s])


def test_nobody_stops_to_load_on_a_bridge_or_in_a_tunnel(town: Town) -> None:
    """Every stop is the end of a road outside; the town has road nodes in the middle of bridges, and none of them is a stop."""
    pieces = town.network.pieces
    flags, on_road = pieces.flags, np.isin(np.arange(len(pieces.tail)), town.roads[0].graph.piece)
    covered = on_road & ((flags & (Flag.BRIDGE | Flag.TUNNEL)) != 0)
    outside = on_road & ~covered
    ends = {name: set(pieces.tail[rows].tolist()) | set(pieces.head[rows].tolist()) for name, rows in (("in", covered), ("out", outside))}
    stops = set(town.roads[0].stops.node.tolist())

    assert ends["in"] - ends["out"]
    assert not stops & (ends["in"] - ends["out"])


def test_zones_are_within_reach_and_near_the_kerb(town: Town, move: Move) -> None:
    """Each zone's way takes at most 15 planned minutes, and its place is a road node at most 9 m from where the chair gets to."""
    for n in needs_of(move)[0]:
        view, door = town.view(n), town.node["rider", n.id]
        for zone in zones_near(town.network, town.roads[0].stops, view.ahead, door):
            assert 0 <= zone.roll_min <= loading_zones.LONGEST_TO_ZONE_MIN
            assert int(zone.node[1:]) in town.roads[0].stops.node
            assert not zone.carried


def test_whoever_is_carried_down_is_carried_to_the_nearest_kerb(town: Town) -> None:
    """Person and chair apart: the nearest place for a van, for trained people; none within 100 m is none."""
    (zone,) = carried_zone(town.network, town.roads[0].stops, town.node["rider", "R01"])
    assert zone.carried
    assert zone.roll_min == loading_zones.CARRY_MIN
