"""Replies by code say which stretch was driven and which is blocked, and never more than the code can mean."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_itinerary import sample

from rollroute.errors import InputError
from rollroute.inputs.field_facts import read_field_facts
from rollroute.inputs.tracks import FIGURES, read_tracks
from rollroute.output.folder import route_code, way_key
from rollroute.output.itinerary import Itinerary
from rollroute.output.replies import Understood, read_reply, split_replies, understand
from rollroute.output.replies_folder import FOUND, HEARD, PASSED, heard_before, write_heard
from rollroute.output.sms import messages
from rollroute.output.words import Words

# Steps of the sample: 1 off the map 0–6 m, 2 Mill Street 6–136, 3 crossing 136–146, 4 Mill Street 146–231, 5 Chandler Lane 231–355,
# 6 crossing 355–367, 7 Bridge Street 367–619, …, 9 Station Yard 823–918, 10 halt at 918, 11 Orchard Street 918–1121, …,
# 18 corridor 1664–1679, 19 lift 1679–1681, 20 corridor 1681–1709, 21 the goal.
WAY = dataclasses.replace(
    sample(), chair=dataclasses.replace(sample().chair, rated_obstacle_down_m=0.06, wheel="standard")
)  # fmt: skip
LATER = dataclasses.replace(WAY, conditions=dataclasses.replace(WAY.conditions, departure="2026-03-14T19:20:00-03:00"))


def told(*texts: str, way: Itinerary = WAY) -> Understood:
    return understand(way, split_replies(list(texts), way))


def metres(features: tuple[dict, ...], way: Itinerary = WAY) -> list[tuple[int, int]]:
    """From where to where each line runs, by the ends of pieces, found again without the code under test."""
    ends = {tuple(p.coordinates[0]): p.from_m for p in reversed(way.pieces)} | {tuple(way.pieces[-1].coordinates[-1]): way.length_m}
    lines = [f["geometry"]["coordinates"] for f in features if f["geometry"]["type"] == "LineString"]
    return [(round(ends[tuple(line[0])]), round(ends[tuple(line[-1])])) for line in lines]


@pytest.mark.parametrize(
    ("replies", "driven"),
    [
        (["K7 P4"], [(6, 146)]),  # from where the map begins: the bit from the door is kept nowhere
        (["K7 P4", "K7 P6"], [(6, 146), (146, 355)]),
        (["K7 P6", "K7 P4"], [(6, 355)]),  # the same again says nothing new
        (["K7 P4 19:00", "K7 P6 18:50"], [(6, 355)]),  # by their times P6 was sent first
        (["K7 P1"], []),
        (["K7 P4", "K7 P4"], [(6, 146)]),
        (["K7 P10", "K7 P11"], [(6, 918)]),  # a halt and the step after it begin at one place
        (["K7 P21"], [(6, 1709)]),
    ],
)
def test_what_was_driven_runs_from_the_last_step_passed_to_where_this_one_begins(replies, driven):
    """A step that is being passed is not behind yet: whoever sends P4 at its beginning and whoever sends it at its end say this much."""
    assert metres(told(*replies).passages) == driven


@pytest.mark.parametrize(
    ("replies", "shut"),
    [
        (["K7 B4"], [(136, 231)]),  # on step 4, or before it on step 3
        (["K7 P4", "K7 B4"], [(146, 231)]),  # they came to step 4
        (["K7 B4", "K7 P4"], [(146, 231)]),
        (["K7 B1"], []),  # not on the map
        (["K7 B2"], [(6, 136)]),
        (["K7 B10"], [(823, 1121)]),
        (["K7 P10", "K7 B11"], [(918, 1121)]),
        (["K7 B21"], [(1681, 1709)]),
        (["K7 P21", "K7 B21"], [(1681, 1709)]),  # at the goal nothing is driven: the way to it
        (["K7 B4", "K7 B4"], [(136, 231)]),
    ],
)
def test_a_block_shuts_the_step_and_the_one_before_it_unless_they_came_to_it(replies, shut):
    """Blocked at step 4 may mean on it, or that it can't be reached."""
    said = told(*replies)

    assert metres(said.blocks) == shut
    assert len(said.lines) == len(set(replies))


def test_a_block_at_a_lift_is_also_a_point_where_the_lift_stands():
    """A lift goes up and not along: no line can say it."""
    lift = next(p for p in WAY.pieces if p.way_kind == "elevator")
    points = [f["geometry"]["coordinates"] for f in told("K7 B19").blocks if f["geometry"]["type"] == "Point"]

    assert points == [list(lift.coordinates[0])]


def test_who_went_round_a_block_is_not_said_to_have_driven_through_it():
    """P7 after B5: they came to step 7 some other way. From step 7 on they follow the sheet again."""
    said = told("K7 P4", "K7 B5", "K7 P7", "K7 P8")

    assert metres(said.passages) == [(6, 146), (367, 619)]
    assert "not known" in said.lines[2]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("K7 P4 19:05", "2026-03-14T19:05:00-03:00"),
        ("19:05 k7 p4", "2026-03-14T19:05:00-03:00"),
        ("K7 P4 0:20", "2026-03-15T00:20:00-03:00"),  # left at 18:20, after midnight
        ("K7 P4 18:00", "2026-03-14T18:00:00-03:00"),  # left earlier than planned
        ("K7 P4 2026-03-15T02:20Z", "2026-03-15T02:20:00+00:00"),
    ],
)
def test_a_time_is_the_one_nearest_to_the_departure(text, moment):
    assert read_reply(text, WAY, n_steps=21).moment == dt.datetime.fromisoformat(moment)


def test_the_day_is_that_of_the_clock_on_the_way_and_without_a_time_that_of_leaving():
    """02:20 in Greenwich is 23:20 of the evening before, three hours west of it."""
    dates = [f["properties"]["date"] for f in told("K7 P4 2026-03-15T02:20Z", "K7 P5 0:20", "K7 P6").passages]

    assert dates == ["2026-03-14", "2026-03-15", "2026-03-14"]


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (["K8 P4"], "is of route K8, this is route K7"),
        (["K7 P22"], "steps 1 to 21"),
        (["K7 P0"], "names step 0"),
        (["K7 Q4"], "no code of a sheet"),
        (["K7 P4 19:05 19:06"], "2 times"),
        (["K7 P4 26:05"], "is no time"),
        (["K7 P4", "nonsense"], "'nonsense' is no code"),
        ([""], "no reply given"),
    ],
)
def test_what_is_no_reply_of_this_route_is_refused_with_words(texts, says):
    with pytest.raises(InputError, match=says):
        split_replies(texts, WAY)


def test_one_reply_without_quotes_is_one_reply():
    assert [one.code for one in split_replies(["K7", "P4", "19:05"], WAY)] == ["K7 P4"]
    assert [one.code for one in split_replies(["K7 P4", "K7 B5"], WAY)] == ["K7 P4", "K7 B5"]


def test_help_says_where_they_were_last_told_of_and_writes_nothing():
    said = told("K7 P7", "K7 H")

    assert "asks for help: call them. Last told of: step 7 (Bridge Street, 367 m)" in said.lines[1]
    assert len(said.passages) + len(said.blocks) == 1


def test_the_codes_of_the_messages_are_those_that_are_understood():
    """The last message says K7 B and step: every number in the messages can be sent back."""
    assert "Reply K7 B and step" in " ".join(messages(WAY, Words()))
    assert [told(f"K7 {letter}{n}").lines[0].startswith(f"K7 {letter}{n}: ") for n in range(1, 22) for letter in "BP"] == [True] * 42


# --- files ---


def keep(folder: Path, *texts: str, way: Itinerary = WAY, route_dir: Path | None = None, until: dt.date | None = None) -> Understood:
    own = route_dir or folder
    own.mkdir(exist_ok=True)
    heard = [*heard_before(own, way), *split_replies(list(texts), way, until=until)]
    said = understand(way, heard)
    write_heard(own, folder, way, heard, said)
    return said


def test_the_files_are_read_by_the_readers_of_facts_and_passages(tmp_path: Path):
    keep(tmp_path, "K7 P4 19:05", "K7 B7", until=dt.date(2026, 3, 20))
    (fact,) = read_field_facts(tmp_path / FOUND)
    (track,) = read_tracks(tmp_path / PASSED)

    assert (fact.fact, fact.value, fact.date, fact.expires) == ("blocked", 1.0, dt.date(2026, 3, 14), dt.date(2026, 3, 20))
    ends = [(WAY.pieces[first].coordinates[0], WAY.pieces[last].coordinates[-1]) for first, last in ((10, 15), (1, 4))]
    assert [(line[0], line[-1]) for line in (fact.line, track.line)] == ends  # steps 6 and 7; steps 2 and 3
    assert (fact.is_survey, track.not_stated, track.date) == (False, (), dt.date(2026, 3, 14))
    chair, facts = track.chair, WAY.chair
    assert (chair.width_m, chair.length_m, chair.total_mass_kg) == (facts.width_m, facts.length_m, pytest.approx(facts.total_mass_kg))
    assert (chair.rated_obstacle_m, chair.rated_obstacle_down_m, chair.rated_grade, chair.wheel) == (0.06, 0.06, 0.105, "standard")


@pytest.mark.parametrize("lacking", FIGURES)
def test_a_figure_of_the_chair_that_nobody_stated_is_not_written(tmp_path: Path, lacking: str):
    """The reader then lets the passage answer nothing, and the line says what is lacking."""
    way = dataclasses.replace(WAY, chair=dataclasses.replace(WAY.chair, not_stated=[lacking]))
    said = keep(tmp_path, "K7 P4", way=way)

    assert read_tracks(tmp_path / PASSED)[0].not_stated == (lacking,)
    assert f"nobody stated of this chair {lacking}" in said.lines[0]


def test_a_route_made_before_wheels_were_kept_answers_nothing(tmp_path: Path):
    keep(tmp_path, "K7 P4", way=sample())

    assert read_tracks(tmp_path / PASSED)[0].not_stated == ("rated_obstacle_down_m", "wheel")


def test_what_is_told_later_is_read_together_with_what_was_told_before(tmp_path: Path):
    """A late block takes back the passage over it; the same replies again change no file."""
    keep(tmp_path, "K7 P8")
    assert metres(tuple(json.loads((tmp_path / PASSED).read_text())["features"])) == [(6, 619)]
    keep(tmp_path, "K7 B5")
    assert not (tmp_path / PASSED).exists()
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.name != HEARD}
    keep(tmp_path, "K7 B5")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.name != HEARD} == before


def test_two_routes_share_a_folder_and_neither_takes_away_what_the_other_told(tmp_path: Path):
    other = dataclasses.replace(LATER, code="M3")
    out = tmp_path / "all"
    keep(out, "K7 P4", "K7 B7", route_dir=tmp_path / "a")
    keep(out, "M3 P4", way=other, route_dir=tmp_path / "b")
    keep(out, "K7 P5", route_dir=tmp_path / "a")
    replies = [f["properties"]["reply"] for f in json.loads((out / PASSED).read_text())["features"]]

    assert sorted(replies) == ["K7 P4", "K7 P5", "M3 P4"]
    assert len(read_field_facts(out / FOUND)) == 1


def test_replies_to_another_way_in_the_same_folder_are_not_read_on_this_one(tmp_path: Path):
    """Step 4 of the way round is somewhere else: neither its key nor its code is the same."""
    keep(tmp_path, "K7 B4")
    other = dataclasses.replace(WAY, pieces=WAY.pieces[1:])

    assert heard_before(tmp_path, other) == []
    assert [one.code for one in heard_before(tmp_path, WAY)] == ["K7 B4"]
    assert way_key(other) != way_key(WAY)
    assert len({route_code("a", "b", "18:40", way_key(way)) for way in (WAY, other)}) == 2


def test_a_file_that_is_no_geojson_is_left_alone(tmp_path: Path):
    (tmp_path / FOUND).write_text("mine")
    with pytest.raises(InputError, match="nothing can be added"):
        keep(tmp_path, "K7 B4")
    assert sorted(p.name for p in tmp_path.iterdir()) == [FOUND]


def test_no_file_tells_of_a_person_or_a_door(tmp_path: Path):
    """The start stands on no line: its address and the bit from the door are left out."""
    way = dataclasses.replace(WAY, start=dataclasses.replace(WAY.start, label="12 Mill Street"))
    keep(tmp_path, "K7 P21", "K7 B2", way=way)
    text = "".join((tmp_path / name).read_text() for name in (FOUND, PASSED, HEARD) if (tmp_path / name).exists())

    assert "12 Mill Street" not in text
    assert f"[{WAY.pieces[0].coordinates[0][0]}, {WAY.pieces[0].coordinates[0][1]}]" not in text
    known = {"chair", "date", "expires", "reply", "way", "fact", "value", "unit", *FIGURES}
    for name in (FOUND, PASSED):
        file = tmp_path / name
        assert all(set(f["properties"]) <= known for f in json.loads(file.read_text())["features"]) if file.exists() else name == PASSED


REPLIES = st.lists(st.tuples(st.sampled_from("PB"), st.integers(1, 21)), min_size=1, max_size=8)


@settings(max_examples=150, deadline=None)
@given(REPLIES)
def test_no_metre_is_both_driven_and_blocked_and_none_is_driven_beyond_the_last_step_passed(replies):
    """Whatever is sent in whatever order; and no metre is driven twice."""
    said = told(*(f"K7 {letter}{step}" for letter, step in replies))
    driven, shut = metres(said.passages), metres(said.blocks)
    furthest = max((WAY_STARTS[step - 1] for letter, step in replies if letter == "P"), default=0)

    assert all(end <= furthest for _, end in driven)
    assert all(end <= begin or high <= low for low, high in driven for begin, end in shut if low < end and begin < high)
    assert all(a[1] <= b[0] for a, b in zip(sorted(driven), sorted(driven)[1:], strict=False))
    assert len(said.lines) == len(set(replies))


@settings(max_examples=100, deadline=None)
@given(REPLIES, st.randoms())
def test_blocks_do_not_depend_on_the_order_of_the_replies(replies, random):
    """Messages come late and out of order; a block that is told is told."""
    shuffled = list(replies)
    random.shuffle(shuffled)
    one, other = (told(*(f"K7 {letter}{step}" for letter, step in order)) for order in (replies, shuffled))

    assert sorted(metres(one.blocks)) == sorted(metres(other.blocks))


WAY_STARTS = [0, 6, 136, 146, 231, 355, 367, 619, 823, 918, 918, 1121, 1135, 1358, 1468, 1618, 1639, 1664, 1679, 1681, 1709]
