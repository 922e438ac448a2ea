"""A move written as a folder is read back as the same move."""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from rollroute.inputs.move_folder import read_folder, read_move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.tables import data_dir
from rollroute.inputs.write_folder import write_folder

TOWN = data_dir() / "quillhaven"


def test_the_bundled_evening_is_read_back_the_same(tmp_path: Path):
    """Riders, shelters with their circuits, vans, escorts, hazards with their areas; the settings but for the paths of the map."""
    move = read_move(TOWN)

    write_folder(move, tmp_path / "copy", inputs=TOWN)
    again = read_move(tmp_path / "copy")

    assert again.riders == move.riders
    assert again.shelters == move.shelters
    assert again.vans == move.vans
    assert again.escorts == move.escorts
    assert again.hazards == move.hazards
    assert again.settings.model_copy(update={"files": move.settings.files}) == move.settings
    assert (tmp_path / "copy" / str(again.settings.files.map)).resolve() == (TOWN / str(move.settings.files.map)).resolve()


@pytest.mark.parametrize("block", range(3))
def test_random_moves_are_read_back_the_same(tmp_path: Path, block: int, monkeypatch: pytest.MonkeyPatch):
    """With every field that can be unknown, infinite or a list."""
    monkeypatch.setattr(sys, "path", [str(Path(__file__).parents[1] / "planning"), *sys.path])
    from random_moves import random_move

    for seed in range(1000 + 10 * block, 1010 + 10 * block):
        move, _ = random_move(seed)
        write_folder(move, tmp_path / str(seed), inputs=tmp_path)

        reading = read_folder(tmp_path / str(seed))

        assert reading.problems == (), seed
        assert reading.move.riders == move.riders, seed
        assert reading.move.shelters == tuple(_without_empty_circuits(s) for s in move.shelters), seed
        assert reading.move.vans == move.vans, seed
        assert reading.move.escorts == move.escorts, seed
        assert reading.move.hazards == move.hazards, seed
        assert reading.move.start == move.start


def _without_empty_circuits(shelter):
    """A circuit of which neither outlets nor rating is known is no row of the table."""
    known = tuple(c for c in shelter.circuits if c.outlets is not None or c.amps is not None)
    return replace(shelter, circuits=known)


def test_hazards_keep_their_dates_when_the_start_is_another_day(tmp_path: Path):
    """A closing at 20:30 of the evening is not one of the next day; a road stays a road; several areas stay one hazard."""
    move = read_move(TOWN)
    ring = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 0.0))
    both = Hazard(label="two ponds", kind="watch", rings=(ring, tuple((x + 5, y) for x, y in ring)), starts=None, zone="A")
    later = replace(
        move,
        settings=move.settings.model_copy(update={"start": move.start + dt.timedelta(hours=16), "finish_by": None}),
        hazards=(*move.hazards, both),
    )

    write_folder(later, tmp_path / "morning", inputs=TOWN)
    again = read_move(tmp_path / "morning")

    assert again.hazards == later.hazards
    assert again.start == later.start
