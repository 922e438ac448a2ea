"""Places by position, shelter, address, and room."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from towns.hand_drawn import LAT, LON, draw

from rollroute.errors import InputError
from rollroute.inputs.osm import MapExtract
from rollroute.network.build import build_network
from rollroute.network.gazetteer import find_place, read_address_points
from rollroute.network.rooms import RoomFinder

ADDRESSES = [("Weir Street", "9", LON, LAT), ("Mill Lane", "12a", LON + 0.01, LAT)]
# A house of 20 × 10 m: a hall whose door is at 10,0; two toilets over each other; a cellar that nothing leads to; stairs at 20,5.
HOUSE = """
n1 0,0
n2 10,0 door=hinged entrance=main level=0
n3 20,0
n4 20,5 door=no level=0;1
n5 20,10
n6 0,10
n7 10,-9
n8 26,5
n9 26,12
w1 1,2,3,4,5,6,1 building=yes name=Weir_House@
w10 1,2,3,4,5,6,1 indoor=room level=0 name=Hall
w11 1,3,4,5,6,1 indoor=corridor level=1
w12 4,8,9,5,4 indoor=room level=0 name=Toilet
w13 4,8,9,5,4 indoor=room level=1 name=Toilet
w14 1,3,5,6,1 indoor=room level=-1 name=Cellar
w2 2,7 highway=footway
w3 1,3,8,9,6,1 building=yes name=Weir_House@
"""


@dataclass(frozen=True)
class Shelter:
    name: str
    lon: float
    lat: float


def house() -> RoomFinder:
    """The map above; the wider outline with its name is put where the reader of files puts buildings."""
    extract: MapExtract = draw(HOUSE)
    import numpy as np

    outline = next(w for w in extract.ways if w.way_id == 3)
    ring = np.column_stack([outline.lons, outline.lats])
    extract.areas["building"].append(ring)
    extract.area_names.append(("building", {"name": "Weir House"}, ring))
    extract.ways = [w for w in extract.ways if w.way_id not in (1, 3)]
    return RoomFinder(build_network(extract))


def found(text: str, **more: object):
    return find_place(text, addresses=ADDRESSES, **more)  # type: ignore[arg-type]


def test_a_position_is_latitude_first():
    assert (found("45.2, -37.3").lon, found("45.2, -37.3").lat) == (-37.3, 45.2)
    with pytest.raises(InputError, match="latitude first"):
        found("95.0, 12.0")


@pytest.mark.parametrize("text", ["9 Weir Street", "weir street, 9", "Weir  Stréet 9"])
def test_an_address_is_found_in_either_order_and_spelling(text: str):
    assert found(text).label == "Weir Street 9"


def test_a_room_is_found_by_the_name_of_its_building_and_its_own():
    """The way ends in the room: at a node inside it, on its level."""
    rooms = house()
    hall = found("weir house:hall", rooms=rooms)

    assert (hall.label, hall.level, hall.kind) == ("weir house: Hall", 0.0, "position")
    assert hall.node is not None
    assert rooms.network.nodes.lon[hall.node] == hall.lon


def test_a_room_of_a_listed_shelter_is_a_refuge_like_the_shelter():
    """The list calls it otherwise than the map: then its position decides, here 1 m outside the wall."""
    shelter = Shelter("Old Weir School", LON + 10 / 78_400, LAT - 1 / 111_132)
    room = found("Old Weir School:Hall", rooms=house(), shelters=[shelter])

    assert (room.kind, room.label) == ("room", "Old Weir School: Hall")
    assert room.is_shelter


def test_a_name_on_two_levels_needs_the_level_too():
    rooms = house()
    with pytest.raises(InputError, match=r"Weir House:Toilet:level 0, Weir House:Toilet:level 1"):
        found("Weir House:Toilet", rooms=rooms)
    assert found("Weir House:Toilet:level 1", rooms=rooms).level == 1.0


def test_a_level_means_its_corridor():
    """Where somebody arrives on the floor: level 1 has a corridor of 200 m² and a toilet."""
    rooms = house()
    room = found("Weir House:level 1", rooms=rooms)

    assert (room.label, room.level) == ("Weir House: level 1", 1.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Weir House:Ballroom", "level 0: Hall, Toilet; level 1: Toilet"),
        ("Weir House:Haal", "Did you mean Hall"),
        ("Weir House:level 7", "no such level"),
        ("Weir House:Cellar", "no door or way into"),
        ("9 Mill Lane:Hall", "no such number"),
        ("12a Mill Lane:Hall", "shows no rooms"),
    ],
)
def test_what_is_not_there_is_refused_with_what_is(text: str, says: str):
    with pytest.raises(InputError, match=says):
        found(text, rooms=house())


def test_a_misspelt_street_is_answered_with_the_nearest_and_a_wrong_number_with_those_there_are():
    with pytest.raises(InputError, match="Did you mean Weir Street"):
        found("9 Wier Street")
    with pytest.raises(InputError, match="no such number; it has 12a"):
        found("13 Mill Lane")


def test_one_address_in_two_places_is_refused_with_both_and_two_doors_of_one_house_are_not():
    """Two streets of one name, 0.01 degrees (780 m) apart: nobody is sent to the wrong one. Two doors lie 40 m apart."""
    twice = [("Weir Street", "9", LON, LAT), ("Weir Street", "9", LON + 0.01, LAT)]
    doors = [("Weir Street", "9", LON, LAT), ("Weir Street", "9", LON + 0.0005, LAT)]

    with pytest.raises(InputError, match=rf"2 times .*{LAT:.5f},{LON:.5f}; {LAT:.5f},{LON + 0.01:.5f}"):
        find_place("9 Weir Street", addresses=twice)
    assert find_place("9 Weir Street", addresses=doors).lon == LON


def test_the_start_of_a_shelters_name_will_do_while_only_one_fits():
    """An exact name wins over longer ones; fewer than four letters are no name."""
    halls = [Shelter("North Quay School", LON, LAT), Shelter("North Quay Hall", LON + 1, LAT), Shelter("Pine", LON + 2, LAT)]
    longer = [*halls, Shelter("Pine Hill", LON + 3, LAT)]

    assert found("north quay s", shelters=halls).label == "North Quay School"
    assert found("pine", shelters=longer).lon == LON + 2
    with pytest.raises(InputError, match="'North Quay School', 'North Quay Hall'"):
        found("North Quay", shelters=halls)
    with pytest.raises(InputError, match="not found"):
        found("Pin", shelters=halls)


def test_a_list_of_addresses_is_read_as_written_and_a_bad_row_is_named(tmp_path: Path):
    """Longitude before latitude inside the program, whatever the order of the columns; a house number keeps its letter."""
    path = tmp_path / "points.csv"
    path.write_text("lat,lon,housenumber,street\n45.2,-37.3,7b,Šíp Lane\n", encoding="utf-8-sig")
    assert read_address_points(path) == [("Šíp Lane", "7b", -37.3, 45.2)]

    path.write_text("street,housenumber,lat,lon\nMill Lane,1,45.2,-37.3\nMill Lane,2,north,-37.3\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"row 3: .*north"):
        read_address_points(path)
