"""The path that a plan states: numbers of the map as it was built, whatever was joined to it since."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import RollrouteError
from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.journey import plan_journey
from rollroute.network.attach import Joint, attach, split_piece
from rollroute.network.network import Network
from rollroute.planning.make_plan import needs_of
from rollroute.planning.network_travel import finder_of
from rollroute.planning.stated_path import stated_path, whole_pieces

CUTS = st.lists(st.tuples(st.integers(0, 10**6), st.floats(0.0, 1.0)), max_size=8)


@given(CUTS)
def test_every_part_knows_the_piece_it_was_cut_from(quillhaven: Network, cuts: list[tuple[int, float]]) -> None:
    """However often pieces are cut, parts of the first one again too: the parts' lengths add up to the whole, and their ways agree."""
    joined = quillhaven
    for number, fraction in cuts:
        joined, _ = split_piece(joined, number % min(3, joined.n_pieces) if number % 2 else joined.n_pieces - 1, fraction)
    whole = whole_pieces(joined, quillhaven)
    lengths = np.bincount(whole, weights=joined.pieces.length_m, minlength=quillhaven.n_pieces)
    np.testing.assert_allclose(lengths, quillhaven.pieces.length_m, rtol=1e-9)
    assert (joined.pieces.way == quillhaven.pieces.way[whole]).all()


def test_the_line_to_a_place_is_no_part_of_the_map(quillhaven: Network) -> None:
    """A place 20 m off its way gets a piece of its own, which is nobody's part."""
    tail, head = (quillhaven.node_place(int(n)) for n in (quillhaven.pieces.tail[0], quillhaven.pieces.head[0]))
    lon, lat = (tail[0] + head[0]) / 2, (tail[1] + head[1]) / 2 + 0.0002
    joined, (node,) = attach(quillhaven, [(lon, lat, Joint(0, 0.5, 30.0))])
    line = int(np.flatnonzero(joined.pieces.tail == node)[0])
    assert whole_pieces(joined, quillhaven)[line] == -1


SCHOOL, TANNERY = "North Quay School", "Tannery Hall"


def _move(**fields: object) -> Move:
    """R11 alone, with mains at every shelter, and what else a test says of R11."""
    found = read_move(data_dir() / "quillhaven")
    limits = {"longest_roll_min": 90, "longest_outdoors_min": 90}
    riders = tuple(r.model_copy(update={**limits, **fields}) for r in found.riders if r.id == "R11")
    return dataclasses.replace(found, riders=riders, shelters=tuple(dataclasses.replace(s, has_mains=True) for s in found.shelters))


def test_a_sheet_follows_the_path_that_the_plan_states(quillhaven: Network):
    """The search would go the surest way; a plan that states the quickest one gets a journey along that, as good as it is."""
    move = _move()
    finder, needs = finder_of(quillhaven, move), needs_of(move)[0][0]
    quick = plan_journey(quillhaven, dataclasses.replace(finder.trip(needs, SCHOOL), preference="quickest"))
    path = stated_path(quick, quillhaven)
    own = finder.journey(needs, SCHOOL, 0.0)
    assert [leg.edges for leg in stated_path(own, quillhaven)] != [leg.edges for leg in path]

    along = finder.journey(needs, SCHOOL, 0.0, path=path)

    assert [leg.edges for leg in stated_path(along, quillhaven)] == [leg.edges for leg in path]
    assert along.route.time_s <= own.route.time_s + 1e-6
    assert not along.route.is_proven
    assert along.route.cost_s >= own.route.cost_s - 1e-6


def test_a_halt_of_the_path_is_kept(quillhaven: Network):
    """At 40 % R11 charges at Tannery Hall: the journey along the stated path halts there for as long as stated, a little later too."""
    chair = str(data_dir() / "quillhaven" / "demo-chair.toml")
    move = _move(chair=chair, charge="40%", charger="on board", chair_length_cm=None)
    finder, needs = finder_of(quillhaven, move), needs_of(move)[0][0]
    path = stated_path(finder.journey(needs, SCHOOL, 0.0), quillhaven)
    assert [leg.to for leg in path] == [TANNERY, SCHOOL]
    longer = (dataclasses.replace(path[0], edges=path[0].edges, charge_min=path[0].charge_min + 5.0), path[1])

    along = finder.journey(needs, SCHOOL, 10.0, path=path)

    assert [(leg.to, leg.edges) for leg in stated_path(along, quillhaven)] == [(leg.to, leg.edges) for leg in path]
    with pytest.raises(RollrouteError, match="does not fit this map"):
        finder.journey(needs, SCHOOL, 0.0, path=(dataclasses.replace(longer[0], edges=path[0].edges[:-3]), path[1]))
