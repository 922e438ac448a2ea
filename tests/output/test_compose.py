"""What is gathered for paper and map from a route over the bundled town: double passages, landmarks, refuges, checkpoints."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import math
from collections.abc import Iterator

import networkx as nx
import numpy as np
import pytest

from rollroute.assembly import Asked, find_itinerary, trip_of
from rollroute.errors import InputError
from rollroute.inputs.tables import data_dir
from rollroute.journey import PREFERENCES, Journey, plan_journey, search_graph
from rollroute.network.network import Network
from rollroute.output.compose import Stamp, compose_itinerary
from rollroute.output.compose_places import _passes
from rollroute.output.compose_retreat import retreats_along
from rollroute.output.itinerary import Itinerary
from rollroute.output.steps import build_steps
from rollroute.output.words.facts import LANDMARKS

TOWN = data_dir() / "quillhaven"
EVENING = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=-2)))


@pytest.fixture(scope="module")
def journey(quillhaven: Network) -> Journey:
    """The demo's longer story: to a school to charge, back by the same footway, and on."""
    asked = Asked(
        start="Ferrow Library", goal="Ropewalk Sports Hall", chair_name=str(TOWN / "demo-chair.toml"), charge="45%", temperature_c=6.0,
        shelters=TOWN / "shelters.csv",
    )  # fmt: skip
    return plan_journey(quillhaven, trip_of(quillhaven, asked, now=EVENING))


@pytest.fixture(scope="module")
def itinerary(journey: Journey) -> Itinerary:
    return compose_itinerary(journey, Stamp(made_at=EVENING, command="", code="K7"))


def test_a_kerb_that_is_passed_twice_is_told_twice(itinerary: Itinerary):
    """There and back over one crossing: the kerbs stand in both steps, and what was down is up on the way back."""
    passed: dict[tuple[float, float], list[str | None]] = {}
    for point in itinerary.points:
        if point.kind == "kerb":
            passed.setdefault((point.lon, point.lat), []).append(point.direction)
    twice = [ways for ways in passed.values() if len(ways) == 2]

    assert len(twice) >= 2
    assert all({None} == set(ways) or set(ways) == {"up", "down"} for ways in twice)
    crossings = [s for s in build_steps(itinerary) if s.kind == "cross" and s.street == "North Quay" and s.at_m > 1100]
    assert len(crossings) == 2
    assert all([p.kind for p in step.points] == ["kerb", "kerb"] for step in crossings)


def test_a_question_is_asked_once_and_known_on_every_passage(itinerary: Itinerary, journey: Journey):
    """One number for a place or stretch, carried by the piece whichever way and how often it is driven."""
    by_piece: dict[int, list[tuple[int, ...]]] = {}
    for edge, piece in zip(journey.route.edges, itinerary.pieces, strict=True):
        if journey.weights.questions[edge]:
            by_piece.setdefault(int(edge) // 2, []).append(tuple(piece.questions))

    assert all(len(set(found)) == 1 for found in by_piece.values())
    assert [q.number for q in itinerary.questions] == list(range(1, len(itinerary.questions) + 1))
    asked = [(q.kind, q.lon, q.lat) for q in itinerary.questions]
    assert len(set(asked)) == len(asked)


def test_landmarks_are_seen_between_the_ends_of_a_piece():
    """By hand: 200 m due east, a mark 10 m north of its middle; back along the same line it is passed again, 100 m on."""
    way = np.array([[0.0, 0.0], [200.0, 0.0], [0.0, 0.0]])
    ends_m = np.array([0.0, 200.0, 400.0])

    assert _passes(way, ends_m, np.array([100.0, 10.0])) == [(100.0, 10.0), (300.0, 10.0)]
    assert _passes(way, ends_m, np.array([100.0, 30.0])) == []
    assert _passes(way[:1], ends_m[:1], np.array([0.0, 0.0])) == []


def test_a_mark_at_a_corner_is_passed_once():
    """Both pieces of a corner see it: the nearer counts. 50 m east, then 50 m north, the mark 5 m inside the corner."""
    way = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]])

    assert _passes(way, np.array([0.0, 50.0, 100.0]), np.array([45.0, 4.0])) == [(45.0, 4.0)]


def test_landmarks_of_the_town_agree_with_a_slow_search(itinerary: Itinerary, journey: Journey):
    """Every landmark within 25 m of the way that has a name or a word is there, measured in steps of a metre along it, and no other."""
    places = list(_every_metre(itinerary))
    scale = math.cos(math.radians(places[0][1]))
    near = set()
    for kind, name, lon, lat in journey.network.about["landmarks"]:
        if not name and kind not in LANDMARKS:
            continue
        distance = min(math.hypot((lon - x) * scale, lat - y) for x, y in places) * 111_319.49
        if distance <= 24.5:  # half a metre of grace for the steps
            near.add((name or kind, lon, lat))

    assert near <= {(s.label, s.lon, s.lat) for s in itinerary.landmarks}
    assert all(s.off_way_m <= 25.0 for s in itinerary.landmarks)


def _every_metre(itinerary: Itinerary) -> Iterator[tuple[float, float]]:
    for piece in itinerary.pieces:
        for (x0, y0), (x1, y1) in itertools.pairwise(piece.coordinates):
            n = max(int(piece.to_m - piece.from_m), 1)
            yield from ((x0 + (x1 - x0) * k / n, y0 + (y1 - y0) * k / n) for k in range(n + 1))


def test_retreats_cost_what_the_search_says(journey: Journey):
    """The search carries the energy b; the papers add which refuge it is. Both must be one number at every node."""
    ends_m = np.concatenate([[0.0], np.cumsum(journey.network.pieces.length_m[journey.route.edges // 2])])
    found = [retreat.energy_wh for retreat in retreats_along(journey, ends_m)]

    assert found == pytest.approx(list(journey.route.retreat_wh), rel=1e-9, abs=1e-9)


def test_the_refuge_named_is_the_nearest_over_clear_ways(journey: Journey):
    """Independent: networkx, one search from every node of the way where nothing is carried along from before."""
    graph = search_graph(journey.network, journey.weights, PREFERENCES["surest"])
    usable = np.flatnonzero(graph.is_passable & ~graph.is_unverified & (graph.closes_s >= journey.query.retreats_until_s))
    roads = nx.DiGraph()
    for e in usable.tolist():
        a, b, energy = int(graph.tail[e]), int(graph.head[e]), float(graph.energy_wh[e])
        if energy < roads.get_edge_data(a, b, {"energy": math.inf})["energy"]:
            roads.add_edge(a, b, energy=energy)
    ends_m = np.concatenate([[0.0], np.cumsum(journey.network.pieces.length_m[journey.route.edges // 2])])
    for node, retreat in list(zip(journey.route.nodes.tolist(), retreats_along(journey, ends_m), strict=True))[::25]:
        lengths = nx.single_source_dijkstra_path_length(roads, node, weight="energy") if node in roads else {}
        reached = {refuge: lengths[refuge] for refuge in journey.query.refuges if refuge in lengths}
        if reached and min(reached.values()) <= retreat.energy_wh + 1e-9:
            assert reached[retreat.refuge] == pytest.approx(min(reached.values()))


def test_checkpoints_lead_to_the_refuge_that_is_near(itinerary: Itinerary):
    """Past the school the chair turns back to the school, not to the library three times as far; late on the way the goal is nearer."""
    named = {round(c.at_m, -2): c for c in itinerary.checkpoints}

    assert named[400.0].turn_back_to == "Ferrow Library"
    assert named[400.0].turn_back_m == pytest.approx(named[400.0].at_m, abs=1.0)
    assert named[2000.0].turn_back_to == "North Quay School"
    assert named[2000.0].leave_way_m == pytest.approx(itinerary.halts[0].at_m, abs=1.0)
    assert named[2000.0].turn_back_m == pytest.approx(named[2000.0].at_m - itinerary.halts[0].at_m, abs=1.0)
    assert named[2800.0].turn_back_to == "Ropewalk Sports Hall"
    assert named[2800.0].is_ahead


def test_a_refuge_on_the_way_has_its_metre(itinerary: Itinerary):
    """A refuge that is passed lies on the way; one that no clear way leads to has no metre, so that nobody is sent to look for it."""
    spots = {s.label: s for s in itinerary.refuges}

    assert spots["North Quay School"].at_m == pytest.approx(itinerary.halts[0].at_m, abs=1.0)
    assert spots["North Quay School"].off_way_m == 0.0
    assert all(spot.off_way_m == 0.0 for spot in spots.values() if spot.at_m is None)


def test_a_way_from_a_place_to_itself_is_refused_with_words(quillhaven: Network):
    """There is nothing to draw and nothing to walk: said in one line, not by a crash in the middle of a map."""
    asked = Asked(
        start="Ferrow Library", goal="Ferrow Library", chair_name=str(TOWN / "demo-chair.toml"), charge="80%", temperature_c=6.0,
        shelters=TOWN / "shelters.csv",
    )  # fmt: skip
    with pytest.raises(InputError, match="one spot of the map"):
        find_itinerary(quillhaven, asked, now=EVENING)


def test_a_clicked_piece_tells_what_explain_tells(itinerary: Itinerary, journey: Journey):
    """``rollroute explain`` and the map read the same facts: tags, every place on the piece, and the verdict both ways."""
    from rollroute.explain import explain_lines
    from rollroute.weights.case import Weighing

    trip = journey.trip
    for piece in itinerary.pieces[:: max(1, len(itinerary.pieces) // 12)]:
        if piece.way_kind == "off_map":
            continue
        (lon_a, lat_a), (lon_b, lat_b) = piece.coordinates[0], piece.coordinates[-1]
        place = f"{(lat_a + lat_b) / 2:.7f},{(lon_a + lon_b) / 2:.7f}"
        told = "\n".join(explain_lines(journey.network, place, trip.chair, trip.conditions, trip.rules or Weighing()))
        assert f"way/{piece.way_id} " in told
        for fact in piece.facts:
            assert fact.text.replace("_", " ").split(",")[0] in told.replace("_", " ") or fact.kind == "codes"
        assert [fact.what for fact in piece.facts][-2:] == ["this_way", "other_way"]


def test_a_barred_piece_tells_which_fact_bars_it(itinerary: Itinerary):
    """Every reason on the mark stands in the verdict of the facts beside it."""
    assert itinerary.barred
    for barred in itinerary.barred:
        verdict = next(fact for fact in barred.facts if fact.what == "this_way")
        assert verdict.kind == "reasons"
        assert set(barred.reasons) <= set(verdict.text.split(","))


def test_what_chances_rest_on_travels_with_the_route(journey: Journey, itinerary: Itinerary):
    """Beta(1, 4) and three bad checks of four: (1 + 3) / (5 + 4) = 4/9. Every row of the table counts as five checks (its own note)."""
    kind = "kerb_crossing"
    told = dataclasses.replace(journey.network, about=journey.network.about | {"doubt_checks": {kind: [1, 3]}})
    moved = compose_itinerary(dataclasses.replace(journey, network=told), Stamp(made_at=EVENING, command="", code="K7"))

    assert (itinerary.prior_checks, itinerary.checked) == (5.0, [])
    assert moved.prior_checks == 5.0
    (row,) = moved.checked
    assert (row.fact, row.good, row.bad, row.before) == ("kerb", 1, 3, pytest.approx(1 / 5))
    assert row.after == pytest.approx(4 / 9)
