"""More hand-drawn maps, one rule each: words for chairs, rights, gates, lifts, conveyors, squares, works."""

from __future__ import annotations

import datetime as dt

import pytest
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, a_chair, judge, network_of, noon, tally_of, through

from rollroute.network.network import Flag
from rollroute.network.tags import Access
from rollroute.standards import load_doubts
from rollroute.weights.case import Weighing

GOOD = "highway=footway footway=sidewalk surface=asphalt incline=0%"
PATH = "n1 0,0\nn2 20,0\n"


def way(tags, **kwargs):
    return judge(PATH + f"w10 1,2 {tags}", 1, 2, **kwargs)


def test_wheelchair_yes_leaves_the_width_a_question_of_smaller_doubt():
    """OSM wiki, Key:wheelchair: ``yes`` is stepless; it says nothing of widths, and missing is never the best case."""
    said, silent = way(f"{GOOD} wheelchair=yes"), way(GOOD)

    assert said.questions == silent.questions == {"width"}
    assert 0 < said.surprisal < silent.surprisal


def test_wheelchair_yes_does_not_outrank_a_width_that_is_too_narrow():
    assert way(f"{GOOD} wheelchair=yes width=0.7").reasons == {"width"}


@pytest.mark.parametrize(
    ("node", "question"),
    [
        ("entrance=main door=hinged threshold=0 wheelchair=yes", "door"),
        ("barrier=bollard wheelchair=yes", "bollard"),
        ("barrier=gate wheelchair=yes", "gate"),
        ("highway=elevator wheelchair=yes", "lift"),
    ],
)
def test_wheelchair_yes_at_a_narrow_place_leaves_its_question(node, question):
    """A door, gap, gate or lift that suits most chairs may not take this one."""
    inside = "w11 2,3 highway=corridor indoor=yes level=0 width=2"
    outside = inside if question in ("door", "lift") else f"w11 2,3 {GOOD} width=2"
    first = "w10 1,2 highway=corridor indoor=yes level=0 width=2" if question == "lift" else f"w10 1,2 {GOOD} width=2"
    said = through(f"n1 0,0\nn2 10,0 {node}\nn3 20,0\n{first}\n{outside}", 1, 2, 3)

    assert (said.reasons, said.questions) == (set(), {question})
    assert said.surprisal == pytest.approx(load_doubts().surprisal("wheelchair_yes"), rel=1e-6)


def test_an_access_word_that_is_not_understood_is_asked_about():
    """Neither open nor shut: somebody wrote something."""
    assert way(f"{GOOD} width=2 access=ask_the_owner".replace("ask_the_owner", "perhaps")).questions == {"access"}


def test_a_gate_whose_access_word_is_not_understood_is_asked_about():
    text = f"n1 0,0\nn2 10,0 barrier=gate access=perhaps locked=no width=1.2\nn3 20,0\nw10 1,2,3 {GOOD} width=2"

    assert "access" in through(text, 1, 2, 3).questions


@pytest.mark.parametrize(("word", "is_open"), [("delivery", False), ("private", False), ("customers", None), ("destination", True)])
def test_access_depends_on_who_comes(word, is_open):
    """OSM wiki, Key:access: delivery and private shut a stranger out, customers is asked, destination is where the rider goes."""
    said = way(f"{GOOD} width=2 access={word}")

    assert (said.is_clear, bool(said.reasons)) == (is_open is True, is_open is False)


def test_the_owners_word_opens_a_private_way():
    assert way(f"{GOOD} width=2 access=private", rules=Weighing(granted=frozenset({Access.PRIVATE}))).is_clear


GATE = f"n1 0,0\nn2 10,0 barrier=gate name=Weir_Gate {{}}\nn3 20,0\nw10 1,2,3 {GOOD} width=2"


def test_a_gate_of_which_nothing_is_told_is_one_question():
    """May be locked, may be narrow: one place, one question, on one of the two pieces."""
    said = through(GATE.format(""), 1, 2, 3)

    assert said.questions == {"gate"}
    assert said.surprisal == pytest.approx(load_doubts().surprisal("gate"))


@pytest.mark.parametrize(("key", "is_clear"), [("node/2", True), ("node/3", False)])
def test_a_key_opens_the_gate_that_it_fits_and_no_other(key, is_clear):
    said = through(GATE.format("locked=yes width=1.2"), 1, 2, 3, rules=Weighing(keys=frozenset({key})))

    assert said.is_clear == is_clear


def test_a_key_makes_no_gate_wider():
    """A gate of 0.6 m is opened and still too narrow (0.70 m needed at a pinch point)."""
    said = through(GATE.format("locked=yes width=0.6"), 1, 2, 3, rules=Weighing(keys=frozenset({"node/2"})))

    assert said.reasons == {"width"}


@pytest.mark.parametrize(("hour", "reasons"), [(9, set()), (21, {"access"})])
def test_a_park_gate_with_hours_is_read_at_departure(hour, reasons):
    """OSM wiki, Key:opening_hours."""
    when = dt.datetime(2026, 3, 11, hour, tzinfo=dt.timezone(dt.timedelta(hours=-2)))

    gate = GATE.format("locked=no width=1.2 opening_hours=08:00-18:00")

    assert through(gate, 1, 2, 3, conditions=noon(departure=when)).reasons == reasons


@pytest.mark.parametrize(("month", "reasons"), [(1, {"access"}), (7, set())])
def test_a_way_closed_in_winter_is_shut_by_its_condition(month, reasons):
    """OSM wiki, Conditional restrictions: ``no @ (Nov-Mar)``."""
    tags = f"{GOOD} width=2 foot:conditional=no_@_(Nov-Mar)"
    when = dt.datetime(2026, month, 10, 12, tzinfo=dt.UTC)

    assert way(tags, conditions=noon(departure=when)).reasons == reasons


def test_a_condition_that_depends_on_wet_ground_follows_the_weather():
    tags = f"{GOOD} width=2 access:conditional=no_@_wet"

    assert way(tags, conditions=noon(is_wet=False)).is_clear
    assert way(tags, conditions=noon(is_wet=True)).reasons == {"access"}


def test_a_condition_that_nobody_can_decide_is_asked_about():
    """Never taken as open."""
    said = way(f"{GOOD} width=2 access:conditional=no_@_(when_it_suits)")

    assert said.questions == {"access"}


@pytest.mark.parametrize("tags", ["conveying=yes", "conveying=forward", "conveying=reversible"])
def test_moving_stairs_stop_a_chair(tags):
    """OSM wiki, Key:conveying on steps: an escalator."""
    assert way(f"highway=steps {tags}").reasons == {"steps"}


def test_a_moving_walkway_is_a_footway():
    """OSM wiki, Key:conveying on a footway: no steps; width and surface are judged as anywhere."""
    assert way(f"{GOOD} width=1.5 conveying=forward").is_clear


@pytest.mark.parametrize("tags", ["ramp:wheelchair=yes", "ramp=yes ramp:wheelchair=yes"])
def test_a_ramp_over_steps_is_asked_about(tags):
    """OSM wiki, Key:ramp:wheelchair: slope and width are not told."""
    said = way(f"highway=steps step_count=3 {tags}")

    assert (said.reasons, said.questions) == (set(), {"steps_ramp"})


@pytest.mark.parametrize("tags", ["ramp=yes", "ramp:stroller=yes", "ramp:bicycle=yes", "ramp:wheelchair=no", "ramp=separate"])
def test_a_ramp_that_is_for_others_opens_no_steps(tags):
    """``ramp=yes`` may be two rails for bicycles: only the wheelchair's own key opens steps to a question."""
    assert way(f"highway=steps {tags}").reasons == {"steps"}


def test_a_portable_ramp_long_enough_is_asked_about_and_one_too_short_is_none():
    """One step of at most 18 cm (ADA 504.2) needs 0.18 × 12 = 2.16 m: 2.2 m may do, 2.1 m can't."""
    steps = "highway=steps step_count=1 ramp:portable=yes ramp:portable:length="

    assert way(steps + "2.2").questions == {"steps_ramp"}
    assert way(steps + "2.1").reasons == {"steps"}


def place_of(network, node):
    """Metres east and north, as drawn."""
    lon, lat = network.node_place(node)
    return (lon - LON) * M_PER_DEGREE_LON, (lat - LAT) * M_PER_DEGREE_LAT


SQUARE = f"""
n1 0,0
n2 40,0
n3 40,30
n4 0,30
n5 -20,0
n6 60,30
w10 5,1 {GOOD} width=2
w11 3,6 {GOOD} width=2
w12 1,2,3,4,1 highway=pedestrian area=yes surface=asphalt incline=0%
"""


def test_a_square_is_crossed_from_corner_to_corner_and_not_along_its_rim():
    """The diagonal of 40 by 30 m is 50 m; round the rim it would be 70 m."""
    network = network_of(SQUARE)
    ids, p = network.nodes.osm_id, network.pieces
    across = [float(p.length_m[i]) for i in range(network.n_pieces) if {int(ids[p.tail[i]]), int(ids[p.head[i]])} == {1, 3}]

    assert across == [pytest.approx(50.0, rel=0.01)]
    assert through(SQUARE, 5, 1, 3, 6).is_clear


def test_a_square_with_a_corner_cut_out_is_not_crossed_over_what_is_missing():
    """An L: the line from end to end would leave the square; every line that is drawn stays inside."""
    import shapely

    rim = [(0, 0), (40, 0), (40, 10), (10, 10), (10, 40), (0, 40)]
    nodes = "\n".join(f"n{i} {x},{y}" for i, (x, y) in enumerate(rim, start=1))
    ell = f"{nodes}\nn7 60,5\nn8 5,60\nw10 3,7 {GOOD} width=2\nw11 5,8 {GOOD} width=2\n" \
          "w12 1,2,3,4,5,6,1 highway=pedestrian area=yes surface=asphalt incline=0%"  # fmt: skip
    network = network_of(ell)
    p = network.pieces
    inside = shapely.Polygon(rim).buffer(0.05)
    drawn = [i for i in range(network.n_pieces) if p.flags[i] & Flag.OVER_AREA]

    assert drawn
    for i in drawn:
        line = shapely.LineString([place_of(network, int(p.tail[i])), place_of(network, int(p.head[i]))])
        assert inside.covers(line)


def test_a_platform_is_crossed_like_a_square():
    """OSM wiki, Tag:railway=platform."""
    text = SQUARE.replace("highway=pedestrian area=yes", "railway=platform width=5")

    assert not through(text, 5, 1, 3, 6).reasons


@pytest.mark.parametrize(("tags", "reasons"), [
    ("highway=construction construction=footway", {"works"}),
    (f"{GOOD} width=2 construction=yes", {"works"}),
    (f"{GOOD} width=2 construction=minor", set()),
    (f"{GOOD} width=2 construction=no", set()),
])  # fmt: skip
def test_works_close_a_way_unless_they_are_minor(tags, reasons):
    """OSM wiki, Key:construction."""
    assert way(tags).reasons == reasons


def test_a_lift_drawn_as_a_line_is_asked_about_like_one_drawn_as_a_point():
    """Its car and door are not told, and it stands still with the mains off."""
    text = PATH + "w10 1,2 highway=elevator level=0;1"

    assert judge(text, 1, 2).questions == {"lift"}
    assert judge(text, 1, 2, conditions=noon(has_mains=False)).reasons == {"power"}


KERB_RAMP = f"""
n1 0,0
n2 10,0 kerb=flush barrier=kerb {{}}
n3 14,0
n4 14,9
n5 14,-9
w10 1,2 {GOOD} width=2
w11 2,3 highway=footway footway=crossing width=3 surface=asphalt incline=0%
w12 4,3,5 highway=residential
"""


def test_a_kerb_ramp_too_steep_or_too_narrow_stops_even_where_its_kerb_is_flush():
    """2010 ADA Standards 405.2: 1:12; the chair needs 0.80 m."""
    text = KERB_RAMP
    assert judge(text.format("incline=12%"), 2, 3).reasons == {"grade"}
    assert judge(text.format("width=0.7"), 2, 3).reasons == {"width"}
    assert judge(text.format("incline=8% width=1.2"), 2, 3).is_clear


def test_a_gutter_that_runs_steeply_against_the_ramp_is_asked_about():
    """2010 ADA Standards 406.2 allows 1:20; PROWAG R304.5.2 13.3 % of both slopes together."""
    text = KERB_RAMP
    assert judge(text.format("incline=6% counter_slope=5%"), 2, 3).is_clear
    assert judge(text.format("incline=6% counter_slope=6%"), 2, 3).questions == {"kerb"}
    assert judge(text.format("incline=8.33% counter_slope=5%"), 2, 3).questions == {"kerb"}


def test_after_a_storm_the_road_is_preferred_to_the_sidewalk():
    """Carriageways are cleared first, sidewalks and curb ramps last: the usual preference turns round."""
    from rollroute.weights.energy import calibrate
    from rollroute.weights.scenario import PlannedFactors
    from rollroute.weights.weigh import weigh

    text = f"n1 0,0\nn2 40,0\nn3 0,5\nn4 40,5\nw10 1,2 highway=residential sidewalk=no surface=asphalt incline=0%\nw11 3,4 {GOOD} width=2"
    network, chair = network_of(text), a_chair()
    factors = PlannedFactors(time=1.2, energy=1.3, usable=0.8)
    usual, stormy = (weigh(network, chair, calibrate(chair), factors, noon(after_storm=s)).discomfort_s for s in (False, True))

    assert usual[0] > usual[2]
    assert stormy[0] < stormy[2]


def test_mains_off_turns_a_signal_into_an_uncontrolled_crossing_and_nothing_else():
    """Only what needs power changes: reasons and questions elsewhere stay as they were."""
    text = f"""
n1 0,0
n2 10,0 kerb=flush
n3 14,0
n4 18,0 kerb=flush
n5 30,0
n6 14,20
n7 14,-20
w10 1,2 {GOOD} width=2
w11 2,3,4 highway=footway footway=crossing crossing=traffic_signals width=3 surface=asphalt incline=0%
w12 4,5 {GOOD} width=2
w13 6,3,7 highway=residential sidewalk=separate surface=asphalt incline=0%
"""
    network = network_of(text)
    _, on = tally_of(network, a_chair(), noon())
    _, off = tally_of(network, a_chair(), noon(has_mains=False))
    changed = {int(network.ways.osm_id[network.pieces.way[e // 2]]) for e in (on.questions != off.questions).nonzero()[0]}

    assert not (on.reasons != off.reasons).any()
    assert changed <= {11}


@pytest.mark.parametrize(
    ("across", "reasons", "questions"), [("12%", {"cross_slope"}, set()), ("7%", set(), {"cross_slope"}), ("4%", set(), set())]
)
def test_a_way_that_tilts_stops_the_chair_over_its_rated_slope_and_is_asked_about_over_one_in_twenty(across, reasons, questions):
    """Rated 6 degrees are 10.5 %; PROWAG R302.5.2.2 allows 1:20 across."""
    said = way(f"{GOOD} width=2 incline:across={across}", chair=a_chair(rated_grade=0.105))

    assert (said.reasons, said.questions) == (reasons, questions)


def test_a_sill_that_a_chair_goes_down_it_may_not_come_up():
    """8 cm: down at 10 cm rated, not up at 5. In goes up."""
    inside = "w11 2,3 highway=corridor indoor=yes level=0 width=2"
    text = f"n1 0,0\nn2 10,0 entrance=main door=hinged width=1 kerb:height=8cm\nn3 20,0\nw10 1,2 {GOOD} width=2\n{inside}"
    chair = a_chair(rated_obstacle_m=0.05, rated_obstacle_down_m=0.10)

    assert "door" in through(text, 1, 2, 3, chair=chair).reasons
    assert "door" not in through(text, 3, 2, 1, chair=chair).reasons


def test_a_raised_kerb_across_a_driveway_is_no_apron():
    """OSM wiki, Key:kerb: raised is over 3 cm; without a figure a whole kerb is meant (common practice)."""
    street = "w10 1,2,3 highway=residential sidewalk=no maxspeed=30 lit=yes"
    text = f"n1 -40,0\nn2 0,0 kerb=raised\nn3 40,0\nn4 0,20\n{street}\nw11 2,4 highway=service service=driveway width=3 surface=asphalt"

    assert "kerb" in through(text, 1, 2, 4).reasons
    assert "kerb" not in through(text.replace("kerb=raised", "kerb=flush"), 1, 2, 4).reasons


def test_a_gate_that_somebody_found_blocked_stops_both_ways():
    """Measured in the field; the way beside it stays as it was."""
    from rollroute.inputs.field_facts import FieldFact
    from rollroute.network.overlay import lay_facts

    text = f"n1 0,0\nn2 10,0 barrier=gate locked=no width=1.2 access=yes\nn3 20,0\nw10 1,2,3 {GOOD} width=2"
    found = FieldFact(fact="blocked", value=1.0, lon=LON + 10 / M_PER_DEGREE_LON, lat=LAT)
    network, _ = lay_facts(network_of(text), [found], dt.date(2026, 3, 14))

    assert "measured" in through(network, 1, 2, 3).reasons
    assert "measured" in through(network, 3, 2, 1).reasons
