"""Three references that nobody can build: the ideal, the same by a heater that radiates, full power before each rise.

Rules: the ideal gives any power at once up to the heater's, to the air, on true air, with no lag, from the moment
a target holds; by a heater that radiates, its share goes to the walls as it does from the real one, and how far that
alone is off the ideal no control of the heater can mend; the full run heats by the real heater at full power from six
hours before a rise until its target is reached, and so tells which rises are feasible. People are those of the same
seed.
"""

from __future__ import annotations

from random import Random

from tests.bench.plant.devices import Heater, People
from tests.bench.plant.houses import Building
from tests.bench.plant.programme import PROGRAMMES, changes, rises
from tests.bench.plant.regulated import _warm_up
from tests.bench.plant.trace import Trace

AHEAD_SECONDS = 6 * 3600.0


class Ideal:
    """Holds each room's true air at its target as far as its heater's watts go."""

    def __init__(self, building: Building, programme: str, days: int, seed: int, trace: Trace) -> None:
        self.building, self.trace = building, trace
        self.people = [People(c, Random(f"people/{seed}/{c.name}")) for c in building.cells]
        self._targets = [changes(steps, days) for steps in PROGRAMMES[programme]]
        self._watts = [0.0] * len(building.cells)
        self._last: list[float] | None = None
        self._capacity = [
            building.air_multiplier * 1206.0 * c.wide * building.deep * building.high for c in building.cells
        ]
        self.gone = 0.0

    def open_window_changes(self) -> list[float | None]:
        """Nobody opens one."""
        return [None] * len(self._watts)

    def target(self, index: int) -> float:
        """What is wanted of a room now, °C."""
        return [celsius for at, celsius in self._targets[index] if at <= self.gone][-1]

    def minute(self, air: list[float], outdoor: float, warming: bool) -> list[tuple[float, float]]:
        """One minute."""
        if warming:
            return _warm_up(self, air)
        targets = [self.target(index) for index in range(len(air))]
        given = [self.heat(index, celsius, targets[index]) for index, celsius in enumerate(air)]
        self.trace.add(air, outdoor, targets, [sum(one) > 0 for one in given], self.drawn(given))
        people = [one.watts(self.gone) for one in self.people]
        self._last = list(air)
        self.gone += 60.0
        return [(a + 0.5 * p, s + 0.5 * p) for (a, s), p in zip(given, people, strict=True)]

    def heat(self, index: int, celsius: float, target: float) -> tuple[float, float]:
        """The watts that bring this room to its target within a few minutes, to the air at once."""
        slope = celsius - self._last[index] if self._last else 0.0
        due = (target - celsius) * 0.35 - slope * 0.9
        watts = self._watts[index] + due * self._capacity[index] / 60.0
        self._watts[index] = min(self.building.cells[index].watts, max(0.0, watts))
        return self._watts[index], 0.0

    def drawn(self, given: list[tuple[float, float]]) -> list[float]:
        """What is drawn for it: the same."""
        return [sum(one) for one in given]


class Radiant(Ideal):
    """The ideal, but the heater's radiant share warms the walls first: more is needed, and they are warm when the sun
    comes."""

    def heat(self, index: int, celsius: float, target: float) -> tuple[float, float]:
        """The same watts, shared out as the real heater does."""
        watts, _ = super().heat(index, celsius, target)
        share = self.building.cells[index].radiant_share
        return watts * (1.0 - share), watts * share


class Full(Ideal):
    """The ideal, but for the six hours before each rise: then the real heater at full power until it is reached."""

    def __init__(self, building: Building, programme: str, days: int, seed: int, trace: Trace) -> None:
        super().__init__(building, programme, days, seed, trace)
        self._rises = [rises(steps, days) for steps in PROGRAMMES[programme]]
        self.heaters = [Heater(c, Random(f"heater/{seed}/{c.name}")) for c in building.cells]
        self._done = [-1.0] * len(building.cells)

    def heat(self, index: int, celsius: float, target: float) -> tuple[float, float]:
        """Full power while a rise is ahead and not yet reached; the store empties by itself afterwards."""
        heater = self.heaters[index]
        due = [
            r
            for r in self._rises[index]
            if 0.0 <= r.at - self.gone <= AHEAD_SECONDS and r.at != self._done[index]
        ]
        heater.on = bool(due) and celsius < due[0].celsius
        if due and not heater.on:
            self._done[index] = due[0].at
        held = (0.0, 0.0) if heater.on else super().heat(index, celsius, self._aim(index, target))
        shed = heater.minute(self.gone)
        return held[0] + shed[0], held[1] + shed[1]

    def _aim(self, index: int, target: float) -> float:
        ahead = [r for r in self._rises[index] if r.at == self._done[index] and self.gone < r.at]
        return ahead[0].celsius if ahead else target
