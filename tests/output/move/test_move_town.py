"""Tours along roads and the map of the bundled move, against the network itself."""

from __future__ import annotations

import json
import math
import re
from itertools import pairwise

import numpy as np
from lxml import html
from move_papers import Papers

from rollroute.network.network import Network
from rollroute.output.move.facts import gather
from rollroute.output.move.town import ground_of, tour_legs
from rollroute.output.words import Words
from rollroute.planning.roads import ROAD_KINDS


def test_tours_run_on_roads(town: Papers):
    """Every step of a drawn tour is a piece of road of the network, in a direction that its one-way rule allows (checked by kind)."""
    assert town.finder is not None
    network = town.finder.network
    facts = gather(town.plan, town.move, town.travel, words=Words())
    legs = tour_legs(facts, network)
    assert legs
    is_road = np.isin(network.pieces.kind, [int(k) for k in ROAD_KINDS])

    def key(node: int) -> tuple[float, float]:
        lon, lat = network.node_place(node)
        return round(lon, 6), round(lat, 6)

    steps = {
        pair for p in np.flatnonzero(is_road) for a, b in [(key(int(network.pieces.tail[p])), key(int(network.pieces.head[p])))]
        for pair in ((a, b), (b, a))
    }  # fmt: skip
    for leg in legs:
        assert leg.is_along_roads
        inside = list(pairwise(leg.line))[1:-1]  # the first and the last step lead from the start to the road and off it
        assert all(step in steps for step in inside)


def test_a_tours_length_fits_its_minutes(town: Papers):
    """No leg would have to be driven faster than 50 km/h or stand still: the drawing is of the drive that was estimated."""
    assert town.finder is not None
    facts = gather(town.plan, town.move, town.travel, words=Words())
    for leg in tour_legs(facts, town.finder.network):
        shrink = math.cos(math.radians(leg.line[0][1]))
        metres = sum(111_320 * math.hypot((b[0] - a[0]) * shrink, b[1] - a[1]) for a, b in pairwise(leg.line))
        assert metres / 1000 / (max(leg.stop.drive_min, 1) / 60) < 50


def test_without_a_map_tours_are_straight_lines_that_say_so(small: Papers):
    """Nobody takes a ruler's line for a road."""
    facts = gather(small.plan, small.move, small.travel, words=Words())
    legs = tour_legs(facts, None)
    assert not any(leg.is_along_roads for leg in legs)
    assert "as a straight line: the road is not known" in (small.folder / "move-map.html").read_text(encoding="utf-8")


def test_the_map_shows_everybody_and_everything(town: Papers):
    """Marks by their titles against the plan: riders who have a place, shelters, the van that drives; and every hazard's words."""
    text = (town.folder / "move-map.html").read_text(encoding="utf-8")
    match = re.search(r"rollrouteMove\.draw\(\w+, (\{.*?\}), \{", text, re.DOTALL)
    assert match is not None
    data = json.loads(match[1])
    kinds = {kind: {m["b"] for m in data["marks"] if m["k"] == kind} for kind in ("left", "rider", "shelter", "van")}
    plan = town.plan
    assert kinds["left"] == {r.id for r in plan.riders if r.way is None and r.id in town.travel.places}
    assert kinds["rider"] == {r.id for r in plan.riders if r.way is not None}
    assert kinds["shelter"] == {s.name for s in plan.shelters}
    assert kinds["van"] == {v.id for v in plan.vans if v.stops}
    assert len(data["hazards"]) == len(town.move.hazards)
    assert sum(line["k"] == "tour" for line in data["lines"]) == sum(s.drive_min > 0 for v in plan.vans for s in v.stops)
    assert {line["t"].split()[0] for line in data["lines"] if line["k"] == "roll"} == {r.id for r in plan.riders if r.way == "roll"}


def test_everything_on_the_map_stands_in_its_list(town: Papers):
    """Nothing is on the map alone: each mark's title is a list entry for who can't see it."""
    text = (town.folder / "move-map.html").read_text(encoding="utf-8")
    match = re.search(r"rollrouteMove\.draw\(\w+, (\{.*?\}), \{", text, re.DOTALL)
    assert match is not None
    titles = [m["t"] for m in json.loads(match[1])["marks"]]
    listed = [b.text_content() for b in html.fromstring(text).xpath("//ul[@class='places']/li/b")]
    assert sorted(listed) == sorted(titles)


def test_the_ground_is_that_of_the_window(quillhaven: Network):
    """Only what touches the window is drawn, and nothing without one."""
    lon, lat = quillhaven.node_place(0)
    small = ground_of(quillhaven, (lon - 1e-3, lat - 1e-3, lon + 1e-3, lat + 1e-3))
    everything = ground_of(quillhaven, (-180.0, -90.0, 180.0, 90.0))
    assert 0 < len(small.roads) < len(everything.roads)
    assert ground_of(quillhaven, None).roads == []
    assert ground_of(None, (0.0, 0.0, 1.0, 1.0)).roads == []
