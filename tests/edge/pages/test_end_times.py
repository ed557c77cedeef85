"""When a choice of an end comes, on the two nights whose clocks are changed: judged by seconds, not by clocks."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from thermostatd.edge.pages.asks import Malformed, ends

ZONE = ZoneInfo("Europe/Berlin")
# 2026-10-25: 02:00 to 03:00 comes twice, its second at 01:00 UTC. 2026-03-29: 02:00 to 03:00 is skipped, at 01:00 UTC.


def minutes_to(text: str, utc: datetime, **typed: str) -> float:
    """Minutes of life from a moment to the end that was chosen then."""
    end = ends(text, utc.astimezone(ZONE), **typed)
    assert isinstance(end, datetime)
    return (end.timestamp() - utc.timestamp()) / 60


@pytest.mark.parametrize(
    "begin", [datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 3, 29, 0, 30, tzinfo=UTC)]
)
@pytest.mark.parametrize("minutes", [60, 120])
def test_minutes_are_minutes_of_life(begin: datetime, minutes: int) -> None:
    """An hour is an hour, also where the clocks are set back or on within it."""
    assert minutes_to(f"in-{minutes}", begin) == minutes


@pytest.mark.parametrize(
    ("hour", "minute", "typed", "minutes"),
    [
        (0, 15, "02:30", 15.0),  # at the first 02:15
        (0, 45, "02:30", 45.0),  # at the first 02:45: its second is to come
        (1, 15, "02:30", 15.0),  # at the second 02:15
        (1, 45, "02:30", 24 * 60 - 15.0),  # over, both
    ],
)
def test_an_hour_that_comes_twice(hour: int, minute: int, typed: str, minutes: float) -> None:
    """A typed time is met at the next moment the clocks show it, be it the first or the second."""
    assert minutes_to("at", datetime(2026, 10, 25, hour, minute, tzinfo=UTC), at_text=typed) == minutes


def test_today_until_its_second_time_is_over() -> None:
    """A time of today is refused only once it is over for good."""
    today = {"at_text": "02:30", "day_text": "0"}
    assert minutes_to("at", datetime(2026, 10, 25, 1, 15, tzinfo=UTC), **today) == 15
    with pytest.raises(Malformed):
        minutes_to("at", datetime(2026, 10, 25, 1, 45, tzinfo=UTC), **today)


def test_a_skipped_time() -> None:
    """A time that this day does not have is met at once after; past that it is the next day's."""
    assert minutes_to("at", datetime(2026, 3, 29, 0, 30, tzinfo=UTC), at_text="02:30") == 60
    assert minutes_to("at", datetime(2026, 3, 29, 1, 15, tzinfo=UTC), at_text="02:30") == 23 * 60 + 15
