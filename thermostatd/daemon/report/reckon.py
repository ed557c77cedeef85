"""The sums of a report, on the record's rows or columns. Pure.

Rules: a quarter hour counts as fifteen minutes; what is not known is counted as such and never as zero; energy
has the price of the minute it flowed in; degree days and the loss go by the minutes in which both airs are known.
The loss is an apparent one: sun and people heat too, so it reads low (derived: W/K = kWh · 1000 / (24 · K·d)).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from statistics import median

import numpy as np

from thermostatd.daemon.report.columns import (
    HeaterColumns,
    Numbers,
    RoomColumns,
    Whole,
    heater_columns,
    room_columns,
)
from thermostatd.edge.store import HeaterMinuteRow, MinuteRow
from thermostatd.physics.wear import Part, wear

DAY_SECONDS = 86400.0
BELOW_KELVIN = ABOVE_KELVIN = 0.5
STEP_KELVIN = 1.0
ARRIVED_KELVIN = 0.3
ON_TIME_MINUTES = 10.0
LONGEST_ARRIVAL_MINUTES = 12 * 60.0
WANTED_MINUTES = 24 * 60
LONG_AGO = -(10**9)
BASE_CELSIUS = 17.0
Price = Callable[[int], float]
"""The price of a kilowatt-hour in a minute (Unix seconds / 60)."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A step up of a room's target, and how many minutes after it the air was there (None: not before the next)."""

    room: str
    at: datetime
    celsius: float
    minutes_late: float | None


@dataclass
class RoomSums:
    """One room. Minutes: `known` of both air and target, `below` and `above` by over half a kelvin."""

    name: str
    minutes: float = 0.0
    known_minutes: float = 0.0
    below_minutes: float = 0.0
    above_minutes: float = 0.0
    air_celsius_minutes: float = 0.0
    lowest_celsius: float | None = None
    highest_celsius: float | None = None
    arrivals: list[Arrival] = field(default_factory=list)

    @property
    def mean_celsius(self) -> float | None:
        """Mean air of the known minutes."""
        return self.air_celsius_minutes / self.known_minutes if self.known_minutes else None


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
        """Apparent loss; None where under half a kelvin-day is known."""
        return loss_watts_per_kelvin(self.kwh, self.kelvin_days) if self.kelvin_days >= 0.5 else None

    @property
    def outdoor_celsius(self) -> float | None:
        """Mean outdoors."""
        return self.outdoor_sum / self.outdoor_minutes if self.outdoor_minutes else None


def loss_watts_per_kelvin(kwh: float, kelvin_days: float) -> float:
    """The loss that explains an energy over so many kelvin-days (derived: 4800 kWh over 2000 K·d are 100 W/K)."""
    return kwh * 1000.0 / (24.0 * kelvin_days)


def room_sums(name: str, rows: RoomColumns | Sequence[MinuteRow]) -> RoomSums:
    """A room's comfort. "Above" is warmer than anything wanted in the day before: a room left to cool is not."""
    kept = room_columns(rows)
    known = ~np.isnan(kept.air) & ~np.isnan(kept.target)
    air, target, span = kept.air[known], kept.target[known], kept.span[known]
    sums = RoomSums(name, float(kept.span.sum()), float(span.sum()))
    if known.any():
        sums.below_minutes = float(span[air < target - BELOW_KELVIN].sum())
        sums.above_minutes = float(span[air > _most_wanted(kept)[known] + ABOVE_KELVIN].sum())
        sums.air_celsius_minutes = float((air * span).sum())
        sums.lowest_celsius, sums.highest_celsius = float(air.min()), float(air.max())
    sums.arrivals = arrivals(name, kept)
    return sums


def _most_wanted(kept: RoomColumns) -> Numbers:
    """The highest target of the day before each row, its own included; lowest where there was none."""
    found = np.full(len(kept.minute), -np.inf)
    for target in np.unique(
        kept.target[~np.isnan(kept.target)]
    ):  # from low to high: the higher goes over the lower
        last = np.maximum.accumulate(np.where(kept.target == target, kept.minute, LONG_AGO))
        found[kept.minute - last <= WANTED_MINUTES] = target
    return found


def arrivals(name: str, rows: RoomColumns | Sequence[MinuteRow]) -> list[Arrival]:
    """Each step up of at least one kelvin, and when the air came within 0.3 K of it."""
    kept = room_columns(rows)
    known = np.flatnonzero(~np.isnan(kept.target))
    steps = known[1:][np.diff(kept.target[known]) >= STEP_KELVIN]
    return [
        Arrival(
            name,
            datetime.fromtimestamp(int(kept.minute[place]) * 60, UTC),
            float(kept.target[place]),
            _late(kept, int(place)),
        )
        for place in steps
    ]


def _late(kept: RoomColumns, place: int) -> float | None:
    first, target = kept.minute[place], kept.target[place]
    end = int(np.searchsorted(kept.minute, first + LONGEST_ARRIVAL_MINUTES, "right"))
    lower = np.flatnonzero(kept.target[place:end] < target)
    there = np.flatnonzero(kept.air[place:end] >= target - ARRIVED_KELVIN)
    if not len(there) or (len(lower) and lower[0] <= there[0]):
        return None
    return float(kept.minute[place + there[0]] - first)


def median_late(found: Iterable[Arrival]) -> float | None:
    """Median minutes after the step, of those that arrived."""
    late = [one.minutes_late for one in found if one.minutes_late is not None]
    return median(late) if late else None


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
    kwh = kept.watt_seconds / 3.6e6
    return HeaterSums(
        key,
        kwh=float(kwh.sum()),
        cost=float((kwh * _prices(kept, price)).sum()),
        on_hours=float(kept.on_seconds.sum()) / 3600.0,
        clicks=int(kept.switches.sum()),
    )


def _prices(kept: HeaterColumns, price: Price | MinutePrices) -> Numbers:
    """The price of each row: a quarter hour has the mean of its minutes'."""
    if isinstance(price, MinutePrices):
        return price.means(kept.minute, kept.span)
    rows = zip(kept.minute.tolist(), kept.span.tolist(), strict=True)
    return np.array([sum(price(minute + n) for n in range(span)) / span for minute, span in rows], float)


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
        kwh, place = kept.watt_seconds / 3.6e6, _places(bounds, kept.minute)
        for piece, took, cost in zip(
            found,
            np.bincount(place, kwh, len(found)),
            np.bincount(place, kwh * _prices(kept, price), len(found)),
            strict=True,
        ):
            piece.kwh += float(took)
            piece.cost += float(cost)
    if rooms:
        _add_air(found, bounds, [room_columns(rows) for rows in rooms])
    return found


def _add_air(found: list[Piece], bounds: Whole, rooms: Sequence[RoomColumns]) -> None:
    """Kelvin-days of the rooms' mean air over outdoors; a minute counts once, whatever the number of rooms."""
    minute, span, air, outdoor = (
        np.concatenate([getattr(room, name) for room in rooms])
        for name in ("minute", "span", "air", "outdoor")
    )
    told = np.flatnonzero(~np.isnan(outdoor))
    at, last = np.unique(minute[told][::-1], return_index=True)  # of a minute told twice the last counts
    rows = told[::-1][last]
    if not len(rows):
        return
    known = ~np.isnan(air)
    where = np.searchsorted(at, minute[known])
    fits = (where < len(at)) & (at[np.minimum(where, len(at) - 1)] == minute[known])
    sums = np.bincount(where[fits], air[known][fits], len(at))
    count = np.bincount(where[fits], None, len(at))
    inside = np.where(count > 0, sums / np.maximum(count, 1), np.nan)
    place, spans, celsius = _places(bounds, at), span[rows], outdoor[rows]
    lived = np.where(count > 0, spans, 0)
    kelvins = np.where(count > 0, (inside - celsius) * spans / 1440.0, 0.0)
    columns = (spans, celsius * spans, lived, kelvins)
    totals = [np.bincount(place, column, len(found)) for column in columns]
    for n, piece in enumerate(found):
        piece.outdoor_minutes, piece.outdoor_sum, piece.known_minutes, piece.kelvin_days = (
            float(total[n]) for total in totals
        )


def _places(bounds: Whole, minute: Whole) -> Whole:
    """Which piece each minute belongs to; one outside belongs to the nearest."""
    return np.clip(np.searchsorted(bounds, minute, "right") - 1, 0, max(len(bounds) - 2, 0))


def degree_days(daily_outdoor_celsius: Iterable[float | None], base_celsius: float = BASE_CELSIUS) -> float:
    """Heating degree days, K·d: what each day's mean lies under the base."""
    return sum(max(0.0, base_celsius - one) for one in daily_outdoor_celsius if one is not None)
