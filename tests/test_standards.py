"""Published limits: each figure against a second entry typed from the standard, met, just missed and unknown; ramps; vehicles."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.errors import InputError
from rollroute.standards import (
    CEILING_GRADE,
    Limit,
    lay_out_ramp,
    load_standard,
    load_vehicle_limits,
    ramp_length_m,
    standard_names,
)

# Second entry: name, figure, section. < at most, > at least; metres, grades as ratios, mm written as thousandths. A star: from memory.
ADA = """
ramp_grade                < 1/12    405.2          walk_grade               < 1/20    403.3
cross_slope               < 1/48    403.3          ramp_cross_slope         < 1/48    405.3
clear_width_m             > 0.915   403.5.1        pinch_width_m            > 0.815   403.5.1
pinch_length_m            < 0.610   403.5.1        pinch_apart_m            > 1.220   403.5.1
turn_element_m            < 1.220   403.5.2        turn_width_m             > 1.220   403.5.2
turn_approach_m           > 1.065   403.5.2        turn_wide_m              > 1.525   403.5.2
turn_circle_m             > 1.525   304.3.1        turn_t_m                 > 1.525   304.3.2
turn_t_arm_width_m        > 0.915   304.3.2        turn_t_arm_clear_m       > 0.305   304.3.2
turn_t_base_clear_m       > 0.610   304.3.2        floor_space_slope        < 1/48    304.2
floor_space_width_m       > 0.760   305.3          floor_space_length_m     > 1.220   305.3
alcove_forward_width_m    > 0.915   305.7.1        alcove_parallel_width_m  > 1.525   305.7.2
passing_m                 > 1.525   403.5.3        passing_every_m          < 61      403.5.3
pile_m                    < 0.013   302.2          opening_m                < 0.013   302.3
level_change_m            < 0.0064  303.2          level_change_bevelled_m  < 0.013   303.3
bevel_grade               < 1/2     303.3          reach_low_m              > 0.380   308.2*
reach_high_m              < 1.220   308.2*         door_width_m             > 0.815   404.2.3
door_deep_width_m         > 0.915   404.2.3        door_height_m            > 2.030   404.2.3
threshold_m               < 0.013   404.2.5        threshold_existing_m     < 0.019   404.2.5
door_force_n              < 22.2    404.2.9        ramp_width_m             > 0.915   405.5
ramp_rise_m               < 0.760   405.6          landing_length_m         > 1.525   405.7.3
landing_slope             < 1/48    405.7.1        handrail_rise_m          < 0.150   405.8
curb_ramp_grade           < 1/12    406.1          curb_ramp_width_m        > 0.915   406.1
counter_slope             < 1/20    406.2          flare_grade              < 1/10    406.3
flare_no_landing_grade    < 1/12    406.4          curb_landing_m           > 0.915   406.4
curb_bottom_m             > 1.220   406.6          island_length_m          > 1.220   406.7
island_width_m            > 0.915   406.7          riser_low_m              > 0.100   504.2
riser_high_m              < 0.180   504.2          tread_m                  > 0.280   504.2
lift_door_open_s          > 3       407.3.5        lift_door_width_m        > 0.915   407.4.1
lift_door_existing_m      > 0.815   407.3.6        lift_car_width_m         > 1.370   407.4.1
lift_car_length_m         > 2.030   407.4.1        lift_square_m            > 1.525   407.4.1
lift_existing_depth_m     > 1.370   407.4.1        lift_existing_width_m    > 0.915   407.4.1
lift_existing_area_m2     > 1.5     407.4.1        lift_gap_m               < 0.032   407.4.3
lift_levelling_m          < 0.013   407.4.4        lula_width_m             > 1.065   408.4.1
lula_depth_m              > 1.370   408.4.1        lula_door_m              > 0.815   408.4.1
lula_square_m             > 1.295   408.4.1        lula_existing_area_m2    > 1.4     408.4.1
home_lift_width_m         > 0.915   409.4.1        home_lift_depth_m        > 1.220   409.4.1
platform_end_door_m       > 0.815   410.6          platform_side_door_m     > 1.065   410.6
platform_door_open_s      > 20      410.6          platform_gap_m           < 0.032   410.4
platform_width_m          > 0.915   A18.1          platform_length_m        > 1.220   A18.1
"""
PROWAG = """
ramp_grade                < 1/12    R304.2.1       walk_grade               < 1/20    R302.4.1
crosswalk_grade           < 1/20    R302.4.3       cross_slope              < 1/48    R302.5.1
crosswalk_stop_cross_slope < 1/48   R302.5.2.1     crosswalk_cross_slope    < 1/20    R302.5.2.2
clear_width_m             > 1.220   R302.2         median_width_m           > 1.525   R302.2.1
bollard_gap_m             > 1.220   R302.2.2       passing_m                > 1.525   R302.3
passing_every_m           < 61      R302.3         level_change_m           < 0.0064  R302.6.2
level_change_bevelled_m   < 0.013   R302.6.2       level_change_sloped_m    < 0.150   R302.6.2
opening_m                 < 0.013   R302.6.3       flangeway_freight_m      < 0.075   R302.6.4.2
flangeway_m               < 0.064   R302.6.4.2     detour_width_m           > 1.220   R303.3
channel_top_m             > 0.815   R303.6         channel_bottom_m         < 0.051   R303.6
curb_ramp_grade           < 1/12    R304.2.1       curb_ramp_length_m       < 4.6     R304.2.1
curb_ramp_cross_slope     < 1/48    R304.2.2       curb_ramp_width_m        > 1.220   R304.5.1.1
curb_landing_m            > 1.220   R304.2.4       counter_slope            < 1/20    R304.2.4
flare_grade               < 1/10    R304.2.6       blended_grade            < 1/20    R304.4.1
gutter_change             < 0.133   R304.5.2
"""
OTHERS = {
    "ada-2010": ADA,
    "prowag-2023": PROWAG,
    "aba-outdoor": """
ramp_grade                < 1/10    1016.7.1       walk_grade               < 1/20    1016.7.1
cross_slope               < 1/48    1016.7.2       cross_slope_drained      < 1/20    1016.7.2
""",
    "uk-adm": """
ramp_grade                < 1/12    Table1         walk_grade               < 1/20    Vol1
level_grade               < 1/60    Vol1           cross_slope              < 1/40    1.26
landing_slope             < 1/60    1.26           ramp_width_m             > 1.5     1.26
ramp_going_m              < 10      1.26           ramp_rise_m              < 0.5     1.26
alternative_rise_m        < 2       1.26           landing_length_m         > 1.5     1.26
end_landing_m             > 1.2     1.26           passing_m                > 1.8     1.26
""",
    "ie-tgd-m": """
ramp_grade                < 1/12    3.1.2.4        walk_grade               < 1/20    3.1.2.4
level_grade               < 1/50    3.1.2.4        end_landing_m            > 1.2     3.1.2.4
landing_length_m          > 1.2     3.1.2.4
""",
    "din-18040": """
ramp_grade                < 0.06    4.3.8.2        walk_grade               < 0.03    18040-1
short_walk_grade          < 0.04    18040-1        short_walk_length_m      < 10      18040-1
cross_slope               < 0.02    18040-3*       ramp_cross_slope         < 0       4.3.8.2
ramp_length_m             < 6       4.3.8.2        ramp_rise_m              < 0.36    4.3.8.2
ramp_width_m              > 1.2     4.3.8.2        landing_length_m         > 1.5     4.3.8.2
end_landing_m             > 1.5     4.3.8.2        turn_circle_m            > 1.5     4.3.8.2
street_grade              < 0.03    18040-3*       kerb_separate_m          < 0.06    18040-3*
kerb_shared_m             < 0.03    18040-3*       door_width_m             > 0.9     18040-1*
lift_door_width_m         > 0.9     EN81-70*       lift_car_width_m         > 1.1     EN81-70*
lift_car_length_m         > 1.4     EN81-70*
""",
    "vehicles": """
zone_width_m              > 2.440   503.2          zone_length_m            > 6.100   503.2
zone_aisle_width_m        > 1.525   503.3.1        zone_slope               < 1/48    503.4
zone_clearance_m          > 2.895   503.5          parking_car_width_m      > 2.440   502.2
parking_van_width_m       > 3.350   502.2          parking_van_narrow_m     > 2.440   502.2
parking_aisle_m           > 1.525   502.3          parking_slope            < 1/48    502.4
parking_van_clearance_m   > 2.490   502.5          lift_load_kg             > 272     38.23(b)(1)
lift_higher_rating_kg     > 363     FTA            lift_platform_low_width_m > 0.725  38.23(b)(6)*
lift_platform_width_m     > 0.760   38.23(b)(6)*   lift_platform_length_m   > 1.220   38.23(b)(6)*
lift_edge_m               > 0.038   38.23(b)(5)*   lift_entrance_grade      < 1/8     38.23(b)(8)*
lift_deflection_deg       < 3       38.23(b)(9)*   lift_speed_m_s           < 0.152   38.23(b)(10)*
lift_stow_speed_m_s       < 0.305   S6.2*          ramp_load_kg             > 272     38.23(c)(1)
ramp_short_load_kg        > 136     38.23(c)(1)    ramp_width_m             > 0.760   38.23(c)(2)
ramp_lip_m                < 0.0064  38.23(c)(3)    ramp_side_m              > 0.051   38.23(c)(4)
ramp_grade                < 1/4     38.23(c)(5)    ramp_roadway_grade       < 1/6     T402.8
securement_width_m        > 0.760   38.23(d)(2)*   securement_length_m      > 1.220   38.23(d)(2)*
securement_movement_m     < 0.051   38.23(d)(5)*   restraint_leg_light_kn   > 11.1    38.23(d)(1)*
restraint_device_light_kn > 22.2    38.23(d)(1)*   restraint_leg_heavy_kn   > 8.9     38.23(d)(1)*
restraint_device_heavy_kn > 17.8    38.23(d)(1)*   one_securement_vehicle_m < 6.71    38.23(a)
old_common_mass_kg        < 272     37.3           door_height_small_m      > 1.420   T502.2.2
door_height_large_m       > 1.725   T502.2.2       public_lift_vehicle_kg   < 4536    S4.1.1
""",
}
ENTRY = re.compile(r"(\w+)\s+([<>]) ([\d./]+)\s+(\S+?)(\*?)(?=\s|$)")


def limits_of(preset):
    return load_vehicle_limits().limits if preset == "vehicles" else load_standard(preset).limits


ENTRIES = [(preset, *match) for preset, block in OTHERS.items() for match in ENTRY.findall(block)]


@pytest.mark.parametrize(("preset", "name", "sense", "figure", "section", "star"), ENTRIES)
def test_a_published_limit_is_what_its_section_says(preset, name, sense, figure, section, star):
    """The figure was entered twice, apart; met at the figure, missed just beyond it, unknown where the measure is unknown."""
    limit = limits_of(preset)[name]
    top, _, bottom = figure.partition("/")
    value = float(top) / float(bottom or 1)

    assert limit.value == pytest.approx(value, rel=1e-12)
    assert limit.sense == {"<": "most", ">": "least"}[sense]
    assert section in limit.section.replace(" ", "")
    assert (limit.status == "memory") == bool(star)
    assert ("(from memory)" in limit.cite()) == bool(star)
    beyond = limit.bound * 1.001 + 1e-6 if sense == "<" else limit.bound * 0.999 - 1e-6
    assert (limit.is_met_by(value), limit.is_met_by(beyond)) == (True, False)
    assert limit.is_met_by(None) is limit.is_met_by(math.nan) is None


@pytest.mark.parametrize("preset", sorted(OTHERS))
def test_no_limit_was_entered_only_once(preset):
    """A figure without a second entry has been checked by nobody."""
    assert {name for other, name, *_ in ENTRIES if other == preset} == set(limits_of(preset))
    assert set(OTHERS) == {*standard_names(), "vehicles"}


@pytest.mark.parametrize("preset", sorted(OTHERS))
def test_both_printed_figures_of_a_limit_agree(preset):
    """Metric figures of US standards are rounded, by less than 1 %, or than 3 mm; either of the two may be met."""
    for limit in limits_of(preset).values():
        if limit.original is not None:
            assert limit.bound == pytest.approx(limit.value, rel=0.01, abs=0.003), limit.name


def test_a_way_of_36_inches_meets_ada_though_it_is_914_mm():
    """403.5.1 prints 36 inches (915 mm); 36 in is 914.4 mm."""
    clear = load_standard("ada-2010").limits["clear_width_m"]

    assert clear.is_met_by(0.9144) is True
    assert clear.is_met_by(0.914) is False


@pytest.mark.parametrize("name", standard_names())
def test_no_preset_is_steeper_than_what_it_cites(name):
    """Rows of lengths and the ramp limit; what holds at existing sites only (ADA Table 405.2) is kept apart and not used."""
    standard = load_standard(name)
    steepest = {"ada-2010": 1 / 12, "prowag-2023": 1 / 12, "aba-outdoor": 0.1, "uk-adm": 1 / 12, "ie-tgd-m": 1 / 12, "din-18040": 0.06}

    assert standard.max_grade == pytest.approx(steepest[name])
    assert all(row.grade <= standard.max_grade + 1e-12 for row in standard.grades)
    assert standard.max_walk_grade <= standard.max_grade
    assert standard.max_length_m(standard.max_grade + 0.001) == 0.0


def test_the_default_ceiling_is_one_in_twelve():
    """2010 ADA Standards 405.2."""
    assert load_standard().name == "ada-2010"
    assert load_standard().max_grade == pytest.approx(CEILING_GRADE) == pytest.approx(1 / 12)


def test_steeper_ramps_at_existing_sites_are_known_but_not_used():
    """ADA Table 405.2: 1:12 to 1:10 for 150 mm of rise, 1:10 to 1:8 for 75 mm."""
    rows = [(row.grade, row.rise_m) for row in load_standard("ada-2010").existing]

    assert rows == [(pytest.approx(0.1), 0.150), (pytest.approx(0.125), 0.075)]
    assert load_standard("ada-2010").max_length_m(0.1) == 0.0


LENGTHS = [
    # ABA 1016.7.1 Table 3: 50 ft to 1:12, 30 ft to 1:10
    ("aba-outdoor", 1 / 20, math.inf), ("aba-outdoor", 0.051, 15.24), ("aba-outdoor", 1 / 12, 15.24), ("aba-outdoor", 0.1, 9.144),
    ("aba-outdoor", 0.101, 0.0),
    # Approved Document M, Table 1: 1:20 10 m, 1:15 5 m, 1:12 2 m; between two rows the steeper counts
    ("uk-adm", 1 / 20, math.inf), ("uk-adm", 1 / 15, 5.0), ("uk-adm", 1 / 14, 2.0), ("uk-adm", 1 / 12, 2.0), ("uk-adm", 0.09, 0.0),
    # TGD M 3.1.2.4: to 1:15 10 m, to 1:12 5 m
    ("ie-tgd-m", 1 / 15, 10.0), ("ie-tgd-m", 1 / 12, 5.0), ("ie-tgd-m", -1 / 12, 5.0), ("ie-tgd-m", 0.09, 0.0),
    # DIN 18040-1: 6 % for 6 m
    ("din-18040", 0.03, math.inf), ("din-18040", 0.06, 6.0), ("din-18040", 0.061, 0.0),
    # ADA 405.6: 30 in of rise a run, 30 ft at 1:12
    ("ada-2010", 1 / 12, 9.144), ("ada-2010", 0.05, math.inf), ("ada-2010", 0.084, 0.0),
]  # fmt: skip


@pytest.mark.parametrize(("name", "grade", "length_m"), LENGTHS)
def test_a_run_may_be_as_long_as_its_grade_allows(name, grade, length_m):
    """Published tables of length by grade."""
    assert load_standard(name).max_length_m(grade) == pytest.approx(length_m)


def test_the_length_of_a_run_of_unknown_grade_is_unknown():
    assert math.isnan(load_standard().max_length_m(math.nan))


def test_published_ramp_case_ada():
    """A rise of 30 in at 1:12 needs 360 in = 30 ft = 9.144 m (a city's accessibility guide)."""
    assert ramp_length_m(30 * 0.0254) == pytest.approx(9.144)
    assert lay_out_ramp(0.762, load_standard("ada-2010")).n_runs == 1


def test_published_ramp_case_din_one_run():
    """A rise of 36 cm at 6 % needs 6.0 m and no landing in between (DIN 18040-1, 4.3.8.2)."""
    layout = lay_out_ramp(0.36, load_standard("din-18040"))

    assert (layout.run_m, layout.n_runs, layout.n_landings) == (pytest.approx(6.0), 1, 0)


def test_published_ramp_case_din_two_runs():
    """Two runs of 6 m and three spaces of 1.5 m are 16.5 m for 72 cm (DIN 18040-1)."""
    layout = lay_out_ramp(0.72, load_standard("din-18040"))

    assert (layout.run_m, layout.n_runs, layout.n_landings, layout.total_m) == (pytest.approx(6.0), 2, 1, pytest.approx(16.5))


def test_no_rise_needs_no_ramp_and_nonsense_is_refused():
    assert lay_out_ramp(0.0, load_standard()).total_m == 0.0
    for rise_m, grade in [(-0.1, 0.05), (0.1, 0.0), (math.nan, 0.05)]:
        with pytest.raises(InputError, match="ramp: rise must be"):
            ramp_length_m(rise_m, grade)


@given(st.floats(0.0, 20.0), st.sampled_from(standard_names()))
def test_runs_add_up_to_the_rise_and_none_is_too_long(rise_m, name):
    """A layout keeps the standard that it was made for."""
    standard = load_standard(name)
    layout = lay_out_ramp(rise_m, standard)

    assert layout.run_m * layout.n_runs * standard.max_grade == pytest.approx(rise_m, abs=1e-9)
    assert layout.run_m <= standard.max_length_m(standard.max_grade) * (1 + 1e-6)
    assert layout.total_m >= layout.run_m * layout.n_runs - 1e-9


PINCHES = [
    (0.915, None, True),
    (0.90, None, False),
    (0.815, 0.61, True),  # 32 in for at most 24 in
    (0.815, 0.62, False),
    (0.815, None, False),
    (0.80, 0.3, False),
    (None, 0.3, None),
    (math.nan, None, None),
]


@pytest.mark.parametrize(("width_m", "pinch_m", "allowed"), PINCHES)
def test_a_pinch_point_may_be_narrow_if_it_is_short(width_m, pinch_m, allowed):
    """2010 ADA Standards 403.5.1 and its exception."""
    assert load_standard("ada-2010").allows_width(width_m, pinch_m) is allowed


def test_a_standard_without_a_width_says_nothing_of_widths():
    assert load_standard("aba-outdoor").allows_width(0.5) is None
    assert load_standard("uk-adm").allows_width(1.5) is True
    assert load_standard("prowag-2023").allows_width(1.0, 0.3) is False  # no exception for pinch points


TURNS = [  # element, approach, turn
    (1.0, 1.065, 1.22, True),
    (1.0, 1.06, 1.22, False),
    (1.0, 1.065, 1.20, False),
    (1.0, 0.915, 1.525, True),
    (1.0, 0.90, 1.525, False),
    (1.0, None, 1.10, False),  # too narrow whatever the approach
    (1.0, None, 1.30, None),
    (None, 0.915, 0.915, None),  # round a wide element it would do, round a narrow one not
    (None, 0.90, 0.915, False),
    (None, 1.065, 1.22, True),
    (math.nan, 0.915, 0.915, None),
    (1.22, 0.915, 0.915, True),
    (1.22, 0.90, 0.915, False),
    (1.22, None, 0.915, None),
]


@pytest.mark.parametrize(("element_m", "approach_m", "turn_m", "allowed"), TURNS)
def test_a_turn_round_a_narrow_element_needs_more_width(element_m, approach_m, turn_m, allowed):
    """2010 ADA Standards 403.5.2 and its exception: 48 in at the turn with 42 in before it, or 60 in with 36 in."""
    assert load_standard("ada-2010").allows_turn(element_m, approach_m, turn_m) is allowed


def test_a_standard_without_a_rule_for_turns_says_nothing():
    assert load_standard("uk-adm").allows_turn(1.0, 1.0, 1.0) is None


FLOORS = [(0.0, 1 / 4), (0.075, 1 / 4), (0.0762, 1 / 4), (0.08, 1 / 6), (0.15, 1 / 6), (0.2, 1 / 8), (0.3, 1 / 12), (math.nan, 1 / 12)]


@pytest.mark.parametrize(("floor_m", "grade"), FLOORS)
def test_the_ramp_of_a_van_depends_on_its_floor(floor_m, grade):
    """49 CFR 38.23(c)(5); heights over 3 in from memory; an unknown floor takes the gentlest."""
    assert load_vehicle_limits().max_ramp_grade(floor_m) == pytest.approx(grade)


@pytest.mark.parametrize(("length_m", "places"), [(6.0, 1), (6.71, 1), (6.8, 2), (math.nan, 1)])
def test_a_longer_vehicle_has_two_securement_places(length_m, places):
    """49 CFR 38.23(a): over 22 ft."""
    assert load_vehicle_limits().n_securement_places(length_m) == places


def test_unknown_names_are_refused_with_what_is_known():
    with pytest.raises(InputError, match=r"no such preset. Known: aba-outdoor, ada-2010"):
        load_standard("ada-1991")
    with pytest.raises(InputError, match="no limit 'lift_lod_kg'"):
        load_vehicle_limits().limit("lift_lod_kg")


def test_a_limit_can_be_cited_with_how_well_it_is_known():
    """Numbers from memory say so wherever they are printed."""
    seen = Limit(name="x_m", value=1.0, sense="most", section="1.2", status="weak", condition="")

    assert seen.cite() == "1.2 (seen in a copy only)"
    assert load_standard("ada-2010").limits["ramp_grade"].cite() == "405.2"
