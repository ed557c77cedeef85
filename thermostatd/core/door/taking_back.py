"""How what was asked is taken back: what holds, what waits, and the last change.

Rules: what has ended meanwhile stays ended.
"""

from __future__ import annotations

from thermostatd.core import later
from thermostatd.core.asking import AllOff, Cancel, Out, Refused, Undo
from thermostatd.core.clock import Now
from thermostatd.core.door.ends import begin_of
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.refusing import refuse, shown
from thermostatd.core.door.wishes import told, who_of
from thermostatd.core.memory import RequestMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of
from thermostatd.core.target import end_requests
from thermostatd.core.undoing import about_of, take_back


def cancel(ledger: Ledger, asked: Cancel, now: Now) -> Taken | Refused:
    """What was asked of a room, a spot or the house holds no more, or waits no more."""
    if asked.begins is not None:
        return _withdraw(ledger, asked, now)
    removed = _remove(ledger, asked.what)
    if isinstance(removed, Refused):
        return removed
    about, request = removed
    if request is None:
        return refuse("nothing-to-cancel")
    return Taken("cancelled", about, _cancelled(asked.what, who_of(asked.who), request, now))


def _withdraw(ledger: Ledger, asked: Cancel, now: Now) -> Taken | Refused:
    room = ledger.room(asked.what)
    if isinstance(room, Refused):
        return room
    begins = begin_of(asked.begins)
    if isinstance(begins, Refused):
        return begins
    wish = later.withdraw(ledger.memory.rooms[room.name], begins)
    if wish is None:
        return refuse("nothing-to-cancel")
    said = sentence("withdrawn", **told(wish, now) | {"by": wish.who, "who": who_of(asked.who)})
    return Taken("withdrawn", room.name, said)


def _remove(ledger: Ledger, what: object) -> tuple[str, RequestMemory | None] | Refused:
    """The place it was asked of, and what is removed there."""
    memory = ledger.memory
    if what is Out:
        request, memory.out = memory.out, None
        return "house", request
    if what is AllOff:
        request, memory.all_off = memory.all_off, None
        return "house", request
    if isinstance(what, str) and ledger.house.room(what):
        request, memory.rooms[what].request = memory.rooms[what].request, None
        return what, request
    if isinstance(what, str) and ledger.house.spot(what):
        return what, memory.spots.pop(what, None)
    return refuse("no-such-room", name=shown(what))


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
    until = later.until_text(request.until_wall, now)
    return sentence("cancelled", who=who, celsius=request.celsius, until=until, by=request.who)


def undo(ledger: Ledger, asked: Undo, now: Now) -> Taken | Refused:
    """What held before a change holds again."""
    change = take_back(ledger.memory, asked.change, now)
    if change is None:
        return refuse("nothing-to-undo")
    for name in change.weeks:
        if (room := ledger.house.room(name)) is not None:
            ledger.renew_week(room)
    ended = tuple(end_requests(ledger.memory, now))
    return Taken("undone", about_of(change), sentence("undone", who=who_of(asked.who)), ended=ended)
