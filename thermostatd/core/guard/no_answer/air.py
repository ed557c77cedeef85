"""What a room's air does: where it is heading, by how much a heater should move it, and when it tells nothing.

Rules: the bound is a fixed one per watt; for some hours after a window was noticed falling air tells nothing.
"""

from __future__ import annotations

from math import inf

from thermostatd.core.guard.case import Case
from thermostatd.core.reading import slope_kelvin_per_hour

BOUND_KELVIN_AT_600_W, LEAST_BOUND_KELVIN = 0.3, 0.15
SLOPE_SECONDS, SHORT_SLOPE_SECONDS = 2400.0, 1300.0
AIRED_SECONDS = 7200.0


def bound_kelvin(watts: float) -> float:
    """By how much an hour of such power, or half an hour without it, moves the air at least, K."""
    return max(LEAST_BOUND_KELVIN, BOUND_KELVIN_AT_600_W * watts / 600.0)


def slope(case: Case, seconds: float) -> float:
    """What it did in the last `seconds`, K/h; 0 where that is not known."""
    assert case.air_memory is not None
    return slope_kelvin_per_hour(case.air_memory, case.now.steady, seconds) or 0.0


def heading(case: Case) -> float:
    """Where the air is heading, K/h: the lower of what it did lately."""
    return min(slope(case, SLOPE_SECONDS), slope(case, SHORT_SLOPE_SECONDS))


def aired(case: Case) -> bool:
    """Whether a window was noticed lately: air that falls then tells nothing of the heater."""
    assert case.room is not None
    notes = case.memory.rooms[case.room.name].window
    return "since" in notes or case.now.steady < notes.get("quiet_until", -inf) + AIRED_SECONDS
