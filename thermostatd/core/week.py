"""The usual week on the house's wall clock, and stretches of the day such as sleep and quiet hours.

Rules: a step at a skipped hour happens at the next valid moment; one at a repeated hour happens once,
at its first; all arithmetic is on Unix seconds.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from thermostatd.core.house import UsualStep

_DAYS_AROUND = 8

SAME_STEP_SECONDS = 30.0


@lru_cache(maxsize=4096)  # asked for in each step, of every room
def instant(day: date, at: time, zone: ZoneInfo) -> float:
    """Unix seconds of a local time of day; a skipped time gives the moment the clocks go forward."""
    local = datetime.combine(day, at, tzinfo=zone)
    seconds = local.timestamp()
    if datetime.fromtimestamp(seconds, zone).time() == at:
        return seconds
    before = datetime.combine(day, at, tzinfo=zone).replace(fold=1).timestamp()
    offset = datetime.fromtimestamp(before, zone).utcoffset()
    while datetime.fromtimestamp(before, zone).utcoffset() == offset:
        before += 60.0
    return before


class Week:
    """A room's usual steps around a day, sorted by instant; made anew when the day changes."""

    def __init__(self, usual: Sequence[UsualStep], zone: ZoneInfo) -> None:
        self._usual = usual
        self._zone = zone
        self._day: tuple[float, float] = (0.0, 0.0)
        self._instants: list[float] = []
        self._celsius: list[float] = []

    def at(self, wall: datetime) -> tuple[float | None, float | None, float | None]:
        """The target in °C at a wall time, the next step's Unix seconds, and its °C (None where there is none)."""
        if not self._usual:
            return None, None, None
        seconds = wall.timestamp()
        self._prepare(wall, seconds)
        place = bisect_right(self._instants, seconds)
        current = self._celsius[place - 1] if place else None
        if place >= len(self._instants):
            return current, None, None
        return current, self._instants[place], self._celsius[place]

    @property
    def is_known(self) -> bool:
        """Whether it has any step."""
        return bool(self._usual)

    def later(self, wall: datetime, then: datetime) -> float | None:
        """The target in °C at a later wall time, as it is known at `wall`; None where that is over a week ahead.

        So shortly before a step it is that step's: what was asked until then ends by another clock.
        """
        if not self._usual or then.timestamp() - wall.timestamp() > 7 * 86400.0:
            return None
        self._prepare(wall, wall.timestamp())
        place = bisect_right(self._instants, then.timestamp() + SAME_STEP_SECONDS)
        return self._celsius[place - 1] if place else None

    def ahead(self, wall: datetime, days: int = 2) -> list[tuple[float, float]]:
        """The coming steps within some days (at most seven): Unix seconds and °C."""
        if not self._usual:
            return []
        start, end = wall.timestamp(), wall.timestamp() + min(days, 7) * 86400.0
        self._prepare(wall, start)
        return [(at, c) for at, c in zip(self._instants, self._celsius, strict=True) if start < at <= end]

    def _prepare(self, wall: datetime, seconds: float) -> None:
        if self._day[0] <= seconds < self._day[1]:
            return
        day = wall.astimezone(self._zone).date()
        steps = sorted(
            (instant(on, step.at, self._zone), index, step.celsius)
            for index, step in enumerate(self._usual)
            for on in (day + timedelta(days=n) for n in range(-_DAYS_AROUND, _DAYS_AROUND + 1))
            if on.weekday() in step.days
        )
        midnight = time()
        self._day = (
            instant(day, midnight, self._zone),
            instant(day + timedelta(days=1), midnight, self._zone),
        )
        self._instants = [at for at, _, _ in steps]
        self._celsius = [celsius for _, _, celsius in steps]


def window_start(wall: datetime, begins: time, ends: time, zone: ZoneInfo) -> float | None:
    """Unix seconds at which the stretch that holds this moment began; None outside it."""
    return _window_start(wall.timestamp(), begins, ends, zone)


@lru_cache(maxsize=64)  # asked for at the same moment by every heater
def _window_start(now: float, begins: time, ends: time, zone: ZoneInfo) -> float | None:
    today = datetime.fromtimestamp(now, zone).date()
    for day in (today, today - timedelta(days=1)):
        start = instant(day, begins, zone)
        end = instant(day if ends > begins else day + timedelta(days=1), ends, zone)
        if start <= now < end:
            return start
    return None


def next_clock(wall: datetime, at: time, zone: ZoneInfo) -> datetime:
    """The next moment at which the house's clock shows that time."""
    today = wall.astimezone(zone).date()
    for day in (today, today + timedelta(days=1), today + timedelta(days=2)):
        seconds = instant(day, at, zone)
        if seconds > wall.timestamp():
            return datetime.fromtimestamp(seconds, UTC)
    raise AssertionError("a time of day comes every day")


def in_season(wall: datetime, begins: tuple[int, int], ends: tuple[int, int], zone: ZoneInfo) -> bool:
    """Whether a day of the year lies within a season, both ends included; it may pass New Year."""
    local = wall.astimezone(zone)
    today = (local.month, local.day)
    return begins <= today <= ends if begins <= ends else (today >= begins or today <= ends)
