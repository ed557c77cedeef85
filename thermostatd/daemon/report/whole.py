"""A whole report: what the record of a house says of a period."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from thermostatd.core.house import House
from thermostatd.core.tariff import spans
from thermostatd.daemon.report.columns import (
    NO_HEATER,
    NO_ROOM,
    HeaterColumns,
    RoomColumns,
    split_heaters,
    split_rooms,
)
from thermostatd.daemon.report.comfort import ON_TIME_MINUTES, Arrival, RoomSums, median_late, room_sums
from thermostatd.daemon.report.energy import HeaterSums, MinutePrices, heater_sums, kwh_and_cost
from thermostatd.daemon.report.evenly import even_prices
from thermostatd.daemon.report.period import Period
from thermostatd.daemon.report.pieces import Piece, degree_days, loss_watts_per_kelvin, pieces
from thermostatd.edge.store.reader import MISSING, RecordReader

TRIPPED = "cut-out-opened"


@dataclass(frozen=True, slots=True)
class Report:
    """All that is told. `currency` is empty where the house has no tariff; then costs are not told.

    `even_cost`: what the energy would have cost if each day's had been taken evenly over it; None with one price only.
    """

    house: str
    zone: ZoneInfo
    period: Period
    rooms: tuple[RoomSums, ...]
    heaters: tuple[HeaterSums, ...]
    pieces: tuple[Piece, ...]
    degree_days_kelvin_days: float | None
    currency: str | None
    even_cost: float | None = None

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
        return loss_watts_per_kelvin(self.kwh, self.kelvin_days)


def make_report(
    house: House, record: RecordReader, when: Period, show: Callable[[str], None] = lambda _: None
) -> Report:
    """Read the record, and do the sums; `show` is told what is being read."""
    zone = ZoneInfo(house.house.timezone)
    price = MinutePrices(spans(house, when.since, when.until))
    rooms, heaters = _read(house, record, when, show)
    show("doing the sums")
    return Report(
        house.house.name,
        zone,
        when,
        tuple(room_sums(name, rows) for name, rows in rooms.items()),
        _heaters(house, record, when, {key: heater_sums(key, rows, price) for key, rows in heaters.items()}),
        tuple(pieces(when.edges, list(rooms.values()), list(heaters.values()), price)),
        _degree_days(when, list(rooms.values()), zone),
        house.tariff.currency if house.tariff else None,
        _even_cost(house, when, heaters),
    )


def _even_cost(house: House, when: Period, heaters: dict[str, HeaterColumns]) -> float | None:
    price = even_prices(house, when)
    return None if price is None else float(sum(kwh_and_cost(rows, price)[1].sum() for rows in heaters.values()))


def _read(
    house: House, record: RecordReader, when: Period, show: Callable[[str], None]
) -> tuple[dict[str, RoomColumns], dict[str, HeaterColumns]]:
    """One reading of the record; a room or heater that it does not know has no rows."""
    parts: dict[str, list[NDArray[Any]]] = {
        "rooms": [np.empty((0, 6), np.int32)],
        "heaters": [np.empty((0, 6), np.int32)],
    }
    for what, rows in record.tables(when.since, when.until):
        parts[what].append(np.array(rows, np.int32))
        show(f"reading {what}, {sum(map(len, parts[what])):,} rows")
    names = record.names()
    rooms = split_rooms(np.concatenate(parts["rooms"]), names, MISSING)
    heaters = split_heaters(np.concatenate(parts["heaters"]), names)
    return (
        {room.name: rooms.get(room.name, NO_ROOM) for room in house.rooms},
        {key: heaters.get(key, NO_HEATER) for key, _, _ in house.heaters()},
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
    """From each day's mean outdoors; None where outdoors is not known at all.

    The day on which the record begins, and the one under way, count by what is known of them; a gap between does not.
    """
    edges = [when.since]
    while edges[-1] < when.until:
        day = edges[-1].astimezone(zone).date() + timedelta(days=1)
        edges.append(min(when.until, datetime(day.year, day.month, day.day, tzinfo=zone)))
    days = [day for day in pieces(edges, rooms, [], lambda _: 0.0) if day.outdoor_minutes]
    if not days:
        return None
    ends = {id(day): min(1.0, day.outdoor_minutes / 1440.0) for day in (days[0], days[-1])}
    return sum(ends.get(id(day), 1.0) * degree_days([day.outdoor_celsius]) for day in days)


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
        "cost_taken_evenly": _rounded(report.even_cost, 2),
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
