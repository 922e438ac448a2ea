"""Hours of shelters as people write them: clock times, over midnight, read from any hour of the day."""

from __future__ import annotations

import datetime as dt

import pytest

from rollroute.inputs.move_shelters import ALIASES, read_shelters
from rollroute.inputs.tabular import Table

ZONE = dt.timezone(dt.timedelta(hours=-2))


def hours(opens: str, closes: str, start: str) -> tuple[str, str]:
    """Opening and closing as read for a move that starts on 14 March at ``start``."""
    moment = dt.datetime.fromisoformat(f"2026-03-14T{start}").replace(tzinfo=ZONE)
    row = {"name": "Hall", "lat": "45.2", "lon": "-37.3", "opens": opens, "closes": closes}
    (shelter,), problems = read_shelters(Table("shelters.csv", [(2, row)], tuple(ALIASES), ()), moment)
    assert problems == []
    return f"{shelter.opens:%d %H:%M}", f"{shelter.closes:%d %H:%M}"


@pytest.mark.parametrize(
    ("start", "opens", "closes"),
    [
        ("09:00", "14 18:00", "15 02:00"),
        ("13:00", "14 18:00", "15 02:00"),  # 02:00 is nearer in the past: a closing before the opening is meant for the night after
        ("20:00", "14 18:00", "15 02:00"),
        ("23:30", "14 18:00", "15 02:00"),
        ("01:30", "13 18:00", "14 02:00"),
    ],
)
def test_hours_over_midnight_end_after_they_begin(start: str, opens: str, closes: str):
    """Open from 18:00 to 02:00: read at any hour, it closes eight hours after it opens."""
    assert hours("18:00", "02:00", start) == (opens, closes)


def test_hours_that_are_over_stay_over():
    """Open from 14:00 to 17:00, asked at 18:40: closed, not open until tomorrow."""
    assert hours("14:00", "17:00", "18:40") == ("14 14:00", "14 17:00")


def test_what_is_always_open_and_has_closed_is_closed():
    """``always`` is open at the start; a closing an hour before may be over, and that is the bad side."""
    assert hours("always", "22:00", "23:25") == ("14 23:25", "14 22:00")
