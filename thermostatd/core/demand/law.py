"""What every control law is given and gives: one signature for all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from thermostatd.core.house import Room
from thermostatd.core.memory import AirMemory, Notes
from thermostatd.core.results import Demand, Target
from thermostatd.core.values import Forecast

PAIR = 2  # switchings of a run: its ON, and the OFF that it keeps


@dataclass(frozen=True, slots=True)
class Hush:
    """Quiet hours: when they begin (now or later) and end, steady seconds, and how many switchings they have left.

    `switches` is how many they allow, `until` their end on the house's clock.
    """

    begins: float
    ends: float
    left: int
    switches: int
    until: str


@dataclass(frozen=True, slots=True)
class Case:
    """One room at one moment: its air in °C, its target, and whether its heat was on since the last step.

    `notes` is the law's own memory of this room (JSON-able); `model` what was learned of it, if anything.
    `watts` is the power of the heaters that the law switches, as set, `full_watts` what they would draw by what was
    metered, and `drawn_watts` what all of the room's have drawn since the last step. `switched` is the steady second
    at which the law's were last switched.
    """

    room: Room
    celsius: float
    target: Target
    steady: float
    seconds: float
    was_on: bool
    watts: float
    outdoor_celsius: float | None
    air: AirMemory
    notes: Notes
    model: Notes | None
    full_watts: float | None = None
    lasting_watts: float | None = None
    """What all of the room's heaters that can be counted on can go on giving, W, where cut-outs would open less than
    they draw; None: as much as `full_watts` and `base_watts`."""
    base_watts: float = 0.0
    """What heats steadily beside what the law switches, in a room of several heaters."""
    drawn_watts: float | None = None
    neighbours_celsius: float | None = None
    neighbours_told: tuple[Notes | None, ...] = ()
    """What their own laws noted of where their air is heading (predictive/around.py)."""
    switched: float | None = None
    day_minute: float = 0.0
    """Minutes since midnight on the house's clock."""
    hush: Hush | None = None
    """Quiet hours that hold now or begin within two hours."""
    forecast: Forecast | None = None
    """The outdoor air ahead, where it is told."""

    @property
    def hush_now(self) -> Hush | None:
        """The quiet hours that hold now, if any do."""
        return self.hush if self.hush is not None and self.hush.begins <= self.steady else None

    @property
    def last_run(self) -> bool:
        """Whether quiet hours leave no other run after the one that goes on, which has its own OFF yet to make."""
        return self.was_on and self.hush_now is not None and self.hush_now.left < PAIR + 1


Law = Callable[[Case], Demand]
