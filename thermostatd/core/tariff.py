"""Prices by time of day, and how far they may move a room's aim.

Rules: within the owner's `band` and nowhere else; only what the usual week wants is moved, never what a person asked;
half down in dear hours is no saving, so it is the whole band or nothing: down while it is dear, up in the last hours
before that; nothing where prices hardly differ, nor up when the room is to cool down before it gets dear.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.house import House, Room
from thermostatd.core.house.tables import Tariff
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Reason, Target
from thermostatd.core.said import Said
from thermostatd.core.values import Reading
from thermostatd.core.week import instant

AHEAD_SECONDS = 2 * 3600.0
LEAST_SPREAD = 0.1
DEAR_SHARE = 0.15
CEILING_KELVIN = 1.5


@dataclass(frozen=True, slots=True)
class Shift:
    """Which way the aim moves now (−1, 0, 1), and until when (Unix seconds)."""

    way: int
    until: float


class Prices:
    """The prices of a house around a day, made anew when the day changes."""

    def __init__(self, house: House) -> None:
        self._tariff = house.tariff
        self._zone = ZoneInfo(house.house.timezone)
        self._day: date | None = None
        self._instants: list[float] = []
        self._prices: list[float] = []
        self._dear = float("inf")

    def per_kwh(self, wall: datetime) -> float:
        """The price of a kilowatt-hour at a moment; 0 without a tariff."""
        if self._tariff is None:
            return 0.0
        self._prepare(self._tariff, wall)
        return self._prices[bisect_right(self._instants, wall.timestamp()) - 1]

    def shift(self, wall: datetime) -> Shift:
        """Which way prices move an aim at a moment."""
        if self._tariff is None or not self._tariff.prices:
            return Shift(0, wall.timestamp())
        self._prepare(self._tariff, wall)
        now = wall.timestamp()
        place = bisect_right(self._instants, now) - 1
        if self._prices[place] > self._dear:
            return Shift(-1, self._until(place, dear=True))
        dear_at = self._until(place, dear=False)
        if dear_at - now <= AHEAD_SECONDS:
            return Shift(1, dear_at)
        return Shift(0, dear_at)

    def _until(self, place: int, *, dear: bool) -> float:
        """When the stretch that is (or is not) dear ends."""
        for at, price in zip(self._instants[place + 1 :], self._prices[place + 1 :], strict=True):
            if (price > self._dear) != dear:
                return at
        return self._instants[-1] + 86400.0

    def _prepare(self, tariff: Tariff, wall: datetime) -> None:
        day = wall.astimezone(self._zone).date()
        if day == self._day:
            return
        self._day = day
        times = sorted({time(0), *(at for price in tariff.prices for at in (price.begins, price.ends))})
        days = [day + timedelta(days=offset) for offset in range(-1, 4)]
        found = sorted({instant(on, at, self._zone) for on in days for at in times})
        self._instants = found
        self._prices = [
            price_at(tariff, datetime.fromtimestamp(at, UTC).astimezone(self._zone)) for at in found
        ]
        self._dear = self._limit(instant(day, time(0), self._zone))

    def _limit(self, midnight: float) -> float:
        """The price over which an hour is dear: over the mean of the day by a share of its spread."""
        spans = [
            (min(end, midnight + 86400.0) - max(at, midnight), price)
            for at, end, price in zip(self._instants, self._instants[1:], self._prices, strict=False)
        ]
        spans = [(seconds, price) for seconds, price in spans if seconds > 0]
        low, high = min(price for _, price in spans), max(price for _, price in spans)
        if high - low < LEAST_SPREAD * max(abs(high), abs(low)):
            return float("inf")
        mean = sum(seconds * price for seconds, price in spans) / sum(seconds for seconds, _ in spans)
        return mean + DEAR_SHARE * (high - low)


def price_at(tariff: Tariff, local: datetime) -> float:
    """The price at a local moment: the first exception that holds, else the plain price."""
    at = local.time().replace(tzinfo=None)
    held = (price.per_kwh for price in tariff.prices if price.holds(local.weekday(), at))
    return next(held, tariff.per_kwh)


def spans(house: House, since: datetime, until: datetime) -> list[tuple[datetime, datetime, float]]:
    """[since, until) cut where the price changes: begin, end, price of a kilowatt-hour (0 without a tariff)."""
    if house.tariff is None:
        return [(since, until, 0.0)]
    zone = ZoneInfo(house.house.timezone)
    times = {time(0), *(at for price in house.tariff.prices for at in (price.begins, price.ends))}
    day, last = since.astimezone(zone).date(), until.astimezone(zone).date()
    edges = {since.timestamp()}
    while day <= last:
        edges |= {instant(day, at, zone) for at in times}
        day += timedelta(days=1)
    begins = [datetime.fromtimestamp(at, UTC) for at in sorted(edges) if since.timestamp() <= at]
    begins = [at for at in begins if at < until]
    priced = [(at, price_at(house.tariff, at.astimezone(zone))) for at in begins]
    kept = [one for place, one in enumerate(priced) if place == 0 or one[1] != priced[place - 1][1]]
    ends = [at for at, _ in kept[1:]] + [until]
    return [(begin, end, price) for (begin, price), end in zip(kept, ends, strict=True)]


def aims(house: House, prices: Prices, targets: Mapping[str, Target], now: Now) -> Mapping[str, Target]:
    """What each room is steered to: its target, moved by the tariff where it may be."""
    if house.tariff is None or now.doubted:
        return targets
    shift = prices.shift(now.wall)
    if not shift.way:
        return targets
    return {room.name: _aim(room, targets[room.name], shift, now) for room in house.rooms}


def _aim(room: Room, target: Target, shift: Shift, now: Now) -> Target:
    if target.code != "usual" or room.band <= 0:
        return target
    if shift.way > 0:
        soon = target.next_at is not None and target.next_at - now.steady < shift.until - now.wall.timestamp()
        if soon and target.next_celsius is not None and target.next_celsius < target.celsius:
            return target
        limit = min(room.household.highest, room.ceiling_celsius - CEILING_KELVIN)
        return replace(target, celsius=max(target.celsius, min(target.celsius + room.band, limit)))
    limit = room.household.lowest
    return replace(target, celsius=min(target.celsius, max(target.celsius - room.band, limit)))


def higher(targets: Mapping[str, Target], aimed: Mapping[str, Target]) -> Mapping[str, Target]:
    """For each room the higher of the two: what `overshoot` is measured from."""
    if aimed is targets:
        return targets
    return {name: max(target, aimed[name], key=_celsius) for name, target in targets.items()}


def _celsius(target: Target) -> float:
    return target.celsius


def said(
    wants: Wants, house: House, readings: Readings, targets: Mapping[str, Target], aimed: Mapping[str, Target],
    prices: Prices, now: Now,
) -> Wants:  # fmt: skip
    """The same wants, with the tariff named where it makes the difference, and no degrees but the wish's elsewhere."""
    if aimed is targets:
        return wants
    rooms, heaters = dict(wants.rooms), dict(wants.heaters)
    until = prices.shift(now.wall).until
    for room in house.rooms:
        why = _why(
            wants.rooms[room.name], readings.air[room.name], targets[room.name], aimed[room.name], now, until
        )
        if why is None:
            continue
        demand = wants.rooms[room.name]
        rooms[room.name] = replace(demand, reason=why)
        for heater in room.heaters:
            key = room.key_of(heater)
            if heaters[key][1] is demand.reason:  # not one that a press on the button stands in for
                heaters[key] = (heaters[key][0], why)
    return Wants(rooms, heaters)


def _why(demand: Demand, air: object, target: Target, aim: Target, now: Now, until: float) -> Reason | None:
    if not isinstance(air, Reading) or aim.celsius == target.celsius:
        return None
    code, numbers, when = demand.reason.code, demand.reason.numbers, now.text(until)
    if demand.on and aim.celsius > target.celsius and air.celsius >= target.celsius:
        return reason("cheap-hours", target=aim.celsius, until=when)
    if not demand.on and aim.celsius < target.celsius and air.celsius < target.celsius:
        return reason("dear-hours", target=aim.celsius, until=when)
    if code in ("warming", "portion") and aim.celsius < target.celsius:
        return reason("dear-heating", target=aim.celsius, until=when, eta=numbers.get("eta", ""))
    if code in ("warming", "portion", "cooling-down"):
        return reason(code, **{**numbers, "target": target.celsius} | _foreseen(numbers))
    return None


def _foreseen(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """When it will be there, only where that says how warm: else it is the time of what is aimed at, and not told."""
    eta = numbers.get("eta")
    return {} if eta is None or (isinstance(eta, Said) and "target" in eta.numbers) else {"eta": ""}
