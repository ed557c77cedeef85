"""Figures from traces.

Rules: excess is the RMS distance of a run's true air from the ideal's true air of the same seed and weather, K;
arrival is when true air first comes within 0.2 K of a rise's new target, minutes after the rise (before: negative); a
rise that the sun brings about by itself (the ideal's air, which does not preheat, comes within 0.3 K before it) is
none, and what the sun alone brings before a rise (no heat for two hours, or since the target fell) is no arrival: the
next one counts; overshoot is the most that true air is over both its target and the ideal's air in two hours after
arrival, K.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.bench.plant.programme import Rise
from tests.bench.plant.trace import Trace

NEAR_KELVIN = 0.2
BY_ITSELF_KELVIN = 0.3
UNHEATED_MINUTES = 120
CLIMB_MINUTES = 30
AHEAD_MINUTES = 360
NEVER = float(AHEAD_MINUTES)


@dataclass(frozen=True, slots=True)
class Arrival:
    """One rise as it went: minutes late, K over, and what full power would take for it."""

    room: str
    at: float
    late_minutes: float
    over_kelvin: float
    full_minutes: float
    """How long full power takes, of at most six hours before the rise; NEVER where it does not bring the air there."""
    climb_kelvin_per_hour: float
    """How fast the air still climbs on full power as it arrives: what an error of the forecast is worth in minutes."""

    @property
    def feasible(self) -> bool:
        """Whether full power reaches it."""
        return self.full_minutes < NEVER


def excess(run: Trace, ideal: Trace, first_minute: int = 0, last_minute: int | None = None) -> np.ndarray:
    """RMS distance from the ideal, of each room, K."""
    off = run.air[first_minute:last_minute] - ideal.air[first_minute:last_minute]
    return np.sqrt(np.mean(off**2, axis=0))


def switches_a_day(run: Trace, first_minute: int = 0, last_minute: int | None = None) -> np.ndarray:
    """Contacts moved, each ON and each OFF counted, of each room, in a day."""
    on = run.on[first_minute:last_minute].astype(int)
    return np.abs(np.diff(on, axis=0)).sum(axis=0) * 1440.0 / len(on)


def joules(run: Trace, first_minute: int = 0) -> np.ndarray:
    """Energy drawn by each room's heater, J."""
    return run.watts[first_minute:].sum(axis=0) * 60.0


def arrived(air: np.ndarray, rise: Rise, column: int, since: int = 0) -> int | None:
    """The minute at which true air first is within 0.2 K; None: it was there all along, so no rise was needed.

    Looked for from six hours before the rise, or the minute `since` which the target before it holds, until the
    target changes again.
    """
    at, until = int(rise.at // 60), int(rise.until // 60)
    begin = max(since, at - AHEAD_MINUTES)
    low = air[begin:until, column] < rise.celsius - NEAR_KELVIN
    if not low[: at - begin + 1].any():
        return None
    first_low = int(np.argmax(low))
    reached = np.flatnonzero(~low[first_low:])
    return begin + first_low + int(reached[0]) if len(reached) else at + AHEAD_MINUTES


def arrivals(
    run: Trace, ideal: Trace, full: Trace, every: list[list[Rise]], names: list[str], first_minute: int
) -> list[Arrival]:
    """Every rise of a run after its learning days."""
    found = []
    for column, (name, ones) in enumerate(zip(names, every, strict=True)):
        for rise in ones:
            if rise.at < first_minute * 60.0:
                continue
            reached = brought(run, rise, column)
            if reached is None or by_itself(ideal, rise, column):
                continue
            late = min(NEVER, reached - rise.at / 60.0)
            found.append(
                Arrival(
                    name,
                    rise.at,
                    late,
                    _over(run, ideal, rise, reached, column),
                    full_power_minutes(full, rise, column),
                    full_power_climb(full, rise, column),
                )
            )
    return found


def brought(run: Trace, rise: Rise, column: int) -> int | None:
    """The minute of the arrival, as `arrived` has it, that the room's heater had a part in."""
    at, since = int(rise.at // 60), _since(run, rise, column)
    reached = arrived(run.air, rise, column, since)
    while reached is not None and reached < at and not _heated(run, since, reached, column):
        low = np.flatnonzero(run.air[reached:at, column] < rise.celsius - NEAR_KELVIN)
        if not len(low):
            return None
        reached = arrived(run.air, rise, column, reached + int(low[0]))
    return reached


def _heated(run: Trace, since: int, minute: int, column: int) -> bool:
    """Whether there was heat in the two hours before; what was for the target before that one counts for nothing."""
    return bool(run.watts[max(since, minute - UNHEATED_MINUTES) : minute, column].any())


def _since(run: Trace, rise: Rise, column: int) -> int:
    """The minute from which the target before a rise holds."""
    moved = np.flatnonzero(np.diff(run.target[: int(rise.at // 60), column]))
    return int(moved[-1]) + 1 if len(moved) else 0


def by_itself(ideal: Trace, rise: Rise, column: int) -> bool:
    """Whether sun and people alone bring the room near the new target before the rise."""
    at = int(rise.at // 60)
    before = ideal.air[max(0, at - AHEAD_MINUTES) : at, column]
    low = np.flatnonzero(before < rise.celsius - BY_ITSELF_KELVIN)
    return not len(low) or bool((before[int(low[0]) :] >= rise.celsius - BY_ITSELF_KELVIN).any())


def full_power_minutes(full: Trace, rise: Rise, column: int) -> float:
    """How long full power, begun six hours before the rise, takes to bring the true air to its target by then."""
    at = int(rise.at // 60)
    reached = np.flatnonzero(full.air[max(0, at - AHEAD_MINUTES) : at, column] >= rise.celsius)
    return float(reached[0]) if len(reached) else NEVER


def full_power_climb(full: Trace, rise: Rise, column: int) -> float:
    """How fast full power, begun six hours before, lifts the true air in the half hour before it arrives, K/h."""
    at = int(rise.at // 60)
    air = full.air[max(0, at - AHEAD_MINUTES) : at + 1, column]
    there = np.flatnonzero(air >= rise.celsius - NEAR_KELVIN)
    last = int(there[0]) if len(there) else len(air) - 1
    first = max(0, last - CLIMB_MINUTES)
    return float((air[last] - air[first]) * 60.0 / max(1, last - first))


def _over(run: Trace, ideal: Trace, rise: Rise, reached: int, column: int) -> float:
    until = min(int(rise.until // 60), max(reached, int(rise.at // 60)) + 120, len(run.air))
    if reached >= until:
        return 0.0
    ceiling = np.maximum(rise.celsius, ideal.air[reached:until, column])
    return float(max(0.0, (run.air[reached:until, column] - ceiling).max()))
