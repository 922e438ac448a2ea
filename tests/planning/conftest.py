"""The bundled evening, planned with little effort."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir


@pytest.fixture(scope="session")
def move() -> Move:
    """The bundled move; its exact part is given 0.3 of its work, so that a plan takes a second."""
    found = read_move(data_dir() / "quillhaven")
    effort = found.settings.effort.model_copy(update={"exact_work": 0.3})
    return replace(found, settings=found.settings.model_copy(update={"effort": effort}))
