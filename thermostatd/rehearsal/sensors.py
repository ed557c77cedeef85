"""A room's temperature sensor: it lags, speaks in steps, is a little noisy, and can fail.

Rules: it reports by period or on change (then at least every `heartbeat_seconds`, ten minutes to an hour, as many that
live on a battery do); news is handed out once.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from random import Random


@dataclass(frozen=True, slots=True)
class SensorTraits:
    """How a sensor behaves. `on_change` reports what has moved by `change_kelvin` (0: by most of a step), looked for
    every `period_seconds`."""

    lag_seconds: float = 420.0
    step_kelvin: float = 0.1
    noise_kelvin: float = 0.02
    period_seconds: float = 60.0
    on_change: bool = False
    change_kelvin: float = 0.0
    heartbeat_seconds: float = 600.0
    offset_kelvin: float = 0.0

    @classmethod
    def invented(cls, rng: Random) -> SensorTraits:
        """Traits of some sensor, from a seed."""
        on_change = rng.random() < 0.5
        return cls(
            lag_seconds=rng.uniform(240.0, 600.0),
            noise_kelvin=rng.uniform(0.01, 0.03),
            period_seconds=20.0 if on_change else rng.choice((60.0, 60.0, 120.0, 300.0)),
            on_change=on_change,
            offset_kelvin=rng.uniform(-0.1, 0.1),
            change_kelvin=rng.choice((0.0, 0.2, 0.3)) if on_change else 0.0,
            heartbeat_seconds=rng.choice((600.0, 1800.0, 3600.0)) if on_change else 600.0,
        )


class RoomSensor:
    """One sensor. `felt_celsius` is what its body has come to; `battery_percent` runs down over years."""

    def __init__(self, traits: SensorTraits, rng: Random, celsius: float) -> None:
        self.traits = traits
        self.felt_celsius = celsius
        self.battery_percent = 100.0
        self.due_at = rng.uniform(0.0, min(traits.period_seconds, 10.0))
        self._rng = rng
        self._last: tuple[float, float] | None = None
        self._news: tuple[float, float] | None = None
        self.silent = self.stuck = False
        self.says: float | None = None
        self._share = (0.0, 0.0)

    def feel(self, seconds: float, air_celsius: float) -> None:
        """Lets `seconds` pass in air of some temperature."""
        if seconds != self._share[0]:
            lag = self.traits.lag_seconds
            self._share = (seconds, 1.0 - exp(-seconds / lag) if lag > 0 else 1.0)
        self.felt_celsius += (air_celsius - self.felt_celsius) * self._share[1]

    def look(self, now: float) -> None:
        """The sensor's own moment to measure; it may report."""
        traits = self.traits
        self.due_at = now + traits.period_seconds
        self.battery_percent = max(self.battery_percent - 6e-7 * traits.period_seconds, 0.0)
        noisy = self.felt_celsius + traits.offset_kelvin + self._rng.gauss(0.0, traits.noise_kelvin)
        value = round(round(noisy / traits.step_kelvin) * traits.step_kelvin, 4)
        if self.stuck and self._last is not None:
            value = noisy = self._last[0]
        if self.says is not None:
            value = noisy = self.says
        if not self.silent and self._worth(noisy, now):
            self._last = self._news = (value, now)

    def _worth(self, celsius: float, now: float) -> bool:
        if self._last is None or not self.traits.on_change:
            return True
        least = self.traits.change_kelvin or 0.8 * self.traits.step_kelvin
        moved = not abs(celsius - self._last[0]) < least
        return moved or now - self._last[1] >= self.traits.heartbeat_seconds

    def news(self) -> tuple[float, float] | None:
        """The value °C and its steady second, if one came since the last call."""
        fresh, self._news = self._news, None
        return fresh

    def repeat(self) -> None:
        """Makes the last value news again, as after a reconnect."""
        if not self.silent:
            self._news = self._last

    def mend(self) -> None:
        """Ends every fault, with a new battery."""
        self.battery_percent = 100.0
        self.silent = self.stuck = False
        self.says = None
