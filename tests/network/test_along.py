"""Lines laid along ways: an inventory of sidewalks, and the tracks of chairs that passed."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point
from towns.hand_drawn import LAT, LON, M_PER_DEGREE_LAT, M_PER_DEGREE_LON, a_chair, judge, network_of, noon, tally_of

from rollroute.errors import InputError
from rollroute.inputs.field_facts import FieldFact, read_inventory
from rollroute.inputs.tracks import Track, read_tracks
from rollroute.network.along import LineFinder
from rollroute.network.overlay import lay_facts
from rollroute.network.report import check_lines
from rollroute.standards import doubts_of
from rollroute.weights.case import Weighing
from rollroute.weights.passages import passages_of

DAY = dt.date(2026, 3, 14)
SIDEWALK = "highway=footway footway=sidewalk surface=asphalt incline=0%"
STREET = f"n1 0,0\nn2 40,0\nn3 80,0\nn4 80,50\nw10 1,2,3 {SIDEWALK}\nw11 3,4 {SIDEWALK}"


def at(x_m: float, y_m: float) -> tuple[float, float]:
    return LON + x_m / M_PER_DEGREE_LON, LAT + y_m / M_PER_DEGREE_LAT


def piece_of(network, a, b):
    """The piece between two drawn nodes, by their places."""
    near = [int(np.hypot(network.nodes.lon - x, network.nodes.lat - y).argmin()) for x, y in (a, b)]
    hits = np.flatnonzero((network.pieces.tail == near[0]) & (network.pieces.head == near[1]))
    return int(hits[0])


def width(metres: float, *line: tuple[float, float]) -> FieldFact:
    return FieldFact(fact="width", value=metres, lon=line[0][0], lat=line[0][1], is_survey=True, line=line)


def test_a_line_tells_the_width_of_every_piece_that_it_runs_along():
    """From 0 to 80 m, 3 m beside the way: both pieces are 1.6 m wide, the street round the corner stays unknown."""
    network, notes = lay_facts(network_of(STREET), [width(1.6, at(0, 3), at(80, 3))], DAY)

    assert notes == []
    assert [round(float(w), 2) for w in network.pieces.width_m[:2]] == [1.6, 1.6]
    assert np.isnan(network.pieces.width_m[2])
    assert judge(network, 1, 2).is_clear
    assert judge(network, 3, 4).questions == {"width"}


def test_a_piece_that_a_line_covers_in_part_keeps_its_question():
    """55 of 80 m: the first 40 m are told, of the second piece only 15 of 40 m are, so it is still asked about."""
    network, _ = lay_facts(network_of(STREET), [width(1.6, at(0, 2), at(55, 2))], DAY)

    assert judge(network, 1, 2).is_clear
    assert judge(network, 2, 3).questions == {"width"}


def test_a_line_that_crosses_a_way_says_nothing_of_it():
    network, notes = lay_facts(network_of(STREET), [width(1.6, at(20, -9), at(20, 9))], DAY)

    assert "no mapped way runs along it" in notes[0]
    assert judge(network, 1, 2).questions == {"width"}


def test_of_two_lines_on_both_sides_of_a_street_the_narrower_counts():
    for order in (1, -1):
        both = [width(1.6, at(0, 2), at(80, 2)), width(0.7, at(0, -2), at(80, -2))][::order]
        network, _ = lay_facts(network_of(STREET), both, DAY)
        assert judge(network, 1, 2).reasons == {"width"}


def test_one_line_is_one_check_for_the_table_of_doubts_and_the_report_says_what_it_moved():
    """Beta-binomial: one narrow sidewalk adds one to ``bad``, though the map cuts it into two pieces."""
    before = network_of(STREET)
    network, _ = lay_facts(before, [width(0.7, at(0, 2), at(80, 2))], DAY)
    row, was = doubts_of(network.about).rows["width_sidewalk"], doubts_of(before.about).rows["width_sidewalk"]

    assert (row.bad - was.bad, row.good - was.good, row.n_checks) == (pytest.approx(1.0), 0.0, 1)
    assert list(check_lines(before)) == []
    assert "1 of 1 bad" in next(iter(check_lines(network)))


def test_the_posterior_agrees_with_scipy():
    """Mean and standard deviation of Beta(bad, good) by an independent library."""
    from scipy.stats import beta

    row = doubts_of({"doubt_checks": {"width_sidewalk": [7, 3]}}).rows["width_sidewalk"]
    assert row.probability == pytest.approx(beta(row.bad, row.good).mean())
    assert row.standard_deviation == pytest.approx(beta(row.bad, row.good).std())


def test_a_graded_line_keeps_the_sign_that_the_heights_have():
    """An inventory's slope has no direction; over the limit it stops the chair whichever way it falls."""
    slope = FieldFact(fact="grade", value=0.09, lon=LON, lat=LAT, is_survey=True, line=(at(0, 1), at(80, 1)))
    network, _ = lay_facts(network_of(STREET.replace("incline=0%", "incline=-2%")), [slope], DAY)

    assert network.pieces.grade[0] == pytest.approx(-0.09)
    assert judge(network, 1, 2).reasons == {"grade"}


@pytest.mark.parametrize(
    ("fact", "value", "reason"), [("ramp_grade", 0.10, "grade"), ("ramp_width", 0.6, "width"), ("ramp_grade", 0.07, None)]
)
def test_an_inventory_tells_of_the_ramp_at_a_kerb(fact, value, reason):
    """2010 ADA Standards 405.2: 1:12; a ramp narrower than the chair is no ramp."""
    text = f"n1 0,0\nn2 10,0 kerb=lowered barrier=kerb\nn3 14,0\nw10 1,2 {SIDEWALK}\nw11 2,3 highway=footway footway=crossing width=3"
    told = FieldFact(fact=fact, value=value, lon=at(10, 0)[0], lat=LAT, is_survey=True)
    network, notes = lay_facts(network_of(text), [told], DAY)

    assert notes == []
    assert ((judge(network, 2, 3).reasons | judge(network, 1, 2).reasons) == {reason}) == (reason is not None)


def test_a_gutter_against_the_ramp_is_asked_about():
    """2010 ADA Standards 406.2: 1:20 at most; steeper may catch the footrests. The preset stops it, the plain chair asks."""
    text = (
        f"n1 0,0\nn2 10,0 kerb=lowered barrier=kerb\nn3 14,0\nw10 1,2 {SIDEWALK} width=2\nw11 2,3 highway=footway footway=crossing width=3"
    )
    told = FieldFact(fact="counter_slope", value=0.09, lon=at(10, 0)[0], lat=LAT, is_survey=True)
    network, _ = lay_facts(network_of(text), [told], DAY)

    assert "kerb" in judge(network, 2, 3).questions | judge(network, 1, 2).questions


def test_explain_names_the_inventory_as_the_source_and_a_later_survey_yields_to_a_measurement():
    """Rank outranks date: a slope measured in the field stays, though the city's list is of a later day."""
    from rollroute.explain import explain_lines

    text = f"n1 0,0\nn2 10,0 kerb=lowered barrier=kerb\nn3 14,0\nw10 1,2 {SIDEWALK}\nw11 2,3 highway=footway footway=crossing width=3"
    lon, lat = at(10, 0)
    survey = FieldFact(fact="ramp_grade", value=0.06, lon=lon, lat=lat, is_survey=True, date=DAY)
    measured = FieldFact(fact="ramp_grade", value=0.09, lon=lon, lat=lat, date=DAY - dt.timedelta(days=3))
    one, _ = lay_facts(network_of(text), [survey], DAY)
    both, notes = lay_facts(network_of(text), [survey, measured], DAY)
    again, _ = lay_facts(both, [survey], DAY)

    said = "\n".join(explain_lines(one, "way/11", a_chair(), noon(), Weighing()))
    assert "slope of its ramp: +6.0% (survey)" in said
    assert "higher rank" in notes[0]
    assert [round(float(np.nanmax(n.places.ramp_grade)), 2) for n in (one, both, again)] == [0.06, 0.09, 0.09]


def test_lines_of_a_file_are_read_along_their_length(tmp_path: Path):
    """A table of lines and one of points through the same mapping; a shape that is missing says nothing."""
    lines = [LineString([at(0, 2), at(80, 2)]), None, Point(at(10, 0))]
    gpd.GeoDataFrame({"W_FT": [5.0, 5.0, 4.0]}, geometry=lines, crs=4326).to_file(tmp_path / "walks.gpkg", driver="GPKG")
    (tmp_path / "map.toml").write_text('source = "walks"\n[[fact]]\nfact = "width"\ncolumn = "W_FT"\nunit = "ft"\n')
    rows = read_inventory(tmp_path / "walks.gpkg", tmp_path / "map.toml")

    assert [(len(r.line), round(r.value, 3)) for r in rows] == [(2, 1.524), (0, 1.219)]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(2.0, 78.0), max_size=4, unique=True), st.floats(5.0, 75.0), st.floats(-4.0, 4.0))
def test_cutting_a_way_changes_nothing_about_what_a_line_tells(cuts, end_m, off_m):
    """What a line covers of a stretch, in metres, is the same however the map cuts it."""
    whole = LineFinder(network_of("n1 0,0\nn2 80,0\nw10 1,2 highway=footway")).runs([at(0, off_m), at(end_m, off_m)])[0]
    nodes = [0.0, *sorted(cuts), 80.0]
    drawn = "\n".join(f"n{i} {x},0" for i, x in enumerate(nodes, start=1))
    ways = "\n".join(f"w{10 + i} {i},{i + 1} highway=footway" for i in range(1, len(nodes)))
    parts = network_of(f"{drawn}\n{ways}")
    runs = LineFinder(parts).runs([at(0, off_m), at(end_m, off_m)])[0]
    length = {run.piece: float(parts.pieces.length_m[run.piece]) for run in runs}

    assert sum(run.share * length[run.piece] for run in runs) == pytest.approx(sum(run.share * 80.0 for run in whole), abs=1.0 + len(cuts))


# --- tracks ---


def track(chair=None, **changes) -> Track:
    return Track(**{"line": (at(0, 1), at(80, 1)), "chair": chair or a_chair(), "name": "1", **changes})


def test_a_track_answers_the_questions_of_what_it_drove_in_that_direction_only():
    network = network_of(STREET)
    rules = Weighing(tracks=(track(date=DAY),))

    assert judge(network, 1, 2, rules=rules).is_clear
    assert judge(network, 2, 1, rules=rules).questions == {"width"}
    assert judge(network, 3, 4, rules=rules).questions == {"width"}


def test_a_track_in_the_future_or_expired_says_nothing():
    for late in (track(date=dt.date(2026, 3, 15)), track(expires=dt.date(2026, 3, 13))):
        assert judge(network_of(STREET), 1, 2, rules=Weighing(tracks=(late,))).questions == {"width"}
        found, notes = passages_of(network_of(STREET), [late], DAY)
        assert (found, notes) == ((), ["track 1: says nothing of 2026-03-14: driven later, or no longer true"])


def test_a_track_between_two_ways_side_by_side_clears_neither():
    """A sidewalk 3 m from another: a track in their middle could have been on either."""
    text = f"n1 0,0\nn2 40,0\nn3 0,3\nn4 40,3\nw10 1,2 {SIDEWALK}\nw11 3,4 {SIDEWALK}"
    network = network_of(text)
    found, notes = passages_of(network, [track(line=(at(0, 1.5), at(40, 1.5)))], DAY)

    assert found == ()
    assert "clears nothing" in notes[0]
    assert len(passages_of(network, [track(line=(at(0, 0.0), at(40, 0.0)))], DAY)[0]) == 1


@settings(max_examples=25, deadline=None)
@given(st.floats(-0.2, 0.2), st.floats(-0.3, 0.3), st.floats(-40.0, 40.0))
def test_a_track_of_a_smaller_or_stronger_chair_never_clears_for_a_larger_or_weaker_one(wider, longer, heavier):
    """No wider, no longer, no heavier: else the question stays."""
    asks = a_chair()
    passed = a_chair(width_m=asks.width_m + wider, length_m=asks.length_m + longer, rider_mass_kg=asks.rider_mass_kg + heavier)
    said = judge(network_of(STREET), 1, 2, rules=Weighing(tracks=(track(passed),)), chair=asks)

    assert said.is_clear == (wider >= -1e-9 and longer >= -1e-9 and heavier >= -1e-9)


def test_csv_and_geojson_tracks_say_the_same(tmp_path: Path):
    rows = "\n".join(f"a,{lat},{lon},en12184-b,2026-03-10,2026-04-01" for lon, lat in (at(0, 1), at(80, 1)))
    (tmp_path / "t.csv").write_text(f"track,lat,lon,chair,date,expires\n{rows}\n")
    line = {"type": "LineString", "coordinates": [list(at(0, 1)), list(at(80, 1))]}
    known = {"chair": "en12184-b", "date": "2026-03-10", "expires": "2026-04-01"}
    feature = {"type": "Feature", "geometry": line, "properties": known}
    (tmp_path / "t.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    one, other = read_tracks(tmp_path / "t.csv")[0], read_tracks(tmp_path / "t.geojson")[0]

    assert (one.line, one.chair, one.date, one.expires) == (other.line, other.chair, other.date, other.expires)


def test_a_class_alone_clears_nothing_and_a_chairs_own_figures_do(tmp_path: Path):
    """Class B is at most 0.70 m wide and climbs at least 5 cm: the chair that passed may have been narrower, and have climbed more."""
    network, head = network_of(STREET), "track,lat,lon,chair"
    places = [f"a,{lat},{lon},en12184-b" for lon, lat in (at(0, 1), at(80, 1))]
    file = tmp_path / "t.csv"
    file.write_text("\n".join([head, *places]))
    bare = read_tracks(file)
    columns = "width_m,length_m,loaded_mass_kg,rated_obstacle_m,rated_obstacle_down_m,rated_grade,wheel"
    figures = "0.64,1.1,240,0.05,0.06,0.105,standard"
    file.write_text("\n".join([f"{head},{columns}", *(f"{place},{figures}" for place in places)]))
    full = read_tracks(file)

    assert "width_m, length_m, loaded_mass_kg" in passages_of(network, bare, DAY)[1][0]
    assert judge(network, 1, 2, rules=Weighing(tracks=tuple(bare))).questions == {"width"}
    assert passages_of(network, full, DAY)[1] == []
    assert full[0].chair.total_mass_kg == pytest.approx(240.0)
    assert judge(network, 1, 2, rules=Weighing(tracks=tuple(full)), chair=a_chair(rated_obstacle_down_m=0.06)).is_clear
    assert judge(network, 1, 2, rules=Weighing(tracks=tuple(full)), chair=a_chair(width_m=0.65)).questions == {"width"}


def test_figures_of_a_track_are_read_with_their_units_and_a_line_in_parts_is_several_tracks(tmp_path: Path):
    """64 cm, 25 in and 0,64 m; a receiver that lost its signal leaves a line in parts, and nothing is driven in between."""
    rows = "\n".join(f"a;{lat};{lon};en12184-b;64;25 in;500 lb" for lon, lat in (at(0, 1), at(80, 1)))
    (tmp_path / "t.csv").write_text(f"track;lat;lon;chair;width_cm;length_m;loaded_mass_kg\n{rows}\n".replace(".", ","))
    chair = read_tracks(tmp_path / "t.csv")[0].chair
    assert (chair.width_m, chair.length_m, chair.total_mass_kg) == (
        pytest.approx(0.64),
        pytest.approx(0.635),
        pytest.approx(226.796, abs=0.001),
    )

    parts = [[list(at(0, 1)), list(at(20, 1))], [list(at(60, 1)), list(at(80, 1))]]
    feature = {"type": "Feature", "geometry": {"type": "MultiLineString", "coordinates": parts}, "properties": {"chair": "en12184-b"}}
    (tmp_path / "t.geojson").write_text(json.dumps({"features": [feature]}))
    assert [len(track.line) for track in read_tracks(tmp_path / "t.geojson")] == [2, 2]


CHAIR_FILE = """label = "a chair"
mass_kg = 130
rider_mass_kg = 80
load_mass_kg = 12
width_m = 0.64
length_m = 1.10
rated_obstacle_m = 0.05
rated_obstacle_down_m = 0.05
rated_grade = 0.105
wheel = "standard"
"""


def _driven_by(text: str, tmp_path: Path) -> Track:
    (tmp_path / "drove.toml").write_text(text)
    places = [f"a,{lat},{lon},drove.toml" for lon, lat in (at(0, 1), at(80, 1))]
    (tmp_path / "t.csv").write_text("\n".join(["track,lat,lon,chair", *places]))
    return read_tracks(tmp_path / "t.csv")[0]


@pytest.mark.parametrize(
    ("line", "figure"),
    [("rated_obstacle_down_m", "rated_obstacle_down_m"), ("load_mass_kg", "loaded_mass_kg"), ("width_m", "width_m"), ("wheel", "wheel")],
)
def test_a_figure_that_the_chairs_file_leaves_out_is_not_shown_by_its_passing(tmp_path: Path, line: str, figure: str):
    """No step down stated: for driving that counts as the step up, 5 cm. But the chair may have come down 10 cm here.

    So it says nothing for a chair that comes down 5 cm; nor does a bag that nobody weighed show that heavier chairs pass.
    """
    network = network_of(STREET)
    whole = _driven_by(CHAIR_FILE, tmp_path)
    kept = "\n".join(row for row in CHAIR_FILE.splitlines() if not row.startswith(line))
    partly = _driven_by(kept, tmp_path)

    assert (whole.not_stated, partly.not_stated) == ((), (figure,))
    asks = a_chair(mass_kg=100.0, rider_mass_kg=80.0, load_mass_kg=5.0)
    assert judge(network, 1, 2, rules=Weighing(tracks=(whole,)), chair=asks).is_clear
    assert judge(network, 1, 2, rules=Weighing(tracks=(partly,)), chair=asks).questions == {"width"}
    assert figure in passages_of(network, [partly], DAY)[1][0]


def test_a_class_stays_a_class_when_it_is_named_by_its_file():
    """The bundled file says what a class may be at most, however it was found."""
    from rollroute.inputs.chair import find_chair
    from rollroute.inputs.tables import data_dir
    from rollroute.inputs.tracks import FIGURES, figures_not_stated

    for name in ("en12184-b", str(data_dir() / "chairs" / "en12184-b.toml")):
        assert figures_not_stated(find_chair(name)) == FIGURES


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("track,lat,lon,chair\na,45.2,-37.3,en12184-b\n", "two or more places"),
        ("track,lat,lon,chair\na,45.2,-37.3,\na,45.3,-37.3,\n", "chair is missing"),
        ("track,lat,lon,chair\na,45.2,-37.3,swift\na,45.3,-37.3,swift\n", "no such file or class"),
        ("track,lat,lon,chair\na,x,-37.3,en12184-b\n", "row 2: lat is 'x'"),
        ("track,lat,lon,chair\na,45.2,-37.3,en12184-b\na,45.2,373,en12184-b\n", "row 3: lon is '373'"),
        ("track,lat,lon,chair,width_m\na,45.2,-37.3,en12184-b,wide\na,45.2,-37.2,en12184-b,wide\n", "width_m is 'wide'"),
        ("track,lat,lon,chair,width_m\na,45.2,-37.3,en12184-b,65\na,45.2,-37.2,en12184-b,65\n", "65 cm is 0.65"),
        ("lat,lon\n45.2,-37.3\n", "no column track, chair. It has lat, lon"),
        ("track,lat,lon,chair\na,45.2,-37.3,en12184-b\n,45.3,-37.3,\n", "row 3: track is needed in every row"),
        ("track,lat,lon,chair,widht_m\na,45.2,-37.3,en12184-b,0.6\n", "unknown column 'widht_m'. Did you mean width_m"),
        ("", "no row looks like a header"),
        ("track,lat,lon,chair\n", "no track"),
        ("track,lat,lon,chair,date\na,45.2,-37.3,en12184-b,soon\na,45.3,-37.3,en12184-b,soon\n", "not a date"),
    ],
)
def test_a_table_of_tracks_that_cant_be_used_is_refused_with_words(tmp_path: Path, text: str, says: str):
    (tmp_path / "t.csv").write_text(text)
    with pytest.raises(InputError, match=says):
        read_tracks(tmp_path / "t.csv")


def test_explain_tells_who_passed():
    from rollroute.explain import explain_lines

    rules = Weighing(tracks=(track(date=DAY),))
    lon, lat = at(20, 0)
    text = "\n".join(explain_lines(network_of(STREET), f"{lat:.6f},{lon:.6f}", a_chair(), noon(), rules))
    assert "a chair that asks no less has passed forward: 2026-03-14" in text
    assert "forward: clear" in text
    assert "backward: unverified: width" in text


def test_a_track_holds_on_a_map_that_was_cut_at_the_riders_door():
    """Joining a place to the map cuts a piece in two and renumbers; the track is laid on the map as it is then."""
    from rollroute.network.attach import Joint, attach

    network = network_of(STREET)
    joined, _ = attach(network, [(*at(13, 0), Joint(0, 13 / 40, 0.0))])
    case, tally = tally_of(joined, a_chair(), noon(), Weighing(tracks=(track(),)))
    assert case.passages
    forward = tally.questions[0::2]
    assert (forward[joined.pieces.way == network.pieces.way[0]] == 0).all()
