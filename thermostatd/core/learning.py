"""What learning needs, kept apart from memory, and the slow part that learns from it.

Rules: a History holds at most six days of five-minute means; `fit` says nothing of a room whose record does
not tell; what it gives is JSON-able and goes to `Regulator.adopt`.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import Any

from thermostatd.core.house import House, Room
from thermostatd.core.results import Result
from thermostatd.core.values import Moment, Observation, Reading
from thermostatd.physics.identify import first_order

STEP_SECONDS = 300.0
MOST_STEPS = int(6 * 86400 / STEP_SECONDS)
MILD_CELSIUS = 5.0


@dataclass
class _Slot:
    """One room's five minutes in the making: sums of air, outdoor and share of full power."""

    index: int
    count: int = 0
    air: float = 0.0
    outdoor: float = 0.0
    share: float = 0.0


@dataclass
class RoomHistory:
    """Even five-minute means of one room: (slot, air °C, outdoor °C, share of full power)."""

    steps: deque[tuple[int, float, float, float]] = field(default_factory=lambda: deque(maxlen=MOST_STEPS))
    slot: _Slot | None = None

    def add(self, steady: float, air: float, outdoor: float, share: float) -> None:
        """Take one step in."""
        index = int(steady // STEP_SECONDS)
        if self.slot is None or self.slot.index != index:
            self._close()
            self.slot = _Slot(index)
        self.slot.count += 1
        self.slot.air += air
        self.slot.outdoor += outdoor
        self.slot.share += share

    def _close(self) -> None:
        if self.slot is not None and self.slot.count:
            n = self.slot.count
            self.steps.append(
                (self.slot.index, self.slot.air / n, self.slot.outdoor / n, self.slot.share / n)
            )

    def longest_unbroken(self) -> list[tuple[int, float, float, float]]:
        """The longest stretch without a missing step."""
        best: list[tuple[int, float, float, float]] = []
        run: list[tuple[int, float, float, float]] = []
        for step in self.steps:
            if not run or step[0] != run[-1][0] + 1:
                run = []
            run.append(step)
            best = run if len(run) > len(best) else best
        return best


class History:
    """The record of a house that `fit` learns from."""

    def __init__(self, house: House) -> None:
        self._house = house
        self.rooms = {room.name: RoomHistory() for room in house.rooms}

    def add(self, moment: Moment, observation: Observation, result: Result) -> None:
        """Take one decided step in."""
        outdoor = result.house.outdoor.celsius if isinstance(result.house.outdoor, Reading) else MILD_CELSIUS
        for room in self._house.rooms:
            decided = result.rooms[room.name]
            if isinstance(decided.air, Reading):
                self.rooms[room.name].add(
                    moment.steady, decided.air.celsius, outdoor, _share(room, decided.heaters)
                )


def _share(room: Room, heaters: Any) -> float:
    """Share of the room's full power that its plugs are ordered to give."""
    full = sum(heater.watts for heater in room.heaters)
    on = sum(heater.watts for heater in room.heaters if heaters[room.key_of(heater)].on)
    return on / full if full else 0.0


def fit(house: House, history: History) -> dict[str, dict[str, Any]]:
    """A first-order model of every room whose record tells one: `gain_kelvin`, `tau_seconds`, `dead_seconds`."""
    models = {}
    for room in house.rooms:
        steps = history.rooms[room.name].longest_unbroken()
        learned = first_order(
            [s[1] for s in steps], [s[2] for s in steps], [s[3] for s in steps], STEP_SECONDS
        )
        if learned is not None:
            models[room.name] = {
                "gain_kelvin": learned.gain_kelvin,
                "tau_seconds": learned.tau_seconds,
                "dead_seconds": learned.dead_seconds,
                "residual_kelvin": learned.residual_kelvin,
                "steps": len(steps),
            }
    return models
