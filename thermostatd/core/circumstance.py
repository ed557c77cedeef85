"""Whether the house is awake, asleep or away at a moment."""

from __future__ import annotations

from thermostatd.core.clock import Now
from thermostatd.core.house import House
from thermostatd.core.house.plugs import Circumstance
from thermostatd.core.memory import Memory
from thermostatd.core.week import window_start

TOLD: dict[Circumstance, str] = {
    "awake": "The house is awake",
    "asleep": "The house is asleep",
    "away": "Everyone is out",
}
"""As people say it."""


def circumstance_of(house: House, memory: Memory, now: Now) -> Circumstance:
    """Away while everyone is out; else asleep in the house's asleep hours; else awake."""
    if memory.out is not None:
        return "away"
    asleep = house.house.asleep
    if asleep is not None and window_start(now.best, asleep.begins, asleep.ends, now.zone) is not None:
        return "asleep"
    return "awake"
