"""The one door: every request is checked here against types and the owner's limits, then kept or refused.

Rules: a refusal changes nothing and says why with the limit; ends are turned into steady seconds at once;
who asked, from where, when and what it replaced are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core import later, placing
from thermostatd.core.asking import (
    NEXT_STEP,
    Accepted,
    AllOff,
    Answer,
    Ask,
    Cancel,
    Out,
    Refused,
    Request,
    RoomOff,
    Seen,
    SetTo,
    Stands,
    Undo,
    Until,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.circumstance import circumstance_of
from thermostatd.core.clock import Now, believe
from thermostatd.core.guard import open_latch
from thermostatd.core.house import House, Room, UsualStep
from thermostatd.core.later import until_text
from thermostatd.core.memory import Memory, RequestMemory
from thermostatd.core.placing import placed
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event
from thermostatd.core.said import said as text_of
from thermostatd.core.target import end_requests
from thermostatd.core.undoing import about_of, held, remember_change, take_back
from thermostatd.core.usual_week import fault_in, steps_of, week_memory
from thermostatd.core.values import is_finite
from thermostatd.core.week import Week

LONGEST_OUT_SECONDS = LONGEST_OFF_SECONDS = 366 * 86400.0
CLOCK_TROUBLE = "house/clock"
OFF_NOW = "Everything is off now; it holds once heating is on again."
CIRCUIT_SAID = (
    "It counts on the circuit {name}; if its plug is in a socket of another circuit, write that in the house file."
)


class Door:
    """Takes requests into a memory. `events` holds what was accepted since it was last emptied."""

    def __init__(self, house: House, memory: Memory, weeks: dict[str, Week]) -> None:
        self._written, self._memory, self._weeks = house, memory, weeks
        self._house = placed(house, memory)
        self._zone = ZoneInfo(house.house.timezone)
        self._spots = tuple(spot.name for spot in house.spots)
        self.events: list[Event] = []
        self._handlers: dict[type, Callable[[Any, Now], Answer]] = {
            Ask: self._ask,
            RoomOff: self._room_off,
            WarmMe: self._warm_me,
            Out: self._out,
            AllOff: self._all_off,
            Cancel: self._cancel,
            Seen: self._seen,
            UsualWeek: self._usual_week,
            Undo: self._undo,
            Stands: self._stands,
            SetTo: self._set_to,
        }

    @property
    def house(self) -> House:
        """The house as it stands: the file's, with what the owner said since."""
        return self._house

    def take(self, request: Request, now: Now) -> Answer:
        """Accepted with what now holds, or Refused with why and the limit."""
        handler = self._handlers.get(type(request))
        if handler is None:
            return refuse("not-understood", what=f"{type(request).__name__} is no request")
        end_requests(self._memory, now)
        before = held(self._memory, self._spots)
        answer = handler(request, now)
        if isinstance(answer, Refused) or handler == self._undo:
            return answer
        change = remember_change(self._memory, before, held(self._memory, self._spots), now)
        return replace(answer, change=change)

    def _ask(self, ask: Ask, now: Now) -> Answer:
        room = self._house.room(ask.room) if isinstance(ask.room, str) else None
        if room is None:
            return refuse("no-such-room", name=_shown(ask.room))
        celsius = _number(ask.celsius)
        if celsius is None:
            return refuse("not-a-number")
        refusal = self._beyond_limits(room, celsius)
        if refusal is not None:
            return refusal
        if ask.begins is not None:
            return self._ask_later(ask, room, celsius, now)
        if self._memory.out is not None:
            return refuse("everyone-out", until=until_text(self._memory.out.until_wall, now))
        ends = self._end_of(ask.until, room.household.longest, self._weeks[room.name], now)
        return ends if isinstance(ends, Refused) else self._keep_ask(ask, room, celsius, ends, now)

    def _beyond_limits(self, room: Room, celsius: float) -> Refused | None:
        if celsius > room.household.highest:
            return refuse("too-warm", limit=room.household.highest)
        if celsius < room.household.lowest:
            return refuse("too-cold", limit=room.household.lowest)
        return None

    def _ask_later(self, ask: Ask, room: Room, celsius: float, now: Now) -> Answer:
        if not isinstance(ask.begins, datetime) or ask.begins.tzinfo is None:
            return refuse("not-understood", what="a begin is a time with its zone")
        kept, seconds = self._memory.rooms[room.name], ask.begins.timestamp() - now.best.timestamp()
        begins = now.steady + seconds
        refusal = later.refusal(self._memory, kept, begins, now)
        if refusal is not None:
            return refuse(refusal[0], **refusal[1])
        ends = self._end_of(ask.until, room.household.longest, self._weeks[room.name], now, seconds)
        if isinstance(ends, Refused):
            return ends
        other = later.in_the_way(kept, begins, ends)
        if other is not None:
            return refuse("asked-then", **_told(other, now))
        wish = _request(ask, now, ends, celsius=celsius)
        wish.begins, wish.begins_wall = begins, ask.begins.timestamp()
        later.wait(kept, wish)
        said = sentence("asked-later", **_told(wish, now))
        if self._memory.all_off is not None:
            said = text_of("{said} {but}", said=said, but=text_of(OFF_NOW))
        return self._accept("asked-later", room.name, said, wish)

    def _keep_ask(self, ask: Ask, room: Room, celsius: float, ends: float, now: Now) -> Answer:
        kept = self._memory.rooms[room.name]
        self._forget_hands(room.key_of(heater) for heater in room.heaters)
        replaced = _said(kept.request, now)
        kept.request = _request(ask, now, ends, celsius=celsius, replaced=replaced)
        until = (
            now.text(kept.request.until_wall)
            if kept.request.until_wall is not None
            else text_of("someone changes it")
        )
        said = sentence("asked", who=kept.request.who, celsius=celsius, until=until)
        but = self._but(room, now)
        return self._accept(
            "asked", room.name, text_of("{said} {but}", said=said, but=but) if but else said, kept.request
        )

    def _room_off(self, ask: RoomOff, now: Now) -> Answer:
        room = self._house.room(ask.room) if isinstance(ask.room, str) else None
        if room is None:
            return refuse("no-such-room", name=_shown(ask.room))
        week = self._weeks[room.name]
        endless = ask.until is Until.NO_END or (ask.until is NEXT_STEP and week.at(now.wall)[1] is None)
        ends = None if endless else self._end_of(ask.until, LONGEST_OFF_SECONDS, week, now)
        if isinstance(ends, Refused):
            return ends
        place = self._memory.rooms[room.name]
        self._forget_hands(room.key_of(heater) for heater in room.heaters)
        place.request = kept = _request(ask, now, ends, replaced=_said(place.request, now))
        kept.off = True
        until = now.text(kept.until_wall) if kept.until_wall is not None else text_of("someone turns it on again")
        return self._accept("turned-off", room.name, sentence("turned-off", who=kept.who, until=until), kept)

    def _but(self, room: Room, now: Now) -> str:
        """What stands in the way of heat at this moment, said with the acceptance."""
        if self._memory.all_off is not None:
            return text_of(OFF_NOW)
        circumstance = circumstance_of(self._house, self._memory, now)
        if room.heaters and not any(circumstance in heater.may_run for heater in room.heaters):
            return text_of(
                "No heater may run here while the house is {circumstance}.",
                circumstance=text_of(circumstance),
            )
        return ""

    def _warm_me(self, ask: WarmMe, now: Now) -> Answer:
        spot = self._house.spot(ask.spot) if isinstance(ask.spot, str) else None
        if spot is None:
            return refuse("no-such-spot", name=_shown(ask.spot))
        minutes = _number(ask.minutes)
        if minutes is None or minutes <= 0:
            return refuse("not-a-number")
        if minutes * 60.0 > spot.longest:
            return refuse("too-long", limit=_hours(spot.longest))
        if self._memory.all_off is not None:
            return refuse("everything-off")
        circumstance = circumstance_of(self._house, self._memory, now)
        if circumstance not in spot.heater.may_run:
            return refuse("spot-not-now", circumstance=text_of(circumstance))
        running = self._memory.spots.get(spot.name)
        kept = _request(ask, now, now.steady + minutes * 60.0, replaced=_said(running, now))
        self._forget_hands([spot.key])
        self._memory.spots[spot.name] = kept
        if running is None or running.ends is None:
            return self._accept(
                "warm-me", spot.name, sentence("warm-me", who=kept.who, minutes=minutes), kept
            )
        left = max(0.0, running.ends - now.steady) / 60.0
        said = sentence("warm-longer", who=kept.who, minutes=minutes, left=left)
        return self._accept("warm-longer", spot.name, said, kept)

    def _forget_hands(self, keys: Iterable[str]) -> None:
        """Who asks after a press on the plug's own button has the last word."""
        for key in keys:
            self._memory.heaters[key].hand = None

    def _out(self, ask: Out, now: Now) -> Answer:
        ends = None if ask.until is Until.NO_END else self._end_of(ask.until, LONGEST_OUT_SECONDS, None, now)
        if isinstance(ends, Refused):
            return ends
        before = self._memory.out
        kept = _request(ask, now, ends, replaced=_said(before, now))
        self._memory.out = kept
        if before is None:  # nobody is there to be warmed, and none may start by itself once they are back
            self._memory.spots.clear()
        until = now.text(kept.until_wall) if kept.until_wall is not None else text_of("someone is back")
        code = "out" if before is None else "out-moved"
        return self._accept(code, "house", sentence(code, who=kept.who, until=until), kept)

    def _all_off(self, ask: AllOff, now: Now) -> Answer:
        kept = _request(ask, now, None, replaced=_said(self._memory.all_off, now))
        self._memory.all_off = kept
        self._memory.spots.clear()
        for heater in self._memory.heaters.values():
            if heater.hand is not None and heater.hand.on:
                heater.hand = None  # nothing that a person started may come back by itself
        return self._accept("said-all-off", "house", sentence("said-all-off", who=kept.who), kept)

    def _cancel(self, ask: Cancel, now: Now) -> Answer:
        if ask.begins is not None:
            return self._withdraw(ask, ask.begins, now)
        removed = self._remove(ask.what)
        if isinstance(removed, Refused):
            return removed
        about, request = removed
        if request is None:
            return refuse("nothing-to-cancel")
        said = _cancelled(ask.what, _who(ask.who), request, now)
        return self._accept("cancelled", about, said, None)

    def _withdraw(self, ask: Cancel, begins: datetime, now: Now) -> Answer:
        room = self._house.room(ask.what) if isinstance(ask.what, str) else None
        if room is None:
            return refuse("no-such-room", name=_shown(ask.what))
        if not isinstance(begins, datetime) or begins.tzinfo is None:
            return refuse("not-understood", what="a begin is a time with its zone")
        wish = later.withdraw(self._memory.rooms[room.name], begins.timestamp())
        if wish is None:
            return refuse("nothing-to-cancel")
        said = sentence("withdrawn", **_told(wish, now) | {"by": wish.who, "who": _who(ask.who)})
        return self._accept("withdrawn", room.name, said, None)

    def _remove(self, what: object) -> tuple[str, RequestMemory | None] | Refused:
        if what is Out or what is AllOff:
            field = "out" if what is Out else "all_off"
            request = getattr(self._memory, field)
            setattr(self._memory, field, None)
            return "house", request
        if isinstance(what, str) and self._house.room(what):
            kept = self._memory.rooms[what]
            request, kept.request = kept.request, None
            return what, request
        if isinstance(what, str) and self._house.spot(what):
            return what, self._memory.spots.pop(what, None)
        return refuse("no-such-room", name=_shown(what))

    def _seen(self, ask: Seen, now: Now) -> Answer:
        trouble = self._memory.troubles.get(ask.trouble) if isinstance(ask.trouble, str) else None
        if trouble is None:
            return refuse("no-such-trouble", name=_shown(ask.trouble))
        trouble.seen = True
        open_latch(self._memory, ask.trouble)
        if ask.trouble == CLOCK_TROUBLE:
            believe(self._memory.clock, now.steady)
        return self._accept("seen", ask.trouble.rpartition("/")[0], sentence("seen", who=_who(ask.who)), None)

    def _usual_week(self, ask: UsualWeek, now: Now) -> Answer:
        room = self._house.room(ask.room) if isinstance(ask.room, str) else None
        if room is None:
            return refuse("no-such-room", name=_shown(ask.room))
        kept = self._memory.rooms[room.name]
        if ask.steps is not None and not all(isinstance(step, UsualStep) for step in ask.steps):
            return refuse("not-understood", what="a week is made of steps")
        fault = fault_in(room, ask.steps or ())
        if fault is not None:
            return refuse(fault[0], **fault[1])
        if ask.steps is None or set(ask.steps) == set(room.usual):
            kept.week, code = None, "week-put-back"
        else:
            kept.week = week_memory(ask.steps, _who(ask.who), now.best.timestamp())
            code = "week-changed"
        self._renew_week(room)
        return self._accept(code, room.name, sentence(code, who=_who(ask.who)), None)

    def _renew_week(self, room: Room) -> None:
        self._weeks[room.name] = Week(steps_of(room, self._memory.rooms[room.name].week), self._zone)

    def _undo(self, ask: Undo, now: Now) -> Answer:
        change = take_back(self._memory, ask.change, now)
        if change is None:
            return refuse("nothing-to-undo")
        for name in change.weeks:
            if (room := self._house.room(name)) is not None:
                self._renew_week(room)
        self.events += end_requests(self._memory, now)  # what ended meanwhile stays ended
        return self._accept("undone", about_of(change), sentence("undone", who=_who(ask.who)), None)

    def _stands(self, ask: Stands, now: Now) -> Answer:
        wall = now.best.timestamp()
        moved = placing.stands(self._written, self._memory, ask.heater, ask.room, _who(ask.who), wall)
        if isinstance(moved, placing.Fault):
            return _refuse_word(moved)
        self._house = placed(self._written, self._memory)
        said = sentence("stands", who=_who(ask.who), heater=moved.name, room=ask.room)
        circuit = placing.circuit_in(self._written, ask.room, moved)
        if circuit is not None:
            said = text_of("{said} {circuit}", said=said, circuit=text_of(CIRCUIT_SAID, name=circuit))
        return self._accept("stands", ask.heater, said, None)

    def _set_to(self, ask: SetTo, now: Now) -> Answer:
        wall = now.best.timestamp()
        turned = placing.set_to(self._written, self._memory, ask.heater, ask.watts, _who(ask.who), wall)
        if isinstance(turned, placing.Fault):
            return _refuse_word(turned)
        self._house = placed(self._written, self._memory)
        said = sentence("set-to", who=_who(ask.who), heater=turned.name, watts=ask.watts)
        return self._accept("set-to", ask.heater, said, None)

    def _end_of(
        self, until: object, longest: float, week: Week | None, now: Now, begins: float = 0.0
    ) -> float | Refused:
        """The steady second a request ends at that begins in so many seconds."""
        if until is NEXT_STEP and week is not None:
            wall = now.wall + timedelta(seconds=begins)
            step = week.at(wall)[1]
            left = step - wall.timestamp() if step is not None else longest
            return now.steady + begins + min(longest, left)
        if until is Until.NO_END:
            return now.steady + begins + longest
        if not isinstance(until, datetime) or until.tzinfo is None:
            return refuse("not-understood", what="an end is a time with its zone, the next step, or no end")
        remaining = until.timestamp() - now.best.timestamp() - begins
        if remaining <= 0:
            return refuse("ends-before" if begins else "in-the-past")
        if remaining > longest:
            return refuse("too-long", limit=_hours(longest))
        return now.steady + begins + remaining

    def _accept(self, code: str, about: str, said: str, kept: RequestMemory | None) -> Accepted:
        self.events.append(Event(code, about, said))
        if kept is None:
            return Accepted(said)
        until = datetime.fromtimestamp(kept.until_wall, UTC) if kept.until_wall is not None else None
        return Accepted(said, kept.celsius, until, kept.replaced)


def refuse(code: str, **numbers: float | str) -> Refused:
    """A refusal of the closed list; its limit is the number named `limit`."""
    return Refused(code, sentence(code, **numbers), numbers.get("limit"))


def _refuse_word(fault: placing.Fault) -> Refused:
    """A statement about a heater that cannot be; a name as it was written is shown as any other."""
    shown = {key: _shown(value) if key == "name" else value for key, value in fault.numbers.items()}
    return refuse(fault.code, **shown)


def _request(
    ask: Any, now: Now, ends: float | None, *, celsius: float | None = None, replaced: str | None = None
) -> RequestMemory:
    until = now.wall_in(ends - now.steady).timestamp() if ends is not None else None
    return RequestMemory(
        _who(ask.who),
        _clean(ask.origin, "direct"),
        now.best.timestamp(),
        ends,
        until,
        celsius,
        str(replaced) if replaced is not None else None,  # memory keeps plain text
    )


def _said(request: RequestMemory | None, now: Now) -> str | None:
    if request is None:
        return None
    until = until_text(request.until_wall, now)
    if request.off:
        return text_of("off {who}{until}", who=request.who, until=until)
    if request.celsius is None:
        return text_of("{who}{until}", who=request.who, until=until)
    return text_of("{celsius:.1f}° {who}{until}", celsius=request.celsius, who=request.who, until=until)


def _cancelled(what: object, who: str, request: RequestMemory, now: Now) -> str:
    """Who took back what, as people would say it."""
    if what is Out:
        return text_of("{who} said that someone is back.", who=who)
    if what is AllOff:
        return text_of("{who} turned heating on again.", who=who)
    if request.off:
        return text_of("{who} turned the room on again.", who=who)
    if request.celsius is None:
        return text_of("{who} ended the warmth that {by} had asked for.", who=who, by=request.who)
    until = until_text(request.until_wall, now)
    return sentence("cancelled", who=who, celsius=request.celsius, until=until, by=request.who)


def _told(wish: RequestMemory, now: Now) -> dict[str, float | str]:
    """A wish that waits, as its sentences need it."""
    begins, ends = (now.text(wall) if wall is not None else "" for wall in (wish.begins_wall, wish.until_wall))
    return {"who": wish.who, "celsius": wish.celsius or 0.0, "begins": begins, "until": ends}


def _who(who: object) -> str:
    return _clean(who, "someone")


def _clean(text: object, otherwise: str) -> str:
    """A name as it may be kept and logged: one line, printable, at most 40 characters."""
    printable = "".join(sign for sign in str(text) if sign.isprintable()) if text is not None else ""
    return printable.strip()[:40] or otherwise


def _shown(name: object) -> str:
    return _clean(name, "?")


def _number(value: object) -> float | None:
    return float(value) if is_finite(value) else None


def _hours(seconds: float) -> str:
    if seconds % 3600 and seconds < 3 * 3600:
        return text_of("{minutes:.0f} minutes", minutes=seconds / 60)
    return text_of("{hours:g} hours", hours=round(seconds / 3600, 1))
