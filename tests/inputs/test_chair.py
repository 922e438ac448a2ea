"""Chair files: published class limits arrive, gaps take the bad side, mistakes are named."""

import dataclasses
import math

import pytest

from rollroute.errors import InputError
from rollroute.inputs.chair import CHARGER_PLACES, Charger, bundled_chairs, find_chair, read_chair


def write(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("name", "width_m", "length_m", "turning_m", "clearance_m", "obstacle_m", "slope_deg", "range_km"),
    [
        ("en12184-a", 0.70, 1.20, 2.00, 0.030, 0.015, 3.0, 15.0),
        ("en12184-b", 0.70, 1.40, 2.80, 0.060, 0.050, 6.0, 25.0),
        ("en12184-c", 0.80, None, None, 0.080, 0.100, 9.0, 35.0),  # slope 10 is printed, dynamic stability 9: the lower
    ],
)
def test_en_12184_classes_carry_the_published_limits(name, width_m, length_m, turning_m, clearance_m, obstacle_m, slope_deg, range_km):
    """EN 12184:2014, performance classes, as tabled by Region Jönköping (plus.rjl.se)."""
    chair = find_chair(name)
    assert (chair.width_m, chair.length_m, chair.turning_diameter_m) == (width_m, length_m, turning_m)
    assert (chair.ground_clearance_m, chair.rated_obstacle_m, chair.range_km) == (clearance_m, obstacle_m, range_km)
    assert chair.rated_grade == pytest.approx(math.tan(math.radians(slope_deg)))


@pytest.mark.parametrize(
    ("name", "speed_m_s", "obstacle_m", "grade"), [("us-group2", 1.34, 0.040, 0.105), ("us-group3", 2.01, 0.060, 0.132)]
)
def test_medicare_groups_carry_the_published_limits(name, speed_m_s, obstacle_m, grade):
    """HME Business, Jan/Feb 2019, p. 14: 3 and 4.5 mph, 40 and 60 mm, 6 and 7.5 degrees (10.5 and 13.2 %)."""
    chair = find_chair(name)
    assert (chair.speed_m_s, chair.rated_obstacle_m) == (speed_m_s, obstacle_m)
    assert chair.rated_grade == pytest.approx(grade, abs=5e-4)


def test_a_chair_of_which_nothing_is_known_is_worse_than_every_class():
    """Missing takes the bad side: no class may be wider, weaker or less able than the file of gaps (sizes that it leaves open aside)."""
    unknown = find_chair("unknown")
    for name in bundled_chairs():
        chair = find_chair(name)
        assert unknown.width_m >= chair.width_m
        assert unknown.rated_obstacle_m <= chair.rated_obstacle_m
        assert unknown.rated_grade <= chair.rated_grade + 1e-4
        assert unknown.battery.capacity_ah_20h <= chair.battery.capacity_ah_20h
        assert unknown.speed_m_s <= chair.speed_m_s


def test_a_file_with_only_a_label_takes_the_bad_side_and_says_so(tmp_path):
    chair = read_chair(write(tmp_path, 'label = "somebody\'s chair, type not known"'))
    unknown = find_chair("unknown")
    assert chair.mass_kg == unknown.mass_kg
    assert chair.rated_obstacle_m == unknown.rated_obstacle_m
    assert {"mass_kg", "width_m", "rated_grade", "length_m", "battery.capacity_ah_20h"} <= set(chair.unknown_fields)
    assert chair.charger.place == "unknown"
    assert chair.is_wet_tolerant is None


def test_plain_values_and_values_with_source_are_both_read(tmp_path):
    chair = read_chair(
        write(
            tmp_path,
            """
            label = "tall chair"
            mass_kg = 120
            width_m = { value = 0.63, status = "given", source = "tape measure" }
            is_wet_tolerant = false
            [battery]
            capacity_ah_20h = 60
            chemistry = "gel"
            [charger]
            current_a = 8
            place = "with the rider"
            [gauge]
            kind = "bars"
            n_bars = 10
            """,
        )
    )
    assert (chair.mass_kg, chair.width_m, chair.is_wet_tolerant) == (120.0, 0.63, False)
    assert (chair.battery.chemistry, chair.charger.current_a, chair.gauge.n_bars) == ("gel", 8.0, 10)
    assert [s.text for s in chair.sources if s.field == "width_m"] == ["tape measure"]
    assert "width_m" not in chair.unknown_fields


def test_the_step_down_defaults_to_the_step_up(tmp_path):
    chair = read_chair(write(tmp_path, 'label = "x"\nrated_obstacle_m = 0.07'))
    assert chair.rated_obstacle_down_m == 0.07
    assert "rated_obstacle_down_m" in chair.unknown_fields


def test_masses_and_widths_add_up():
    """130 chair + 80 rider + 15 bags = 225 kg; 0.70 + 2 × 0.05 = 0.80 m."""
    chair = find_chair("en12184-b")
    assert chair.total_mass_kg == 225.0
    assert chair.clear_width_m == pytest.approx(0.80)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("mass_kg = -4", r"mine\.toml: mass_kg must be a number from 20 to 400, got -4\. Give the chair with its batteries"),
        ("width_m = 65", r"mine\.toml: width_m must be a number from 0\.4 to 1\.2, got 65\. .*65 cm is 0\.65"),
        ("rated_obstacle_m = 5", r"mine\.toml: rated_obstacle_m must be a number from 0 to 0\.3, got 5\. .*5 cm is 0\.05"),
        ('wheel = "big"', r"mine\.toml: wheel must be one of indoor, standard, outdoor, got 'big'"),
        ("widht_m = 0.6", r"mine\.toml: unknown field widht_m = 0\.6\. Did you mean width_m\?"),
        ("speed_m_s = nan", r"mine\.toml: speed_m_s must be a number"),
        ("rated_grade = 0.1\nrated_slope_deg = 6", r"both rated_slope_deg and rated_grade"),
        ("log_distance_km = 6", r"mine\.toml: .*a log needs both"),
        ("is_wet_tolerant = 1", r"is_wet_tolerant must be true or false, got 1"),
        ("battery = 24", r"battery must be a table"),
        ('[charger]\nplace = "at home"', r"charger\.place must be one of on board, .*got 'at home'"),
        ("[battery]\nnominal_v = 240", r"battery\.nominal_v must be a number from 6 to 100, got 240"),
    ],
)
def test_a_mistake_names_file_field_value_and_remedy(tmp_path, line, message):
    with pytest.raises(InputError, match=message):
        read_chair(write(tmp_path, f'label = "x"\n{line}\n'))


def test_a_chair_needs_a_label(tmp_path):
    with pytest.raises(InputError, match=r"mine\.toml: label is missing\. Name the class of chair, not the person"):
        read_chair(write(tmp_path, "mass_kg = 100"))


def test_a_wrong_name_lists_what_there_is():
    with pytest.raises(InputError, match=r"'en12184-d': no such file or class.*en12184-a, en12184-b"):
        find_chair("en12184-d")


def test_replaced_values_are_checked_again():
    with pytest.raises(InputError, match=r"width_m must be a number from 0\.4 to 1\.2, got 3\.0"):
        dataclasses.replace(find_chair("en12184-b"), width_m=3.0)


def test_charger_places_are_things_that_can_be_listed():
    for place in CHARGER_PLACES:
        assert Charger(place=place).place == place
    with pytest.raises(InputError, match="current_a must be above 0"):
        Charger(current_a=0.0)
