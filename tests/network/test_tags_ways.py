"""What the tags of a way say: surface, access, times, sidewalks, steps, levels, light, traffic, kind."""

import datetime as dt

import pytest

from rollroute.inputs.tables import load_surfaces, load_table
from rollroute.network.ranks import Rank
from rollroute.network.tags import (
    ASSUMPTIONS,
    Access,
    Moment,
    Passing,
    SideWord,
    Smoothness,
    Surface,
    WayKind,
    has_conditional,
    is_carriageway,
    is_worse,
    passing_of,
    possible_values,
    read_access,
    read_conditional,
    read_in_season,
    read_lanes,
    read_levels,
    read_lit,
    read_maxspeed_kmh,
    read_open,
    read_sidewalk,
    read_smoothness,
    read_steps,
    read_structure,
    read_surface,
    read_width,
    side_tags,
    surface_word,
    way_kind,
)
from rollroute.network.tags.surfaces import BEST_TO_WORST

WEDNESDAY_NOON = Moment(dt.datetime(2026, 1, 14, 12, 0, tzinfo=dt.UTC))
WEDNESDAY_NIGHT = Moment(dt.datetime(2026, 1, 14, 23, 0, tzinfo=dt.UTC))

SURFACES = [
    ("asphalt", Surface.ASPHALT),
    ("Asphalt", Surface.ASPHALT),
    ("paved", Surface.PAVED),
    ("paved;cobblestone", Surface.COBBLESTONE),
    ("asphalt;gravel", Surface.GRAVEL),
    ("gravel; asphalt", Surface.GRAVEL),
    ("grass/asphalt", Surface.GRASS),
    ("concrete:plates", Surface.PAVING_STONES),
    ("paving_stones:30", Surface.PAVING_STONES),
    ("cobblestone:flattened", Surface.SETT),
    ("dirt", Surface.GROUND),
    ("stone", Surface.ROCK),
    ("fine gravel", Surface.FINE_GRAVEL),
]


@pytest.mark.parametrize(("text", "surface"), SURFACES)
def test_of_several_surfaces_the_worst_counts(text, surface):
    """OSM wiki, Key:surface; a way with two surfaces must be passed on both."""
    reading = read_surface({"surface": text})

    assert (reading.value, reading.rank) == (surface, Rank.TAG_WORD)


@pytest.mark.parametrize("text", ["asfalt", "asphalt;blue", "", "yes", "unknown"])
def test_a_surface_that_is_not_understood_is_not_guessed(text):
    reading = read_surface({"surface": text})

    assert reading.value is None
    assert reading.problem or not text


def test_surface_codes_are_rows_of_the_table_of_surfaces():
    """The network stores the code, the weighing looks up the row: code = row + 1."""
    names = load_surfaces().names

    assert [surface_word(code) for code in range(1, len(Surface))] == list(names[:-1])
    assert surface_word(0) is None


def test_synonyms_agree_with_the_table_of_surfaces():
    """One word must not mean two things in two files."""
    aliases = load_table("surfaces")["alias"]

    assert {word: surface_word(read_surface({"surface": word}).value) for word in aliases} == dict(aliases)


def test_the_order_of_surfaces_is_that_of_the_table():
    """Worse: stops more kinds of wheel, then rolls harder over how fast it can be driven."""
    table = load_surfaces()
    rows = {wheel: table.lookup(wheel) for wheel in ("indoor", "standard", "outdoor")}

    def badness(surface):
        row = table.code(surface_word(surface))
        standard = rows["standard"]
        return sum(int(r.verdict[row]) for r in rows.values()), float(standard.crr_ratio[row] / standard.speed_factor[row])

    # Rock, pebbles and snow stop equally many wheels; snow is put last of them, and sand after mud.
    verdicts = [badness(surface)[0] for surface in BEST_TO_WORST[:-1]]
    assert verdicts == sorted(verdicts)
    assert set(BEST_TO_WORST) == set(Surface)


def test_an_unknown_surface_is_worse_than_any():
    """Model, section 1: missing is never the best case."""
    assert is_worse(Surface.UNKNOWN, Surface.SAND)
    assert is_worse(Surface.COBBLESTONE, Surface.PAVED)
    assert not is_worse(Surface.ASPHALT, Surface.ASPHALT)


def test_a_track_without_surface_is_read_by_its_type():
    """OSM wiki, Key:tracktype: grade5 is soft ground."""
    assert read_surface({"tracktype": "grade5"}).value is Surface.MUD
    assert read_surface({"tracktype": "grade5", "surface": "asphalt"}).value is Surface.ASPHALT


def test_of_several_levels_of_smoothness_the_worst_counts():
    """OSM wiki, Key:smoothness."""
    assert read_smoothness({"smoothness": "good;bad"}).value is Smoothness.BAD
    assert read_smoothness({"smoothness": "intermediate"}).value is Smoothness.INTERMEDIATE
    assert read_smoothness({"smoothness": "so-so"}).problem == "smoothness=so-so: not a level of smoothness"


ACCESS = [
    ({}, None, Passing.OPEN),
    ({"access": "no"}, Access.NO, Passing.STOPS),
    ({"access": "no", "foot": "yes"}, Access.YES, Passing.OPEN),
    ({"access": "yes", "foot": "no"}, Access.NO, Passing.STOPS),
    ({"foot": "designated"}, Access.YES, Passing.OPEN),
    ({"access": "private"}, Access.PRIVATE, Passing.STOPS),
    ({"access": "customers"}, Access.CUSTOMERS, Passing.STOPS),
    ({"access": "delivery"}, Access.DELIVERY, Passing.STOPS),
    ({"access": "permit"}, Access.PERMIT, Passing.STOPS),
    ({"access": "destination"}, Access.DESTINATION, Passing.OPEN),
    ({"access": "permissive"}, Access.YES, Passing.OPEN),
    ({"access": "agricultural;forestry"}, Access.NO, Passing.STOPS),
    ({"access": "customers;delivery"}, Access.CUSTOMERS, Passing.STOPS),
    ({"motor_vehicle": "no"}, None, Passing.OPEN),
    ({"motorroad": "yes", "foot": "yes"}, Access.NO, Passing.STOPS),
    ({"access": "conditional=yes @ (Mo-Fr 08:00-20:00)"}, None, Passing.OPEN),
]


@pytest.mark.parametrize(("tags", "access", "passing"), ACCESS)
def test_access_is_that_of_a_person_on_foot(tags, access, passing):
    """OSM wiki, Key:access: the key for the mode outranks the general one."""
    reading = read_access(tags)

    assert (reading.value, passing_of(reading.value)) == (access, passing)


def test_a_person_who_was_given_access_passes():
    """A key or a permit that the coordinator holds opens what is closed to others, and nothing else."""
    assert passing_of(Access.PRIVATE, frozenset({Access.PRIVATE})) is Passing.OPEN
    assert passing_of(Access.CUSTOMERS, frozenset({Access.PRIVATE})) is Passing.STOPS


CONDITIONAL = [  # plain value, conditional value, at noon, at night (a Wednesday in January)
    (None, "no @ (22:00-06:00)", Access.YES, Access.NO),
    ("no", "yes @ (Mo-Fr 08:00-20:00)", Access.YES, Access.NO),
    ("yes", "no @ (Sa,Su)", Access.YES, Access.YES),
    ("yes", "no @ (Nov-Mar)", Access.NO, Access.NO),
    ("yes", "no @ winter", Access.NO, Access.NO),
    ("yes", "no @ (Mo-Fr 08:00-20:00); delivery @ (10:00-14:00)", Access.DELIVERY, Access.YES),
    ("yes", "no @ Mo-Fr 22:00-24:00; Sa 22:00-24:00", Access.YES, Access.NO),
    ("yes", "no @ (winter AND 22:00-06:00)", Access.YES, Access.NO),
    ("yes", "no @ (weight>3.5)", Access.YES, Access.YES),
    ("yes", "no @ (wet)", Access.NO, Access.NO),  # nobody says whether it is wet: the strictest counts
    ("yes", "no @ (when it suits)", Access.NO, Access.NO),
]


@pytest.mark.parametrize(("plain", "conditional", "noon", "night"), CONDITIONAL)
def test_a_conditional_value_holds_at_its_time(plain, conditional, noon, night):
    """OSM wiki, Conditional restrictions: the last that holds counts; what can't be decided takes the bad side."""
    tags = {"access:conditional": conditional} | ({"access": plain} if plain else {})

    assert [read_access(tags, moment).value for moment in (WEDNESDAY_NOON, WEDNESDAY_NIGHT)] == [noon, night]
    assert has_conditional(tags)


def test_weather_decides_a_condition_where_it_is_known():
    tags = {"foot": "yes", "foot:conditional": "no @ snow"}
    snowy, bare = (Moment(WEDNESDAY_NOON.when, is_snowy=is_snowy) for is_snowy in (True, False))

    assert [read_access(tags, m).value for m in (snowy, bare)] == [Access.NO, Access.YES]


def test_without_a_moment_only_the_plain_tag_counts():
    """The network is built once; conditions are looked at when somebody leaves."""
    assert read_access({"access": "yes", "access:conditional": "no @ (Nov-Mar)"}).value is Access.YES


def test_seasons_are_turned_round_in_the_south():
    """January is summer south of the equator."""
    south = Moment(WEDNESDAY_NOON.when, lat=-37.8, lon=145.0)

    assert read_conditional({"access": "yes", "access:conditional": "no @ winter"}, "access", south).value == "yes"
    assert read_in_season({"seasonal": "winter"}, WEDNESDAY_NOON).value is True
    assert read_in_season({"seasonal": "winter"}, south).value is False
    assert read_in_season({"seasonal": "spring;summer;autumn"}, WEDNESDAY_NOON).value is False


def test_an_undecided_condition_leaves_both_values_and_says_why():
    values, problem = possible_values({"access": "yes", "access:conditional": "no @ (flood)"}, "access", WEDNESDAY_NOON)

    assert set(values) == {"yes", "no"}
    assert "flood" in problem


def test_opening_hours_are_read_at_the_moment():
    """OSM wiki, Key:opening_hours, by a library for the grammar."""
    gate = {"opening_hours": "Mo-Fr 08:00-20:00; PH off"}

    assert read_open(gate, WEDNESDAY_NOON).value is True
    assert read_open(gate, WEDNESDAY_NIGHT).value is False
    assert read_open(gate, WEDNESDAY_NOON).is_approximate  # whether it is a holiday is not known
    assert read_open({"opening_hours": "24/7"}, WEDNESDAY_NIGHT).value is True
    assert read_open({"opening_hours": "when the sun shines"}, WEDNESDAY_NOON).problem.startswith("opening_hours=")


SIDEWALKS = [
    ({"sidewalk": "both"}, SideWord.YES, SideWord.YES),
    ({"sidewalk": "left"}, SideWord.YES, SideWord.NO),
    ({"sidewalk": "no"}, SideWord.NO, SideWord.NO),
    ({"sidewalk": "none"}, SideWord.NO, SideWord.NO),
    ({"sidewalk": "separate"}, SideWord.SEPARATE, SideWord.SEPARATE),
    ({"sidewalk": "yes"}, SideWord.SOME, SideWord.SOME),
    ({"sidewalk:left": "separate", "sidewalk:right": "no"}, SideWord.SEPARATE, SideWord.NO),
    ({"sidewalk:both": "separate"}, SideWord.SEPARATE, SideWord.SEPARATE),
    ({"sidewalk": "both", "sidewalk:left": "no"}, SideWord.NO, SideWord.YES),
    ({"sidewalk:right": "yes"}, SideWord.UNKNOWN, SideWord.YES),
    ({"sidewalk": "this"}, SideWord.UNKNOWN, SideWord.UNKNOWN),
    ({}, SideWord.UNKNOWN, SideWord.UNKNOWN),
]


@pytest.mark.parametrize(("tags", "left", "right"), SIDEWALKS)
def test_a_sidewalk_is_told_side_by_side(tags, left, right):
    """OSM wiki, Key:sidewalk; unknown is not "no"."""
    fact = read_sidewalk(tags)

    assert (fact.left, fact.right) == (left, right)
    assert fact.is_absent == (left == right == SideWord.NO)


def test_the_tags_of_one_sidewalk_read_like_those_of_a_way():
    tags = {"sidewalk": "both", "sidewalk:both:surface": "asphalt", "sidewalk:left:surface": "sett", "sidewalk:right:width": "1.5 m"}

    assert side_tags(tags, "left") == {"surface": "sett"}
    assert side_tags(tags, "right") == {"surface": "asphalt", "width": "1.5 m"}
    assert read_surface(tags, "left").value is Surface.SETT
    assert read_width(tags, "right").value == 1.5


def test_steps_tell_of_their_ramps():
    """OSM wiki, Key:ramp, Key:ramp:wheelchair: a ramp for prams is no ramp for chairs."""
    assert read_steps({"ramp:wheelchair": "yes"}).has_wheelchair_ramp is True
    assert read_steps({"ramp": "yes", "ramp:stroller": "yes"}).has_wheelchair_ramp is None
    assert read_steps({"ramp": "no"}).has_wheelchair_ramp is False
    assert read_steps({"ramp": "separate"}).is_ramp_separate
    assert read_steps({"conveying": "forward"}).is_conveying
    assert read_steps({}).has_wheelchair_ramp is None


def test_a_portable_ramp_gives_its_length_and_who_brings_it():
    """OSM wiki, Key:ramp:portable and its sub-keys: metres, unfolded."""
    steps = read_steps({
        "step_count": "2", "step_height": "17 cm", "ramp:portable": "yes", "ramp:portable:length": "2 m", "ramp:portable:supervised": "yes",
    })  # fmt: skip

    assert (steps.step_count.value, steps.step_height.value) == (2, pytest.approx(0.17))
    assert (steps.has_portable_ramp, steps.portable_length.value, steps.is_portable_supervised) == (True, 2.0, True)


LEVELS = [
    ("0", (0.0,)),
    ("-1", (-1.0,)),
    ("0;1", (0.0, 1.0)),
    ("1;0", (0.0, 1.0)),
    ("0-3", (0.0, 1.0, 2.0, 3.0)),
    ("-1-1", (-1.0, 0.0, 1.0)),
    ("-2--1", (-2.0, -1.0)),
    ("-3;-2", (-3.0, -2.0)),
    ("0.5", (0.5,)),
    ("0;0.5", (0.0, 0.5)),
]


@pytest.mark.parametrize(("text", "levels"), LEVELS)
def test_levels_are_lists_and_ranges(text, levels):
    """OSM wiki, Key:level and Simple Indoor Tagging."""
    assert read_levels({"level": text}).value == levels


@pytest.mark.parametrize("text", ["ground", "0-1000000", "", "3-1", "1e9", "nan"])
def test_a_level_that_is_none_is_reported(text):
    """Also a range so long that it would fill the memory."""
    assert read_levels({"level": text}).value is None
    assert read_levels({"level": text}).problem.startswith("level=")


def test_repeat_on_is_left_aside_and_said_so():
    reading = read_levels({"level": "0", "repeat_on": "1-3"})

    assert reading.value == (0.0,)
    assert reading.problem.startswith("repeat_on=1-3")


@pytest.mark.parametrize(
    ("text", "is_lit"), [("yes", True), ("24/7", True), ("no", False), ("disused", False), ("limited", None), ("05:00-23:00", None)]
)
def test_light_that_burns_at_times_is_no_light_to_count_on(text, is_lit):
    """OSM wiki, Key:lit."""
    reading = read_lit({"lit": text})

    assert (reading.value, reading.problem) == (is_lit, None)


def test_light_that_is_doubted_is_unknown():
    assert read_lit({"lit": "maybe"}).problem == "lit=maybe: not yes or no"


def test_a_passage_is_a_tunnel_at_street_level():
    """OSM wiki, Key:tunnel: building_passage."""
    passage = read_structure({"tunnel": "building_passage", "covered": "yes"})
    bridge = read_structure({"bridge": "viaduct", "layer": "1"})

    assert (passage.is_tunnel, passage.is_passage, passage.is_bridge, passage.layer) == (True, True, False, 0)
    assert (bridge.is_bridge, bridge.layer) == (True, 1)
    assert read_structure({"tunnel": "no", "layer": "deep"}).problem == "layer=deep: not a layer"
    assert not read_structure({"tunnel": "no"}).is_tunnel


SPEEDS = [
    ("50", 50.0),
    ("30 mph", 48.28032),
    ("25mph", 40.2336),
    ("30;50", 50.0),
    ("walk", 7.0),
    ("FI:urban", 50.0),
    ("DE:zone:30", 30.0),
    ("none", 150.0),
    ("signals", None),
    ("fast", None),
]


@pytest.mark.parametrize(("text", "kmh"), SPEEDS)
def test_a_posted_speed_is_the_fastest_of_several(text, kmh):
    """OSM wiki, Key:maxspeed; 1 mile = 1.609344 km."""
    assert read_maxspeed_kmh({"maxspeed": text}).value == (None if kmh is None else pytest.approx(kmh))


KINDS = [
    ({"highway": "footway"}, WayKind.FOOTWAY),
    ({"highway": "footway", "footway": "sidewalk"}, WayKind.SIDEWALK),
    ({"highway": "footway", "footway": "crossing"}, WayKind.CROSSING),
    ({"highway": "cycleway", "cycleway": "crossing"}, WayKind.CROSSING),
    ({"highway": "cycleway", "footway": "sidewalk"}, WayKind.CYCLEWAY),
    ({"highway": "path", "footway": "sidewalk"}, WayKind.SIDEWALK),
    ({"highway": "footway", "ramp": "yes"}, WayKind.RAMP),
    ({"highway": "footway", "indoor": "yes"}, WayKind.CORRIDOR),
    ({"highway": "steps"}, WayKind.STEPS),
    ({"highway": "steps", "conveying": "yes"}, WayKind.ESCALATOR),
    ({"highway": "elevator"}, WayKind.ELEVATOR),
    ({"indoor": "corridor"}, WayKind.CORRIDOR),
    ({"indoor": "room", "level": "0"}, WayKind.CORRIDOR),
    ({"indoor": "wall"}, None),
    ({"railway": "platform"}, WayKind.PLATFORM),
    ({"highway": "living_street"}, WayKind.LIVING_STREET),
    ({"highway": "residential"}, WayKind.RESIDENTIAL),
    ({"highway": "residential", "maxspeed": "30"}, WayKind.RESIDENTIAL),
    ({"highway": "residential", "maxspeed": "25 mph"}, WayKind.RESIDENTIAL),  # 40.2 km/h
    ({"highway": "residential", "maxspeed": "50"}, WayKind.BUSY_ROAD),
    ({"highway": "residential", "lanes": "4"}, WayKind.BUSY_ROAD),
    ({"highway": "unclassified", "maxspeed": "80"}, WayKind.FAST_ROAD),
    ({"highway": "service"}, WayKind.SERVICE),
    ({"highway": "service", "service": "driveway"}, WayKind.DRIVEWAY),
    ({"highway": "service", "service": "parking_aisle"}, WayKind.PARKING_AISLE),
    ({"highway": "tertiary"}, WayKind.BUSY_ROAD),
    ({"highway": "primary", "maxspeed": "60"}, WayKind.FAST_ROAD),
    ({"highway": "trunk"}, WayKind.FAST_ROAD),
    ({"highway": "road"}, WayKind.BUSY_ROAD),  # of unknown class: the bad side
    ({"highway": "motorway"}, None),
    ({"highway": "construction", "construction": "footway"}, WayKind.CONSTRUCTION),
    ({"highway": "footway", "construction": "yes"}, WayKind.CONSTRUCTION),
    ({"highway": "proposed"}, None),
    ({"highway": "street_lamp"}, None),
    ({"highway": "trail"}, None),  # not on the wiki: what is meant is not known
    ({"building": "yes"}, None),
]


@pytest.mark.parametrize(("tags", "kind"), KINDS)
def test_a_way_is_of_one_kind(tags, kind):
    """OSM wiki, Key:highway; speeds and lanes from which a street is busy or fast are assumptions."""
    assert way_kind(tags) is kind


def test_slow_streets_are_allowed_and_marked_and_busy_ones_not():
    """The carriageway: slow residential roads with an escort and light, wider and faster ones not."""
    slow, busy, fast = (ASSUMPTIONS[kind] for kind in (WayKind.RESIDENTIAL, WayKind.BUSY_ROAD, WayKind.FAST_ROAD))

    assert slow.is_allowed
    assert is_carriageway(WayKind.RESIDENTIAL)
    assert not busy.is_allowed
    assert not fast.is_allowed
    assert not is_carriageway(WayKind.SIDEWALK)
    assert set(ASSUMPTIONS) == set(WayKind)


def test_lanes_are_whole():
    assert read_lanes({"lanes": "1.5"}).value == 2
    assert read_lanes({"lanes": "two"}).problem == "lanes=two: not a number of things"
