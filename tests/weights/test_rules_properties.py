"""What must hold for every map: more width needed never opens, lower limits never open, cutting a piece changes nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from towns.hand_drawn import a_chair, judge, noon, tally_of

from rollroute.network.attach import split_piece
from rollroute.network.network import Network
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.reasons import Question
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import weigh

SEED_PIECES = st.integers(0, 10**6)


@settings(max_examples=15, deadline=None)
@given(narrow=st.floats(0.5, 0.9), more=st.floats(0.0, 0.3))
def test_a_wider_chair_is_never_let_through_where_a_narrower_one_is_stopped(quillhaven: Network, narrow: float, more: float) -> None:
    """On every edge of the bundled town."""
    _, slim = tally_of(quillhaven, a_chair(width_m=narrow), noon())
    _, wide = tally_of(quillhaven, a_chair(width_m=narrow + more), noon())

    assert not ((slim.reasons != 0) & (wide.reasons == 0)).any()


@settings(max_examples=15, deadline=None)
@given(limit=st.floats(0.02, 1 / 12), lower=st.floats(0.0, 0.02))
def test_a_lower_limit_never_opens_an_edge(quillhaven: Network, limit: float, lower: float) -> None:
    _, loose = tally_of(quillhaven, a_chair(), noon(), Weighing(max_grade=limit))
    _, strict = tally_of(quillhaven, a_chair(), noon(), Weighing(max_grade=max(0.005, limit - lower)))

    assert not ((loose.reasons != 0) & (strict.reasons == 0)).any()


@settings(max_examples=15, deadline=None)
@given(seed=SEED_PIECES, fraction=st.floats(0.2, 0.8))
def test_cutting_a_piece_changes_neither_cost_energy_doubt_nor_verdict(quillhaven: Network, seed: int, fraction: float) -> None:
    """Questions belong to places: both halves together say what the whole said, to 1e-9."""
    from rollroute.weights.energy import Drive

    rows = np.flatnonzero(quillhaven.pieces.length_m > 3.0)
    piece = int(rows[seed % len(rows)])
    cut, _ = split_piece(quillhaven, piece, fraction)
    chair = a_chair()
    drive = Drive(
        mass_kg=240.0, crr_hard_floor=0.02, drive_efficiency=0.6, electronics_w=20.0, loads_w=10.0, regeneration=0.0, nominal_v=24.0,
        rated_wh=1440.0, reference_a=8.0, peukert_k=1.1, cruise_m_s=1.4, max_wheel_w=800.0, basis="class",
    )  # fmt: skip
    factors = PlannedFactors(time=1.2, energy=1.3, usable=0.8)
    whole, parts = (weigh(n, chair, drive, factors, noon()) for n in (quillhaven, cut))
    last = cut.n_pieces - 1
    for side in (0, 1):
        edges = [2 * piece + side, 2 * last + side]
        for name in ("surprisal", "time_s", "planned_time_s", "energy_wh", "planned_energy_wh", "discomfort_s"):
            before, after = getattr(whole, name)[2 * piece + side], getattr(parts, name)[edges].sum()
            assert after == pytest.approx(before, rel=1e-9, abs=1e-9), name
        assert int(parts.reasons[edges[0]] | parts.reasons[edges[1]]) == int(whole.reasons[2 * piece + side])
        assert int(parts.questions[edges[0]] | parts.questions[edges[1]]) == int(whole.questions[2 * piece + side])


@settings(max_examples=15, deadline=None)
@given(seed=SEED_PIECES, fraction=st.floats(0.2, 0.8), name=st.sampled_from(["uk-adm", "ada-2010", "din-18040"]))
def test_cutting_a_piece_changes_no_run_between_landings(quillhaven: Network, seed: int, fraction: float, name: str) -> None:
    """A run goes on at the cut; its question is shared out over its length, wherever it is cut."""
    rules = Weighing(standard=load_standard(name))
    _, whole = tally_of(quillhaven, a_chair(), noon(), rules)
    asked = np.flatnonzero((whole.questions[0::2] & int(Question.LANDING) != 0) & (quillhaven.pieces.length_m > 3.0))
    piece = int(asked[seed % len(asked)])
    cut, _ = split_piece(quillhaven, piece, fraction)
    _, parts = tally_of(cut, a_chair(), noon(), rules)
    rows = [piece, cut.n_pieces - 1]

    assert parts.piece_surprisal[rows].sum() == pytest.approx(whole.piece_surprisal[piece], rel=1e-9)
    assert all(parts.questions[2 * row] & Question.LANDING for row in rows)
    others = np.delete(np.arange(quillhaven.n_pieces), piece)
    assert parts.piece_surprisal[others] == pytest.approx(whole.piece_surprisal[others], rel=1e-9)


BAD = {"width": "0.5", "surface": "sand", "smoothness": "impassable", "wheelchair": "no", "incline": "20%"}


@pytest.mark.parametrize("fact", list(BAD))
def test_a_fact_unknown_is_never_better_than_the_same_fact_known_bad(fact):
    """Known bad excludes; unknown is open to doubt, and never clear where the bad value would exclude."""
    known = judge(f"n1 0,0\nn2 20,0\nw1 1,2 highway=path {fact}={BAD[fact]}", 1, 2, grade_too=True)
    unknown = judge("n1 0,0\nn2 20,0\nw1 1,2 highway=path", 1, 2, grade_too=True)

    assert known.reasons
    assert unknown.questions


@pytest.mark.parametrize("good", ["width=2", "surface=asphalt", "incline=1%"])
def test_a_good_fact_takes_its_own_question_and_no_other(good):
    """Adding a fact never makes a piece less certain than the fact warrants."""
    before = judge("n1 0,0\nn2 20,0\nw1 1,2 highway=path", 1, 2, grade_too=True)
    after = judge(f"n1 0,0\nn2 20,0\nw1 1,2 highway=path {good}", 1, 2, grade_too=True)

    assert before.questions - after.questions == {{"width=2": "width", "surface=asphalt": "surface", "incline=1%": "grade"}[good]}
    assert after.surprisal < before.surprisal
