"""What is learned of how a sensor speaks: how often, in what steps, and whether only when its value has moved.

Rules: a silence that it has made lengthens its interval at once, and shorter ones shorten it slowly; a value that moved
may have come before its time and says little of it, next to nothing once it is known to speak on change: such a sensor
is silent in steady air, for an hour and what its own clock is off where it speaks once an hour at least. One that
repeats a value long before its interval is over speaks by the clock.
"""

from __future__ import annotations

from thermostatd.core.memory import AirMemory

SHORTEST_STALE_SECONDS, LONGEST_STALE_SECONDS = 600.0, 3600.0
ON_CHANGE_SECONDS, ON_CHANGE_INTERVALS = 300.0, 3.5
LONGER_SHARE, SHORTER_SHARE, MOVED_SHARE, ON_CHANGE_SHARE = 1.0, 0.05, 0.01, 0.001
MOVED_KELVIN = 0.05
STEP_KELVIN, STEP_SHARE, FARTHEST_KELVIN = 0.005, 0.02, 1.0
EARLY_SHARE, NEARER_SHARE, FARTHER_SHARE = 0.5, 0.3, 0.02


def stale_seconds(kept: AirMemory, stated: float | None) -> float:
    """Silence, s, after which a reading no longer counts."""
    if stated is not None:
        return stated
    if kept.change:
        longest = LONGEST_STALE_SECONDS + ON_CHANGE_SECONDS
        return min(max(ON_CHANGE_INTERVALS * kept.interval, SHORTEST_STALE_SECONDS), longest)
    return min(max(3.0 * kept.interval, SHORTEST_STALE_SECONDS), LONGEST_STALE_SECONDS)


def learn(kept: AirMemory, celsius: float, at: float) -> None:
    """Take in what a new value of the steady second `at` tells of its sensor; the last one is still in `kept`."""
    moved = abs(celsius - kept.celsius) if kept.celsius is not None else None
    if moved is not None and kept.at is not None and kept.heard:
        gap = min(at - kept.at, LONGEST_STALE_SECONDS / 3.0)
        _learn_change(kept, moved, gap)
        kept.interval = round(kept.interval + _share(kept, moved, gap) * (gap - kept.interval), 3)
    _learn_step(kept, moved, at)


def _share(kept: AirMemory, moved: float, gap_seconds: float) -> float:
    """How much a gap before a value that moved by so much tells of the interval."""
    if gap_seconds > kept.interval:
        return LONGER_SHARE
    if moved < MOVED_KELVIN:
        return SHORTER_SHARE
    return ON_CHANGE_SHARE if kept.change else MOVED_SHARE


def _learn_change(kept: AirMemory, moved: float, gap_seconds: float) -> None:
    """By how much a value must move to be told before its time; 0 where it is told by the clock."""
    if gap_seconds >= EARLY_SHARE * kept.interval:
        return
    if moved < MOVED_KELVIN:
        kept.change = 0.0
    elif not kept.change:
        kept.change = round(min(moved, FARTHEST_KELVIN), 3)
    else:
        share = NEARER_SHARE if moved < kept.change else FARTHER_SHARE
        kept.change = round(kept.change + share * (min(moved, FARTHEST_KELVIN) - kept.change), 3)


def _learn_step(kept: AirMemory, moved: float | None, at: float) -> None:
    if moved is None or moved > 1e-6:
        kept.unchanged_since, kept.unchanged_count = at, 0
    if moved is not None and moved > STEP_KELVIN:
        grown = kept.step + STEP_SHARE * (min(moved, FARTHEST_KELVIN) - kept.step)
        kept.step = round(min(moved, grown), 5)
    kept.unchanged_count += 1
