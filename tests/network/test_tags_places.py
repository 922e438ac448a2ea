"""Places on a way: kerbs, barriers, doors, lifts, crossings, wheelchair words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.network.ranks import Rank
from rollroute.network.tags import (
    USED_KEYS,
    BarrierKind,
    CrossingKind,
    DoorKind,
    KerbWord,
    Passing,
    Wheelchair,
    problem_of,
    read_barrier,
    read_crossing,
    read_door,
    read_kerb,
    read_lift,
    read_wheelchair,
)

KERBS = [  # tags, word, height (m), rank of the height, known to exceed (m)
    ({"kerb": "flush"}, KerbWord.FLUSH, 0.0, Rank.TAG_WORD, None),
    ({"kerb": "lowered"}, KerbWord.LOWERED, 0.03, Rank.TAG_WORD, None),
    ({"kerb": "raised"}, KerbWord.RAISED, None, Rank.UNKNOWN, 0.03),
    ({"kerb": "rolled"}, KerbWord.ROLLED, None, Rank.UNKNOWN, None),
    ({"kerb": "no"}, KerbWord.NO, 0.0, Rank.TAG_WORD, None),
    ({"kerb": "yes"}, KerbWord.PRESENT, None, Rank.UNKNOWN, None),
    ({"barrier": "kerb"}, KerbWord.PRESENT, None, Rank.UNKNOWN, None),
    ({"barrier": "kerb", "height": "12 cm"}, KerbWord.PRESENT, 0.12, Rank.TAG_NUMBER, None),
    ({"kerb": "raised", "kerb:height": "10 cm"}, KerbWord.RAISED, 0.10, Rank.TAG_NUMBER, None),
    ({"kerb:height": "3-5 cm"}, None, 0.05, Rank.TAG_NUMBER, None),
    ({"kerb:height": "0.02"}, None, 0.02, Rank.TAG_NUMBER, None),
    ({"kerb:height": '1"'}, None, 0.0254, Rank.TAG_NUMBER, None),
    ({"kerb": "flush;raised"}, KerbWord.RAISED, None, Rank.UNKNOWN, 0.03),
    ({"sloped_curb": "yes"}, KerbWord.LOWERED, 0.03, Rank.TAG_WORD, None),
    ({"sloped_curb": "at_grade"}, KerbWord.FLUSH, 0.0, Rank.TAG_WORD, None),
    ({"sloped_curb": "no"}, KerbWord.RAISED, None, Rank.UNKNOWN, 0.03),
    ({"sloped_curb": "0.05"}, KerbWord.PRESENT, 0.05, Rank.TAG_NUMBER, None),
    ({}, None, None, Rank.UNKNOWN, None),
]


@pytest.mark.parametrize(("tags", "word", "height_m", "rank", "least_m"), KERBS)
def test_a_kerb_is_read_by_height_and_by_word(tags, word, height_m, rank, least_m):
    """OSM wiki, Key:kerb: flush 0 cm, lowered about 3 cm at most, raised more than 3 cm; a height outranks the word."""
    kerb = read_kerb(tags)

    assert (kerb.word.value, kerb.height.rank, kerb.height_least_m) == (word, rank, least_m)
    assert kerb.height.value == (None if height_m is None else pytest.approx(height_m))
    assert kerb.is_tagged == bool(tags)


def test_the_sides_of_a_crossing_may_have_kerbs_of_their_own():
    """OSM wiki, Key:kerb: kerb:left and kerb:right where they differ; a height beside each."""
    kerb = read_kerb({"kerb:left": "flush", "kerb:right": "raised", "kerb:right:height": "0.14"})

    assert kerb.left.height.value == 0.0
    assert kerb.right.height.value == 0.14
    assert not kerb.word.is_known


def test_kerb_both_is_the_kerb_of_both_sides():
    assert read_kerb({"kerb:both": "lowered"}).word.value is KerbWord.LOWERED


@pytest.mark.parametrize(("word", "height"), [("lowered", "12 cm"), ("raised", "1 cm"), ("flush", "5 cm")])
def test_a_height_that_contradicts_its_word_counts_and_is_reported(word, height):
    """A figure outranks a word (model, section 1); that they disagree is worth a look."""
    kerb = read_kerb({"kerb": word, "kerb:height": height})

    assert kerb.height.rank is Rank.TAG_NUMBER
    assert "contradict" in kerb.problem


@pytest.mark.parametrize("height", ["12", "high", "-3 cm"])
def test_a_kerb_height_without_its_unit_stays_unknown(height):
    """``kerb:height=12`` is no kerb of 12 m; that it is 12 cm would be a guess."""
    kerb = read_kerb({"kerb:height": height})

    assert kerb.height.value is None
    assert kerb.problem.startswith("kerb:height=")


BARRIERS = [  # tags, kind, passing, opening (m), doubt
    ({"barrier": "gate"}, BarrierKind.GATE, Passing.QUESTION, None, "gate"),
    ({"barrier": "gate", "locked": "yes"}, BarrierKind.GATE, Passing.STOPS, None, None),
    ({"barrier": "gate", "locked": "no", "width": "1.1"}, BarrierKind.GATE, Passing.QUESTION, 1.1, "gate_unlocked"),
    ({"barrier": "bollard"}, BarrierKind.BOLLARD, Passing.QUESTION, None, "bollard"),
    ({"barrier": "bollard", "maxwidth:physical": "1.4"}, BarrierKind.BOLLARD, Passing.OPEN, 1.4, None),
    ({"barrier": "bollard", "width": "0.2"}, BarrierKind.BOLLARD, Passing.QUESTION, None, "bollard"),
    ({"barrier": "cycle_barrier"}, BarrierKind.CYCLE_BARRIER, Passing.QUESTION, None, "cycle_barrier"),
    (
        {"barrier": "cycle_barrier", "maxwidth:physical": "1.2", "spacing": "90 cm"},
        BarrierKind.CYCLE_BARRIER, Passing.QUESTION, 0.9, "cycle_barrier_width_known",
    ),
    ({"barrier": "kissing_gate"}, BarrierKind.KISSING_GATE, Passing.STOPS, None, None),
    ({"barrier": "kissing_gate", "wheelchair": "yes"}, BarrierKind.KISSING_GATE, Passing.QUESTION, None, "barrier_other"),
    ({"barrier": "turnstile"}, BarrierKind.TURNSTILE, Passing.STOPS, None, None),
    ({"barrier": "stile"}, BarrierKind.STILE, Passing.STOPS, None, None),
    ({"barrier": "gate", "wheelchair": "no"}, BarrierKind.GATE, Passing.STOPS, None, None),
    ({"barrier": "entrance"}, BarrierKind.ENTRANCE, Passing.OPEN, None, None),
    ({"barrier": "kerb"}, BarrierKind.KERB, Passing.OPEN, None, None),
    ({"barrier": "lift_gate"}, BarrierKind.LIFT_GATE, Passing.QUESTION, None, "gate"),
    ({"barrier": "bollard;gate"}, BarrierKind.BOLLARD, Passing.QUESTION, None, "bollard"),
    ({"barrier": "yes"}, BarrierKind.OTHER, Passing.QUESTION, None, "barrier_other"),
    ({"barrier": "fence"}, BarrierKind.WALL, Passing.STOPS, None, None),
    ({}, None, Passing.OPEN, None, None),
]  # fmt: skip


@pytest.mark.parametrize(("tags", "kind", "passing", "opening_m", "doubt"), BARRIERS)
def test_a_barrier_stops_asks_or_lets_through(tags, kind, passing, opening_m, doubt):
    """Facts of the map: stile, turnstile, kissing gate assumed to stop; a bollard by its gap if tagged, else a question."""
    barrier = read_barrier(tags)

    assert (barrier.kind.value, barrier.passing, barrier.opening.value, barrier.doubt) == (kind, passing, opening_m, doubt)


def test_an_unknown_barrier_is_a_question_with_a_problem():
    """Something stands there; what it is we do not know."""
    barrier = read_barrier({"barrier": "gat"})

    assert (barrier.passing, barrier.doubt) == (Passing.QUESTION, "barrier_other")
    assert barrier.problem == "barrier=gat: not a known barrier"


def test_a_motor_gate_says_so():
    assert read_barrier({"barrier": "sliding_gate", "automatic": "yes"}).needs_power is True
    assert read_barrier({"barrier": "gate"}).needs_power is None


def test_a_door_gives_kind_width_motor_and_threshold():
    """OSM wiki, Key:door, Key:automatic_door; the tightest width and the highest sill count."""
    door = read_door({
        "entrance": "main", "door": "sliding", "automatic_door": "motion", "width": "1.2", "door:width": "90 cm", "step_height": "2 cm",
        "kerb:height": "0.03",
    })  # fmt: skip

    assert (door.kind.value, door.width.value, door.needs_power, door.threshold.value) == (DoorKind.SLIDING, 0.9, True, 0.03)
    assert (door.entrance, door.problem) == ("main", None)


def test_an_untagged_door_promises_nothing():
    """Unknown is neither wide enough nor too narrow, neither with a motor nor without."""
    door = read_door({"entrance": "yes"})

    assert [r.value for r in (door.kind, door.width, door.threshold, door.steps)] == [None] * 4
    assert (door.needs_power, door.is_locked) == (None, None)


def test_a_revolving_door_counts_only_where_no_other_stands_beside_it():
    assert read_door({"door": "revolving"}).kind.value is DoorKind.REVOLVING
    assert read_door({"door": "revolving;hinged"}).kind.value is DoorKind.HINGED


@pytest.mark.parametrize("tags", [{"door": "wodden"}, {"automatic_door": "maybe"}, {"entrance": "hmm"}, {"door:width": "wide"}])
def test_what_a_door_says_in_vain_is_reported(tags):
    key, value = next(iter(tags.items()))

    assert read_door(tags).problem.startswith(f"{key}={value}")


def test_a_lift_gives_car_door_load_and_floors():
    """OSM wiki, Tag:highway=elevator; a door whose width is not tagged is unknown, not "fits"."""
    lift = read_lift({
        "highway": "elevator", "width": "1.1", "length": "1.4 m", "maxweight": "630 kg", "level": "0-2", "capacity:persons": "8",
    })  # fmt: skip

    assert (lift.width.value, lift.length.value, lift.door_width.value) == (1.1, 1.4, None)
    assert (lift.mass_limit.value, lift.levels.value, lift.capacity_persons.value) == (630.0, (0.0, 1.0, 2.0), 8)
    assert lift.works_without_mains is None
    assert not lift.is_out_of_order
    assert read_lift({"operational_status": "broken"}).is_out_of_order


CROSSINGS = [
    ({"highway": "crossing", "crossing": "traffic_signals"}, CrossingKind.SIGNALS, None),
    ({"footway": "crossing", "crossing": "marked"}, CrossingKind.MARKED, None),
    ({"highway": "crossing", "crossing": "uncontrolled"}, CrossingKind.MARKED, None),
    ({"highway": "crossing", "crossing": "unmarked", "crossing:island": "yes"}, CrossingKind.UNMARKED, True),
    ({"highway": "crossing", "crossing": "island"}, None, True),
    ({"highway": "crossing", "crossing": "no"}, CrossingKind.NO, None),
    ({"highway": "crossing", "crossing:signals": "yes"}, CrossingKind.SIGNALS, None),
    ({"highway": "crossing", "crossing:markings": "zebra"}, CrossingKind.MARKED, None),
    ({"highway": "crossing", "crossing:markings": "no"}, CrossingKind.UNMARKED, None),
    ({"highway": "crossing", "crossing_ref": "zebra"}, CrossingKind.MARKED, None),
    ({"highway": "crossing"}, None, None),
    ({"highway": "crossing", "crossing": "zzz"}, None, None),
]


@pytest.mark.parametrize(("tags", "kind", "island"), CROSSINGS)
def test_a_crossing_says_how_the_traffic_is_held(tags, kind, island):
    """OSM wiki, Key:crossing; nothing of it says that a chair can mount the kerbs."""
    crossing = read_crossing(tags)

    assert crossing.is_crossing
    assert (crossing.kind.value, crossing.has_island, crossing.kerb.is_tagged) == (kind, island, False)


def test_a_kerb_on_a_crossing_node_is_read_with_it():
    """OSM wiki, Key:kerb: allowed on the crossing's node where both sides are alike."""
    assert read_crossing({"highway": "crossing", "kerb": "lowered"}).kerb.height.value == 0.03
    assert not read_crossing({"highway": "footway"}).is_crossing


def test_wheelchair_words_are_steps_of_known_height():
    """OSM wiki, Key:wheelchair: limited is one step of at most 7 cm, no is more; to be compared with the chair's own limit."""
    limited, no, yes = (read_wheelchair({"wheelchair": word}) for word in ("limited", "no", "yes"))

    assert (limited.word.value, limited.step_most_m, limited.step_least_m) == (Wheelchair.LIMITED, 0.07, None)
    assert (no.word.value, no.step_most_m, no.step_least_m) == (Wheelchair.NO, None, 0.07)
    assert (yes.word.value, yes.step_most_m, yes.word.rank) == (Wheelchair.YES, 0.0, Rank.TAG_WORD)
    assert read_wheelchair({"wheelchair": "designated"}).is_designated
    assert read_wheelchair({"wheelchair": "sometimes"}).word.problem
    assert read_wheelchair({}).word.value is None


@given(st.sampled_from(sorted(USED_KEYS)), st.text(max_size=16))
def test_no_value_of_any_key_makes_a_reader_stumble(key, text):
    """Strangers write these tags: understood or a problem, never an exception."""
    problem = problem_of(key, text)

    assert problem is None or isinstance(problem, str)


ANY_VALUE = st.text(max_size=6) | st.sampled_from(["yes", "no", "1", "2 m", "raised"])


@given(st.dictionaries(st.sampled_from(sorted(USED_KEYS)), ANY_VALUE, max_size=8))
def test_no_mixture_of_tags_makes_a_reader_stumble(tags):
    """All readers of places on all mixtures."""
    facts = [read_kerb(tags), read_barrier(tags), read_door(tags), read_lift(tags), read_crossing(tags)]

    assert all(fact is not None for fact in facts)
