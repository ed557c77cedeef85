"""A room's comfort in a period: too cold, too warm, and how late its rises came. Pure.

Rules: a quarter hour counts as fifteen minutes; what is not known is counted as such and never as zero; "above" is
warmer than anything wanted in the day before, since a room left to cool is not too warm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from statistics import median

import numpy as np

from thermostatd.daemon.report.columns import Numbers, RoomColumns, room_columns
from thermostatd.edge.store import MinuteRow

BELOW_KELVIN = ABOVE_KELVIN = 0.5
STEP_KELVIN = 1.0
ARRIVED_KELVIN = 0.3
ON_TIME_MINUTES = 10.0
LONGEST_ARRIVAL_MINUTES = 12 * 60.0
WANTED_MINUTES = 24 * 60
LONG_AGO = -(10**9)


@dataclass(frozen=True, slots=True)
class Arrival:
    """A step up of a room's target, and how many minutes after it the air was there (None: not before the next)."""

    room: str
    at: datetime
    celsius: float
    minutes_late: float | None


@dataclass
class RoomSums:
    """One room. Minutes: `known` of both air and target, `below` and `above` by over half a kelvin."""

    name: str
    minutes: float = 0.0
    known_minutes: float = 0.0
    below_minutes: float = 0.0
    above_minutes: float = 0.0
    air_celsius_minutes: float = 0.0
    lowest_celsius: float | None = None
    highest_celsius: float | None = None
    arrivals: list[Arrival] = field(default_factory=list)

    @property
    def mean_celsius(self) -> float | None:
        """Mean air of the known minutes."""
        return self.air_celsius_minutes / self.known_minutes if self.known_minutes else None


def room_sums(name: str, rows: RoomColumns | Sequence[MinuteRow]) -> RoomSums:
    """A room's minutes, its air, and its rises."""
    kept = room_columns(rows)
    known = ~np.isnan(kept.air) & ~np.isnan(kept.target)
    air, target, span = kept.air[known], kept.target[known], kept.span[known]
    sums = RoomSums(name, float(kept.span.sum()), float(span.sum()))
    if known.any():
        sums.below_minutes = float(span[air < target - BELOW_KELVIN].sum())
        sums.above_minutes = float(span[air > _most_wanted(kept)[known] + ABOVE_KELVIN].sum())
        sums.air_celsius_minutes = float((air * span).sum())
        sums.lowest_celsius, sums.highest_celsius = float(air.min()), float(air.max())
    sums.arrivals = arrivals(name, kept)
    return sums


def _most_wanted(kept: RoomColumns) -> Numbers:
    """The highest target of the day before each row, its own included; lowest where there was none."""
    found = np.full(len(kept.minute), -np.inf)
    for target in np.unique(kept.target[~np.isnan(kept.target)]):  # from low to high: the higher goes over the lower
        last = np.maximum.accumulate(np.where(kept.target == target, kept.minute, LONG_AGO))
        found[kept.minute - last <= WANTED_MINUTES] = target
    return found


def arrivals(name: str, rows: RoomColumns | Sequence[MinuteRow]) -> list[Arrival]:
    """Each step up of at least one kelvin, and when the air came within 0.3 K of it."""
    kept = room_columns(rows)
    known = np.flatnonzero(~np.isnan(kept.target))
    steps = known[1:][np.diff(kept.target[known]) >= STEP_KELVIN]
    return [
        Arrival(
            name,
            datetime.fromtimestamp(int(kept.minute[place]) * 60, UTC),
            float(kept.target[place]),
            _late(kept, int(place)),
        )
        for place in steps
    ]


def _late(kept: RoomColumns, place: int) -> float | None:
    first, target = kept.minute[place], kept.target[place]
    end = int(np.searchsorted(kept.minute, first + LONGEST_ARRIVAL_MINUTES, "right"))
    lower = np.flatnonzero(kept.target[place:end] < target)
    there = np.flatnonzero(kept.air[place:end] >= target - ARRIVED_KELVIN)
    if not len(there) or (len(lower) and lower[0] <= there[0]):
        return None
    return float(kept.minute[place + there[0]] - first)


def median_late(found: Iterable[Arrival]) -> float | None:
    """Median minutes after the step, of those that arrived."""
    late = [one.minutes_late for one in found if one.minutes_late is not None]
    return median(late) if late else None
