"""The page's data: what each room, spot and trouble shows, ready for the template. No words of templates here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from markupsafe import Markup

from thermostatd.core.house import House, Room, Spot
from thermostatd.core.results import RoomResult, SpotResult, Target
from thermostatd.core.values import Missing
from thermostatd.core.week import SAME_STEP_SECONDS
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import (
    celsius_from,
    clock,
    degrees,
    limit_degrees,
    number,
    shown_in,
    span,
)
from thermostatd.edge.pages.asks import EVENING_HOUR, anchor_of, asked_for
from thermostatd.edge.pages.door import Point, Run
from thermostatd.edge.pages.drawing import AHEAD_HOURS, PAST_HOURS, Day, Mark, rail, scale_over, trace
from thermostatd.edge.pages.kept import Kept
from thermostatd.edge.pages.speech import ANYBODY, counted, say, speech, t

WISHES = ("out", "asked", "room-off")
"""The codes of targets that are a person's wish, in whose place the week holds once they end."""


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
    range: tuple[float, float] | None = None
    """Lowest and highest °C among the points."""
    airs: tuple[float, float] | None = None
    """Lowest and highest air among them, °C."""

    @classmethod
    def of(cls, points: Sequence[Point], runs: Sequence[Run]) -> Past:
        """What the store told, looked through once."""
        airs = [air for _, air, _ in points if air is not None]
        known = airs + [target for _, _, target in points if target is not None]
        return cls(points, runs, (), _ends_of(known), _ends_of(airs))


@dataclass(frozen=True, slots=True)
class Step:
    """One tap of cooler or warmer: the degrees it asks, as text, and whether it is at the owner's limit."""

    value: str
    at_limit: bool
    limit: str
    at: str
    """The last step that the limit allows, as a number."""


@dataclass(frozen=True, slots=True)
class LaterShown:
    """What was asked of a room for later, in words; `key` is when it begins, for taking it back."""

    celsius: str
    begins: str
    until: str
    who: str
    key: str


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
    off: bool
    """Somebody turned this room off."""
    later: str
    """What was asked for later, the soonest of it."""
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
    asks: bool
    undo: bool
    hindrance: str = ""
    """Why nothing can be asked here just now, in the place of the buttons; "" where it can."""


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
    more: list[int]
    longest: str
    asks: bool
    undo: bool
    felt: str = ""
    hindrance: str = ""


def _ends_of(values: Sequence[float]) -> tuple[float, float] | None:
    return (min(values), max(values)) if values else None


class Score:
    """Everything drawn for one view, in one unit and one zone."""

    def __init__(
        self,
        house: House,
        results: dict[str, RoomResult],
        past: dict[str, Past],
        now: datetime,
        steady: float = 0.0,
        kept: Kept | None = None,
    ) -> None:
        self.house, self.results, self.past, self.now = house, results, past, now
        self.unit, self.steady, self._kept = speech().unit, steady, kept or Kept()
        self.scale = scale_over(self._all_degrees())
        self._ranges: dict[str, tuple[float, float]] = {}

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
        course = self._course_of(name)
        return Day(self.now, past.points, past.runs, self.coming(name), middle - half, middle + half, course)

    def coming(self, name: str) -> Sequence[tuple[float, float]]:
        """The coming steps of what is wanted, Unix seconds and °C: the week's, from where a wish in force ends."""
        result = self.results.get(name)
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
        ahead = list(self.past.get(name, Past()).ahead)
        if result is None or result.target.code not in WISHES:
            return ahead
        until, then = result.target.until, result.target.next_celsius
        if until is None or then is None:
            return []
        end = until.timestamp()
        return [(end, then), *((at, celsius) for at, celsius in ahead if at > end + SAME_STEP_SECONDS)]

    def later(self, name: str) -> list[LaterShown]:
        """What was asked of a room for later, soonest first."""
        result, zone = self.results.get(name), self.now.tzinfo
        return [
            LaterShown(
                degrees(self.unit, one.celsius),
                clock(one.begins.astimezone(zone), self.now),
                clock(one.until.astimezone(zone), self.now),
                t("{who} asked", who=_named(one.who)),
                one.begins.isoformat(),
            )
            for one in (result.target.later if result is not None else ())
        ]

    def _course_of(self, name: str) -> list[tuple[float, float]]:
        """Where a learned model sees the air, for as long as the trace goes on."""
        result = self.results.get(name)
        outlook = result.demand.outlook if result else None
        offset = self.now.timestamp() - self.steady
        end = self.now.timestamp() + AHEAD_HOURS * 3600
        course = [(at + offset, celsius) for at, celsius, _ in outlook.course] if outlook else []
        return [(at, celsius) for at, celsius in course if at <= end]

    def _range_of(self, name: str) -> tuple[float, float]:
        """Lowest and highest °C of a room's trace."""
        if name not in self._ranges:
            past = self.past[name]
            known = [celsius for _, celsius in self.coming(name)[:2]]
            known += [self.results[name].target.celsius] if name in self.results else []
            known += past.range or ()
            known += [celsius for _, celsius in self._course_of(name)]
            self._ranges[name] = (min(known), max(known)) if known else (18.0, 18.0)
        return self._ranges[name]

    @property
    def marks(self) -> list[tuple[float, str]]:
        """The printed degrees: x per cent and label."""
        return self.scale.marks(self.unit)

    def _trace(self, room: Room, wanted: float | None) -> Markup:
        """The room's day, drawn once a minute."""
        day = self._day_of(room.name)
        key = ("trace", room.name, wanted, day.low, day.high, tuple(day.ahead[:3]))
        drawn: Markup = self._kept.drawn(int(self.now.timestamp() // 60), key, lambda: trace(day, wanted))
        return drawn

    def large_trace(self, room: Room, marks: Sequence[Mark]) -> Markup:
        """The room's day with what happened inked on it."""
        result = self.results.get(room.name)
        return trace(self._day_of(room.name), result.target.celsius if result else None, marks, self.unit)

    def room(self, room: Room, asks: bool = True, undo: bool = False) -> RoomCard:
        """One room."""
        result = self.results.get(room.name)
        air, target = (air_of(result), result.target) if result else (None, None)
        whole, _, decimal = (
            number(shown_in(self.unit, air)).partition(speech().decimal) if air is not None else ("", "", "")
        )
        past = self.past.get(room.name, Past())
        wanted = target.celsius if target else None
        limits = room.household
        return RoomCard(
            name=room.name,
            shown=words.first_capital(room.name),
            anchor=anchor_of(room.name),
            whole=whole,
            decimal=decimal,
            air=degrees(self.unit, air) if air is not None else t(words.NO_READING),
            target=degrees(self.unit, wanted) if wanted is not None else "",
            sentence=say(result.reason.sentence if result else words.NOTHING_YET),
            code=result.reason.code if result else "starting",
            who=self._who(target),
            asked=bool(result and asked_for(result)),
            off=bool(target and target.code == "room-off"),
            later=self._soonest(room.name),
            until=self._until(target),
            cooler=self._step(room, wanted, -1),
            warmer=self._step(room, wanted, 1),
            lowest=limit_degrees(self.unit, limits.lowest),
            highest=limit_degrees(self.unit, limits.highest),
            typed_target=self._typed(limits.lowest if wanted is None else wanted),
            choices=self._choices(room, target, past.ahead),
            rail=rail(self.scale, limits.lowest, limits.highest, air, wanted, self._forecast(result)),
            trace=self._trace(room, wanted),
            spoken_day=self._spoken(past),
            asks=asks,
            undo=undo,
        )

    def _soonest(self, name: str) -> str:
        later = self.later(name)
        return t("{degrees} from {time}", degrees=later[0].celsius, time=later[0].begins) if later else ""

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
            return t("{who} asked", who=_named(target.whose))
        if target.code == "room-off":
            return t("{who} turned it off", who=_named(target.whose))
        return t(words.WHOSE.get(target.code, words.WHOSE.get(target.whose, target.whose)))

    def _choices(
        self, room: Room, target: Target | None, ahead: Sequence[tuple[float, float]]
    ) -> list[tuple[str, str]]:
        """Ends that one tap can choose: value and label."""
        step = datetime.fromtimestamp(ahead[0][0], tz=self.now.tzinfo) if ahead else None
        choices = []
        if step is not None:
            choices.append(("next-step", t("{clock}, the week’s next step", clock=clock(step, self.now))))
        choices += [("in-60", t("1 hour")), ("in-180", t("3 hours"))]
        if 9 <= self.now.hour < EVENING_HOUR - 1:
            evening = speech().hours(self.now.replace(hour=EVENING_HOUR, minute=0))
            choices.append(("evening", t("this evening, {clock}", clock=evening)))
        choices.append(("no-end", t("I change it, {span} at most", span=span(room.household.longest))))
        return choices

    def _forecast(self, result: RoomResult | None) -> list[float]:
        return [celsius for at, celsius in result.forecast if at - self.steady <= 7200] if result else []

    def _spoken(self, past: Past) -> str:
        """The day's trace in one sentence, for those who hear the page."""
        if past.airs is None:
            return t("No temperatures are kept of the last day.")
        return t(
            "Last {hours} hours: between {low} and {high}; heating ran {ran}, {times}.",
            hours=round(PAST_HOURS),
            low=degrees(self.unit, past.airs[0]),
            high=degrees(self.unit, past.airs[1]),
            ran=span(sum(ends - begins for begins, ends in past.runs)),
            times=counted("begun once", "begun {count} times", len(past.runs)),
        )

    def spot(self, spot: Spot, result: SpotResult | None, asks: bool = True, undo: bool = False) -> SpotCard:
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
            who=t("{who} asked", who=_named(result.who)) if result and left > 0 else "",
            until=clock(until, self.now) if until else "",
            sentence=say(result.reason.sentence) if result else "",
            choices=[minutes for minutes in (20, 40) if minutes < longest] + [longest],
            more=[minutes for minutes in (10, 20) if left > 0 and left / 60 + minutes <= longest + 0.5],
            longest=span(spot.longest),
            asks=asks,
            undo=undo,
            felt=say(result.felt) if result and result.felt else "",
        )


def _named(who: str | None) -> str:
    """A name as people see it; the one that stands for anybody is translated."""
    if who in ANYBODY:
        return words.first_capital(t(who))
    return words.first_capital(who or t(words.SOMEONE))


def _within(unit: str, limit: float, size: float, way: int) -> float:
    """The last whole step on the allowed side of a limit, in this unit."""
    steps = shown_in("F" if unit == "F" else "C", limit) / size
    return (math.floor(steps + 1e-6) if way > 0 else math.ceil(steps - 1e-6)) * size


def air_of(result: RoomResult) -> float | None:
    """The room's air, °C; None where it is missing."""
    return None if isinstance(result.air, Missing) else result.air.celsius
