"""What is asked of a room: other degrees, now or later, to be off, another usual week.

Rules: degrees lie within the household's limits; an acceptance says, too, what stands in the way of heat just now.
"""

from __future__ import annotations

from thermostatd.core import later
from thermostatd.core.asking import NEXT_STEP, Ask, Refused, RoomOff, Until, UsualWeek
from thermostatd.core.circumstance import TOLD, circumstance_of
from thermostatd.core.clock import Now
from thermostatd.core.door.ends import LONGEST_OFF_SECONDS, begin_of, end_of
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.refusing import refuse
from thermostatd.core.door.wishes import told, until_of, who_of, wish_of
from thermostatd.core.house import Room, UsualStep
from thermostatd.core.memory import RequestMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of
from thermostatd.core.usual_week import fault_in, week_memory
from thermostatd.core.values import is_finite

OFF_NOW = "Everything is off now; it holds once heating is on again."


def ask(ledger: Ledger, asked: Ask, now: Now) -> Taken | Refused:
    """Another target, from now on or from its `begins`."""
    room = ledger.room(asked.room)
    if isinstance(room, Refused):
        return room
    refusal = _beyond_limits(room, asked.celsius)
    if refusal is not None:
        return refusal
    return _ask_now(ledger, asked, room, now) if asked.begins is None else _ask_later(ledger, asked, room, now)


def _beyond_limits(room: Room, celsius: object) -> Refused | None:
    if not is_finite(celsius):
        return refuse("not-a-number")
    if celsius > room.household.highest:
        return refuse("too-warm", limit=room.household.highest)
    if celsius < room.household.lowest:
        return refuse("too-cold", limit=room.household.lowest)
    return None


def _ask_now(ledger: Ledger, asked: Ask, room: Room, now: Now) -> Taken | Refused:
    everyone_out = ledger.memory.out
    if everyone_out is not None:
        return refuse("everyone-out", until=later.until_text(everyone_out.until_wall, now))
    ends = end_of(asked.until, room.household.longest, ledger.weeks[room.name], now)
    if isinstance(ends, Refused):
        return ends
    kept = _put(ledger, room, asked, ends, now, celsius=float(asked.celsius))
    until = until_of(kept, now, text_of("someone changes it"))
    said = sentence("asked", who=kept.who, celsius=float(asked.celsius), until=until)
    but = _but(ledger, room, now)
    return Taken("asked", room.name, text_of("{said} {but}", said=said, but=but) if but else said, kept)


def _put(
    ledger: Ledger, room: Room, asked: Ask | RoomOff, ends: float | None, now: Now, celsius: float | None = None
) -> RequestMemory:
    """It holds in the room from now on, in place of what held there and over what was pressed on its plugs."""
    place = ledger.memory.rooms[room.name]
    ledger.forget_hands(room.key_of(heater) for heater in room.heaters)
    place.request = wish_of(asked, now, ends, celsius=celsius, replaces=place.request)
    return place.request


def _but(ledger: Ledger, room: Room, now: Now) -> str:
    """What stands in the way of heat at this moment, said with the acceptance."""
    if ledger.memory.all_off is not None:
        return text_of(OFF_NOW)
    circumstance = circumstance_of(ledger.house, ledger.memory, now)
    if room.heaters and not any(circumstance in heater.may_run for heater in room.heaters):
        return text_of("No heater may run here now. {then}.", then=text_of(TOLD[circumstance]))
    return ""


def _ask_later(ledger: Ledger, asked: Ask, room: Room, now: Now) -> Taken | Refused:
    begins_wall = begin_of(asked.begins)
    if isinstance(begins_wall, Refused):
        return begins_wall
    kept, seconds = ledger.memory.rooms[room.name], begins_wall - now.best.timestamp()
    begins = now.steady + seconds
    refusal = later.refusal(ledger.memory, kept, begins, now)
    if refusal is not None:
        return refuse(refusal[0], **refusal[1])
    ends = end_of(asked.until, room.household.longest, ledger.weeks[room.name], now, seconds)
    if isinstance(ends, Refused):
        return ends
    other = later.in_the_way(kept, begins, ends)
    if other is not None:
        return refuse("asked-then", **told(other, now))
    wish = wish_of(asked, now, ends, celsius=float(asked.celsius))
    wish.begins, wish.begins_wall = begins, begins_wall
    later.wait(kept, wish)
    said = sentence("asked-later", **told(wish, now))
    if ledger.memory.all_off is not None:
        said = text_of("{said} {but}", said=said, but=text_of(OFF_NOW))
    return Taken("asked-later", room.name, said, wish)


def turn_off(ledger: Ledger, asked: RoomOff, now: Now) -> Taken | Refused:
    """A room is heated against frost only."""
    room = ledger.room(asked.room)
    if isinstance(room, Refused):
        return room
    week = ledger.weeks[room.name]
    endless = asked.until is Until.NO_END or (asked.until is NEXT_STEP and week.at(now.wall)[1] is None)
    ends = None if endless else end_of(asked.until, LONGEST_OFF_SECONDS, week, now)
    if isinstance(ends, Refused):
        return ends
    kept = _put(ledger, room, asked, ends, now)
    kept.off = True
    until = until_of(kept, now, text_of("someone turns it on again"))
    return Taken("turned-off", room.name, sentence("turned-off", who=kept.who, until=until), kept)


def change_week(ledger: Ledger, asked: UsualWeek, now: Now) -> Taken | Refused:
    """Another usual week over the house file's, or the file's again."""
    room = ledger.room(asked.room)
    if isinstance(room, Refused):
        return room
    if asked.steps is not None and not all(isinstance(step, UsualStep) for step in asked.steps):
        return refuse("not-understood", what="a week is made of steps")
    fault = fault_in(room, asked.steps or ())
    if fault is not None:
        return refuse(fault[0], **fault[1])
    kept = ledger.memory.rooms[room.name]
    if asked.steps is None or set(asked.steps) == set(room.usual):
        kept.week, code = None, "week-put-back"
    else:
        kept.week = week_memory(asked.steps, who_of(asked.who), now.best.timestamp())
        code = "week-changed"
    ledger.renew_week(room)
    return Taken(code, room.name, sentence(code, who=who_of(asked.who)))
