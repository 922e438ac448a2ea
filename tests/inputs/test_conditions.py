"""The departure, as typed."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterator

import pytest

from rollroute.errors import InputError
from rollroute.inputs.conditions import parse_departure

pytestmark = pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of this system can't be set for a test")


@pytest.fixture
def live_in(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Set the zone of this machine's clock; it is set back afterwards."""

    def move_to(zone: str) -> None:
        monkeypatch.setenv("TZ", zone)
        time.tzset()

    yield move_to
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("zone", "now", "text"),
    [
        ("Europe/Madrid", "2026-03-28T22:00+01:00", "2026-03-29T04:00"),  # 2026-03-29 02:00 becomes 03:00 (IANA time zone database)
        ("America/New_York", "2026-10-31T22:00-04:00", "2026-11-01T04:00"),  # 2026-11-01 02:00 becomes 01:00
        ("Europe/Madrid", "2026-03-29T01:30+01:00", "04:00"),
    ],
)
def test_a_departure_beyond_a_change_of_the_clocks_needs_its_zone(live_in: Callable[[str], None], zone: str, now: str, text: str) -> None:
    """Taken in the zone of now it would be an hour off, and so would every closing."""
    live_in(zone)
    with pytest.raises(InputError, match=r"clocks change .*T04:00:00[+-]\d\d:00"):
        parse_departure(text, dt.datetime.fromisoformat(now))


def test_a_departure_on_the_same_side_of_the_change_has_the_zone_of_now(live_in: Callable[[str], None]) -> None:
    """With a zone of its own it is taken as it stands, also beyond the change; midnight belongs to the day that was typed."""
    live_in("Europe/Madrid")
    now = dt.datetime.fromisoformat("2026-03-28T22:00+01:00")
    assert parse_departure("2026-03-29T00:30", now) == dt.datetime.fromisoformat("2026-03-29T00:30+01:00")
    assert parse_departure("2026-03-29T04:00+02:00", now) == dt.datetime.fromisoformat("2026-03-29T02:00+00:00")
    assert parse_departure("23:10", now) == dt.datetime.fromisoformat("2026-03-28T23:10+01:00")


def test_a_clock_of_another_zone_is_not_judged_by_this_machine(live_in: Callable[[str], None]) -> None:
    """Who passes a ``now`` of another zone means that zone."""
    live_in("Europe/Madrid")
    now = dt.datetime.fromisoformat("2026-03-28T22:00-02:00")
    assert parse_departure("2026-03-29T04:00", now) == dt.datetime.fromisoformat("2026-03-29T04:00-02:00")
