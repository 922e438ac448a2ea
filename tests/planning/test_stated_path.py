"""The path that a plan states: numbers of the map as it was built, whatever was joined to it since."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from rollroute.network.attach import Joint, attach, split_piece
from rollroute.network.network import Network
from rollroute.planning.stated_path import whole_pieces

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
