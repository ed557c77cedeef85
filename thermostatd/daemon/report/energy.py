"""A heater's energy in a period, what it cost, and what its relay has used of its life. Pure.

Rules: energy has the price of the minute it flowed in; a quarter hour has the mean of its minutes' prices.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from thermostatd.daemon.report.columns import HeaterColumns, Numbers, Whole, heater_columns
from thermostatd.edge.store import HeaterMinuteRow
from thermostatd.physics.wear import Part, wear

DAY_SECONDS = 86400.0
JOULES_PER_KWH = 3.6e6
Price = Callable[[int], float]
"""The price of a kilowatt-hour in a minute (Unix seconds / 60)."""


@dataclass
class HeaterSums:
    """One heater in the period; `clicks` and `operations` count ON and OFF each, these of its relay since it was new;
    `rated_operations` are cycles of both."""

    key: str
    kwh: float = 0.0
    cost: float = 0.0
    on_hours: float = 0.0
    clicks: int = 0
    trips: int = 0
    operations: int = 0
    rated_operations: int = 0
    days: float = 0.0

    @property
    def relay(self) -> Part | None:
        """What its relay has used of its rated cycles, and for how long it lasts at the period's pace."""
        if not self.rated_operations:
            return None
        return wear(
            self.operations,
            0.0,
            0,
            rated_operations=float(self.rated_operations),
            season_seconds=self.days * DAY_SECONDS,
            season_switchings=self.clicks,
        ).relay

    @property
    def worn_share(self) -> float | None:
        """Share of the cycles that the relay is made for."""
        return self.relay.share if self.relay else None

    @property
    def years_left(self) -> float | None:
        """Years until then, each with a heating season at the period's pace; None of under three days."""
        return self.relay.years_left if self.relay else None


class MinutePrices:
    """The price of each minute of a span, as one row of numbers."""

    def __init__(self, pieces: Sequence[tuple[datetime, datetime, float]]) -> None:
        """`pieces` follow each other without a gap: begin, end, price of a kilowatt-hour."""
        edges = [int(begins.timestamp() // 60) for begins, _, _ in pieces]
        edges.append(int(pieces[-1][1].timestamp() // 60) + 15)
        prices = np.repeat([price for _, _, price in pieces], np.diff(edges))
        self._first, self._sums = edges[0], np.concatenate(([0.0], np.cumsum(prices)))

    def means(self, minute: Whole, span: Whole) -> Numbers:
        """The mean price of each row's minutes; a minute outside has that of the nearest."""
        most = len(self._sums) - 1
        begins = np.clip(minute - self._first, 0, most - 1)
        ends = np.clip(begins + span, 1, most)
        found: Numbers = (self._sums[ends] - self._sums[begins]) / (ends - begins)
        return found


def heater_sums(
    key: str, rows: HeaterColumns | Sequence[HeaterMinuteRow], price: Price | MinutePrices
) -> HeaterSums:
    """A heater's energy, its cost, its hours and clicks."""
    kept = heater_columns(rows)
    kwh, cost = kwh_and_cost(kept, price)
    return HeaterSums(
        key,
        kwh=float(kwh.sum()),
        cost=float(cost.sum()),
        on_hours=float(kept.on_seconds.sum()) / 3600.0,
        clicks=int(kept.switches.sum()),
    )


def kwh_and_cost(kept: HeaterColumns, price: Price | MinutePrices) -> tuple[Numbers, Numbers]:
    """The energy of each row, kWh, and what it cost."""
    kwh = kept.watt_seconds / JOULES_PER_KWH
    return kwh, kwh * _prices(kept, price)


def _prices(kept: HeaterColumns, price: Price | MinutePrices) -> Numbers:
    """The price of each row."""
    if isinstance(price, MinutePrices):
        return price.means(kept.minute, kept.span)
    rows = zip(kept.minute.tolist(), kept.span.tolist(), strict=True)
    return np.array([sum(price(minute + n) for n in range(span)) / span for minute, span in rows], float)
