"""Papers of random moves, some without any solution: the auditor that reads only the files finds one evening in all of them."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
import test_move_agrees as agrees
from lxml import html
from move_papers import pick, write
from random_moves import random_move

CHECKS = (
    agrees.test_every_rider_is_in_every_list_once,
    agrees.test_whoever_goes_arrives_at_one_shelter_and_nobody_else_does,
    agrees.test_every_ride_is_loaded_once_and_unloaded_once_after,
    agrees.test_no_position_holds_two_chairs_at_once,
    agrees.test_positions_taken_are_those_that_the_plan_counts,
    agrees.test_no_lift_is_overloaded_and_no_van_is_in_two_places,
    agrees.test_no_outlet_holds_two_plugs_at_once,
    agrees.test_escorts_are_with_whoever_names_them,
    agrees.test_the_layers_hold_what_the_tables_hold,
    agrees.test_the_page_shows_each_riders_times,
)
SEEDS = (0, 4, 10, 15, 16, 22, 25, 30, 40, 50)  # chosen for what their plans hold, which the last test checks


@pytest.mark.parametrize("seed", SEEDS)
def test_papers_of_a_random_move_agree(seed: int, tmp_path: Path):
    """Large chairs, riders who stay together, people carried down, zones on the wrong side, nobody served: each seed is another."""
    made, travel = random_move(seed)
    effort = made.settings.effort.model_copy(update={"exact_work": 0.2, "search_rounds": 50})
    papers = write(dataclasses.replace(made, settings=made.settings.model_copy(update={"effort": effort})), travel, tmp_path)
    files = agrees.Files(papers.folder)
    for check in CHECKS:
        check(files)
    tree = html.fromstring((tmp_path / "index.html").read_text(encoding="utf-8"))
    assert len(pick(tree, "#left article")) == len(papers.plan.not_served)
    linked = {a.get("href") for a in pick(tree, "a") if not a.get("href").startswith("#")}
    assert all((tmp_path / name).is_file() for name in linked)


def test_the_random_moves_hold_what_is_hard():
    """Guards the sample: among its moves are riders without a way, a party, a roll, a ride, and somebody carried down."""
    from rollroute.planning.make_plan import make_plan

    kinds: set[str] = set()
    for seed in SEEDS:
        made, travel = random_move(seed)
        effort = made.settings.effort.model_copy(update={"exact_work": 0.0, "search_rounds": 20, "exact_units": 0})
        plan = make_plan(dataclasses.replace(made, settings=made.settings.model_copy(update={"effort": effort})), travel)
        kinds |= {r.way or r.status for r in plan.riders} | {"party" for r in plan.riders if r.together and r.way}
    assert {"not served", "declined", "roll", "van", "apart", "party"} <= kinds
