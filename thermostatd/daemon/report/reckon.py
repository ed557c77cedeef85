"""The sums of a report, on the record's rows. Pure.

Rules: a quarter hour counts as fifteen minutes; what is not known is counted as such and never as zero; energy
has the price of the minute it flowed in; degree days and the loss go by the minutes in which both airs are known.
The loss is an apparent one: sun and people heat too, so it reads low (derived: W/K = kWh · 1000 / (24 · K·d)).
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from statistics import median

from thermostatd.edge.store import HeaterMinuteRow, MinuteRow

BELOW_KELVIN = ABOVE_KELVIN = 0.5
STEP_KELVIN = 1.0
ARRIVED_KELVIN = 0.3
ON_TIME_MINUTES = 10.0
LONGEST_ARRIVAL_MINUTES = 12 * 60.0
WANTED_MINUTES = 24 * 60
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
    """One heater in the period; `operations` and `rated_operations` are of its relay since it was new."""

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
    def worn_share(self) -> float | None:
        """Share of the switchings that the relay is made for."""
        return self.operations / self.rated_operations if self.rated_operations else None

    @property
    def years_left(self) -> float | None:
        """Years until then, at the period's pace; None where it did not switch."""
        if not self.clicks or not self.rated_operations or self.days <= 0:
            return None
        return max(0.0, self.rated_operations - self.operations) / (self.clicks / self.days * 365.25)


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


def room_sums(name: str, rows: Sequence[MinuteRow]) -> RoomSums:
    """A room's comfort. "Above" is warmer than anything wanted in the day before: a room left to cool is not."""
    sums = RoomSums(name)
    wanted: deque[tuple[int, float]] = deque()
    for row in rows:
        span = float(row.span_minutes)
        sums.minutes += span
        if row.target is not None:
            _remember(wanted, row.minute, row.target)
        if row.air is None or row.target is None:
            continue
        sums.known_minutes += span
        sums.air_celsius_minutes += row.air * span
        sums.lowest_celsius = row.air if sums.lowest_celsius is None else min(sums.lowest_celsius, row.air)
        sums.highest_celsius = row.air if sums.highest_celsius is None else max(sums.highest_celsius, row.air)
        sums.below_minutes += span * (row.air < row.target - BELOW_KELVIN)
        sums.above_minutes += span * (row.air > wanted[0][1] + ABOVE_KELVIN)
    sums.arrivals = arrivals(name, rows)
    return sums


def _remember(wanted: deque[tuple[int, float]], minute: int, target: float) -> None:
    """Keep the highest target of the last day at the front."""
    while wanted and wanted[-1][1] <= target:
        wanted.pop()
    wanted.append((minute, target))
    while wanted[0][0] < minute - WANTED_MINUTES:
        wanted.popleft()


def arrivals(name: str, rows: Sequence[MinuteRow]) -> list[Arrival]:
    """Each step up of at least one kelvin, and when the air came within 0.3 K of it."""
    found: list[Arrival] = []
    before: float | None = None
    for place, row in enumerate(rows):
        if row.target is None:
            continue
        if before is not None and row.target >= before + STEP_KELVIN:
            at = datetime.fromtimestamp(row.minute * 60, UTC)
            found.append(Arrival(name, at, row.target, _late(rows[place:], row.target)))
        before = row.target
    return found


def _late(rows: Sequence[MinuteRow], target: float) -> float | None:
    first = rows[0].minute
    for row in rows:
        late = float(row.minute - first)
        if late > LONGEST_ARRIVAL_MINUTES or (row.target is not None and row.target < target):
            return None
        if row.air is not None and row.air >= target - ARRIVED_KELVIN:
            return late
    return None


def median_late(found: Iterable[Arrival]) -> float | None:
    """Median minutes after the step, of those that arrived."""
    late = [one.minutes_late for one in found if one.minutes_late is not None]
    return median(late) if late else None


def heater_sums(key: str, rows: Sequence[HeaterMinuteRow], price: Price) -> HeaterSums:
    """A heater's energy, its cost, its hours and clicks."""
    sums = HeaterSums(key)
    for row in rows:
        kwh = row.watt_seconds / 3.6e6
        sums.kwh += kwh
        sums.cost += kwh * _price_of(row, price)
        sums.on_hours += row.on_seconds / 3600.0
        sums.clicks += row.switches
    return sums


def _price_of(row: HeaterMinuteRow, price: Price) -> float:
    """The price of a row: a quarter hour has the mean of its minutes'."""
    if row.span_minutes == 1:
        return price(row.minute)
    return sum(price(row.minute + n) for n in range(row.span_minutes)) / row.span_minutes


def pieces(
    edges: Sequence[datetime],
    rooms: Sequence[Sequence[MinuteRow]],
    heaters: Sequence[Sequence[HeaterMinuteRow]],
    price: Price,
) -> list[Piece]:
    """The whole house, piece by piece."""
    found = [Piece(edge) for edge in edges[:-1]]
    bounds = [int(edge.timestamp() // 60) for edge in edges]
    for rows in heaters:
        for piece, row in _placed(found, bounds, rows):
            kwh = row.watt_seconds / 3.6e6
            piece.kwh += kwh
            piece.cost += kwh * _price_of(row, price)
    _add_air(found, bounds, rooms)
    return found


def _add_air(found: list[Piece], bounds: list[int], rooms: Sequence[Sequence[MinuteRow]]) -> None:
    """Kelvin-days of the rooms' mean air over outdoors; a minute counts once, whatever the number of rooms."""
    airs: dict[int, list[float]] = defaultdict(list)
    outdoor: dict[int, tuple[float, int]] = {}
    for rows in rooms:
        for row in rows:
            if row.outdoor is not None:
                outdoor[row.minute] = (row.outdoor, row.span_minutes)
            if row.air is not None:
                airs[row.minute].append(row.air)
    place = 0
    for minute in sorted(outdoor):
        while place + 1 < len(found) and minute >= bounds[place + 1]:
            place += 1
        piece, (celsius, span) = found[place], outdoor[minute]
        piece.outdoor_minutes += span
        piece.outdoor_sum += celsius * span
        if airs[minute]:
            inside = sum(airs[minute]) / len(airs[minute])
            piece.known_minutes += span
            piece.kelvin_days += (inside - celsius) * span / 1440.0


def _placed(
    found: list[Piece], bounds: list[int], rows: Sequence[HeaterMinuteRow]
) -> Iterable[tuple[Piece, HeaterMinuteRow]]:
    place = 0
    for row in rows:
        while place + 1 < len(found) and row.minute >= bounds[place + 1]:
            place += 1
        yield found[place], row


def degree_days(daily_outdoor_celsius: Iterable[float | None], base_celsius: float = BASE_CELSIUS) -> float:
    """Heating degree days, K·d: what each day's mean lies under the base."""
    return sum(max(0.0, base_celsius - one) for one in daily_outdoor_celsius if one is not None)
