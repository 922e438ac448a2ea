"""Whatever is tagged, a map is built, weighed and reported: nothing raises, and nothing is NaN where a number is promised."""

from __future__ import annotations

import dataclasses

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from towns.hand_drawn import a_chair, draw, noon

from rollroute.network.build import build_network
from rollroute.network.report import report_lines
from rollroute.network.tags import USED_KEYS
from rollroute.standards import load_standard
from rollroute.weights.case import Weighing
from rollroute.weights.energy import calibrate
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import weigh

VALUES = (
    "", "yes", "no", "1", "0", "-1", "2 m", "6'7\"", "80 cm", "1.5;2", "~2", "10%", "-5°", "up", "down", "1:12", "1:0",
    "narrow", "maybe", "both", "separate", "left", "lowered", "raised", "flush", "regular", "customers", "private",
    "perhaps", "no @ (Nov-Mar)", "yes @ wet", "24/7", "Mo-Fr 08:00-18:00", "sett", "asfalt", "∞", "nan", "inf", "1e9",
    "-0", "3;-2", "0.5-1.5", "traffic_signals", "bollard", "gate", "kerb", "stile", "hinged", "revolving", "0;1;2",
    "limited", "designated", "50 mph", "DE:urban", "none", " ", ";", "5 t", "summer", "🙂",
)  # fmt: skip
KINDS = (
    "footway", "path", "residential", "service", "steps", "elevator", "corridor", "pedestrian", "cycleway", "secondary", "trunk", "track",
    "living_street", "construction", "platform", "proposed", "crossing", "unclassified",
)  # fmt: skip
KEYS = sorted(USED_KEYS | {"area", "bridge", "tunnel", "indoor", "footway", "service", "locked", "oneway:foot"})
TAGS = st.dictionaries(st.sampled_from(KEYS), st.sampled_from(VALUES), max_size=6)
PLACES = "\n".join(f"n{i} {20 * (i % 4)},{15 * (i // 4)}" for i in range(12))
WAYS = [(0, 1, 2, 3), (4, 5, 6, 7), (1, 5, 9), (2, 6, 10), (8, 9, 10, 11), (0, 4, 5, 1, 0)]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(
    kinds=st.lists(st.sampled_from(KINDS), min_size=6, max_size=6),
    ways=st.lists(TAGS, min_size=6, max_size=6),
    nodes=st.lists(TAGS, min_size=12, max_size=12),
    preset=st.sampled_from([None, "ada-2010", "prowag-2023", "uk-adm", "din-18040"]),
    has_mains=st.booleans(),
)
def test_any_tags_are_built_weighed_and_reported(kinds, ways, nodes, preset, has_mains):
    """Six ways and twelve nodes with whatever people may write."""
    text = PLACES + "\n" + "\n".join(f"w{k + 1} {','.join(map(str, ids))} highway=footway" for k, ids in enumerate(WAYS))
    extract = draw(text)
    extract.ways = [dataclasses.replace(w, tags={**tags, "highway": kind}) for w, tags, kind in zip(extract.ways, ways, kinds, strict=True)]
    extract.ways.append(dataclasses.replace(extract.ways[0], way_id=99, tags={"highway": "footway"}))
    extract.node_tags = {i: tags for i, tags in enumerate(nodes) if tags}
    network = build_network(extract)
    chair, factors = a_chair(), PlannedFactors(time=1.2, energy=1.3, usable=0.8)
    rules = None if preset is None else Weighing(standard=load_standard(preset))
    found = weigh(network, chair, calibrate(chair), factors, noon(has_mains=has_mains), rules=rules)

    for field in ("surprisal", "time_s", "planned_time_s", "energy_wh", "planned_energy_wh", "discomfort_s"):
        column = getattr(found, field)
        assert np.isfinite(column).all(), field
        assert (column >= 0).all(), field
    asked = found.questions != 0
    assert (found.surprisal[asked] > 0).all()
    assert (found.surprisal[~asked] == 0).all()
    assert list(report_lines(network))
