"""What people wrote, made into requests of the core, the same for forms and JSON. Faults name the field."""

from __future__ import annotations

import re
from datetime import datetime

from thermostatd.core.asking import (
    NEXT_STEP,
    NO_END,
    Accepted,
    AllOff,
    Answer,
    Ask,
    Cancel,
    Out,
    Refused,
    Request,
    RoomOff,
    Until,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.house import House
from thermostatd.core.results import RoomResult
from thermostatd.core.said import said
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import (
    celsius_from,
    next_at,
    number,
    typed_clock,
    typed_degrees,
    yet_today,
)
from thermostatd.edge.pages.site import Shut, Site
from thermostatd.edge.pages.speech import Unit, speech
from thermostatd.edge.pages.who import Visitor, may_put

# Refusals that come from what holds now, not from what was written.
CONFLICTS = frozenset(
    {
        "everyone-out",
        "everything-off",
        "nothing-to-cancel",
        "nothing-to-undo",
        "no-such-trouble",
        "spot-not-now",
        "room-is-off",
        "asked-then",
        "too-many-waiting",
    }
)
EVENING_HOUR = 22


class Malformed(Exception):
    """What was written cannot be a request. `field` is where."""

    def __init__(self, field: str, sentence: str, code: str = "malformed") -> None:
        super().__init__(sentence)
        self.field, self.sentence, self.code = field, sentence, code


class TooOften(Exception):
    """That device asks too often."""


async def put(site: Site, visitor: Visitor, request: Request) -> Answer:
    """Through the table, the throttle and the one door. All off is never held back."""
    if not may_put(visitor, request):
        raise Shut(words.NOT_FOR_GUESTS, "not-for-guests")
    if not isinstance(request, AllOff) and not site.asking.may(visitor.key):
        raise TooOften
    answer = await site.door.do(request)
    if isinstance(answer, Accepted):
        site.offer(visitor, answer.change, place_of(request))
    return answer


def place_of(request: Request) -> str:
    """Where on the page a request belongs: a room's or spot's anchor, else the top."""
    match request:
        case Ask(room=name) | RoomOff(room=name) | WarmMe(spot=name) | UsualWeek(room=name) | Cancel(what=str(name)):
            return anchor_of(name)
        case _:
            return ""


def anchor_of(name: str) -> str:
    """An id for the page from a room's or spot's name."""
    return "at-" + re.sub(r"[^\w-]+", "-", name)


def status_of(answer: Answer) -> int:
    """The HTTP status of an answer."""
    if not isinstance(answer, Refused):
        return 200
    return 409 if answer.code in CONFLICTS else 422


def ends(text: str, now: datetime, at_text: str = "", day_text: str = "") -> datetime | Until:
    """The end that a form's choice means: next-step, no-end, in-60 (minutes), evening, at, or an ISO time.

    `day_text` says how many days ahead a typed time of day is, one digit; none: whenever it is next. A time of today
    that is over is Malformed: nobody who chose today means tomorrow.
    """
    if text == "next-step":
        return NEXT_STEP
    if text == "no-end":
        return NO_END
    if text.startswith("in-") and text[3:].isdigit() and 0 < int(text[3:]) <= 7 * 1440:
        return datetime.fromtimestamp(now.timestamp() + 60 * int(text[3:]), tz=now.tzinfo)
    if text == "evening":
        return next_at(now.time().replace(EVENING_HOUR, 0, 0, 0), now)
    if text == "at":
        clock_time = typed_clock(at_text)
        if clock_time is None:
            raise Malformed("at", words.NO_TIME)
        if day_text == "0" and yet_today(clock_time, now) is None:
            at = speech().hours(datetime.combine(now, clock_time))
            raise Malformed("at", said(words.OVER_TODAY, at=at))
        return next_at(clock_time, now, int(day_text) if day_text in tuple("0123456") else 0)
    return iso_time(text)


def meant(fields: dict[str, str], usual: str) -> str:
    """The form's choice of an end; that of Enter ("typed") is the time where one is typed, else the usual choice."""
    until = fields.get("until", usual)
    if until != "typed":
        return until
    return "at" if fields.get("at", "").strip() else usual


def typed_end(fields: dict[str, str], now: datetime) -> datetime | Until:
    """The end that a form with a day and a time means; Enter is pressed in the time."""
    until = fields.get("until", "no-end").replace("typed", "at")
    return ends(until, now, fields.get("at", ""), fields.get("day", ""))


def iso_time(text: str, field: str = "until") -> datetime:
    """An ISO 8601 time with its offset. Malformed says how to write one."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise Malformed(field, said(words.NO_UNTIL, until=text[:40])) from None
    if at.utcoffset() is None:
        raise Malformed(field, words.NO_OFFSET)
    return at


def form_ask(
    fields: dict[str, str], unit: Unit, now: datetime, present: RoomResult | None, who: Visitor
) -> Ask:
    """The Ask of a form: degrees in the unit that the form was made with."""
    typed = typed_degrees(fields.get("degrees", ""))
    if typed is None:
        raise Malformed("degrees", said(words.NO_NUMBER, example="68" if unit == "F" else number(20.5)))
    until = meant(fields, "next-step")
    end = kept_end(present) if until == "keep" else ends(until, now, fields.get("at", ""))
    return Ask(fields["room"], celsius_from(unit, typed), end, who.name, origin=who.origin)


def form_later(fields: dict[str, str], unit: Unit, now: datetime, who: Visitor) -> Ask:
    """The Ask of a form that begins on a day at a time, until another time or, without one, the week's next step."""
    typed = typed_degrees(fields.get("degrees", ""))
    if typed is None:
        raise Malformed("degrees", said(words.NO_NUMBER, example="68" if unit == "F" else number(20.5)))
    begins = ends("at", now, fields.get("at", ""), fields.get("day", ""))
    assert isinstance(begins, datetime)
    end: datetime | Until = NEXT_STEP
    if fields.get("end", "").strip():
        clock_time = typed_clock(fields["end"])
        if clock_time is None:
            raise Malformed("end", words.NO_TIME)
        end = next_at(clock_time, begins)
    return Ask(fields["room"], celsius_from(unit, typed), end, who.name, origin=who.origin, begins=begins)


def kept_end(present: RoomResult | None) -> datetime | Until:
    """The end of the request in force, where one is; else the week's next step."""
    if present is None or not asked_for(present):
        return NEXT_STEP
    return present.target.until or NO_END


def asked_for(room: RoomResult) -> bool:
    """Whether a person's request holds in the room."""
    return room.target.code == "asked"


def cancel_of(what: str, house: House, who: Visitor, begins: str | None = None) -> Cancel:
    """Taking back: a room or a spot by name, "out" or "all-off". A room of that name comes first.

    `begins` is when that begins which waits in the room.
    """
    if begins is not None:
        return Cancel(known_room(what, house), who.name, origin=who.origin, begins=iso_time(begins, "begins"))
    if house.room(what) or house.spot(what):
        return Cancel(what, who.name, origin=who.origin)
    kinds: dict[str, type[Out] | type[AllOff]] = {"out": Out, "all-off": AllOff}
    if what not in kinds:
        raise Malformed("what", said(words.NO_SUCH_ROOM, name=what[:40]), "no-such-room")
    return Cancel(kinds[what], who.name, origin=who.origin)


def known_room(name: str, house: House) -> str:
    """The name, if it is a room's."""
    if house.room(name) is None:
        raise Malformed("room", said(words.NO_SUCH_ROOM, name=name[:40]), "no-such-room")
    return name


def known_spot(name: str, house: House) -> str:
    """The name, if it is a spot's."""
    if house.spot(name) is None:
        raise Malformed("spot", said(words.NO_SUCH_ROOM, name=name[:40]), "no-such-spot")
    return name
