"""The whole house hour by hour, day by day or week by week: energy, cost, degree days and the loss. Pure.

Rules: degree days and the loss go by the minutes in which both airs are known; a minute counts once, whatever the
number of rooms. The loss is an apparent one: sun and people heat too, so it reads low (derived: W/K = kWh · 1000 /
(24 · K·d)).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from thermostatd.daemon.report.columns import (
    HeaterColumns,
    Numbers,
    RoomColumns,
    Whole,
    heater_columns,
    room_columns,
)
from thermostatd.daemon.report.energy import MinutePrices, Price, kwh_and_cost
from thermostatd.edge.store import HeaterMinuteRow, MinuteRow

BASE_CELSIUS = 17.0
LEAST_KELVIN_DAYS = 0.5
LEAST_MINUTES = 20 * 60


@dataclass
class Piece:
    """One hour, day or week of the whole house."""

    begins: datetime
    kwh: float = 0.0
    cost: float = 0.0
    kelvin_days: float = 0.0
    """Mean of the rooms' air minus outdoors, summed, K·d."""
    outdoor_minutes: float = 0.0
    outdoor_sum: float = 0.0
    known_minutes: float = 0.0

    @property
    def loss_watts_per_kelvin(self) -> float | None:
        """Apparent loss; None where under twenty hours are known, and it is mostly the walls' heat."""
        return loss_watts_per_kelvin(self.kwh, self.kelvin_days) if self.known_minutes >= LEAST_MINUTES else None

    @property
    def outdoor_celsius(self) -> float | None:
        """Mean outdoors."""
        return self.outdoor_sum / self.outdoor_minutes if self.outdoor_minutes else None


def loss_watts_per_kelvin(kwh: float, kelvin_days: float) -> float | None:
    """The loss that explains an energy over so many kelvin-days (derived: 4800 kWh over 2000 K·d are 100 W/K).

    None where under half a kelvin-day is known.
    """
    return kwh * 1000.0 / (24.0 * kelvin_days) if kelvin_days >= LEAST_KELVIN_DAYS else None


def pieces(
    edges: Sequence[datetime],
    rooms: Sequence[RoomColumns | Sequence[MinuteRow]],
    heaters: Sequence[HeaterColumns | Sequence[HeaterMinuteRow]],
    price: Price | MinutePrices,
) -> list[Piece]:
    """The whole house, piece by piece."""
    found = [Piece(edge) for edge in edges[:-1]]
    bounds = np.array([int(edge.timestamp() // 60) for edge in edges])
    for rows in heaters:
        kept = heater_columns(rows)
        place = _places(bounds, kept.minute)
        sums = [np.bincount(place, each, len(found)) for each in kwh_and_cost(kept, price)]
        for piece, took, cost in zip(found, *sums, strict=True):
            piece.kwh += float(took)
            piece.cost += float(cost)
    if rooms:
        _add_air(found, bounds, [room_columns(rows) for rows in rooms])
    return found


def _add_air(found: list[Piece], bounds: Whole, rooms: Sequence[RoomColumns]) -> None:
    """Kelvin-days of the rooms' mean air over outdoors, and outdoors."""
    minute, span, air, outdoor = (
        np.concatenate([getattr(room, name) for room in rooms])
        for name in ("minute", "span", "air", "outdoor")
    )
    at, rows = _told_once(minute, outdoor)
    if not len(rows):
        return
    inside, spans, celsius = _mean_air(at, minute, air), span[rows], outdoor[rows]
    known = ~np.isnan(inside)
    lived = np.where(known, spans, 0)
    kelvins = np.where(known, (inside - celsius) * spans / 1440.0, 0.0)
    place = _places(bounds, at)
    totals = [np.bincount(place, each, len(found)) for each in (spans, celsius * spans, lived, kelvins)]
    for n, piece in enumerate(found):
        piece.outdoor_minutes, piece.outdoor_sum, piece.known_minutes, piece.kelvin_days = (
            float(total[n]) for total in totals
        )


def _told_once(minute: Whole, outdoor: Numbers) -> tuple[Whole, Whole]:
    """The minutes of which outdoors is known, and the row that tells it: of a minute told twice the last counts."""
    told = np.flatnonzero(~np.isnan(outdoor))[::-1]
    at, last = np.unique(minute[told], return_index=True)
    return at, told[last]


def _mean_air(at: Whole, minute: Whole, air: Numbers) -> Numbers:
    """The rooms' mean air in each of these minutes; not-a-number where none is known."""
    known = ~np.isnan(air)
    where = np.searchsorted(at, minute[known])
    fits = (where < len(at)) & (at[np.minimum(where, len(at) - 1)] == minute[known])
    sums = np.bincount(where[fits], air[known][fits], len(at))
    count = np.bincount(where[fits], None, len(at))
    return np.where(count > 0, sums / np.maximum(count, 1), np.nan)


def _places(bounds: Whole, minute: Whole) -> Whole:
    """Which piece each minute belongs to; one outside belongs to the nearest."""
    return np.clip(np.searchsorted(bounds, minute, "right") - 1, 0, max(len(bounds) - 2, 0))


def degree_days(daily_outdoor_celsius: Iterable[float | None], base_celsius: float = BASE_CELSIUS) -> float:
    """Heating degree days, K·d: what each day's mean lies under the base."""
    return sum(max(0.0, base_celsius - one) for one in daily_outdoor_celsius if one is not None)
