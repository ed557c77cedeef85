"""What a day's energy would have cost if it had been taken evenly over that day: what the real cost is held against.

Rules: by whole local days, also where a period begins or ends within one; nothing where a house has one price only.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.core.tariff import spans
from thermostatd.daemon.report.energy import MinutePrices
from thermostatd.daemon.report.period import Period


def even_prices(house: House, when: Period) -> MinutePrices | None:
    """Each minute's price as the mean of its day's; None where a house has no prices by time of day."""
    if house.tariff is None or not house.tariff.prices:
        return None
    zone = ZoneInfo(house.house.timezone)
    found, begins = [], _midnight(when.since, zone)
    while begins < when.until:
        ends = _midnight(begins.astimezone(zone) + timedelta(hours=36), zone)
        found.append((begins, ends, _mean(house, begins, ends)))
        begins = ends
    return MinutePrices(found)


def _midnight(at: datetime, zone: ZoneInfo) -> datetime:
    local = at.astimezone(zone)
    return datetime(local.year, local.month, local.day, tzinfo=zone)


def _mean(house: House, begins: datetime, ends: datetime) -> float:
    parts = spans(house, begins, ends)
    seconds = [end.timestamp() - begin.timestamp() for begin, end, _ in parts]
    return sum(s * price for s, (_, _, price) in zip(seconds, parts, strict=True)) / sum(seconds)
