"""Typed maps of patterns common in US towns; each name says what the map must mean for the chair.

The patterns are common practice of mapping; what the tags mean is the OSM wiki's (Sidewalks, Key:crossing, Key:service, Key:kerb).
The chair climbs 50 mm and needs 0.80 m.
"""

from __future__ import annotations

import pytest
from towns.hand_drawn import a_chair, judge, network_of, noon, through, write_osm

from rollroute.network.build import build_network
from rollroute.network.report import report_lines
from rollroute.standards import load_doubts

FLAT = "surface=asphalt incline=0%"
STREET = f"n1 0,0\nn2 60,0\nw10 1,2 highway=residential name=Elm {FLAT}"


def test_a_slow_street_without_sidewalks_is_driven_on_the_road_with_an_escort_and_its_doubt():
    """The carriageway: open, and asked about (parked cars, no room to wait)."""
    assert judge(STREET, 1, 2).questions == {"carriageway"}
    assert not judge(STREET, 1, 2).reasons


def test_the_same_street_is_shut_to_a_chair_that_rides_alone():
    assert judge(STREET, 1, 2, conditions=noon(has_escort=False)).reasons == {"escort"}


@pytest.mark.parametrize(
    ("lit", "mains", "reasons"),
    [("lit=yes", True, set()), ("lit=no", True, {"dark"}), ("", True, {"dark"}), ("lit=yes", False, {"dark"})],
)
def test_after_dark_the_road_needs_lamps_that_burn(lit, mains, reasons):
    """Unknown lamps count as none; with the mains off no lamp burns."""
    assert judge(f"{STREET} {lit}", 1, 2, conditions=noon(is_dark=True, has_mains=mains)).reasons == reasons


@pytest.mark.parametrize("tags", ["maxspeed=45_mph", "lanes=4", "maxspeed=30_mph"])
def test_a_wider_or_faster_street_without_sidewalks_is_never_driven(tags):
    """From 41 km/h (25 mph) or three lanes on a street is busy (assumption)."""
    text = STREET + " sidewalk=no " + tags.replace("_", " ").replace(" mph", "mph")

    assert judge(text, 1, 2).reasons == {"traffic"}


def test_a_street_tagged_as_having_no_sidewalk_is_known_to_be_a_carriageway():
    """``sidewalk=no`` answers the question whether there is one; it does not close a slow street."""
    assert judge(STREET + " sidewalk=no", 1, 2).is_clear


def test_a_street_tagged_with_a_sidewalk_is_no_carriageway():
    """Then neither escort nor light is needed; the width of that sidewalk is."""
    said = judge(STREET + " sidewalk=both", 1, 2, conditions=noon(has_escort=False, is_dark=True))

    assert (said.reasons, said.questions) == (set(), {"width"})


APRON = f"n1 0,0\nn2 30,0 {{}}\nn3 60,0\nn4 30,6 {{}}\nn5 30,20\nw10 1,2,3 highway=residential {FLAT}\n" \
        f"w11 2,4,5 highway=service service=driveway {FLAT} {{}}"  # fmt: skip


def test_a_driveway_meets_the_street_over_an_apron_with_a_doubt_of_its_own():
    said = judge(APRON.format("", "", ""), 2, 4)

    assert (said.reasons, said.questions) == (set(), {"apron"})


@pytest.mark.parametrize(("at_street", "on_driveway"), [("kerb=lowered kerb:height=0.02", ""), ("", "barrier=kerb kerb:height=0.02")])
def test_an_apron_whose_height_is_tagged_is_no_question(at_street, on_driveway):
    """Tagged where the driveway meets the street, or a few metres up it: 20 mm is under the rated 50 mm."""
    text = APRON.format(at_street, on_driveway, "")

    assert through(text, 2, 4, 5).is_clear
    assert through(text, 5, 4, 2).is_clear


def test_an_apron_with_a_high_lip_stops_the_chair():
    assert judge(APRON.format("kerb:height=0.08", "", ""), 2, 4).reasons == {"kerb"}


def test_the_apron_of_a_private_driveway_is_asked_about_and_not_shut():
    """The apron at the street is part of the sidewalk; whether strangers may use it is for the coordinator to say."""
    said = judge(APRON.format("", "", "access=private"), 2, 4)

    assert (said.reasons, said.questions) == (set(), {"apron", "access"})


def test_a_sidewalk_that_runs_on_across_a_driveway_meets_no_kerb():
    text = f"n1 0,0\nn2 20,0\nn3 40,0\nn4 20,9\nn5 20,-9\nw10 1,2,3 highway=footway footway=sidewalk width=1.5 {FLAT}\n" \
           f"w11 4,2,5 highway=service service=driveway {FLAT}"  # fmt: skip

    assert through(text, 1, 2, 3).is_clear


AISLE = f"n1 0,0\nn2 40,0\nn3 40,30\nn4 40,45\nw10 1,2 highway=residential sidewalk=no {FLAT}\n" \
        f"w11 2,3 highway=service {FLAT}\nw12 3,4 highway=service service=parking_aisle {FLAT}"  # fmt: skip


def test_a_parking_aisle_is_driven_over_the_car_parks_own_apron():
    """Off the street over the service apron, then along the aisle; no footway is drawn in most car parks."""
    said = through(AISLE, 2, 3, 4)

    assert (said.reasons, said.questions) == (set(), {"apron"})


def test_a_walk_that_leaves_a_parking_aisle_meets_a_low_kerb_or_none():
    """Mostly a dropped kerb: asked, with a smaller doubt than where a path meets a street."""
    aisle = AISLE + f"\nn5 50,45\nw13 4,5 highway=footway width=1.5 {FLAT}"
    street = f"n1 0,0\nn2 40,0\nn5 40,10\nw10 1,2 highway=residential {FLAT}\nw13 2,5 highway=footway width=1.5 {FLAT}"
    from_aisle, from_street = judge(aisle, 4, 5), judge(street, 2, 5)

    assert from_aisle.questions == from_street.questions == {"kerb"}
    assert 0 < from_aisle.surprisal < from_street.surprisal


SLIP = f"""
n1 0,0
n2 6,0 {{kerb}}
n3 9,0
n4 12,0 {{kerb}}
n5 16,0 {{kerb}}
n6 25,0
n7 34,0 {{kerb}}
n8 40,0
n9 9,20
n10 9,-20
n11 25,20
n12 25,-20
w10 1,2 highway=footway footway=sidewalk width=1.5 {FLAT}
w11 2,3,4 highway=footway footway=crossing crossing={{slip}} width=3 {FLAT}
w12 4,5 highway=footway footway=traffic_island width=3 {FLAT}
w13 5,6,7 highway=footway footway=crossing crossing=traffic_signals width=3 {FLAT}
w14 7,8 highway=footway footway=sidewalk width=1.5 {FLAT}
w15 9,3,10 highway=primary_link {FLAT}
w16 11,6,12 highway=primary lanes=4 sidewalk=separate {FLAT}
"""


def test_a_channelised_right_turn_is_two_crossings_and_an_island_with_four_kerbs():
    """The slip lane without a signal of its own, the island, then the main road with signals: four kerbs are asked about, each once."""
    said = through(SLIP.format(kerb="", slip="unmarked"), 1, 2, 3, 4, 5, 6, 7, 8)
    network = network_of(SLIP.format(kerb="", slip="unmarked"))
    kerbs = {int(i) for i, kind in zip(network.places.osm_id, network.places.kind, strict=True) if kind == 1}

    assert "kerb" in said.questions
    assert kerbs == {2, 4, 5, 7}


def test_a_channelised_right_turn_with_every_kerb_flush_is_clear():
    assert through(SLIP.format(kerb="kerb=flush", slip="marked"), 1, 2, 3, 4, 5, 6, 7, 8).is_clear


def test_an_island_as_drawn_shorter_than_the_chair_is_asked_about_and_not_shut():
    """4 m from kerb to kerb takes any chair; 1.00 m does not take 1.10 m, and 1.20 m does. A length unknown counts as 1.22 m."""

    def asked(end_m: float, **length: object) -> set[str]:
        said = judge(SLIP.format(kerb="kerb=flush", slip="marked").replace("n5 16,0", f"n5 {12 + end_m},0"), 4, 5, chair=a_chair(**length))
        assert not said.reasons
        return said.questions

    assert [asked(m) for m in (4.0, 1.2, 1.0)] == [set(), set(), {"island"}]
    assert asked(1.2, length_m=None) == {"island"}


def test_with_the_mains_off_the_wide_road_of_a_channelised_turn_needs_a_marshal():
    """Its signal is out; the slip lane never had one."""
    text = SLIP.format(kerb="kerb=flush", slip="marked")

    assert through(text, 5, 6, 7, conditions=noon(has_mains=False)).questions == {"crossing"}


CORNER = """
n1 -40,0
n2 0,0
n3 40,0
n4 0,40
n5 -6,0 {west}
n6 6,0 {east}
n7 0,6 {north}
w10 1,5,2,6,3 highway=residential sidewalk=both sidewalk:both:width=1.5 sidewalk:both:surface=concrete incline=0%
w11 2,7,4 highway=residential sidewalk=both sidewalk:both:width=1.5 sidewalk:both:surface=concrete incline=0%
"""


def test_a_street_of_which_only_crossing_nodes_are_mapped_has_a_kerb_to_ask_about_at_its_corner():
    """Sidewalks are a tag, crossings are nodes without a word on their kerbs."""
    text = CORNER.format(west="highway=crossing", east="highway=crossing", north="highway=crossing")

    assert "kerb" in through(text, 1, 5, 2, 7, 4).questions


def test_crossing_nodes_that_all_state_their_kerbs_answer_for_the_corner():
    word = "highway=crossing kerb=lowered"

    assert through(CORNER.format(west=word, east=word, north=word), 1, 5, 2, 7, 4).is_clear


def test_one_crossing_node_with_a_known_kerb_says_nothing_of_the_other_corners():
    text = CORNER.format(west="highway=crossing kerb=lowered", east="highway=crossing", north="highway=crossing")

    assert "kerb" in through(text, 1, 5, 2, 7, 4).questions


def test_a_raised_kerb_at_one_crossing_node_stops_the_corner():
    """The worst of all arms counts where each is known."""
    text = CORNER.format(west="highway=crossing kerb=lowered", east="highway=crossing kerb=raised", north="highway=crossing kerb=lowered")

    assert "kerb" in through(text, 5, 2, 7).reasons


JOIN = f"n1 0,0\nn2 30,0\nn3 60,0\nn4 30,{{}} {{}}\nn5 30,20\nw10 1,2,3 highway=residential sidewalk=both {FLAT}\n" \
       f"w11 2,4,5 highway=footway width=1.5 {FLAT}"  # fmt: skip


@pytest.mark.parametrize("at_m", [1, 2, 6])
def test_a_footway_whose_kerb_is_mapped_just_off_the_street_is_not_asked_about_it_again(at_m):
    """``kerb_side`` would be a second kerb where there is one: the one mapped is known, so the way is clear."""
    said = through(JOIN.format(at_m, "barrier=kerb kerb=lowered"), 2, 4, 5)

    assert said.is_clear


def test_a_footway_that_joins_a_street_with_no_kerb_mapped_is_asked_about_one():
    assert through(JOIN.format(2, ""), 2, 4, 5).questions == {"kerb"}


def test_up_and_down_are_told_apart_at_a_kerb_just_off_the_street():
    """Towards the street is down: a chair rated 50 mm up and 80 mm down takes a 70 mm kerb only that way."""
    text, chair = JOIN.format(2, "barrier=kerb kerb:height=0.07"), a_chair(rated_obstacle_down_m=0.08)

    assert through(text, 2, 4, 5, chair=chair).reasons == {"kerb"}
    assert through(text, 5, 4, 2, chair=chair).is_clear


def test_build_lists_every_dirty_value_with_where_it_stands(tmp_path):
    """What can't be understood stays unknown; what can be read on its bad side only is listed too."""
    text = f"n1 0,0\nn2 30,0\nn3 60,0\nw10 1,2 highway=residential width=narrow lit=maybe {FLAT}\n" \
           f"w11 2,3 highway=residential sidewalk=yes lanes=1.5 access=perhaps {FLAT}"  # fmt: skip
    lines = "\n".join(report_lines(build_network(write_osm(text, tmp_path / "dirty.osm"))))

    for dirt, way in (("width=narrow", 10), ("lit=maybe", 10), ("sidewalk=yes", 11), ("lanes=1.5", 11), ("access=perhaps", 11)):
        assert f"{dirt} × 1, first at way/{way}" in lines


YARD = f"""
n1 0,0
n2 40,0
n3 80,0
n4 40,4
n5 0,4 barrier=kerb kerb=raised
n6 80,4
n7 40,20
n8 0,8
w10 1,2,3 highway=residential sidewalk=separate {FLAT}
w11 2,4,7 highway=service service=driveway {FLAT}
w12 8,4,6 highway=footway footway=sidewalk width=1.5 {FLAT}
w13 1,5 highway=footway footway=crossing width=2 {FLAT}
w14 5,8 highway=footway footway=sidewalk width=1.5 {FLAT}
"""


def test_where_the_corner_has_no_ramp_a_driveway_is_the_way_onto_the_sidewalk():
    """Straight up the corner is a raised kerb; along the street and up the apron is open, with the apron's own doubt."""
    corner, apron = through(YARD, 1, 5, 8), through(YARD, 1, 2, 4, 8)

    assert corner.reasons == {"kerb"}
    assert (apron.reasons, apron.questions) == (set(), {"apron"})
    assert apron.surprisal == pytest.approx(load_doubts().surprisal("apron"))


def test_a_kerb_between_two_streets_is_met_once():
    """A path of 6 m joins two streets, its kerb is mapped in the middle: one question, whichever way it goes down."""
    text = f"n1 0,0\nn2 30,0\nn3 60,0\nn4 30,3 barrier=kerb\nn5 30,6\nn6 0,6\nn7 60,6\nw10 1,2,3 highway=residential {FLAT}\n" \
           f"w11 2,4,5 highway=footway width=1.5 {FLAT}\nw12 6,5,7 highway=residential {FLAT}"  # fmt: skip
    said = through(text, 2, 4, 5)

    assert said.questions == {"kerb"}
    assert said.surprisal == pytest.approx(load_doubts().surprisal("kerb_word"))


@pytest.mark.parametrize("tags", ["highway=service", "highway=service service=parking_aisle", "highway=service service=driveway"])
def test_a_yard_asks_for_no_escort(tags):
    """Cars go at walking pace in car parks, service roads and driveways (assumption); streets are what an escort is for."""
    text = f"n1 0,0\nn2 60,0\nw10 1,2 {tags} {FLAT}"

    assert judge(text, 1, 2, conditions=noon(has_escort=False)).is_clear
