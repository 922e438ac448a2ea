"""A rider's word about the own door: it outranks the guess about metres that nobody has mapped, for that door alone."""

from __future__ import annotations

import dataclasses

import pytest

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.planning.audit_book import Book
from rollroute.planning.audit_map import AuditMap
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.places import locate
from rollroute.planning.town import rules_for
from rollroute.planning.travel import TravelTable
from rollroute.weights.reasons import Question, Reason


def _told(rider_id: str, word: bool | None) -> Move:
    """The bundled evening with R04 and R07 alone, who have no shelter as their place, and one word changed."""
    move = read_move(data_dir() / "quillhaven")
    kept = [r for r in move.riders if r.id in ("R04", "R05", "R07")]
    changed = tuple(r.model_copy(update={"drives_to_street": word}) if r.id == rider_id else r for r in kept)
    return dataclasses.replace(move, riders=changed)


def _travel(move: Move, network: Network) -> TravelTable:
    return NetworkTravel(network).estimate(move, needs_of(move)[0])


def test_yes_takes_the_doubt_of_the_door_and_no_takes_the_way(quillhaven: Network) -> None:
    """R07's house stands off every mapped way: a fifth of doubt until somebody asks, none after a yes; after a no no chair comes out."""
    doubts = {}
    for word in (None, True, False):
        zones = _travel(_told("R07", word), quillhaven).pickups["R07"]
        doubts[word] = (min((z.doubt for z in zones), default=None), {z.carried for z in zones})
    assert doubts[None] == (pytest.approx(0.223, abs=0.001), {False})
    assert doubts[True] == (pytest.approx(0.0, abs=0.001), {False})
    assert doubts[False][1] <= {True}


def test_of_two_at_one_door_the_worse_word_counts(quillhaven: Network) -> None:
    """R04 and R05 live in one house: a yes of both opens it; of one, it stays a question; a no of one shuts it."""
    for word, is_open, is_shut in ((True, True, False), (None, False, False), (False, False, True)):
        move = _told("R04", word)
        places = locate(move, quillhaven).found
        door = (places["rider", "R04"].lon, places["rider", "R04"].lat)
        rules = rules_for(move, places)
        assert (door in rules.doors, door in rules.shut_doors) == (is_open, is_shut)


@pytest.mark.parametrize("word", [True, None, False])
def test_the_auditor_weighs_the_door_by_the_same_word(quillhaven: Network, word: bool | None) -> None:
    """It reads the rows itself: clear, unverified, or no way; the line of nobody else changes."""
    move = _told("R07", word)
    travel = _travel(move, quillhaven)
    chart = AuditMap(quillhaven, Book(make_plan(move, travel), move, travel))
    line = chart.line_of(chart.node["rider", "R07"])
    other = chart.line_of(chart.node["rider", "R04"])
    assert line is not None
    assert other is not None
    weights = chart.chair_map(move.riders[-1], is_dark=True).weights
    asks, stops = bool(weights.questions[line] & Question.OFF_MAP), bool(weights.reasons[line] & Reason.MEASURED)
    assert (asks, stops) == {True: (False, False), None: (True, False), False: (True, True)}[word]
    assert not weights.reasons[other] & Reason.MEASURED


def test_an_unknown_door_is_never_better_than_a_shut_one(quillhaven: Network) -> None:
    """Missing is not good: whoever is served after a no is served when nobody has asked, with no less doubt than after a yes."""
    served = {}
    for word in (None, True, False):
        move = _told("R07", word)
        line = make_plan(move, _travel(move, quillhaven)).rider("R07")
        served[word] = (line.way is not None, line.doubt)
    assert served[False][0] <= served[None][0] <= served[True][0]
    assert served[True][1] <= served[None][1]
