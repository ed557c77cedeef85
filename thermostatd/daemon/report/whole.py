"""A whole report: what the record of a house says of a period."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.core.tariff import Prices
from thermostatd.daemon.report.period import Period
from thermostatd.daemon.report.reckon import (
    ON_TIME_MINUTES,
    Arrival,
    HeaterSums,
    Piece,
    RoomSums,
    degree_days,
    heater_sums,
    loss_watts_per_kelvin,
    median_late,
    pieces,
    room_sums,
)
from thermostatd.edge.store.reader import RecordReader

TRIPPED = "cut-out-opened"


@dataclass(frozen=True, slots=True)
class Report:
    """All that is told. `currency` is empty where the house has no tariff; then costs are not told."""

    house: str
    zone: ZoneInfo
    period: Period
    rooms: tuple[RoomSums, ...]
    heaters: tuple[HeaterSums, ...]
    pieces: tuple[Piece, ...]
    degree_days_kelvin_days: float | None
    currency: str | None

    @property
    def kwh(self) -> float:
        """All energy."""
        return sum(heater.kwh for heater in self.heaters)

    @property
    def cost(self) -> float:
        """All cost."""
        return sum(heater.cost for heater in self.heaters)

    @property
    def arrivals(self) -> list[Arrival]:
        """Every step up, in order."""
        return sorted((one for room in self.rooms for one in room.arrivals), key=lambda one: one.at)

    @property
    def kelvin_days(self) -> float:
        """Rooms' mean air over outdoors, summed."""
        return sum(piece.kelvin_days for piece in self.pieces)

    @property
    def loss_watts_per_kelvin(self) -> float | None:
        """The house's apparent loss over the period."""
        return loss_watts_per_kelvin(self.kwh, self.kelvin_days) if self.kelvin_days >= 0.5 else None


class _MinutePrices(dict[int, float]):
    """A minute's price, worked out once for all heaters."""

    def __init__(self, house: House) -> None:
        super().__init__()
        self._prices = Prices(house)

    def __missing__(self, minute: int) -> float:
        found = self[minute] = self._prices.per_kwh(datetime.fromtimestamp(minute * 60, UTC))
        return found


def make_report(
    house: House, record: RecordReader, when: Period, show: Callable[[str], None] = lambda _: None
) -> Report:
    """Read the record, and do the sums; `show` is told what is being read."""
    zone = ZoneInfo(house.house.timezone)
    price = _MinutePrices(house).__getitem__ if house.tariff else lambda _: 0.0
    rooms, heaters = {}, {}
    for room in house.rooms:
        show(f"reading {room.name}")
        rooms[room.name] = record.rooms(room.name, when.since, when.until)
    for key, _, _ in house.heaters():
        show(f"reading {key}")
        heaters[key] = record.heaters(key, when.since, when.until)
    show("doing the sums")
    return Report(
        house.house.name,
        zone,
        when,
        tuple(room_sums(name, rows) for name, rows in rooms.items()),
        _heaters(
            house,
            record,
            when,
            {key: heater_sums(key, rows, price) for key, rows in heaters.items()},
        ),
        tuple(pieces(when.edges, list(rooms.values()), list(heaters.values()), price)),
        _degree_days(when, list(rooms.values()), zone),
        house.tariff.currency if house.tariff else None,
    )


def _heaters(
    house: House, record: RecordReader, when: Period, sums: dict[str, HeaterSums]
) -> tuple[HeaterSums, ...]:
    """With what the relays have behind them, and what their cut-outs did."""
    trips = Counter(row.about for row in record.events(when.since, when.until) if row.code == TRIPPED)
    kept = record.memory().get("heaters", {})
    for key, heater, _ in house.heaters():
        one, known = sums[key], kept.get(key, {})
        one.trips = trips[key]
        one.operations = int(known.get("operations", 0))
        one.rated_operations = heater.plug.rated_operations
        one.days = (when.until - when.since) / timedelta(days=1)
    return tuple(sums.values())


def _degree_days(when: Period, rooms: list[Any], zone: ZoneInfo) -> float | None:
    """From each day's mean outdoors; None where outdoors is not known at all."""
    edges = [when.since]
    while edges[-1] < when.until:
        day = edges[-1].astimezone(zone).date() + timedelta(days=1)
        edges.append(min(when.until, datetime(day.year, day.month, day.day, tzinfo=zone)))
    days = [piece.outdoor_celsius for piece in pieces(edges, rooms, [], lambda _: 0.0)]
    return degree_days(days) if any(day is not None for day in days) else None


def plain(report: Report) -> dict[str, Any]:
    """The report for a machine: units in the names, times with their offset."""
    local = report.zone
    rooms = {
        room.name: {
            "minutes": room.minutes, "known_minutes": room.known_minutes, "below_minutes": room.below_minutes,
            "above_minutes": room.above_minutes, "mean_celsius": _rounded(room.mean_celsius, 2),
            "lowest_celsius": room.lowest_celsius, "highest_celsius": room.highest_celsius,
            "median_minutes_late": median_late(room.arrivals),
        }
        for room in report.rooms
    }  # fmt: skip
    heaters = {
        one.key: {
            "energy_kwh": _rounded(one.kwh, 3), "cost": _cost(report, one.cost), "on_hours": _rounded(one.on_hours, 2),
            "clicks": one.clicks, "cut_out_trips": one.trips, "operations": one.operations,
            "rated_operations": one.rated_operations, "worn_share": _rounded(one.worn_share, 5),
            "years_left": _rounded(one.years_left, 1),
        }
        for one in report.heaters
    }  # fmt: skip
    time = [
        {
            "begins": piece.begins.astimezone(local).isoformat(), "energy_kwh": _rounded(piece.kwh, 3),
            "cost": _cost(report, piece.cost), "outdoor_celsius": _rounded(piece.outdoor_celsius, 2),
            "kelvin_days": _rounded(piece.kelvin_days, 3),
            "loss_watts_per_kelvin": _rounded(piece.loss_watts_per_kelvin, 1),
        }
        for piece in report.pieces
    ]  # fmt: skip
    came = [
        {"room": one.room, "at": one.at.astimezone(local).isoformat(), "celsius": one.celsius,
         "minutes_late": one.minutes_late}
        for one in report.arrivals
    ]  # fmt: skip
    return {
        "house": report.house, "from": report.period.since.astimezone(local).isoformat(),
        "to": report.period.until.astimezone(local).isoformat(), "piece": report.period.piece,
        "energy_kwh": _rounded(report.kwh, 3), "cost": _cost(report, report.cost), "currency": report.currency,
        "degree_days_base_17_kelvin_days": _rounded(report.degree_days_kelvin_days, 2),
        "indoor_over_outdoor_kelvin_days": _rounded(report.kelvin_days, 2),
        "loss_watts_per_kelvin": _rounded(report.loss_watts_per_kelvin, 1),
        "rooms": rooms, "heaters": heaters, "over_time": time, "arrivals": came,
        "arrivals_on_time": sum(one.minutes_late is not None and one.minutes_late <= ON_TIME_MINUTES
                                for one in report.arrivals),
    }  # fmt: skip


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _cost(report: Report, cost: float) -> float | None:
    return None if report.currency is None else round(cost, 2)
