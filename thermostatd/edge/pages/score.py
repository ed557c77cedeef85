"""The score: what each room and spot shows, all on one scale of degrees, ready for the template.

No words of templates here.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from markupsafe import Markup

from thermostatd.core.house import House, Room, Spot
from thermostatd.core.results import RoomResult, SpotResult, Target
from thermostatd.core.values import Missing
from thermostatd.edge.pages import taps, words
from thermostatd.edge.pages.amounts import clock, degrees, limit_degrees, number, shown_in, span
from thermostatd.edge.pages.asks import anchor_of, asked_for
from thermostatd.edge.pages.cards import LaterShown, RoomCard, SpotCard
from thermostatd.edge.pages.drawing import PAST_HOURS, Mark, rail, scale_over, trace
from thermostatd.edge.pages.kept import Kept
from thermostatd.edge.pages.room_days import Days, Past
from thermostatd.edge.pages.speech import ANYBODY, counted, say, speech, t


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
        self.days = Days(results, past, now, steady)

    def _all_degrees(self) -> list[float]:
        limits = [
            limit for room in self.house.rooms for limit in (room.household.lowest, room.household.highest)
        ]
        airs = [air for result in self.results.values() if (air := air_of(result)) is not None]
        return limits + [min(35.0, max(0.0, air)) for air in airs]

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

    @property
    def marks(self) -> list[tuple[float, str]]:
        """The printed degrees: x per cent and label."""
        return self.scale.marks(self.unit)

    def _trace(self, room: Room, wanted: float | None) -> Markup:
        """The room's day, drawn once a minute."""
        day = self.days.of(room.name)
        key = ("trace", room.name, wanted, day.low, day.high, tuple(day.ahead[:3]))
        drawn: Markup = self._kept.drawn(int(self.now.timestamp() // 60), key, lambda: trace(day, wanted))
        return drawn

    def large_trace(self, room: Room, marks: Sequence[Mark]) -> Markup:
        """The room's day with what happened inked on it."""
        result = self.results.get(room.name)
        return trace(self.days.of(room.name), result.target.celsius if result else None, marks, self.unit)

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
            cooler=taps.step_of(self.unit, room, wanted, -1),
            warmer=taps.step_of(self.unit, room, wanted, 1),
            lowest=limit_degrees(self.unit, limits.lowest),
            highest=limit_degrees(self.unit, limits.highest),
            typed_target=taps.typed(self.unit, limits.lowest if wanted is None else wanted),
            choices=taps.ends(room, past.ahead[0][0] if past.ahead else None, self.now),
            rail=rail(self.scale, limits.lowest, limits.highest, air, wanted, self._forecast(result)),
            trace=self._trace(room, wanted),
            spoken_day=self._spoken(past),
            asks=asks,
            undo=undo,
        )

    def _soonest(self, name: str) -> str:
        later = self.later(name)
        return t("{degrees} from {time}", degrees=later[0].celsius, time=later[0].begins) if later else ""

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


def air_of(result: RoomResult) -> float | None:
    """The room's air, °C; None where it is missing."""
    return None if isinstance(result.air, Missing) else result.air.celsius
