"""The table of doubts: assumptions with notes, and what checks in a town make of them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.network.tags import WayKind, read_barrier
from rollroute.network.tags.barriers import WORDS
from rollroute.standards import load_doubts


def test_every_row_is_a_chance_with_a_note():
    """An assumption without a reason can't be argued with."""
    for row in load_doubts().rows.values():
        assert 0.0 < row.probability < 1.0
        assert len(row.note) > 5
        assert len(row.place) > 5


def test_the_chance_is_the_mean_of_the_counts():
    """Beta(1.5, 3.5): mean 1.5 / 5; after three bad checks 4.5 / 8, after three good ones 1.5 / 8."""
    doubts = load_doubts()

    assert doubts.probability("gate") == pytest.approx(0.3)
    assert doubts.updated("gate", bad=3).probability("gate") == pytest.approx(0.5625)
    assert doubts.updated("gate", good=3).probability("gate") == pytest.approx(0.1875)
    assert doubts.probability("gate") == pytest.approx(0.3)  # the table itself did not change


def test_doubt_adds_up_as_surprisal():
    """Model, section 1: u = −ln(1 − d)."""
    assert load_doubts().surprisal("gate") == pytest.approx(-math.log(0.7))


def test_an_unverified_path_surface_is_doubted_more_than_a_street():
    """Plain order of the assumptions: what is made for cars is known better."""
    doubts = load_doubts()
    chance = {kind: doubts.probability(doubts.kind_for_way("surface", kind)) for kind in ("residential", "footway", "path", "track")}

    assert sorted(chance, key=chance.__getitem__) == ["residential", "footway", "path", "track"]


@pytest.mark.parametrize("fact", ["width", "surface"])
def test_every_kind_of_way_has_a_row_for_its_missing_width_and_surface(fact):
    doubts = load_doubts()

    assert {doubts.kind_for_way(fact, kind.name.lower()) for kind in WayKind} <= set(doubts.kinds)
    assert doubts.kind_for_way(fact, "something new") == f"{fact}_other"


def test_every_question_of_a_barrier_has_its_row():
    """The readers of tags name rows; a row that is missing would stop a build."""
    more = ({}, {"width": "1"}, {"maxwidth:physical": "1"}, {"wheelchair": "yes"}, {"locked": "no"})
    named = {read_barrier({"barrier": word} | tags).doubt for word in WORDS for tags in more}

    assert named - {None} <= set(load_doubts().kinds)


@given(st.sampled_from(load_doubts().kinds), st.integers(0, 50), st.integers(0, 50))
def test_checks_move_the_chance_the_right_way(kind, good, bad):
    """A bad check never lowers a doubt, a good one never raises it; with many checks their share wins."""
    after = load_doubts().updated(kind, good=good, bad=bad)

    assert after.updated(kind, bad=1).probability(kind) > after.probability(kind) > after.updated(kind, good=1).probability(kind)
    assert after.rows[kind].n_checks == good + bad
    assert after.updated(kind, bad=100_000).probability(kind) > 0.99


def test_what_is_no_kind_and_no_count_is_refused():
    with pytest.raises(InputError, match="no kind 'gait'"):
        load_doubts().probability("gait")
    with pytest.raises(InputError, match="must be >= 0"):
        load_doubts().updated("gate", good=-1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "there is no"),
        ("[kind.x]\nbad = 0\ngood = 1\nfact='a'\nplace='b'\nnote='c'", "bad must be a number > 0"),
        ("[kind.x]\nbad = 1\ngood = 1\nfact='a'\nplace='b'", "missing fields .'note'"),
        ("[kind.x", "not TOML"),
    ],
)
def test_a_towns_own_table_is_checked(tmp_path, text, message):
    """A chance of 0 or 1 could never be moved by a check."""
    path = tmp_path / "doubts.toml"
    path.write_text(text)

    with pytest.raises(InputError, match=message):
        load_doubts(path)


def test_a_towns_own_table_is_read(tmp_path):
    path = tmp_path / "doubts.toml"
    path.write_text("[kind.gate]\nbad = 1\ngood = 1\nfact = 'gate'\nplace = 'a gate'\nnote = 'half are locked here'")

    assert load_doubts(path).probability("gate") == 0.5
