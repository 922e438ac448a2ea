"""What must hold on every edge of the invented town and of a real centre: worse chairs, stricter presets and conditions, added facts."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from towns.hand_drawn import a_chair, noon, tally_of

from rollroute.inputs.osm import MapExtract, read_map
from rollroute.inputs.tables import data_dir
from rollroute.network.build import build_network
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.kinds import WALK_KINDS, WayKind
from rollroute.network.network import Flag, Network
from rollroute.standards import load_standard, standard_names
from rollroute.weights.case import Case, Tally, Weighing, case_of
from rollroute.weights.energy import calibrate
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import judge_places
from rollroute.weights.reasons import Question, Reason
from rollroute.weights.scenario import PlannedFactors
from rollroute.weights.weigh import weigh

FACTORS = PlannedFactors(time=1.2, energy=1.3, usable=0.8)
QUICK = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module", params=["quillhaven", "helsinki"])
def town(request) -> Network:
    """The invented town with heights, then the real centre without."""
    return request.getfixturevalue(request.param)


def opened(before: Tally, after: Tally) -> np.ndarray:
    """Edges that were stopped and are not any more."""
    return np.flatnonzero((before.reasons != 0) & (after.reasons == 0))


@QUICK
@given(
    width=st.floats(0.5, 0.8), wider=st.floats(0, 0.2), length=st.floats(0.9, 1.3), longer=st.floats(0, 0.4),
    mass=st.floats(60, 200), heavier=st.floats(0, 150), obstacle=st.floats(0.01, 0.12), lower=st.floats(0, 0.05),
    grade=st.floats(0.03, 0.15), weaker=st.floats(0, 0.05),
)  # fmt: skip
def test_a_chair_that_is_worse_in_every_way_is_never_let_through_where_a_better_one_is_stopped(town: Network, **c: float) -> None:
    """Wider, longer, heavier, climbs less, rated less steep."""
    better = a_chair(
        width_m=c["width"], length_m=c["length"], mass_kg=c["mass"], rated_obstacle_m=c["obstacle"],
        rated_obstacle_down_m=c["obstacle"], rated_grade=c["grade"],
    )  # fmt: skip
    low = max(0.0, c["obstacle"] - c["lower"])
    worse = dataclasses.replace(
        better, width_m=c["width"] + c["wider"], length_m=c["length"] + c["longer"], mass_kg=c["mass"] + c["heavier"],
        rated_obstacle_m=low, rated_obstacle_down_m=low, rated_grade=max(0.01, c["grade"] - c["weaker"]),
    )  # fmt: skip

    assert not len(opened(tally_of(town, better, noon())[1], tally_of(town, worse, noon())[1]))


@pytest.mark.parametrize("name", standard_names())
def test_a_preset_never_opens_an_edge_and_never_lets_a_doubt_go(town: Network, name: str) -> None:
    """Of preset and chair the stricter counts: reasons and questions only grow, but for questions that became reasons."""
    _, without = tally_of(town, a_chair(), noon())
    _, preset = tally_of(town, a_chair(), noon(), Weighing(standard=load_standard(name)))
    still_open = preset.reasons == 0

    assert not (without.reasons & ~preset.reasons).any()
    assert not (without.questions & ~preset.questions)[still_open].any()


@QUICK
@given(wet=st.booleans(), dark=st.booleans(), mains=st.booleans(), escort=st.booleans())
def test_worse_conditions_never_open_an_edge_and_keep_every_reason(town: Network, wet: bool, dark: bool, mains: bool, escort: bool):
    """Wet, dark, no mains, nobody beside the chair: each only adds."""
    worse = noon(is_wet=wet, is_dark=dark, has_mains=mains, has_escort=escort)
    _, fine = tally_of(town, a_chair(), noon())
    _, foul = tally_of(town, a_chair(), worse)

    assert not (fine.reasons & ~foul.reasons).any()


def test_with_the_mains_off_only_what_needs_power_changes(town: Network) -> None:
    """Lifts, motor doors and gates stop; signalled crossings become uncontrolled and are asked about; nothing else."""
    network = town
    _, on = tally_of(network, a_chair(), noon())
    _, off = tally_of(network, a_chair(), noon(has_mains=False))
    new_reasons, new_questions = off.reasons & ~on.reasons, off.questions & ~on.questions
    kind, flags = network.places.kind, network.places.flags
    touched = {row: np.zeros(2 * network.n_pieces, bool) for row in ("power", "signal")}
    needs = ((flags & PlaceFlag.NEEDS_POWER) != 0) | (kind == PlaceKind.LIFT)
    signalled = (kind == PlaceKind.CROSSING) & ((flags & PlaceFlag.SIGNALLED) != 0)
    for row, places in (("power", needs), ("signal", signalled)):
        pieces = network.incidence.piece[places[network.incidence.place]]
        touched[row][np.concatenate([2 * pieces, 2 * pieces + 1])] = True
    touched["power"] |= np.repeat(network.pieces.kind == WayKind.ELEVATOR, 2)

    assert set(np.unique(new_reasons[new_reasons != 0]).tolist()) == {int(Reason.POWER)}
    assert set(np.unique(new_questions[new_questions != 0]).tolist()) == {int(Question.CROSSING)}
    assert touched["power"][new_reasons != 0].all()
    assert touched["signal"][new_questions != 0].all()


def test_pumps_fail_underpasses_only_while_it_rains(quillhaven: Network) -> None:
    """Question ``other`` appears on underpasses where it is wet and the mains are off, and nowhere else."""
    underpass = np.repeat((quillhaven.pieces.flags & np.uint32(Flag.UNDERPASS)) != 0, 2)
    asked = {}
    for wet, mains in ((False, True), (True, True), (False, False), (True, False)):
        _, tally = tally_of(quillhaven, a_chair(), noon(is_wet=wet, has_mains=mains))
        asked[wet, mains] = (tally.questions & int(Question.OTHER)) != 0

    assert (asked[False, True] == asked[True, True]).all()
    assert (asked[False, True] == asked[False, False]).all()
    assert underpass.any()
    assert (asked[True, False] == (asked[False, True] | underpass)).all()


def test_after_a_storm_the_preference_between_road_and_sidewalk_turns_round(town: Network) -> None:
    """The unlit carriageway costs more discomfort per second than a sidewalk, and after the storm less; verdicts stay as they are."""
    chair = a_chair()
    drive = calibrate(chair)
    usual, stormy = (weigh(town, chair, drive, FACTORS, noon(after_storm=s)) for s in (False, True))
    extra = (stormy.discomfort_s - usual.discomfort_s) / usual.time_s
    p = town.pieces
    on_road = np.repeat((p.kind == WayKind.RESIDENTIAL) & ((p.flags & np.uint32(Flag.STREET_SIDEWALK)) == 0), 2)
    on_foot = np.repeat(np.isin(p.kind, [int(k) for k in WALK_KINDS]) & ((p.flags & np.uint32(Flag.INDOOR)) == 0), 2)

    assert (extra[on_road] < 0).all()
    assert (extra[on_foot] > 0).all()
    assert (usual.reasons == stormy.reasons).all()


FACTS = [
    # a tag, the question that it answers, and what it may exclude by
    ("width", ("0.5", "0.85", "2", "narrow"), Question.WIDTH | Question.TURN, Reason.WIDTH | Reason.TURN),
    ("surface", ("asphalt", "sett", "sand", "asfalt"), Question.SURFACE, Reason.SURFACE),
    ("smoothness", ("good", "bad", "impassable"), Question.SURFACE, Reason.SURFACE),
    ("incline", ("2%", "8%", "12%", "steep", "up"), Question.GRADE, Reason.GRADE),
    ("incline:across", ("1%", "6%", "20%"), Question.CROSS_SLOPE, Reason.CROSS_SLOPE),
    ("wheelchair", ("yes", "limited", "no"), Question.WIDTH, Reason.TAGGED_NO),
    ("access", ("yes", "customers", "no", "perhaps"), Question.ACCESS, Reason.ACCESS),
]


@pytest.fixture(scope="module")
def silent() -> tuple[MapExtract, Case]:
    """The town's footways, sidewalks and paths without the facts that are added one by one, and the case of it."""
    extract = read_map(data_dir() / "quillhaven" / "town.osm.pbf")
    keys = {key for key, *_ in FACTS}
    ways = [dataclasses.replace(w, tags={k: v for k, v in w.tags.items() if k not in keys}) for w in extract.ways]
    bare = dataclasses.replace(extract, ways=ways)
    return bare, case_of(build_network(bare), a_chair(), noon(), None)


def tally(case: Case, heard: Question) -> Tally:
    """Verdicts with only these questions written down."""
    made = Tally.empty(case.network.n_pieces, heard)
    judge_pieces(case, made)
    judge_places(case, made)
    return made


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(fact=st.sampled_from(FACTS), seed=st.integers(0, 10**6))
def test_adding_a_fact_changes_the_certainty_of_its_own_question_and_of_no_other(silent, fact, seed) -> None:
    """A fact put on a fifth of the town's ways on foot: nothing else becomes more or less certain, elsewhere nothing changes at all."""
    extract, before = silent
    key, values, answers, stops = fact
    rng = np.random.default_rng(seed)
    ways, changed = [], set()
    for way in extract.ways:
        if way.tags.get("highway") in ("footway", "path", "residential") and way.tags.get("footway") != "crossing" and rng.random() < 0.2:
            changed.add(way.way_id)
            way = dataclasses.replace(way, tags=way.tags | {key: str(rng.choice(values))})
        ways.append(way)
    after = case_of(build_network(dataclasses.replace(extract, ways=ways)), a_chair(), noon(), None)
    rest = ~Question(0) & ~answers
    old, new = (tally(case, rest) for case in (before, after))
    was, now = (tally(case, ~Question(0)) for case in (before, after))
    untouched = np.repeat(~np.isin(before.network.ways.osm_id[before.network.pieces.way], list(changed)), 2)

    assert (old.questions == new.questions).all()
    assert new.surprisal == pytest.approx(old.surprisal, abs=1e-9)
    assert not ((was.reasons ^ now.reasons) & ~np.uint32(int(stops))).any()
    assert (was.reasons == now.reasons)[untouched].all()
    assert (was.questions == now.questions)[untouched].all()
