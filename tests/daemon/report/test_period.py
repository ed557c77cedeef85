"""From when to when a report goes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from thermostatd.daemon.report.period import period

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 1, 14, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "days", "piece", "count"),
    [("day", 1, "hour", 24), ("week", 7, "day", 7), ("month", 30, "day", 30)],
)
def test_periods(kind: str, days: int, piece: str, count: int) -> None:
    """A period ends with today, in the house's own days."""
    when = period(kind, OSLO, NOW)
    assert when.until == datetime(2026, 1, 15, tzinfo=OSLO)
    assert when.since == datetime(2026, 1, 15, tzinfo=OSLO) - timedelta(days=days)
    assert (when.piece, len(when.edges) - 1) == (piece, count)
    assert when.edges == tuple(sorted(when.edges))


def test_a_winter_and_odd_days() -> None:
    """A winter begins in October or with the season; the spring night has 23 hours; the wrong order is refused."""
    assert period("winter", OSLO, NOW).since == datetime(2025, 10, 1, tzinfo=OSLO)
    assert period("winter", OSLO, NOW, season=(9, 15)).since == datetime(2025, 9, 15, tzinfo=OSLO)
    spring = period("day", OSLO, NOW, date(2026, 3, 29), date(2026, 3, 29))
    assert len(spring.edges) - 1 == 23
    with pytest.raises(ValueError, match="exchange"):
        period("day", OSLO, NOW, date(2026, 2, 1), date(2026, 1, 1))
