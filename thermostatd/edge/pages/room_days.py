"""Each room's day, as its trace draws it: what the store tells, what is wanted from now on, where the air will be.

Rules: all rooms have the same kelvins to the height of their traces, each about its own middle.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from thermostatd.core.likely import likely
from thermostatd.core.results import RoomResult
from thermostatd.core.values import Reading
from thermostatd.core.week import SAME_STEP_SECONDS
from thermostatd.edge.pages.door import Point, Run
from thermostatd.edge.pages.drawing import AHEAD_HOURS, Day

WISHES = ("out", "asked", "room-off")
"""The codes of targets that are a person's wish, in whose place the week holds once they end."""


@dataclass(frozen=True, slots=True)
class Past:
    """What the store tells of one room."""

    points: Sequence[Point] = ()
    runs: Sequence[Run] = ()
    """When at least one of its heaters was on."""
    ahead: Sequence[tuple[float, float]] = ()
    range: tuple[float, float] | None = None
    """Lowest and highest °C among the points."""
    airs: tuple[float, float] | None = None
    """Lowest and highest air among them, °C."""

    @classmethod
    def of(cls, points: Sequence[Point], runs: Sequence[Run]) -> Past:
        """What the store told, looked through once; `runs` are its heaters', in any order."""
        airs = [air for _, air, _ in points if air is not None]
        known = airs + [target for _, _, target in points if target is not None]
        return cls(points, _together(runs), (), _ends_of(known), _ends_of(airs))


def _together(runs: Sequence[Run]) -> list[Run]:
    """The runs of several heaters as their room's: two at once are one, so that no hour holds more than an hour."""
    found: list[Run] = []
    for begins, ends in sorted(runs):
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(ends, found[-1][1]))
        else:
            found.append((begins, ends))
    return found


def _ends_of(values: Sequence[float]) -> tuple[float, float] | None:
    return (min(values), max(values)) if values else None


class Days:
    """The days of some rooms; `ahead` of a past is the usual week's, `steady` the second that `now` is."""

    def __init__(
        self, results: Mapping[str, RoomResult], past: Mapping[str, Past], now: datetime, steady: float
    ) -> None:
        self._results, self._past, self._now, self._steady = results, past, now, steady
        self._ranges: dict[str, tuple[float, float]] = {}

    def of(self, name: str) -> Day:
        """One room's day. All rooms have the same kelvins to the height, each about its own middle."""
        past = self._past.get(name, Past())
        low, high = self._range_of(name)
        tallest = max((top - bottom for bottom, top in map(self._range_of, self._past)), default=0.0)
        half, middle = max(2.0, tallest / 2 + 0.2), (low + high) / 2
        course, span = self._course_of(name), self._span_of(name)
        return Day(self._now, past.points, past.runs, self.coming(name), middle - half, middle + half, course, span)

    def coming(self, name: str) -> Sequence[tuple[float, float]]:
        """The coming steps of what is wanted, Unix seconds and °C: the week's, from where a wish in force ends."""
        result = self._results.get(name)
        steps = self._steps_of(name, result)
        for wish in result.target.later if result is not None else ():
            begins, ends = wish.begins.timestamp(), wish.until.timestamp()
            steps = [one for one in steps if not begins - SAME_STEP_SECONDS <= one[0] <= ends + SAME_STEP_SECONDS]
            steps.append((begins, wish.celsius))
            if wish.then_celsius is not None:
                steps.append((ends, wish.then_celsius))
        return sorted(steps)

    def _steps_of(self, name: str, result: RoomResult | None) -> list[tuple[float, float]]:
        """The same without what was asked for later."""
        ahead = list(self._past.get(name, Past()).ahead)
        if result is None or result.target.code not in WISHES:
            return ahead
        until, then = result.target.until, result.target.next_celsius
        if until is None or then is None:
            return []
        end = until.timestamp()
        return [(end, then), *((at, celsius) for at, celsius in ahead if at > end + SAME_STEP_SECONDS)]

    def _course_of(self, name: str) -> list[tuple[float, float]]:
        """Where a learned model sees the air, for as long as the trace goes on."""
        result = self._results.get(name)
        outlook = result.demand.outlook if result else None
        offset = self._now.timestamp() - self._steady
        end = self._now.timestamp() + AHEAD_HOURS * 3600
        course = [(at + offset, celsius) for at, celsius, _ in outlook.course] if outlook else []
        return [(at, celsius) for at, celsius in course if at <= end]

    def _span_of(self, name: str) -> list[tuple[float, float, float]]:
        """The lowest and highest that the air most likely is then, from the air of now on."""
        result = self._results.get(name)
        if result is None or result.demand.outlook is None or not isinstance(result.air, Reading):
            return []
        now, air = self._now.timestamp(), result.air.celsius
        told = likely(result.demand.outlook, air, self._steady)
        span = [(at + now - self._steady, low, high) for at, low, high in told]
        return [(now, air, air), *(one for one in span if one[0] <= now + AHEAD_HOURS * 3600)]

    def _range_of(self, name: str) -> tuple[float, float]:
        """Lowest and highest °C of a room's trace."""
        if name not in self._ranges:
            past = self._past[name]
            known = [celsius for _, celsius in self.coming(name)[:2]]
            known += [self._results[name].target.celsius] if name in self._results else []
            known += past.range or ()
            known += [celsius for _, celsius in self._course_of(name)]
            known += [celsius for _, *ends in self._span_of(name) for celsius in ends]
            self._ranges[name] = (min(known), max(known)) if known else (18.0, 18.0)
        return self._ranges[name]
