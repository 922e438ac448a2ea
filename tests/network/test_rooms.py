"""A move starts at a bed and ends at a bed: rooms, doors, lifts and ramps of the bundled town's two mapped shelters."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from towns.hand_drawn import network_of

from rollroute.assembly import Asked, find_itinerary
from rollroute.errors import InputError, NoRouteError
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.network.rooms import RoomFinder, building_of_pieces, rooms_of
from rollroute.output.itinerary import Itinerary
from rollroute.weights.weigh import LIFT_WAIT_PLANNED_S, LIFT_WAIT_S

TOWN = data_dir() / "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))


def way(network: Network, start: str, goal: str, **more: object) -> Itinerary:
    asked = Asked(
        start=start, goal=goal, chair_name=str(TOWN / "demo-chair.toml"), charge="80%", temperature_c=6.0, shelters=TOWN / "shelters.csv",
        **more,  # type: ignore[arg-type]
    )  # fmt: skip
    return find_itinerary(network, asked, now=EVENING)


def things(itinerary: Itinerary, *kinds: str) -> list[tuple[str, float | None]]:
    return [(p.kind, None if p.value is None else round(p.value, 2)) for p in itinerary.points if p.kind in kinds]


def test_every_mapped_room_of_the_town_has_its_building_and_a_way_in(quillhaven):
    """Counted by hand in the plans that the town's maker draws: 10 spaces in the school, 5 in the hall."""
    finder = RoomFinder(quillhaven)
    names = [b.name for b in finder.buildings]
    count = {name: sum(1 for r in finder.rooms if names[r.building] == name) for name in names}

    assert count == {"North Quay School": 10, "Tannery Hall": 5}
    assert all(r.node is not None for r in rooms_of(quillhaven))
    assert set(building_of_pieces(quillhaven).values()) == {0, 1}


def test_from_a_room_upstairs_to_a_gym_over_the_lift_the_doors_and_the_ramp(quillhaven):
    """Meeting room 0.9 m, a lift without figures, main doors of 1.0 and 1.2 m, an opening of 1.4 m, gym 1.6 m."""
    itinerary = way(quillhaven, "Tannery Hall:Meeting room", "North Quay School:Gym")

    assert things(itinerary, "door", "lift") == [
        ("door", 0.9), ("lift", None), ("door", 1.0), ("door", 1.2), ("door", 1.4), ("door", 1.6),
    ]  # fmt: skip
    assert any(p.name == "Gym ramp" for p in itinerary.pieces)
    assert not any(p.way_kind == "steps" for p in itinerary.pieces)
    assert (itinerary.start.level, itinerary.goal.level) == (1.0, 0.5)


def test_waiting_for_a_lift_is_in_the_time(quillhaven):
    """From the foyer to the meeting room: two lift entries of half a place each are one lift, 90 s expected and 240 s planned."""
    itinerary = way(quillhaven, "Tannery Hall:Foyer", "Tannery Hall:Meeting room")
    driving_s = itinerary.length_m / 1.1

    assert LIFT_WAIT_S + 10.0 < itinerary.time_s.expected < LIFT_WAIT_S + 10.0 + 2.5 * driving_s  # one door of 10 s
    assert itinerary.time_s.planned > LIFT_WAIT_PLANNED_S + 10.0


def test_without_mains_the_lift_stands_still_unless_it_is_said_to_have_power(quillhaven):
    with pytest.raises(NoRouteError):
        way(quillhaven, "North Quay School:Gym", "North Quay School:Staff room", no_mains=True)
    itinerary = way(quillhaven, "North Quay School:Gym", "North Quay School:Staff room", no_mains=True, powered=("North Quay School",))

    assert ("lift", 0.9) in things(itinerary, "lift")


def test_the_ramp_between_levels_works_without_mains(quillhaven):
    itinerary = way(quillhaven, "North Quay School:Gym", "North Quay School:Quiet room", no_mains=True)

    assert things(itinerary, "door", "lift") == [("door", 1.6), ("door", 0.95)]


def test_an_automatic_door_shuts_the_school_without_mains(quillhaven):
    """The main door moves by motor; the side door has a sill of 13 cm, more than the chair climbs."""
    with pytest.raises(NoRouteError):
        way(quillhaven, "Tannery Hall:Great hall", "North Quay School:Gym", no_mains=True)
    assert way(quillhaven, "Tannery Hall:Great hall", "North Quay School:Gym", no_mains=True, powered=("node/5182",)).length_m > 1000


def test_a_door_of_75_cm_is_too_narrow_for_the_washroom(quillhaven):
    with pytest.raises(NoRouteError):
        way(quillhaven, "North Quay School", "North Quay School:Washroom")


def test_the_grade_of_a_ramp_between_levels_is_not_read_from_the_ground(quillhaven):
    """The raster knows the street outside; 0.5 levels over 35 m stay unknown, and are a question."""
    pieces = quillhaven.pieces
    ramp = np.flatnonzero(quillhaven.ways.osm_id[pieces.way] == 3540)

    assert len(ramp) == 5
    assert np.isnan(pieces.grade[ramp]).all()


def test_a_shelter_may_be_listed_by_its_room(quillhaven, tmp_path: Path):
    """The table names the room where the sockets are; the way there ends in it."""
    rows = "name,place,outlets,outlet_amps,opens\nSchool,North Quay School:Charging room,3,15,always\n"
    (tmp_path / "shelters.csv").write_text(rows)
    asked = Asked(
        start="Tannery Hall:Foyer", goal="School", chair_name=str(TOWN / "demo-chair.toml"), charge="80%", temperature_c=6.0,
        shelters=tmp_path / "shelters.csv",
    )  # fmt: skip
    itinerary = find_itinerary(quillhaven, asked, now=EVENING)

    assert things(itinerary, "door")[-1] == ("door", 1.0)  # the charging room's
    assert itinerary.goal.level == 0.0


def test_power_for_what_is_not_there_is_refused_with_what_is(quillhaven):
    with pytest.raises(InputError, match="North Quay School, Tannery Hall"):
        with_power(quillhaven, ["Ropewalk Sports Hall"])


def test_a_room_with_one_door_is_entered():
    """A closet of 4 × 3 m behind a door of 80 cm: one line of 1.5 m from the door in the middle of the wall to the middle of the room."""
    text = "n1 0,0\nn2 2,0 door=hinged width=0.8\nn3 4,0\nn4 4,3\nn5 0,3\nn6 2,-5\nw10 1,2,3,4,5,1 indoor=room level=0 name=Closet\n" \
           "w11 2,6 highway=corridor indoor=yes level=0"  # fmt: skip
    network = network_of(text)
    room = rooms_of(network)[0]
    inside = network.pieces.length_m[(network.pieces.tail == room.node) | (network.pieces.head == room.node)]

    assert len(inside) == 1
    assert inside[0] == pytest.approx(1.5, abs=0.01)


def test_rooms_keep_their_places_when_the_network_is_saved(quillhaven, tmp_path: Path):
    quillhaven.save(tmp_path / "town.net")
    again = Network.load(tmp_path / "town.net")

    assert rooms_of(again) == rooms_of(quillhaven)
    assert dataclasses.astuple(again.nodes)[0][rooms_of(again)[0].node] == quillhaven.nodes.lon[rooms_of(again)[0].node]
