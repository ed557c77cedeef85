"""Drives a regulator against a simulated house in virtual time, and sums up how the rooms fared.

Rules: one step of the regulator each tick; its orders reach the plugs at once, with their lapses; the
summary judges the true air, which no sensor knows; K, kWh, switchings a day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Protocol

from thermostatd.core.house import House
from thermostatd.core.values import Moment, Observation
from thermostatd.rehearsal.house import SimulatedHouse


class OrderLike(Protocol):
    """What a plug is told."""

    @property
    def on(self) -> bool:
        """Whether the contact should be closed."""
        ...

    @property
    def lapses(self) -> float:
        """The steady second when an ON ends by itself."""
        ...


class TargetLike(Protocol):
    """What a room should have."""

    @property
    def celsius(self) -> float:
        """The target, °C."""
        ...


class RoomLike(Protocol):
    """A room's part of a result."""

    @property
    def target(self) -> TargetLike:
        """The target in force."""
        ...


class ResultLike(Protocol):
    """What a step decided."""

    @property
    def orders(self) -> Mapping[str, OrderLike]:
        """Orders by heater key."""
        ...

    @property
    def rooms(self) -> Mapping[str, RoomLike]:
        """Rooms by name."""
        ...


class Decides(Protocol):
    """Anything that steps as the regulator does."""

    def step(self, moment: Moment, observation: Observation, /) -> ResultLike:
        """Decides one tick."""
        ...


OnTick = Callable[[Moment, Observation, ResultLike, SimulatedHouse], None]


@dataclass(slots=True)
class RoomSummary:
    """How one room fared: true air against target, K, and what its heaters did."""

    rms_kelvin: float = 0.0
    most_over_kelvin: float = 0.0
    most_under_kelvin: float = 0.0
    switches_per_day: float = 0.0
    cutout_trips: int = 0
    kwh: float = 0.0


@dataclass(slots=True)
class Summary:
    """The whole run. `seconds` is virtual time judged."""

    seconds: float
    rooms: dict[str, RoomSummary] = field(default_factory=dict)

    @property
    def kwh(self) -> float:
        """Energy of all rooms, kWh."""
        return sum(room.kwh for room in self.rooms.values())


class _Tally:
    """Counters at the start of what is judged, and the squares of what is found."""

    def __init__(self, house: House, simulated: SimulatedHouse) -> None:
        self._house, self._simulated = house, simulated
        self.begin()

    def begin(self) -> None:
        self._begun, self._ticks = self._simulated.steady, 0
        self._squares = {room.name: 0.0 for room in self._house.rooms}
        self._over = {room.name: 0.0 for room in self._house.rooms}
        self._under = {room.name: 0.0 for room in self._house.rooms}
        self._before = {key: self._counts(key) for key in self._simulated.plugs}

    def _counts(self, key: str) -> tuple[int, int, float]:
        plug = self._simulated.plugs[key]
        return plug.switchings, plug.heater.trips, plug.drawn_joules

    def add(self, result: ResultLike) -> None:
        self._ticks += 1
        for name in self._squares:
            off = self._simulated.true_air(name) - result.rooms[name].target.celsius
            self._squares[name] += off * off
            self._over[name] = max(self._over[name], off)
            self._under[name] = max(self._under[name], -off)

    def summary(self) -> Summary:
        seconds = self._simulated.steady - self._begun
        summary = Summary(seconds)
        for room in self._house.rooms:
            found = RoomSummary(
                sqrt(self._squares[room.name] / max(self._ticks, 1)),
                self._over[room.name],
                self._under[room.name],
            )
            for heater in room.heaters:
                key = room.key_of(heater)
                now, before = self._counts(key), self._before[key]
                found.switches_per_day += (now[0] - before[0]) * 86400.0 / max(seconds, 1.0)
                found.cutout_trips += now[1] - before[1]
                found.kwh += (now[2] - before[2]) / 3.6e6
            summary.rooms[room.name] = found
        return summary


def run(
    house: House,
    regulator: Decides,
    simulated: SimulatedHouse,
    hours: float,
    tick_seconds: float = 10.0,
    on_tick: OnTick | None = None,
    skip_hours: float = 0.0,
) -> Summary:
    """Lets the regulator heat the house for `hours`; the first `skip_hours` are not judged."""
    if not 0 < tick_seconds <= 3600 or not 0 <= skip_hours < hours:
        raise ValueError("a tick is over zero up to an hour, and skip_hours is less than hours")
    tally, begun = _Tally(house, simulated), simulated.steady
    judged = skip_hours == 0
    while simulated.steady < begun + hours * 3600.0 - 1e-6:
        if not judged and simulated.steady >= begun + skip_hours * 3600.0:
            judged = True
            tally.begin()
        moment, observation = simulated.moment(), simulated.observation()
        result = regulator.step(moment, observation)
        for key, order in result.orders.items():
            simulated.tell(key, order.on, max(order.lapses - moment.steady, 0.0))
        if on_tick is not None:
            on_tick(moment, observation, result, simulated)
        simulated.advance(tick_seconds)
        if judged:
            tally.add(result)
    return tally.summary()
