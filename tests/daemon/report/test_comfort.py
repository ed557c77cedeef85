"""A room's comfort against hand arithmetic."""

from __future__ import annotations

import pytest

from tests.daemon.report.rows import minutes
from thermostatd.daemon.report.comfort import median_late, room_sums


def test_comfort_minutes() -> None:
    """Ten minutes too cold, five too warm, three not known; exactly half a kelvin is neither."""
    sums = room_sums("study", minutes([19.0] * 10 + [20.0] * 5 + [19.5, 20.5] + [21.0] * 5 + [None] * 3))
    assert (sums.below_minutes, sums.above_minutes, sums.known_minutes, sums.minutes) == (10, 5, 22, 25)
    assert (sums.lowest_celsius, sums.highest_celsius) == (19.0, 21.0)
    assert sums.mean_celsius == pytest.approx((190 + 100 + 40 + 105) / 22)


def test_cooling_after_a_setback_is_not_too_warm() -> None:
    """A room at 20 °C whose target fell to 16 is no discomfort; warmer than anything wanted that day is."""
    sums = room_sums("study", minutes([20.0] * 60 + [20.8] * 7, [20.0] * 30 + [16.0] * 37))
    assert sums.above_minutes == 7


def test_arrivals() -> None:
    """A step of 4 K reached after 40 minutes, and one that was never: the second says so."""
    air = [16.0] * 10 + [16.0 + 0.1 * n for n in range(60)] + [19.8] * 30 + [16.0] * 30
    target = [16.0] * 10 + [20.0] * 90 + [16.0] * 10 + [21.0] * 20
    sums = room_sums("study", minutes(list(air), target))
    assert [(one.celsius, one.minutes_late) for one in sums.arrivals] == [(20.0, 37.0), (21.0, None)]
    assert median_late(sums.arrivals) == 37.0
