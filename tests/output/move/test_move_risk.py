"""What could break the plan, on the page: the planner's own results, and what is made of damaged ones."""

from __future__ import annotations

import dataclasses
import re
from html import unescape
from typing import Any

import pytest
from move_papers import HOSTILE, Papers

from rollroute.output.move.facts import gather
from rollroute.output.move.risk import risk_section
from rollroute.output.words import Words
from rollroute.planning.fail_one import FailOne, Failure, Saved, fail_one_document
from rollroute.planning.rehearse import Breaker, Rehearsal, rehearsal_document


def shown(papers: Papers, **extra: Any) -> str:
    facts = gather(dataclasses.replace(papers.plan, extra=extra), papers.move, papers.travel, words=Words())
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", str(risk_section(facts)))).split())


def test_nothing_is_said_where_nothing_was_looked_at(small: Papers):
    """No section, rather than one that reads as if all were well."""
    assert shown(small) == ""


def test_who_can_be_left_by_one_failure_is_named(small: Papers):
    """Van V1 failing before the start or at 18:52 leaves B; the place that fails leaves nobody."""
    left = (Saved(rider="B", how="no other van has time"),)
    result = FailOne(
        failures=(
            Failure(kind="place", name="kerb at Mill Lane", moment=None, saved=(Saved(rider="C", how="goes back"),), left=()),
            Failure(kind="van", name="V1", moment=None, saved=(), left=left),
            Failure(kind="van", name="V1", moment="2026-03-01T18:52+01:00", saved=(), left=left),
        )
    )
    text = shown(small, fail_one=fail_one_document(result))
    assert "One of them failing can leave B. Looked at alone: 1 unverified places and 1 vans." in text
    assert "van V1 before it starts, 18:52 B: no other van has time" in text


def test_that_nobody_can_be_left_is_said_with_what_was_looked_at(small: Papers):
    """A claim names what it covers."""
    text = shown(small, fail_one=fail_one_document(FailOne(failures=())))
    assert "Looked at alone: 0 unverified places and 0 vans. None of them leaves anybody" in text


def test_a_rehearsal_is_told_with_its_interval(small: Papers):
    """430 of 500 runs, and what breaks it most often."""
    made = Rehearsal(
        runs=500, seed=1, good=430, share=0.86, low=0.83, high=0.89, riders=(("B", 0.1),), not_in_plan=("D",),
        breakers=(Breaker(kind="van", name="V1", runs=40, share=0.08, riders=("A", "B")),),
    )  # fmt: skip
    text = shown(small, rehearsal=rehearsal_document(made))
    assert "Rehearsed 500 times under assumed chances" in text
    assert "in 86 % of them (95 % interval 83 % to 89 %)" in text
    assert "van V1: in 8 % of the runs, for A and B" in text


@pytest.mark.parametrize("damaged", [[], "x", {"left": 3}, {"failures": [{}], "left": []}, {"failures": [{"kind": "van"}], "left": ["B"]}])
def test_a_damaged_result_is_said_to_be_damaged(small: Papers, damaged: Any):
    """A plan edited by hand: half a result must not read as good news."""
    text = shown(small, fail_one=damaged, rehearsal=damaged)
    assert "The plan holds a result that can't be read: fail_one." in text
    assert "The plan holds a result that can't be read: rehearsal." in text
    assert "None of them" not in text


def test_names_in_results_are_text(small: Papers):
    """They come from maps and tables like all others."""
    failure = Failure(kind="place", name=HOSTILE, moment=None, saved=(), left=(Saved(rider=HOSTILE, how=HOSTILE),))
    facts = gather(
        dataclasses.replace(small.plan, extra={"fail_one": fail_one_document(FailOne(failures=(failure,)))}),
        small.move,
        small.travel,
        words=Words(),
    )
    assert "<img" not in str(risk_section(facts))
    assert "<script" not in str(risk_section(facts))
