"""A heater's energy, its cost and its wear against hand arithmetic."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.daemon.report.rows import START, heat
from thermostatd.core.house import House
from thermostatd.core.tariff import Prices
from thermostatd.daemon.report.energy import HeaterSums, heater_sums


def test_energy_and_clicks() -> None:
    """An hour at 600 W is 0.6 kWh; 60 minutes with a click each are 60 clicks."""
    sums = heater_sums("study/column", heat([36_000] * 60, clicks=1), lambda _: 2.0)
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
        rows = heat([600 * 60 * span] * (1440 // span), span=span)
        assert heater_sums("study/column", rows, price).cost == pytest.approx(10.8 + 10.8)


def test_a_quarter_hour_over_a_change_of_price() -> None:
    """A quarter hour of which five minutes are dear has the mean of its minutes' prices."""
    rows = heat([3_600_000], span=15)
    assert heater_sums("x", rows, lambda minute: 4.0 if minute >= START + 10 else 1.0).cost == pytest.approx(
        2.0
    )


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
