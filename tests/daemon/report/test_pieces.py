"""The whole house over time, degree days and the loss, against hand arithmetic."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as some

from tests.daemon.report.rows import START, heat, minutes
from thermostatd.daemon.report.energy import heater_sums
from thermostatd.daemon.report.pieces import degree_days, loss_watts_per_kelvin, pieces


def test_loss_from_degree_days() -> None:
    """100 W/K over 2000 K·d are 4800 kWh (derived)."""
    assert loss_watts_per_kelvin(4800.0, 2000.0) == pytest.approx(100.0)


def test_a_house_of_100_watts_per_kelvin() -> None:
    """Two hundred days 10 K warmer than outdoors with 1000 W: 2000 K·d, 4800 kWh, 100 W/K (derived)."""
    days = 200
    edges = [datetime(2026, 1, 12, tzinfo=UTC) + timedelta(days=n) for n in range(0, days + 1, 50)]
    rooms = [minutes([20.0] * (96 * days), outdoor=10.0, span=15)]
    heaters = [heat([1000 * 900] * (96 * days), span=15)]
    found = pieces(edges, rooms, heaters, lambda _: 0.5)
    assert sum(piece.kwh for piece in found) == pytest.approx(4800.0)
    assert sum(piece.kelvin_days for piece in found) == pytest.approx(2000.0)
    assert sum(piece.cost for piece in found) == pytest.approx(2400.0)
    assert [piece.loss_watts_per_kelvin for piece in found] == pytest.approx([100.0] * 4)
    assert [piece.outdoor_celsius for piece in found] == pytest.approx([10.0] * 4)


def test_two_rooms_count_their_mean() -> None:
    """Rooms of 20 and 16 °C over 0 °C for a day are 18 K·d, not 36."""
    edges = [datetime(2026, 1, 12, tzinfo=UTC), datetime(2026, 1, 13, tzinfo=UTC)]
    found = pieces(edges, [minutes([20.0] * 1440), minutes([16.0] * 1440)], [], lambda _: 0.0)
    assert found[0].kelvin_days == pytest.approx(18.0)


def test_an_hour_tells_no_loss() -> None:
    """What the walls take up in an hour is most of it: 20 W/K by night and 97 in the morning were told."""
    edges = [datetime(2026, 1, 12, tzinfo=UTC) + timedelta(hours=n) for n in range(2)]
    (hour,) = pieces(edges, [minutes([20.0] * 60, outdoor=-10.0)], [heat([36_000] * 60)], lambda _: 0.0)
    assert hour.kelvin_days > 0.5
    assert hour.loss_watts_per_kelvin is None
    assert hour.kwh == pytest.approx(0.6)


def test_degree_days_by_the_day() -> None:
    """Days of 7, 17 and 20 °C under 17 °C are 10 K·d; an unknown day adds nothing."""
    assert degree_days([7.0, 17.0, 20.0, None]) == pytest.approx(10.0)


@given(some.lists(some.integers(0, 200_000), max_size=200), some.integers(1, 9))
def test_pieces_add_up(watt_seconds: list[int], count: int) -> None:
    """However a period is cut, the pieces hold all the energy."""
    edges = [datetime(2026, 1, 12, tzinfo=UTC) + timedelta(minutes=25 * n) for n in range(count + 1)]
    rows = [row for row in heat(watt_seconds) if row.minute < START + 25 * count]
    found = pieces(edges, [], [rows], lambda _: 1.0)
    assert sum(piece.kwh for piece in found) == pytest.approx(heater_sums("x", rows, lambda _: 1.0).kwh)
