"""How a room fared under a control law: what people feel, hear and pay, judged on its air.

Rules: the air is the room's own thermometer's, without lag, noise and steps: what it is off by for good, no law can
know. `stray` is the RMS distance of the air from the target in K, from when the air has come to it until the target
moves on: the way up, before a rise as after it, is judged as arrivals, the way down is nobody's doing, nor is what is
too cold while a heater may not run; an arrival is the minute, against the rise, from which the air is within 0.2 K of
the new target; money is by the tariff.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

from thermostatd.core.house import Room
from thermostatd.core.results import Target

RISE_KELVIN = 0.5
THERE_KELVIN = 0.2
EARLIEST_SECONDS = 6 * 3600.0
LATEST_MINUTES = 180.0
HELD_BEFORE_SECONDS = 2 * 3600.0
TRACE_SECONDS = 600.0


@dataclass
class RoomOutcome:
    """One room under one law. Arrivals are minutes, early below zero; one that never came counts as 180."""

    stray_kelvin: float = 0.0
    over_kelvin: float = 0.0
    mean_celsius: float = 0.0
    clicks_a_day: float = 0.0
    trips: int = 0
    kwh: float = 0.0
    cost: float = 0.0
    arrivals: list[tuple[float, float]] = field(default_factory=list)
    """When it was due (seconds of the judged time), and minutes late."""
    held: list[float] = field(default_factory=list)
    """When those of them were due before which a heater was not allowed to run."""
    trace: list[tuple[float, float, float]] = field(default_factory=list)
    """Every ten minutes: seconds since midnight of the first day, air, target."""


@dataclass
class _Rise:
    """One rise: when it is due, to what, and when the air came there for good."""

    due: float
    celsius: float
    was_below: bool = False
    there: float | None = None
    late_seconds: float | None = None
    settled: bool = False
    held: bool = False

    def see(self, seconds: float, celsius: float, held: bool) -> None:
        self.held |= held and seconds < self.due <= seconds + HELD_BEFORE_SECONDS
        if celsius < self.celsius - THERE_KELVIN:
            self.was_below, self.there = True, None
        elif self.there is None:
            self.there = seconds
        if seconds < self.due:
            return
        if self.there is not None:  # a room that never cooled down has nothing to arrive from
            self.late_seconds, self.settled = (self.there - self.due if self.was_below else None), True
        elif seconds >= self.due + LATEST_MINUTES * 60.0:
            self.late_seconds, self.settled = LATEST_MINUTES * 60.0, True


class RoomJudge:
    """Watches one room, tick by tick."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.outcome = RoomOutcome()
        self._squares = self._sum = 0.0
        self._counted = self._ticks = 0
        self._target: float | None = None
        self._rises: list[_Rise] = []
        self._way = 0
        self._traced = -1e9

    def see(
        self, seconds: float, celsius: float, target: Target, next_in_seconds: float | None, held: bool = False
    ) -> None:
        """One tick: seconds since the judged time began, the air, what is wanted, and when that changes.

        `held`: one of its heaters may not run now.
        """
        self._follow_target(celsius, target.celsius)
        self._watch_arrivals(seconds, celsius, target, next_in_seconds, held)
        self._ticks += 1
        self._sum += celsius
        aim = _aim(celsius, target, next_in_seconds)
        if self._way == 0 and aim is not None and not (held and celsius < aim):
            off = celsius - aim
            self._squares += off * off
            self._counted += 1
            self.outcome.over_kelvin = max(self.outcome.over_kelvin, off)
        if seconds - self._traced >= TRACE_SECONDS:
            self._traced = seconds
            self.outcome.trace.append((seconds, round(celsius, 2), target.celsius))

    def _follow_target(self, celsius: float, wanted: float) -> None:
        """Whether the air is still on its way up (1) or down (−1) to what is wanted."""
        before, self._target = self._target, wanted
        if before is None or wanted > before:
            self._way = 1
        elif wanted < before:
            self._way = -1
        arrived = celsius >= wanted - THERE_KELVIN if self._way > 0 else celsius <= wanted + THERE_KELVIN
        if self._way and arrived:
            self._way = 0

    def _watch_arrivals(
        self, seconds: float, celsius: float, target: Target, in_seconds: float | None, held: bool
    ) -> None:
        """Note each rise that comes, and when the air came to it for good."""
        if (
            in_seconds is not None
            and 0.0 < in_seconds <= EARLIEST_SECONDS
            and target.next_celsius is not None
        ):
            due, rise = seconds + in_seconds, target.next_celsius - target.celsius
            if rise >= RISE_KELVIN and not any(abs(due - known.due) < 300.0 for known in self._rises):
                self._rises.append(_Rise(due, target.next_celsius))
        for one in self._rises:
            one.see(seconds, celsius, held)
        self.outcome.held += [one.due for one in self._rises if one.late_seconds is not None and one.held]
        self.outcome.arrivals += [
            (one.due, round(one.late_seconds / 60.0, 1))
            for one in self._rises
            if one.late_seconds is not None
        ]
        self._rises = [one for one in self._rises if not one.settled]

    def finish(self) -> RoomOutcome:
        """What it came to."""
        self.outcome.stray_kelvin = sqrt(self._squares / max(self._counted, 1))
        self.outcome.mean_celsius = self._sum / max(self._ticks, 1)
        return self.outcome


def _aim(celsius: float, target: Target, in_seconds: float | None) -> float | None:
    """What the air is judged by, °C: over its target with a rise near, by that one's; None on the way up to it."""
    near = in_seconds is not None and 0.0 < in_seconds <= EARLIEST_SECONDS
    coming = target.next_celsius
    if not near or coming is None or coming < target.celsius + RISE_KELVIN or celsius <= target.celsius + THERE_KELVIN:
        return target.celsius
    return coming if celsius > coming else None
