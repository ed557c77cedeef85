"""What stands between the regulator and a room: a heater that stores heat, a plug, a sensor, people.

Rules: one minute a step; the heater's store is τ·ż = P − z and gives z to the room; a sensor lags, is noisy and
speaks in steps; everything random comes from the seed; faults are set from outside and stay until mended.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sin
from random import Random

from tests.bench.plant.houses import Cell

MINUTE = 60.0


class Heater:
    """An oil-filled heater: metal and oil take up what it draws, and shed it later."""

    def __init__(self, cell: Cell, rng: Random, errs: float = 1.0) -> None:
        """`errs` multiplies watts and store: what the owner wrote may be wrong."""
        self.watts, self.store_seconds = cell.watts * errs, cell.store_seconds * errs
        self.radiant_share = cell.radiant_share
        self.store_watts = 0.0
        self.on = False
        self.stuck: bool | None = None
        self.elsewhere = False
        self.switchings = 0
        self.joules = 0.0
        self._mains = [
            (rng.uniform(0.004, 0.01), rng.uniform(3e3, 4e4), rng.uniform(0, 2 * pi)) for _ in range(3)
        ]

    def tell(self, on: bool) -> None:
        """An order reaches the plug; a stuck contact stays as it is."""
        if self.stuck is not None:
            on = self.stuck
        self.switchings += on != self.on
        self.on = on

    def volts(self, steady: float) -> float:
        """Mains at the socket, V."""
        return 230.0 * (
            1.0 + sum(size * sin(2 * pi * steady / period + phase) for size, period, phase in self._mains)
        )

    def drawn_watts(self, steady: float) -> float:
        """What it draws now: as the square of the mains."""
        return self.watts * (self.volts(steady) / 230.0) ** 2 if self.on else 0.0

    def minute(self, steady: float) -> tuple[float, float]:
        """A minute goes by; gives the mean watts to the air and to surfaces."""
        drawn = self.drawn_watts(steady)
        self.joules += drawn * MINUTE
        kept = exp(-MINUTE / self.store_seconds)
        before, self.store_watts = self.store_watts, drawn + (self.store_watts - drawn) * kept
        shed = drawn + (before - self.store_watts) * self.store_seconds / MINUTE
        if self.elsewhere:
            return 0.0, 0.0
        return shed * (1.0 - self.radiant_share), shed * self.radiant_share


@dataclass(slots=True)
class Sensor:
    """A room's thermometer; a value comes each `period_seconds`, rounded to `step_kelvin`.

    One that reports on change looks as often, and tells what it sees once that has moved by `change_kelvin`, or
    after `longest_seconds` of silence.
    """

    lag_seconds: float
    rng: Random
    celsius: float | None = None
    step_kelvin: float = 0.1
    noise_kelvin: float = 0.03
    period_seconds: float = 60.0
    offset_kelvin: float = 0.0
    change_kelvin: float = 0.0
    longest_seconds: float = 0.0
    last: tuple[float, float] | None = None

    def minute(self, air_celsius: float) -> None:
        """A minute in air of some temperature."""
        if self.celsius is None:
            self.celsius = air_celsius
        self.celsius += (air_celsius - self.celsius) * (1.0 - exp(-MINUTE / self.lag_seconds))

    def told(self, steady: float) -> float | None:
        """What it tells at this minute, if it does."""
        if steady % self.period_seconds >= MINUTE or self.celsius is None:
            return None
        noisy = self.celsius + self.offset_kelvin + self.rng.gauss(0.0, self.noise_kelvin)
        if self.change_kelvin and self.last is not None:
            value, at = self.last
            if abs(noisy - value) < self.change_kelvin and steady - at < self.longest_seconds:
                return None
        self.last = (round(round(noisy / self.step_kelvin) * self.step_kelvin, 3), steady)
        return self.last[0]


class People:
    """People and their things in a room: from and to about the same hours each day, never quite."""

    def __init__(self, cell: Cell, rng: Random) -> None:
        self._rng, self._watts = rng, cell.people_watts
        self._usual = [
            (rng.uniform(6.3, 7.2), rng.uniform(7.6, 9.0)),
            (rng.uniform(16.0, 19.0), rng.uniform(21.0, 23.0)),
        ]
        self._day = -1
        self._today: list[tuple[float, float, float]] = []

    def watts(self, steady: float) -> float:
        """Their heat now, W; seconds count from a midnight."""
        day, hour = int(steady // 86400.0), steady % 86400.0 / 3600.0
        if day != self._day:
            self._day = day
            self._today = [
                (
                    begins + self._rng.gauss(0, 0.4),
                    ends + self._rng.gauss(0, 0.4),
                    self._watts * self._rng.uniform(0.3, 1.5),
                )
                for begins, ends in self._usual
                if self._rng.random() < 0.85
            ]
        return sum(watts for begins, ends, watts in self._today if begins <= hour < ends)
