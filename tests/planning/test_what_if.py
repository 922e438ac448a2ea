"""What-if: each variant against a move that can be worked out in the head."""

from __future__ import annotations

from dataclasses import replace

import pytest
from move_worlds import escort, line_travel, move, rider, roll_way, shelter, van
from random_moves import random_move

from rollroute.errors import InputError
from rollroute.inputs.move_shelters import Circuit
from rollroute.planning.audit import audit
from rollroute.planning.make_plan import make_plan
from rollroute.planning.what_if import Variant, best_van, parse_variant, read_variants, usual_variants, varied, what_if, what_if_lines


def world(**more):
    """Three riders at kilometre 10, 12 and 14 who must be inside by 20:10 (minute 90); one van with one position, 2 min per km.

    A trip to kilometre 10 and back to S is 20 + 10 + 18 + 5 = 53 min: the only van brings one rider in 90 min, not two.
    """
    riders = [rider(i, latest_arrival="20:10", chair_length_cm=120) for i in ("A", "B", "C")]
    a_move = move(riders, [shelter("N"), shelter("S", accessible_places=1)], [van("V1", positions=1)], **more)
    return a_move, line_travel(a_move, {"A": 10, "B": 12, "C": 14, "N": 0, "S": 1, "V1": 0})


def row(result, words):
    return next(r for r in result.rows if r.words == words)


def test_one_more_van_serves_one_more():
    """Two vans bring two of three: each has time for one trip."""
    a_move, travel = world()

    result = what_if(a_move, travel, [Variant(kind="van")])

    assert (result.rows[0].served, row(result, "one more van").served) == (1, 2)
    assert "2 served (+1)" in what_if_lines(result)[1]


def test_the_copied_van_is_the_one_that_takes_most():
    """Among equals the one with more positions."""
    a_move, travel = world()
    a_move = replace(a_move, vans=(*a_move.vans, van("V2", positions=3)))
    travel = replace(travel, van_nodes={"V1": "V1", "V2": "V1"})
    plan = make_plan(a_move, travel)

    assert best_van(a_move).id == "V2"
    assert best_van(a_move, plan).id == "V2"  # takes A, B and C: 14 km = 28, 3 x 10, back 28, ...: more than one, unlike V1

    changed, table = varied(a_move, travel, Variant(kind="van"), plan)
    assert [v.id for v in changed.vans] == ["V1", "V2", "V2/2"]
    assert table.van_nodes["V2/2"] == "V1"


def test_a_closed_shelter_takes_nobody():
    """With N closed only S with its single place is left, with both closed nobody is served and nothing has a finish."""
    riders = [rider(i, chair_length_cm=120) for i in ("A", "B")]
    a_move = move(riders, [shelter("North"), shelter("S", accessible_places=1)], [van("V1")])
    travel = line_travel(a_move, {"A": 1, "B": 2, "North": 0, "S": 3, "V1": 0})

    result = what_if(a_move, travel, read_variants(["closed: north", "closed: S"], a_move))

    assert [r.served for r in result.rows] == [2, 1, 2]
    assert all(r.shelter != "North" for r in result.rows[1].plan.riders)
    no_shelter = replace(a_move, shelters=a_move.shelters[:1])
    assert what_if(no_shelter, travel, [Variant(kind="closed", name="North")]).rows[1].finish is None


def test_twenty_minutes_later_moves_everything_and_no_closing():
    """A alone, to S at kilometre 1: 20 + 10 + 18 + 5 = 53 of 90 min, margin 37. 20 min later: margin 17. 40 min later: too late."""
    a_move, travel = world()
    a_move = replace(a_move, riders=a_move.riders[:1])

    result = what_if(a_move, travel, [Variant(kind="later", number=20), Variant(kind="later", number=40)])

    assert [r.worst_margin_min for r in result.rows] == [37, 17, None]
    assert [r.finish and r.finish[11:16] for r in result.rows] == ["19:33", "19:53", None]
    assert result.rows[2].left == ("A",)


def test_waiting_goes_on_charging():
    """25 min at the socket first: 20 min later 5 of them are left, the departure is 25 both times."""
    a_move = move([rider("A")], [shelter("N")], [], [escort("E1")])
    travel = line_travel(a_move, {"A": 1, "N": 0, "E1": 1}, rolls={("A", "N"): roll_way(15, charge_first_min=25.0)})

    result = what_if(a_move, travel, [Variant(kind="later", number=20)])

    assert {r.plan.rider("A").leave[11:16] for r in result.rows} == {"19:05"}
    assert result.rows[1].changed == ()


def test_outlets_decide_who_needs_a_socket_all_night():
    """Two need a socket all night, one outlet: one is served; two outlets: both. The outlets are dealt out to the circuits."""
    riders = [rider(i, life_support_min=200, chair_length_cm=120) for i in ("A", "B")]
    place = shelter("N", circuits=(Circuit(name="A", outlets=1, amps=20.0), Circuit(name="B", outlets=0, amps=20.0)))
    a_move = move(riders, [place], [van("V1")])
    travel = line_travel(a_move, {"A": 1, "B": 1, "N": 0, "V1": 0})

    result = what_if(a_move, travel, [Variant(kind="outlets", name="N", number=2)])

    assert [r.served for r in result.rows] == [1, 2]
    changed, _ = varied(a_move, travel, Variant(kind="outlets", name="N", number=3))
    assert [c.outlets for c in changed.shelters[0].circuits] == [2, 1]


@pytest.mark.parametrize("text", ["one more van", "closed: North Quay School", "later: 20", "outlets: Tannery Hall 4"])
def test_every_spelling_is_read_back(text):
    """What is printed can be typed again."""
    assert parse_variant(text).words == text


@pytest.mark.parametrize("text", ["", "two more vans", "closed:", "later: soon", "outlets: N", "outlets: 4"])
def test_what_is_not_understood_is_refused_with_the_spellings(text):
    """The message names every spelling."""
    with pytest.raises(InputError, match="one more van"):
        parse_variant(text)


def test_a_shelter_that_is_not_there_is_named():
    """With the names that there are."""
    a_move, travel = world()

    with pytest.raises(InputError, match="N, S"):
        varied(a_move, travel, Variant(kind="closed", name="Nowhere"))
    with pytest.raises(InputError, match="no van"):
        varied(replace(a_move, vans=()), travel, Variant(kind="van"))


def test_variants_of_random_moves_keep_every_rule():
    """The plan of each variant passes the auditor against the changed inputs; one more van never serves fewer."""
    for seed in range(3000, 3012):
        a_move, travel = random_move(seed, most_riders=4)
        base = make_plan(a_move, travel)
        variants = usual_variants(a_move)

        result = what_if(a_move, travel, variants, base=base)

        for variant, outcome in zip(variants, result.rows[1:], strict=True):
            changed, table = varied(a_move, travel, variant, base)
            assert [str(v) for v in audit(outcome.plan, changed, table)] == [], (seed, variant)
            if variant.kind in ("van", "outlets"):
                assert outcome.served >= result.rows[0].served, (seed, variant)
            if variant.kind in ("closed", "later"):
                assert outcome.served <= result.rows[0].served, (seed, variant)
