"""The sums of a report against hand arithmetic."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as some

from thermostatd.core.house import House
from thermostatd.core.tariff import Prices
from thermostatd.daemon.report.period import period
from thermostatd.daemon.report.reckon import (
    HeaterSums,
    degree_days,
    heater_sums,
    loss_watts_per_kelvin,
    median_late,
    pieces,
    room_sums,
)
from thermostatd.edge.store import HeaterMinuteRow, MinuteRow

START = int(datetime(2026, 1, 12, tzinfo=UTC).timestamp() // 60)
OSLO = ZoneInfo("Europe/Oslo")


def _minutes(
    air: list[float | None], target: float | list[float] = 20.0, outdoor: float | None = 0.0, span: int = 1
):
    wanted = target if isinstance(target, list) else [target] * len(air)
    return [
        MinuteRow(START + n * span, "study", one, goal, outdoor, "usual", span)
        for n, (one, goal) in enumerate(zip(air, wanted, strict=True))
    ]


def _heat(watt_seconds: list[int], span: int = 1, on: int = 60, clicks: int = 0) -> list[HeaterMinuteRow]:
    return [
        HeaterMinuteRow(START + n * span, "study/column", on, one, clicks, span)
        for n, one in enumerate(watt_seconds)
    ]


def test_loss_from_degree_days() -> None:
    """100 W/K over 2000 K·d are 4800 kWh (derived)."""
    assert loss_watts_per_kelvin(4800.0, 2000.0) == pytest.approx(100.0)


def test_a_house_of_100_watts_per_kelvin() -> None:
    """Two hundred days 10 K warmer than outdoors with 1000 W: 2000 K·d, 4800 kWh, 100 W/K (derived)."""
    days = 200
    edges = [datetime(2026, 1, 12, tzinfo=UTC) + timedelta(days=n) for n in range(0, days + 1, 50)]
    rooms = [_minutes([20.0] * (96 * days), outdoor=10.0, span=15)]
    heat = [_heat([1000 * 900] * (96 * days), span=15)]
    found = pieces(edges, rooms, heat, lambda _: 0.5)
    assert sum(piece.kwh for piece in found) == pytest.approx(4800.0)
    assert sum(piece.kelvin_days for piece in found) == pytest.approx(2000.0)
    assert sum(piece.cost for piece in found) == pytest.approx(2400.0)
    assert [piece.loss_watts_per_kelvin for piece in found] == pytest.approx([100.0] * 4)
    assert [piece.outdoor_celsius for piece in found] == pytest.approx([10.0] * 4)


def test_two_rooms_count_their_mean() -> None:
    """Rooms of 20 and 16 °C over 0 °C for a day are 18 K·d, not 36."""
    edges = [datetime(2026, 1, 12, tzinfo=UTC), datetime(2026, 1, 13, tzinfo=UTC)]
    found = pieces(edges, [_minutes([20.0] * 1440), _minutes([16.0] * 1440)], [], lambda _: 0.0)
    assert found[0].kelvin_days == pytest.approx(18.0)


def test_degree_days_by_the_day() -> None:
    """Days of 7, 17 and 20 °C under 17 °C are 10 K·d; an unknown day adds nothing."""
    assert degree_days([7.0, 17.0, 20.0, None]) == pytest.approx(10.0)


def test_energy_and_clicks() -> None:
    """An hour at 600 W is 0.6 kWh; 60 minutes with a click each are 60 clicks."""
    sums = heater_sums("study/column", _heat([36_000] * 60, clicks=1), lambda _: 2.0)
    assert (sums.kwh, sums.cost, sums.on_hours, sums.clicks) == pytest.approx((0.6, 1.2, 1.0, 60))


def test_cost_by_the_hour_of_the_tariff() -> None:
    """600 W through the day: 18 h at 1.00 and 6 h at 3.00 cost 10.80 + 10.80 (derived), by minutes and by quarters."""
    house = House.model_validate(
        {
            "house": {"timezone": "UTC"},
            "tariff": {"per_kwh": 1.0, "prices": [{"from": "16:00", "to": "22:00", "per_kwh": 3.0}]},
        }
    )
    prices = Prices(house)
    price = lambda minute: prices.per_kwh(datetime.fromtimestamp(minute * 60, UTC))  # noqa: E731
    for span in (1, 15):
        rows = _heat([600 * 60 * span] * (1440 // span), span=span)
        assert heater_sums("study/column", rows, price).cost == pytest.approx(10.8 + 10.8)


def test_a_quarter_hour_over_a_change_of_price() -> None:
    """A quarter hour of which five minutes are dear has the mean of its minutes' prices."""
    rows = _heat([3_600_000], span=15)
    assert heater_sums("x", rows, lambda minute: 4.0 if minute >= START + 10 else 1.0).cost == pytest.approx(
        2.0
    )


def test_comfort_minutes() -> None:
    """Ten minutes too cold, five too warm, three not known; exactly half a kelvin is neither."""
    sums = room_sums("study", _minutes([19.0] * 10 + [20.0] * 5 + [19.5, 20.5] + [21.0] * 5 + [None] * 3))
    assert (sums.below_minutes, sums.above_minutes, sums.known_minutes, sums.minutes) == (10, 5, 22, 25)
    assert (sums.lowest_celsius, sums.highest_celsius) == (19.0, 21.0)
    assert sums.mean_celsius == pytest.approx((190 + 100 + 40 + 105) / 22)


def test_cooling_after_a_setback_is_not_too_warm() -> None:
    """A room at 20 °C whose target fell to 16 is no discomfort; warmer than anything wanted that day is."""
    sums = room_sums("study", _minutes([20.0] * 60 + [20.8] * 7, [20.0] * 30 + [16.0] * 37))
    assert sums.above_minutes == 7


def test_arrivals() -> None:
    """A step of 4 K reached after 40 minutes, and one that was never: the second says so."""
    air = [16.0] * 10 + [16.0 + 0.1 * n for n in range(60)] + [19.8] * 30 + [16.0] * 30
    target = [16.0] * 10 + [20.0] * 90 + [16.0] * 10 + [21.0] * 20
    sums = room_sums("study", _minutes(list(air), target))
    assert [(one.celsius, one.minutes_late) for one in sums.arrivals] == [(20.0, 37.0), (21.0, None)]
    assert median_late(sums.arrivals) == 37.0


def test_wear() -> None:
    """Six cycles an hour, 180 days a year: 100 000 last 3.86 years (IEC 61810 class, second-hand), as on the owner's
    page; a share of a relay counts cycles, each an ON and an OFF."""
    sums = HeaterSums("study/column", clicks=2 * 6 * 24 * 7, operations=0, rated_operations=100_000, days=7.0)
    assert sums.years_left == pytest.approx(3.86, abs=0.005)
    assert sums.worn_share == 0.0
    used = replace(sums, operations=100_000)
    assert used.worn_share == pytest.approx(0.5)
    assert used.years_left == pytest.approx(3.86 / 2, abs=0.005)


def test_a_day_or_two_are_no_pace() -> None:
    """A cold day says nothing of years; nor does a relay that did not switch, or of which no rating is known."""
    sums = HeaterSums("study/column", clicks=90, operations=900, rated_operations=100_000, days=2.9)
    assert sums.years_left is None
    assert replace(sums, days=3.0).years_left is not None
    assert replace(sums, days=30.0, clicks=0).years_left is None
    unrated = replace(sums, rated_operations=0)
    assert unrated.worn_share is None
    assert unrated.years_left is None


@given(some.lists(some.integers(0, 200_000), max_size=200), some.integers(1, 9))
def test_pieces_add_up(watt_seconds: list[int], count: int) -> None:
    """However a period is cut, the pieces hold all the energy."""
    edges = [datetime(2026, 1, 12, tzinfo=UTC) + timedelta(minutes=25 * n) for n in range(count + 1)]
    rows = [row for row in _heat(watt_seconds) if row.minute < START + 25 * count]
    found = pieces(edges, [], [rows], lambda _: 1.0)
    assert sum(piece.kwh for piece in found) == pytest.approx(heater_sums("x", rows, lambda _: 1.0).kwh)


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
