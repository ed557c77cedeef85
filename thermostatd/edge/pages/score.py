"""The page's data: what each room, spot and trouble shows, ready for the template. No words of templates here."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from markupsafe import Markup

from thermostatd.core.house import House, Room, Spot
from thermostatd.core.results import RoomResult, SpotResult, Target
from thermostatd.core.values import Missing
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import (
    Unit,
    celsius_from,
    clock,
    degrees,
    limit_degrees,
    number,
    shown_in,
    span,
)
from thermostatd.edge.pages.asks import EVENING_HOUR, asked_for
from thermostatd.edge.pages.door import Point, Run
from thermostatd.edge.pages.drawing import PAST_HOURS, Day, rail, scale_over, trace


@dataclass(frozen=True, slots=True)
class Slip:
    """A refusal to show beside the field it belongs to, with what was typed."""

    place: str
    sentence: str
    wrong: str = ""
    typed: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Past:
    """What the store tells of one room."""

    points: Sequence[Point] = ()
    runs: Sequence[Run] = ()
    ahead: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One tap of cooler or warmer: the degrees it asks, as text, and whether it is at the owner's limit."""

    value: str
    at_limit: bool
    limit: str
    at: str
    """The last step that the limit allows, as a number."""


@dataclass(frozen=True, slots=True)
class RoomCard:
    """One room of the page."""

    name: str
    shown: str
    anchor: str
    whole: str
    decimal: str
    air: str
    target: str
    sentence: str
    code: str
    who: str
    asked: bool
    until: str
    cooler: Step
    warmer: Step
    lowest: str
    highest: str
    typed_target: str
    choices: list[tuple[str, str]]
    rail: Markup
    trace: Markup
    spoken_day: str
    loud: bool


@dataclass(frozen=True, slots=True)
class SpotCard:
    """One spot of the page."""

    name: str
    shown: str
    anchor: str
    on: bool
    minutes_left: int
    who: str
    until: str
    sentence: str
    choices: list[int]


def anchor_of(name: str) -> str:
    """An id for the page from a room's or spot's name."""
    return "at-" + re.sub(r"[^\w-]+", "-", name)


class Score:
    """Everything drawn for one view, in one unit and one zone."""

    def __init__(
        self,
        house: House,
        results: dict[str, RoomResult],
        past: dict[str, Past],
        now: datetime,
        unit: Unit,
        steady: float = 0.0,
    ) -> None:
        self.house, self.results, self.past, self.now, self.unit = house, results, past, now, unit
        self.steady = steady
        self.scale = scale_over(self._all_degrees())

    def _all_degrees(self) -> list[float]:
        limits = [
            limit for room in self.house.rooms for limit in (room.household.lowest, room.household.highest)
        ]
        airs = [air for result in self.results.values() if (air := air_of(result)) is not None]
        return limits + [min(35.0, max(0.0, air)) for air in airs]

    def _day_of(self, name: str) -> Day:
        """One room's day. All rooms have the same kelvins to the height, each about its own middle."""
        past = self.past.get(name, Past())
        low, high = self._range_of(name)
        tallest = max((top - bottom for bottom, top in map(self._range_of, self.past)), default=0.0)
        half, middle = max(2.0, tallest / 2 + 0.2), (low + high) / 2
        return Day(self.now, past.points, past.runs, past.ahead, middle - half, middle + half)

    def _range_of(self, name: str) -> tuple[float, float]:
        """Lowest and highest °C of a room's trace."""
        known = [
            value for _, air, target in self.past[name].points for value in (air, target) if value is not None
        ]
        known += [celsius for _, celsius in self.past[name].ahead[:2]]
        known += [self.results[name].target.celsius] if name in self.results else []
        return (min(known), max(known)) if known else (18.0, 18.0)

    @property
    def marks(self) -> list[tuple[float, str]]:
        """The printed degrees: x per cent and label."""
        return self.scale.marks(self.unit)

    def room(self, room: Room) -> RoomCard:
        """One room."""
        result = self.results.get(room.name)
        air, target = (air_of(result), result.target) if result else (None, None)
        whole, _, decimal = (
            number(shown_in(self.unit, air)).partition(".") if air is not None else ("", "", "")
        )
        past = self.past.get(room.name, Past())
        day = self._day_of(room.name)
        wanted = target.celsius if target else None
        limits = room.household
        return RoomCard(
            name=room.name,
            shown=words.first_capital(room.name),
            anchor=anchor_of(room.name),
            whole=whole,
            decimal=decimal,
            air=degrees(self.unit, air) if air is not None else words.NO_READING,
            target=degrees(self.unit, wanted) if wanted is not None else "",
            sentence=result.reason.sentence if result else words.NOTHING_YET,
            code=result.reason.code if result else "starting",
            who=self._who(target),
            asked=bool(result and asked_for(result)),
            until=self._until(target),
            cooler=self._step(room, wanted, -1),
            warmer=self._step(room, wanted, 1),
            lowest=limit_degrees(self.unit, limits.lowest),
            highest=limit_degrees(self.unit, limits.highest),
            typed_target=self._typed(limits.lowest if wanted is None else wanted),
            choices=self._choices(room, target, past.ahead),
            rail=rail(self.scale, limits.lowest, limits.highest, air, wanted, self._forecast(result)),
            trace=trace(day, wanted),
            spoken_day=self._spoken(past),
            loud=result is not None and air is None,
        )

    def _typed(self, celsius: float) -> str:
        return number(shown_in(self.unit, celsius), 0 if self.unit == "F" else 1).replace(".0", "")

    def _step(self, room: Room, wanted: float | None, way: int) -> Step:
        """Half a kelvin, or one °F, from the target; at the owner's limit that limit is named."""
        lowest, highest = room.household.lowest, room.household.highest
        inside = min(highest, max(lowest, lowest if wanted is None else wanted))
        size = 1.0 if self.unit == "F" else 0.5
        moved = shown_in(self.unit, inside)
        if wanted is None or lowest <= wanted <= highest:
            moved = round((moved + way * size) / size) * size
        limit = highest if way > 0 else lowest
        at_limit = way * (celsius_from(self.unit, moved) - limit) > 0.06
        end = _within(self.unit, limit, size, way)
        return Step(f"{moved:g}", at_limit, limit_degrees(self.unit, limit), f"{end:g}")

    def _until(self, target: Target | None) -> str:
        if target is None or target.until is None:
            return ""
        return clock(target.until.astimezone(self.now.tzinfo), self.now)

    def _who(self, target: Target | None) -> str:
        """Whose wish holds: "Ana asked", "the usual week"."""
        if target is None:
            return ""
        if target.code == "asked":
            return words.first_capital(target.whose or words.SOMEONE) + " asked"
        return words.first_capital(words.WHOSE.get(target.code, words.WHOSE.get(target.whose, target.whose)))

    def _choices(
        self, room: Room, target: Target | None, ahead: Sequence[tuple[float, float]]
    ) -> list[tuple[str, str]]:
        """Ends that one tap can choose: value and label."""
        step = datetime.fromtimestamp(ahead[0][0], tz=self.now.tzinfo) if ahead else None
        choices = []
        if step is not None:
            choices.append(("next-step", f"{clock(step, self.now)}, the week’s next step"))
        choices += [("in-60", "1 hour"), ("in-180", "3 hours")]
        if 9 <= self.now.hour < EVENING_HOUR - 1:
            choices.append(("evening", f"this evening, {EVENING_HOUR}:00"))
        choices.append(("no-end", f"I change it, {span(room.household.longest)} at most"))
        return choices

    def _forecast(self, result: RoomResult | None) -> list[float]:
        return [celsius for at, celsius in result.forecast if at - self.steady <= 7200] if result else []

    def _spoken(self, past: Past) -> str:
        """The day's trace in one sentence, for those who hear the page."""
        airs = [air for _, air, _ in past.points if air is not None]
        if not airs:
            return "No temperatures are kept of the last day."
        ran = span(sum(ends - begins for begins, ends in past.runs))
        times = "once" if len(past.runs) == 1 else f"{len(past.runs)} times"
        low, high = degrees(self.unit, min(airs)), degrees(self.unit, max(airs))
        return f"Last {PAST_HOURS:.0f} hours: between {low} and {high}; heating ran {ran}, begun {times}."

    def spot(self, spot: Spot, result: SpotResult | None) -> SpotCard:
        """One spot."""
        longest = int(spot.longest // 60)
        until = result.until.astimezone(self.now.tzinfo) if result and result.until else None
        left = max(0.0, result.remaining_seconds) if result else 0.0
        return SpotCard(
            name=spot.name,
            shown=words.first_capital(spot.name),
            anchor=anchor_of(spot.name),
            on=left > 0,
            minutes_left=int(-(-left // 60)),
            who=words.first_capital(result.who or words.SOMEONE) + " asked" if result and left > 0 else "",
            until=clock(until, self.now) if until else "",
            sentence=result.reason.sentence if result else "",
            choices=[minutes for minutes in (20, 40) if minutes < longest] + [longest],
        )


def _within(unit: Unit, limit: float, size: float, way: int) -> float:
    """The last whole step on the allowed side of a limit, in this unit."""
    steps = shown_in(unit, limit) / size
    return (math.floor(steps + 1e-6) if way > 0 else math.ceil(steps - 1e-6)) * size


def air_of(result: RoomResult) -> float | None:
    """The room's air, °C; None where it is missing."""
    return None if isinstance(result.air, Missing) else result.air.celsius


__all__ = ["Past", "RoomCard", "Score", "Slip", "SpotCard", "air_of", "anchor_of"]
