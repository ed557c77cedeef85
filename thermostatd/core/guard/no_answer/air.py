"""What a room's air does: where it is heading, by how much a heater should move it, and when it tells nothing.

Rules: the bound is a fixed one per watt; where a sensor spoke too seldom for a slope, what it said of the last two
hours is drawn straight; for some hours after a window was noticed falling air tells nothing.
"""

from __future__ import annotations

from math import inf

from thermostatd.core.guard.case import Case
from thermostatd.core.memory import AirMemory
from thermostatd.core.reading import slope_kelvin_per_hour

BOUND_KELVIN_AT_600_W, LEAST_BOUND_KELVIN = 0.3, 0.15
SLOPE_SECONDS, SHORT_SLOPE_SECONDS, SPARSE_SECONDS = 2400.0, 1300.0, 7200.0
AIRED_SECONDS = 7200.0


def bound_kelvin(watts: float) -> float:
    """By how much an hour of such power, or half an hour without it, moves the air at least, K."""
    return max(LEAST_BOUND_KELVIN, BOUND_KELVIN_AT_600_W * watts / 600.0)


def slope(case: Case, seconds: float) -> float:
    """What it did in the last `seconds`, K/h; 0 where that is not known."""
    assert case.air_memory is not None
    known = slope_kelvin_per_hour(case.air_memory, case.now.steady, seconds)
    return _sparse_slope(case.air_memory, case.now.steady) if known is None else known


def _sparse_slope(air: AirMemory, steady: float) -> float:
    """K/h from the first to the last that was said in two hours; a sensor that speaks on change tells no more."""
    trail = [one for one in air.trail if one[0] >= steady - SPARSE_SECONDS]
    seconds = trail[-1][0] - trail[0][0] if trail else 0.0
    return 3600.0 * (trail[-1][1] - trail[0][1]) / seconds if seconds > SLOPE_SECONDS / 2.0 else 0.0


def heading(case: Case) -> float:
    """Where the air is heading, K/h: the lower of what it did lately."""
    return min(slope(case, SLOPE_SECONDS), slope(case, SHORT_SLOPE_SECONDS))


def aired(case: Case) -> bool:
    """Whether a window was noticed lately: air that falls then tells nothing of the heater."""
    assert case.room is not None
    notes = case.memory.rooms[case.room.name].window
    return "since" in notes or case.now.steady < notes.get("quiet_until", -inf) + AIRED_SECONDS
