"""The sweep tells what goes wrong in its houses, and the sound ones of these seeds hold."""

from __future__ import annotations

import pytest

from tests.bench.sweep import Life
from thermostatd.core import demand


def test_two_hours_of_a_house_show_no_fault():
    """Nor is the room's way up from the start called cold."""
    life = Life(3).live(1.0 / 12.0)
    assert (life.faults, life.odd) == ([], [])
    assert life.simulated.steady >= 7200.0


def test_a_law_that_fails_is_a_fault(monkeypatch):
    """In each room that it controls."""

    def fails(_):
        raise ZeroDivisionError

    monkeypatch.setattr(demand, "LAWS", dict.fromkeys(demand.LAWS, fails))
    life = Life(3).live(0.001)
    assert any("The control law failed (ZeroDivisionError)" in one for one in life.faults)


@pytest.mark.night
@pytest.mark.timeout(1200)
def test_days_of_ten_houses_show_no_fault():
    """No law and no check fails, and no trouble is told of what is sound."""
    assert [life.faults for life in (Life(seed).live(2.0) for seed in range(10))] == [[]] * 10
