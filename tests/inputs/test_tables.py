"""The tables of data/: every number founded, nothing unknown better than the known."""

import tomllib

import numpy as np
import pytest

from rollroute.errors import InputError
from rollroute.inputs.tables import STATUSES, WHEELS, Section, data_dir, load_surfaces, load_table, read_toml


def test_every_surface_says_where_its_numbers_come_from():
    """A table of assumptions without its grounds reads like a table of measurements."""
    for name, cells in load_table("surfaces")["surface"].items():
        assert cells["status"] in STATUSES, name
        assert len(cells["note"]) > 5, name


def test_every_value_of_a_bundled_chair_has_status_and_source():
    """A class limit and our own guess must be told apart on the printed page."""
    for path in (data_dir() / "chairs").glob("*.toml"):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        cells = {**{k: v for k, v in table.items() if k not in ("label", "source", "battery")}, **table["battery"]}
        for name, cell in cells.items():
            assert cell["status"] in STATUSES, f"{path.name}: {name}"
            assert len(cell["source"]) > 5, f"{path.name}: {name}"


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("is_wet", [False, True])
def test_unknown_surface_is_never_better_than_one_that_this_wheel_may_drive(wheel, is_wet):
    """Model, section 1: an answer with a fact unknown is never better than with the same fact known bad."""
    table = load_surfaces()
    rows = table.lookup(wheel, is_wet=is_wet)
    unknown = table.code(None)
    is_open = rows.verdict < 2
    assert rows.verdict[unknown] == 1
    assert np.all(rows.crr_ratio[is_open] <= rows.crr_ratio[unknown])
    assert np.all(rows.speed_factor[is_open] >= rows.speed_factor[unknown])


@pytest.mark.parametrize("wheel", WHEELS)
def test_rain_never_helps(wheel):
    """Wet: never less resistance, never faster, never a better verdict."""
    dry, wet = (load_surfaces().lookup(wheel, is_wet=w) for w in (False, True))
    assert np.all(wet.crr_ratio >= dry.crr_ratio)
    assert np.all(wet.speed_factor <= dry.speed_factor)
    assert np.all(wet.verdict >= dry.verdict)


def test_larger_wheels_never_have_a_worse_verdict():
    """Indoor, standard, outdoor: the order of the columns means something."""
    for is_wet in (False, True):
        indoor, standard, outdoor = (load_surfaces().lookup(w, is_wet=is_wet).verdict for w in WHEELS)
        assert np.all(indoor >= standard)
        assert np.all(standard >= outdoor)


def test_a_word_the_table_lacks_is_unknown():
    """A misspelt or new surface word must not pass as asphalt."""
    table = load_surfaces()
    assert table.names[table.code("asphlat")] == "unknown"
    assert table.names[table.code("dirt")] == "ground"
    assert table.smoothness_verdict("no_such_word", "outdoor") == "question"


def test_lookup_refuses_an_unknown_wheel():
    with pytest.raises(InputError, match=r"indoor, standard, outdoor.*'big'"):
        load_surfaces().lookup("big")


def test_missing_file_names_itself_and_the_remedy(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.toml: can't be read.*Give the path"):
        read_toml(tmp_path / "nowhere.toml")


def test_damaged_toml_names_the_line(tmp_path):
    path = tmp_path / "broken.toml"
    path.write_text("label = \n", encoding="utf-8")
    with pytest.raises(InputError, match=r"broken\.toml: not TOML.*line 1"):
        read_toml(path)


def test_a_misspelt_field_is_refused_with_the_near_name():
    """`widht_m` must not leave the width unknown in silence."""
    section = Section(where="x.toml", values={"widht_m": 0.6})
    section.number("width_m", 0.4, 1.2)
    with pytest.raises(InputError, match=r"x\.toml: unknown field widht_m = 0\.6\. Did you mean width_m\?"):
        section.finish()


def test_true_is_not_the_number_one():
    section = Section(where="x.toml", values={"mass_kg": True})
    with pytest.raises(InputError, match="must be a number"):
        section.number("mass_kg", 0.0, 100.0)


def test_a_value_from_the_fallback_is_marked_unknown():
    """What the file does not state must be printable as not stated."""
    section = Section(where="x.toml", values={}, fallback={"mass_kg": {"value": 150.0, "status": "assumption", "source": "heavy"}})
    assert section.number("mass_kg", 20.0, 400.0) == 150.0
    assert section.sources[0].status == "unknown"
