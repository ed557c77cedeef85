"""What comes in from outside: a moment, readings and what plugs report.

Rules: missing is a type, never 0 or NaN; times named `at` or `steady` are seconds of a clock
that never jumps; a plain float stands for a value "measured now".
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeGuard


def is_finite(value: object) -> TypeGuard[float]:
    """Whether a value from outside is a finite number; a bool is none, nor an integer past any float."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant on both clocks: `wall` is aware; `steady` is seconds and never jumps."""

    wall: datetime
    steady: float

    def __post_init__(self) -> None:
        if self.wall.tzinfo is None:
            raise ValueError("Moment.wall needs a time zone: use datetime.now(UTC)")


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature in °C; `at` is the steady second it was measured (left out: now)."""

    celsius: float
    at: float | None = None


@dataclass(frozen=True, slots=True)
class Forecast:
    """Outdoor air ahead, °C, for the moment it was told, `age_seconds` ago, and each hour after; two values or more."""

    celsius: tuple[float, ...]
    age_seconds: float

    @property
    def left_seconds(self) -> float:
        """How long from now its last hour is."""
        return (len(self.celsius) - 1) * 3600.0 - self.age_seconds

    def at(self, seconds: float) -> float:
        """Outdoor air so many seconds from now, °C: a straight line between its hours, level beyond its ends."""
        hours = min(max((self.age_seconds + seconds) / 3600.0, 0.0), len(self.celsius) - 1.0)
        whole = min(int(hours), len(self.celsius) - 2)
        before, after = self.celsius[whole : whole + 2]
        return before + (after - before) * (hours - whole)


@dataclass(frozen=True, slots=True)
class Missing:
    """No usable value, and why, in words a person can read.

    `implausible` is False where nothing false was told: the sensor is away, or silent.
    """

    why: str
    at: float | None = None
    implausible: bool = True


@dataclass(frozen=True, slots=True)
class PlugReport:
    """What a plug said of itself.

    `on` is its contact (None: not heard), `watts` and `volts` its meter, `warm_celsius` its own
    temperature; `on_at`/`watts_at`/`warm_at` are the steady seconds of each (left out: now).
    `reachable` is False once the plug is known to be away; `back_at` is when the plug, or the way to it, last
    came back: what it shows shortly after is no press on its button. `opened_at` is when it was last told OFF though an
    ON held: by the broker's last word, and anew once there was a way to it again.
    """

    on: bool | None = None
    watts: float | None = None
    volts: float | None = None
    on_at: float | None = None
    watts_at: float | None = None
    reachable: bool = True
    warm_celsius: float | None = None
    warm_at: float | None = None
    back_at: float | None = None
    opened_at: float | None = None


@dataclass(frozen=True, slots=True)
class Observation:
    """Everything new since the last step. A room or plug left out brought nothing new."""

    air: Mapping[str, Reading | Missing | float] = field(default_factory=dict)
    outdoor: Reading | Missing | float | None = None
    plugs: Mapping[str, PlugReport] = field(default_factory=dict)
    humidity_percent: Mapping[str, float] = field(default_factory=dict)
    battery_percent: Mapping[str, float] = field(default_factory=dict)
    stopping: bool = False
    forecast: tuple[float, ...] = ()
    """A new forecast of the outdoor air, °C, for now and each hour after; empty: nothing new."""
