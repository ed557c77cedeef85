"""What each place took, by day or by week, and what that cost where the house file has a tariff.

Rules: energy has the price of the time it flowed in; money is told only where prices are known; sums are of the numbers
before they are rounded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from thermostatd.core.house import House
from thermostatd.core.tariff import spans
from thermostatd.edge.pages.amounts import number
from thermostatd.edge.pages.door import Door

Times = Sequence[tuple[datetime, datetime]]


@dataclass(frozen=True, slots=True)
class Taken:
    """One number of the table: kWh, its share of the greatest in per cent, money (None without a tariff or energy)."""

    any: bool
    kwh: str
    share: float
    cost: str | None


@dataclass(frozen=True, slots=True)
class EnergyTable:
    """A row a place, a column a day or week, and the sums below."""

    title: str
    columns: list[str]
    rows: list[tuple[str, list[Taken]]]
    sums: list[Taken]


async def energy_table(door: Door, title: str, columns: list[str], times: Times) -> EnergyTable:
    """The table of these times, in their order."""
    pieces = [(begins, ends, price, column) for column, span in enumerate(times)
              for begins, ends, price in spans(door.house, *span)]  # fmt: skip
    took = await door.energies([(begins, ends) for begins, ends, _, _ in pieces])
    prices = [(price, column) for _, _, price, column in pieces]
    rows = [(name, _sums(took, keys, prices, len(times))) for name, keys in _places(door.house)]
    most = max([0.001, *(kwh for _, row in rows for kwh, _ in row)])
    priced = door.house.tariff is not None
    together = [
        (sum(row[at][0] for _, row in rows), sum(row[at][1] for _, row in rows)) for at in range(len(times))
    ]
    return EnergyTable(
        title,
        columns,
        [(name, [_taken(*one, most, priced) for one in row]) for name, row in rows],
        [_taken(*one, most, priced) for one in together],
    )


def _places(house: House) -> list[tuple[str, list[str]]]:
    """Each room's and spot's heaters as the house file has them: one that was carried takes no past with it."""
    keys = [key for key, _, _ in house.heaters()]
    names = [*(room.name for room in house.rooms), *(spot.name for spot in house.spots)]
    return [(name, [key for key in keys if key.rpartition("/")[0] == name]) for name in names]


def _sums(
    took: Mapping[str, Sequence[float]], keys: list[str], prices: list[tuple[float, int]], columns: int
) -> list[tuple[float, float]]:
    """kWh and money of a place, a column each."""
    sums = [(0.0, 0.0)] * columns
    for place, (price, column) in enumerate(prices):
        kwh = sum(took[key][place] for key in keys if key in took) / 1000.0
        before = sums[column]
        sums[column] = (before[0] + kwh, before[1] + kwh * price)
    return sums


def _taken(kwh: float, cost: float, most: float, priced: bool) -> Taken:
    if kwh < 0.05:
        return Taken(False, "–", 0.0, None)
    share = round(min(100.0, 100 * kwh / most), 1)
    return Taken(True, number(kwh, 1), share, number(cost, 0 if cost >= 100 else 2) if priced else None)
