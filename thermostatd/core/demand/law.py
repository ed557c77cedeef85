"""What every control law is given and gives: one signature for all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from thermostatd.core.house import Room
from thermostatd.core.memory import AirMemory, Notes
from thermostatd.core.results import Demand, Target


@dataclass(frozen=True, slots=True)
class Case:
    """One room at one moment: its air in °C, its target, and whether its heat was on since the last step.

    `notes` is the law's own memory of this room (JSON-able); `model` what was learned of it, if anything.
    `watts` is the power of the room's heaters as set.
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


Law = Callable[[Case], Demand]
