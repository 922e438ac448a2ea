"""One hand-drawn map per rule; each name says what the map must mean for the chair.

The chair is 0.64 m wide and leaves 0.08 m at each side: it needs 0.80 m of way and 0.70 m at a pinch point, and climbs 50 mm.
"""

from __future__ import annotations

import datetime as dt

import pytest
from towns.hand_drawn import NOON, a_chair, judge, noon, through

from rollroute.network.tags import Access
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing

PATH = "n1 0,0\nn2 20,0\n"
GOOD = "highway=footway footway=sidewalk surface=asphalt incline=0%"


def way(tags: str, **kwargs: object):
    return judge(PATH + f"w10 1,2 {tags}", 1, 2, **kwargs)  # type: ignore[arg-type]


@pytest.mark.parametrize(("width", "reasons", "questions"), [("0.80", set(), set()), ("0.79", {"width"}, set()), (None, set(), {"width"})])
def test_a_way_must_be_as_wide_as_the_chair_with_room_at_both_sides(width, reasons, questions):
    """0.64 + 2 × 0.08 = 0.80 m: met, just missed, unknown."""
    said = way(GOOD + (f" width={width}" if width else ""))

    assert (said.reasons, said.questions) == (reasons, questions)


@pytest.mark.parametrize(("width", "reasons"), [("0.92", set()), ("0.91", {"width"})])
def test_a_preset_asks_for_more_than_the_chair_does(width, reasons):
    """2010 ADA Standards 403.5.1: 915 mm."""
    assert way(f"{GOOD} width={width}", rules=Weighing(standard=load_standard("ada-2010"))).reasons == reasons


@pytest.mark.parametrize(("opening", "reasons"), [("0.70", set()), ("0.69", {"width"})])
def test_a_bollard_is_a_pinch_point(opening, reasons):
    """2010 ADA Standards 403.5.1 exception grants 915 − 815 = 100 mm: 0.80 − 0.10 = 0.70 m."""
    text = f"n1 0,0\nn2 10,0 barrier=bollard maxwidth:physical={opening}\nn3 20,0\nw10 1,2,3 {GOOD} width=2"

    assert through(text, 1, 2, 3).reasons == reasons


def test_two_bollards_close_together_are_no_pinch_points():
    """403.5.1: narrow segments are separated by 1220 mm; here they are 1 m apart, so each must give the full 0.80 m."""
    line = "barrier=bollard maxwidth:physical=0.75"
    near = f"n1 0,0\nn2 10,0 {line}\nn3 11,0 {line}\nn4 20,0\nw10 1,2,3,4 {GOOD} width=2"
    far = near.replace("n3 11,0", "n3 13,0")

    assert through(near, 1, 2, 3, 4).reasons == {"width"}
    assert not through(far, 1, 2, 3, 4).reasons


KERB = "n1 0,0\nn2 10,0 {}\nn3 14,0\nn4 14,9\nn5 14,-9\nw10 1,2 highway=footway footway=sidewalk width=2\nw11 2,3 highway=footway " \
       "footway=crossing width=3 surface=asphalt\nw12 4,3,5 highway=residential"  # fmt: skip


@pytest.mark.parametrize(
    ("tags", "up", "down", "asks"),
    [
        ("barrier=kerb kerb:height=0.05", set(), set(), False),
        ("barrier=kerb kerb:height=0.051", {"kerb"}, {"kerb"}, False),
        ("barrier=kerb", set(), set(), True),
        ("kerb=lowered", set(), set(), False),
        ("kerb=raised", {"kerb"}, {"kerb"}, False),
        ("kerb=rolled", set(), set(), True),
    ],
)
def test_a_kerb_is_held_against_the_rated_obstacle(tags, up, down, asks):
    """Rated 50 mm: met, just missed, unknown; raised may be a whole kerb (OSM wiki, Key:kerb: over 3 cm)."""
    onto_walk, off_walk = judge(KERB.format(tags), 3, 2), judge(KERB.format(tags), 2, 3)

    assert (onto_walk.reasons, off_walk.reasons) == (up, down)
    assert ("kerb" in onto_walk.questions) == asks


def test_down_a_kerb_is_not_up_it():
    """A chair rated 50 mm up and 80 mm down takes a 70 mm kerb in one direction only."""
    chair = a_chair(rated_obstacle_down_m=0.08)
    text = KERB.format("barrier=kerb kerb:height=7_cm".replace("_", ""))

    assert judge(text, 3, 2, chair=chair).reasons == {"kerb"}
    assert not judge(text, 2, 3, chair=chair).reasons


def test_the_worse_side_of_a_crossing_node_counts():
    """OSM wiki, Key:kerb: kerb:left and kerb:right where the sides differ."""
    text = KERB.format("").replace("n3 14,0", "n3 14,0 highway=crossing kerb:left=flush kerb:right=raised")

    assert judge(text, 2, 3).reasons == {"kerb"}


def test_a_map_that_is_silent_about_a_kerb_is_not_a_map_without_one():
    """Where a drawn crossing ends there is a kerb, tagged or not."""
    assert "kerb" in judge(KERB.format(""), 2, 3).questions


def test_an_unverified_kerb_beyond_a_busy_road_is_doubted_more_unless_an_apron_is_near():
    """Finding it bad leaves the chair on the carriageway; an apron within 30 m is a way off it."""
    quiet, busy = KERB.format(""), KERB.format("").replace("residential", "secondary")
    apron = busy + "\nn6 14,8\nn7 20,8\nw13 6,7 highway=service service=driveway\n".replace("n6 14,8", "")
    apron = apron.replace("w13 6,7", "w13 4,7")

    assert judge(busy, 2, 3).surprisal > judge(quiet, 2, 3).surprisal
    assert judge(apron, 2, 3).surprisal == pytest.approx(judge(quiet, 2, 3).surprisal)


@pytest.mark.parametrize("tags", ["highway=steps", "highway=steps conveying=yes"])
def test_steps_stop_a_chair(tags):
    assert way(tags).reasons == {"steps"}


def test_a_ramp_over_steps_is_a_question_not_a_pass():
    """OSM wiki, Key:ramp:wheelchair: neither its slope nor its width is told."""
    said = way("highway=steps ramp:wheelchair=yes")

    assert (said.reasons, said.questions) == (set(), {"steps_ramp"})


def test_a_ramp_drawn_apart_does_not_open_the_steps():
    """OSM wiki, Key:ramp: separate."""
    assert way("highway=steps ramp:wheelchair=separate ramp=yes").reasons == {"steps"}


def test_a_portable_ramp_too_short_for_its_steps_is_none():
    """Two steps of 18 cm at most need 0.36 × 12 = 4.3 m; 2 m of ramp does not open them, 5 m asks."""
    steps = "highway=steps step_count=2 ramp:portable=yes ramp:portable:length="

    assert way(steps + "2").reasons == {"steps"}
    assert way(steps + "5").questions == {"steps_ramp"}


@pytest.mark.parametrize(("incline", "reasons"), [("8.33%", set()), ("8.4%", {"grade"}), ("-8.4%", {"grade"}), ("1:12", set())])
def test_the_limit_is_one_in_twelve_up_and_down(incline, reasons):
    """2010 ADA Standards 405.2: 1:12 = 8.333 %."""
    assert way(f"{GOOD} width=2".replace("incline=0%", f"incline={incline}"), grade_too=True).reasons == reasons


def test_no_heights_leave_the_grade_a_question():
    assert "grade" in way("highway=footway width=2 surface=asphalt", grade_too=True).questions


def test_a_preset_lowers_the_grade_and_a_chair_lowers_it_further():
    """DIN 18040-1, 4.3.8.2: 6 %; the lower of preset and chair counts."""
    tags = f"{GOOD} width=2".replace("incline=0%", "incline=7%")

    assert not way(tags).reasons
    assert way(tags, rules=Weighing(standard=load_standard("din-18040"))).reasons == {"grade"}
    assert way(tags, chair=a_chair(rated_grade=0.06)).reasons == {"grade"}


@pytest.mark.parametrize(("value", "reasons", "asks"), [("yes", set(), False), ("customers", set(), True), ("private", {"access"}, False)])
def test_who_may_pass_depends_on_the_person(value, reasons, asks):
    """OSM wiki, Key:access; being a customer is a question, which the rider's word answers."""
    tags = f"{GOOD} width=2 access={value}"

    assert way(tags).reasons == reasons
    assert ("access" in way(tags).questions) == asks
    granted = Weighing(granted=frozenset({Access.CUSTOMERS, Access.PRIVATE}))
    assert way(tags, rules=granted).is_clear


@pytest.mark.parametrize(("hour", "is_open"), [(12, True), (22, False)])
def test_a_rule_with_hours_is_read_at_departure(hour, is_open):
    """OSM wiki, Conditional restrictions."""
    tags = f"{GOOD} width=2 access:conditional=no_@_(20:00-06:00)"
    said = way(tags, conditions=noon(departure=NOON.replace(hour=hour)))

    assert said.is_clear == is_open
    assert said.reasons == (set() if is_open else {"access"})


def test_a_winter_closure_is_shut_in_january_and_open_in_july():
    tags = f"{GOOD} width=2 seasonal=summer"
    january, july = (noon(departure=dt.datetime(2026, m, 10, 12, tzinfo=dt.UTC)) for m in (1, 7))

    assert way(tags, conditions=january).reasons == {"access"}
    assert way(tags, conditions=july).is_clear


GATE = f"n1 0,0\nn2 10,0 barrier=gate locked=yes name=Mill_Gate width=1.2\nn3 20,0\nw10 1,2,3 {GOOD} width=2"


def test_a_locked_gate_stops_and_the_coordinators_key_opens_it():
    """A key opens the gate that it is named for, no other."""
    both = [through(GATE, 1, 2, 3, rules=Weighing(keys=frozenset(keys))).reasons for keys in ((), ("node/2",), ("Other",))]

    assert both == [{"gate"}, set(), {"gate"}]


@pytest.mark.parametrize("kind", ["stile", "turnstile", "kissing_gate"])
def test_barriers_made_to_stop_wheels_stop_a_chair(kind):
    """Common practice."""
    assert through(GATE.replace("barrier=gate locked=yes", f"barrier={kind}"), 1, 2, 3).reasons == {"gate"}


def test_a_motor_gate_is_shut_while_the_mains_are_off():
    text = GATE.replace("locked=yes", "automated=yes")

    assert not through(text, 1, 2, 3).reasons
    assert through(text, 1, 2, 3, conditions=noon(has_mains=False)).reasons == {"power"}


SIGNAL = KERB.format("kerb=flush").replace("residential", "secondary lanes=4").replace("=crossing", "=crossing crossing=traffic_signals")


def test_signals_go_out_with_the_mains():
    """A signalled crossing of a wide road then needs a marshal."""
    assert "crossing" not in judge(SIGNAL, 2, 3).questions
    assert "crossing" in judge(SIGNAL, 2, 3, conditions=noon(has_mains=False)).questions


def test_a_wide_road_without_a_signal_is_asked_about():
    assert "crossing" in judge(SIGNAL.replace("traffic_signals", "marked"), 2, 3).questions


@pytest.mark.parametrize(
    ("tags", "conditions", "reasons"),
    [
        ("highway=residential", {}, set()),
        ("highway=residential", {"has_escort": False}, {"escort"}),
        ("highway=residential lit=yes", {"is_dark": True}, set()),
        ("highway=residential lit=yes", {"is_dark": True, "has_mains": False}, {"dark"}),
        ("highway=residential", {"is_dark": True}, {"dark"}),
        ("highway=residential maxspeed=50 sidewalk=no", {}, {"traffic"}),
        ("highway=primary sidewalk=no", {}, {"traffic"}),
        ("highway=trunk", {}, {"traffic"}),
        ("highway=primary sidewalk=both", {}, set()),
        ("highway=primary sidewalk=separate", {}, {"traffic"}),
    ],
)
def test_a_carriageway_is_for_slow_streets_with_an_escort_and_light(tags, conditions, reasons):
    """Street lamps go out with the mains; a sidewalk drawn apart leaves the line to the cars."""
    assert way(tags, conditions=noon(**conditions)).reasons == reasons


def test_a_busy_road_that_nobody_says_has_no_sidewalk_is_a_question():
    """Missing is not bad and not good: whether there is a sidewalk is asked."""
    said = way("highway=primary")

    assert (said.reasons, "carriageway" in said.questions) == (set(), True)


def test_a_road_beside_which_a_sidewalk_is_drawn_is_its_carriageway():
    """The sidewalk drawn 6 m off is the way for the chair, the untagged line is not."""
    text = PATH + f"w10 1,2 highway=primary name=A\nn3 0,6\nn4 20,6\nw11 3,4 {GOOD} width=2"

    assert judge(text, 1, 2).reasons == {"traffic"}
    assert judge(text, 3, 4).is_clear


def test_a_footbridge_may_carry_too_little():
    """150 + 90 = 240 kg: met, just missed."""
    assert not way(f"{GOOD} width=2 bridge=yes maxweight=0.24").reasons
    assert way(f"{GOOD} width=2 bridge=yes maxweight=0.23").reasons == {"mass"}


LIFT = "n1 0,0\nn2 10,0 highway=elevator {}\nn3 20,0\nw10 1,2,3 highway=corridor indoor=yes level=0 width=2"


@pytest.mark.parametrize(
    ("tags", "reasons", "asks"),
    [
        ("door:width=0.9 width=1.1 length=1.4", set(), False),
        ("door:width=0.63 width=1.1 length=1.4", {"lift_size"}, False),
        ("door:width=0.9 width=1.1 length=1.14", {"lift_size"}, False),
        ("width=1.1 length=1.4", set(), True),
        ("", set(), True),
        ("door:width=0.9 width=1.1 length=1.4 maxweight=200_kg", {"mass"}, False),
    ],
)
def test_a_lift_must_take_the_chair(tags, reasons, asks):
    """Width 0.64 m, length 1.10 + 0.05 m, mass 240 kg; a car without its door's width stays a question."""
    said = judge(LIFT.format(tags.replace("_", "")), 1, 2)

    assert said.reasons == reasons
    assert ("lift" in said.questions) == asks


def test_a_lift_stands_still_while_the_mains_are_off_unless_it_has_its_own_power():
    dark = noon(has_mains=False)

    assert "power" in judge(LIFT.format(""), 1, 2, conditions=dark).reasons
    assert "power" not in judge(LIFT.format("emergency_power=yes"), 1, 2, conditions=dark).reasons


DOOR = "n1 0,0\nn2 10,0 entrance=main door=hinged {}\nn3 20,0\nw10 1,2 highway=footway width=2 surface=asphalt\n" \
       "w11 2,3 highway=corridor indoor=yes level=0 width=2"  # fmt: skip


@pytest.mark.parametrize(
    ("tags", "reasons", "questions"),
    [
        ("width=0.70 threshold:height=0.05", set(), set()),
        ("width=0.69 threshold:height=0.05", {"door"}, set()),
        ("width=0.90 threshold:height=0.051", {"door"}, set()),
        ("", set(), {"door", "threshold"}),
        ("width=0.9 wheelchair=limited", {"door"}, set()),
        ("width=0.9 step_count=1", {"door"}, set()),
    ],
)
def test_an_entrance_is_held_against_width_and_obstacle(tags, reasons, questions):
    """Doors grant what 2010 ADA Standards 404.2.3 grants (815 of 915 mm); ``limited`` is a step of up to 7 cm."""
    said = judge(DOOR.format(tags), 2, 3)

    assert (said.reasons, said.questions) == (reasons, questions)


def test_a_helper_may_ease_the_chair_over_one_threshold():
    """50 mm rated and 25 mm of help: 70 mm is passed with, not without."""
    text = DOOR.format("width=0.9 threshold:height=0.07")

    assert judge(text, 2, 3).reasons == {"door"}
    assert judge(text, 2, 3, conditions=noon(helper_eases_threshold=True)).is_clear


def test_an_automatic_door_needs_power():
    text = DOOR.format("width=0.9 threshold:height=0 automatic_door=button")

    assert judge(text, 2, 3, conditions=noon(has_mains=False)).reasons == {"power"}


@pytest.mark.parametrize(("width", "reasons"), [("1.22", set()), ("1.20", {"turn"})])
def test_a_hairpin_needs_room_to_turn(width, reasons):
    """2010 ADA Standards 403.5.2: 1220 mm at the turn."""
    text = f"n1 0,0\nn2 10,0\nn3 10,0.8\nn4 0,0.8\nw10 1,2,3,4 {GOOD} width={width}"

    assert judge(text, 1, 2).reasons == reasons


def test_a_hairpin_of_unknown_width_is_asked_about():
    text = f"n1 0,0\nn2 10,0\nn3 10,0.8\nn4 0,0.8\nw10 1,2,3,4 {GOOD}"

    assert "turn" in judge(text, 1, 2).questions


@pytest.mark.parametrize(("width", "reasons"), [("0.85", set()), ("0.83", {"turn"})])
def test_a_long_chair_needs_room_round_a_corner(width, reasons):
    """(1.10 / 2 + 0.64) / √2 = 0.841 m: geometry of a rectangle turned through a right angle."""
    text = f"n1 0,0\nn2 10,0\nn3 10,10\nw10 1,2,3 {GOOD} width={width}"

    assert judge(text, 1, 2).reasons == reasons


@pytest.mark.parametrize(("surface", "wet", "passes"), [("asphalt", False, True), ("sand", False, False), ("grass", False, False)])
def test_surface_wheel_and_water_decide_together(surface, wet, passes):
    said = way(f"highway=footway width=2 incline=0% surface={surface}", conditions=noon(is_wet=wet))

    assert said.is_clear == passes


def test_rain_never_makes_a_surface_better():
    for surface in ("asphalt", "wood", "compacted", "grass", "ground", "sett", "cobblestone"):
        dry, wet = (way(f"highway=footway width=2 surface={surface}", conditions=noon(is_wet=w)) for w in (False, True))
        assert dry.reasons <= wet.reasons
        assert wet.reasons or wet.surprisal >= dry.surprisal


def test_an_underpass_may_fill_with_rain_while_its_pumps_stand_still():
    tags = f"{GOOD} width=2 tunnel=yes layer=-1"

    assert way(tags, conditions=noon(is_wet=True)).is_clear
    assert way(tags, conditions=noon(is_wet=True, has_mains=False)).questions == {"other"}


def test_construction_closes_a_way():
    assert way("highway=construction construction=footway").reasons == {"works"}
