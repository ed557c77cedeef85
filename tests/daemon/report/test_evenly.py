"""What energy costs against the same taken evenly over its day."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.daemon.report.rows import START, heat
from thermostatd.core.house import House
from thermostatd.core.tariff import spans
from thermostatd.daemon.report.columns import heater_columns
from thermostatd.daemon.report.energy import MinutePrices, kwh_and_cost
from thermostatd.daemon.report.evenly import even_prices
from thermostatd.daemon.report.period import Period
from thermostatd.edge.store import HeaterMinuteRow


def _house(prices: list[dict[str, object]], zone: str = "UTC") -> House:
    return House.model_validate(
        {"house": {"timezone": zone}, "tariff": {"per_kwh": 1.0, "prices": prices}, "room": []}
    )


DEAR = [{"from": "16:00", "to": "22:00", "per_kwh": 3.0}]


def _period(begins: datetime, ends: datetime) -> Period:
    return Period(begins, ends, (begins, ends), "hour")


def _costs(house: House, when: Period, rows: list[HeaterMinuteRow]) -> tuple[float, float]:
    kept, even = heater_columns(rows), even_prices(house, when)
    assert even is not None
    real = MinutePrices(spans(house, when.since, when.until))
    return float(kwh_and_cost(kept, real)[1].sum()), float(kwh_and_cost(kept, even)[1].sum())


def test_heat_of_cheap_hours_is_held_against_the_mean_of_its_day() -> None:
    """7.2 kWh of the morning at 1.00; a day's mean of six hours at 3 and eighteen at 1 is 1.50 (by hand)."""
    day = _period(datetime(2026, 1, 12, tzinfo=UTC), datetime(2026, 1, 13, tzinfo=UTC))
    cost, even = _costs(_house(DEAR), day, heat([36_000] * 720))
    assert (cost, even) == pytest.approx((7.2, 10.8))


@pytest.mark.parametrize("day", ["2026-01-12", "2026-03-29", "2026-10-25"])
def test_what_is_taken_evenly_costs_the_same_on_a_day_of_any_length(day: str) -> None:
    """Also where clocks go on or back within it."""
    zone = ZoneInfo("Europe/Oslo")
    begins = datetime.fromisoformat(day).replace(tzinfo=zone)
    ends = datetime.fromtimestamp(begins.timestamp() + 30 * 3600, UTC).astimezone(zone).replace(hour=0)
    first = int(begins.timestamp() // 60)
    count = int(ends.timestamp() // 60) - first
    rows = [HeaterMinuteRow(first + n, "study/column", 60, 36_000, 0, 1) for n in range(count)]
    cost, even = _costs(_house(DEAR, "Europe/Oslo"), _period(begins, ends), rows)
    assert count in (23 * 60, 24 * 60, 25 * 60)
    assert even == pytest.approx(cost, rel=1e-9)


def test_a_period_that_begins_within_a_day_has_the_mean_of_the_whole_day() -> None:
    """An evening's report does not call its own dear hours the usual."""
    evening = _period(datetime(2026, 1, 12, 16, tzinfo=UTC), datetime(2026, 1, 12, 20, tzinfo=UTC))
    rows = [HeaterMinuteRow(START + 960 + n, "study/column", 60, 60_000, 0, 1) for n in range(60)]
    assert _costs(_house(DEAR), evening, rows) == pytest.approx((3.0, 1.5))


def test_one_price_has_nothing_to_be_held_against() -> None:
    """Without hours of their own price there is nothing to tell."""
    day = _period(datetime(2026, 1, 12, tzinfo=UTC), datetime(2026, 1, 13, tzinfo=UTC))
    assert even_prices(_house([]), day) is None
