"""The weather, the sun and the mains of a rehearsal: invented, seeded, a pure function of time.

Rules: nothing here remembers anything, so any second can be asked again; °C, W/m², V.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import pi, sin
from random import Random
from typing import Protocol

DAY_SECONDS = 86400.0


class Weather(Protocol):
    """What the outdoors does, by seconds since the rehearsal's start."""

    def outdoor_celsius(self, seconds: float) -> float:
        """Outdoor air, °C."""
        ...

    def sun_watts_per_square_metre(self, seconds: float) -> float:
        """Sun on an upright window that faces it, W/m²."""
        ...


class Foretold:
    """A forecast without error of a weather's outdoor air, told once an hour."""

    EVERY_SECONDS, HOURS = 3600.0, 24

    def __init__(self, weather: Weather) -> None:
        self._weather = weather
        self._due_at = 0.0

    def news(self, now: float) -> tuple[float, ...]:
        """Outdoor air for now and each of the coming hours, °C to a tenth; empty until the next is due."""
        if now < self._due_at:
            return ()
        self._due_at = now + self.EVERY_SECONDS
        hours = range(self.HOURS + 1)
        return tuple(round(self._weather.outdoor_celsius(now + 3600.0 * hour), 1) for hour in hours)

    def repeat(self) -> None:
        """Tell it anew, as after a reconnect."""
        self._due_at = 0.0


class Waves:
    """Smooth seeded noise: a few sines of random length and phase, within ± `size`."""

    def __init__(self, rng: Random, size: float, shortest_seconds: float, longest_seconds: float) -> None:
        count = 4
        self._parts: Sequence[tuple[float, float, float]] = tuple(
            (size / count, 2 * pi / rng.uniform(shortest_seconds, longest_seconds), rng.uniform(0, 2 * pi))
            for _ in range(count)
        )

    def at(self, seconds: float) -> float:
        """The value at a second."""
        return sum(size * sin(speed * seconds + phase) for size, speed, phase in self._parts)


class ColdSpell:
    """A cold week: a daily swing, slow fronts, clouds and a little flutter. The wall time sets the hours."""

    def __init__(
        self, seed: int, start: datetime, mean_celsius: float = -2.0, swing_kelvin: float = 3.0
    ) -> None:
        rng = Random(f"weather/{seed}")
        self._mean, self._swing = mean_celsius, swing_kelvin
        self._first = start.hour * 3600.0 + start.minute * 60.0 + start.second
        self._fronts = Waves(rng, 5.0, 1.5 * DAY_SECONDS, 6 * DAY_SECONDS)
        self._clouds = Waves(rng, 1.0, 0.3 * DAY_SECONDS, 2.5 * DAY_SECONDS)
        self._flutter = Waves(rng, 0.4, 1500.0, 14_000.0)

    def _clear(self, seconds: float) -> float:
        return min(max(0.5 + 0.8 * self._clouds.at(seconds), 0.1), 1.0)

    def outdoor_celsius(self, seconds: float) -> float:
        """Outdoor air, °C: coldest near six, warmest near three in the afternoon."""
        hour = (self._first + seconds) / 3600.0
        swing = self._swing * (0.4 + 0.6 * self._clear(seconds)) * sin(2 * pi * (hour - 9.5) / 24.0)
        return self._mean + self._fronts.at(seconds) + swing + self._flutter.at(seconds)

    def sun_watts_per_square_metre(self, seconds: float) -> float:
        """Sun on an upright window that faces it, W/m²: a short winter day."""
        hour = (self._first + seconds) / 3600.0 % 24.0
        if not 8.5 < hour < 15.5:
            return 0.0
        return 420.0 * self._clear(seconds) * sin(pi * (hour - 8.5) / 7.0)


class Mains:
    """Mains voltage that drifts by a few per cent and sags a little under the house's own load."""

    def __init__(self, seed: int, nominal_volts: float) -> None:
        rng = Random(f"mains/{seed}")
        self._nominal = nominal_volts
        self._bias = rng.uniform(-0.015, 0.02)
        self._slow = Waves(rng, 0.02, 6 * 3600.0, 30 * 3600.0)
        self._quick = Waves(rng, 0.012, 240.0, 2400.0)
        self._ohms = 0.15 * (nominal_volts / 230.0) ** 2

    def volts(self, seconds: float, house_watts: float = 0.0) -> float:
        """The voltage at the sockets, V, with `house_watts` drawn by the house's heaters."""
        source = self._nominal * (1.0 + self._bias + self._slow.at(seconds) + self._quick.at(seconds))
        return source - self._ohms * house_watts / self._nominal


class RecordedMains:
    """Mains voltage from a record, one value a minute, that sags a little more under the house's own heaters.

    `recorded_nominal` is what the record's own mains is meant to be; values are scaled to `nominal_volts`. The record
    begins anew when it ends.
    """

    def __init__(
        self, volts: Sequence[float], nominal_volts: float, recorded_nominal: float, step_seconds: float = 60.0
    ) -> None:
        if not volts or min(volts) <= 0 or min(nominal_volts, recorded_nominal, step_seconds) <= 0:
            raise ValueError("a record of the mains needs volts over zero, and a time step")
        self._volts = [one * nominal_volts / recorded_nominal for one in volts]
        self._nominal, self._step = nominal_volts, step_seconds
        self._ohms = 0.15 * (nominal_volts / 230.0) ** 2

    def volts(self, seconds: float, house_watts: float = 0.0) -> float:
        """The voltage at the sockets, V, with `house_watts` drawn by the house's heaters."""
        source = self._volts[int(seconds // self._step) % len(self._volts)]
        return source - self._ohms * house_watts / self._nominal
